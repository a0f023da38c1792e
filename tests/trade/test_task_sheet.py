"""Task sheets: the shipped one, one's own laid over it, and all that can be wrong with one."""

from __future__ import annotations

import json
import shutil
import tomllib

import pytest

from rehang.cli.main import app
from rehang.sheets import check_sheets, demo_path, task_sheet
from rehang.sheets.folder import parse_files, read_folder, read_task_sheet, shipped_task_text
from rehang.trade.facts.tasks import name_faults, tasks_from
from rehang.trade.terms.errors import BadInput
from tests.trade.cast import facts
from tests.trade.one_off import FILES

OK = "minutes = [1, 2, 3]\n"


def own(*tasks: str) -> str:
    return "".join(f"[[task]]\n{task}\n" for task in tasks)


def faults(tmp_path, text, job=None):
    path = tmp_path / "tasks.toml"
    path.write_text(text, "utf-8")
    return [str(one) for one in read_task_sheet(path, job)[1]]


def test_the_shipped_sheet_has_every_task_from_receiving_to_return_to_service():
    sheet = task_sheet()
    stages = (
        "A" * 4
        + "R" * 7
        + "B" * 5
        + "C" * 8
        + "D" * 8
        + "E" * 3
        + "F" * 8
        + "V" * 2
        + "K" * 3
        + "J" * 7
        + "G" * 8
        + "H" * 10
    )
    assert "".join(name[0] for name in sheet) == stages
    assert [name for name, one in sheet.items() if one.hold] == [
        "R2", "R3", "R4", "R7", "B3", "D8", "E3", "J4", "G1", "G3", "G4", "G5", "G7", "H3", "H4", "H5", "H6",
    ]  # fmt: skip
    assert [name for name, one in sheet.items() if one.late] == ["B4", "F5", "G4", "H3", "H5"]
    assert all(one.cautions or name in ("H9",) for name, one in sheet.items())
    assert name_faults(sheet, check_sheets(), {}, lambda *keys: "") == []


@pytest.mark.parametrize(
    ("task", "likely"),
    # Minutes of the trade for one person without trouble (common practice, no source).
    [("A1", 45), ("B5", 35), ("C4", 40), ("D6", 30), ("E2", 240), ("F1", 120), ("G3", 120), ("H7", 60)],
)  # fmt: skip
def test_likely_minutes_are_those_of_the_trade_s_table(task, likely):
    one = task_sheet()[task]
    assert one.minutes[1] == likely
    assert one.minutes[0] < likely < one.minutes[2]


def test_a_task_of_one_s_own_takes_the_shipped_one_s_place_and_a_new_one_is_added():
    given = facts(
        tasks=own(
            f'id = "F2"\ntitle = "Covers with ten screws"\nfasteners = 10\n{OK}',
            f'id = "P1"\ntitle = "Paint"\nneeds = ["F2"]\n{OK}',
        )
    ).tasks
    assert given["F2"].fasteners == 10
    assert given["F2"].needs == ()
    assert list(given)[-1] == "P1"
    assert given["F2"].order == task_sheet()["F2"].order


def test_what_needed_a_task_that_is_left_out_needs_what_it_needed():
    given = facts(tasks=own('id = "C5"\nleave_out = true\n')).tasks
    assert given["C6"].needs == ("C2",)


