"""The state of the work, case by case, each a list of entries. The shop and its engine are invented."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.doors.rules import check_can_append
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.gate.who import is_in, next_day_in
from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.terms.entries import Entry, new_entry
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.work.task_states import WORK_STATES
from rehang.trade.work.todo import (
    can_do_now,
    held_back,
    left_half_done,
    minutes_left,
    take_to_bench,
    uses_of,
    waiting_on,
)
from tests.trade.cast import ENGINE, METERS, PEOPLE, START, ZONE, facts

CREW = PEOPLE.replace('name = "Ben"\n', 'name = "Ben"\ndays = "Tue, Thu"\nsecond_look = true\n') + (
    '[[person]]\nkey = "dee"\nname = "Dee"\nrole = "helper"\n'
)
WRENCHES = METERS + (
    '[[meter]]\nid = "TW"\nname = "Torque wrench"\nkind = "torque wrench"\n'
    'lowest = "20 in-lb"\nhighest = "750 in-lb"\npercent_of_reading = 2\ndue = "2026-10-31"\n'
    '[[meter]]\nid = "TW-NEW"\nname = "Torque wrench"\nkind = "torque wrench"\n'
    'lowest = "20 in-lb"\nhighest = "750 in-lb"\npercent_of_reading = 2\ndue = "2027-10"\n'
)
WHOLE = ENGINE + 'bore_in = 4.375\ninspect = ["plug", "cylinder", "hole", "lead", "screen"]\n'
# 2 November 2026, the day the cases begin, is a Monday; Ben is in on Tuesdays and Thursdays.
MONDAY = date(2026, 11, 2)


def shop(**changed: str) -> JobFacts:
    return facts(**{"people": CREW, "meters": WRENCHES, "engine": WHOLE} | changed)


class Floor:
    """Writes entries about work a minute apart, by the rules or past them."""

    def __init__(self, the_facts: JobFacts | None = None) -> None:
        self.facts = the_facts or shop()
        self.entries: list[Entry] = []

    def past(self, kind: str, task: str = "", *, by: str = "ada", **data: Any) -> Entry:
        """An entry that got into the book without being asked about."""
        at = START + timedelta(minutes=len(self.entries))
        fields = {"task": task, **data} if task else data
        entry = new_entry(kind, at=at, by=by, id=f"work-{len(self.entries):03}", **fields)
        self.entries.append(entry)
        return entry

    def write(self, kind: str, task: str = "", *, by: str = "ada", **data: Any) -> Entry:
        entry = self.past(kind, task, by=by, **data)
        try:
            check_can_append([entry], self.entries[:-1], self.facts)
        except (NotAllowed, BadInput):
            self.entries.pop()
            raise
        return entry

    def refused(self, kind: str, task: str = "", **data: Any) -> str:
        with pytest.raises((NotAllowed, BadInput), match=r"\.$") as refusal:
            self.write(kind, task, **data)
        return str(refusal.value)

    def done(self, *tasks: str) -> Floor:
        for task in tasks:
            self.write("done", task)
        return self

    def torqued(self, done: int, of: int = 6, meter: str = "TW-NEW", **data: Any) -> Entry:
        return self.write(
            "torqued",
            "F2",
            item="cylinder:2",
            what="cover screws",
            place="2",
            meter=meter,
            of=of,
            **({} if "fasteners" in data else {"done": done}),
            **{"wanted": "50 in-lb", "passes": 2} | data,
        )

    def tappets(self, cylinder: int) -> None:
        for check in ("tappet_intake", "tappet_exhaust"):
            self.past(
                "reading", item=f"cylinder:{cylinder}", check=check, written="40 thou", meter="WG"
            )

    def judged(self, today: date = MONDAY) -> JudgedJob:
        return judge(self.facts, self.entries, today=today)

    def state(self, task: str, place: str = "") -> str:
        one = self.judged().work.tasks[task]
        if not place:
            return one.state
        found = one.place(place)
        assert found is not None
        return found.state

    def blockers(self, about: str) -> list[str]:
        return [b.sentence for b in self.judged().blockers if b.about == about]


# Said by a person


def test_a_task_is_not_started_then_started_then_done():
    floor = Floor()
    assert floor.state("A1") == "NOT STARTED"
    floor.write("started", "A1")
    assert floor.state("A1") == "STARTED"
    floor.write("done", "A1")
    assert floor.state("A1") == "DONE"
    floor.write("done", "A1")
    assert floor.state("A1") == "DONE"


def test_what_was_never_done_is_not_asked_for_again():
    floor = Floor()
    hole = floor.facts.layout.walk[0]
    floor.past("removed", item="plug:P1", place=hole)
    for task in ("H3", "H4"):
        place = floor.judged().work.tasks[task].place(hole)
        assert place is not None and place.state == "NOT STARTED"
        assert not any("again" in one for one in place.missing), task


def test_work_begun_again_is_part_done_again():
    floor = Floor().done("A1")
    floor.write("started", "A1")
    assert floor.state("A1") == "STARTED"


def test_a_place_at_a_time_and_all_of_them_at_once():
    floor = Floor().done("A1", "A2", "C1")
    for hole in floor.facts.layout.walk:
        floor.past("removed", item=f"plug:P{hole}", place=hole)
    floor.write("counted_out", what="blanks", number=1, place="1t")
    one = floor.judged().work.tasks["C7"]
    assert (one.state, one.number_done, len(one.places)) == ("STARTED", 1, 8)
    left = ", ".join(hole for hole in floor.facts.layout.walk if hole != "1T")
    # As many as holes are named, or it is not known which were meant.
    floor.write("counted_out", what="blanks", number=6, place=left)
    assert floor.state("C7") == "STARTED"
    floor.write("counted_out", what="blanks", number=7, place=left)
    assert floor.state("C7") == "DONE"


def test_part_done_blocks_the_return_to_service_and_closed_short_does_not():
    floor = Floor()
    floor.write("started", "A3")
    assert floor.blockers("task:A3") == [
        "Part-done: Last-run figures before removal: begun and not finished. "
        "Last worked on 2 Nov 2026 by Ada."
    ]
    floor.write("closed_short", "A3", reason="The airframe is gone.")
    assert floor.state("A3") == "CLOSED SHORT"
    assert floor.blockers("task:A3") == []
    assert "A3" not in floor.blockers("work")[0]


def test_what_was_closed_short_may_still_be_done():
    floor = Floor()
    floor.write("closed_short", "A3", reason="The airframe is gone.")
    floor.write("started", "A3")
    assert floor.state("A3") == "STARTED"


# Counted


def test_a_cover_with_two_of_six_screws_is_started_and_with_six_done():
    floor = Floor()
    floor.tappets(2)
    floor.torqued(2)
    place = floor.judged().work.tasks["F2"].place("2")
    assert (place.state, place.done, place.of, place.what) == ("STARTED", 2, 6, "screw")
    assert place.missing == ("4 of 6 screws torqued",)
    half = left_half_done(floor.judged().work, floor.facts)[0]
    assert (half.task, half.label) == ("F2", "cylinder 2")
    assert half.sentence == (
        "Rocker covers, cylinder 2: 2 of 6 screws torqued. Last worked on 2 Nov 2026 by Ada."
    )
    floor.torqued(6)
    assert floor.state("F2", "2") == "DONE"
    assert floor.state("F2") == "STARTED"


def test_a_wrench_out_of_date_is_said_and_blocks_until_it_is_gone_over_again():
    floor = Floor()
    floor.tappets(2)
    floor.torqued(2, meter="TW")
    half = left_half_done(floor.judged().work, floor.facts)[0]
    assert half.notes[0].startswith("TW was past its calibration date (31 Oct 2026) on 2 Nov 2026")
    assert floor.blockers("meter:TW") != []
    # Six of six that only goes on from the two has not gone over them.
    six = floor.torqued(6)
    assert floor.blockers("meter:TW") != []
    floor.past("struck", entry=six.id, reason="counted on, not gone over")
    for fastener in range(1, 7):
        floor.torqued(6, fasteners=[fastener])
    assert floor.judged().work.tasks["F2"].place("2").meters == ()
    assert floor.blockers("meter:TW") == []


def test_a_proved_wrench_is_not_complained_of():
    floor = Floor()
    floor.tappets(2)
    floor.write("proved", meter="TW", reason="Within 2 % at 50 in-lb.", due="2027-10")
    floor.torqued(2, meter="TW")
    assert floor.judged().work.tasks["F2"].place("2").meters == ()


def test_a_wrench_proved_with_no_new_date_is_cleared_for_what_went_before_only():
    floor = Floor()
    floor.tappets(2)
    floor.torqued(2, meter="TW")
    floor.write("proved", meter="TW", reason="Within 2 % at 50 in-lb.")
    assert floor.judged().work.tasks["F2"].place("2").meters == ()
    floor.torqued(3, meter="TW")
    assert floor.judged().work.tasks["F2"].place("2").meters != ()


def test_readings_show_that_a_place_is_done_and_nobody_ticks_it():
    floor = Floor()
    said = floor.refused("done", "F1", place="2")
    assert said == (
        "F1, cylinder 2, is done when it is written: intake dry tappet of cylinder 2 and "
        "exhaust dry tappet of cylinder 2. Write that, or close it short with a reason."
    )
    floor.past("reading", item="cylinder:2", check="tappet_intake", written="40 thou", meter="WG")
    assert floor.state("F1", "2") == "STARTED"
    floor.past("reading", item="cylinder:2", check="tappet_exhaust", written="40 thou", meter="WG")
    assert floor.state("F1", "2") == "DONE"


def test_a_reading_made_void_by_rework_opens_its_task_again():
    floor = Floor()
    floor.past("removed", item="plug:P1", place="1T")
    floor.past(
        "reading", item="plug:P1", check="resistance", written="1.2 kohm", meter="DM", range="20k"
    )
    assert floor.state("D5", "1T") == "DONE"
    floor.past("reworked", item="plug:P1", act="contact")
    assert floor.state("D5", "1T") == "NOT STARTED"
    assert floor.state("D3", "1T") == "DONE"


def test_a_struck_reading_does_not_count():
    floor = Floor()
    floor.past("removed", item="plug:P1", place="1T")
    read = floor.past(
        "reading", item="plug:P1", check="resistance", written="1.2 kohm", meter="DM", range="20k"
    )
    floor.write("struck", entry=read.id, reason="wrong plug")
    assert floor.state("D5", "1T") == "NOT STARTED"


def test_a_reject_is_not_tested_and_its_replacement_is():
    floor = Floor()
    floor.past("removed", item="plug:P1", place="1T")
    floor.past("dropped", item="plug:P1")
    place = floor.judged().work.tasks["D5"].place("1T")
    assert (place.state, place.let_off) == ("DONE", "P1 is a REJECT")
    floor.past("replaced", item="plug:N1", place="1T", **{"for": "P1"})
    place = floor.judged().work.tasks["D5"].place("1T")
    assert (place.state, place.missing) == ("NOT STARTED", ("resistance of N1",))
    # A new plug is not cleaned.
    assert floor.state("D1", "1T") == "DONE"


def test_only_the_oil_sample_of_this_stay_counts():
    sample = {"item": "oil:engine", "oil_hours": 50, "added_qt": 4, "ppm": {"Fe": 30}}
    floor = Floor(shop(engine=WHOLE + "last_run_on = 2026-10-30\n"))
    floor.past("sampled", on="2026-03-07", engine_hours=1091.3, **sample)
    assert floor.state("B2") == "NOT STARTED"
    floor.past("sampled", on="2026-10-30", engine_hours=1142.3, **sample)
    assert floor.state("B2") == "DONE"


# What has to come first


def test_work_before_its_needs_is_refused_with_what_is_missing():
    floor = Floor()
    assert floor.refused("started", "A2") == (
        "A2 waits for A1 (Engine and records identified), which is not done. "
        "Do that first, or close it short with a reason."
    )
    floor.write("closed_short", "A1", reason="Records are with the owner.")
    floor.write("started", "A2")
    assert floor.state("A2") == "STARTED"


def test_a_cover_may_go_on_once_the_tappets_of_its_own_cylinder_are_read():
    floor = Floor()
    floor.tappets(2)
    work = floor.judged().work
    assert work.tasks["F2"].ready == ("2",)
    assert work.tasks["F2"].waits_for == ("F1",)
    cover = {"item": "cylinder:1", "what": "screws", "meter": "TW-NEW", "done": 6, "of": 6,
             "wanted": "50 in-lb"}  # fmt: skip
    said = floor.refused("torqued", "F2", place="1", **cover)
    assert said.startswith("F2, cylinder 1, waits for F1 (Dry-tappet clearance)")
    floor.torqued(6)


def test_hole_threads_wait_for_the_borescope_of_their_own_cylinder():
    floor = Floor().done("A1", "A2", "C1")
    floor.past("removed", item="plug:P1", place="1T")
    floor.past("removed", item="plug:P2", place="2T")
    floor.past("seen", item="cylinder:2", check="look", word="even")
    assert floor.judged().work.tasks["C6"].ready == ("2T",)


def test_a_task_with_a_hold_meets_no_need_of_a_place_before_its_second_look():
    floor = Floor()
    for name in ("H2", "D8"):
        floor.write("closed_short", name, reason="not in this case")
    plug = {"item": "plug:P1", "what": "plug", "meter": "TW-NEW", "done": 1, "of": 1,
            "wanted": "390 in-lb"}  # fmt: skip
    floor.past("removed", item="plug:P1", place="1T")
    floor.write("torqued", "H3", place="1T", **plug)
    # A torque on a hole that nothing was put into is of no plug.
    assert floor.state("H3", "1T") == "NOT STARTED"
    floor.write("fitted", item="plug:P1", place="1T", gasket="new")
    assert floor.state("H3", "1T") == "STARTED"
    floor.write("torqued", "H3", place="1T", **plug)
    assert floor.state("H3", "1T") == "DONE"
    assert floor.judged().work.tasks["H4"].ready == ()
    floor.write("closed_short", "H3", reason="the rest are in already")
    assert len(floor.judged().work.tasks["H4"].ready) == 8


def test_a_cover_taken_off_again_has_no_screw_tight():
    floor = Floor()
    floor.tappets(2)
    floor.torqued(6)
    floor.write("started", "F2", place="2", note="cover off again")
    place = floor.judged().work.tasks["F2"].place("2")
    assert (place.state, place.done, place.of) == ("STARTED", 0, 6)
    floor.torqued(6)
    assert floor.state("F2", "2") == "DONE"


def test_a_task_left_late_on_purpose_is_held_back_with_its_reason_until_what_it_waits_for():
    floor = Floor()
    held = {one.task: one for one in held_back(floor.judged().work, floor.facts)}
    assert list(held) == ["B4", "F5", "G4", "H3", "H5"]
    assert held["G4"].reason.startswith("The new filter goes on after the oil hoses")
    assert held["G4"].after == ("Hoses on",)
    floor.write("closed_short", "G3", reason="The old hoses stay on.")
    assert "G4" not in [one.task for one in held_back(floor.judged().work, floor.facts)]


def test_count_in_is_not_done_while_anything_is_out():
    floor = Floor()
    for task in floor.facts.tasks["H6"].needs:
        floor.write("closed_short", task, reason="not in this case")
    floor.write("counted_out", what="blanks", number=3)
    assert floor.refused("done", "H6") == "Still out: 3 blanks. H6 is done when that is zero."
    floor.write("counted_in", what="blanks", number=3)
    floor.write("done", "H6")
    assert floor.state("H6") == "HELD"


# The second look


def screened(by: str = "ada") -> Floor:
    floor = Floor()
    floor.write("done", "B1")
    floor.past("sampled", item="oil:engine", on="2026-11-02", engine_hours=10, oil_hours=10,
               added_qt=0, ppm={"Fe": 30})  # fmt: skip
    floor.past("seen", by=by, item="screen:suction", check="look", word="clean")
    return floor


def test_work_with_a_hold_is_held_until_another_person_has_looked():
    floor = screened()
    assert floor.state("B3") == "HELD"
    # Monday: Ben is in on Tuesday.
    waiting = waiting_on(floor.judged().work, floor.facts)
    assert [(one.task, one.who, one.until) for one in waiting] == [
        ("B3", ("ben",), date(2026, 11, 3))
    ]
    assert floor.blockers("look:B3") == [
        "Suction screen: no second look yet at the safety wire of the screen and drain plug."
    ]
    assert "H1" not in [t for t, one in floor.judged().work.tasks.items() if one.ready]
    floor.write("second_look", "B3", by="ben")
    assert floor.state("B3") == "DONE"
    assert floor.blockers("look:B3") == []
    assert waiting_on(floor.judged().work, floor.facts) == ()


def test_whoever_did_the_work_does_not_give_its_second_look():
    floor = screened(by="ben")
    assert floor.refused("second_look", "B3", by="ben") == (
        "Ben worked on B3. A second look is another person's."
    )


def test_a_second_look_by_the_doer_that_got_into_a_book_does_not_count_and_is_said():
    floor = screened(by="ben")
    floor.past("second_look", "B3", by="ben")
    assert floor.state("B3") == "HELD"
    assert floor.judged().notices == (
        "Ben did part of B3 and gave its second look on 2 Nov 2026. "
        "A second look is another person's; it does not count.",
    )


def test_a_second_look_is_given_by_those_who_may():
    floor = screened()
    assert floor.refused("second_look", "B3", by="dee") == (
        "Dee has no paper on file to give a second look. Ada and Ben have."
    )


def test_with_nobody_down_for_it_nobody_may_look():
    floor = screened()
    people = CREW.replace("second_look = true\n", "").replace(", shop inspector", "")
    floor.facts = shop(people=people.replace("shop inspector", "student"))
    assert floor.refused("second_look", "B3", by="ben") == (
        "Ben has no paper on file to give a second look. Nobody in the list of people has: enter there who "
        "may, with the certificate."
    )


def test_a_second_look_comes_after_the_work():
    assert Floor().refused("second_look", "B3", by="ben") == (
        "B3 is NOT STARTED; its second look comes once it is done."
    )
    assert Floor().refused("second_look", "A1", by="ben") == "A1 asks for no second look."


def test_work_begun_again_after_the_look_asks_for_another():
    floor = screened()
    floor.write("second_look", "B3", by="ben")
    floor.write("started", "B3")
    assert floor.state("B3") == "STARTED"
    floor.past("seen", item="screen:suction", check="look", word="clean")
    assert floor.state("B3") == "HELD"


def test_a_hold_may_be_closed_short_with_a_reason():
    floor = screened()
    floor.write("closed_short", "B3", reason="Ben is gone for good; the owner's own man looked.")
    assert floor.state("B3") == "CLOSED SHORT"
    assert floor.blockers("look:B3") == []


def test_the_mount_bolts_are_looked_at_before_they_are_torqued():
    floor = Floor()
    floor.write("started", "G1", note="bolts in by hand")
    one = floor.judged().work.tasks["G1"]
    assert one.state == "STARTED"
    assert one.look.waits
    assert "G1" not in [c.task for c in can_do_now(floor.judged().work, floor.facts)]
    floor.write("second_look", "G1", by="ben")
    assert not floor.judged().work.tasks["G1"].look.waits
    assert "G1" in [c.task for c in can_do_now(floor.judged().work, floor.facts)]
    floor.write(
        "torqued", "G1", item="mount:frame", what="bolts", meter="TW-NEW", done=4, of=4,
        wanted="475 in-lb", passes=2,
    )  # fmt: skip
    assert floor.state("G1") == "DONE"


def test_who_is_in_goes_by_their_days_the_shop_and_absences():
    the_facts = shop(
        people=CREW.replace(
            "second_look = true\n",
            "second_look = true\naway = [[2026-11-03, 2026-11-05]]\n",
        ),
        engine=WHOLE + "[shop_hours]\nshut_on = [2026-11-10]\n",
    )
    ben = the_facts.people["ben"]
    assert not is_in(ben, the_facts.shop, date(2026, 11, 3))
    assert next_day_in(ben, the_facts.shop, MONDAY) == date(2026, 11, 12)
    assert next_day_in(the_facts.people["ada"], the_facts.shop, date(2026, 11, 8)) == date(
        2026, 11, 9
    )


# Interruptions


def test_a_stop_keeps_the_last_three_things_to_own_again_and_carrying_on_ends_it():
    floor = Floor()
    for cylinder in (1, 2):
        floor.tappets(cylinder)
    floor.torqued(2)
    floor.write("stopped", "F2", place="2", where="cylinder 2 cover", why="phone")
    half = left_half_done(floor.judged().work, floor.facts)[0]
    assert [e.kind for e in half.own_again] == ["reading", "reading", "torqued"]
    assert "Stopped 2 Nov 2026 by Ada: phone." in half.notes
    floor.write("carried_on", "F2", place="2", where="cylinder 2 cover")
    half = left_half_done(floor.judged().work, floor.facts)[0]
    assert half.own_again == ()


def test_a_task_that_stops_does_not_move_where_reading_stopped():
    floor = Floor()
    floor.write("stopped", where="tray", place="1T", check="gap", why="phone")
    floor.write("started", "A1")
    floor.write("stopped", "A1", where="data plate", why="phone")
    floor.write("carried_on", "A1", where="data plate")
    assert floor.judged().state.stop.data["where"] == "tray"


def test_a_red_streamer_blocks_until_it_is_off():
    floor = Floor()
    floor.write("flagged", what="red streamer", place="cylinder 2 cover")
    assert floor.blockers("flag:cylinder 2 cover") == [
        "Red streamer on cylinder 2 cover, put there on 2 Nov 2026 by Ada."
    ]
    assert floor.refused("flag_off", what="red streamer", place="cylinder 3 cover") == (
        "There is no red streamer on cylinder 3 cover to take off."
    )
    floor.write("flag_off", what="Red streamer", place="cylinder 2 cover")
    assert floor.blockers("flag:cylinder 2 cover") == []


# Nonsense


@pytest.mark.parametrize(
    ("kind", "task", "data", "said"),
    [
        ("done", "Z9", {}, 'There is no task "Z9" in this job\'s task sheet. Its tasks are A1, A2'),
        ("used", "Z9", {"part": "plug", "number": 1}, 'There is no task "Z9"'),
        ("started", "C6", {"place": "9T"}, '"9T" is not a place of C6. Its places are 1T, 1B, 2T'),
        ("closed_short", "A1", {"reason": " "}, "reason: Write the reason: what was seen"),
        (
            "torqued",
            "F2",
            {"item": "cylinder:2", "what": "screws", "meter": "TW-NEW", "done": 1, "of": 6},
            "F2 is done cylinder by cylinder. Write which: 1, 2, 3, 4.",
        ),
    ],
    ids=["task", "used", "place", "reason", "which"],
)
def test_nonsense_is_refused_before_it_is_kept(kind, task, data, said):
    assert Floor().refused(kind, task, **data).startswith(said)


def test_what_is_done_is_not_closed_short():
    assert Floor().done("A1").refused("closed_short", "A1", reason="not needed here") == (
        "A1 is done; there is nothing to close short."
    )


def test_a_task_taken_out_of_the_sheet_leaves_its_entries_in_the_book_and_they_are_said():
    floor = Floor().done("A1", "A2")
    floor.facts = shop(tasks='[[task]]\nid = "A2"\nleave_out = true\n')
    judged = floor.judged()
    assert "A2" not in judged.work.tasks
    assert judged.work.tasks["C1"].task.needs == ("A1",)
    assert judged.work.tasks["C1"].ready == ("",)
    assert judged.notices == (
        "An entry of 2 Nov 2026 is about task A2, which is not in the task sheet (any more). "
        "It stays in the book and counts for nothing.",
    )
    assert len(judged.state.entries) == 2


# Now, and from the shelf


def test_what_can_be_done_now_asks_for_needs_hands_and_parts():
    floor = Floor()
    start = [one.task for one in can_do_now(floor.judged().work, floor.facts)]
    assert start == ["A1", "A3", "B1", "E2", "F1", "F3", "F4", "G1"]
    alone = shop(people='[[person]]\nkey = "ada"\nname = "Ada"\n')
    assert "A3" not in [one.task for one in can_do_now(floor.judged().work, alone)]
    none = [one.task for one in can_do_now(floor.judged().work, floor.facts, lambda part: 0)]
    assert none == ["A1", "E2", "F1", "F4"]


def test_parts_that_reach_for_some_places_are_said():
    floor = Floor()
    for cylinder in (1, 2, 3):
        floor.tappets(cylinder)
    floor.write("used", "F2", place="2", part="gasket-rocker", number=1)
    work = floor.judged().work
    assert [(use.part, use.number) for use in uses_of(work.tasks["F2"])] == [("gasket-rocker", 3)]
    (covers,) = [c for c in can_do_now(work, floor.facts, lambda part: 1) if c.task == "F2"]
    assert covers.short == ("1 more Rocker cover gasket",)
    assert len(covers.places) == 2


def test_what_to_take_to_the_bench_is_merged_and_says_which_meter_is_out_of_date():
    floor = Floor()
    bench = take_to_bench(["F1", "F2"], floor.judged().work, floor.facts)
    socket = [one for one in bench.tools if one.name == "Socket"]
    assert [(one.size, one.drive, one.tasks) for one in socket] == [
        ("5/16 in", "1/4 in", ("F1", "F2"))
    ]
    standing = {one.id: one.standing for one in bench.meters}
    assert standing["TW"].startswith("TW was past its calibration date")
    assert standing["TW-NEW"] == ""
    assert [(one.id, one.number, one.in_hand) for one in bench.parts] == [
        ("gasket-rocker", 4, None)
    ]


def test_minutes_follow_the_number_of_places_left():
    # 120 minutes for four cylinders: 90 for three.
    floor = Floor()
    floor.tappets(2)
    assert minutes_left(floor.judged().work.tasks["F1"])[1] == 90


# Other engines


@pytest.mark.parametrize(("job", "holes", "cylinders"), [("six", 12, 6), ("radial", 18, 9)])
def test_places_are_counted_by_the_layout(job, holes, cylinders):
    folder = read_folder(demo_path(job))
    work = judge(folder.facts, folder.entries).work
    assert len(work.tasks["C2"].places) == holes
    assert work.tasks["C2"].state == "DONE"
    assert len(work.tasks["C4"].places) == cylinders
    # 40 minutes for four cylinders.
    assert work.tasks["C4"].task.minutes_with(cylinders)[1] == 10 * cylinders


# Whatever is written

KINDS = ["started", "done", "closed_short", "second_look", "stopped", "carried_on"]


@settings(max_examples=30, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(KINDS),
            st.sampled_from(["A1", "A2", "C7", "F1", "G3", "H4", "H6", "Z1"]),
            st.sampled_from(["", "1T", "2", "nowhere"]),
            st.sampled_from(["ada", "ben", "dee"]),
        ),
        max_size=8,
    )
)
def test_any_book_of_work_folds_and_an_entry_more_never_unmakes_another_task(lines):
    floor = Floor()
    before = floor.judged().work
    for kind, task, place, by in lines:
        data = {"where": "x"} if kind in ("stopped", "carried_on") else {}
        data |= {"reason": "not needed here"} if kind == "closed_short" else {}
        floor.past(kind, task, by=by, place=place, **data)
        after = floor.judged().work
        assert {one.state for one in after.tasks.values()} <= set(WORK_STATES)
        for name, one in after.tasks.items():
            if name != task:
                assert one.state == before.tasks[name].state
            assert one.is_finished == (not one.unfinished and one.state != "HELD")
        before = after


def test_work_is_of_its_moment():
    floor = Floor()
    floor.write("started", "A1")
    floor.write("done", "A1")
    then = judge(floor.facts, floor.entries, datetime(2026, 11, 2, 9, 0, 30, tzinfo=ZONE))
    assert then.work.tasks["A1"].state == "STARTED"
