"""What a task reads and nothing judges: said with the way to the limit, so that read is not taken for passed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rehang.trade.job.judging import JudgedJob

__all__ = ["UnjudgedRow", "unjudged_rows"]


@dataclass(frozen=True, slots=True)
class UnjudgedRow:
    """A check that was read and that nothing judges, at how many items."""

    kind: str
    check: str
    label: str
    number: int


def unjudged_rows(judged: JudgedJob, task_id: str) -> tuple[UnjudgedRow, ...]:
    """Of what a task reads: each check that is NOT JUDGED, with at how many."""
    return tuple(_rows(judged, task_id))


def _rows(judged: JudgedJob, task_id: str) -> Iterator[UnjudgedRow]:
    for kind, check in judged.facts.tasks[task_id].answers:
        calls = [
            call
            for one in judged.items
            if one.kind == kind and not one.state.replaced_by
            for call in one.calls
            if (call.check, call.call) == (check, "NOT JUDGED") and call.entry is not None
        ]
        if calls:
            yield UnjudgedRow(kind, check, calls[0].label, len(calls))
