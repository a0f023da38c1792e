"""A job that a test writes line by line, a minute apart, and judges by its files."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from rehang.sheets.folder import parse_book, parse_files
from rehang.trade.job.judging import JudgedJob, judge


class WrittenJob:
    """``name`` stands before the number in each entry's id and names the job in sentences."""

    def __init__(self, name: str, files: Mapping[str, str], began: datetime) -> None:
        self.name, self.began = name, began
        self.files = dict(files)
        self.entries: list[dict[str, Any]] = []

    def write(self, kind: str, *, by: str = "marta", **data: Any) -> dict[str, Any]:
        at = self.began + timedelta(minutes=len(self.entries))
        told = {key: value for key, value in data.items() if value != ""}
        number = f"{self.name}-{len(self.entries):03}"
        entry = {"id": number, "kind": kind, "at": at.isoformat(), "by": by, **told}
        self.entries.append(entry)
        return entry

    def lines(self) -> list[str]:
        """The book as it is kept."""
        return [json.dumps(one) for one in self.entries]

    def judged(self) -> JudgedJob:
        facts = parse_files(self.files, self.name)
        entries, where = parse_book("".join(f"{one}\n" for one in self.lines()), facts.people)
        return judge(facts, entries, where=where)

    def reasons(self) -> list[str]:
        return [f"{one.sentence} {one.way_out}" for one in self.judged().blockers]
