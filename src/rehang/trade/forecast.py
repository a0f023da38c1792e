"""Whether parts last until the engine is opened again: odds from how each part and its set wore.

Every number rests on what docs/explanation/forecasts.md says it assumes. The trend of a part is
fitted with those of its fellows (see :mod:`rehang.calc.wear`), so a part with two readings borrows
what it lacks. An open circuit or a drop is an end and no number, and has no forecast.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from math import log

from rehang.calc import leakage, wear
from rehang.trade.conversions import PSI, STANDARD_AIR
from rehang.trade.entries import last_day
from rehang.trade.errors import BadInput, CoreError
from rehang.trade.history import OIL, Point, Series, engine_hours, items_of, series_of
from rehang.trade.items import Check
from rehang.trade.judging import JudgedJob
from rehang.trade.limits import Limit, limit_for
from rehang.trade.quantities import show
from rehang.trade.state import item_kind
from rehang.trade.telling import item_as_said
from rehang.trade.wording import on_day

__all__ = [
    "ASSUMED_HOURS",
    "HORIZON",
    "SET_ANEW",
    "FanAt",
    "Forecasts",
    "LastRead",
    "Lender",
    "Opening",
    "Outlook",
    "SetFit",
    "as_read",
    "chance_words",
    "fan_of",
    "fan_words",
    "fit_of",
    "forecasts",
    "meter_variance",
    "next_opening",
    "set_fits",
]

# Where nothing on file says when the engine is opened again: the interval of a 100-hour
# inspection (14 CFR 91.409(b)), taken as an assumption and said.
ASSUMED_HOURS = 100.0
# Nobody plans a part farther ahead than half an overhaul: common practice, no source.
HORIZON = 1000.0
# A quickening trend is taken when it foretold the last opening better by this much: three to one
# in likelihood, "positive" evidence on the scale of Kass and Raftery 1995, table in section 3.2
# (from memory).
_BETTER = log(3)
# No one reading may decide which trend fits: odds of a thousand to one against are enough.
_LEAST_CHANCE = 1e-3
# A new plug has all of its electrode, by what "per cent left" means.
_WHOLE = 1000.0

# Said beside the odds of a check that is put right at each service.
SET_ANEW = "It is set anew at each service: being out then does not end it, and keep or renew leaves it out."

Key = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Opening:
    """How many hours on the engine is opened again, why, and whether that is only assumed."""

    hours: float
    words: str
    assumed: bool


@dataclass(frozen=True, slots=True)
class LastRead:
    """What a part was read at its last opening, on the model's scale of values."""

    hours_ahead: float
    value: float
    variance: float


@dataclass(frozen=True, slots=True)
class SetFit:
    """The wear of one check over the parts of one job, fitted together.

    ``left_out`` says of a part why it is not in the fit; ``why`` why there is no fit at all.
    ``before`` is the fit without the last opening of each part that has two before it, and
    ``last`` what was read then.
    """

    kind: str
    check: str
    growth: wear.Growth | None
    quickening: bool
    series: Mapping[str, Series]
    left_out: Mapping[str, str]
    why: str = ""
    before: wear.Growth | None = None
    last: Mapping[str, LastRead] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Outlook:
    """What one check of one item comes to at the next opening. Amounts in base steps.

    ``standing`` is ``forecast``, ``failed`` (found open), ``ended`` (dropped, or its history is
    not known) or ``unknown`` (too little is known; ``sentence`` says what). ``low80`` and
    ``high80`` hold the true value 80 times in 100. ``chance_inside`` is that of the true value
    being within the limit then; None where there is no limit. ``hours_5`` and ``hours_50`` are
    how many hours from now a value beyond it is that likely in 100; None when not within the
    horizon. ``set_to`` is what it is set to at this service, where the forecast starts from that.
    ``ends_it`` says that it is not set anew at each service, so that its limit ends the part.
    """

    item: str
    check: str
    label: str
    standing: str
    sentence: str
    now: float | None
    now_text: str
    opening: Opening
    hours_ahead: float
    middle: float | None
    low80: float | None
    high80: float | None
    middle_text: str
    span_text: str
    chance_inside: float | None
    hours_5: float | None
    hours_50: float | None
    lower: float | None
    upper: float | None
    limit_words: str
    limit_source: str
    set_to: float | None
    ends_it: bool
    quickening: bool
    assumptions: tuple[str, ...]

    @property
    def chance_out(self) -> float | None:
        return None if self.chance_inside is None else 1.0 - self.chance_inside


