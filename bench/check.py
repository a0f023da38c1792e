"""How long ``rehang check`` takes on the demo job, as a whole process and judged in one."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.job.judging import judge

RUNS = 7


def _median(action) -> float:
    times = []
    for _ in range(RUNS):
        began = time.perf_counter()
        action()
        times.append(time.perf_counter() - began)
    return statistics.median(times)


def run() -> list[str]:
    """Lines of the report."""
    code = "import sys; from rehang.cli.main import main; main(sys.argv[1:])"
    command = [sys.executable, "-c", code, "check", str(demo_path()), "--json"]
    whole = _median(lambda: subprocess.run(command, check=True, capture_output=True))
    bare = _median(lambda: subprocess.run([sys.executable, "-c", ""], check=True))
    folder = read_folder(demo_path())
    reading = _median(lambda: read_folder(demo_path()))
    judging = _median(lambda: judge(folder.facts, folder.entries))
    return [
        f"rehang check on the demo ({len(folder.entries)} entries), median of {RUNS}",
        f"  whole process              {whole * 1000:8.0f} ms",
        f"  an empty Python process    {bare * 1000:8.0f} ms   ratio {whole / bare:.1f}",
        f"  reading the folder         {reading * 1000:8.1f} ms",
        f"  judging it                 {judging * 1000:8.1f} ms",
    ]


if __name__ == "__main__":
    print("\n".join(run()))
