"""The job folder: what is refused, with file and line, and what round-trips."""

from __future__ import annotations

import json
import random
import shutil
from pathlib import Path

import pytest

from rehang.sheets import demo_path, layouts
from rehang.sheets.folder import check_facts, parse_files, read_folder, write_folder
from rehang.sheets.whole import folder_checked
from rehang.trade.job.judging import judge
from rehang.trade.terms.errors import BadInput
from tests.started import rehang
from tests.trade.cast import FILES, METERS, Bench

ENTRY = {
    "id": "case-000",
    "kind": "removed",
    "at": "2026-11-02T09:00:00-05:00",
    "by": "ada",
    "item": "plug:P1",
    "place": "1T",
}


def _line(**changed: object) -> str:
    return json.dumps({k: v for k, v in {**ENTRY, **changed}.items() if v is not None})


def _folder(path: Path, book: str = "", **files: str) -> Path:
    for name, text in (dict(FILES) | {f"{n}.toml": t for n, t in files.items()}).items():
        (path / name).write_text(text, "utf-8")
    (path / "book.jsonl").write_text(book, "utf-8")
    return path


def _refusal(path: Path) -> str:
    try:
        folder = read_folder(path)
        judge(folder.facts, folder.entries, where=folder.where)
    except BadInput as refused:
        return str(refused)
    pytest.fail("It was read.")


READING = {"kind": "reading", "check": "gap", "written": "18 thou", "meter": "WG"}

BOOKS = [
    (
        _line(place="5T") + "\n",
        'book.jsonl, line 1: There is no hole "5T" in this layout. '
        "Its holes are 1T, 1B, 2T, 2B, 3T, 3B, 4T, 4B.",
    ),
    (
        _line() + "\n" + _line(id="case-001", place="2T") + "\n",
        "book.jsonl, line 2: P1 already came out of 1T; one serial cannot be in 2T too. Strike the wrong one.",
    ),
    (
        _line() + "\n" + _line(id="case-001", item="plug:P2") + "\n",
        "book.jsonl, line 2: P1 already came out of 1T; P2 cannot come out of it too. Strike the wrong one.",
    ),
    (
        _line() + "\n" + _line(id="case-001", **{**READING, "written": "0.46 mm"}) + "\n",
        'book.jsonl, line 2: "0.46 mm" has the unit "mm", which is not one for length. Use thou, in.',
    ),
    (
        _line() + "\n" + _line(id="case-001", **{**READING, "written": "18,5 thou"}) + "\n",
        'book.jsonl, line 2: "18,5" has a comma that is not a thousands mark. '
        "Write the decimal with a point, as in 1.24.",
    ),
    (
        _line() + "\n" + _line(id="case-001", **{**READING, "meter": None}) + "\n",
        "book.jsonl, line 2: Gap was written without a meter. Say which meter was used.",
    ),
    (
        _line() + "\n" + _line(id="case-001", **{**READING, "meter": "ZZ"}) + "\n",
        'book.jsonl, line 2: There is no meter "ZZ" on file. The meters are DM, AN, WG, WC, BT.',
    ),
    (
        _line()
        + "\n"
        + _line(
            id="case-001", kind="reading", check="resistance", written="25 kohm", meter="DM",
            range="20k",
        )
        + "\n",
        "book.jsonl, line 2: 25.00 kΩ is beyond the top of DM's 20k range (20.00 kΩ). "
        "Key OL, or say which range was used.",
    ),
    (
        _line() + "\n" + _line(place="2T") + "\n",
        "book.jsonl, line 2: The id case-000 already stands at book.jsonl, line 1 with other "
        "content. Give this entry an id of its own.",
    ),
    (
        _line() + "\n" + _line(id="case-001")[:40],
        "book.jsonl, line 2: The last line is torn: it was cut off while it was written or copied. "
        "Nothing has been loaded. Copy the book again, or take the torn line off the end.",
    ),
    (
        _line(v=9) + "\n",
        "book.jsonl, line 1: This entry is of book version 9; this Rehang reads version 1. "
        "Open the folder with the Rehang that wrote it, or a newer one.",
    ),
    (
        _line(kind="guessed") + "\n",
        'book.jsonl, line 1: "guessed" is not a kind of entry. Known kinds: ',
    ),
    (
        _line(colour="red") + "\n",
        'book.jsonl, line 1: An entry of kind "removed" has no field "colour". '
        "It takes item, place, hours, serial, batch, note.",
    ),
    (
        _line(at="2026-11-02") + "\n",
        'book.jsonl, line 1: "at" is "2026-11-02". '
        "Write date, time and offset, as in 2026-10-13T09:12:00-05:00.",
    ),
    (
        _line(by="eve") + "\n",
        'book.jsonl, line 1: "eve" is not in the list of people.',
    ),
]  # fmt: skip


