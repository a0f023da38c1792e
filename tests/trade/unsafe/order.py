"""Work in an order in which it cannot have been done, work left half done, looks left out."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from ..finished import Case, Change, Finished


def _before(job: Finished, entry: dict[str, Any], other: dict[str, Any]) -> None:
    """The entry stands half a minute before another one."""
    job.entries.remove(entry)
    entry["at"] = (datetime.fromisoformat(other["at"]) - timedelta(seconds=30)).isoformat()
    job.entries.insert(job.entries.index(other), entry)


def _pre_oiled_dry(job: Finished) -> None:
    _before(job, job.last("done", task="H2"), job.last("done", task="H1"))


def _at_the_end(task: str) -> Change:
    def change(job: Finished) -> None:
        job.entries.remove(job.last("done", task=task))
        job.add("done", task=task)

    return change


def _second_run_done_before_it(job: Finished) -> None:
    _before(job, job.last("done", task="H8"), job.last("run_began", run="2"))


def _first_run_done_before_it(job: Finished) -> None:
    _before(job, job.last("done", task="H7"), job.last("run_ended", run="1"))


def _first_run_with_no_figure(job: Finished) -> None:
    """Run 1 read nothing, so runs 2 and 3 are the first and the second."""
    job.run_again()
    job.without("reading", item="run:1")


def _read_before_the_start(check: str) -> Change:
    def change(job: Finished) -> None:
        start = job.last("run_step", run="2", step="start")
        for one in job.of("reading", item="run:2", check=check):
            _before(job, one, start)

    return change


def _looked_at_before_the_start(job: Finished) -> None:
    start = job.last("run_step", run="2", step="start")
    _before(job, job.last("seen", item="run:2"), start)


def _without(kind: str) -> Change:
    """The job does not look at this kind of item."""
    return lambda job: job.replace("engine.toml", f'"{kind}", ', "")


def _nothing_of_it(kind: str) -> Change:
    """The job does not look at this kind, and its book has nothing of it either."""

    def change(job: Finished) -> None:
        job.replace("engine.toml", f'"{kind}",', "")
        job.entries = [
            one
            for one in job.entries
            if not str(one.get("item", "")).startswith(f"{kind}:") or one["kind"] == "torqued"
        ]

    return change


CASES = [
    Case("pre-oiled before the oil was in", _pre_oiled_dry, "Oil in was first done on 10 Nov 2026"),
    Case("hung when all was done", _at_the_end("G2"), "Engine hung was first done on 12 Nov 2026"),
    Case("leads off when all was done", _at_the_end("C1"), "Leads off was first done on 12 Nov"),
    Case(
        "the second run done before it",
        _second_run_done_before_it,
        "before the run ended on 12 Nov 2026, 11:49",
    ),
    Case(
        "the first run done before it ended",
        _first_run_done_before_it,
        "before the run ended on 12",
    ),
    Case(
        "a first run that read nothing, ticked",
        _first_run_with_no_figure,
        "First ground run was written as done on 12 Nov 2026, 09:30, before the run ended",
    ),
    *(
        Case(
            f"{check} before the engine was started",
            _read_before_the_start(check),
            "it was written before the engine was started",
        )
        for check in ("drop_left", "static", "oil_run", "idle")
    ),
    Case(
        "looked at for leaks before the start",
        _looked_at_before_the_start,
        "Oil leak at run 1 is open",
    ),
    Case(
        "stopped at the propeller and never carried on",
        lambda job: job.add("stopped", task="H5", where="bolt 4", why="phone") and None,
        "Part-done: Propeller on",
    ),
    Case(
        "stopped at the mount's look and never carried on",
        lambda job: job.add("stopped", task="G5", where="throttle pin", why="phone") and None,
        "what was left at throttle pin",
    ),
    *(
        Case(
            f"annual with no look at the {kind}",
            _without(kind),
            f"does not look at the {kind}, which it asks for (14 CFR 43, appendix D",
        )
        for kind in ("mount", "magneto")
    ),
    Case("annual with no look at the controls", _nothing_of_it("control"), "the control"),
    Case("annual with no look at the exhaust", _nothing_of_it("exhaust"), "the exhaust"),
]
