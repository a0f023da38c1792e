"""``rehang import`` and ``rehang export``, on a folder and on a job in the book."""

import shutil

import pytest

from rehang.cli.main import main
from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.sheets.whole import folder_checked
from tests.book import shop

WIDE = "Hole,Serial,Ohms,Gap (thou),Spark\n2B,K0414,1290,17,steady\n3T,K0415,1640,18,s\n"
SAY = ["--on", "resistance=DM-2:20k", "--on", "gap=WG-1", "--on", "spark=BT-1", "--psi", "100"]


@pytest.fixture
def folder(tmp_path):
    shutil.copytree(demo_path(), tmp_path / "job")
    return tmp_path / "job"


@pytest.fixture
def wide(tmp_path):
    (tmp_path / "tray.csv").write_text(WIDE)
    return tmp_path / "tray.csv"


@pytest.fixture
def rehang(capsys):
    """Run the command; its exit code, what it printed, and what it said."""

    def run(*arguments):
        with pytest.raises(SystemExit, match=r"^\d$") as left:
            main([str(a) for a in arguments])
        out = capsys.readouterr()
        return left.value.code, out.out, out.err

    return run


def book_of(folder) -> bytes:
    return (folder / "book.jsonl").read_bytes()


def test_what_is_guessed_is_shown_and_waits_for_yes(folder, wide, rehang):
    before = book_of(folder)
    code, _, err = rehang("import", folder, wide, *SAY)
    assert code == 1
    assert err.splitlines()[:6] == [
        "tray.csv is read as readings:",
        "  Hole = place: the hole (guessed)",
        "  Serial = item: the item (serial, or kind:name) (guessed)",
        "  Ohms = resistance in ohms: readings of resistance, in ohms (guessed)",
        "  Gap (thou) = gap in thou: readings of gap, in thou (guessed)",
        "  Spark = spark: readings of spark (guessed)",
    ]
    assert err.splitlines()[-1] == (
        'What "Hole", "Serial", "Ohms", "Gap (thou)" and "Spark" hold is guessed. If the list '
        "above is right, add --yes; if not, say it with --map. Nothing has been kept."
    )
    assert book_of(folder) == before


def test_a_dry_run_keeps_nothing(folder, wide, rehang):
    before = book_of(folder)
    code, out, _ = rehang("import", folder, wide, *SAY, "--dry-run")
    assert (code, out.splitlines()[-1]) == (
        0, "6 readings would be kept in job. Nothing has been."
    )  # fmt: skip
    assert book_of(folder) == before


def test_a_folder_takes_a_table_in_once_and_its_chain_holds(folder, wide, rehang):
    number = len(read_folder(folder).entries)
    code, out, _ = rehang("import", folder, wide, *SAY, "--yes")
    assert (code, out.splitlines()[-1]) == (0, "6 readings are in job.")
    assert len(read_folder(folder).entries) == number + 6
    assert folder_checked(folder).changed == []
    after = book_of(folder)
    code, out, _ = rehang("import", folder, wide, *SAY, "--yes")
    assert (code, out.splitlines()[-1]) == (0, "Nothing in tray.csv is new to job.")
    assert book_of(folder) == after


def test_one_bad_row_keeps_all_of_it_out(folder, wide, rehang):
    before = book_of(folder)
    wide.write_text(WIDE + '1T,K0411,"1,24",=1+1,none\n')
    code, out, err = rehang("import", folder, wide, *SAY, "--yes")
    assert code == 1
    assert [line for line in out.splitlines() if ": cannot: " in line] == [
        f"line 4: cannot: plug K0411 (1T): {text}. {reason}" for text, reason in _bad(out)
    ]
    assert '"1,24" has a comma that is not a thousands mark.' in out
    assert '"=1+1" is not a length.' in out
    assert err.splitlines()[-1] == (
        "tray.csv: 2 of 9 rows cannot be kept, so nothing is. Mend them and import it again."
    )
    assert book_of(folder) == before