@pytest.mark.parametrize(("book", "sentence"), BOOKS)
def test_book_that_cannot_be_read_is_refused_with_file_and_line(tmp_path, book, sentence):
    assert _refusal(_folder(tmp_path, book)).startswith(sentence)


LIMIT = '[[limit]]\nitem = "plug"\ncheck = "gap"\n'

FACTS = [
    (
        {"limits": LIMIT},
        "limits.toml, line 1: The limit for plug gap has no bound. "
        'Give "lower", "upper", "grade", "worst" or "floor".',
    ),
    (
        {"limits": LIMIT + 'upper = "0.019 in"\nat_rpm = 1700\n'},
        'limits.toml, line 5: "at_rpm" is the speed that a drop is taken from, and plug gap is no drop. '
        "Leave it out.",
    ),
    (
        {"limits": LIMIT + 'upper = "0.019"\n'},
        'limits.toml, line 4: "upper" is 0.019 with no unit. Write the unit too, as in "0.019 in".',
    ),
    (
        {"limits": LIMIT + 'lower = "0.020 in"\nupper = "0.019 in"\n'},
        "limits.toml, line 4: The lower bound 0.020 in is above the upper bound 0.019 in.",
    ),
    (
        {"limits": LIMIT.replace("gap", "gpa") + 'upper = "0.019 in"\n'},
        'limits.toml, line 3: There is no check "gpa" on the plug sheet. '
        "Its checks are look, electrode, resistance, gap, spark.",
    ),
    (
        {"limits": LIMIT + 'uper = "0.019 in"\n'},
        'limits.toml, line 4: A limit has no "uper".',
    ),
    (
        {"meters": METERS + '[[meter]]\nid = "DM"\nkind = "tester"\n'},
        'meters.toml, line 56: There are two meters "DM". Give each its own id.',
    ),
    (
        {"meters": '[[meter]]\nid = "X"\nkind = "plus or minus"\nquantity = "length"\naccuracy = "0 in"\n'},
        "meters.toml, line 1: Meter X states no accuracy and no resolution. "
        "Every meter is good to something: state it.",
    ),
    (
        {"meters": '[[meter]]\nid = "X"\nkind = "wires"\nquantity = "length"\nstep = "0.001 in"\ndue = "soon"\n'},
        'meters.toml, line 6: "soon" is not a date. Write 2027-01-31, 2027-01 or 2027-Q1.',
    ),
    (
        {"engine": FILES["engine.toml"].replace("format = 1", "format = 0")},
        "engine.toml, line 2: The folder is of format 0; this Rehang reads format 1. "
        "Open it with the Rehang that wrote it, or a newer one.",
    ),
    (
        {"engine": FILES["engine.toml"].replace("opposed-4", "opposed-5")},
        'engine.toml, line 4: There is no layout "opposed-5". The shipped ones are '
        "inverted-4, opposed-4, opposed-6, radial-9.",
    ),
    (
        {"engine": FILES["engine.toml"] + 'colour = "red"\n'},
        'engine.toml, line 6: engine.toml has no "colour".',
    ),
    (
        {"people": "[[person\n"},
        "people.toml, line 1: This is not readable as TOML: ",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("files", "sentence"), FACTS)
def test_facts_that_cannot_be_read_are_refused_with_file_and_line(tmp_path, files, sentence):
    assert _refusal(_folder(tmp_path, **files)).startswith(sentence)


def test_a_limit_that_no_reading_can_lie_at_stays_readable_and_passes_no_gate():
    facts = parse_files(FILES | {"limits.toml": LIMIT + 'lower = "-0.016 in"\n'})
    sentence = 'limits.toml, line 4: "-0.016 in" is below zero, and "Gap" has no sign.'
    assert facts.faults["limits.toml"][0].startswith(sentence)
    with pytest.raises(BadInput, match="is below zero"):
        check_facts(facts, ["limits.toml"])


@pytest.mark.parametrize("gone", ["engine.toml", "people.toml", "limits.toml", "meters.toml"])
def test_folder_with_a_file_missing_says_which(tmp_path, gone):
    (_folder(tmp_path) / gone).unlink()
    assert f"The folder has no {gone}." in _refusal(tmp_path)


def test_half_copied_folder_is_refused_by_its_list_of_contents(tmp_path):
    copy = tmp_path / "copy"
    shutil.copytree(demo_path(), copy)
    book = copy / "book.jsonl"
    lines = book.read_text("utf-8").splitlines(keepends=True)
    book.write_text("".join(lines[:40]), "utf-8")
    assert _refusal(copy).startswith("contents.toml, line ")
    assert "it was half copied. Copy it again." in _refusal(copy)
    book.unlink()
    assert "book.jsonl is listed and is not in the folder" in _refusal(copy)


def test_chain_that_does_not_match_is_refused_at_its_line(tmp_path):
    copy = tmp_path / "copy"
    shutil.copytree(demo_path(), copy)
    (copy / "contents.toml").unlink()
    book = copy / "book.jsonl"
    lines = book.read_text("utf-8").splitlines(keepends=True)
    del lines[10]
    book.write_text("".join(lines), "utf-8")
    assert _refusal(copy) == (
        "book.jsonl, line 11: The entry says it is number 12; it stands at 11. "
        "The book's chain does not match from here on."
    )


def test_changed_file_is_told_and_still_judged(tmp_path):
    copy = tmp_path / "copy"
    shutil.copytree(demo_path(), copy)
    with (copy / "limits.toml").open("a", encoding="utf-8") as file:
        file.write("# a word more\n")
    assert read_folder(copy).notices == (
        "limits.toml has been changed since the folder was saved.",
    )


def test_load_and_save_round_trip_to_the_byte(tmp_path):
    folder = read_folder(demo_path())
    write_folder(tmp_path / "again", folder.files, folder.entries)
    for name in (
        "engine.toml",
        "people.toml",
        "limits.toml",
        "meters.toml",
        "book.jsonl",
        "contents.toml",
    ):
        assert (tmp_path / "again" / name).read_bytes() == (demo_path() / name).read_bytes(), name


def test_a_thousand_single_byte_changes_in_a_saved_book_are_all_found(tmp_path):
    copy = tmp_path / "copy"
    shutil.copytree(demo_path(), copy)
    (copy / "contents.toml").unlink()  # the chain alone has to find them
    book = copy / "book.jsonl"
    whole = book.read_bytes()
    chance = random.Random(4071)  # noqa: S311 - which byte is changed is no secret
    missed = []
    for _ in range(1000):
        where = chance.randrange(len(whole))
        other = bytes([chance.choice([b for b in range(256) if b != whole[where]])])
        book.write_bytes(whole[:where] + other + whole[where + 1 :])
        try:
            found = bool(folder_checked(copy).changed)
        except BadInput:
            found = True
        if not found:
            missed.append((where, other))
    assert missed == []


# The pencil sheet

SHEET = """
on 2026-11-02 09:00
by ada
plugs P1 P2 P3 P4 P5 P6 P7 P8
done clean
l nnnnnlnn
e ooooooou
meter DM 20k
o 1.2 1.2 1.3 4.9 1.2 1.2 1.4 ol
meter WG
g 18 18 19 17 18 18 20 18
meter BT
psi 100
s sssssiss
drop 3B
"""


def test_pencil_sheet_becomes_the_entries_it_stands_for(tmp_path):
    folder = _folder(tmp_path)
    (folder / "tray.txt").write_text(SHEET, "utf-8")
    read = read_folder(folder)
    judged = judge(read.facts, read.entries, where=read.where)
    verdicts = {h: judged.at(h).verdict for h in read.facts.layout.walk}
    assert verdicts == {
        "1T": "KEEP",
        "1B": "KEEP",
        "2T": "REWORK",
        "2B": "KEEP",
        "3T": "KEEP",
        "3B": "REJECT",
        "4T": "REWORK",
        "4B": "REJECT",
    }
    again = read_folder(folder)
    assert [e.id for e in again.entries] == [e.id for e in read.entries]


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (("plugs P1 P2", "plugs P1 P1"), "tray.txt, line 4: P1 is in 1T already; it cannot be in 1B too."),
        (("meter DM 20k", "meter ZZ"), 'tray.txt, line 8: There is no meter "ZZ" on file. The meters are DM, AN, WG, WC, BT.'),
        (("g 18 18 19", "g 18 18"), "tray.txt, line 11: 7 of 8: next 4B"),
        (("done clean", "done polish"), 'tray.txt, line 5: "polish" is not something done to a plug. Known acts: clean, blast, regap, contact.'),
        (("by ada", "by eve"), 'tray.txt, line 3: "eve" is not in the list of people.'),
        (("drop 3B", "drop 9B"), 'tray.txt, line 15: There is no hole "9B" in this layout. Its holes are 1T, 1B, 2T, 2B, 3T, 3B, 4T, 4B.'),
        (("psi 100", "psi lots"), 'tray.txt, line 13: "lots" is not a pressure. Write whole psi, as in psi 100.'),
    ],
)  # fmt: skip
def test_pencil_sheet_that_cannot_be_read_is_refused_at_its_line(tmp_path, change, sentence):
    folder = _folder(tmp_path)
    (folder / "tray.txt").write_text(SHEET.replace(*change), "utf-8")
    assert _refusal(folder) == sentence


