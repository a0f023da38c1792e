"""The chart of one series of a part's story: its readings, its fellows, the limit, the forecast."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from rehang.trade.drawn.chart_values import (
    Break,
    Chart,
    ChartBand,
    ChartLimit,
    ChartMark,
    Close,
    Fan,
    Other,
    usual_of,
)
from rehang.trade.drawn.charts import column_edges
from rehang.trade.facts.ages import add_months, age_answer
from rehang.trade.facts.job_facts import Thresholds
from rehang.trade.facts.meters import Meter, band_of
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.fitting import hose_dates
from rehang.trade.known.state import item_kind, item_name
from rehang.trade.life.story_values import HOURS_PER_QUART, OIL, SAME_HOURS, Point, Series
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import is_a
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.items import EarlierService
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.terms.quantities import number_and_unit
from rehang.trade.terms.series import rises_running
from rehang.trade.terms.wording import on_day, plural
from rehang.trade.verdicts.item_verdict import ItemVerdict

__all__ = ["HoursColumn", "age_chart", "chart_of", "close_range", "columns_of", "series_words"]

# Fewer fellows than this make no band; common practice, no source.
_LEAST_FELLOWS = 3
_DAYS_A_MONTH = 30.4375
_TIMES = ("", "once", "twice", "three times", "four times", "five times", "six times")


@dataclass(frozen=True, slots=True)
class HoursColumn:
    """One opening: everything that was read at it, in the order it was read."""

    hours: float
    engine_hours: float | None
    on: date
    place: str
    points: tuple[Point, ...]


def columns_of(series: Series) -> tuple[HoursColumn, ...]:
    """The openings of a series with their readings; what has no hours stands under its day.

    A series with no hours at all is laid out by its dates.
    """
    known = [p for p in series.points if p.hours is not None]
    groups: dict[float, list[Point]] = {}
    for point in series.points:
        hours = point.hours if known else float(point.on.toordinal())
        if hours is None:
            # Beside the reading of the nearest day that has hours.
            hours = min(known, key=lambda p: abs((p.on - point.on).days)).hours
        assert hours is not None
        groups.setdefault(hours, []).append(point)
    return tuple(
        HoursColumn(
            hours=hours,
            engine_hours=next((p.engine_hours for p in held if p.engine_hours is not None), None),
            # The day of the reading that counts: one for reference may have come later.
            on=next((p.on for p in reversed(held) if p.counts or p.opened), held[-1].on),
            place=next((p.place for p in held if p.place), ""),
            points=tuple(held),
        )
        for hours, held in sorted(groups.items())
    )


def _scale(series: Series) -> float:
    """Base steps of one unit as pages show it."""
    quantity = series.quantity
    return float(quantity.units[quantity.keyed]) if quantity is not None else 1.0


def _number(series: Series) -> Callable[[float], str]:
    """A value of the chart in figures, with no zero that says nothing."""
    scale = _scale(series)

    def show(value: float) -> str:
        if series.quantity is None:
            text = f"{value:,.1f}"
        else:
            text, _ = number_and_unit(value * scale, series.quantity)
        return text.rstrip("0").rstrip(".") if "." in text else text

    return show


def series_words(series: Series) -> str:
    """What a series says, in one sentence: its growth where it is set anew, else its values."""
    scale, show = _scale(series), _number(series)
    tail = ", and open now" if series.opened is not None else ""
    gains = series.growth()
    if any(p.left and p.restart for p in series.trend[1:]) and gains:
        steps = ", ".join(show(gain / scale) for gain in gains)
        return f"{series.label} grew by {steps} {series.unit} from one opening to the next{tail}."
    values = [float(p.value) for p in series.trend if p.value is not None]
    said = [p.text.rpartition(" ")[0] or p.text for p in series.trend if p.value is not None]
    if not values:
        return f"{series.label} of {item_name(series.item)}: no reading that counts{tail}."
    shown = f"{', '.join(said)} {series.unit}{tail}"
    for word, run in (("up", values), ("down", [-v for v in values])):
        times = rises_running(run)
        if times >= 2:
            how = _TIMES[times] if times < len(_TIMES) else f"{times} times"
            return f"{series.label} is {word} {how} running: {shown}."
    return f"{series.label} at each opening: {shown}."


def chart_of(
    series: Series,
    judged: JudgedJob,
    *,
    fellows: Sequence[Series] = (),
    fan: Fan | None = None,
    sentence: str = "",
) -> Chart:
    """The chart of a series. ``fellows`` are the same check of the other items of its kind.

    Raises
    ------
    BadInput
        No point of the series can be drawn.
    """
    columns = columns_of(series)
    marks = _marks(series, columns)
    if not marks:
        raise BadInput(f"{series.label} of {item_name(series.item)} has nothing to draw yet.")
    log = series.way.scale == "log" and series.item != OIL
    scale = _scale(series)
    others = [one for one in fellows if one.item != series.item]
    usual_values = [
        float(p.value) / scale for one in others for p in one.found if p.value is not None
    ]
    bands, count = _fellow_bands(columns, others, scale)
    kind = item_kind(series.item)
    flown = columns[-1].hours if fan is None else fan.middle[-1][0]
    return Chart(
        name=item_name(series.item),
        title=series.label,
        unit="" if series.check == HOURS_PER_QUART else series.unit,
        sentence=sentence or series_words(series),
        marks=tuple(marks),
        show=_number(series),
        log=log,
        note="each step up doubles it, or nearly" if log else "",
        limits=_limits(series, scale),
        close=tuple(_closes(series, judged, columns, scale)),
        usual=usual_of(usual_values, log=log) if usual_values else None,
        fellows=bands,
        fellows_words=f"{count} other {kind}s" if bands else "",
        other=_other(series, others, columns, scale),
        fan=fan,
        next_hours=flown if fan is not None else None,
        breaks=tuple(_breaks(series, columns)),
    )


def _marks(series: Series, columns: Sequence[HoursColumn]) -> list[ChartMark]:
    scale = _scale(series)
    found = []
    for column in columns:
        for number, point in enumerate(column.points):
            if point.struck or (point.value is None and not point.opened):
                continue
            if any(later.opened for later in column.points[number + 1 :]) and point.opened:
                # The same answer again: one mark at the top stands for all of them.
                continue
            found.append(
                ChartMark(
                    hours=column.hours,
                    value=None if point.value is None else float(point.value) / scale,
                    text=point.text.rpartition(" ")[0].partition("/")[0] or point.text,
                    on=on_day(point.on),
                    call=_call(point),
                    segment=point.segment,
                    low=None if point.low is None else point.low / scale,
                    high=None if point.high is None else point.high / scale,
                    left=point.left,
                    words=_point_words(point),
                    key=f"{point.entry}-{'left' if point.left else 'found'}",
                )
            )
    return found


def _call(point: Point) -> str:
    if point.void:
        return "void"
    if point.aside:
        return "aside"
    if point.earlier or point.left or not point.call or point.call == "NOT READ":
        return ""
    return point.call.lower().replace(" ", "-")


def _point_words(point: Point) -> str:
    """One reading said whole: value, meter, call, and why it does not count."""
    said = [f"{on_day(point.on)}: {'set to ' if point.left else ''}{point.text}"]
    if point.meter:
        said[0] += f" on {point.meter}"
    said += [one for one in (point.words, point.call.lower() if not point.earlier else "") if one]
    said += [one for one in (point.aside, point.void) if one]
    return ", ".join(said)


def _limits(series: Series, scale: float) -> tuple[ChartLimit, ...]:
    found = []
    for value, upper in ((series.upper, True), (series.lower, False)):
        if value is None:
            continue
        shown = _number(series)(value / scale)
        words, source = f"LIMIT {shown} or {'less' if upper else 'more'}", ""
        if series.floor and not upper:
            words, source = f"FLOOR {shown} or more", "the master of the day"
        said = [one for one in (source, series.limit_source) if one]
        found.append(ChartLimit(value / scale, words, ", ".join(said), upper))
    return tuple(found)


# Close calls


def close_range(
    meter: Meter, range_name: str, *, bound: float, upper: bool, log: bool, rule: Thresholds
) -> tuple[float, float] | None:
    """Readings of a meter that are a CLOSE CALL at a bound, in base steps; None where none is."""

    def p(value: float) -> float:
        band = band_of(meter, value, range_name)
        return band.p_inside(None, bound) if upper else band.p_inside(bound, None)

    try:
        width = band_of(meter, bound, range_name).width
        far = (bound / 50, bound * 50) if log else (bound - 4 * width, bound + 4 * width)
        inner, outer = far if upper else (far[1], far[0])
        edges = (_where(p, inner, outer, rule.within), _where(p, inner, outer, rule.out))
    except BadInput:
        # A tester gives no number of its own; what it can tell is said by its own rule.
        return None
    low, high = min(edges), max(edges)
    return (low, high) if high > low else None


def _where(p: Callable[[float], float], inside: float, outside: float, level: float) -> float:
    """Where a chance that falls from ``inside`` to ``outside`` passes a level."""
    for _ in range(40):
        middle = (inside * outside) ** 0.5 if inside > 0 and outside > 0 else (inside + outside) / 2
        if p(middle) >= level:
            inside = middle
        else:
            outside = middle
    return inside


def _closes(
    series: Series, judged: JudgedJob, columns: Sequence[HoursColumn], scale: float
) -> list[Close]:
    """The close-call band of each meter, over the openings at which it was used."""
    used: list[tuple[str, str, list[int]]] = []
    for number, column in enumerate(columns):
        live = [p for p in column.points if p.meter and not p.struck]
        if not live:
            continue
        meter = (live[-1].meter, _range_name(live[-1], series.check, judged))
        if used and used[-1][:2] == meter:
            used[-1][2].append(number)
        else:
            used.append((*meter, [number]))
    edges = column_edges([column.hours for column in columns])
    found = []
    for name, range_name, numbers in used:
        since, until = edges[numbers[0]], edges[numbers[-1] + 1]
        held = judged.facts.meters.get(name)
        if held is None or held.way.goes_between:
            # A wire goes or it does not: no reading of it lies between.
            continue
        for bound, upper in ((series.upper, True), (series.lower, False)):
            if bound is None:
                continue
            if series.floor and not upper:
                # Both readings have a last digit: the floor itself is all that cannot be told.
                step = held.resolution or 1.0
                one: tuple[float, float] | None = (bound - step / 2, bound + step / 2)
            else:
                one = close_range(
                    held, range_name, bound=bound, upper=upper,
                    log=series.way.scale == "log", rule=judged.facts.thresholds,
                )  # fmt: skip
            if one is not None:
                found.append(Close(since, until, one[0] / scale, one[1] / scale, name))
    return found


def _range_name(point: Point, check: str, judged: JudgedJob) -> str:
    entry = judged.state.entries.get(point.entry)
    if entry is None:
        return ""
    if is_a(entry, EarlierService):
        return next(
            (one.get("range", "") for one in entry.fields.readings if one["check"] == check),
            "",
        )
    return entry.fields.range if is_a(entry, ReadingTaken) else ""


# Beside its fellows


def _at(series: Series, engine_hours: float) -> float | None:
    """What a fellow was found at, at the same opening of the engine."""
    near = [
        p
        for p in series.trend
        if p.engine_hours is not None and abs(p.engine_hours - engine_hours) < SAME_HOURS
    ]
    found = [p for p in near if not p.left] or near
    value = found[-1].value if found else None
    return None if value is None else float(value)


def _went_out(series: Series) -> bool:
    """Whether it was ever found outside the limit: then it is no measure for its fellows."""
    return any(
        p.value is not None
        and (
            (series.upper is not None and p.value > series.upper)
            or (series.lower is not None and p.value < series.lower)
        )
        for p in series.found
    )


def _fellow_bands(
    columns: Sequence[HoursColumn], others: Sequence[Series], scale: float
) -> tuple[tuple[ChartBand, ...], int]:
    bands = []
    count = 0
    followed = [one for one in others if one.opened is None and not _went_out(one)]
    for column in columns:
        if column.engine_hours is None:
            continue
        values = [v for one in followed if (v := _at(one, column.engine_hours)) is not None]
        if len(values) >= _LEAST_FELLOWS:
            bands.append(ChartBand(column.hours, min(values) / scale, max(values) / scale))
            count = len(values)
    return (tuple(bands), count) if len(bands) >= 2 else ((), 0)


def _other(
    series: Series, others: Sequence[Series], columns: Sequence[HoursColumn], scale: float
) -> Other | None:
    """A fellow that rose the same way and is open now, when this one has risen too."""
    if series.opened is not None:
        return None
    values = [float(p.value) for p in series.found if p.value is not None]
    if rises_running(values) < 2:
        return None
    for one in others:
        known = [
            (column.hours, value / scale)
            for column in columns
            if column.engine_hours is not None
            and (value := _at(one, column.engine_hours)) is not None
        ]
        if one.opened is not None and len(known) >= _LEAST_FELLOWS:
            return Other(item_name(one.item), tuple(known), columns[-1].hours)
    return None


def _breaks(series: Series, columns: Sequence[HoursColumn]) -> list[Break]:
    """Where the line is not joined, in the trade's words."""
    found = []
    kind = item_kind(series.item)
    for column in columns:
        said = []
        for point in column.points:
            if not point.breaks or point.struck:
                continue
            if point.breaks == "new":
                said.append(f"new {kind}")
            elif point.breaks == "set":
                said.append(f"set to {point.text.rpartition(' ')[0]}")
            elif " after " in point.breaks:
                said.append(f"now on {point.meter}")
            else:
                said.append(point.breaks)
        if said:
            found.append(Break(column.hours, ", ".join(dict.fromkeys(said))))
    return found


