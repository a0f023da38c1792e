"""What forecast intervals and warnings are worth, counted on simulated shops."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, log, sqrt
from typing import Literal

import numpy as np

from rehang.calc import _inputs as check
from rehang.calc.errors import OutOfRange
from rehang.calc.wear import (
    Direction,
    Fleet,
    Forecast,
    Growth,
    Scale,
    apart,
    fit,
    fleet,
    jump,
    meter_difference,
)

Of = Literal["reading", "value"]


@dataclass(frozen=True, slots=True)
class Shops:
    """What simulated shops are like. A part grows by 1 per 100 h on average."""

    parts: int = 8
    openings: tuple[int, int] = (3, 5)  # fewest and most, before the one that is forecast
    rate_sd: float = 0.4  # between parts [1/100 h]
    residual_sd: float = 0.15  # how far values stray beyond the meter [1]
    meter_sd: float = 0.1  # known to the fit [1]
    quickening_sd: float = 0.0  # how far rates come to differ per 100 h [1/100 h]
    wander_sd: float = 0.0  # of a random walk, over 100 h [1]
    bias: float = 0.0  # what the meter is good to; its own error is anywhere within it [1]
    anchored: bool = False  # whether the value of a new part is known
    uneven: bool = False  # whether openings are 20 h to 250 h apart, and not 70 h to 130 h
    skewed: bool = False  # whether rates are lognormal, and not normal
    resets: bool = False  # whether each part is set anew and read again at each opening
    scale: Scale = "linear"  # on a log scale values are the exponentials
    direction: Direction = "either"  # with one, rates are drawn again until all go that way
    quickening: bool = False
    engines: int = 1  # of the shop; each is lent to by the others
    # How far several engines differ in how fast they wear and, apart from that, in how far values
    # stray and wander: standard deviation of the logarithm [-]
    engine_sd: float = 0.2


@dataclass(frozen=True, slots=True)
class Coverage:
    """How many simulated readings lay inside the intervals that had been forecast for them."""

    shops: int
    forecasts: int
    inside: int
    share: float  # [-]
    share_sd: float  # of the share, from shop to shop [-]


def coverage(
    rng: np.random.Generator,
    shops: int,
    like: Shops | None = None,
    *,
    level: float = 0.9,
    of: Of = "reading",
) -> Coverage:
    """Share of simulated next readings, or values, that lie inside their forecast interval.

    Openings are the same for all parts of a shop. Half of the shops have a part that was renewed
    on the way, with fewer readings. Each shop has one meter with an error of its own. Counting;
    the share is judged against the level by its own standard deviation.
    """
    return coverages(rng, shops, like, levels=(level,), of=(of,))[of, level]


def coverages(
    rng: np.random.Generator,
    shops: int,
    like: Shops | None = None,
    *,
    levels: Sequence[float] = (0.8, 0.9),
    of: Sequence[Of] = ("reading", "value"),
) -> dict[tuple[Of, float], Coverage]:
    """Several levels of both, counted in the same shops: see `coverage`.

    Each engine is fitted once to what is before its last opening. Where a shop has several, the
    others lend what all of their own readings say.
    """
    if shops < 2:
        raise OutOfRange(f"A share needs at least two shops: got {shops}.")
    for level in levels:
        if not 0 < level < 1:
            raise OutOfRange(f"The level must be between 0 and 1: got {level:g}.")
    kind = like or Shops()
    asked = [(one, level) for one in of for level in levels]
    shares = np.empty((len(asked), shops))
    for shop in range(shops):
        below: dict[Of, list[float]] = {one: [] for one in of}
        for growth, engine in _fitted(rng, kind):
            for part in engine.last if "reading" in of else ():
                found = _ahead(growth, part, engine.ahead, kind)
                below["reading"].append(found.chance_below(engine.last[part]))
            for part in engine.true if "value" in of else ():
                found = growth.at(part, engine.ahead, strays=False)
                below["value"].append(found.chance_below(engine.true[part]))
        for place, (one, level) in enumerate(asked):
            shares[place, shop] = (2 * np.abs(np.array(below[one]) - 0.5) < level).mean()
    number = kind.engines * kind.parts
    return {
        key: Coverage(
            shops=shops,
            forecasts=shops * number,
            inside=round(float(own.sum()) * number),
            share=float(own.mean()),
            share_sd=float(own.std(ddof=1) / np.sqrt(shops)),
        )
        for key, own in zip(asked, shares, strict=True)
    }


@dataclass(frozen=True, slots=True)
class FalseAlarms:
    """How often each warning came although nothing had happened."""

    shops: int
    stated: float  # [-]
    jumps: float  # share of readings called a jump [-]
    jumps_sd: float  # of the share, from shop to shop [-]
    meters: float  # share of shops in which a meter was called different [-]
    apart: float  # share of shops in which one part was called apart [-]


def false_alarms(
    rng: np.random.Generator, shops: int, like: Shops | None = None, *, false_alarm: float = 0.05
) -> FalseAlarms:
    """How often `jump`, `meter_difference` and `apart` warn on shops where nothing happened.

    Jumps are those of each part's last reading against the fit of all before it. Meters are two
    that are no farther off than `bias`, each part read once by both. Parts that are compared with
    their fellows come from one normal distribution.
    """
    if shops < 2:
        raise OutOfRange(f"A share needs at least two shops: got {shops}.")
    rate = check.between("The rate of false alarms", false_alarm)
    kind = like or Shops()
    spread = float(np.hypot(kind.residual_sd, kind.meter_sd))
    shares = np.empty(shops)
    meters = alone = 0
    for shop in range(shops):
        shares[shop] = np.mean(
            [
                jump(_ahead(growth, part, engine.ahead, kind), value, false_alarm=rate).is_jump
                for growth, engine in _fitted(rng, kind)
                for part, value in engine.last.items()
            ]
        )
        levels = 4.0 + rng.standard_normal(kind.parts)
        read = np.repeat(levels, 2) + spread * rng.standard_normal(2 * kind.parts)
        # Each meter's own error, anywhere within what it is good to.
        read += np.tile(kind.bias * rng.uniform(-1, 1, 2), kind.parts)
        meters += meter_difference(
            np.repeat(np.arange(kind.parts), 2).tolist(),
            [False, True] * kind.parts,
            read,
            allowed=2 * kind.bias,
            false_alarm=rate,
        ).differs
        alone += apart(levels, false_alarm=rate).is_apart
    return FalseAlarms(
        shops=shops,
        stated=rate,
        jumps=float(shares.mean()),
        jumps_sd=float(shares.std(ddof=1) / np.sqrt(shops)),
        meters=meters / shops,
        apart=alone / shops,
    )


def _ahead(growth: Growth, part: str, hours: float, kind: Shops) -> Forecast:
    """Of the next reading on the shop's meter."""
    return growth.at(
        part,
        hours,
        meter_variance=kind.meter_sd**2,
        meter="M",
        shared=kind.bias / sqrt(3),  # anywhere within it: JCGM 100:2008, 4.3.7
    )


