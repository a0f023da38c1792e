"""Reads an instance of the project scheduling problem library as it was published.

The files in ``data/psplib`` are kept verbatim: single mode, renewable resources, durations
without unit. R. Kolisch and A. Sprecher, "PSPLIB - A project scheduling problem library",
European Journal of Operational Research 96, 1996, 205-216.
"""

from __future__ import annotations

import re
from pathlib import Path

from rehang.calc.schedule import Activity, Need, Project, Resource

FOLDER = Path(__file__).with_name("data") / "psplib"


def numbers_below(text: str, heading: str) -> list[list[int]]:
    """Lines of whole numbers after a heading, up to the next line of stars."""
    part = text.split(heading, 1)[1].split("\n****", 1)[0]
    lines = [line.split() for line in part.splitlines()]
    return [[int(w) for w in line] for line in lines if line and all(w.isdigit() for w in line)]


def instance(name: str) -> Project:
    """Jobs are named by their numbers; the first and the last have no duration."""
    text = (FOLDER / f"{name}.sm").read_text(encoding="ascii")
    successors = {
        job: following for job, _, _, *following in numbers_below(text, "PRECEDENCE RELATIONS:")
    }
    amounts = {
        job: (duration, demand)
        for job, _, duration, *demand in numbers_below(text, "REQUESTS/DURATIONS:")
    }
    (capacities,) = numbers_below(text, "RESOURCEAVAILABILITIES:")
    names = [f"R{k}" for k in range(1, len(capacities) + 1)]
    expected = int(re.search(r"jobs \(incl\. supersource/sink \):\s+(\d+)", text)[1])
    assert len(successors) == len(amounts) == expected
    return Project(
        activities={
            str(job): Activity(
                duration,
                needs=tuple(Need(str(j)) for j, after in successors.items() if job in after),
                resources={k: n for k, n in zip(names, demand, strict=True) if n},
            )
            for job, (duration, demand) in amounts.items()
        },
        resources={k: Resource(n) for k, n in zip(names, capacities, strict=True)},
    )