def test_rounds_are_named_and_so_is_what_is_behind_them(tmp_path):
    found = faults(
        tmp_path,
        own(
            f'id = "X1"\ntitle = "One"\nneeds = ["X2"]\n{OK}',
            f'id = "X2"\ntitle = "Two"\nlate = "why"\nlate_after = ["X3"]\n{OK}',
            f'id = "X3"\ntitle = "Three"\nneeds = ["X1"]\n{OK}',
            f'id = "X4"\ntitle = "Four"\nneeds = ["X3"]\n{OK}',
            f'id = "X5"\ntitle = "Five"\nneeds = ["X5"]\n{OK}',
        ),
    )
    assert found == [
        "tasks.toml, line 29: X5 needs itself.",
        "tasks.toml, line 4: The tasks go round: X1 needs X2 needs X3 needs X1. "
        "Take one of these needs out.",
        "tasks.toml, line 23: X4 can never be reached: what it waits for is X1, X2, X3, X5.",
    ]


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ('minutes = [-5, 2, 3]\n', "The minutes of X1 are [-5, 2, 3]. Write least, likely and most,"),
        ('minutes = [3, 2, 1]\n', "The minutes of X1 are [3, 2, 1]."),
        (OK + 'needs = ["Q7"]\n', 'X1 needs "Q7", which is not a task of the sheet.'),
        (OK + 'needs = "A1"\n', '"needs" of X1 is a list of texts in quotes, as in ["A1", "A2"].'),
        (OK + "hands = 0\n", '"hands" of X1 is 0. Write a whole number of 1 or more.'),
        (OK + 'for_each = "wing"\n', '"for_each" of X1 is "wing". Write one of hole, cylinder,'),
        (OK + 'late_after = ["A1"]\n', 'X1 waits for A1 by choice. Write why in "late".'),
        (OK + 'answers = [["plug", "colour"]]\n', 'X1 is answered by "colour" of "plug".'),
        (OK + 'answers = ["plug"]\n', '"answers" of X1 is a list of pairs, as in [["cylinder",'),
        (OK + 'acts = [["plug", "kissed"]]\n', 'X1 is shown by "kissed" of "plug".'),
        (OK + 'colour = "red"\n', 'A task has no "colour". It has '),
        (OK + 'use = [{ part = "plug", number = 0 }]\n', "What X1 uses needs a part and a number"),
        (OK + 'hold_when = "done"\n', "X1 has hold_when and no hold."),
        (OK + "leave_out = true\n", '"X1" is left out and is not a shipped task.'),
    ],
)  # fmt: skip
def test_each_fault_is_one_sentence_with_its_place(tmp_path, lines, said):
    (found,) = faults(tmp_path, own(f'id = "X1"\ntitle = "One"\n{lines}'))
    assert found.startswith("tasks.toml, line ")
    assert said in found


def test_a_sheet_is_held_against_the_shop_of_a_job(tmp_path):
    job = tmp_path / "job"
    folder = read_folder(demo_path("six"))
    job.mkdir()
    for name, text in folder.files.items():
        (job / name).write_text(text, "utf-8")
    (job / "book.jsonl").write_text("", "utf-8")
    (job / "people.toml").write_text('[[person]]\nkey = "rhea"\nname = "Rhea"\n', "utf-8")
    (job / "stock.toml").write_text('[[part]]\nid = "plug"\nname = "Plug"\n', "utf-8")
    text = own(
        'id = "X1"\ntitle = "One"\nhands = 2\nhold = "it"\nuse = [{ part = "plugg" }]\n'
        f'tool = [{{ name = "Thing", meter = "hygrometer" }}]\n{OK}'
    )
    assert [one.partition(": ")[2] for one in faults(tmp_path, text, job)] == [
        "X1 takes 2 people, and 1 write in this book.",
        "X1 asks for a second look and nobody can give it: 1 person writes in this book and "
        "0 may look.",
        'X1 uses "plugg", which is not in the parts list.',
        'X1 asks for a meter "hygrometer", and none on file answers to that name.',
    ]


def test_a_folder_with_a_sheet_that_goes_round_is_refused_with_file_and_line():
    with pytest.raises(BadInput, match=r"^tasks\.toml, line 4: The tasks go round: X1 needs X2"):
        facts(
            tasks=own(
                f'id = "X1"\ntitle = "One"\nneeds = ["X2"]\n{OK}',
                f'id = "X2"\ntitle = "Two"\nneeds = ["X1"]\n{OK}',
            )
        )


def test_a_long_chain_of_tasks_is_read():
    chain = own(
        *(f'id = "L{n}"\ntitle = "L"\n{OK}' + (f'needs = ["L{n - 1}"]\n' if n else "")
          for n in range(2000))
    )  # fmt: skip
    assert len(tasks_from(tomllib.loads(chain))) == 2000


def run(*arguments: str) -> int:
    return app(list(arguments), exit_on_error=False, print_error=True, result_action="return_value")


def test_the_command_copies_the_shipped_sheet_reads_it_and_says_what_is_wrong(tmp_path, capsys):
    copy = tmp_path / "mine.toml"
    assert run("sheet", "--copy", str(copy)) == 0
    assert copy.read_text("utf-8") == shipped_task_text()
    with pytest.raises(BadInput, match="is there already"):
        run("sheet", "--copy", str(copy))
    assert run("sheet", str(copy), "--job", str(demo_path())) == 0
    said = capsys.readouterr().out
    assert "G4  New oil filter: 15 min; after G3, B4, B5; held back until G3; second look" in said
    assert said.rstrip().endswith("73 tasks, in order.")
    copy.write_text(own('id = "X1"\ntitle = "One"\nminutes = []\n'), "utf-8")
    assert run("sheet", str(copy)) == 1
    assert "1 thing to put right." in capsys.readouterr().out


