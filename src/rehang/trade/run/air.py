"""What the day's air is worth for a ground run. It stands beside a call and never changes it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from math import sqrt
from typing import Any

from rehang.calc.atmosphere import Air, air_by_dew_point, air_by_humidity, station_pressure
from rehang.calc.errors import OutOfRange
from rehang.calc.power import LEAST_SIGMA, MOST_SIGMA, expected_static_speed, shortfall
from rehang.calc.uncertainty import resolution_standard_uncertainty
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import Limit
from rehang.trade.terms.conversions import FOOT, IN_HG, from_celsius, from_fahrenheit
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import parse_number, plain_minus
from rehang.trade.terms.wording import listed
from rehang.trade.verdicts.calls import Call

__all__ = [
    "CONDITIONS",
    "LOOK_AT",
    "DayAir",
    "StaticWorth",
    "check_conditions",
    "day_air",
    "static_worth",
    "worth_of",
]

# What is written down at the start of a run, and how a sentence names it.
CONDITIONS: Mapping[str, str] = {
    "oat": "outside temperature",
    "dew_point": "dew point",
    "altimeter": "altimeter setting",
    "elevation": "elevation",
    "wind": "wind",
    "heading": "heading",
    "fuel": "fuel",
    "runs": "who works the engine",
    "watches": "who watches",
}
# What else makes an engine slow, standing (the list is common practice, no source).
LOOK_AT = (
    "the tachometer", "the propeller and its pitch", "carburettor heat that leaks",
    "a throttle short of its stop", "a mixture too rich for thin air", "timing", "a weak cylinder",
)  # fmt: skip

_WEATHER = ("oat", "dew_point", "altimeter", "elevation")
_WIND = re.compile(
    r"(?P<from>\d{1,3})\s*(?:°|at|/)\s*(?P<at>\d{1,3})(?:\s*(?:gusting|g)\s*\d{1,3})?(?:\s*kt)?$",
    re.IGNORECASE,
)
_AMOUNT = re.compile(r"(?P<number>[+-]?[\d.,]+)\s*(?P<unit>\S.*)?$")
# Nobody wrote a dew point: anything from dry to saturated, alike (a rectangle from 0 to 1).
_ANY_HUMIDITY = (0.5, 0.29)


@dataclass(frozen=True, slots=True)
class DayAir:
    """The air of a run: ``altitude`` and ``u_altitude`` in feet of density altitude.

    ``sentence`` says it with what went in.
    """

    air: Air
    sigma: float
    u_sigma: float
    altitude: float
    u_altitude: float
    sentence: str

    @property
    def place(self) -> str:
        """``3,000 ft``, to the ten feet."""
        return f"{round(self.altitude, -1):,.0f} ft"


@dataclass(frozen=True, slots=True)
class StaticWorth:
    """What the air is worth at a static speed, in turns per minute.

    ``off`` is how far the speed is from the nearest end of its range (0 inside), ``by_air`` how
    much of that the air is worth and ``left`` the rest; ``is_air`` says whether the air and the
    tachometer can explain it, None where nothing is to be explained or the air is not known.
    """

    sentence: str
    more: tuple[str, ...]
    off: float
    by_air: float
    left: float
    is_air: bool | None


@dataclass(frozen=True, slots=True)
class _Amount:
    """An amount in SI and the standard uncertainty that its last written digit leaves."""

    si: float
    u: float


def check_conditions(given: Mapping[str, Any], where: str = "") -> None:
    """Refuse what was written about the day where it cannot be read, with one sentence."""
    for key, text in given.items():
        if key not in CONDITIONS:
            raise BadInput(
                f'A run has nothing called "{key}" written with it. '
                f"It has {', '.join(CONDITIONS)}.",
                where or key,
            )
        if not isinstance(text, str) or not text.strip():
            raise BadInput(f"Write the {CONDITIONS[key]} as text, or leave it out.", where or key)
    for key, read in (
        ("oat", _temperature),
        ("dew_point", _temperature),
        ("altimeter", _pressure),
        ("elevation", _elevation),
    ):
        if key in given:
            read(given[key], CONDITIONS[key], where or key)
    if "oat" in given and "dew_point" in given:
        oat = _temperature(given["oat"], CONDITIONS["oat"], where or "oat")
        dew = _temperature(given["dew_point"], CONDITIONS["dew_point"], where or "dew_point")
        # Half a digit each way: 68 F and 20 C are one temperature.
        if dew.si - oat.si > 1.8 * (dew.u + oat.u):
            raise BadInput(
                f'A dew point of "{given["dew_point"]}" is above the outside temperature, '
                f'"{given["oat"]}". Air cannot be that damp; write both as they were read.',
                where or "dew_point",
            )
    if "wind" in given:
        _wind(given["wind"], where or "wind")
    if "heading" in given:
        _compass(given["heading"], "heading", where or "heading")


def day_air(facts: JobFacts, given: Mapping[str, Any]) -> DayAir | str:
    """The air of a run, or a sentence that says why it is not known: what is missing, or what
    the formulas do not reach.

    The elevation is that of the place in engine.toml (``elevation_ft``) unless the run says
    another.

    Raises
    ------
    BadInput
        Something that was written cannot be read, or is the air of no place.
    """
    check_conditions(given)
    known = dict(given)
    field = facts.engine.get("elevation_ft")
    if "elevation" not in known and isinstance(field, (int, float)):
        known["elevation"] = f"{field:g} ft"
    missing = [CONDITIONS[key] for key in ("oat", "altimeter", "elevation") if key not in known]
    if missing:
        return f"What the air is worth is not known: no {listed(missing, 'or')} was written down."
    oat = _temperature(known["oat"], CONDITIONS["oat"], "oat")
    setting = _pressure(known["altimeter"], CONDITIONS["altimeter"], "altimeter")
    elevation = _elevation(known["elevation"], CONDITIONS["elevation"], "elevation")
    try:
        station = station_pressure(
            setting.si, elevation.si, u_setting=setting.u, u_elevation=elevation.u
        )
        by = {"u_pressure": station.standard_uncertainty, "u_temperature": oat.u}
        if "dew_point" in known:
            dew = _temperature(known["dew_point"], CONDITIONS["dew_point"], "dew_point")
            # A dew point a digit above the air is the same temperature: saturated.
            at_most = min(dew.si, oat.si)
            air = air_by_dew_point(station.pressure, oat.si, at_most, u_dew_point=dew.u, **by)
            damp = f"dew point {known['dew_point']}"
        else:
            share, u_share = _ANY_HUMIDITY
            air = air_by_humidity(station.pressure, oat.si, share, u_humidity=u_share, **by)
            damp = "no dew point written down"
    except OutOfRange:
        written = ", ".join(f"{CONDITIONS[key]} {known[key]}" for key in known if key in _WEATHER)
        return (
            f"What the air is worth is not worked out: {written} is outside the standard "
            "atmosphere's lowest layer, which the formulas are for."
        )
    altitude, u_altitude = float(air.density_altitude) / FOOT, float(air.u_density_altitude) / FOOT
    return DayAir(
        air=air,
        sigma=float(air.sigma),
        u_sigma=float(air.u_sigma),
        altitude=altitude,
        u_altitude=u_altitude,
        sentence=(
            f"Density altitude {round(altitude, -1):,.0f} ft, give or take "
            f"{max(10.0, round(2 * u_altitude, -1)):,.0f} ({known['oat']}, "
            f"{known['altimeter']}, elevation {known['elevation']}, {damp})."
        ),
    )


def static_worth(call: Call, air: DayAir | str) -> StaticWorth | None:
    """What the air is worth beside a static call; None where the speed was not read."""
    if call.value is None or call.band is None:
        return None
    if isinstance(air, str):
        return _unknown(air)
    return worth_of(float(call.value), call.limit_data, air, u_speed=call.band.standard_uncertainty)


def worth_of(
    speed: float, limit: Limit | None, air: DayAir, *, u_speed: float = 0.0
) -> StaticWorth:
    """What the air is worth at a static speed, against the end of the range it misses.

    A speed is short of the lower end, over the upper one, or inside; the source of the range does
    not say that it is to be corrected, so the call is the printed one whatever stands here.
    """
    lower = limit.lower if limit else None
    upper = limit.upper if limit else None
    if not LEAST_SIGMA <= air.sigma <= MOST_SIGMA:
        return _unknown(
            f"The air at {air.place} is {air.sigma:.2f} times as dense as standard air. The power "
            f"rule is for {LEAST_SIGMA:g} to {MOST_SIGMA:g} times, so what it is worth is not "
            "worked out."
        )
    if min(end for end in (speed, lower, upper) if end is not None) <= 0:
        return _unknown("A speed of 0 rpm is held against no air.")
    # DESIGN 4a, 13: the call is the printed one; what the air is worth stands beside it.
    if lower is not None and speed < lower:
        return _short(speed, float(lower), air, u_speed)
    if upper is not None and speed > upper:
        return _over(speed, float(upper), air, u_speed)
    ends = [float(end) for end in (lower, upper) if end is not None]
    reference = sum(ends) / len(ends) if ends else speed
    change = float(expected_static_speed(reference, air.sigma, u_sigma=air.u_sigma).change)
    lead = "Inside as printed. " if ends else ""
    return StaticWorth(
        f"{lead}The air at {air.place} {_takes(change)}: an engine that turns {reference:,.0f} in "
        f"standard air turns {reference + change:,.0f} in this.",
        (),
        0.0,
        change,
        0.0,
        None,
    )


def _unknown(sentence: str) -> StaticWorth:
    return StaticWorth(sentence, (), 0.0, 0.0, 0.0, None)


def _short(speed: float, lower: float, air: DayAir, u_speed: float) -> StaticWorth:
    found = shortfall(speed, lower, air.sigma, u_speed=u_speed, u_sigma=air.u_sigma)
    off, by_air, left = float(found.short), float(found.by_air), float(found.left)
    doubt = float(found.high) - left
    # Over its whole band something is left: neither rule nor tachometer explains it.
    if float(found.low) > 0:
        power = round(float(found.power_missing) * 100)
        return StaticWorth(
            f"{off:,.0f} rpm short: the air at {air.place} {_is_worth(by_air)}, so it is not the "
            "air.",
            (
                f"Look at {listed(LOOK_AT, 'or')}.",
                f"{left:,.0f} rpm are left to explain: about {power} % of the power, if the "
                "propeller is the right one.",
            ),
            off,
            by_air,
            left,
            is_air=False,
        )
    return StaticWorth(
        f"{off:,.0f} rpm short: the air at {air.place} {_is_worth(by_air)}, and the rule and the "
        f"tachometer are good to {doubt:,.0f}, so it may be the air. The call stays as printed.",
        ("Read it again in cooler air or on another day before the engine is blamed.",),
        off,
        by_air,
        left,
        is_air=True,
    )


def _over(speed: float, upper: float, air: DayAir, u_speed: float) -> StaticWorth:
    expected = expected_static_speed(upper, air.sigma, u_sigma=air.u_sigma)
    change = float(expected.change)
    more: tuple[str, ...] = ()
    off, left = speed - upper, speed - float(expected.speed)
    # Two standard uncertainties, as the ends of the shortfall have.
    doubt = 2 * sqrt(float(expected.standard_uncertainty) ** 2 + u_speed**2)
    if left > doubt:
        said = (
            f"{off:,.0f} rpm over: the air at {air.place} {_takes(change)}, so it is not the air."
        )
        more = (
            "Look at the tachometer, the propeller and its pitch, or wind from ahead: it adds tens "
            "of rpm (common practice, no source).",
        )
    else:
        said = (
            f"{off:,.0f} rpm over: the air at {air.place} {_takes(change)}, and the rule and the "
            f"tachometer are good to {doubt:,.0f}, so it may be the air. The call stays as printed."
        )
    return StaticWorth(said, more, off, change, left, is_air=left <= doubt)


def _is_worth(by_air: float) -> str:
    if round(by_air) == 0:
        return "is worth nothing"
    return f"is worth {by_air:,.0f}" if by_air > 0 else f"adds {-by_air:,.0f}"


def _takes(change: float) -> str:
    if round(change) == 0:
        return "is worth nothing"
    return f"takes {-change:,.0f} rpm" if change < 0 else f"adds {change:,.0f} rpm"


# Amounts as they are written


def _split(text: str, words: str, example: str, where: str) -> tuple[Decimal, float, str]:
    """The number, the worth of its last written digit and the unit."""
    match = _AMOUNT.match(plain_minus(text.strip()))
    if match is None:
        raise BadInput(f'"{text}" is no {words}. Write it as in {example}.', where)
    number = parse_number(match["number"], where)
    exponent = number.as_tuple().exponent
    assert isinstance(exponent, int)
    return number, 10.0**exponent, (match["unit"] or "").strip().lower()


def _temperature(text: str, words: str, where: str) -> _Amount:
    number, digit, unit = _split(text, words, "68 F or 20 C", where)
    unit = unit.removeprefix("°").removeprefix("deg").strip()
    match unit:
        case "c":
            kelvin, step = from_celsius(float(number)), digit
        case "f":
            kelvin, step = from_fahrenheit(float(number)), digit / 1.8
        case _:
            raise BadInput(
                f'"{text}" says neither F nor C. Write the {words} as in 68 F or 20 C.', where
            )
    # The ends themselves pass, whatever a float makes of them. The ends are our choice, no source.
    if not from_celsius(-60) - 1e-9 <= kelvin <= from_celsius(60) + 1e-9:
        raise BadInput(
            f'"{text}" is no {words} to run an engine in. Write one from -60 to 60 C.', where
        )
    return _Amount(kelvin, float(resolution_standard_uncertainty(step)))


def _pressure(text: str, words: str, where: str) -> _Amount:
    number, digit, unit = _split(text, words, "29.92 or 1013 hPa", where)
    if not unit:
        # No field has 100 of either, so the number tells the unit.
        unit = "inhg" if number < 100 else "hpa"
    match unit:
        case "inhg" | "in hg" | "in" | '"':
            factor = IN_HG
        case "hpa" | "mb" | "mbar":
            factor = 100.0
        case _:
            raise BadInput(
                f'"{text}" has the unit "{unit}". Write the {words} in inHg or hPa, as in 29.92.',
                where,
            )
    pressure = float(number) * factor
    # The lowest and the highest ever read at the sea, rounded outwards (from memory).
    if not 87_000 <= pressure <= 109_000:
        raise BadInput(
            f'"{text}" is no {words}. Write what the field gives, as in 29.92 or 1013 hPa; it is '
            "not the pressure at the field itself.",
            where,
        )
    return _Amount(pressure, float(resolution_standard_uncertainty(digit * factor)))


def _elevation(text: str, words: str, where: str) -> _Amount:
    number, digit, unit = _split(text, words, "1,240 ft", where)
    match unit:
        case "" | "ft" | "feet":
            factor = FOOT
        case "m" | "metres" | "meters":
            factor = 1.0
        case _:
            raise BadInput(
                f'"{text}" has the unit "{unit}". Write the {words} in ft or m, as in 1,240 ft.',
                where,
            )
    metres = float(number) * factor
    # Below the lowest field there is to above the highest (from memory).
    if not -450 <= metres <= 5_500:
        raise BadInput(f'"{text}" is no {words} of a field. Write it as in 1,240 ft.', where)
    return _Amount(metres, float(resolution_standard_uncertainty(digit * factor)))


def _wind(text: str, where: str) -> None:
    if text.strip().lower() == "calm":
        return
    match = _WIND.match(text.strip())
    if match is None:
        raise BadInput(f'"{text}" is no wind. Write calm, or as in 240 at 6.', where)
    _compass(match["from"], "wind direction", where)


def _compass(text: str, words: str, where: str) -> None:
    given = text.strip().removesuffix("°")
    if not (given.isascii() and given.isdigit() and int(given) <= 360):
        raise BadInput(f'"{text}" is no {words}. Write degrees, as in 240.', where)
