"""The columns of an engine monitor's table: which channel each is, and its unit as its heading says.

A channel is guessed from a heading so that a person may confirm it; a unit never is.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from rehang.trade.facts.layout import Layout
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.wording import listed

__all__ = [
    "CLOCKS",
    "EXHAUST",
    "HEAD",
    "OIL_PRESSURE",
    "OIL_TEMPERATURE",
    "RPM",
    "TIME",
    "UNITS",
    "Guess",
    "Mapped",
    "channel_words",
    "channels_of",
    "check_mapped",
    "cylinder_of",
    "guessed",
    "in_base",
    "kind_of",
    "unit_in",
]

TIME, RPM, OIL_PRESSURE, OIL_TEMPERATURE = "time", "rpm", "oil_pressure", "oil_temperature"
# With the cylinder behind a colon: "exhaust:3".
EXHAUST, HEAD = "exhaust", "head"
# Of times that are written out: what a cell shows says so itself.
CLOCKS = ("hh:mm:ss", "date and time")

_QUANTITIES = {
    TIME: "time", RPM: "speed", OIL_PRESSURE: "pressure", OIL_TEMPERATURE: "temperature",
    EXHAUST: "temperature", HEAD: "temperature",
}  # fmt: skip
# Units of each quantity: factor and offset to s, rpm, psi and °F. The bar and the pascal: NIST
# Special Publication 811 (2008), appendix B.8, psi 6.894757 kPa; °C to °F by its definition.
UNITS: Mapping[str, Mapping[str, tuple[float, float]]] = MappingProxyType(
    {
        "time": {"s": (1.0, 0.0), "min": (60.0, 0.0), "h": (3600.0, 0.0)},
        "speed": {"rpm": (1.0, 0.0)},
        "pressure": {
            "psi": (1.0, 0.0), "bar": (100 / 6.894757, 0.0), "kPa": (1 / 6.894757, 0.0),
        },
        "temperature": {"°F": (1.0, 0.0), "°C": (1.8, 32.0)},
    }
)  # fmt: skip
_SPELLED = {
    "f": "°F", "°f": "°F", "degf": "°F", "deg f": "°F", "fahrenheit": "°F",
    "c": "°C", "°c": "°C", "degc": "°C", "deg c": "°C", "celsius": "°C",
    "psi": "psi", "bar": "bar", "kpa": "kPa", "rpm": "rpm", "1/min": "rpm",
    "s": "s", "sec": "s", "secs": "s", "second": "s", "seconds": "s",
    "min": "min", "mins": "min", "minutes": "min", "h": "h", "hr": "h", "hrs": "h", "hours": "h",
}  # fmt: skip
_IN_BRACKETS = re.compile(r"[(\[{]\s*([^)\]}]+?)\s*[)\]}]")
_NUMBER = re.compile(r"\d+")


@dataclass(frozen=True, slots=True)
class Mapped:
    """What a person said of a table: channel -> column (by its number) and channel -> unit."""

    columns: Mapping[str, int]
    units: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Guess:
    """What a heading looks like: a channel, or nothing, and the unit that it names, or nothing."""

    channel: str
    unit: str


def kind_of(channel: str) -> str:
    """``exhaust`` of ``exhaust:3``; a channel of the whole engine is its own kind."""
    return channel.partition(":")[0]


def cylinder_of(channel: str) -> str:
    """``3`` of ``exhaust:3``; empty for one of the whole engine."""
    return channel.partition(":")[2]


def channels_of(layout: Layout) -> tuple[str, ...]:
    """Every channel that an engine of this layout may have."""
    cylinders = [str(one) for one in layout.cylinders]
    return (
        TIME,
        RPM,
        OIL_PRESSURE,
        OIL_TEMPERATURE,
        *(f"{kind}:{one}" for kind in (EXHAUST, HEAD) for one in cylinders),
    )


def channel_words(channel: str) -> str:
    """A channel as people say it.

    >>> channel_words("exhaust:3"), channel_words("oil_pressure")
    ('exhaust 3', 'oil pressure')
    """
    return channel.replace(":", " ").replace("_", " ")


def unit_in(heading: str) -> str:
    """The unit that a heading names: in brackets, behind a comma, or as its last word; else empty.

    >>> unit_in("EGT 1 (deg F)"), unit_in("Oil Press, PSI"), unit_in("CHT2_C"), unit_in("EGT 1")
    ('°F', 'psi', '°C', '')
    """
    found = _IN_BRACKETS.findall(heading)
    last = re.split(r"[\s,_;]+", _IN_BRACKETS.sub(" ", heading).strip())[-1:]
    for one in (*reversed(found), heading.rpartition(",")[2].strip(), *last):
        unit = _SPELLED.get(one.strip().casefold())
        if unit:
            return unit
    return ""


def guessed(heading: str, layout: Layout) -> Guess:
    """What a heading looks like, for a person to confirm."""
    unit = unit_in(heading)
    plain = _IN_BRACKETS.sub(" ", heading).casefold().replace("_", " ")
    number = _NUMBER.search(plain)
    cylinder = number[0].lstrip("0") if number else ""
    known = cylinder in [str(one) for one in layout.cylinders]
    if "oil" in plain:
        if re.search(r"\bp\b|pres", plain):
            return Guess(OIL_PRESSURE, unit)
        if re.search(r"\bt\b|temp", plain):
            return Guess(OIL_TEMPERATURE, unit)
        return Guess("", unit)
    if re.search(r"\begt|exhaust", plain):
        return Guess(f"{EXHAUST}:{cylinder}" if known else "", unit)
    if re.search(r"\bcht|head", plain):
        return Guess(f"{HEAD}:{cylinder}" if known else "", unit)
    if re.search(r"\brpm\b|\bengine speed\b|\btacho", plain):
        return Guess(RPM, unit)
    if re.search(r"\btime\b|\belapsed\b|\bclock\b", plain):
        return Guess(TIME, unit)
    return Guess("", unit)


def check_mapped(mapped: Mapped, headings: Sequence[str], layout: Layout) -> None:
    """Whether what was said of the columns can be read.

    Raises
    ------
    BadInput
        With the channel it is about.
    """
    known = channels_of(layout)
    for channel, column in mapped.columns.items():
        if channel not in known:
            raise BadInput(f'"{channel}" is no channel of this engine.', channel)
        if not 0 <= column < len(headings):
            raise BadInput(f"The table has no column {column + 1}.", channel)
    if TIME not in mapped.columns:
        raise BadInput("Say which column is the time.", TIME)
    if not any(kind_of(one) in (EXHAUST, HEAD) for one in mapped.columns):
        raise BadInput("Say which columns are temperatures of cylinders, one at the least.")
    twice = [c for c in mapped.columns.values() if list(mapped.columns.values()).count(c) > 1]
    if twice:
        raise BadInput(f'"{headings[twice[0]]}" is picked twice. Pick each column once.')
    for channel, column in mapped.columns.items():
        units = (*UNITS[_QUANTITIES[kind_of(channel)]], *(CLOCKS if channel == TIME else ()))
        if mapped.units.get(channel, "") not in units:
            raise BadInput(
                f'"{headings[column]}" does not say its unit. Pick {listed(units, "or")}: it is '
                "never guessed.",
                channel,
            )


def in_base(channel: str, unit: str) -> tuple[float, float]:
    """Factor and offset from a unit to the one that is worked in: s, rpm, psi or °F."""
    return UNITS[_QUANTITIES[kind_of(channel)]][unit]