def test_a_calibration_put_in_later_is_not_on_file_before(capsys, tmp_path):
    copy = tmp_path / "job"
    shutil.copytree(demo_path("finished"), copy)
    meters = copy / "meters.toml"
    text = meters.read_text("utf-8")
    on_file = 'due = "2027-01"'
    assert on_file in text
    meters.write_text(text.replace(on_file, f"{on_file}\nentered_on = 2026-11-01", 1), "utf-8")
    run("check", str(copy), "--all", "--now", "2026-10-31T18:00")
    assert "has no calibration on record" in capsys.readouterr().out
    run("check", str(copy), "--all", "--now", "2026-11-01T18:00")
    assert "has no calibration on record" not in capsys.readouterr().out


def test_the_judged_job_tells_its_work_to_people_and_to_machines(capsys):
    assert run("check", str(demo_path()), "--all", "--now", "2026-10-21T08:00") == 0
    said = capsys.readouterr().out
    assert "Work: 12 of 48 tasks finished." in said
    left, now = said.index("Left half done:"), said.index("Can be done now:")
    assert left < said.index("F2  Rocker covers, cylinder 2: 2 of 6 screws torqued.") < now
    assert "Held back on purpose:" in said
    assert run("check", str(demo_path()), "--now", "2026-10-21T08:00", "--json") == 0
    work = json.loads(capsys.readouterr().out)["work"]
    assert work["left_half_done"][0]["go_on_at"] == "2"
    # The mount bolts wait for a person, the cover for a wrench in date.
    waiting = [(one["task"], one["until"]) for one in work["waiting_on"] if one["task"]]
    assert waiting == [("G1", "2026-10-22"), ("F2", None)]
    assert next(one for one in work["tasks"] if one["task"] == "C6")["waits_for"] == []


# The shipped exhaust takes one gasket for each cylinder; a sheet from before `per` has its number.
@pytest.mark.parametrize(
    ("layout", "use", "number"),
    [
        ("opposed-4", "", 4),
        ("opposed-6", "", 6),
        ("radial-9", "", 9),
        ("opposed-6", "number = 4", 4),
        ("opposed-6", 'number = 2, per = "hole"', 24),
        ("opposed-6", 'number = 1, per = "plug"', 12),
        ("opposed-6", 'number = 1, per = "lead"', 12),
        ("opposed-6", 'number = 3, per = "magneto"', 6),
    ],
)
def test_what_is_used_per_cylinder_hole_or_magneto_follows_the_layout(layout, use, number):
    files = dict(FILES)
    files["engine.toml"] = files["engine.toml"].replace('"opposed-6"', f'"{layout}"')
    if use:
        one = f'id = "F3"\ntitle = "Exhaust"\n{OK}use = [{{ part = "gasket-exhaust", {use} }}]'
        files["tasks.toml"] = own(one)
    task = parse_files(files, "sx6-off").tasks["F3"]
    assert [(one.part, one.number) for one in task.uses] == [("gasket-exhaust", number)]


@pytest.mark.parametrize(
    ("use", "said"),
    [
        (
            'each = true, per = "hole"',
            "What X1 uses of oil is for each place and per hole of the engine. Write one of each and per.",
        ),
        (
            'per = "valve"',
            'What X1 uses is so many per "valve". Write one of cylinder, hole, plug, lead, magneto.',
        ),
    ],
)
def test_a_use_that_cannot_be_counted_is_refused_with_what_to_write(tmp_path, use, said):
    one = f'id = "X1"\ntitle = "A"\n{OK}use = [{{ part = "oil", number = 1, {use} }}]'
    assert [fault for fault in faults(tmp_path, own(one)) if said in fault]


def test_a_part_is_called_by_the_list_else_by_its_task_else_by_its_own_words():
    own_name = f'id = "X1"\ntitle = "A"\n{OK}use = [{{ part = "shim-set", number = 1 }}]'
    none = parse_files({**FILES, "stock.toml": "", "tasks.toml": own(own_name)}, "sx6-off")
    called = {part: none.part_name(part) for part in ("oil-qt", "gasket-exhaust", "shim-set")}
    assert called == {
        "oil-qt": "Oil, quart",
        "gasket-exhaust": "Exhaust gasket",
        "shim-set": "Shim set",
    }
    listed = '[[part]]\nid = "oil-qt"\nname = "Oil 20W (invented)"\n'
    on_file = parse_files({**FILES, "stock.toml": listed}, "sx6-off")
    assert on_file.part_name("oil-qt") == "Oil 20W (invented)"
