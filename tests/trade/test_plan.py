"""The plan of the demo (invented data) against a plan made by hand, and what no plan can keep.

By hand, from the demo job and the task sheet, on the morning of Wednesday 21 October 2026:

- The mount bolts wait for Ilse, in on Tuesdays and Thursdays: Thu 22 Oct.
- One rocker gasket is short: ordered today with two days it is here on Fri 23 Oct, at noon; cover 4
  takes 10 minutes, then the engine is hung in 90: Fri 23 Oct, 13:40.
- Hose HS5, ordered today with twelve days, is here on Fri 6 Nov. It takes 24 minutes. The fuel
  lines' second look is Ilse's: Tue 10 Nov, 08:00.
- From there in minutes: look 15, old filter 10, cut 35, new filter 15, look 15, oil 10, pre-oil 30,
  five plugs in (of eight in 40) 25, look 15, leads 20, look 15, baffles 90, count-in 10, look 15,
  run 60, run 45, records 60: 485 minutes, so 16:05.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import numpy as np
import pytest

from rehang.cli.main import app
from rehang.paper.calendar import plan_ics
from rehang.sheets import demo_path
from rehang.sheets.folder import parse_files, read_folder
from rehang.trade.doors.asjson import job_as_json
from rehang.trade.doors.rules import check_can_append
from rehang.trade.facts.tasks import tasks_from
from rehang.trade.gate.who import hands_on, workers
from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.plan.plan_values import Plan
from rehang.trade.plan.planning import plan_as_json, plan_of, planned_data
from rehang.trade.terms.entries import Entry, new_entry
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.work.stock import arrival_if_ordered
from rehang.web.work import rows as work_rows
from rehang.web.work import waits
from tests.trade.cast import facts

MORNING = datetime.fromisoformat("2026-10-21T08:00:00-05:00")
EVENING = datetime.fromisoformat("2026-10-20T17:30:00-05:00")


def _judged(*more: Entry, **changed: str) -> JudgedJob:
    """The demo with entries at its end and files changed: ``_judged(people=...)``."""
    folder = read_folder(demo_path())
    facts = folder.facts
    if changed:
        files = dict(folder.files) | {f"{name}.toml": text for name, text in changed.items()}
        facts = parse_files(files, "demo")
    return judge(facts, [*folder.entries, *more], MORNING)


def _at(text: str) -> datetime:
    """A moment on the shop's clock."""
    return datetime.fromisoformat(text)


def _file(name: str) -> str:
    return (demo_path() / name).read_text("utf-8")


def _plan(judged: JudgedJob, **asked: object) -> Plan:
    options = {"compare": False, "runs": 50, "rng": np.random.default_rng(1), **asked}
    return plan_of(judged, MORNING, **options)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def demo() -> JudgedJob:
    return _judged()


@pytest.fixture(scope="module")
def plan(demo) -> Plan:
    return plan_of(demo, MORNING, rng=np.random.default_rng(1), runs=200)


# ---------------------------------------------------------------- against the hand


def test_the_demo_is_hung_and_ready_when_the_hand_says_so(plan):
    assert plan.hang == _at("2026-10-23T13:40")
    assert plan.finish == _at("2026-11-10T16:05")
    assert plan.proved
    assert plan.gap == 0
    assert plan.bound == plan.finish
    assert not plan.impossible


def test_the_chain_that_moves_the_finish_is_the_one_from_the_last_hose_on(plan):
    assert [row.key for row in plan.critical][:5] == ["G3.look", "B4", "B5", "G4", "G4.look"]
    assert plan.critical[-1].task == "H9"


def test_mount_bolts_wait_for_the_second_person_until_thursday(plan):
    look = plan.row("G1.look")
    assert look is not None
    assert (look.start, look.who) == (_at("2026-10-22T08:00"), ("Ilse Karr",))
    assert any(
        "Ilse Karr may give it, in next on Thu 22 Oct 2026" in w.sentence for w in plan.waiting_on
    )


def test_the_new_filter_goes_on_after_the_oil_hoses_and_the_old_one_off_after_them_too(plan):
    hoses = max(row.end for row in plan.rows if row.task == "G3")
    old, cut, new = (plan.row(key) for key in ("B4", "B5", "G4"))
    assert old is not None
    assert cut is not None
    assert new is not None
    assert hoses <= old.start < cut.start < new.start


