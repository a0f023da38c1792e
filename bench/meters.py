"""What every kind of meter says of a limit: our probability beside a count of 1,000,000 samples.

Run with ``python -m bench.meters``. The samples are drawn from what the meter states, one error
after another (JCGM 101:2008, 5.2 and 6.4): a plus or minus is a rectangle, a last digit a
rectangle one digit wide, U with k and a repeatability are normal, an analog ohmmeter's accuracy
is a rectangle on its arc. Nothing of ours is in them but the numbers of the meter.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rehang.trade.facts.meters import band_of, change_band, meter_from

SAMPLES = 1_000_000
SEED = 106
Draws = NDArray[np.float64]
Draw = Callable[[np.random.Generator, float], Draws]


@dataclass(frozen=True)
class Sampled:
    """A meter, a reading on it, a limit and how its true values are drawn, all in base steps."""

    name: str
    raw: dict[str, Any]
    value: float
    lower: float | None
    upper: float | None
    draw: Draw
    change: bool = False

    def ours(self) -> float:
        meter = meter_from({"id": "M", **self.raw})
        band = change_band(meter, self.value) if self.change else band_of(meter, self.value)
        lower, upper = (None if end is None else int(end) for end in (self.lower, self.upper))
        return band.p_inside(lower, upper)

    def counted(self, samples: int = SAMPLES) -> tuple[float, float]:
        """The share of samples inside, and the standard error of that share."""
        true = self.draw(np.random.default_rng(SEED), self.value)[:samples]
        low = -inf if self.lower is None else self.lower
        high = inf if self.upper is None else self.upper
        share = float(np.mean((true >= low) & (true <= high)))
        return share, sqrt(max(share * (1 - share), 1 / true.size) / true.size)


def parts(a: float = 0.0, d: float = 0.0, u: float = 0.0) -> Draw:
    """A value with a plus or minus ``a``, a last digit ``d`` and a normal part ``u``."""

    def draw(chance: np.random.Generator, value: float) -> Draws:
        return np.asarray(
            value
            + chance.uniform(-a, a, SAMPLES)
            + chance.uniform(-d / 2, d / 2, SAMPLES)
            + chance.normal(0.0, u, SAMPLES)
        )

    return draw


def twice(d: float, u: float) -> Draw:
    """A difference of two readings on one meter: its own error cancels, the rest comes twice."""

    def draw(chance: np.random.Generator, value: float) -> Draws:
        one, other = parts(d=d, u=u), parts(d=d, u=u)
        return np.asarray(value + one(chance, 0.0) - other(chance, 0.0))

    return draw


def needle(mid: float, arc: float, d: float = 0.0, u: float = 0.0) -> Draw:
    """A needle somewhere on its stretch of arc, and on the scale; read as finely as it is."""

    def draw(chance: np.random.Generator, value: float) -> Draws:
        f = 1 / (1 + value / mid)
        slope = f**2 / mid
        place = f + chance.uniform(-arc, arc, SAMPLES) + slope * parts(d=d, u=u)(chance, 0.0)
        place = place[(place > 0) & (place <= 1)]
        return np.asarray(mid * (1 / place - 1))

    return draw


def between(low: float, high: float, d: float = 0.0, u: float = 0.0) -> Draw:
    """Wires that go and do not go: anywhere between, and as much further as they are read."""

    def draw(chance: np.random.Generator, value: float) -> Draws:
        del value
        return np.asarray(chance.uniform(low, high, SAMPLES) + parts(d=d, u=u)(chance, 0.0))

    return draw


_OHM = {"quantity": "resistance"}
_PSI = {"quantity": "pressure"}
_DIGITAL = {
    **_OHM,
    "kind": "digital",
    "range": [
        {"name": "20k", "top": "20 kohm", "percent_of_reading": 0.8, "counts": 2, "count": "10 ohm"}
    ],
}
_NEEDLE = {
    **_OHM,
    "kind": "analog ohmmeter",
    "percent_of_arc": 3,
    "range": [{"name": "x100", "mid_scale": "2 kohm"}],
}
_DIAL = {**_PSI, "kind": "dial", "full_scale": "160 psi", "percent_of_full_scale": 1.25}
_FLAT = {**_PSI, "kind": "plus or minus", "accuracy": "2 psi"}
_PAPER = {**_OHM, "kind": "certificate", "expanded": "40 ohm", "coverage": 2}
_WIRES = {"kind": "wires", "quantity": "length", "step": "0.001 in"}


def _more(raw: dict[str, Any], **words: str) -> dict[str, Any]:
    return {**raw, **words}


CASES = (
    Sampled("digital", _DIGITAL, 4980, None, 5000, parts(59.84, 10)),
    Sampled(
        "digital, repeatability", _more(_DIGITAL, repeatability="30 ohm"), 4980, None, 5000,
        parts(59.84, 10, 30),
    ),
    Sampled("analog ohmmeter", _NEEDLE, 4800, None, 5000, needle(2000, 0.03)),
    Sampled(
        "analog ohmmeter, both", _more(_NEEDLE, resolution="400 ohm", repeatability="300 ohm"),
        4800, None, 5000, needle(2000, 0.03, 400, 300),
    ),
    Sampled("dial", _DIAL, 61, 60, None, parts(2)),
    Sampled("dial, resolution", _more(_DIAL, resolution="2 psi"), 61, 60, None, parts(2, 2)),
    Sampled("dial, repeatability", _more(_DIAL, repeatability="2 psi"), 62, 60, None, parts(2, 0, 2)),
    Sampled(
        "dial, both", _more(_DIAL, resolution="2 psi", repeatability="1 psi"), 62, 60, None,
        parts(2, 2, 1),
    ),
    Sampled("plus or minus", _FLAT, 61, 60, None, parts(2)),
    Sampled(
        "plus or minus, resolution", _more(_FLAT, resolution="1 psi"), 62, 60, None, parts(2, 1)
    ),
    Sampled(
        "plus or minus, repeatability", _more(_FLAT, repeatability="3 psi"), 62, 60, None,
        parts(2, 0, 3),
    ),
    Sampled(
        "plus or minus, both", _more(_FLAT, resolution="1 psi", repeatability="1 psi"), 62, 60,
        None, parts(2, 1, 1),
    ),
    Sampled("certificate", _PAPER, 4980, None, 5000, parts(0, 0, 20)),
    Sampled(
        "certificate, resolution", _more(_PAPER, resolution="100 ohm"), 4980, None, 5000,
        parts(0, 100, 20),
    ),
    Sampled(
        "certificate, both", _more(_PAPER, resolution="100 ohm", repeatability="50 ohm"), 4980,
        None, 5000, parts(0, 100, sqrt(20**2 + 50**2)),
    ),
    Sampled("wires", _WIRES, 180, 160, 187, between(180, 190)),
    Sampled(
        "wires, repeatability", _more(_WIRES, repeatability="0.0005 in"), 180, 160, 190,
        between(180, 190, 0, 5),
    ),
    Sampled(
        "two reads on one meter", _more(_FLAT, resolution="1 psi", repeatability="1 psi"), 1, 0,
        None, twice(1, 1), change=True,
    ),
)  # fmt: skip


def run() -> list[str]:
    lines = [
        f"p inside the limit, ours and counted in {SAMPLES:,} samples (seed {SEED})",
        f"{'meter':32s}{'reads':>7s}{'limit':>14s}{'ours':>9s}{'counted':>10s}{'apart, SE':>11s}",
    ]
    for case in CASES:
        share, error = case.counted()
        ends = f"{'' if case.lower is None else case.lower}..{'' if case.upper is None else case.upper}"
        lines.append(
            f"{case.name:32s}{case.value:7g}{ends:>14s}{case.ours():9.4f}{share:10.4f}"
            f"{(case.ours() - share) / error:+11.1f}"
        )
    return lines


if __name__ == "__main__":
    print("\n".join(run()))
