"""Next due by hours and by date (14 CFR 91.417(a)(2)(v) asks for both). The demo's dates were set down by hand."""

from __future__ import annotations

import re
from datetime import date

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.doors.rules import check_can_append
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.promises import PROMISED, promises_of
from rehang.trade.papers.due import Due, due_blockers, due_of, hours_of
from rehang.trade.terms.errors import BadInput
from rehang.trade.verdicts.folding import fold_job

from .cast import ENGINE, Bench, facts

TODAY = date(2026, 10, 21)
HOURS = "hours = { since_new = 2100.0, since_overhaul = 600.0 }\nairframe_hours = 3000.0\n"


def demo() -> dict[str, Due]:
    folder = read_folder(demo_path())
    state = fold_job(folder.facts, folder.entries)
    return {one.id: one for one in due_of(folder.facts, state, TODAY)}


def shop(recurring: str, engine: str = HOURS) -> JobFacts:
    return facts(engine=ENGINE + engine, recurring=recurring)


def due(
    recurring: str, bench: Bench | None = None, today: date = TODAY, engine: str = HOURS
) -> Due:
    known = shop(recurring, engine)
    return due_of(known, fold_job(known, (bench or Bench()).entries), today)[0]


def test_muffler_directive_is_governed_by_the_calendar_although_hours_remain():
    one = demo()["muffler"]
    assert (one.due_hours, one.hours_left) == (1147.2, 4.9)
    assert one.due_on == date(2026, 9, 30)
    assert one.governs == "calendar"
    assert one.overdue
    assert one.sentence == (
        "Muffler directive X-2019-07 is overdue 21 days: the calendar governs, although 4.9 h remain."
    )


@pytest.mark.parametrize(
    ("name", "due_hours", "left"),
    [("magneto-right", 1155.0, 12.7), ("magneto-left", 1202.1, 59.8)],
)
def test_magnetos_are_offered_and_block_nothing(name, due_hours, left):
    one = demo()[name]
    assert (one.due_hours, one.hours_left) == (due_hours, left)
    assert one.governs == "hours"
    assert one.by_date == "none entered"
    assert not one.blocks


def test_annual_has_lapsed_and_only_what_blocks_is_a_blocker():
    found = demo()
    assert found["annual"].due_on == date(2026, 9, 30)
    assert found["annual"].by_hours == "none entered"
    assert [b.about for b in due_blockers(tuple(found.values()))] == [
        "recurring:muffler",
        "recurring:annual",
    ]


BOTH = """
[[recurring]]
id = "x"
title = "The thing"
every_hours = 100
every_months = 12
last_hours = {hours}
last_on = {on}
to_month_end = false
"""


@pytest.mark.parametrize(
    ("hours", "on", "engine", "governs", "overdue"),
    [
        # The due day and the due hour themselves are still good.
        (500.0, "2025-10-21", "", "", False),
        (499.9, "2026-06-01", "", "hours", True),
        (550.0, "2025-10-20", "", "calendar", True),
        (450.0, "2025-01-01", "", "both", True),
        # Which is reached first goes by the rate: 50 h at 100 h a year is half a year.
        (550.0, "2026-01-21", "flying_hours_per_year = 100\n", "calendar", False),
        (550.0, "2026-06-21", "flying_hours_per_year = 100\n", "hours", False),
        (550.0, "2026-06-21", "", "", False),
    ],
)
def test_whichever_comes_first_governs(hours, on, engine, governs, overdue):
    one = due(BOTH.format(hours=hours, on=on), engine=HOURS + engine)
    assert (one.governs, one.overdue) == (governs, overdue)


def test_no_rate_on_file_is_said_and_both_sides_shown():
    one = due(BOTH.format(hours=550.0, on="2026-06-21"))
    assert "no flying rate is on file" in one.sentence
    assert one.by_hours == "650.0 h since overhaul, 50 h left"
    assert one.by_date == "21 Jun 2027, 243 days left"


@pytest.mark.parametrize(
    ("left_out", "engine", "sentence", "about"),
    [
        (("last_hours = 550.0\n",), HOURS, "when it was last done is not entered", ["recurring:x"]),
        (
            ("last_hours = 550.0\n", "last_on = 2026-06-21\n"),
            HOURS,
            "when it was last done is not entered",
            ["recurring:x"],
        ),
        ((), "", "the hours since overhaul now are not on file", ["recurring:x"]),
    ],
)
def test_what_may_be_past_and_cannot_be_counted_passes_nothing(left_out, engine, sentence, about):
    raw = BOTH.format(hours=550.0, on="2026-06-21")
    for line in left_out:
        assert line in raw
        raw = raw.replace(line, "")
    one = due(raw, engine=engine)
    assert (one.governs, one.overdue) == ("", False)
    assert one.sentence == f"When The thing is due cannot be said: {sentence}."
    [blocker] = due_blockers((one,))
    assert [blocker.about] == about
    assert blocker.way_out.startswith("Enter when it was last done, or do it and write it down")


def test_side_that_was_not_entered_is_not_said_to_come_second():
    assert demo()["magneto-left"].sentence == (
        "Left magneto, 500-hour opening: by hours only, 59.8 left."
    )
    one = due(
        '[[recurring]]\nid = "x"\ntitle = "T"\nevery_months = 12\nlast_on = 2026-10-01\n'
        "to_month_end = false\n"
    )
    assert one.sentence == "T: by the calendar only, 345 days left."