# The command


def test_check_needs_no_database_and_exits_0():
    done = rehang("check", str(demo_path()), "--json")
    assert done.returncode == 0, done.stderr
    said = json.loads(done.stdout)
    assert said["job"] == "tv4-2207-2026"
    first = said["items"][0]
    assert (first["item"], first["place"], first["verdict"]) == ("plug:K0411", "1T", "KEEP")
    assert {"check", "call", "p_within", "reading", "limit", "meter"} <= set(first["calls"][0])
    assert said["blockers"]


def test_refusal_is_one_sentence_on_stderr_and_exit_1(tmp_path):
    done = rehang("check", str(_folder(tmp_path, _line(place="5T") + "\n")))
    assert done.returncode == 1
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1


def test_wrong_usage_exits_2():
    assert rehang("chek").returncode == 2
    assert rehang("check").returncode == 2


# Layouts


@pytest.mark.parametrize("name", ["opposed-4", "opposed-6", "radial-9", "inverted-4"])
def test_rotation_swaps_row_and_follows_the_firing_order(name):
    """The map of each shipped layout keeps the trade's rule (common practice, no source)."""
    one = layouts()[name]
    order = one.firing_order
    for hole, goes_to in one.rotation.items():
        cylinder = one.cylinder_of(hole)
        following = order[(order.index(cylinder) + 1) % len(order)]
        assert one.cylinder_of(goes_to) == following
        assert one.row_of(goes_to) != one.row_of(hole)
    for holes in one.ignition.values():
        assert sorted(one.cylinder_of(h) for h in holes) == sorted(one.cylinders)


