"""What several commands are given: how a job is named, opened and judged."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any

from cyclopts import Parameter

from rehang.trade.job.judging import JudgedJob

__all__ = ["WIDTH", "Flag", "Judge", "Moment", "Store", "job_reader"]

WIDTH = 100
Judge = Callable[[Path, str], JudgedJob]
Store = Callable[[], tuple[Any, Any]]
# A moment out of what was written, in a zone; now where nothing was written.
Moment = Callable[[str, str], datetime]
Flag = Annotated[bool, Parameter(negative="")]


def job_reader(
    judge_folder: Judge, store: Store, moment: Moment
) -> Callable[[str, str], JudgedJob]:
    """Judges what a command names: a job folder, or a job in the book, as of a moment."""

    def judged(what: str, now: str) -> JudgedJob:
        if Path(what).is_dir():
            return judge_folder(Path(what), now)
        _, queries = store()
        job = queries.job(what)
        at = moment(now, queries.facts(job).timezone_name) if now else None
        found: JudgedJob = queries.judged(job, now=at)
        return found

    return judged
