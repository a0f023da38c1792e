"""What a mechanic calls a meter, what its label says, and how that is put on file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rehang.trade.facts.items import Check
from rehang.trade.facts.meter_kinds import METER_KINDS

__all__ = ["MAKES", "Ask", "Make", "make_of", "reads"]


@dataclass(frozen=True, slots=True)
class Ask:
    """One thing that the label says. ``unit`` is what a bare number takes and stands beside it.

    ``where`` says where on the meter it stands. What ``of_accuracy`` is left out where nobody knows
    the accuracy. A key that begins with ``range.`` is of the meter's range.
    """

    key: str
    label: str
    where: str = ""
    unit: str = ""
    of_accuracy: bool = False
    needed: bool = True
    picks: tuple[tuple[str, str], ...] = ()
    first: str = ""

    @property
    def plain(self) -> bool:
        """A number with no unit."""
        return not self.unit and not self.picks and self.key not in TEXTS


# Asked for as text, and so taken as it is.
TEXTS = ("scales",)


@dataclass(frozen=True, slots=True)
class Make:
    """A meter in a mechanic's words, and the kind, quantity and use that it has on file."""

    key: str
    label: str
    kind: str
    quantity: str
    asks: tuple[Ask, ...]
    use: str = ""
    keyed: str = ""

    @property
    def has_accuracy(self) -> bool:
        return any(one.of_accuracy for one in self.asks)

    @property
    def used_for(self) -> tuple[str, ...]:
        """What it may be for, by the check sheets' words; empty for what it measures at all."""
        picks = next((one.picks for one in self.asks if one.key == "use"), ())
        own = (self.use,) if self.use else METER_KINDS[self.kind].uses
        return tuple(value for value, _ in picks) or own


def _good_to(unit: str, where: str = "On its certificate or its maker's sheet") -> Ask:
    return Ask("accuracy", "Good to ±", where, unit, of_accuracy=True)


def _step(unit: str, where: str = "From one line of the scale to the next") -> Ask:
    return Ask("resolution", "Smallest step", where, unit, needed=False)


_PRESSURES = (("oil pressure", "oil pressure"), ("fuel pressure", "fuel pressure"))

MAKES: Mapping[str, Make] = {
    one.key: one
    for one in (
        Make(
            "digital", "Digital ohmmeter", "digital", "resistance",
            (
                Ask("range.top", "Largest figure", "On the switch, as in 20k", "kohm"),
                Ask("range.count", "Worth of the last digit", "Of that range, as in 0.01", "kohm"),
                Ask("range.percent_of_reading", "Good to ± per cent", "On its sheet: the 0.8 of ±0.8 % + 2", of_accuracy=True),
                Ask("range.counts", "and last digits", "On its sheet: the 2 of ±0.8 % + 2", of_accuracy=True),
            ),
            keyed="kohm",
        ),
        Make(
            "needle", "Ohmmeter with a needle", "analog ohmmeter", "resistance",
            (
                Ask("mid_scale", "Figure at mid-scale", "On the dial, straight up, as in 20", "ohm"),
                Ask("scales", "Its ranges", "On the switch, as in ×1 ×10", first="1 10 100 1000"),
                Ask(
                    "percent_of_arc", "Good to ± per cent of the arc",
                    "Small print on the dial, as in 3", of_accuracy=True,
                ),
            ),
            keyed="ohm",
        ),
        Make(
            "wires", "Wire gauges", "wires", "length",
            (
                Ask("step", "From one wire to the next", "On the wires: 0.016 and 0.017 are 1 apart",
                    "thou", of_accuracy=True),
            ),
        ),
        Make("feelers", "Feelers", "plus or minus", "length", (_good_to("thou"),), use="clearance"),
        Make(
            "dial-gauge", "Dial gauge or caliper", "plus or minus", "length",
            (_step("thou"), _good_to("thou")),
        ),
        Make(
            "bore-gauge", "Bore gauge or micrometer", "plus or minus", "diameter",
            (_step("in"), _good_to("in")),
        ),
        Make(
            "compression", "Compression tester", "plus or minus", "pressure",
            (
                Ask("orifice", "Its orifice", "Stamped on the block or the regulator",
                    picks=(("0.040 in", "0.040 in"), ("0.060 in", "0.060 in"))),
                _step("psi"),
                _good_to("psi"),
            ),
        ),
        Make(
            "torque-wrench", "Torque wrench", "torque wrench", "torque",
            (
                Ask("lowest", "Lowest on its scale", "On the handle", "in-lb"),
                Ask("highest", "Highest on its scale", "On the handle", "in-lb"),
                Ask("percent_of_reading", "Good to ± per cent", "On its certificate, as in 4",
                    of_accuracy=True),
            ),
        ),
        Make(
            "pressure", "Pressure gauge", "dial", "pressure",
            (
                Ask("use", "It reads", picks=_PRESSURES),
                Ask("full_scale", "Full scale", "The last figure on the dial", "psi"),
                Ask("percent_of_full_scale", "Good to ± per cent of full scale",
                    "Its class on the dial, as in 2.5", of_accuracy=True),
            ),
        ),
        Make("tachometer", "Tachometer", "plus or minus", "speed", (_step("rpm"), _good_to("rpm"))),
        Make(
            "thermometer", "Oil or head thermometer", "plus or minus", "temperature",
            (_step("F"), _good_to("F")),
        ),
        Make("spark", "Spark bench", "tester", "", (), use="spark"),
        Make("leads", "Lead tester", "tester", "", (), use="leads"),
        Make(
            "timing", "Timing light or protractor", "plus or minus", "angle",
            (_good_to("deg", "From one line of the disk to the next, or its sheet"),),
        ),
        Make("clock", "Stopwatch", "plus or minus", "time", (_good_to("s"),)),
        Make(
            "electrode", "Electrode gauge", "plus or minus", "share",
            (_good_to("%", "On its sheet: per cent of a new electrode"),),
        ),
        Make(
            "certificate", "Has a calibration certificate", "certificate", "*",
            (
                Ask("expanded", "Uncertainty on the certificate", "Behind the ±", "*", of_accuracy=True),
                Ask("coverage", "Its coverage factor", "Beside it, most often 2", of_accuracy=True),
            ),
        ),
        Make("other", "Anything else with a figure", "plus or minus", "*", (_step("*"), _good_to("*"))),
    )
}  # fmt: skip


def make_of(kind: str, quantity: str, use: Sequence[str], orifice: str) -> Make:
    """What a mechanic would call a meter on file: by what it is for, else by what it measures."""
    if orifice and kind == MAKES["compression"].kind:
        return MAKES["compression"]
    fitting = [
        one
        for one in MAKES.values()
        if one.kind == kind and one.quantity in (quantity, "*") and one.key != "compression"
    ]

    def fits(one: Make) -> tuple[bool, bool]:
        return any(name in one.used_for for name in use), one.quantity != "*" and not one.use

    return max(fitting, key=fits)


def reads(make: Make, check: Check) -> bool:
    """Whether such a meter could take a check."""
    if check.kind == "grade":
        return make.kind == "tester" and check.use in make.used_for
    if check.quantity is None or make.quantity not in (check.quantity.name, "*"):
        return False
    if make.key == "compression" or check.use == "compression":
        return make.key in ("compression", "certificate", "other") and check.use == "compression"
    return not make.used_for or check.use in make.used_for
