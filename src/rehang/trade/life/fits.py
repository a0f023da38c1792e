"""How each measured check wears over the parts of a job: the readings as the model takes them.

The trend of a part is fitted with those of its fellows (see :mod:`rehang.calc.wear`), so a part with
two readings borrows what it lacks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from math import log

from rehang.calc import leakage, wear
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import item_kind
from rehang.trade.life.check_series import series_of
from rehang.trade.life.history import items_of
from rehang.trade.life.story_values import Point, Series
from rehang.trade.telling.sentences import item_as_said
from rehang.trade.terms.conversions import PSI
from rehang.trade.terms.errors import BadInput, CoreError
from rehang.trade.terms.wording import on_day

__all__ = [
    "Key",
    "LastRead",
    "Lender",
    "SetFit",
    "as_read",
    "bounds_of",
    "by_meter",
    "fit_of",
    "foretold",
    "is_electrode",
    "is_leak",
    "set_fits",
    "value_of",
]

# A quickening trend is taken when it foretold the last opening better by this much: three to one
# in likelihood, "positive" evidence on the scale of Kass and Raftery 1995, table in section 3.2
# (from memory).
_BETTER = log(3)
# No one reading may decide which trend fits: odds of a thousand to one against are enough.
_LEAST_CHANCE = 1e-3
# A new plug has all of its electrode, by what "per cent left" means.
_WHOLE = 1000.0

Key = tuple[str, str]


@dataclass(frozen=True, slots=True)
class LastRead:
    """What a part was read at its last opening, on the model's scale of values.

    ``shared`` is the standard deviation that its meter's own error gives it.
    """

    hours_ahead: float
    value: float
    variance: float
    meter: str
    shared: float


@dataclass(frozen=True, slots=True)
class SetFit:
    """The wear of one check over the parts of one job, fitted together.

    ``left_out`` says of a part why it is not in the fit; ``why`` why there is no fit at all.
    ``lent`` is how many other engines lend what they say of rates and of how readings stray.
    ``before`` is the fit without the last opening of each part that has two before it, and ``last``
    what was read then.
    """

    kind: str
    check: str
    growth: wear.Growth | None
    quickening: bool
    series: Mapping[str, Series]
    left_out: Mapping[str, str]
    why: str = ""
    lent: int = 0
    before: wear.Growth | None = None
    last: Mapping[str, LastRead] = field(default_factory=dict)


# The fits


def set_fits(
    judged: JudgedJob,
    others: Sequence[JudgedJob] = (),
    *,
    fleet: Sequence[JudgedJob | Lender] = (),
    until: date | None = None,
) -> dict[Key, SetFit]:
    """How each measured check wears over the parts of a job.

    Parameters
    ----------
    judged
        The job.
    others
        Other jobs of the shop: what they say of the same parts is counted.
    fleet
        Jobs of other engines, one of each: what they say of rates and of how readings stray is lent
        to this one. A `Lender` that lends to several is fitted once.
    until
        Readings after this day are left out; not those of a `Lender`, which has its own day.
    """
    lenders = [one if isinstance(one, Lender) else Lender(one, until) for one in fleet]
    return {key: fit_of(parts, lenders) for key, parts in _sets(judged, others, until).items()}


class Lender:
    """What the sets of one engine lend to others, each worked out once and kept.

    Threads may share one: at worst a fit is worked out twice, to the same end.
    """

    def __init__(self, judged: JudgedJob, until: date | None = None) -> None:
        self._sets = _sets(judged, (), until)
        self._growths: dict[tuple[Key, wear.Scale, wear.Direction, bool], wear.Growth | None] = {}

    def growth(self, like: Series, quickening: bool) -> wear.Growth | None:
        """How the same check wears here; None where no reading says so."""
        key = item_kind(like.item), like.check
        asked = key, like.way.scale, like.way.direction, quickening
        if asked not in self._growths:
            rows, _ = _all_rows(self._sets[key]) if key in self._sets else ([], {})
            found = _grown(rows, *asked[1:]) if rows else None
            self._growths[asked] = found if found is not None and found.known else None
        return self._growths[asked]


def _sets(
    judged: JudgedJob, others: Sequence[JudgedJob], until: date | None
) -> dict[Key, dict[str, Series]]:
    """The series of a job by check, then by item."""
    held = [*others, judged]
    found: dict[Key, dict[str, Series]] = {}
    for item in items_of(judged):
        for one in series_of(held, item, judged.facts.job):
            cut = _until(one, until)
            if any(p.counts or p.opened for p in cut.points):
                found.setdefault((item_kind(item), one.check), {})[item] = cut
    return found


def _until(series: Series, until: date | None) -> Series:
    if until is None:
        return series
    return replace(series, points=tuple(p for p in series.points if p.on <= until))


@dataclass(frozen=True, slots=True)
class _Row:
    """One reading as the fit takes it.

    The accuracy of a meter is in all of its readings alike: ``shared`` is its standard deviation,
    and ``variance`` what is left (JCGM 100:2008, 3.3.3 and 4.2.2).
    """

    part: str
    hours: float
    value: float
    variance: float
    meter: str
    shared: float
    restart: bool


def fit_of(parts: Mapping[str, Series], fleet: Sequence[Lender] = ()) -> SetFit:
    """The wear of one check over the parts of one set, by item, with what other engines lend."""
    first = next(iter(parts.values()))
    rows, left_out = _all_rows(parts)
    blank = SetFit(item_kind(first.item), first.check, None, False, parts, left_out)
    if not rows:
        why = next(iter(left_out.values()), "There is no reading with hours to go by.")
        return replace(blank, why=why)
    scale, direction = first.way.scale, first.way.direction
    try:
        quickening = _quickens(rows, scale, direction)
        lent = _lent(first, fleet, quickening)
        growth = _grown(rows, scale, direction, quickening, lent)
        # Two openings before the last one say how fast the part wore.
        kept, last = _split(rows, 3)
        before = _grown(kept, scale, direction, quickening, lent) if last else None
    except CoreError as problem:
        return replace(blank, why=str(problem))
    return replace(
        blank,
        growth=growth,
        quickening=quickening,
        lent=lent.sets if lent is not None else 0,
        before=before,
        last=last,
    )


def _all_rows(parts: Mapping[str, Series]) -> tuple[list[_Row], dict[str, str]]:
    rows: list[_Row] = []
    left_out: dict[str, str] = {}
    for item, series in parts.items():
        try:
            rows += _rows(series)
        except BadInput as problem:
            left_out[item] = problem.sentence
    return rows, left_out


def _lent(like: Series, fleet: Sequence[Lender], quickening: bool) -> wear.Fleet | None:
    """What other engines' sets lend; None where none of them has two openings."""
    found = [one.growth(like, quickening) for one in fleet]
    growths = [one for one in found if one is not None]
    return wear.fleet(growths) if growths else None


