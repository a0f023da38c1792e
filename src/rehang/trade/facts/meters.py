"""Meters: what each one can tell, and what a reading on it may truly be.

A band is the distribution of the true value given the reading, by the rules of
docs/explanation/calls-and-verdicts.md: a stated
plus-or-minus is a hard limit, the last digit is a second rectangle, a stated U with k is
normal, wires that go and do not go leave the value anywhere between, and an analog ohmmeter
is plus-or-minus on its arc. Resolution and repeatability add to every kind (DESIGN 4b, 12).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from math import hypot, inf, sqrt
from typing import Any

from rehang.calc import conformity, spread, uncertainty
from rehang.trade.terms.conversions import inches_of
from rehang.trade.terms.entries import last_day
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import QUANTITIES, Quantity, parse_amount, show, show_record
from rehang.trade.terms.wording import on_day, written_day

__all__ = [
    "METER_KINDS",
    "Band",
    "Meter",
    "MeterRange",
    "band_of",
    "change_band",
    "describe_band",
    "least_at_rest",
    "meter_from",
    "range_words",
]

Where = Callable[..., str]
METER_KINDS = (
    "digital",
    "analog ohmmeter",
    "dial",
    "plus or minus",
    "certificate",
    "wires",
    "torque wrench",
    "tester",
)


@dataclass(frozen=True, slots=True)
class MeterRange:
    """One range of a meter.

    ``top`` is the largest value it shows (base steps; None where the scale ends at infinity),
    ``count`` the worth of its last digit, ``factor`` what the scale is multiplied by and
    ``mid_scale`` the resistance at the middle of an ohmmeter's arc.
    """

    name: str
    top: int | None
    percent_of_reading: float
    counts: float
    count: float
    factor: Decimal
    mid_scale: float


@dataclass(frozen=True, slots=True)
class Meter:
    """A measuring instrument. All amounts are in base steps of ``quantity``.

    ``use`` names what it is for, by the check sheets' words ("gap", "clearance"). ``entered_on`` is
    the day its calibration was put in, from which it counts (DESIGN 4b, 15); None: always.
    """

    id: str
    name: str
    kind: str
    quantity: Quantity | None
    ranges: tuple[MeterRange, ...]
    percent_of_arc: float
    percent_of_full_scale: float
    full_scale: float
    accuracy: float
    resolution: float
    repeatability: float
    expanded: float
    coverage: float
    step: float
    keyed: str
    due: date | None
    due_text: str
    calibrated_by: str
    note: str
    lowest: int = 0
    highest: int | None = None
    orifice: str = ""
    use: tuple[str, ...] = ()
    percent_of_reading: float = 0.0
    entered_on: date | None = None

    def as_of(self, on: date) -> Meter:
        """The meter as it was on file on a day: with no calibration that was put in after it."""
        if self.entered_on is None or self.entered_on <= on:
            return self
        return replace(self, due=None, due_text="", calibrated_by="")

    def range(self, name: str = "", where: str = "") -> MeterRange | None:
        """The range of that name; the only one when there is one; None for a meter with none."""
        if not self.ranges:
            if name:
                raise BadInput(f'{self.id} has no ranges, so not "{name}".', where)
            return None
        if not name and len(self.ranges) == 1:
            return self.ranges[0]
        for one in self.ranges:
            if one.name == name:
                return one
        names = ", ".join(r.name for r in self.ranges)
        if not name:
            raise BadInput(
                f"{self.id} has several ranges ({names}). Say which one was used.", where
            )
        raise BadInput(f'{self.id} has no range "{name}". Its ranges are {names}.', where)

    def standing(self, on: date) -> str:
        """Empty when in date on that day; otherwise why its readings are not proved."""
        if self.due is None:
            return f"{self.id} has no calibration on record"
        if on > self.due:
            return (
                f"{self.id} was past its calibration date ({written_day(self.due_text)}) "
                f"on {on_day(on)}"
            )
        return ""

    @property
    def worth(self) -> str:
        """What the meter is good to, in words."""
        q = self.quantity
        match self.kind:
            case "digital":
                r = self.ranges[0]
                return f"±{r.percent_of_reading:g} % of reading + {r.counts:g} counts" + (
                    f" of {show_record(r.count, q)}" if q else ""
                )
            case "analog ohmmeter":
                return f"±{self.percent_of_arc:g} % of arc"
            case "dial":
                return f"±{self.percent_of_full_scale:g} % of full scale"
            case "plus or minus" if q:
                return f"±{show_record(self.accuracy, q)}"
            case "certificate" if q:
                return f"U = {show_record(self.expanded, q)}, k = {self.coverage:g}"
            case "torque wrench" if q:
                stated = (
                    f"±{self.percent_of_reading:g} % of reading" if self.percent_of_reading else "",
                    f"±{self.percent_of_full_scale:g} % of full scale"
                    if self.percent_of_full_scale
                    else "",
                    f"±{show_record(self.accuracy, q)}" if self.accuracy else "",
                )
                return " + ".join(one for one in stated if one)
            case "wires" if q:
                return f"go and no-go in steps of {show_record(self.step, q)}"
        return self.note


@dataclass(frozen=True, slots=True)
class Band:
    """The true value's distribution given one reading, in base steps.

    ``low`` and ``high`` are its ends; a normal part counts with two standard uncertainties.
    ``a`` and ``d`` are the stated accuracy's half width and the last digit's step, ``u`` the
    standard uncertainty of the normal part.
    """

    shape: str
    centre: float
    low: float
    high: float
    a: float = 0.0
    d: float = 0.0
    u: float = 0.0
    mid_scale: float = 0.0
    arc: float = 0.0

    @property
    def width(self) -> float:
        return self.high - self.low

    @property
    def standard_uncertainty(self) -> float:
        """Of the whole band, its parts added as squares (JCGM 100:2008, 4.3.7 and 5.1.2)."""
        if self.shape in ("trapezoid", "normal"):
            return sqrt(self.a**2 / 3 + self.d**2 / 12 + self.u**2)
        return self.width / sqrt(12.0)

    def p_inside(self, lower: float | None, upper: float | None) -> float:
        """Probability that the true value is within the limits, to twelve digits.

        Rounded there so that the noise of floating point never moves a call over a threshold.
        """
        lo = -inf if lower is None else float(lower)
        hi = inf if upper is None else float(upper)
        match self.shape:
            case "trapezoid":
                p = spread.p_inside_spread(self.centre, self.a, self.d, self.u, lo, hi)
            case "normal":
                p = conformity.p_inside_normal(self.centre, self.u, lo, hi)
            case "uniform":
                p = conformity.p_inside_uniform(self.low, self.high, lo, hi)
            case "arc":
                p = spread.p_inside_arc_spread(
                    self.centre, self.mid_scale, self.arc, self.d, self.u, lo, hi
                )
            case _:
                raise AssertionError(self.shape)
        return round(float(p), 12)


def band_of(
    meter: Meter, value: float, range_name: str = "", between: tuple[int, int] | None = None
) -> Band:
    """The band of a reading in base steps; ``between`` states both wires of a go/no-go set."""
    d, u = meter.resolution, meter.repeatability
    if between is not None or meter.kind == "wires":
        low, high = between if between is not None else (value, value + meter.step)
        if meter.kind != "wires" or not (d or u):
            return Band("uniform", (low + high) / 2, float(low), float(high))
        return _trapezoid((low + high) / 2, (high - low) / 2, d, u)
    match meter.kind:
        case "digital":
            one = meter.range(range_name)
            assert one is not None
            a = float(
                uncertainty.digital_half_width(
                    value, one.percent_of_reading / 100, one.counts, one.count
                )
            )
            return _trapezoid(value, a, _last_digit(meter, one), u)
        case "analog ohmmeter":
            one = meter.range(range_name)
            assert one is not None
            return _arc_band(value, one.mid_scale, meter.percent_of_arc / 100, d, u)
        case "dial":
            return _trapezoid(value, meter.full_scale * meter.percent_of_full_scale / 100, d, u)
        case "plus or minus":
            return _trapezoid(value, meter.accuracy, d, u)
        case "torque wrench":
            # A hard limit either side, of the reading, of full scale or flat, as its maker states
            # it (DESIGN 4a, 1): what is stated adds up.
            a = (
                value * meter.percent_of_reading / 100
                + (meter.highest or 0) * meter.percent_of_full_scale / 100
                + meter.accuracy
            )
            return _trapezoid(value, a, d, u)
        case "certificate":
            return _trapezoid(value, 0.0, d, hypot(meter.expanded / meter.coverage, u))
    raise BadInput(f"{meter.id} is a {meter.kind}; it does not give a number.")


def change_band(meter: Meter, value: float, range_name: str = "") -> Band:
    """The band of a difference of two readings on one meter, taken close together.

    The meter's own error is the same both times and cancels; its least digit and its
    repeatability do not, so each counts twice (JCGM 100:2008, 5.2.2 and F.1.2.3 for what is
    shared). A meter with no least digit on file is taken at its whole accuracy.
    """
    d = _last_digit(meter, meter.range(range_name) if meter.kind == "digital" else None)
    twice = sqrt(2) * meter.repeatability
    if d > 0:
        return _trapezoid(value, d / 2, d, twice)
    whole = band_of(meter, value, range_name)
    if not meter.repeatability or whole.shape not in ("trapezoid", "normal"):
        return whole
    return _trapezoid(value, whole.a, whole.d, hypot(whole.u, meter.repeatability))


def least_at_rest(meter: Meter, one: MeterRange) -> float:
    """The least resistance that an analog ohmmeter's accuracy allows while its needle rests."""
    return float(uncertainty.arc_band(inf, one.mid_scale, meter.percent_of_arc / 100)[0])