def test_what_was_left_with_two_of_six_screws_is_first(plan):
    cover = plan.row("F2")
    assert cover is not None
    assert cover.places == ("cylinder 2",)
    assert cover.start == _at("2026-10-21T08:00")


def test_what_a_rework_or_a_close_call_asks_for_is_in_the_plan(plan):
    again = {row.task: row.places for row in plan.rows if row.kind == "again"}
    assert again == {
        "D5": ("K0413 (2T)",),
        "D6": ("K0415 (3T)",),
        "D7": ("K0415 (3T)",),
    }


def test_ordering_later_or_not_at_all_is_told_beside_it(plan):
    days = {
        one.name: (one.hang and one.hang.date(), one.finish and one.finish.date())
        for one in plan.options
    }
    assert days == {
        "ordered today": (date(2026, 10, 23), date(2026, 11, 10)),
        # Twelve days from Thu 22 Oct is Mon 9 Nov, still before Ilse's Tuesday; the gasket moves
        # the hanging over the week-end: Saturday's delivery day is Monday.
        "ordered a working day later, Thu 22 Oct 2026": (date(2026, 10, 26), date(2026, 11, 10)),
        # From Wed 28 Oct: the gasket Fri 30 Oct, the hose Fri 13 Nov, Ilse Tue 17 Nov.
        "ordered a week later, Wed 28 Oct 2026": (date(2026, 10, 30), date(2026, 11, 17)),
        "nothing ordered": (None, None),
    }


def test_order_by_dates_keep_the_day(plan):
    by = {one.part: one.order_by for one in plan.order_by}
    # The hose may come as late as Mon 9 Nov; the rest is needed on Fri 6 Nov or, at noon, on Mon 9.
    assert by["hose-HS5"] == date(2026, 10, 22)
    assert plan.order_by[0].sentence == (
        "Order 1 Hose HS5, oil-pressure line by Thu 22 Oct 2026 to be ready on Tue 10 Nov 2026."
    )


@pytest.mark.parametrize("part", ["hose-HS5", "plug", "gasket-plug", "gasket-rocker"])
def test_a_part_ordered_on_its_last_day_keeps_the_finish(plan, part):
    """Independent of how the day was found: plan again with that part on order for that day."""
    one = next(one for one in plan.order_by if one.part == part)
    due = arrival_if_ordered(one.order_by, one.lead_days).isoformat()
    ordered = new_entry("ordered", at=EVENING, by="marta", part=part, number=one.number, due=due)
    again = _plan(_judged(ordered))
    assert again.finish is not None
    assert again.finish.date() == date(2026, 11, 10)


def test_cylinder_three_waits_for_a_decision_and_both_ways_are_shown(plan):
    three = next(one for one in plan.decisions if one.item == "cylinder:3")
    assert three.sentence == (
        "Cylinder 3 waits for your decision since 10 Oct 2026: off-centre pattern, pale edge."
    )
    as_it_is, to_the_shop = three.options
    assert as_it_is.finish == plan.finish
    # Fifteen working days from 21 October: Wed 11 Nov; hung after noon, Ilse on Thu 12 Nov.
    assert "back Wed 11 Nov 2026" in to_the_shop.name
    assert to_the_shop.cost == 1150
    assert to_the_shop.hang is not None
    assert to_the_shop.hang >= _at("2026-11-11T12:00")
    assert to_the_shop.finish is not None
    assert to_the_shop.finish.date() == date(2026, 11, 12)


def test_four_in_five_simulated_jobs_are_over_by_then_and_no_sooner_than_half(plan):
    assert plan.p50 is not None
    assert plan.p80 is not None
    assert plan.finish is not None
    assert date(2026, 11, 10) <= plan.p50.date() <= plan.p80.date() <= date(2026, 11, 12)


def test_the_same_book_gives_the_same_plan(demo, plan):
    again = plan_of(demo, MORNING, rng=np.random.default_rng(1), runs=200)
    assert again == plan