def test_month_and_leap_day():
    one = due(
        '[[recurring]]\nid = "x"\ntitle = "T"\nevery_months = 12\nlast_on = 2024-02-29\n'
        "to_month_end = false\n"
    )
    assert one.due_on == date(2025, 2, 28)


def test_compliance_moves_it_on():
    bench = Bench()
    bench.write("complied", recurring="x", on="2026-10-20", hours=600.0, method="opened")
    one = due(BOTH.format(hours=450.0, on="2025-01-01"), bench)
    assert (one.due_hours, one.due_on) == (700.0, date(2027, 10, 20))
    assert one.method == "opened"
    assert not one.overdue


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"recurring": "y", "on": "2026-10-20"}, r'"y" is none of the directives and inspections'),
        ({"recurring": "x", "on": "2026-10", "hours": 600.0}, r"Write it whole"),
        ({"recurring": "x", "on": "2024-10-20", "hours": 600.0}, r"done on 1 Jan 2025 already"),
        ({"recurring": "x", "on": "2026-10-20", "hours": 40.0}, r"Hours do not run backwards"),
        ({"recurring": "x", "on": "2026-10-20"}, r"runs on hours too"),
    ],
)
def test_compliance_that_cannot_be_is_refused(fields, sentence):
    bench = Bench()
    entry = bench.write("complied", **fields)
    known = shop(BOTH.format(hours=450.0, on="2025-01-01"))
    with pytest.raises(BadInput, match=sentence):
        check_can_append([entry], [], known)
    # One that is in the book all the same is named and moves nothing on.
    state = fold_job(known, bench.entries)
    assert re.search(sentence, state.faults[entry.id])
    assert due_of(known, state, TODAY)[0].last == "1 Jan 2025, 450.0 h since overhaul"


def test_hours_run_on_with_the_ground_run_on_every_clock():
    bench = Bench()
    bench.write("run_ended", run="1", engine_hours=600.6)
    known = shop(BOTH.format(hours=500.0, on="2026-01-01"))
    hours = hours_of(known, fold_job(known, bench.entries))
    assert dict(hours.by_clock) == {
        "since_overhaul": 600.6,
        "since_new": 2100.6,
        "airframe": 3000.6,
    }


def test_hours_less_than_last_time_are_refused():
    bench = Bench()
    bench.write("run_ended", run="1", engine_hours=599.0)
    known = shop(BOTH.format(hours=500.0, on="2026-01-01"))
    with pytest.raises(BadInput, match=r"599 h since overhaul; 600 h were on file before"):
        hours_of(known, fold_job(known, bench.entries))


PROMISE = "something is looked at again"


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({}, r"Write at what hours, on what day, or both\."),
        ({"hours": 600.0}, r"600\.0 h is not ahead of the engine's 600\.0 h"),
        ({"hours": 10_600.0}, r"10,600\.0 h is not ahead"),
        ({"on": "2026-11-01"}, r"1 Nov 2026 is past"),
        ({"hours": 650.0, "on": "2026-11-01"}, r"1 Nov 2026 is past"),
    ],
)
def test_promise_of_no_time_to_come_is_refused(fields, sentence):
    bench = Bench()
    entry = bench.write("promised", what=PROMISE, **fields)
    with pytest.raises(BadInput, match=sentence):
        check_can_append([entry], [], shop(""))


def test_promise_of_hours_takes_hours_on_file():
    bench = Bench()
    entry = bench.write("promised", what=PROMISE, hours=650.0)
    with pytest.raises(BadInput, match="hours since overhaul are not on file"):
        check_can_append([entry], [], shop("", engine=""))


@pytest.mark.parametrize(
    "fields", [{"hours": 600.1}, {"hours": 10_599.9}, {"on": "2026-11-02"}, {"on": "2026-11"}]
)
def test_promise_of_hours_or_a_day_to_come_stands_until_it_is_kept(fields):
    bench, known = Bench(), shop("")
    made = bench.write("promised", what=PROMISE, **fields)
    check_can_append([made], bench.entries[:-1], known)
    assert promises_of(fold_job(known, bench.entries)) == [made]
    kept = bench.write("complied", recurring=f"{PROMISED}{made.id}", on="2026-11-02")
    check_can_append([kept], bench.entries[:-1], known)
    assert promises_of(fold_job(known, bench.entries)) == []


@pytest.mark.parametrize(
    ("of", "on", "sentence"),
    [
        ("nothing", "2026-11-02", "was not promised in this book"),
        ("case-000", "2026-11-02", "was not promised in this book"),
        ("case-001", "2026-11-01", "it was done on 2 Nov 2026 already"),
        ("case-001", "2026-11-03", "was still to come on 2 Nov 2026"),
    ],
)
def test_what_was_not_promised_or_not_yet_is_not_kept(of, on, sentence):
    bench, known = Bench(), shop("")
    bench.write("promised", what=PROMISE, on="2026-12-01")
    entry = bench.write("complied", recurring=f"{PROMISED}{of}", on=on)
    with pytest.raises(BadInput, match=sentence):
        check_can_append([entry], bench.entries[:-1], known)
