"""Meters: what each one can tell, and what a reading on it may truly be."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import cache
from math import hypot, inf, sqrt
from typing import Annotated, Any, ClassVar

from pydantic import Field

from rehang.calc import uncertainty
from rehang.trade.declared.amounts import Amount
from rehang.trade.declared.taken import Where, inside, only, read, tables
from rehang.trade.declared.values import STRICT, Day, Flag, ListOf, Number, OneOf, Text
from rehang.trade.facts.bands import Band, describe_band, trapezoid
from rehang.trade.facts.meter_kinds import METER_KINDS, Kind
from rehang.trade.terms.conversions import inches_of
from rehang.trade.terms.days import last_day
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import QUANTITIES, Quantity, parse_amount
from rehang.trade.terms.wording import accuracy_not_known, on_day, written_day

__all__ = [
    "METER_KINDS",
    "Band",
    "Meter",
    "MeterRange",
    "MetersFile",
    "band_of",
    "change_band",
    "describe_band",
    "least_at_rest",
    "meter_from",
    "meters_from",
    "range_words",
]


def _factor(given: float) -> Decimal:
    return Decimal(int(given)) if given == int(given) else Decimal(str(given))


def _good_day(text: str) -> str:
    if text:
        last_day(text)
    return text


def _orifice(text: str) -> str:
    if text.strip():
        inches_of(text.strip())
    return text.strip()


def _uses(text: str) -> tuple[str, ...]:
    return tuple(word.strip() for word in text.split(",") if word.strip())


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterRange:
    """One range of a meter, in base steps; ``top`` is None where the scale ends at infinity."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "A range"
    # Asked for by the kind of meter, in a sentence that names the meter.
    __more__: ClassVar[Mapping[str, object]] = {"required": ["name"]}

    name: Annotated[str, Text(), Field(title="Range")] = ""
    top: Annotated[
        int | None,
        Amount("The largest value it shows.", above_zero=True),
        Field(title="Largest shown"),
    ] = None
    percent_of_reading: Annotated[float, Number(0, 100), Field(title="Per cent of reading")] = 0.0
    counts: Annotated[float, Number(0, 10_000)] = 0.0
    count: Annotated[
        float,
        Amount("Worth of the last digit.", above_zero=True, into=float),
        Field(title="Worth of the last digit"),
    ] = 0.0
    factor: Annotated[
        Decimal,
        Number(
            most=1_000_000,
            above=0,
            description="What the scale is multiplied by.",
            parse=_factor,
        ),
        Field(title="Times"),
    ] = Decimal(1)
    mid_scale: Annotated[
        float,
        Amount("Resistance at the middle of the arc.", above_zero=True, into=float),
        Field(title="Middle of the arc"),
    ] = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """A measuring instrument. All amounts are in base steps of ``quantity``.

    ``entered_on`` is the day its calibration was put in, from which it counts (DESIGN 4b, 15);
    None: always.
    """

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "A meter"

    id: Annotated[str, Text(needed=True), Field(title="Id on the meter")]
    name: Annotated[str, Text()] = ""
    kind: Annotated[
        str,
        OneOf(
            tuple(METER_KINDS),
            needed=True,
            wrong='"{given}" is not a kind of meter. Known: {options}.',
        ),
        Field(title="Kind of meter"),
    ]
    quantity: Annotated[
        Quantity | None,
        OneOf(
            tuple(QUANTITIES),
            wrong='Meter {id} needs "quantity", one of {options}.',
            parse=QUANTITIES.__getitem__,
        ),
        Field(title="Measures"),
    ] = None
    keyed: Annotated[
        str, Text("Unit a bare number takes on this meter."), Field(title="Unit it shows")
    ] = ""
    due_text: Annotated[
        str,
        Text(
            "Calibration due: 2027-01-31, 2027-01 or 2027-Q1. None: no calibration on record.",
            also=(date,),
            parse=_good_day,
        ),
        Field(alias="due", title="Calibration due"),
    ] = ""
    calibrated_by: Annotated[str, Text()] = ""
    entered_on: Annotated[
        date | None,
        Day("The day its calibration was put in. Before it none is on record."),
        Field(title="Calibration put in on"),
    ] = None
    note: Annotated[str, Text()] = ""
    accuracy: Annotated[float, Amount(into=float), Field(title="Good to plus or minus")] = 0.0
    resolution: Annotated[float, Amount(into=float), Field(title="Smallest step")] = 0.0
    repeatability: Annotated[float, Amount(into=float)] = 0.0
    expanded: Annotated[
        float,
        Amount("Expanded uncertainty, as its certificate states it.", above_zero=True, into=float),
        Field(title="Uncertainty on its certificate"),
    ] = 0.0
    coverage: Annotated[
        float,
        Number(most=10, above=0, description="As its certificate states it, as in 2."),
        Field(title="Coverage factor on its certificate"),
    ] = 1.0
    step: Annotated[
        float,
        Amount("From one wire to the next.", above_zero=True, into=float),
        Field(title="Step from wire to wire"),
    ] = 0.0
    full_scale: Annotated[float, Amount(above_zero=True, into=float)] = 0.0
    percent_of_reading: Annotated[
        float,
        Number(
            most=100,
            above=0,
            description="Of a torque wrench; a digital meter states it by range.",
        ),
        Field(title="Per cent of reading"),
    ] = 0.0
    percent_of_full_scale: Annotated[
        float, Number(most=100, above=0), Field(title="Per cent of full scale")
    ] = 0.0
    percent_of_arc: Annotated[
        float, Number(most=50, above=0), Field(title="Per cent of the arc")
    ] = 0.0
    lowest: Annotated[int, Amount()] = 0
    highest: Annotated[int | None, Amount()] = None
    orifice: Annotated[
        str,
        Text("Restrictor of a compression tester, as in 0.040 in.", parse=_orifice),
        Field(title="Restrictor"),
    ] = ""
    master_mm2: Annotated[
        float,
        Number(
            most=100,
            above=0,
            description="Effective area of its master orifice in mm², by the master's certificate.",
        ),
        Field(title="Area of its master orifice, mm²"),
    ] = 0.0
    master_u_mm2: Annotated[
        float,
        Number(most=100, above=0, description="Standard uncertainty of that area in mm²."),
        Field(title="Uncertainty of that area, mm²"),
    ] = 0.0
    use: Annotated[
        tuple[str, ...],
        Text(
            "What it is for, by the check sheets' words, as in gap or clearance; several set apart "
            "by commas. One with an orifice is for compression, wires for gap.",
            parse=_uses,
        ),
        Field(title="What it is for"),
    ] = ()
    accuracy_not_known: Annotated[
        bool,
        Flag("Nobody can say what it is good to: what it measures is NOT READ."),
        Field(title="Its accuracy is not known"),
    ] = False
    ranges: Annotated[
        tuple[MeterRange, ...], ListOf(MeterRange), Field(alias="range", title="Ranges")
    ] = ()

    @property
    def way(self) -> Kind:
        """Its kind, and what such meters do alike."""
        return METER_KINDS[self.kind]

    @property
    def due(self) -> date | None:
        """The last day of its calibration; None where none is on record."""
        return _last_day(self.due_text) if self.due_text else None

    @property
    def worth(self) -> str:
        """What the meter is good to, in words."""
        if self.accuracy_not_known:
            return "accuracy not known"
        return self.way.worth(self, self.quantity) if self.quantity else self.note

    def as_of(self, on: date) -> "Meter":
        """The meter as it was on file on a day: with no calibration that was put in after it."""
        if self.entered_on is None or self.entered_on <= on:
            return self
        # The meter stays and its certificate goes: none on record, which blocks (DESIGN 4).
        return replace(self, due_text="", calibrated_by="")

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
        # DESIGN 4b, 12: chosen by the person, never guessed.
        if not name:
            raise BadInput(
                f"{self.id} has several ranges ({names}). Say which one was used.", where
            )
        raise BadInput(f'{self.id} has no range "{name}". Its ranges are {names}.', where)

    def standing(self, on: date) -> str:
        """Empty when in date on that day; otherwise why its readings are not proved."""
        if self.due is None:
            return f"{self.id} has no calibration on record"
        # DESIGN 4a, 14: the due day itself is still good.
        if on > self.due:
            return (
                f"{self.id} was past its calibration date ({written_day(self.due_text)}) "
                f"on {on_day(on)}"
            )
        return ""