# What has an age


def age_chart(verdict: ItemVerdict, judged: JudgedJob) -> Chart:
    """A hose's age at each service it went through, against the rule for its type.

    Months since it was fitted run along the base; a service is one that the book of this job
    knows of from any item.

    Raises
    ------
    BadInput
        When it was fitted is not known, or there is no day to judge it on.
    """
    part = hose_dates(verdict.name, judged.facts, judged.state)
    if part is None or part.fitted_on is None or judged.today is None:
        raise BadInput(
            f"When hose {verdict.name} was fitted is not on file, so its age cannot be drawn."
        )
    call = verdict.call("age")
    limit = call.limit_data if call is not None else None
    answer = age_answer(part, limit, judged.today)

    fitted = part.fitted_on

    def months(day: date) -> float:
        return (day - fitted).days / _DAYS_A_MONTH

    passed = sorted(day for day in _services(judged) if fitted < day < judged.today)
    days = [fitted, *passed]
    marks = [
        ChartMark(
            months(day),
            months(day) / 12,
            f"{months(day) / 12:.1f}",
            on_day(day),
            key=day.isoformat(),
        )
        for day in days
    ]
    now = months(judged.today)
    marks.append(
        ChartMark(
            now, now / 12, f"{now / 12:.1f}", on_day(judged.today),
            call=answer.call.lower().replace(" ", "-"), words=answer.sentence, key="now",
        )
    )  # fmt: skip
    limits: tuple[ChartLimit, ...] = ()
    breaks = [Break(0.0, "fitted")]
    if limit is not None and limit.upper is not None and limit.has_source:
        years = limit.upper / 12
        limits = (ChartLimit(years, f"LIMIT {years:g} years", limit.source_text, upper=True),)
        due = add_months(fitted, limit.upper)
        if due <= judged.today:
            breaks.append(Break(months(due), f"due {due:%b %Y}"))
    missed = [day for day in passed if answer.due is not None and day > answer.due]
    told = ""
    if missed:
        told = f" It went through {len(missed)} {plural('service', len(missed))} after that."
    return Chart(
        name=part.id,
        title="Age",
        unit="years",
        sentence=f"{answer.sentence}{told}",
        marks=tuple(marks),
        show=lambda value: f"{value:g}" if value == int(value) else f"{value:.1f}",
        limits=limits,
        breaks=tuple(breaks),
        x_words={mark.hours: mark.on.rpartition(" ")[2] for mark in marks},
    )


def _services(judged: JudgedJob) -> set[date]:
    """Days of the services that any item's earlier records speak of."""
    return {
        last_day(earlier.service)
        for item in judged.state.items.values()
        for earlier in item.earlier
    }
