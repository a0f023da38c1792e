"""Every key of a job's TOML files typed wrong by hand, one at a time.

``python -m bench.typed`` puts each of some twenty values at each key of each file, and takes each
key out. A file is then taken, or refused in one sentence that begins with its name and the line.
Whatever else comes of it is a crash; the command prints those and exits 1.
"""

from __future__ import annotations

import copy
import re
import sys
import time
import tomllib
import traceback
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import tomlkit

from rehang.sheets import demo_path
from rehang.sheets.folder import parse_files, read_folder
from rehang.trade.job.judging import judge
from rehang.trade.terms.errors import Refused

TODAY = date(2026, 11, 13)
OUT = object()
VALUES = [
    OUT, "3", "", "banana", "\u00b2", "11/01/2026", "9" * 5_000, 3, -1, 0.5, 10**18, float("inf"), True,
    date(1, 1, 1), datetime(9999, 12, 31, 23, 59), [], [3], ["x"], [[]], [{}], {}, {"a": {"b": 1}},  # noqa: DTZ001 - a TOML time may have no zone
]  # fmt: skip


@dataclass(frozen=True)
class Typed:
    """What came of one value at one key: ``crash`` where it was no sentence with its place."""

    file: str
    path: tuple[str | int, ...]
    value: object
    taken: bool
    crash: str = ""

    def __str__(self) -> str:
        value = "taken out" if self.value is OUT else repr(self.value)[:40]
        return f"{self.file} {'.'.join(map(str, self.path))} = {value}: {self.crash}"


def files_of_a_job() -> tuple[dict[str, str], tuple[Any, ...]]:
    """The finished demo with every file that a job may have of its own, and its book."""
    job = read_folder(demo_path("finished"))
    shipped = demo_path("four").parent
    more = {
        "tasks.toml": shipped / "tasks.toml",
        "run.toml": shipped / "run.toml",
        "torque.toml": shipped / "torque.toml",
        "checks.toml": shipped / "checks" / "plug.toml",
        "layout.toml": shipped / "layouts" / "opposed-4.toml",
    }
    files = dict(job.files) | {name: path.read_text("utf-8") for name, path in more.items()}
    return files, job.entries


def places_of(read: Mapping[str, Any], *, each: bool) -> Iterator[tuple[str | int, ...]]:
    """The keys of a file; with ``each`` those of every table of a list, else each key once."""
    seen: set[tuple[str, ...]] = set()
    for path in _paths(read):
        kind = tuple(str(one) for one in path if isinstance(one, str))
        if path and (each or kind not in seen):
            seen.add(kind)
            yield path


def _paths(given: object, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    yield path
    if isinstance(given, dict):
        for key, value in given.items():
            yield from _paths(value, (*path, key))
    elif isinstance(given, list):
        for number, value in enumerate(given):
            yield from _paths(value, (*path, number))


def typed(
    files: Mapping[str, str], entries: Any, name: str, read: Mapping[str, Any],
    path: tuple[str | int, ...], value: object,
) -> Typed:  # fmt: skip
    """One value at one key, read and judged."""
    changed = copy.deepcopy(dict(read))
    *way, key = path
    table: Any = changed
    for step in way:
        table = table[step]
    if value is OUT:
        del table[key]
    else:
        table[key] = value
    text = tomlkit.dumps(changed)
    try:
        facts = parse_files({**files, name: text})
    except Refused as refusal:
        said = str(refusal)
        # A name that another file uses is missed there.
        placed = re.match(r"[a-z]+\.toml(, line \d+)?: \S", said)
        return Typed(name, path, value, taken=False, crash="" if placed else f"no place: {said}")
    except Exception:  # noqa: BLE001 - what else comes is what is looked for
        return Typed(name, path, value, taken=False, crash=_last_lines())
    try:
        judge(facts, entries, today=TODAY)
    except Refused:
        # The book speaks of what was taken away.
        return Typed(name, path, value, taken=False)
    except Exception:  # noqa: BLE001 - the same
        return Typed(name, path, value, taken=True, crash=_last_lines())
    return Typed(name, path, value, taken=True)


def _last_lines() -> str:
    return " ".join(traceback.format_exc().split("\n")[-5:]).strip()


def all_typed(*, each: bool, every: int = 1, first: int = 0) -> Iterator[Typed]:
    """All of them, or one in ``every`` beginning with the ``first``."""
    files, entries = files_of_a_job()
    number = 0
    for name, text in files.items():
        read = tomllib.loads(text)
        for path in places_of(read, each=each):
            for value in VALUES:
                number += 1
                if number % every == first:
                    yield typed(files, entries, name, read, path, value)


def run(*, each: bool = False) -> list[str]:
    """Lines of the report."""
    began = time.perf_counter()
    tried: Counter[str] = Counter()
    crashes = []
    for one in all_typed(each=each):
        tried["taken" if one.taken else "refused"] += 1
        if one.crash:
            crashes.append(one)
    took = time.perf_counter() - began
    return [
        f"{tried.total():,} values typed wrong in the files of a job, in {took:,.0f} s",
        f"  refused {tried['refused']:,}, taken {tried['taken']:,}, crashed {len(crashes):,}",
        *(f"  {one}" for one in crashes),
    ]


if __name__ == "__main__":
    report = run(each="--each" in sys.argv)
    print("\n".join(report))
    sys.exit(len(report) > 2)
