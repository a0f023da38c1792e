"""A cylinder off and on: what it opens, what it ends, and what must be shown before the engine goes back."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

import pytest

from rehang.sheets import task_sheet, torque_groups
from rehang.sheets.folder import parse_book, parse_files, seal_all
from rehang.trade.gate.entry_gate import fault_of
from rehang.trade.known.fastened import torque_places
from rehang.trade.papers.signing import check_can_sign, sha256_of
from rehang.trade.release.run_start import no_start
from rehang.trade.telling.entry_text import draft_of
from rehang.trade.terms.entries import new_entry
from rehang.trade.terms.errors import BadInput

from .finished import Finished
from .one_off import FILES, OFF, STEPS, OneOff

OPENED = {f"J{n}" for n in range(1, 8)}


def test_a_job_in_which_no_cylinder_came_off_is_asked_for_none_of_it():
    judged = Finished().judged()
    assert judged.facts.off == ()
    assert not OPENED & set(judged.facts.tasks)
    assert not {"hold-down", "through-bolt"} & set(judged.facts.torque_groups)
    assert not {"barrel", "break-in"} & {one.kind for one in judged.items}
    assert {"J1", "J6"} <= set(task_sheet()) and "hold-down" in torque_groups()


def test_it_opens_its_tasks_its_torque_and_its_checks_for_that_cylinder_only():
    judged = OneOff(until="off").judged()
    assert judged.facts.off == (OFF,)
    work = judged.work.tasks
    assert set(work) >= OPENED
    assert all([place.name for place in work[one].places] == [OFF] for one in OPENED)
    assert {one.item for one in judged.items if one.kind in ("barrel", "break-in")} == {
        f"barrel:{OFF}", f"break-in:{OFF}",
    }  # fmt: skip
    # The others stand as they were read.
    assert {one.item: one.verdict for one in judged.items if one.kind == "cylinder"} == {
        f"cylinder:{n}": "NOT YET" if str(n) == OFF else "KEEP" for n in range(1, 7)
    }


@pytest.mark.parametrize(("layout", "name"), [("radial-9", "9"), ("opposed-4", "2")])
def test_any_layout_has_it_for_its_own_cylinders(layout, name):
    job = OneOff(*STEPS)
    job.files["engine.toml"] = FILES["engine.toml"].replace("opposed-6", layout)
    job.write("removed", item=f"cylinder:{name}", place=name)
    judged = job.judged()
    work = judged.work.tasks
    assert judged.facts.off == (name,)
    assert all([place.name for place in work[one].places] == [name] for one in OPENED)
    cards = [one for one in torque_places(judged.facts, judged.state) if one.group.when_off]
    assert {(one.group.id, one.place) for one in cards} == {
        ("hold-down", name),
        ("through-bolt", name),
    }


def test_two_off_are_asked_for_each_by_itself():
    job = OneOff()
    job.write("removed", item="cylinder:2", place="2")
    judged = job.judged()
    assert judged.facts.off == ("2", "5")
    states = {one.name: one.state for one in judged.work.tasks["J3"].places}
    assert states == {"2": "NOT STARTED", "5": "DONE"}
    verdicts = {one.item: one.verdict for one in judged.items if one.kind == "barrel"}
    assert verdicts == {"barrel:2": "NOT YET", "barrel:5": "KEEP"}


def test_from_off_to_a_record_that_returns_it():
    job = OneOff()
    judged = job.judged()
    assert judged.blockers == ()
    draft = draft_of(judged, "maintenance")
    assert "CY-5517" in draft.text and "ylinder 5" in draft.text
    facts = parse_files(FILES, "one off")
    entries, _ = parse_book("".join(f"{e}\n" for e in job.lines()), facts.people)
    entry = new_entry(
        "signed", at=entries[-1].at + timedelta(minutes=1), by="marta", what="maintenance",
        text=draft.text, sha256=sha256_of(draft.text), name="Marta Oduya",
        certificate="DEMO-114", certificate_kind="mechanic",
    )  # fmt: skip
    check_can_sign(
        entry, facts=facts, book=seal_all(entries), blockers=judged.blockers, draft=draft,
        signed=judged.signed,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("step", "said"),
    [
        ("studs", "not started: Rod, studs and deck looked after"),
        ("bench look", "barrel 5 is NOT YET: Still to be taken: barrel, head, piston and valves"),
        ("measured", "Still to be taken: bore, choke, top ring gap"),
        ("on", "came off on 2 Nov 2026 and is not written as on again"),
        ("hold-down", "Cylinder hold-down nuts: none of 6 nuts torqued"),
        ("through-bolts", "Cylinder through-bolt nuts: none of 2 nuts torqued"),
        ("locked", "Still to be taken: locked and safetied"),
        ("look at the torque", "no second look yet at the torque of each nut"),
        ("valve train", "Still to be taken: pushrods, rocker side clearance, intake valve lift"),
        ("tappets", "Intake dry tappet: Void: taken before it came off"),
        ("covers", "not started: Rocker covers"),
        ("run in", "Still to be taken: the run by its document, highest head temperature"),
        ("leak look", "Still to be taken: leaks after the run"),
        ("borescope", "Borescope: Void: taken before it came off"),
        ("compression", "Compression: Void: taken before it came off"),
        ("run 2", "ground run 2, ended and with its figures"),
    ],
)
def test_what_is_left_out_keeps_it_back(step, said):
    assert any(said in one for one in OneOff(step).reasons())


def test_nothing_read_and_no_run_keeps_it_back():
    every = set(STEPS) - {"as received", "off", "on"}
    told = "\n".join(OneOff(*every).reasons())
    for said in ("barrel 5 is NOT YET", "break-in 5 is NOT YET", "no ground run with its figures"):
        assert said in told
    # Off alone, and nothing else written: closing its tasks short lifts none of it.
    job = OneOff(until="off")
    for one in sorted(OPENED):
        job.write("closed_short", task=one, reason="the owner is in a hurry, said twice")
    assert any("is not written as on again" in one for one in job.reasons())
    assert any("barrel 5 is NOT YET" in one for one in job.reasons())


Change = Callable[[OneOff], None]


@dataclass(frozen=True)
class Changed:
    """One line of the whole job changed, and what must be said of it."""

    name: str
    change: Change
    says: str


def write_as(check: str, written: str, item: str = f"barrel:{OFF}") -> Change:
    def change(job: OneOff) -> None:
        found = [
            one for one in job.entries if one.get("item") == item and one.get("check") == check
        ]
        found[-1]["written"] = written

    return change


def passes(group: str, number: int | None) -> Change:
    def change(job: OneOff) -> None:
        for one in job.entries:
            if one.get("group") == group:
                one.pop("passes") if number is None else one.update(passes=number)

    return change


def again(name: str) -> Change:
    """A step of the work once more, behind everything else."""
    return lambda job: STEPS[name](job.write)


def torque_first(job: OneOff) -> None:
    """The cylinder written as on after its nuts were torqued."""
    on = next(one for one in job.entries if one["kind"] == "fitted")
    last = next(one for one in job.entries if one.get("check") == "safetied")
    job.entries.remove(on)
    job.entries.insert(job.entries.index(last) + 1, on)
    on["at"] = (datetime.fromisoformat(last["at"]) + timedelta(seconds=10)).isoformat()


def run_before(job: OneOff) -> None:
    """Off and on again after everything, with all but the runs done anew."""
    for name in list(STEPS)[1:]:
        if not name.startswith(("run ", "count")):
            STEPS[name](job.write)


def without_cards(job: OneOff) -> None:
    for group in ("hold-down", "through-bolt"):
        job.files["torque.toml"] += f'[[group]]\nid = "{group}"\nleave_out = true\n'
        job.entries = [one for one in job.entries if one.get("group") != group]


CHANGED = (
    Changed("top ring gap wide", write_as("ring_gap_top", "0.061 in"), "barrel 5 is REWORK: Top ring gap 61 thou"),
    Changed("ring gap closed", write_as("ring_gap_second", "0.010 in"), "Second ring gap 10 thou"),
    Changed("bore worn", write_as("bore", "4.392 in"), "barrel 5 is REWORK: Bore"),
    Changed("no choke", write_as("choke", "0.000 in"), "barrel 5 is REWORK: Choke"),
    Changed("pushrod bent", write_as("pushrods", "bent or worn"), "barrel 5 is REWORK: Pushrods"),
    Changed("lift low", write_as("lift_exhaust", "0.360 in"), "Exhaust valve lift 360 thou"),
    Changed("old gasket", write_as("gaskets", "an old one went in"), "barrel 5 is REWORK: Gaskets"),
    Changed("wire loose", write_as("safetied", "something is loose"), "barrel 5 is REWORK: Locked"),
    Changed("not read", write_as("piston_fit", "-"), "Piston in the bore"),
    Changed("run cut short", write_as("as_asked", "cut short", f"break-in:{OFF}"), "break-in 5 is REWORK"),
    Changed("head too hot", write_as("head_temp", "470 F", f"break-in:{OFF}"), "Highest head temperature"),
    Changed("two passes of three", passes("hold-down", 2), "passes are written as 2 and 3 are asked for"),
    Changed("passes not written", passes("through-bolt", None), "passes are not written and 3 are asked for"),
    Changed("torqued before it was on", torque_first, "cylinder 5 was fitted on 2 Nov 2026, after it was torqued"),
    Changed("off again", again("off"), "is not written as on again"),
    Changed("run before it went on", run_before, "no ground run with its figures was ended since"),
    Changed("no torque card", without_cards, "no torque card for what holds a cylinder down"),
)  # fmt: skip


@pytest.mark.parametrize("case", CHANGED, ids=lambda case: case.name)
def test_one_thing_wrong_keeps_it_back(case):
    job = OneOff()
    case.change(job)
    found = job.reasons()
    assert any(case.says in one for one in found), found


def test_a_cylinder_that_comes_off_again_is_measured_torqued_and_run_in_again():
    job = OneOff()
    again("off")(job)
    told = "\n".join(job.reasons())
    assert "taken before it came off on 2 Nov 2026" in told
    judged = job.judged()
    verdicts = {one.item: one.verdict for one in judged.items}
    assert verdicts["barrel:5"] == verdicts["break-in:5"] == verdicts["cylinder:5"] == "NOT YET"
    assert verdicts["cylinder:4"] == "KEEP"
    assert "cylinder 5 was removed" in told
    with_neighbours = [one for one in job.reasons() if "exhaust flange" in one.lower()]
    assert (
        with_neighbours
        and "cylinder 5" in with_neighbours[0]
        and "cylinder 4" not in with_neighbours[0]
    )


def test_what_the_runs_read_ends_when_a_cylinder_comes_off():
    job = OneOff()
    again("off")(job)
    proofs = job.judged().runs.proofs.standing
    ended = {name for name, figure in proofs.items() if figure.ended_by is not None}
    assert {"static", "head_temp", "oil_idle", "oil_run", "drop_left", "idle"} <= ended
    # The switch grounds what it grounded.
    assert "switch_off" not in ended


def test_what_is_read_of_a_cylinder_while_it_is_off_does_not_count():
    job = OneOff(until="off")
    STEPS["borescope"](job.write)
    STEPS["compression"](job.write)
    calls = {one.check: one for one in job.judged().item("cylinder:5").calls}
    assert calls["look"].call == calls["compression"].call == "VOID"
    assert "while the cylinder was off" in calls["compression"].sentence


@pytest.mark.parametrize(("off", "call"), [("1", "VOID"), ("5", "WITHIN")])
def test_timing_is_not_read_while_the_cylinder_is_off_that_it_is_read_on(off, call):
    # The six fires 1 first: no other has the stroke that its mark is found on.
    job = OneOff(until="as received")
    job.files["engine.toml"] = FILES["engine.toml"].replace('"intake"]', '"intake", "magneto"]')
    job.write("removed", item=f"cylinder:{off}", place=off)
    job.write("reading", item="magneto:left", check="timing", written="25 deg", meter="TL-1")
    assert job.judged().item("magneto:left").call("timing").call == call


def test_another_cylinder_goes_on_by_its_serial_and_shows_its_papers():
    job = OneOff("on")
    at = next(one for one in job.entries if one.get("group") == "hold-down")
    new = job.write("fitted", item="cylinder:5", place="5", serial="CY-9001", part="cylinder")
    job.entries.remove(new)
    new["at"] = at["at"]
    job.entries.insert(job.entries.index(at), new)
    assert any("has no release document on file" in one for one in job.reasons())


@pytest.mark.parametrize(
    ("kind", "data", "said"),
    [
        ("removed", {"item": "cylinder:5", "place": "5"}, "Cylinder 5 is off already."),
        ("removed", {"item": "cylinder:9", "place": "9"}, '"9" is no place of a cylinder.'),
        ("removed", {"item": "cylinder:4", "place": "3"}, "cylinder 4 is not in the place of cylinder 3"),
    ],
)  # fmt: skip
def test_what_cannot_come_off(kind, data, said):
    judged = OneOff(until="off").judged()
    entry = new_entry(kind, at=judged.state.order[-1].at, by="marta", **data)
    assert re.search(said, fault_of(entry, judged.state, judged.facts), re.IGNORECASE)


def test_a_task_may_be_for_some_cylinders_only():
    job = OneOff(until="as received")
    text = '[[task]]\nid = "S1"\ntitle = "Fins straightened"\nminutes = [1, 2, 3]\nfor_each = "cylinder"\nonly = {}\n'
    job.files["tasks.toml"] = text.format('["2", "6"]')
    work = job.judged().work.tasks
    assert [one.name for one in work["S1"].places] == ["2", "6"]
    # Of an engine that has none of them it is no part.
    job.files["tasks.toml"] = text.format('["8"]')
    assert "S1" not in job.judged().work.tasks
    job.files["tasks.toml"] = text.format('["2"]').replace('for_each = "cylinder"\n', "")
    with pytest.raises(BadInput, match="S1 is done only at 2"):
        job.judged()


@pytest.mark.parametrize(
    ("left_out", "said"),
    [
        ("on", "No start: cylinder 5 is off."),
        (
            "through-bolts",
            "No start: cylinder through-bolt nuts of cylinder 5 are not all torqued.",
        ),
    ],
)
def test_an_engine_with_a_cylinder_off_or_loose_is_not_started(left_out, said):
    judged = OneOff(left_out, until="count-in").judged()
    at = judged.state.order[-1].at
    assert said in no_start(judged.facts, judged.state, judged.work, at)
    whole = OneOff(until="count-in").judged()
    assert not [
        one for one in no_start(whole.facts, whole.state, whole.work, at) if "cylinder" in one
    ]


def test_compression_and_borescope_of_it_wait_for_its_run_and_hold_nothing_up():
    work = OneOff(until="tappets").judged().work
    for task in ("C4", "C5"):
        place = work.tasks[task].place("5")
        assert place is not None and place.state == "DONE"
        assert place.let_off == "cylinder 5 came off; cylinder proved after its run asks for it"
    place = work.tasks["J7"].place("5")
    assert place is not None and place.state == "NOT STARTED"


def test_the_shop_may_say_that_there_are_no_through_bolts():
    job = OneOff("through-bolts")
    job.files["torque.toml"] += '[[group]]\nid = "through-bolt"\nleave_out = true\n'
    job.files["limits.toml"] = re.sub(
        r'\[\[limit\]\]\nitem = "engine"\ncheck = "through_bolt_torque".*', "", job.files["limits.toml"],
        flags=re.DOTALL,
    )  # fmt: skip
    assert job.reasons() == []
