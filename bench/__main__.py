"""``make bench``: every measurement, one after another, in one run."""

from __future__ import annotations

import importlib
import platform
import sys

PARTS = (
    "judging",
    "meters",
    "leaks",
    "check",
    "storage",
    "wear",
    "forecasts",
    "plan",
    "life",
    "door",
    "flights",
)


def main() -> None:
    print(f"Python {platform.python_version()}, {platform.system()} {platform.machine()}")
    for name in PARTS:
        print()
        print("\n".join(importlib.import_module(f"bench.{name}").run()), flush=True)


if __name__ == "__main__":
    sys.exit(main())