def _last_digit(meter: Meter, one: MeterRange | None) -> float:
    """A digital range's count is its resolution; a coarser one on file governs."""
    return max(meter.resolution, one.count if one is not None else 0.0)


def _trapezoid(value: float, a: float, d: float, u: float) -> Band:
    """Two rectangles and a normal, added: exact, whichever of them is the widest."""
    if not (a or d):
        return Band("normal", value, value - 2 * u, value + 2 * u, u=u)
    half = a + d / 2 + 2 * u
    return Band("trapezoid", value, value - half, value + half, a=a, d=d, u=u)


def _arc_band(value: float, mid_scale: float, arc: float, d: float, u: float) -> Band:
    f = float(uncertainty.arc_fraction(value, mid_scale))
    whole = arc + (d / 2 + 2 * u) * f**2 / mid_scale
    ends = uncertainty.arc_band(value, mid_scale, min(whole, 1 - 1e-9))
    return Band(
        "arc", value, float(ends[0]), float(ends[1]), d=d, u=u, mid_scale=mid_scale, arc=arc
    )


_METER_KEYS = {
    "id", "name", "kind", "quantity", "range", "percent_of_arc", "percent_of_full_scale",
    "full_scale", "accuracy", "resolution", "repeatability", "expanded", "coverage", "step",
    "keyed", "due", "calibrated_by", "note", "lowest", "highest", "orifice", "use",
    "percent_of_reading", "entered_on",
}  # fmt: skip
# Amounts that a reading is divided by, or that a scale ends at. "lowest" may be below 0.
_ABOVE_ZERO = ("top", "count", "mid_scale", "full_scale", "expanded", "step")
_RANGE_KEYS = {"name", "top", "percent_of_reading", "counts", "count", "factor", "mid_scale"}