@dataclass(frozen=True, slots=True)
class FanAt:
    """The forecast at one time: ``hours`` on the clock of the series, quantiles in base steps."""

    hours: float
    middle: float
    low50: float
    high50: float
    low80: float
    high80: float
    low90: float
    high90: float


@dataclass(frozen=True, slots=True)
class Forecasts:
    """Every outlook of a job, and the fits they were drawn from."""

    opening: Opening
    outlooks: tuple[Outlook, ...]
    fits: Mapping[Key, SetFit]

    def of(self, item: str, check: str = "") -> tuple[Outlook, ...]:
        """The outlooks of an item, or of one check of it."""
        return tuple(one for one in self.outlooks if one.item == item and check in ("", one.check))


# When it is opened again


def next_opening(judged: JudgedJob) -> Opening:
    """Hours to the next opening after this service, by the inspections on file."""
    inspections = [one for one in judged.facts.recurring.values() if one.kind == "inspection"]
    rate, rate_words = _flying_rate(judged)
    found: list[tuple[float, str]] = []
    for one in inspections:
        if one.every_hours is not None:
            found.append((one.every_hours, f"{one.title} each {one.every_hours:g} h"))
        if one.every_months is not None and rate is not None:
            hours = one.every_months / 12 * rate
            found.append((hours, f"{one.title} each {one.every_months} months at {rate_words}"))
    if found:
        hours, words = min(found)
        return Opening(round(hours, 1), words, assumed=False)
    why = "no inspection is on file" if not inspections else "no flying rate is on file"
    return Opening(
        ASSUMED_HOURS,
        f"assumed: {why}, so the 100 h of 14 CFR 91.409(b) are taken",
        assumed=True,
    )


def _flying_rate(judged: JudgedJob) -> tuple[float | None, str]:
    """Hours a year: on file, or as flown since the first service on file."""
    rate = judged.facts.engine.get("flying_hours_per_year")
    if isinstance(rate, (int, float)) and rate > 0:
        return float(rate), f"{rate:g} h a year"
    now = engine_hours(judged)
    then = {
        (last_day(e.service), float(e.engine_hours))
        for item in judged.state.items.values()
        for e in item.earlier
        if e.engine_hours is not None
    }
    on = judged.facts.engine.get("last_run_on")
    if now is None or not then or not isinstance(on, date):
        return None, ""
    first, hours = min(then)
    days = (on - first).days
    # Less than half a year says little of a year.
    if days < 183 or now <= hours:
        return None, ""
    own = (now - hours) / days * 365.25
    return own, f"{own:.0f} h a year, as flown since {on_day(first)}"


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
        Jobs of other engines, one of each: what they say of rates is lent to this one. A `Lender`
        that lends to several is fitted once.
    until
        Readings after this day are left out; not those of a `Lender`, which has its own day.
    """
    lenders = [one if isinstance(one, Lender) else Lender(one, until) for one in fleet]
    return {key: fit_of(parts, lenders) for key, parts in _sets(judged, others, until).items()}


class Lender:
    """What the sets of one engine say of rates to others, each worked out once and kept.

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
    """One reading as the fit takes it."""

    part: str
    hours: float
    value: float
    variance: float
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
        growth = _grown(rows, scale, direction, quickening, _lent(first, fleet, quickening))
        # Two openings before the last one say how fast the part wore.
        kept, last = _split(rows, 3)
        before = _grown(kept, scale, direction, quickening) if last else None
    except CoreError as problem:
        return replace(blank, why=str(problem))
    return replace(blank, growth=growth, quickening=quickening, before=before, last=last)


def _all_rows(parts: Mapping[str, Series]) -> tuple[list[_Row], dict[str, str]]:
    usual = _usual_meter(parts)
    rows: list[_Row] = []
    left_out: dict[str, str] = {}
    for item, series in parts.items():
        try:
            rows += _rows(series, usual)
        except BadInput as problem:
            left_out[item] = problem.sentence
    return rows, left_out


def _usual_meter(parts: Mapping[str, Series]) -> str:
    """The meter that most of the readings of a set were taken with."""
    counts = Counter(point.meter for series in parts.values() for point in series.trend)
    return max(counts, key=lambda meter: (counts[meter], meter), default="")


def _lent(like: Series, fleet: Sequence[Lender], quickening: bool) -> wear.Fleet | None:
    """What other engines' sets say of rates; None where none of them has two openings."""
    found = [one.growth(like, quickening) for one in fleet]
    growths = [one for one in found if one is not None]
    return wear.fleet(growths) if growths else None


