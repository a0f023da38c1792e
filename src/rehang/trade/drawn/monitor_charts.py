"""A monitor's table drawn: one cylinder within its fellows over time, and the oil over the speed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rehang.trade.drawn.chart_values import Break, Chart, ChartBand, ChartMark, Other
from rehang.trade.facts.monitor_columns import OIL_PRESSURE, OIL_TEMPERATURE, cylinder_of, kind_of
from rehang.trade.run.monitor_found import BUCKETS
from rehang.trade.run.monitor_told import Asked, clock_words
from rehang.trade.terms.kinds.monitor import MonitorRead

__all__ = ["cylinder_chart", "oil_chart"]

_UNITS = {OIL_PRESSURE: "psi", OIL_TEMPERATURE: "°F"}
# Lowest and highest of a span of time; None where nothing was read in it.
Span = tuple[float, float] | None


def _spans(told: MonitorRead, name: str) -> list[Span]:
    found: list[Span] = []
    for one in str(told.series.get(name, "")).split():
        low, _, high = one.partition("/")
        found.append(None if one == "-" else (float(low), float(high)))
    return found


def _middle(told: MonitorRead, number: int) -> float:
    """The moment that a span stands for, in seconds."""
    return float((number + 0.5) * told.found["span_s"] / BUCKETS)


def cylinder_chart(
    told: MonitorRead, kind: str, cylinder: str, asked: Asked | None = None
) -> Chart | None:
    """The exhaust or head of one cylinder over the flight, with what the others did behind it.

    None where it was not recorded.
    """
    own = _spans(told, f"{kind}:{cylinder}")
    there = [n for n, span in enumerate(own) if span is not None]
    if not there:
        return None
    trace = tuple(_trace(told, own))
    marks = tuple(_ends(told, own, there))
    lowest = min(value for _, value in trace)
    highest = max(value for _, value in trace)
    breaks: tuple[Break, ...] = ()
    if asked is not None and asked.at_s is not None:
        breaks = (Break(asked.at_s, f"asked about, {clock_words(asked.at_s)}"),)
    return Chart(
        name=f"cylinder {cylinder}",
        title=f"{kind.capitalize()} {cylinder}",
        unit="°F",
        sentence=f"{kind.capitalize()} of cylinder {cylinder}, {told.of}: {lowest:,.0f} to "
        f"{highest:,.0f} °F over {clock_words(told.found['span_s'])}.",
        marks=marks,
        show=lambda value: f"{value:,.0f}",
        fellows=tuple(_fellows(told, kind, cylinder)),
        fellows_words="the others",
        other=Other(f"cylinder {cylinder}", trace, is_trace=True),
        breaks=breaks,
        x_words={mark.hours: clock_words(mark.hours) for mark in marks},
    )


def _trace(told: MonitorRead, own: list[Span]) -> Iterator[tuple[float, float]]:
    """Through the lowest and highest of each span, the nearer one first, so that no peak is lost."""
    last: float | None = None
    for number, span in enumerate(own):
        if span is None:
            continue
        low, high = span
        at = _middle(told, number)
        rising = last is None or abs(last - low) <= abs(last - high)
        first, second = (low, high) if rising else (high, low)
        yield at, first
        if second != first:
            yield at, second
        last = second


def _ends(told: MonitorRead, own: list[Span], there: list[int]) -> Iterator[ChartMark]:
    """The first and the last span, which the axis is written by; nothing joins them."""
    for segment, number in enumerate(dict.fromkeys((there[0], there[-1]))):
        span = own[number]
        assert span is not None
        value = (span[0] + span[1]) / 2
        at = _middle(told, number)
        yield ChartMark(
            hours=at, value=value, text="", on=clock_words(at), segment=segment,
            words=f"{value:,.0f} °F at {clock_words(at)}",
        )  # fmt: skip


def _fellows(told: MonitorRead, kind: str, cylinder: str) -> Iterator[ChartBand]:
    others = [
        _spans(told, name)
        for name in told.series
        if kind_of(name) == kind and cylinder_of(name) != cylinder
    ]
    for number in range(BUCKETS):
        held = [one[number] for one in others if number < len(one)]
        spans = [span for span in held if span is not None]
        if spans:
            yield ChartBand(
                _middle(told, number), min(low for low, _ in spans), max(high for _, high in spans)
            )


def oil_chart(told: MonitorRead, name: str) -> Chart | None:
    """Oil pressure or temperature over the speed of the engine; None where it was not recorded."""
    spans: list[list[float]] = (_oil(told)).get(name, [])
    if not spans:
        return None
    unit, words = _UNITS[name], name.replace("_", " ")
    low, high = spans[0], spans[-1]
    return Chart(
        name="oil",
        title=words.capitalize(),
        unit=unit,
        sentence=f"{words.capitalize()} by speed, {told.of}: {low[1]:g} {unit} at {low[0]:,.0f} rpm, "
        f"{high[1]:g} {unit} at {high[0]:,.0f} rpm.",
        marks=tuple(
            ChartMark(
                hours=middle, value=value, text=f"{value:g}", on=f"{middle:,.0f} rpm",
                words=f"{value:g} {unit} at {middle:,.0f} rpm, {count:,.0f} rows",
            )
            for middle, value, count in spans
        ),
        show=lambda value: f"{value:g}",
        x_words={middle: f"{middle:,.0f}" for middle, _, _ in spans},
    )  # fmt: skip


def _oil(told: MonitorRead) -> Mapping[str, list[list[float]]]:
    found: Mapping[str, list[list[float]]] = told.found.get("oil") or {}
    return found