def _rows(series: Series) -> list[_Row]:
    """The readings of one part that count, as the fit takes them."""
    found: list[_Row] = []
    name = item_as_said(series.item)
    for point in series.trend:
        if point.hours is None:
            raise BadInput(
                f"The hours of {name} are not on file for {on_day(point.on)}, so its wear cannot "
                "be followed. Write the engine's hours down with the service."
            )
        if found and point.hours < found[-1].hours:
            raise BadInput(
                f"The hours of {name} run backwards: {point.hours:g} h on {on_day(point.on)} stands "
                f"after {found[-1].hours:g} h. Strike the reading that is wrong, or mend its hours."
            )
        value = value_of(series, point)
        if value is None:
            continue
        whole, own = (by_meter(series, point, v) for v in (point.variance, point.scatter))
        restart = point.restart and bool(found)
        shared = max(whole - own, 0.0) ** 0.5
        found.append(_Row(series.item, point.hours, value, own, point.meter, shared, restart))
    if is_electrode(series) and found and found[0].hours > 0:
        # Without a meter and a variance it is known.
        found.insert(0, _Row(series.item, 0.0, _WHOLE, 0.0, "", 0.0, False))
    return found


def is_electrode(series: Series) -> bool:
    """Whether it is a share of what a new part has, on the clock of the part."""
    return (
        series.quantity is not None
        and series.quantity.name == "share"
        and (series.clock == "part" and series.way.direction == "down")
    )


def value_of(series: Series, point: Point) -> float | None:
    """A reading as the model follows it: a compression as a leak; None where it has no place there."""
    assert point.centre is not None
    if not is_leak(series):
        return None if series.way.scale == "log" and point.centre <= 0 else point.centre
    if not point.value or point.supply is None:
        return None
    return _leak(float(point.value), float(point.supply), point.ambient)