def meter_from(raw: Mapping[str, Any], where: Where = lambda *keys: "") -> Meter:
    """A meter from ``meters.toml``; what its kind needs is asked for by name."""
    for key in raw:
        if key not in _METER_KEYS:
            raise BadInput(
                f'A meter has no "{key}". It has {", ".join(sorted(_METER_KEYS))}.', where(key)
            )
    for key in ("id", "kind"):
        if not raw.get(key):
            raise BadInput(f'A meter needs "{key}".', where())
    kind = raw["kind"]
    if kind not in METER_KINDS:
        raise BadInput(
            f'"{kind}" is not a kind of meter. Known: {", ".join(METER_KINDS)}.', where("kind")
        )
    quantity: Quantity | None = None
    if kind == "torque wrench":
        if raw.get("quantity", "torque") != "torque":
            raise BadInput(
                f"{raw['id']} is a torque wrench and measures torque, not {raw['quantity']}.",
                where("quantity"),
            )
        quantity = QUANTITIES["torque"]
    elif kind != "tester":
        if raw.get("quantity") not in QUANTITIES:
            raise BadInput(
                f'Meter {raw["id"]} needs "quantity", one of {", ".join(QUANTITIES)}.',
                where("quantity"),
            )
        quantity = QUANTITIES[raw["quantity"]]
    needs = {
        "digital": ("range",),
        "analog ohmmeter": ("percent_of_arc", "range"),
        "dial": ("full_scale", "percent_of_full_scale"),
        "plus or minus": ("accuracy",),
        "certificate": ("expanded", "coverage"),
        "wires": ("step",),
        "torque wrench": ("lowest", "highest"),
        "tester": (),
    }[kind]
    for key in needs:
        if key not in raw or raw[key] == []:
            raise BadInput(
                f'A meter of kind "{kind}" needs "{key}"; {raw["id"]} has none.', where()
            )

    def amount(key: str, given: Mapping[str, Any] = raw) -> float:
        if key not in given:
            return 0.0
        if quantity is None:
            raise BadInput(f'A meter of kind "{kind}" takes no "{key}".', where(key))
        found = float(parse_amount(str(given[key]), quantity, where=where(key)))
        if found < 0 or (found == 0 and key in _ABOVE_ZERO):
            least = "must be above 0" if key in _ABOVE_ZERO else "cannot be below 0"
            raise BadInput(f'"{key}" of {raw["id"]} {least}: got {given[key]}.', where(key))
        return found

    ranges = []
    for one in raw.get("range", []):
        for key in one:
            if key not in _RANGE_KEYS:
                raise BadInput(
                    f'A range has no "{key}". It has {", ".join(sorted(_RANGE_KEYS))}.', where(key)
                )
        must = ("name", "mid_scale") if kind == "analog ohmmeter" else ("name", "top", "count")
        for key in must:
            if key not in one:
                raise BadInput(f'A range of {raw["id"]} needs "{key}".', where("range"))
        ranges.append(
            MeterRange(
                name=one["name"],
                top=int(amount("top", one)) if "top" in one else None,
                percent_of_reading=float(one.get("percent_of_reading", 0)),
                counts=float(one.get("counts", 0)),
                count=amount("count", one),
                factor=Decimal(str(one.get("factor", 1))),
                mid_scale=amount("mid_scale", one),
            )
        )
    due = raw.get("due", "")
    due_text = due.isoformat() if isinstance(due, date) else str(due)
    entered_on = raw.get("entered_on")
    if entered_on is not None and type(entered_on) is not date:
        raise BadInput(
            f'"entered_on" of {raw["id"]} is {entered_on!r}. Write a date without quotes, as in '
            "2026-10-05.",
            where("entered_on"),
        )
    positive = {
        "percent_of_arc": raw.get("percent_of_arc"),
        "coverage": raw.get("coverage"),
        "percent_of_full_scale": raw.get("percent_of_full_scale"),
        "percent_of_reading": raw.get("percent_of_reading"),
    }
    for key, number in positive.items():
        if number is not None and not number > 0:
            raise BadInput(f'"{key}" of {raw["id"]} must be above 0: got {number}.', where(key))
    meter = Meter(
        id=raw["id"],
        name=raw.get("name", raw["id"]),
        kind=kind,
        quantity=quantity,
        ranges=tuple(ranges),
        percent_of_arc=float(raw.get("percent_of_arc", 0)),
        percent_of_full_scale=float(raw.get("percent_of_full_scale", 0)),
        full_scale=amount("full_scale"),
        accuracy=amount("accuracy"),
        resolution=amount("resolution"),
        repeatability=amount("repeatability"),
        expanded=amount("expanded"),
        coverage=float(raw.get("coverage", 1)),
        step=amount("step"),
        keyed=raw.get("keyed", ""),
        due=last_day(due_text, where("due")) if due_text else None,
        due_text=due_text,
        calibrated_by=raw.get("calibrated_by", ""),
        note=raw.get("note", ""),
        lowest=int(amount("lowest")),
        highest=int(amount("highest")) if "highest" in raw else None,
        orifice=_orifice(raw, where),
        use=_words(raw.get("use", ""), where("use")),
        percent_of_reading=float(raw.get("percent_of_reading", 0)),
        entered_on=entered_on,
    )
    _check_it_can_be_wrong(meter, where)
    if kind == "torque wrench" and min(meter.accuracy, meter.resolution, meter.repeatability) < 0:
        raise BadInput(
            f"{meter.id} states an accuracy, resolution or repeatability below 0. Write how far it "
            "may be off, without a sign.",
            where(),
        )
    if kind == "torque wrench" and not meter.worth:
        raise BadInput(
            f'{meter.id} states no accuracy. Give "percent_of_reading", "percent_of_full_scale" or '
            '"accuracy", from its certificate.',
            where(),
        )
    if kind == "torque wrench" and not 0 < meter.lowest < (meter.highest or 0):
        raise BadInput(
            f"{meter.id} goes from {raw['lowest']} to {raw['highest']}. Write the lowest torque on "
            "its scale, above 0, and the highest.",
            where("lowest"),
        )
    return meter