def test_four_cylinder_map_is_the_one_the_trade_writes_down():
    """1T 3B 2T 4B 1T and 1B 3T 2B 4T 1B for firing order 1-3-2-4 (common practice, no source)."""
    rotation = layouts()["opposed-4"].rotation
    for ring in (["1T", "3B", "2T", "4B", "1T"], ["1B", "3T", "2B", "4T", "1B"]):
        assert [rotation[h] for h in ring[:-1]] == ring[1:]


@pytest.mark.parametrize(
    ("name", "holes"), [("opposed-6", 12), ("radial-9", 18), ("inverted-4", 8)]
)
def test_every_layout_judges_a_full_tray(tmp_path, name, holes):
    layout = layouts()[name]
    engine = FILES["engine.toml"].replace("opposed-4", name)
    folder = _folder(tmp_path, engine=engine)
    serials = " ".join(f"P{n}" for n in range(holes))
    sheet = (
        f"on 2026-11-02\nby ada\nplugs {serials}\nl {'n' * holes}\ne {'o' * holes}\n"
        f"meter DM 20k\no {' '.join(['1.2'] * holes)}\nmeter WG\ng {' '.join(['17'] * holes)}\n"
        f"meter BT\npsi 100\ns {'s' * holes}\n"
    )
    (folder / "tray.txt").write_text(sheet, "utf-8")
    read = read_folder(folder)
    judged = judge(read.facts, read.entries, where=read.where)
    assert [judged.at(h).verdict for h in layout.walk] == ["KEEP"] * holes


def test_two_entries_with_one_id_and_different_content_are_refused_by_the_fold():
    bench = Bench()
    bench.entries.append(Bench(place="2T").entries[0])
    with pytest.raises(BadInput, match="Two entries have the id case-000 and say different things"):
        bench.judged()