def by_meter(series: Series, point: Point, variance: float) -> float:
    """A variance of what was read as one of what the model follows."""
    if not is_leak(series) or not point.value or point.supply is None:
        return variance
    held, fed, u = float(point.value), float(point.supply), variance**0.5
    air = point.ambient
    ratio = _leak(held, fed, air)
    # Both gauges are as good as each other: JCGM 100:2008, 5.1.2, by differences.
    by_held = _leak(max(held - u, 1.0), fed, air) - ratio
    return by_held**2 + (_leak(held, fed + u, air) - ratio) ** 2


def is_leak(series: Series) -> bool:
    return (
        series.quantity is not None
        and any(p.supply for p in series.points)
        and (series.quantity.name == "pressure")
    )


def _leak(held: float, fed: float, ambient: float) -> float:
    """The leak's area over that of the tester's restrictor, in air of that pressure."""
    return float(leakage.leak_area_ratio(fed * PSI, min(held, fed) * PSI, ambient))


def _held(ratio: float, fed: float, ambient: float) -> float:
    found = leakage.reading_from_area_ratio(max(ratio, 0.0), fed * PSI, ambient)
    return float(found) / PSI


def _grown(
    rows: Sequence[_Row],
    scale: wear.Scale,
    direction: wear.Direction,
    quickening: bool,
    prior: wear.Fleet | None = None,
) -> wear.Growth:
    return wear.fit(
        [row.part for row in rows],
        [row.hours for row in rows],
        [row.value for row in rows],
        [row.variance for row in rows],
        restarts=[row.restart for row in rows],
        meters=[row.meter for row in rows],
        shared=[row.shared for row in rows],
        wander=True,
        scale=scale,
        direction=direction,
        quickening=quickening,
        prior=prior,
    )


def _quickens(rows: Sequence[_Row], scale: wear.Scale, direction: wear.Direction) -> bool:
    """Whether a trend that may quicken would have foretold the last opening better.

    Each part's last opening is left out, both trends are fitted to the rest, and the likelihoods
    they gave to what was then read are compared.
    """
    # Three openings besides the last one are the fewest that show a trend bend.
    before, last = _split(rows, 4)
    if not last:
        return False
    plain = _told(_grown(before, scale, direction, False), last)
    quick = _told(_grown(before, scale, direction, True), last)
    return quick > plain + _BETTER


def _split(rows: Sequence[_Row], least: int) -> tuple[list[_Row], dict[str, LastRead]]:
    """All but the last opening of each part with ``least`` openings or more, and what it read."""
    before: list[_Row] = []
    last: dict[str, LastRead] = {}
    by_part: dict[str, list[_Row]] = {}
    for row in rows:
        by_part.setdefault(row.part, []).append(row)
    for part, own in by_part.items():
        times = sorted({row.hours for row in own})
        at_last = [row for row in own if row.hours == times[-1] and not row.restart]
        if len(times) < least or not at_last:
            before += own
            continue
        before += [row for row in own if row.hours < times[-1]]
        read = at_last[0]
        last[part] = LastRead(
            times[-1] - times[-2], read.value, read.variance, read.meter, read.shared
        )
    return before, last


def _told(growth: wear.Growth, last: Mapping[str, LastRead]) -> float:
    """Log likelihood of readings not in the fit."""
    total = 0.0
    for part, read in last.items():
        found = foretold(growth, part, read)
        step = max((read.variance + read.shared**2) ** 0.5, 1e-3 * abs(read.value))
        low, high = read.value - step, read.value + step
        total += log(max(found.chance_below(high) - found.chance_below(low), _LEAST_CHANCE))
    return total


def foretold(growth: wear.Growth, part: str, read: LastRead) -> wear.Forecast:
    """What was to be expected of a reading that is not in the fit, on the meter it was taken with."""
    by = read.value if growth.scale == "log" else 1.0
    return growth.at(
        part,
        read.hours_ahead,
        meter_variance=read.variance / by**2,
        meter=read.meter,
        shared=read.shared / by,
    )


def _tester(series: Series) -> tuple[float, float]:
    """Supply in psi and pressure of the air in pascals that the last reading was taken with."""
    last = next(p for p in reversed(series.points) if p.supply)
    return float(last.supply or 0), last.ambient


def as_read(series: Series, value: float) -> float:
    """From the model's scale to what is read; a share cannot be below nothing."""
    return _held(value, *_tester(series)) if is_leak(series) else max(value, 0.0)


def bounds_of(series: Series) -> tuple[float | None, float | None]:
    """The limits on the model's scale: a floor of pressure is a ceiling of leak."""
    if not is_leak(series):
        return series.lower, series.upper
    return None, _leak(series.lower, *_tester(series)) if series.lower else None
