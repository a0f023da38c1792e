"""A flight of an engine monitor, made up to the second: what is put in has to be found again."""

from __future__ import annotations

import gzip
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

__all__ = ["HEADINGS", "MAPPED", "Flight"]

CYLINDERS = ("1", "2", "3", "4")
HEADINGS = (
    "Elapsed (s)", "RPM", "Oil Press (psi)", "Oil Temp (F)",
    *(f"EGT {one} (F)" for one in CYLINDERS), *(f"CHT {one} (F)" for one in CYLINDERS),
)  # fmt: skip
# What a person confirms of these headings.
MAPPED = {
    "columns": {
        "time": 0, "rpm": 1, "oil_pressure": 2, "oil_temperature": 3,
        **{f"exhaust:{one}": 4 + n for n, one in enumerate(CYLINDERS)},
        **{f"head:{one}": 8 + n for n, one in enumerate(CYLINDERS)},
    },
    "units": {
        "time": "s", "rpm": "rpm", "oil_pressure": "psi", "oil_temperature": "°F",
        **{f"exhaust:{one}": "°F" for one in CYLINDERS}, **{f"head:{one}": "°F" for one in CYLINDERS},
    },
    "decimal": ".",
}  # fmt: skip


@dataclass
class Flight:
    """Fifteen minutes: a run-up with a magneto check each way, then cruise.

    ``odd`` is who goes its own way, from when, for how long, by how much; ``cold`` who does not
    fire with the second magneto off.
    """

    odd: tuple[str, int, int, float] | None = ("3", 500, 60, -90.0)
    cold: str = ""
    seconds: int = 900
    every: int = 1
    headings: tuple[str, ...] = HEADINGS
    cell: Callable[[float, str], str] = lambda value, name: f"{value:g}"
    separator: str = ","
    values: Mapping[str, np.ndarray] = field(init=False)

    CHECKS = ((200, 12), (230, 12))

    def __post_init__(self) -> None:
        t = np.arange(0.0, self.seconds, self.every)
        noise = np.random.default_rng(7)
        rpm = np.where(t < 120, 1000.0, np.where(t < 260, 1800.0, 2400.0))
        egt = {one: np.where(t < 120, 900.0, np.where(t < 260, 1150.0, 1380.0)) + 12.0 * n
               for n, one in enumerate(CYLINDERS)}  # fmt: skip
        for number, (start, length) in enumerate(self.CHECKS):
            off = (t >= start) & (t < start + length)
            rpm = rpm - 80.0 * off
            for one in CYLINDERS:
                fires = not (number == 1 and one == self.cold)
                egt[one] = egt[one] + (45.0 if fires else -200.0) * off
        if self.odd is not None:
            who, start, length, by = self.odd
            egt[who] = egt[who] + by * ((t >= start) & (t < start + length))
        self.values = {
            "time": t,
            "rpm": np.round(rpm + noise.normal(0, 3, t.size)),
            "oil_pressure": np.round(30 + 0.012 * rpm, 1),
            "oil_temperature": np.round(120 + 60 * t / self.seconds),
            **{f"exhaust:{one}": np.round(egt[one] + noise.normal(0, 4, t.size)) for one in CYLINDERS},
            **{f"head:{one}": np.round(200 + 150 * np.minimum(t / 400, 1) + 6 * n)
               for n, one in enumerate(CYLINDERS)},
        }  # fmt: skip

    def lines(self) -> list[str]:
        names = list(self.values)
        rows = zip(*self.values.values(), strict=True)
        return [
            self.separator.join(self.headings),
            *(
                self.separator.join(self.cell(v, n) for v, n in zip(row, names, strict=True))
                for row in rows
            ),
        ]

    @property
    def text(self) -> str:
        return "\n".join(self.lines()) + "\n"

    @property
    def data(self) -> bytes:
        return self.text.encode()

    @property
    def packed(self) -> bytes:
        return gzip.compress(self.data, mtime=0)