def test_the_calendar_has_every_piece_on_its_half_day_and_what_arrives(plan):
    days = {one.day: one for one in plan.days}
    assert days[date(2026, 10, 21)].is_today
    assert not days[date(2026, 10, 25)].is_open
    assert [one.name for one in days[date(2026, 11, 6)].arrivals] == ["Hose HS5, oil-pressure line"]
    assert days[date(2026, 10, 22)].lookers == ("Ilse Karr",)
    shown = {row.key for day in plan.days for row in (*day.morning, *day.afternoon)}
    assert shown == {row.key for row in plan.rows}


# ---------------------------------------------------------------- without, wanted, promised


def test_with_nothing_ordered_there_is_no_finish_and_the_rest_is_planned_all_the_same(demo):
    plan = _plan(demo, never_order=True)
    assert plan.finish is None
    assert plan.hang is None
    assert plan.impossible == (
        "Rocker cover gasket, Hose HS5, oil-pressure line, Copper plug gasket and Plug KS-R are "
        "short and not ordered.",
    )
    assert plan.row("F4") is not None
    assert plan.row("G2") is None
    assert plan.p80 is None


def test_a_wanted_day_that_cannot_be_names_what_is_in_the_way(demo):
    wanted = _plan(demo, wanted=date(2026, 10, 30)).wanted
    assert wanted is not None
    assert not wanted.possible
    assert wanted.sentence == (
        "Ready by Fri 30 Oct 2026 cannot be; the earliest is Tue 10 Nov 2026. In the way: Hose "
        "HS5, oil-pressure line, to be ordered, here Fri 6 Nov 2026."
    )


def test_a_wanted_day_in_the_book_counts_and_moves_the_order_by_dates():
    entry = new_entry("wanted", at=EVENING, by="marta", on="2026-11-13")
    plan = _plan(_judged(entry))
    assert plan.wanted is not None
    assert plan.wanted.possible
    assert plan.wanted.sentence == (
        "Ready by Fri 13 Nov 2026 can be: Tue 10 Nov 2026, 3 days in hand."
    )
    hose = next(one for one in plan.order_by if one.part == "hose-HS5")
    assert hose.keeps == date(2026, 11, 13)
    assert hose.order_by > date(2026, 10, 22)


def test_what_was_promised_is_kept_where_it_can_be(plan):
    promised = new_entry(
        "planned",
        at=EVENING,
        by="marta",
        starts={"F4": "2026-10-22T13:00", "G9": "2026-10-22T13:00"},
    )
    kept = _plan(_judged(promised))
    row = kept.row("F4")
    assert row is not None
    assert row.start == _at("2026-10-22T13:00")
    assert kept.finish == plan.finish


def test_a_plan_that_is_promised_whole_is_the_plan_again(demo, plan):
    entry = new_entry("planned", at=EVENING, by="marta", **planned_data(plan))
    again = _plan(_judged(entry))
    assert {row.key: row.start for row in again.rows} == {row.key: row.start for row in plan.rows}


# ---------------------------------------------------------------- what no plan can keep


def test_a_second_look_whose_only_person_is_away_for_ever_is_named():
    people = _file("people.toml").replace(
        "second_look = true\n", "second_look = true\naway = [[2026-10-01, 2099-12-31]]\n"
    )
    plan = _plan(_judged(people=people))
    assert plan.finish is None
    assert any(
        re.fullmatch(
            r"Ilse Karr may give the second looks of .*mount bolts and isolators.* and is "
            r"not in before .*\. Name another for second looks, or mend the days away\.",
            sentence,
        )
        for sentence in plan.impossible
    )
    assert plan.row("F4") is not None
    assert plan.row("G2") is None


def test_hands_that_are_never_in_are_named():
    people = _file("people.toml").replace(
        'role = "helper"', 'role = "helper"\naway = [[2026-10-01, 2099-12-31]]'
    )
    plan = _plan(_judged(people=people))
    assert plan.finish is None
    assert (
        "Engine hung, first ground run and second ground run take 2 people at once, "
        "and only one person is in. Add someone to the list of people, or change the tasks' hands."
    ) in plan.impossible