def _orifice(raw: Mapping[str, Any], where: Where) -> str:
    text = str(raw.get("orifice", "")).strip()
    if text:
        inches_of(text, where("orifice"))
    return text


def _words(given: Any, where: str) -> tuple[str, ...]:
    """``"gap, clearance"`` as its words."""
    if not isinstance(given, str):
        raise BadInput('"use" is text, its words set apart by commas, as in "gap".', where)
    return tuple(word.strip() for word in given.split(",") if word.strip())


def _check_it_can_be_wrong(meter: Meter, where: Where) -> None:
    """A meter with no uncertainty at all would make every call certain."""
    if meter.kind in ("wires", "tester", "analog ohmmeter", "torque wrench"):
        worth: float = 1.0
    elif meter.kind == "digital":
        worth = min(r.percent_of_reading + r.counts * r.count + r.count for r in meter.ranges)
    else:
        worth = (
            meter.accuracy
            + meter.resolution
            + meter.expanded
            + meter.percent_of_full_scale * meter.full_scale
        )
    if not worth > 0:
        raise BadInput(
            f"Meter {meter.id} states no accuracy and no resolution. "
            "Every meter is good to something: state it.",
            where(),
        )


def describe_band(band: Band, quantity: Quantity) -> str:
    """The ends of a band in words, as keyed: ``2.66 to 19.80 kΩ``."""
    low = show(max(band.low, 0), quantity)
    if band.high == inf:
        return f"{low} or more"
    return f"{low.rsplit(' ', 1)[0]} to {show(band.high, quantity)}"


def range_words(name: str) -> str:
    """A range as it is written beside a meter: x10 is ×10."""
    return f"×{name[1:]}" if name[:1] == "x" and name[1:2].isdigit() else name