def _rows(series: Series, usual: str) -> list[_Row]:
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
        value, variance = _on_model(series, point, usual)
        if value is None:
            continue
        found.append(_Row(series.item, point.hours, value, variance, point.restart and bool(found)))
    if _is_electrode(series) and found and found[0].hours > 0:
        found.insert(0, _Row(series.item, 0.0, _WHOLE, 0.0, False))
    return found


def _is_electrode(series: Series) -> bool:
    """Whether it is a share of what a new part has, on the clock of the part."""
    return (
        series.quantity is not None
        and series.quantity.name == "share"
        and (series.clock == "part" and series.way.direction == "down")
    )


def _on_model(series: Series, point: Point, usual: str) -> tuple[float | None, float]:
    """Value and variance as the model follows them: a compression as a leak.

    The accuracy of the one meter that a set is followed with is in all of its readings alike and
    moves no rate; a reading on any other carries the whole of its own.
    """
    return _value_of(series, point), _by_meter(
        series, point, point.scatter if point.meter == usual else point.variance
    )


def _value_of(series: Series, point: Point) -> float | None:
    assert point.centre is not None
    if not _is_leak(series):
        return None if series.way.scale == "log" and point.centre <= 0 else point.centre
    if not point.value or point.supply is None:
        return None
    return _leak(float(point.value), float(point.supply))


def _by_meter(series: Series, point: Point, variance: float) -> float:
    """A variance of what was read as one of what the model follows."""
    if not _is_leak(series) or not point.value or point.supply is None:
        return variance
    held, fed, u = float(point.value), float(point.supply), variance**0.5
    ratio = _leak(held, fed)
    # Both gauges are as good as each other: JCGM 100:2008, 5.1.2, by differences.
    return (_leak(max(held - u, 1.0), fed) - ratio) ** 2 + (_leak(held, fed + u) - ratio) ** 2


def _shared(series: Series) -> float:
    """What the meter is not good to, in every reading alike: the trend cannot see it, a limit does.

    On the model's scale; of the logarithm on a log scale.
    """
    last = series.trend[-1]
    shared = _by_meter(series, last, last.variance) - _by_meter(series, last, last.scatter)
    if series.way.scale == "log" and last.centre:
        return max(shared, 0.0) / last.centre**2
    return max(shared, 0.0)


def _is_leak(series: Series) -> bool:
    return (
        series.quantity is not None
        and any(p.supply is not None for p in series.points)
        and (series.quantity.name == "pressure")
    )


def _leak(held: float, fed: float) -> float:
    """The leak's area over that of the tester's restrictor."""
    return float(leakage.leak_area_ratio(fed * PSI, min(held, fed) * PSI, STANDARD_AIR))


def _held(ratio: float, fed: float) -> float:
    found = leakage.reading_from_area_ratio(max(ratio, 0.0), fed * PSI, STANDARD_AIR)
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
        last[part] = LastRead(times[-1] - times[-2], at_last[0].value, at_last[0].variance)
    return before, last


def _told(growth: wear.Growth, last: Mapping[str, LastRead]) -> float:
    """Log likelihood of readings not in the fit."""
    total = 0.0
    for part, read in last.items():
        found = growth.at(part, read.hours_ahead, meter_variance=meter_variance(growth, read))
        step = max(read.variance**0.5, 1e-3 * abs(read.value))
        low, high = read.value - step, read.value + step
        total += log(max(found.chance_below(high) - found.chance_below(low), _LEAST_CHANCE))
    return total


def meter_variance(growth: wear.Growth, read: LastRead) -> float:
    """The variance of the meter as a forecast of a reading takes it."""
    return read.variance / read.value**2 if growth.scale == "log" else read.variance


# The outlooks


def forecasts(
    judged: JudgedJob,
    others: Sequence[JudgedJob] = (),
    *,
    fleet: Sequence[JudgedJob | Lender] = (),
    until: date | None = None,
    fits: Mapping[Key, SetFit] | None = None,
) -> Forecasts:
    """Every measured check of every item of a job, at the next opening.

    Parameters
    ----------
    judged, others, fleet, until
        As in :func:`set_fits`.
    fits
        What :func:`set_fits` has found already.
    """
    opening = next_opening(judged)
    if fits is None:
        fits = set_fits(judged, others, fleet=fleet, until=until)
    judged_items = {one.item for one in judged.items} | {OIL}
    outlooks = [
        _outlook(judged, one, series, opening, until)
        for one in fits.values()
        for series in one.series.values()
        if series.item in judged_items
    ]
    order = {item: place for place, item in enumerate(items_of(judged))}
    outlooks.sort(key=lambda one: order[one.item])
    return Forecasts(opening, tuple(outlooks), fits)