def test_a_part_that_nobody_knows_the_lead_time_of_never_arrives():
    stock = _file("stock.toml").replace("lead_days = 12\n", "")
    plan = _plan(_judged(stock=stock))
    assert plan.finish is None
    assert plan.impossible == (
        "Nobody knows how long Hose HS5, oil-pressure line takes to come. Write the days on the "
        "parts list.",
    )


def test_an_order_without_a_day_is_named():
    stock = _file("stock.toml").replace("lead_days = 12\n", "")
    ordered = new_entry("ordered", at=EVENING, by="marta", part="hose-HS5", number=1)
    plan = _plan(_judged(ordered, stock=stock))
    assert plan.impossible == (
        "Nobody knows when the Hose HS5, oil-pressure line on order comes. Write the day it is due, "
        "or on the parts list how many days it takes.",
    )


def test_minutes_below_zero_are_refused_with_the_sheet():
    tasks = '[[task]]\nid = "X1"\ntitle = "More"\nminutes = [-5, 10, 20]\n'
    with pytest.raises(BadInput, match="The minutes of X1 are"):
        _judged(tasks=tasks)


def test_a_sheet_edited_in_the_middle_of_the_job_is_planned_as_it_now_is(plan):
    promised = new_entry("planned", at=EVENING, by="marta", **planned_data(plan))
    tasks = '[[task]]\nid = "F5"\nleave_out = true\n'
    shorter = _plan(_judged(promised, tasks=tasks))
    assert shorter.row("F5") is None
    # Without the baffles' 90 minutes the propeller's 60 and its look of 15 decide: 15 sooner.
    assert shorter.finish == _at("2026-11-10T15:50")


def test_a_shop_that_is_never_open_has_no_plan():
    engine = (
        _file("engine.toml")
        .replace("labour_per_hour = 110", "labour_per_hour = 110\nshut_on = [2026-10-21]")
        .replace('days = "Mon-Sat"', 'days = "Wed"')
    )
    plan = _plan(_judged(engine=engine))
    # Open on Wednesdays only, when nobody who gives second looks is in.
    assert plan.finish is None
    assert any("Ilse Karr may give the second look" in one for one in plan.impossible)


@pytest.mark.parametrize(
    ("kind", "data", "sentence"),
    [
        (
            "wanted",
            {"on": "Friday"},
            '"Friday" is not a date. Write 2027-01-31, 2027-01 or 2027-Q1.',
        ),
        (
            "planned",
            {"starts": {"F4": "soon"}},
            'The start of F4 is "soon". Write day and time, as in 2026-10-22T08:00.',
        ),
    ],
)
def test_nonsense_about_the_plan_is_refused_before_it_is_kept(kind, data, sentence):
    folder = read_folder(demo_path())
    entry = new_entry(kind, at=EVENING, by="marta", **data)
    with pytest.raises((BadInput, NotAllowed), match=re.escape(sentence)):
        check_can_append([entry], folder.entries, folder.facts)


# ---------------------------------------------------------------- out


def test_the_calendar_file_has_each_piece_with_its_zone(plan, demo):
    text = plan_ics(plan, demo.facts).decode("utf-8").replace("\r\n ", "")
    assert text.count("BEGIN:VEVENT") == len(plan.rows) + sum(len(d.arrivals) for d in plan.days)
    assert "DTSTART;TZID=America/Chicago:20261022T080000" in text
    assert "SUMMARY:1 Hose HS5\\, oil-pressure line here\\, when ordered in time" in text
    assert len(set(re.findall(r"UID:(\S+)", text))) == text.count("BEGIN:VEVENT")