# A long book asks thousands of times for the same few days.
_last_day = cache(last_day)


@dataclass(frozen=True, slots=True, kw_only=True)
class MetersFile:
    """``meters.toml``."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "meters.toml"
    __words__: ClassVar[str] = "Meters and what each is good to."

    meter: Annotated[tuple[Meter, ...], ListOf(Meter)] = ()


def band_of(
    meter: Meter, value: float, range_name: str = "", between: tuple[int, int] | None = None
) -> Band:
    """The band of a reading in base steps; ``between`` states both wires of a go/no-go set.

    Raises
    ------
    BadInput
        The meter gives no number, or nobody knows what it is good to.
    """
    _check_knows(meter)
    if between is not None:
        return meter.way.band_between(meter, *between)
    return meter.way.band(meter, value, range_name)


def change_band(meter: Meter, value: float, range_name: str = "") -> Band:
    """The band of a difference of two readings on one meter, taken close together.

    The meter's own error is the same both times and cancels; its least digit and its
    repeatability do not, so each counts twice (JCGM 100:2008, 5.2.2 and F.1.2.3 for what is
    shared). A meter with no least digit on file is taken at its whole accuracy.
    """
    _check_knows(meter)
    d = meter.way.last_digit(meter, range_name)
    twice = sqrt(2) * meter.repeatability
    if d > 0:
        # Two rectangles one digit wide: together the triangle of a difference.
        return trapezoid(value, d / 2, d, twice)
    whole = band_of(meter, value, range_name)
    if not meter.repeatability or whole.shape not in ("trapezoid", "normal"):
        return whole
    return trapezoid(value, whole.a, whole.d, hypot(whole.u, meter.repeatability))


def _check_knows(meter: Meter) -> None:
    if meter.accuracy_not_known:
        raise BadInput(accuracy_not_known(meter.id))


def least_at_rest(meter: Meter, one: MeterRange) -> float:
    """The least resistance that an analog ohmmeter's accuracy allows while its needle rests."""
    return float(uncertainty.arc_band(inf, one.mid_scale, meter.percent_of_arc / 100)[0])


