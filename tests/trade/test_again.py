"""What items ask for when the tasks that read them are done, the same on every face."""

from dataclasses import replace
from datetime import date, datetime, timedelta, timezone

from rehang.cli.text import job_lines
from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.doors.asjson import job_as_json
from rehang.trade.job.again import asked_again
from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.plan.cutting import pieces_of
from rehang.trade.plan.plan_pieces import PlanAsked
from rehang.trade.terms.entries import Entry, new_entry
from rehang.trade.work.traces import asks_again
from rehang.web.work.rows import cards
from tests.trade.drawn import demo


def test_a_finer_meter_and_rework_are_asked_for_once_their_task_is_done():
    """By hand: K0413 is a close call on AN-1, K0415's gap is out; both can be done today."""
    found = {one.items: one for one in asked_again(demo())}
    assert found[("plug:K0413",)].title == "Read the resistance on DM-2"
    assert found[("plug:K0413",)].meters == ("DM-2",)
    assert found[("plug:K0415",)].title.startswith("Have it re-gapped to 17 thou")
    rejects = {"plug:K0412", "plug:K0414", "plug:K0522"}
    assert rejects.isdisjoint(item for items in found for item in items)
    # K0418 is still to be read by its own tasks, K0411 and K0417 go back as they are.
    assert not {"plug:K0418", "plug:K0411", "plug:K0417"} & {i for items in found for i in items}


def test_page_and_command_and_data_say_the_same():
    acts = asked_again(demo())
    assert acts
    on_page = {one.items: one.title for one in cards(demo()) if not one.task}
    assert on_page == {one.items: one.title for one in acts}
    assert [one["items"] for one in job_as_json(demo())["work"]["asked_again"]] == [
        list(one.items) for one in acts
    ]
    said = " ".join(" ".join(job_lines(demo())).split())
    assert [one.sentence for one in acts if one.sentence not in said] == []


def changed(*entries: Entry) -> JudgedJob:
    """The demo with more in its book, as it stands on its day."""
    folder = read_folder(demo_path())
    return judge(folder.facts, [*folder.entries, *entries], today=date(2026, 10, 21))


def written(kind: str, number: int, **data: object) -> Entry:
    at = datetime(2026, 10, 21, 9, number, tzinfo=timezone(timedelta(hours=-5)))
    return new_entry(kind, at=at, by="marta", id=f"again-{number}", **data)


def test_rework_is_not_offered_while_what_it_needs_is_open():
    """A blasted plug is looked at again before anyone sets its gap."""
    blasted = changed(written("reworked", 1, item="plug:K0415", act="blast"))
    assert not any("plug:K0415" in one.items for one in asked_again(blasted))


# Without a zone: the plan counts by the shop's own clock.
NINE_THIRTY = datetime.fromisoformat("2026-10-21T09:30:00")
CLEARANCES = [
    written(
        "reading", 10 + number, item="cylinder:2", check=f"tappet_{which}", meter="FG-1",
        written=f"{thou} thou",
    )
    for number, (which, thou) in enumerate([("exhaust", 90)])
]  # fmt: skip


def test_no_cover_goes_on_over_a_clearance_that_is_taken_again():
    judged = changed(*CLEARANCES)
    cover = judged.work.tasks["F2"].place("2")
    assert cover is not None
    assert cover.open_needs == ("F1",)
    assert "2" not in judged.work.tasks["F2"].ready
    pieces = pieces_of(judged, NINE_THIRTY, PlanAsked(date(2026, 10, 21))).pieces
    first = next(piece for piece in pieces.values() if piece.key == "F1.again")
    covers = [piece for piece in pieces.values() if piece.task == "F2" and piece.kind == "work"]
    assert covers
    assert all(first.key in {need.on for need in piece.needs} for piece in covers)


def test_a_gap_that_a_person_called_out_is_planned_again():
    """Called OUT, it is put right; left to the plan it would be forgotten."""
    close = changed()
    held = close.item("plug:K0415")
    gap = held.call("gap")
    assert gap is not None
    called = replace(gap, call="OUT", called_by="Marta Oduya")
    assert asks_again(called, close.facts.sheets["plug"].check("gap"))
    assert not asks_again(replace(called, call="WITHIN"), close.facts.sheets["plug"].check("gap"))
