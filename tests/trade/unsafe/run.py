"""Runs that prove nothing, and what they accuse."""

from __future__ import annotations

from ..finished import Case, Finished


def _no_drop(job: Finished) -> None:
    job.last("reading", check="drop_left", item="run:2")["written"] = "1700/1700"


CASES = [
    Case("no drop on LEFT at the last run", _no_drop, "No drop on LEFT"),
]
