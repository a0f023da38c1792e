"""Odd things at every door: ``python -m bench.doors --seed 1 --tries 1000000``.

Each door is tried in a process of its own, one after another, and says how many tries it took in
and refused, what crashed, its slowest try and the most memory it held. The same seed makes the
same tries. A door alone: ``python -m bench.doors --door entries --tries 5000``.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from dataclasses import fields

from bench.doors import files, plain, web
from bench.doors.walk import SLOW_S, Door, Tally, walk

# Shares of a million; what costs little is tried most.
DOORS = (
    Door("entries", "JSON entries through the reader and the gate, judged", 300_000, plain.entries),
    Door("lines", "typed lines, readings of a field, times, pencil sheets", 450_000, plain.lines),
    Door("labels", "texts of labels", 220_000, plain.labels),
    Door("facts", "TOML files by key, type and value; books", 6_000, plain.facts),
    Door("csv", "CSV tables, read and planned", 8_000, plain.csv_files),
    Door("xlsx", "workbooks, read and planned", 2_000, files.workbooks),
    Door("photos", "photos", 4_000, files.photos),
    Door("label photos", "photos of labels", 2_000, files.photos_of_labels),
    Door("flights", "tables of an engine monitor, told and drawn", 2_000, files.flights),
    Door("api", "operations of the API by its schema, and pages after", 3_000, web.api),
    Door("queries", "addresses, queries, methods", 3_000, web.queries),
    Door("forms", "forms of every page, and pages after", 2_000, web.forms),
)
MOST_MB = 500


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--tries", type=int, default=20_000, help="in all, or at the one door")
    parser.add_argument("--door", choices=[door.name for door in DOORS])
    parser.add_argument("--json", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    chosen = [door for door in DOORS if asked.door in (None, door.name)]
    if asked.json:
        print(walk(chosen[0], asked.seed, asked.tries, progress=True).as_json())
        return 0
    found = [
        _apart(
            door,
            asked.seed,
            asked.tries if asked.door else max(1, asked.tries * door.share // 10**6),
        )
        for door in chosen
    ]
    for line in _table(found):
        print(line)
    return 1 if any(_is_bad(one) for one in found) else 0


def _apart(door: Door, seed: int, tries: int) -> Tally:
    """The tries at one door in a process of its own, which alone goes down where it does."""
    command = [sys.executable, "-m", "bench.doors", "--json", "--door", door.name]
    done = subprocess.run(
        [*command, "--seed", str(seed), "--tries", str(tries)],
        stdout=subprocess.PIPE,
        text=True,
        check=False,
    )
    if done.returncode:
        return Tally(
            door.name, crashes={f"The process ended with {done.returncode}.": (1, f"seed {seed}")}
        )
    said = json.loads(done.stdout.splitlines()[-1])
    return Tally(**{one.name: said[one.name] for one in fields(Tally)})


def _is_bad(one: Tally) -> bool:
    return bool(one.crashes) or one.slowest_s > SLOW_S or one.peak_mb > MOST_MB


def _table(found: list[Tally]) -> list[str]:
    head = f"{'door':13}{'tries':>10}{'taken':>9}{'refused':>9}{'crashes':>9}{'slowest s':>11}{'worked s':>10}{'peak MB':>9}{'s':>7}"
    lines = [head]
    for one in found:
        crashes = sum(number for number, _ in one.crashes.values())
        lines.append(
            f"{one.door:13}{one.tries:>10,}{one.taken:>9,}{one.refused:>9,}{crashes:>9,}"
            f"{one.slowest_s:>11.2f}{one.worked_s:>10.2f}{one.peak_mb:>9.0f}{one.seconds:>7.0f}"
        )
    lines.append(f"{'in all':13}{sum(one.tries for one in found):>10,}")
    for one in found:
        for place, (number, first) in one.crashes.items():
            lines += ["", f"{one.door}: {number} times {place}", f"  first: {first}"]
        if one.slowest_s > SLOW_S:
            lines += ["", f"{one.door}: slowest: {one.slowest}"]
    return lines


if __name__ == "__main__":
    sys.exit(main())
