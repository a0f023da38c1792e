"""What a band or an over-range comes to against a limit: the call, and the words for it."""

from __future__ import annotations

from math import isinf

from rehang.trade.facts.items import Check
from rehang.trade.facts.job_facts import Thresholds
from rehang.trade.facts.limits import Limit
from rehang.trade.facts.meters import (
    Band,
    Meter,
    MeterRange,
    band_of,
    describe_band,
    least_at_rest,
    range_words,
)
from rehang.trade.terms.quantities import Quantity, show

__all__ = ["band_sentence", "call_band", "over_range", "per_hundred"]


def call_band(
    band: Band, value: float | None, limit: Limit, rule: Thresholds
) -> tuple[str, float, str]:
    """The call on a band, its probability, and why the call is not the one its odds alone give.

    The far end of an ohmmeter's scale holds every resistance up to an open circuit, so odds on
    the arc alone pass or fail there what the reading itself does not (DESIGN 4b, 11): WITHIN
    also needs the reading inside the limit and, for an upper limit, a band with an end; OUT
    also needs the reading outside.
    """
    p = band.p_inside(limit.lower, limit.upper)
    call = rule.call(p)
    if band.shape != "arc":
        return call, p, ""
    read = band.centre if value is None else value
    inside = (limit.lower is None or read >= limit.lower) and (
        limit.upper is None or read <= limit.upper
    )
    if call == "WITHIN" and not inside:
        return "CLOSE CALL", p, "the reading itself is outside the limit"
    if call == "WITHIN" and limit.upper is not None and isinf(band.high):
        return "CLOSE CALL", p, "an open circuit stands there too"
    if call == "OUT" and inside:
        return "CLOSE CALL", p, "the reading itself is inside the limit"
    return call, p, ""


def over_range(
    meter_id: str, range_name: str, meter: Meter | None, limit: Limit, check: Check
) -> tuple[str, float | None, str]:
    """The call on OL: OUT only where all that the meter allows for it is beyond the limit."""
    assert check.quantity is not None
    one = meter.range(range_name) if meter else None
    on = f"{meter_id}'s {range_words(range_name)} range" if range_name else meter_id
    # OL is "too much", which only an upper limit can be held against.
    if limit.upper is None:
        return "NOT JUDGED", None, f"Over range on {on}, and there is no upper limit."
    least = _least(meter, one, range_name)
    if least is None:
        return (
            "NOT READ",
            None,
            f"OL says nothing on {on}: where its scale ends is not on file. Read it on another.",
        )
    shown = show(least, check.quantity)
    at_rest = meter is not None and meter.kind == "analog ohmmeter"
    if least > limit.upper:
        if at_rest:
            return (
                "OUT",
                0.0,
                f"Open: the needle stayed at rest on {on}, which takes {shown} or more: beyond "
                "the limit.",
            )
        return "OUT", 0.0, f"OL is more than {shown}, the top of {on}: beyond the limit."
    said = f"The needle at rest on {on}" if at_rest else "OL"
    return (
        "NOT READ",
        None,
        f"{said} only says more than {shown}, which the limit allows. "
        f"{_higher(meter, one, limit, check.quantity)}",
    )


def _least(meter: Meter | None, one: MeterRange | None, range_name: str) -> float | None:
    """The least value that an OL leaves room for; None where the scale's end is not on file."""
    if meter is None:
        return None
    if meter.kind == "analog ohmmeter" and one is not None:
        return least_at_rest(meter, one)
    top = one.top if one is not None else meter.highest
    if top is None:
        return None
    # The top is good to the meter's accuracy too, so OL may begin below it.
    return max(band_of(meter, top, range_name).low, 0.0)


def _higher(meter: Meter | None, one: MeterRange | None, limit: Limit, quantity: Quantity) -> str:
    """The range to use instead: of those that could tell, the one that tells best at the limit."""
    assert limit.upper is not None
    if meter is not None:
        fits = []
        for other in meter.ranges:
            least = _least(meter, other, other.name)
            if other is one or least is None or least <= limit.upper:
                continue
            fits.append((band_of(meter, limit.upper, other.name).width, other.name))
        if fits:
            return f"Use its {range_words(min(fits)[1])} range."
    return f"Use a meter that reads to more than {show(limit.upper, quantity)}."


def band_sentence(
    call: str,
    p: float,
    band: Band,
    meter: Meter | None,
    quantity: Quantity,
    range_name: str,
    why: str = "",
) -> str:
    """What the meter there means, and how often that is inside the limit."""
    span = describe_band(band, quantity)
    lead = f"That is {span}"
    if meter is not None:
        on = meter.id
        if len(meter.ranges) > 1:
            on += f"'s {range_words(range_name)} range"
        lead = f"On {on} that is {span}"
    if why:
        return f"{lead}, and {why}: it cannot tell."
    if call == "CLOSE CALL":
        return f"{lead}, {per_hundred(p)}: it cannot tell."
    return f"{lead}, {per_hundred(p)}."


def per_hundred(p: float) -> str:
    """A probability in words, never rounded on to a threshold."""
    if p >= 1:
        return "inside the limit for certain"
    if p <= 0:
        return "never inside the limit"
    text = f"{p * 100:.0f}"
    if text in ("0", "100", "5", "95") or not 0.01 < p < 0.99:
        text = f"{p * 100:.1f}"
        if text == "0.0":
            return "almost never inside the limit"
        if text == "100.0":
            return "almost certainly inside the limit"
    return f"inside the limit {text} times in 100"