@dataclass(frozen=True, slots=True)
class _Steps:
    """Reads the amounts of one meter, in steps of what it measures."""

    id: str
    kind: Kind | None
    quantity: Quantity | None

    def steps(self, text: str, key: str, *, above_zero: bool) -> int:
        if self.quantity is None:
            if self.kind is not None and self.kind.no_number:
                raise BadInput(f'A meter of kind "{self.kind.name}" takes no "{key}".')
            # What it measures is asked for first.
            return 1
        found = parse_amount(text, self.quantity)
        if found < 0 or (above_zero and found == 0):
            least = "must be above 0" if above_zero else "cannot be below 0"
            raise BadInput(f'"{key}" of {self.id} {least}: got {text}.')
        return found


def meter_from(raw: Mapping[str, Any], where: Where = lambda *keys: "") -> Meter:
    """A meter from ``meters.toml``; what its kind needs is asked for by name.

    Raises
    ------
    BadInput
        With the place, for the first thing that cannot be.
    """
    given = raw.get("kind")
    kind = METER_KINDS.get(given) if isinstance(given, str) else None
    quantity = None
    if kind is not None and not kind.no_number:
        quantity = QUANTITIES.get(kind.quantity or str(raw.get("quantity")))
    meter = read(Meter, raw, where, _Steps(str(raw.get("id")), kind, quantity))
    _check_kind(meter, raw, where)
    meter = replace(meter, name=meter.name or meter.id, quantity=quantity)
    if meter.accuracy_not_known:
        return meter
    # DESIGN 4, Call: never zero.
    if not meter.way.how_wrong(meter) > 0:
        raise BadInput(
            f"Meter {meter.id} states no accuracy and no resolution. "
            "Every meter is good to something: state it.",
            where(),
        )
    fault = meter.way.fault(meter)
    if fault is not None:
        key, sentence = fault
        raise BadInput(sentence, where(key) if key else where())
    return meter


def meters_from(raw: Mapping[str, Any], where: Where) -> dict[str, Meter]:
    """The meters by their ids, from ``meters.toml``."""
    only(raw, ("meter",), "meters.toml", where)
    found: dict[str, Meter] = {}
    for number, one in enumerate(tables("meter", raw, where)):
        meter = meter_from(one, inside(where, "meter", number))
        if meter.id in found:
            raise BadInput(
                f'There are two meters "{meter.id}". Give each its own id.',
                where("meter", number, "id"),
            )
        found[meter.id] = meter
    return found


def _check_kind(meter: Meter, raw: Mapping[str, Any], where: Where) -> None:
    """Refuse a meter that measures what its kind does not, or lacks what its kind needs."""
    kind, measured = meter.way, meter.quantity.name if meter.quantity else ""
    if kind.quantity and measured not in ("", kind.quantity):
        raise BadInput(
            f"{meter.id} is a {kind.name} and measures {kind.quantity}, not {measured}.",
            where("quantity"),
        )
    if not (kind.quantity or kind.no_number or measured):
        raise BadInput(
            f'Meter {meter.id} needs "quantity", one of {", ".join(QUANTITIES)}.',
            where("quantity"),
        )
    if meter.accuracy_not_known:
        # What it would need is what nobody knows.
        return
    for key in kind.needs:
        if key not in raw or raw[key] == []:
            raise BadInput(
                f'A meter of kind "{kind.name}" needs "{key}"; {meter.id} has none.', where()
            )
    for one in raw.get("range", []):
        for key in kind.range_needs:
            if key not in one:
                raise BadInput(f'A range of {meter.id} needs "{key}".', where("range"))


def range_words(name: str) -> str:
    """A range as it is written beside a meter: x10 is ×10."""
    return f"×{name[1:]}" if name[:1] == "x" and name[1:2].isdigit() else name
