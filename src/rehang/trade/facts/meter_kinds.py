"""The kinds of meter: what each needs on file, what it is worth and the band of a reading on it.

A new kind is a class here, named in ``METER_KINDS``, its case in bench/meters.py, which a test tries,
and its line in docs/explanation/calls-and-verdicts.md.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import hypot
from types import MappingProxyType
from typing import TYPE_CHECKING

from rehang.calc import uncertainty
from rehang.trade.facts.bands import Band, arc_band, trapezoid
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import Quantity, show_record

if TYPE_CHECKING:
    from rehang.trade.facts.meters import Meter, MeterRange

__all__ = ["METER_KINDS", "Kind"]


class Kind:
    """One kind of meter. What is said here holds unless the kind says otherwise.

    ``needs`` and ``range_needs`` are the keys it cannot do without. ``quantity`` is the only one
    that it measures, where there is one; a kind that is ``no_number`` measures none.
    """

    name = ""
    needs: tuple[str, ...] = ()
    range_needs: tuple[str, ...] = ("name", "top", "count")
    quantity = ""
    no_number = False
    # A wire goes or it does not: the value lies between one that goes and one that does not.
    goes_between = False
    # It sets a torque, and is worth what its maker states at the setting.
    tightens = False
    # It states U of its certificate, which its repeatability is no part of.
    states_u = False
    # What it is for where its file does not say, by the check sheets' words.
    uses: tuple[str, ...] = ()

    def worth(self, meter: Meter, quantity: Quantity) -> str:
        """What a meter of this kind is good to, in words."""
        return meter.note

    def band(self, meter: Meter, value: float, range_name: str) -> Band:
        """The band of a reading in base steps."""
        raise BadInput(f"{meter.id} is a {self.name}; it does not give a number.")

    def band_between(self, meter: Meter, low: float, high: float) -> Band:
        """The band of a value that lies between two, both stated."""
        return Band("uniform", (low + high) / 2, float(low), float(high))

    def last_digit(self, meter: Meter, range_name: str) -> float:
        """The step of the last digit that can be read."""
        return meter.resolution

    def how_wrong(self, meter: Meter) -> float:
        """Above 0 where a reading may be off at all; no call may be certain."""
        return (
            meter.accuracy
            + meter.resolution
            + meter.expanded
            + meter.percent_of_full_scale * meter.full_scale
        )

    def fault(self, meter: Meter) -> tuple[str, str] | None:
        """What such a meter says against itself: the key (or none) and the sentence."""
        return None


def _the_range(meter: Meter, name: str) -> MeterRange:
    one = meter.range(name)
    assert one is not None
    return one


class Digital(Kind):
    """Per cent of reading and counts, by range. A coarser resolution on file governs the count."""

    name = "digital"
    needs = ("range",)

    def worth(self, meter: Meter, quantity: Quantity) -> str:
        one = meter.ranges[0]
        return (
            f"±{one.percent_of_reading:g} % of reading + {one.counts:g} counts of "
            f"{show_record(one.count, quantity)}"
        )

    def band(self, meter: Meter, value: float, range_name: str) -> Band:
        one = _the_range(meter, range_name)
        # DESIGN 4a, 1: per cent of reading and counts are added straight.
        a = uncertainty.digital_half_width(
            value, one.percent_of_reading / 100, one.counts, one.count
        )
        return trapezoid(value, float(a), self.last_digit(meter, range_name), meter.repeatability)

    def last_digit(self, meter: Meter, range_name: str) -> float:
        return max(meter.resolution, _the_range(meter, range_name).count)

    def how_wrong(self, meter: Meter) -> float:
        # The least of them: each range has to be good to something.
        return min(r.percent_of_reading + r.counts * r.count + r.count for r in meter.ranges)


class AnalogOhmmeter(Kind):
    """A needle: per cent of its arc, which ends at infinity."""

    name = "analog ohmmeter"
    needs = ("percent_of_arc", "range")
    range_needs = ("name", "mid_scale")

    def worth(self, meter: Meter, quantity: Quantity) -> str:
        return f"±{meter.percent_of_arc:g} % of arc"

    def band(self, meter: Meter, value: float, range_name: str) -> Band:
        mid_scale = _the_range(meter, range_name).mid_scale
        arc = meter.percent_of_arc / 100
        return arc_band(value, mid_scale, arc, meter.resolution, meter.repeatability)

    def how_wrong(self, meter: Meter) -> float:
        return meter.percent_of_arc


class Dial(Kind):
    """Per cent of full scale."""

    name = "dial"
    needs = ("full_scale", "percent_of_full_scale")

    def worth(self, meter: Meter, quantity: Quantity) -> str:
        return f"±{meter.percent_of_full_scale:g} % of full scale"

    def band(self, meter: Meter, value: float, range_name: str) -> Band:
        a = meter.full_scale * meter.percent_of_full_scale / 100
        return trapezoid(value, a, meter.resolution, meter.repeatability)


class PlusOrMinus(Kind):
    """A hard limit either side."""

    name = "plus or minus"
    needs = ("accuracy",)

    def worth(self, meter: Meter, quantity: Quantity) -> str:
        return f"±{show_record(meter.accuracy, quantity)}"

    def band(self, meter: Meter, value: float, range_name: str) -> Band:
        return trapezoid(value, meter.accuracy, meter.resolution, meter.repeatability)


class Certificate(Kind):
    """U and k of a certificate: normal."""

    name = "certificate"
    needs = ("expanded", "coverage")
    states_u = True

    def worth(self, meter: Meter, quantity: Quantity) -> str:
        return f"U = {show_record(meter.expanded, quantity)}, k = {meter.coverage:g}"

    def band(self, meter: Meter, value: float, range_name: str) -> Band:
        # DESIGN 4b, 12: the repeatability adds to a certificate's U as well.
        u = hypot(meter.expanded / meter.coverage, meter.repeatability)
        return trapezoid(value, 0.0, meter.resolution, u)


class Wires(Kind):
    """Wires that go and do not go, a step apart."""

    name = "wires"
    needs = ("step",)
    goes_between = True
    uses = ("gap",)

    def worth(self, meter: Meter, quantity: Quantity) -> str:
        return f"go and no-go in steps of {show_record(meter.step, quantity)}"

    def band(self, meter: Meter, value: float, range_name: str) -> Band:
        # DESIGN 4a, 7: 18 on a one-thou set says that 18 goes and 19 does not.
        return self.band_between(meter, value, value + meter.step)

    def band_between(self, meter: Meter, low: float, high: float) -> Band:
        # DESIGN 4a, 1: uniform between the wires; what else is on file is laid on it.
        if not (meter.resolution or meter.repeatability):
            return super().band_between(meter, low, high)
        half = (high - low) / 2
        return trapezoid((low + high) / 2, half, meter.resolution, meter.repeatability)

    def how_wrong(self, meter: Meter) -> float:
        return meter.step


class TorqueWrench(Kind):
    """A hard limit either side, of the reading, of full scale or flat, as its maker states it.

    What is stated adds up (DESIGN 4a, 1).
    """

    name = "torque wrench"
    needs = ("lowest", "highest")
    quantity = "torque"
    tightens = True

    def worth(self, meter: Meter, quantity: Quantity) -> str:
        reading, scale = meter.percent_of_reading, meter.percent_of_full_scale
        stated = (
            f"±{reading:g} % of reading" if reading else "",
            f"±{scale:g} % of full scale" if scale else "",
            f"±{show_record(meter.accuracy, quantity)}" if meter.accuracy else "",
        )
        return " + ".join(one for one in stated if one)

    def band(self, meter: Meter, value: float, range_name: str) -> Band:
        a = (
            value * meter.percent_of_reading / 100
            + (meter.highest or 0) * meter.percent_of_full_scale / 100
            + meter.accuracy
        )
        return trapezoid(value, a, meter.resolution, meter.repeatability)

    def how_wrong(self, meter: Meter) -> float:
        # One that states none is refused below, in words of its own.
        return 1.0

    def fault(self, meter: Meter) -> tuple[str, str] | None:
        if not meter.worth:
            return "", (
                f'{meter.id} states no accuracy. Give "percent_of_reading", '
                '"percent_of_full_scale" or "accuracy", from its certificate.'
            )
        if not 0 < meter.lowest < (meter.highest or 0):
            ends = [
                show_record(end or 0, meter.quantity)
                for end in (meter.lowest, meter.highest)
                if meter.quantity
            ]
            return "lowest", (
                f"{meter.id} goes from {ends[0]} to {ends[1]}. Write the lowest torque on its "
                "scale, above 0, and the highest."
            )
        return None


class Tester(Kind):
    """Gives a grade and no number."""

    name = "tester"
    no_number = True

    def how_wrong(self, meter: Meter) -> float:
        # A grade has no band.
        return 1.0


METER_KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        kind.name: kind
        for kind in (
            Digital(),
            AnalogOhmmeter(),
            Dial(),
            PlusOrMinus(),
            Certificate(),
            Wires(),
            TorqueWrench(),
            Tester(),
        )
    }
)