def _rate(rng: np.random.Generator, kind: Shops) -> float:
    """Of one part, 1 on average, before its direction."""
    if not kind.skewed:
        return 1.0 + kind.rate_sd * float(rng.standard_normal())
    log_sd = sqrt(log(1 + kind.rate_sd**2))
    return exp(log_sd * float(rng.standard_normal()) - log_sd**2 / 2)


@dataclass(frozen=True, slots=True)
class _Engine:
    """The readings of one engine but the last, hours from there to it, the last and its value."""

    parts: list[str]
    hours: list[float]
    read: list[float]
    anew: list[bool]
    known: list[bool]
    ahead: float
    last: dict[str, float]
    true: dict[str, float]

    def with_last(self) -> _Engine:
        """All readings, as other engines lend them."""
        ends = {
            part: hours + self.ahead for part, hours in zip(self.parts, self.hours, strict=True)
        }
        return replace(
            self,
            parts=[*self.parts, *self.last],
            hours=[*self.hours, *(ends[part] for part in self.last)],
            read=[*self.read, *self.last.values()],
            anew=[*self.anew, *(False for _ in self.last)],
            known=[*self.known, *(False for _ in self.last)],
        )


def _fitted(rng: np.random.Generator, kind: Shops) -> list[tuple[Growth, _Engine]]:
    """The fit of each engine of one shop, with what the others lend it, and the engine."""
    bias = kind.bias * float(rng.uniform(-1, 1)) if kind.bias else 0.0  # the shop has one meter
    engines = [_engine(rng, kind, bias) for _ in range(kind.engines)]
    if kind.engines == 1:
        return [(_fit(engines[0], kind), engines[0])]
    whole = [_fit(one.with_last(), kind) for one in engines]
    return [
        (_fit(one, kind, fleet([*whole[:place], *whole[place + 1 :]])), one)
        for place, one in enumerate(engines)
    ]


