"""What several commands are given: how a job is named, opened and judged."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any

from cyclopts import Parameter

from rehang.trade.job.judging import JudgedJob
from rehang.trade.terms.errors import BadInput

__all__ = ["Flag", "Judged", "Moment", "Store", "job_reader", "width", "wrapped"]

Judge = Callable[[Path, str], JudgedJob]
# A job as of what was written; as it stands where nothing was written.
Judged = Callable[[str, str], JudgedJob]
Store = Callable[[], tuple[Any, Any]]
# A moment out of what was written, in a zone; now where nothing was written.
Moment = Callable[[str, str], datetime]
Flag = Annotated[bool, Parameter(negative="")]


def job_reader(judge_folder: Judge, store: Store, moment: Moment) -> Judged:
    """Judges what a command names: a job folder, or a job in the book, as of a moment."""

    def judged(what: str, now: str) -> JudgedJob:
        if Path(what).exists():
            return judge_folder(Path(what), now)
        if "/" in what or "\\" in what:
            raise BadInput(f"There is no folder {what} here.")
        _, queries = store()
        job = queries.job(what)
        at = moment(now, queries.facts(job).timezone_name) if now else None
        found: JudgedJob = queries.judged(job, now=at)
        return found

    return judged


def width() -> int:
    """Columns to fill: the terminal's, 60 to 100; 80 where nobody says, as in a pipe."""
    return max(60, min(100, shutil.get_terminal_size((80, 24)).columns))


def wrapped(text: str, indent: str = "", first: str = "") -> list[str]:
    """A text in lines of that width, ``first`` before the first and ``indent`` before the others."""
    return textwrap.wrap(text, width(), initial_indent=first, subsequent_indent=indent)