@dataclass(frozen=True, slots=True)
class _Start:
    """Where a forecast begins: hours from the last reading to now, and what it is set to now.

    ``done`` says the setting, as in ``re-gapped to 17 thou``.
    """

    since_last: float
    set_to: float | None
    set_variance: float
    said: tuple[str, ...] = field(default=())
    done: str = ""


def _outlook(
    judged: JudgedJob, fit: SetFit, series: Series, opening: Opening, until: date | None
) -> Outlook:
    live = [p for p in series.points if p.counts or p.opened]
    last = live[-1]
    check = _check(judged, series)
    blank = Outlook(
        item=series.item,
        check=series.check,
        label=series.label,
        standing="unknown",
        sentence="",
        now=last.value,
        now_text=last.text,
        opening=opening,
        hours_ahead=opening.hours,
        middle=None,
        low80=None,
        high80=None,
        middle_text="",
        span_text="",
        chance_inside=None,
        hours_5=None,
        hours_50=None,
        lower=series.lower,
        upper=series.upper,
        limit_words=series.limit_words,
        limit_source=series.limit_source,
        set_to=None,
        ends_it=series.item != OIL and _setting(judged, series, check) is None,
        quickening=fit.quickening,
        assumptions=(),
    )
    if series.opened is not None:
        return replace(
            blank,
            standing="failed",
            chance_inside=0.0,
            hours_5=0.0,
            hours_50=0.0,
            sentence=f"{series.label} was found open on {on_day(last.on)}: that is an end, "
            "and no number to carry on from.",
        )
    ended = [
        e for e in judged.state.items[series.item].ended if until is None or e.at.date() <= until
    ]
    if ended:
        return replace(blank, standing="ended", sentence=_ended_words(ended[-1].kind, series))
    name = item_as_said(series.item)
    if series.item in fit.left_out:
        return replace(blank, sentence=fit.left_out[series.item])
    growth = fit.growth
    if growth is None:
        return replace(blank, sentence=fit.why)
    if series.item not in growth.parts:
        return replace(blank, sentence=f"{series.label} of {name} has no number to go by yet.")
    if not growth.known:
        return replace(
            blank,
            sentence=f"{series.label} of {name} was read at one opening only, and so were its "
            "fellows: how fast it wears shows at the next.",
        )
    start = _start(judged, series, last, check, until)
    return _forecast(blank, growth, fit, series, start)


def _check(judged: JudgedJob, series: Series) -> Check | None:
    sheet = judged.facts.sheets.get(item_kind(series.item))
    if sheet is None:
        return None
    return next((check for check in sheet.checks if check.name == series.check), None)


def _ended_words(kind: str, series: Series) -> str:
    name = item_as_said(series.item)
    match kind:
        case "dropped":
            return f"{name} was dropped: what was read before no longer says how it will last."
        case "overheated":
            return f"{name} was overheated: what was read before no longer says how it will last."
    return f"The history of {name} is not known: nothing says how it will last."


def _start(
    judged: JudgedJob, series: Series, last: Point, check: Check | None, until: date | None
) -> _Start:
    """From what it is now, or from what it is set to at this service."""
    since = 0.0
    if until is None and last.hours is not None and last.job == judged.facts.job:
        now = (
            judged.state.items[series.item].hours
            if series.clock == "part"
            else engine_hours(judged)
        )
        since = max(now - last.hours, 0.0) if now is not None else 0.0
    aim = _setting(judged, series, check)
    if aim is None or check is None or check.quantity is None or (last.left and since == 0):
        return _Start(since, None, 0.0)
    kind = item_kind(series.item)
    in_service = [
        one
        for one in judged.facts.limits
        if (one.item, one.check, one.use) == (kind, check.name, "service")
    ]
    if in_service and last.value is not None and _inside(last.value, in_service[-1]):
        said = f"It goes back as found, at {last.text}: there is a limit for service of its own."
        return _Start(since, None, 0.0, (said,))
    # A wire that goes says "this or a little more": the setting is taken as it is checked.
    meter = judged.facts.meters.get(last.meter)
    step = meter.step if meter is not None and meter.kind == "wires" else 0.0
    rework = judged.facts.sheets[kind].reworks.get(check.rework_act)
    done = f"{rework.done if rework else 'set'} to {show(aim, check.quantity)}"
    said = f"It is {done} at this service"
    if not in_service:
        said += ", as there is no limit for service of its own"
    return _Start(0.0, aim + step / 2, step**2 / 12, (f"{said}.",), done)