def _engine(rng: np.random.Generator, kind: Shops, bias: float) -> _Engine:
    """One engine of a shop whose meter has that error."""
    openings = int(rng.integers(kind.openings[0], kind.openings[1] + 1))
    apart_by = (0.2, 2.5) if kind.uneven else (0.7, 1.3)
    hours = np.cumsum(np.append(0.0, rng.uniform(*apart_by, openings)))
    pace, loose = 1.0, 1.0
    if kind.engines > 1:
        pace, loose = np.exp(kind.engine_sd * rng.standard_normal(2))
    renewed_at = int(rng.integers(1, openings - 1)) if openings > 2 and rng.random() < 0.5 else 0
    way = -1.0 if kind.direction == "down" else 1.0

    def noise() -> float:
        return bias + float(
            np.array([loose * kind.residual_sd, kind.meter_sd]) @ rng.standard_normal(2)
        )

    names: list[str] = []
    when: list[float] = []
    read: list[float] = []
    anew: list[bool] = []
    known: list[bool] = []
    last: dict[str, float] = {}
    true: dict[str, float] = {}
    for number in range(kind.parts):
        name = f"P{number + 1}"
        times = hours[renewed_at if number == 0 else 0 :]
        while True:
            rate = way * pace * _rate(rng, kind)
            gain = kind.quickening_sd * float(rng.standard_normal())
            if kind.direction == "either" or min(rate * way, (rate + gain * hours[-1]) * way) >= 0:
                break
        since = times - times[0]
        grown = rate * since + gain * since**2 / 2
        if kind.wander_sd:
            steps = loose * kind.wander_sd * np.sqrt(np.diff(since, prepend=0.0))
            grown = grown + np.cumsum(steps * rng.standard_normal(len(since)))
        start, set_back = 4.0 + float(rng.standard_normal()), 0.0
        for opening, (time, growth) in enumerate(zip(times[:-1], grown[:-1], strict=True)):
            names.append(name)
            when.append(100 * float(time))
            is_known = kind.anchored and opening == 0
            read.append(start + float(growth) - set_back + (0.0 if is_known else noise()))
            anew.append(False)
            known.append(is_known)
            if kind.resets and opening > 0:
                set_back = float(growth)
                names.append(name)
                when.append(100 * float(time))
                read.append(start + noise())
                anew.append(True)
                known.append(False)
        true[name] = start + float(grown[-1]) - set_back
        last[name] = true[name] + noise()
    if kind.scale == "log":
        read = [exp(value) for value in read]
        last = {name: exp(value) for name, value in last.items()}
        true = {name: exp(value) for name, value in true.items()}
    return _Engine(names, when, read, anew, known, 100 * float(hours[-1] - hours[-2]), last, true)


def _fit(engine: _Engine, kind: Shops, prior: Fleet | None = None) -> Growth:
    by_meter = ~np.array(engine.known)
    # On a log scale what a meter is good to is a share of the value.
    by = np.array(engine.read) if kind.scale == "log" else np.ones(len(by_meter))
    return fit(
        engine.parts,
        engine.hours,
        engine.read,
        by_meter * kind.meter_sd**2 * by**2,
        restarts=engine.anew,
        scale=kind.scale,
        direction=kind.direction,
        quickening=kind.quickening,
        meters=np.where(by_meter, "M", "").tolist(),
        shared=by_meter * kind.bias / sqrt(3) * by,
        wander=True,
        prior=prior,
    )
