"""A million rows of an engine monitor, from the file to the plot: ours beside pandas alone.

Run with ``python -m bench.flights``. Each is a process of its own, started for the one file, and its
seconds and its most memory are those of that process. pandas alone reads the same columns into
numbers and does no more; ours reads them, works everything out and hands the reduced series back.
Of the two libraries that most would reach for, polars is in none of our locks and is not measured.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from rehang.decode.flights import MOST_ROWS, MOST_SENT
from rehang.trade.drawn.chart_values import Sheet
from rehang.trade.drawn.charts import chart_svg
from rehang.trade.drawn.monitor_charts import cylinder_chart
from rehang.trade.terms.kinds.monitor import MonitorRead
from tests.flights import MAPPED, Flight

# A process says its own seconds of the processor and its most memory on its last line.
_TOLD = """
import resource
used = resource.getrusage(resource.RUSAGE_SELF)
print(json.dumps({"s": used.ru_utime + used.ru_stime, "mb": used.ru_maxrss / 1024}))
"""
_PANDAS = """
import json, sys
import pandas as pd
table = pd.read_csv(sys.argv[1], usecols=list(range(12)))
assert len(table) == int(sys.argv[2])
"""
_OURS = """
import json, sys
from pathlib import Path
from rehang.decode.flights import read_flight
made = read_flight("flight.csv", Path(sys.argv[1]).read_bytes(), json.loads(sys.argv[3]))
assert made["rows"] == int(sys.argv[2])
Path(sys.argv[4]).write_text(json.dumps(made))
"""


def _alone(code: str, *arguments: str) -> tuple[float, float, float]:
    """Seconds by the clock, seconds of the processor and most memory of a program, in MB."""
    began = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", code + _TOLD, *arguments],
        capture_output=True,
        check=True,
        text=True,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"},
    )
    said = json.loads(done.stdout.splitlines()[-1])
    return time.perf_counter() - began, said["s"], said["mb"]


def run(rows: int = MOST_ROWS) -> list[str]:
    """The lines of the measurement."""
    flight = Flight(seconds=rows, odd=("3", rows // 2, 600, -90.0))
    with TemporaryDirectory() as folder:
        plain, packed, answer = (Path(folder, one) for one in ("f.csv", "f.csv.gz", "a.json"))
        plain.write_bytes(flight.data)
        packed.write_bytes(flight.packed)
        found = [
            f"Monitor: {rows:,} rows of 12 columns, {plain.stat().st_size / 1e6:.0f} MB, packed "
            f"{packed.stat().st_size / 1e6:.1f} MB (the page takes {MOST_SENT / 1e6:.0f}).",
        ]
        said = json.dumps(MAPPED)
        for name, measured in (
            ("pandas alone", _alone(_PANDAS, str(plain), str(rows))),
            ("ours", _alone(_OURS, str(plain), str(rows), said, str(answer))),
            ("ours, packed", _alone(_OURS, str(packed), str(rows), said, str(answer))),
        ):
            clock, processor, memory = measured
            found.append(
                f"  {name}: {clock:.1f} s by the clock, {processor:.1f} s of the processor, "
                f"{memory:.0f} MB at most"
            )
        made = json.loads(answer.read_text())
        told = MonitorRead(of="bench", file="f.csv", **made, **MAPPED)
        began = time.perf_counter()
        chart = cylinder_chart(told, "exhaust", "3")
        assert chart is not None
        drawn = chart_svg(chart, Sheet(342, 176, 18, "page"))
        found.append(
            f"  the plot of one cylinder: {(time.perf_counter() - began) * 1000:.0f} ms, "
            f"{len(drawn) / 1000:.0f} kB; what the book keeps: {len(json.dumps(made)) / 1000:.0f} kB"
        )
    return found


if __name__ == "__main__":
    print("\n".join(run()))