def _setting(judged: JudgedJob, series: Series, check: Check | None) -> float | None:
    """What a check is set to at each service: the aim on file, or what it was set to before."""
    if check is None or not check.rework_act:
        return None
    limit = limit_for(judged.facts.limits, item_kind(series.item), check.name, "setting")
    if limit is not None and limit.aim is not None:
        return float(limit.aim)
    set_before = [p.value for p in series.trend if p.left and p.value is not None]
    return float(set_before[-1]) if set_before else None


def _inside(value: float, limit: Limit) -> bool:
    return (limit.lower is None or value >= limit.lower) and (
        limit.upper is None or value <= limit.upper
    )


def _forecast(
    blank: Outlook, growth: wear.Growth, fit: SetFit, series: Series, start: _Start
) -> Outlook:
    hours = start.since_last + blank.opening.hours
    found = growth.at(
        series.item,
        hours,
        meter_variance=_shared(series),
        set_to=start.set_to,
        set_variance=start.set_variance,
    )
    low, high = found.interval(0.8)
    shown = [as_read(series, value) for value in (found.median, low, high)]
    middle, ends = shown[0], sorted(shown[1:])
    chance: float | None = None
    hours_5 = hours_50 = None
    lower, upper = _bounds(series)
    if lower is not None or upper is not None:
        below = found.chance_below(upper) if upper is not None else 1.0
        chance = below - (found.chance_below(lower) if lower is not None else 0.0)
        chance = min(max(chance, 0.0), 1.0)
        hours_5 = _until_out(growth, series, start, lower, upper, 0.05)
        hours_50 = _until_out(growth, series, start, lower, upper, 0.5)
    outlook = replace(
        blank,
        standing="forecast",
        hours_ahead=hours,
        middle=middle,
        low80=ends[0],
        high80=ends[1],
        middle_text=series.show(middle),
        span_text=_span(series, ends[0], ends[1]),
        chance_inside=chance,
        hours_5=hours_5,
        hours_50=hours_50,
        set_to=start.set_to,
        assumptions=_assumptions(fit, growth, series, start),
    )
    return replace(outlook, sentence=_sentence(outlook, series, start.done))


def _supply(series: Series) -> float:
    return next((float(p.supply) for p in reversed(series.points) if p.supply), 80.0)


def as_read(series: Series, value: float) -> float:
    """From the model's scale to what is read; a share cannot be below nothing."""
    return _held(value, _supply(series)) if _is_leak(series) else max(value, 0.0)


def _bounds(series: Series) -> tuple[float | None, float | None]:
    """The limits on the model's scale: a floor of pressure is a ceiling of leak."""
    if not _is_leak(series):
        return series.lower, series.upper
    upper = _leak(series.lower, _supply(series)) if series.lower else None
    return None, upper


def _until_out(
    growth: wear.Growth,
    series: Series,
    start: _Start,
    lower: float | None,
    upper: float | None,
    chance: float,
) -> float | None:
    """Hours from now until a value beyond a limit is this likely."""
    # Wear goes one way, so the limit it goes towards is the one that counts.
    rising = series.way.direction != "down" and upper is not None
    limit = upper if rising else lower
    if limit is None:
        return None
    reached = growth.hours_until(
        series.item,
        limit,
        chance,
        side="above" if rising else "below",
        horizon=HORIZON + start.since_last,
        meter_variance=_shared(series),
        set_to=start.set_to,
        set_variance=start.set_variance,
    )
    return None if reached is None else round(max(reached - start.since_last, 0.0), 1)


def _span(series: Series, low: float, high: float) -> str:
    if series.quantity is None:
        return f"{low:.1f} to {high:.1f} {series.unit}"
    number, _, unit = series.show(low).rpartition(" ")
    last = series.show(high)
    return f"{number} to {last}" if last.endswith(f" {unit}") else f"{number} {unit} to {last}"