def _said(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    code = app(list(arguments), exit_on_error=False, result_action="return_value")
    assert code == 0
    return capsys.readouterr().out


def test_the_commands_say_it_in_one_go(capsys, tmp_path: Path):
    ics = tmp_path / "plan.ics"
    job = str(demo_path())
    text = _said(capsys, "plan", job, "--now", "2026-10-21T08:00", "--ics", str(ics))
    assert "Proved: with these minutes, people and arrivals no plan is over earlier." in text
    assert ics.read_bytes().startswith(b"BEGIN:VCALENDAR")
    parts = " ".join(_said(capsys, "parts", job, "--now", "2026-10-21T08:00").split())
    assert (
        "1 × Hose HS5, oil-pressure line, $96.00; here Fri 6 Nov 2026 when ordered today." in parts
    )
    rotation = _said(capsys, "rotation", job, "--now", "2026-10-21T08:00")
    assert "3B takes K0411, out of 1T." in rotation


def test_the_other_demos_are_planned_too():
    for name in ("six", "radial"):
        folder = read_folder(demo_path(name))
        last = folder.entries[-1].at
        judged = judge(folder.facts, folder.entries, last)
        plan = plan_of(judged, last, compare=False)
        assert plan.finish is not None or plan.impossible
        assert plan.rows


def test_nobody_gives_the_second_look_at_their_own_work():
    """One person alone: their looks are nobody's, and no name stands at them."""
    people = _file("people.toml").partition('\n[[person]]\nkey = "tom"')[0] + "\n"
    judged = _judged(people=people)
    assert [one.key for one in judged.facts.people.values()] == ["marta"]
    plan = _plan(judged)
    assert plan.finish is None
    [looks] = [line for line in plan.impossible if "second looks" in line]
    assert looks.startswith("Nobody is left to give the second looks of ")
    # The first are named; of the others stands how many there are.
    assert "suction screen, mount bolts and isolators, magneto timing and 9 tasks more" in looks
    assert not [row for row in plan.rows if row.kind == "look"]
    # What keeps several tasks out is said once, of all of them.
    assert len(plan.impossible) == len({line.split(" (")[0] for line in plan.impossible}) <= 4


def test_the_second_look_of_two_equals_is_given_by_the_one_who_did_not_do_it():
    people = (
        _file("people.toml").replace("second_look = true\n", "").replace('days = "Tue, Thu"\n', "")
    )
    plan = _plan(_judged(people=people))
    assert plan.finish is not None
    for look in [row for row in plan.rows if row.kind == "look"]:
        doers = {
            name
            for row in plan.rows
            if row.task == look.task != "" and row.kind != "look"
            for name in row.who
        }
        assert look.who and not doers & set(look.who), look.key


def test_the_plan_and_what_can_be_done_now_count_the_same_hands():
    """On a Thursday with Tom away: Ilse is in for second looks and lends no hand."""
    thursday = datetime.fromisoformat("2026-10-22T08:00:00-05:00")
    people = _file("people.toml").replace(
        'role = "helper"\n', 'role = "helper"\naway = [[2026-10-22, 2026-10-22]]\n'
    )
    tasks = '[[task]]\nid = "T1"\ntitle = "Lifted"\nminutes = [5, 10, 20]\nhands = 2\n'
    shop = replace(
        facts(people=people, limits="", meters=""), tasks=tasks_from(tomllib.loads(tasks))
    )
    assert [one.key for one in workers(shop)] == ["marta", "tom"]
    assert (hands_on(shop, thursday.date()), hands_on(shop, date(2026, 10, 23))) == (1, 2)
    judged = judge(shop, [], thursday)
    plan = plan_of(judged, thursday, compare=False)
    assert not plan.can_do_now
    row = plan.row("T1")
    assert row is not None and row.start.date() == date(2026, 10, 23)
    assert set(row.who) == {"Marta Oduya", "Tom Ferrick"}


def test_plan_check_and_pages_name_the_same_work_and_the_same_waits(plan, demo):
    told = plan_as_json(plan)
    check = job_as_json(demo)["work"]
    assert told["can_do_now"] == check["can_do_now"]
    assert told["waiting_on"] == [one["sentence"] for one in check["waiting_on"]]
    cards = {card.task: card for card in work_rows.cards(demo) if card.task}
    for one in told["can_do_now"]:
        card = cards[one["task"]]
        assert (card.hands, card.minutes) == (one["hands"], one["minutes"])
    found = waits.waits(demo)
    tasks = [one["task"] for one in check["waiting_on"] if one["task"]]
    assert [one.task for one in found if one.task] == tasks
    decided = [line for line in told["waiting_on"] if "waits for your decision" in line]
    assert len([one for one in found if one.item and not one.task]) == len(decided) == 2
