"""Work after a second look, which opens that look again: at every task that has one."""

from __future__ import annotations

from ..finished import Case, Change, Finished


def _plug_out_and_in(*, leads_on: bool, looks: tuple[str, ...]) -> Change:
    """A plug comes out for a last look and goes in again, with its torque and another run."""

    def change(job: Finished) -> None:
        plug = job.last("fitted", place="2B")
        job.add("removed", item=plug["item"], place="2B")
        job.again(plug)
        job.again(job.last("torqued", place="2B"))
        if leads_on:
            job.add("done", task="H4", place="2B")
        for task in looks:
            job.again(job.last("second_look", task=task))
        job.run_again()

    return change


def _off_and_on(item: str, place: str) -> Change:
    def change(job: Finished) -> None:
        job.add("removed", item=item, place=place)
        job.add("fitted", item=item, place=place)
        job.run_again()

    return change


def _propeller_torqued_again(job: Finished) -> None:
    job.again(job.last("torqued", item="propeller:1"))
    job.run_again()


def _filter_torqued_again(job: Finished) -> None:
    job.again(job.last("torqued", item="filter:oil"))
    job.run_again()


def _timed_again(job: Finished) -> None:
    job.add("reworked", item="magneto:left", act="timed")
    job.add("reading", item="magneto:left", check="timing", meter="TL-1", written="25 deg")
    job.run_again()


CASES = [
    Case(
        "a plug out and in, its lead not put on",
        _plug_out_and_in(leads_on=False, looks=("H3",)),
        "Leads on: 7 of 8 done; left: lead 2B",
    ),
    Case(
        "a plug out and in, its lead not looked at",
        _plug_out_and_in(leads_on=True, looks=("H3",)),
        "Leads on: no second look yet",
    ),
    Case(
        "a plug out and in, not looked at",
        _plug_out_and_in(leads_on=True, looks=("H4",)),
        "Plugs in: no second look yet",
    ),
    Case("a lead off and on", _off_and_on("lead:2B", "2B"), "Leads on: 7 of 8 done; left: lead 2B"),
    Case(
        "a hose off and on", _off_and_on("hose:HS1", "HS1"), "Hoses on: no second look yet at the"
    ),
    Case(
        "a control off and on",
        _off_and_on("control:throttle, mixture, carburettor heat", "throttle"),
        "controls again: a part came out or went in after it",
    ),
    Case(
        "the suction screen out and in",
        _off_and_on("screen:suction", "suction"),
        "suction screen again: a part came out or went in after it",
    ),
    Case(
        "the propeller torqued again", _propeller_torqued_again, "Propeller on: no second look yet"
    ),
    Case("the filter torqued again", _filter_torqued_again, "New oil filter: no second look yet"),
    Case("a magneto timed again", _timed_again, "Magneto timing: no second look yet"),
]
