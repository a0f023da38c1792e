"""The finished demo, changed by one thing: what the book then says, or refuses with."""

from __future__ import annotations

import functools
import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from rehang.sheets import demo_path
from rehang.sheets.folder import parse_book, parse_files, read_folder
from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.terms.entries import SEAL_FIELDS
from rehang.trade.terms.errors import Refused

__all__ = ["TODAY", "Case", "Finished"]

TODAY = date(2026, 11, 12)
Change = Callable[["Finished"], None]


@functools.cache
def _as_shipped() -> tuple[dict[str, str], tuple[str, ...]]:
    folder = read_folder(demo_path("finished"))
    lines = []
    for entry in folder.entries:
        whole = json.loads(entry.line())
        lines.append(json.dumps({k: v for k, v in whole.items() if k not in SEAL_FIELDS}))
    return dict(folder.files), tuple(lines)


class Finished:
    """The finished demo's files and entries, free to be changed; every entry is a plain dict."""

    def __init__(self) -> None:
        files, lines = _as_shipped()
        self.files = dict(files)
        self.entries: list[dict[str, Any]] = [json.loads(line) for line in lines]
        self._written = 0

    def of(self, kind: str, **fields: Any) -> list[dict[str, Any]]:
        """The entries of a kind with those fields, in the order of the book; at least one."""
        found = [
            one
            for one in self.entries
            if one["kind"] == kind and all(one.get(k) == v for k, v in fields.items())
        ]
        assert found, f"the finished demo has no {kind} with {fields}"
        return found

    def last(self, kind: str, **fields: Any) -> dict[str, Any]:
        """The last such entry."""
        return self.of(kind, **fields)[-1]

    def without(self, kind: str, **fields: Any) -> None:
        """Take such entries out, as if they had never been written."""
        gone = {one["id"] for one in self.of(kind, **fields)}
        self.entries = [one for one in self.entries if one["id"] not in gone]

    def add(
        self,
        kind: str,
        *,
        by: str = "marta",
        after: dict[str, Any] | None = None,
        minutes: float = 1,
        **data: Any,
    ) -> dict[str, Any]:
        """Write an entry behind another, or at the end of the book; its time follows from that."""
        place = self.entries.index(after) + 1 if after is not None else len(self.entries)
        before = self.entries[place - 1]
        at = datetime.fromisoformat(before["at"]) + timedelta(minutes=minutes)
        self._written += 1
        new = {
            "id": f"unsafe-{self._written}",
            "kind": kind,
            "at": data.pop("at", at.isoformat()),
            "by": by,
            **data,
        }
        self.entries.insert(place, new)
        return new

    def again(self, entry: dict[str, Any], **changed: Any) -> dict[str, Any]:
        """Write an entry once more at the end of the book, some of its fields changed."""
        same = {k: v for k, v in entry.items() if k not in ("id", "at", "kind", "by")}
        return self.add(entry["kind"], by=entry["by"], **(same | changed))

    def run_again(self) -> None:
        """A third run, as good as the second, and the annual after it."""
        began, ended = self.last("run_began", run="2"), self.last("run_ended", run="2")
        for one in self.entries[self.entries.index(began) : self.entries.index(ended) + 1]:
            changed: dict[str, Any] = {}
            if "run" in one:
                changed["run"] = "3"
            if one.get("item") == "run:2":
                changed["item"] = "run:3"
            if one is ended:
                changed["engine_hours"] = 925.9
            self.again(one, **changed)
        annual = self.last("complied", recurring="annual")
        self.entries.remove(annual)
        self.again(annual)

    def replace(self, file: str, old: str, new: str, count: int = 1) -> None:
        """Change the text of one of the files."""
        assert old in self.files[file], f"{file} has no {old!r}"
        self.files[file] = self.files[file].replace(old, new, count)

    def judged(self) -> JudgedJob:
        """The changed job, judged."""
        facts = parse_files(self.files, "unsafe")
        text = "".join(f"{json.dumps(one)}\n" for one in self.entries)
        entries, where = parse_book(text, facts.people)
        return judge(facts, entries, where=where, today=TODAY)

    def reasons(self) -> list[str]:
        """Why it may not be returned to service: each blocker, or the sentence it is refused with."""
        try:
            return [f"{one.sentence} {one.way_out}" for one in self.judged().blockers]
        except Refused as refusal:
            return [str(refusal)]


@dataclass(frozen=True)
class Case:
    """One unsafe change by name, and words that the book has to say of it."""

    name: str
    change: Change
    says: str