def _assumptions(
    fit: SetFit, growth: wear.Growth, series: Series, start: _Start
) -> tuple[str, ...]:
    own = len({p.hours for p in series.trend})
    fellows = len(growth.parts) - 1
    if fellows:
        by = f"{own} {'opening' if own == 1 else 'openings'} of its own and {fellows} fellows"
    else:
        by = f"{own} {'opening' if own == 1 else 'openings'} of its own"
    said = [f"Drawn from {by}."]
    if _is_leak(series):
        said.append("Followed as the area of the leak, and shown as what the tester would read.")
    if fit.quickening:
        said.append(
            "Its rate may quicken: that foretold the last opening better than a steady one."
        )
    if _is_electrode(series):
        said.append("A new one has all of its electrode, by what per cent left means.")
    if series.floor:
        said.append("The next master reading is not known; the last one is taken for it.")
    return (*said, *start.said, *growth.notes)


def _sentence(one: Outlook, series: Series, done: str) -> str:
    now = f"{one.label} {one.now_text} now"
    if done:
        now = f"{one.label} found at {one.now_text}; if it is {done} now"
    if series.item == OIL:
        now = f"{one.label}: {series.show(one.now)} now" if one.now is not None else one.label
    then = f"{one.opening.hours:.0f} h on it is {one.span_text}, 80 times in 100"
    first = f"{now}, {then}" if done else f"{now}; {then}"
    if one.chance_inside is None:
        return f"{first}."
    sentence = (
        f"{first}, and inside the limit ({one.limit_words}) {chance_words(one.chance_inside)}."
    )
    if one.hours_50 is not None and one.hours_50 < 0.5:
        sentence += " By its trend it is more likely out than in already."
    elif one.hours_50 is not None and one.hours_50 <= one.opening.hours:
        sentence += f" It is as likely out as in after {one.hours_50:.0f} h."
    elif one.hours_5 is not None:
        sentence += f" One time in 20 it is out within {one.hours_5:.0f} h."
    return sentence


def chance_words(p: float) -> str:
    """A forecast's chance in words. It claims no more than a few openings can carry.

    >>> chance_words(0.31), chance_words(0.9999)
    ('31 times in 100', 'more than 99 times in 100')
    """
    if p > 0.99:
        return "more than 99 times in 100"
    if p < 0.01:
        return "less than 1 time in 100"
    times = f"{p * 100:.0f}"
    return f"{times} {'time' if times == '1' else 'times'} in 100"


# The fan


def fan_of(
    found: Forecasts,
    judged: JudgedJob,
    item: str,
    check: str,
    *,
    steps: int = 4,
    until: date | None = None,
) -> tuple[FanAt, ...]:
    """The forecast of one check from now to the next opening, for drawing.

    Empty where there is no forecast.
    """
    outlook = next(iter(found.of(item, check)), None)
    fit = found.fits.get((item_kind(item), check))
    if outlook is None or outlook.standing != "forecast" or fit is None or fit.growth is None:
        return ()
    series = fit.series[item]
    last = series.trend[-1]
    start = _start(judged, series, last, _check(judged, series), until)
    fan = []
    for step in range(steps + 1):
        ahead = start.since_last + found.opening.hours * step / steps
        at = fit.growth.at(
            item,
            ahead,
            meter_variance=_shared(series),
            set_to=start.set_to,
            set_variance=start.set_variance,
        )
        spans = [sorted(as_read(series, v) for v in at.interval(p)) for p in (0.5, 0.8, 0.9)]
        assert last.hours is not None
        fan.append(
            FanAt(
                hours=last.hours + ahead,
                middle=as_read(series, at.median),
                low50=spans[0][0],
                high50=spans[0][1],
                low80=spans[1][0],
                high80=spans[1][1],
                low90=spans[2][0],
                high90=spans[2][1],
            )
        )
    return tuple(fan)


def fan_words(found: Forecasts, judged: JudgedJob, item: str, check: str) -> str:
    """Why the forecast does not start at the last reading; empty where it does, or is set anew."""
    outlook = next(iter(found.of(item, check)), None)
    fan = fan_of(found, judged, item, check, steps=1)
    if outlook is None or outlook.set_to is not None or not fan:
        return ""
    series = found.fits[(item_kind(item), check)].series[item]
    last = series.trend[-1]
    if last.value is None or last.hours != fan[0].hours:
        return ""
    if fan[0].low80 <= last.value <= fan[0].high80:
        return ""
    said = (
        f"The forecast starts at {series.show(fan[0].middle)}, where the openings before point, "
        f"and not at the {last.text} read"
    )
    if last.meter and last.low is not None and last.high is not None:
        said += f": on {last.meter} that may be {_span(series, last.low, last.high)}"
    return f"{said}."
