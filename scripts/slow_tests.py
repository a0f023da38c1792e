"""Writes tests/slow.txt, the tests that `make quick` leaves out, from what they took in a whole run.

make test ARGS="--durations=0 -vv" | tee LOG; scripts/slow_tests.py LOG
"""

from __future__ import annotations

import re
import sys
from collections import defaultdict
from pathlib import Path

# A test that takes longer waits for a process, a store or a simulation, and not for what it tries.
SLOW_S = 0.12
LINE = re.compile(r"([\d.]+)s (?:call|setup|teardown)\s+(\S+?::[^\s\[]+)")
HEAD = """\
# Tests that took more than {limit} s each, one function a line: `make quick` leaves them out.
# Written by scripts/slow_tests.py.
"""


def main() -> None:
    taken: dict[str, float] = defaultdict(float)
    many: dict[str, set[str]] = defaultdict(set)
    for line in Path(sys.argv[1]).read_text("utf-8").splitlines():
        if found := LINE.match(line.strip()):
            taken[found[2]] += float(found[1])
            many[found[2]].add(line.split()[-1])
    slow = sorted(
        name
        for name, seconds in taken.items()
        if seconds / len(many[name]) > SLOW_S and "/browser/" not in name
    )
    place = Path(__file__).resolve().parents[1] / "tests" / "slow.txt"
    place.write_text(HEAD.format(limit=SLOW_S) + "".join(f"{one}\n" for one in slow), "utf-8")
    print(f"{len(slow)} tests in {place.name}")


if __name__ == "__main__":
    main()