def _bad(out: str):
    for line in out.splitlines():
        head, found, rest = line.partition(": cannot: plug K0411 (1T): ")
        if found:
            assert head == "line 4"
            text, _, reason = rest.partition(". ")
            yield text, reason


def test_meters_and_limits_go_out_changed_and_come_in(folder, tmp_path, rehang):
    meters = tmp_path / "meters.csv"
    assert rehang("export", folder, "meters", meters)[:2] == (0, f"{meters}: 18 rows of meters.\n")
    meters.write_bytes(meters.read_bytes().replace(b'"2027-01"', b'"2028-01"'))
    code, out, _ = rehang("import", folder, meters, "--by", "tom")
    assert (code, out.splitlines()[-1]) == (0, "0 new and 1 changed meters are in job.")
    assert read_folder(folder).facts.meters["DM-2"].due_text == "2028-01"
    limits = tmp_path / "limits.xlsx"
    assert rehang("export", folder, "limits", limits)[0] == 0
    assert rehang("import", folder, limits)[1].splitlines()[-1] == (
        "Nothing in limits.xlsx is new to job."
    )


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["--by", "zoe"], '"zoe" is not in the list of people. Say who brings the table in: '),
        (["--what", "boats"], '"boats" is not a kind of table. Write readings, meters, limits.'),
        (["--map", "Ohms"], '--map "Ohms" has no "=" in it. Write it as in --map Ohms=resistance.'),
        (["--on", "x"], '--on "x" has no "=" in it. Write it as in --on resistance=DM-2:20k.'),
        (["--at", "noon"], '"noon" is not a date and time. Write --at 2026-10-13T10:30.'),
    ],
)
def test_what_is_asked_wrongly_is_said(folder, wide, rehang, arguments, sentence):
    code, _, err = rehang("import", folder, wide, *arguments)
    assert code == 1
    assert err.splitlines()[-1].startswith(sentence)


def test_files_that_are_not_there_or_not_tables_are_refused(folder, tmp_path, rehang):
    code, _, err = rehang("import", folder, tmp_path / "none.csv")
    assert (code, err) == (
        1,
        f"{tmp_path / 'none.csv'} cannot be read: No such file or directory.\n",
    )
    code, _, err = rehang("export", folder, "readings", tmp_path / "x.pdf")
    assert (code, err) == (1, 'The file is to be named .csv or .xlsx, not "x.pdf".\n')
    code, _, err = rehang("export", folder, "boats", tmp_path / "x.csv")
    assert (code, err) == (1, '"boats" is not a kind of table. Write readings, meters, limits.\n')


def test_a_job_in_the_book_takes_readings_of_several_people(db, monkeypatch, tmp_path, rehang):
    from rehang.book import queries, services, verifying

    queries.forget()
    monkeypatch.setattr("rehang.cli.main.open_store", lambda: None)
    job = services.load_folder(folder=shop.folder(entries=[shop.removed()]), by="ada", at=shop.KEPT)
    table = tmp_path / "t.csv"
    table.write_text(
        "at,by,item,check,written,unit,meter\n"
        "2026-11-02 09:30,ada,P1,gap,18,thou,WG\n2026-11-02 09:40,ben,P1,gap,18,thou,WG\n"
    )
    code, out, err = rehang("import", job.slug, table)
    assert (code, out.splitlines()[-1]) == (0, "2 readings are in case."), err
    held = queries.job(job.slug)
    assert [e.by for e in queries.entries(held) if e.kind == "reading"] == ["ada", "ben"]
    assert verifying.job_checked(held).changed == []
    out_file = tmp_path / "out.xlsx"
    assert rehang("export", job.slug, "readings", out_file)[0] == 0
    assert rehang("import", job.slug, out_file)[1].splitlines()[-1] == (
        "Nothing in out.xlsx is new to case."
    )
    meters = tmp_path / "meters.csv"
    meters.write_text("id,kind,due\nBT,tester,2028-05\n")
    assert rehang("import", job.slug, meters, "--what", "meters")[0] == 0
    assert queries.facts(queries.job(job.slug)).meters["BT"].due_text == "2028-05"
