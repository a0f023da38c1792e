"""Torque cards: what to set the wrench to, in which order, and whether that wrench is in date."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import cos, isfinite, isnan, radians
from typing import Any

from rehang.calc.errors import OutOfRange
from rehang.calc.torque import (
    LEAST_LEVER,
    setting_range,
    torque_applied,
    torque_factor,
    torque_setting,
)
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import Limit, limit_for, limit_words
from rehang.trade.facts.meters import Meter
from rehang.trade.facts.torquegroups import TorqueGroup
from rehang.trade.known.state import JobState
from rehang.trade.terms.conversions import FT_LB, IN_LB
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.torque import Torqued
from rehang.trade.terms.quantities import QUANTITIES, parse_amount, show

__all__ = [
    "TORQUE",
    "Adapter",
    "Setting",
    "TorqueCard",
    "WrenchUse",
    "adapter_from",
    "arrived_at",
    "card_of",
    "in_lb",
    "in_lb_words",
    "in_steps",
    "in_units",
    "is_wrench",
    "lever_of",
    "order_of",
    "scale_of",
    "setting_of",
    "torque_words",
    "uses_since_good",
    "wrenches",
]

# What a click wrench is good to where its own certificate is not on file: common practice, no source.
USUAL_ACCURACY = 0.04
TORQUE = QUANTITIES["torque"]


def in_lb(base: float) -> float:
    """Inch-pounds of a torque in base steps."""
    return base / float(TORQUE.units["in-lb"])


def in_steps(value: float) -> float:
    """A torque in in-lb in base steps, not rounded."""
    return value * float(TORQUE.units["in-lb"])


def in_lb_words(value: float, step: float = 0.0) -> str:
    """Inch-pounds to the step of the wrench, in-lb; to a tenth where it has none on file.

    >>> in_lb_words(325.0), in_lb_words(66.67), in_lb_words(1325.4, 5)
    ('325', '66.7', '1,325')
    """
    if step:
        value = round(value / step) * step
    return f"{value:,.1f}".removesuffix(".0")


@dataclass(frozen=True, slots=True)
class Adapter:
    """An adapter on a wrench: lengths in inches, angle in degrees from straight on.

    ``arm`` is from the centre of the drive to the middle of the grip, ``length`` from the drive to
    the fastener; an angle beyond 90 points back to the hand.
    """

    arm: float
    length: float
    angle: float = 0.0

    @property
    def words(self) -> str:
        turned = f" at {self.angle:g}°" if self.angle else ""
        return f"arm {self.arm:g} in, adapter {self.length:g} in{turned}"


@dataclass(frozen=True, slots=True)
class Setting:
    """What to set the wrench to, in in-lb. ``low`` and ``high`` are the settings of the limits.

    ``sure`` are the settings that keep the fastener inside with the wrench's own doubt; None where
    there is none. ``step`` is what the wrench can be set to, 0 where its file does not say.
    ``sentence`` says it.
    """

    wanted: float
    set_to: float
    low: float | None
    high: float | None
    sure: tuple[float, float] | None
    drag: float
    sentence: str
    notes: tuple[str, ...]
    step: float = 0.0


@dataclass(frozen=True, slots=True)
class WrenchUse:
    """One use of a wrench after it was last good."""

    entry: Entry[Torqued]
    what: str
    done: int
    of: int
    on: date
    why: str


@dataclass(frozen=True, slots=True)
class TorqueCard:
    """One group's card. ``standing`` is empty for a wrench in date; ``judged`` for a value with a source."""

    group: TorqueGroup
    value: str
    source: str
    judged: bool
    limit: Limit | None
    wrench: Meter | None
    standing: str
    adapter: Adapter | None
    setting: Setting | None
    order: tuple[int, ...]
    sentence: str


def order_of(group: TorqueGroup) -> tuple[int, ...]:
    """The fasteners in the order they are tightened, numbered as they stand.

    On a circle across and across again; in two rows from the middle out, corner to corner.

    >>> from types import SimpleNamespace as group
    >>> order_of(group(pattern="circle", number=6))
    (1, 4, 2, 5, 3, 6)
    >>> order_of(group(pattern="rows", number=6))
    (2, 5, 1, 6, 3, 4)
    >>> order_of(group(pattern="rows", number=8))
    (2, 7, 3, 6, 1, 8, 4, 5)
    """
    n = group.number
    if group.pattern == "circle" and n > 3:
        # Across, so that it draws down even. Common practice, no source: the maker's order governs.
        half = n // 2
        pairs = [(k + 1, k + 1 + half) for k in range(half)]
        left = (n,) if n % 2 else ()
        return tuple(one for pair in pairs for one in pair) + left
    if group.pattern == "rows" and n > 3:
        # From the middle out and corner to corner, so that nothing is held up between. Common
        # practice, no source: the maker's order governs.
        half = n // 2
        found: list[int] = [half // 2 + 1, half // 2 + 1 + half] if half % 2 else []
        for near in range(half // 2 - 1, -1, -1):
            far = half - 1 - near
            found += [near + 1, far + 1 + half, far + 1, near + 1 + half]
        return (*found, *range(2 * half + 1, n + 1))
    return tuple(range(1, n + 1))


def adapter_from(raw: Mapping[str, Any]) -> Adapter | None:
    """An adapter as an entry holds it (``arm_in``, ``length_in``, ``angle_deg``); None for none."""
    if not raw:
        return None
    try:
        arm = float(raw["arm_in"])
        length = float(raw["length_in"])
        angle = float(raw.get("angle_deg", 0))
    except (KeyError, TypeError, ValueError):
        raise BadInput(
            "An adapter takes the arm of the wrench and its own length in inches, and an angle."
        ) from None
    return Adapter(arm, length, angle)


def lever_of(adapter: Adapter | None) -> float:
    """What the fastener gets over what the wrench shows; 1 without an adapter.

    Raises
    ------
    BadInput
        The lengths make no lever, or one so short that its setting means nothing.
    """
    if adapter is None:
        return 1.0
    if not (isfinite(adapter.arm) and adapter.arm > 0):
        raise BadInput(f"The arm of the wrench is {adapter.arm:g} in. Write it above 0.")
    if not (isfinite(adapter.length) and abs(adapter.angle) <= 180):
        raise BadInput(
            f"The adapter is {adapter.length:g} in at {adapter.angle:g}°. Write its length in inches "
            "and an angle from 0 to 180 degrees."
        )
    turn = radians(adapter.angle)
    left = 1.0 + adapter.length * cos(turn) / adapter.arm
    # Our choice, no source: docs/explanation/torque.md says why a quarter.
    if left < LEAST_LEVER:
        gone = "none" if left < 0.005 else f"{left * 100:.0f} %"
        raise BadInput(
            f"An adapter of {adapter.length:g} in at {adapter.angle:g}° on an arm of "
            f"{adapter.arm:g} in leaves {gone} of the lever, and its setting would mean nothing. "
            f"Leave at least {LEAST_LEVER * 100:g} %: set the adapter at 90 degrees, or use a shorter "
            "one."
        )
    return float(torque_factor(adapter.arm, adapter.length, turn))


def arrived_at(setting: float, adapter: Adapter | None, drag: float = 0.0) -> float:
    """What the fastener gets at a setting of the wrench, in in-lb, beyond the drag."""
    arm, length = (adapter.arm, adapter.length) if adapter else (1.0, 0.0)
    lever_of(adapter)
    turn = radians(adapter.angle) if adapter else 0.0
    return float(torque_applied(setting, arm, length, turn, drag))


def scale_of(told: Torqued) -> float | None:
    """What the wrench showed or was set to, in in-lb; None where the entry does not say.

    Without an adapter the torque wanted, and the drag with it, is what it was set to; with one the
    two differ, and which was set has to be written.
    """
    written = told.set_to or told.written
    drag = parse_amount(told.drag, TORQUE) if told.drag else 0
    if drag < 0:
        raise BadInput(f"A drag of {told.drag} cannot be. Write it above 0, or leave it out.")
    if not written and told.wanted and not told.adapter:
        value = parse_amount(told.wanted, TORQUE) + drag
    elif written:
        value = parse_amount(written, TORQUE)
    else:
        return None
    if value <= 0:
        raise BadInput(f"A torque of {in_lb_words(in_lb(value))} in-lb is none. Write it above 0.")
    return in_lb(value)


def setting_of(
    limit: Limit, adapter: Adapter | None, drag: float = 0, *, wrench: Meter | None = None
) -> Setting:
    """The setting for a torque on file; ``drag`` is in in-lb.

    The settings that are sure take in what the wrench is good to; without one that says, what a
    wrench usually is.

    Raises
    ------
    BadInput
        The limit has no torque to aim at, or the lengths make no lever.
    """
    lower, upper, aim = (
        None if one is None else in_lb(one) for one in (limit.lower, limit.upper, limit.aim)
    )
    # With nothing to aim at the middle leaves the most room on both sides.
    wanted = aim
    if wanted is None and lower is not None and upper is not None:
        wanted = (lower + upper) / 2
    wanted = wanted if wanted is not None else upper or lower
    if wanted is None:
        raise BadInput(f"The limit for {limit.check.replace('_', ' ')} has no torque to aim at.")
    arm, length = (adapter.arm, adapter.length) if adapter else (1.0, 0.0)
    turn = radians(adapter.angle) if adapter else 0.0
    lever_of(adapter)
    step = in_lb(wrench.resolution) if wrench is not None else 0.0
    try:
        set_to = float(torque_setting(wanted, arm, length, turn, drag))
        ends = (
            setting_range(
                lower, upper, arm, length, turn, drag,
                accuracy=good_to(wrench, set_to), resolution=step,
            )
            if lower is not None and upper is not None
            else None
        )  # fmt: skip
    except OutOfRange as reason:
        raise BadInput(str(reason)) from None
    sure = None
    if ends is not None and not isnan(float(ends.sure_low)):
        sure = float(ends.sure_low), float(ends.sure_high)
    said = f"{in_lb_words(wanted)} in-lb"
    if drag:
        said += f" and {in_lb_words(drag)} in-lb of drag"
    if adapter is not None:
        said += f", L {adapter.arm:g}, E {adapter.length:g}"
        said += f" at {adapter.angle:g}°" if adapter.angle else ""
    return Setting(
        wanted=wanted,
        set_to=set_to,
        low=float(ends.low) if ends else None,
        high=float(ends.high) if ends else None,
        sure=sure,
        drag=drag,
        sentence=f"{said}: set {in_lb_words(set_to, step)} in-lb.",
        step=step,
        notes=ends.notes if ends else (),
    )


def card_of(
    facts: JobFacts,
    group: TorqueGroup,
    *,
    wrench: str = "",
    adapter: Adapter | None = None,
    drag: str = "",
    on: date | None = None,
    state: JobState | None = None,
) -> TorqueCard:
    """The card of one group, with the wrench and adapter in hand.

    ``state`` knows what the book says of the wrench: proved since, or found out.

    Raises
    ------
    BadInput
        The wrench is not on file, the drag is no torque, or the lengths make no lever.
    """
    # DESIGN 4a, 6: a torque is something that is set.
    limit = limit_for(facts.limits, "engine", group.limit, "setting")
    judged = limit is not None and limit.has_source
    meter = None
    if wrench:
        if wrench not in facts.meters:
            raise BadInput(f'There is no wrench "{wrench}" on file.')
        meter = facts.meters[wrench]
    standing = ""
    if meter is not None and on is not None:
        standing = state.standing(meter, on) if state is not None else meter.standing(on)
    setting = None
    if limit is not None:
        setting = setting_of(
            limit, adapter, in_lb(parse_amount(drag, TORQUE)) if drag else 0, wrench=meter
        )
    if limit is None:
        sentence = (
            f"No torque for {group.title.lower()} on file. Enter it from the maker's manual with "
            "its page; nothing here is approved data."
        )
    elif not judged:
        sentence = (
            "The torque on file names no document, revision and person, so it judges nothing."
        )
    else:
        assert setting is not None
        sentence = setting.sentence
    return TorqueCard(
        group=group,
        value=limit_words(limit) if limit else "no torque on file",
        source=limit.source_text if limit else "no source on file",
        judged=judged,
        limit=limit,
        wrench=meter,
        standing=standing,
        adapter=adapter,
        setting=setting,
        order=order_of(group),
        sentence=sentence,
    )


def good_to(wrench: Meter | None, setting: float) -> float:
    """What a wrench is good to at a setting, as a share of it; what is usual where it does not say."""
    if wrench is None or not wrench.way.tightens or wrench.accuracy_not_known:
        return USUAL_ACCURACY
    return (
        wrench.percent_of_reading / 100
        + (in_lb(wrench.highest or 0) * wrench.percent_of_full_scale / 100 + in_lb(wrench.accuracy))
        / setting
    )


def in_units(value: float, step: float = 0.0) -> dict[str, str]:
    """A torque in the three units of the shop's wrenches.

    >>> in_units(390.0)
    {'in-lb': '390', 'ft-lb': '32.5', 'N m': '44.1'}
    """
    newton = value * IN_LB
    return {
        "in-lb": in_lb_words(value, step),
        "ft-lb": f"{newton / FT_LB:,.1f}",
        "N m": f"{newton:,.1f}",
    }


def uses_since_good(facts: JobFacts, state: JobState, meter: str) -> tuple[WrenchUse, ...]:
    """Every torque put on with a wrench when it was not in date, or while it may have been out.

    An as-found check entered later (``proved``) clears those before it, unless the wrench was found
    out: then a named person's word on each does (see :mod:`rehang.trade.known.doubts`).
    """
    if meter not in facts.meters:
        raise BadInput(f'There is no wrench "{meter}" on file.')
    known = facts.meters[meter]
    found = []
    for item in state.items.values():
        for entry in item.torqued:
            if entry.fields.meter != meter:
                continue
            why = state.not_proved(known, entry)
            if why:
                found.append(
                    WrenchUse(
                        entry=entry,
                        what=entry.fields.what,
                        done=len(entry.fields.reach),
                        of=entry.fields.of,
                        on=entry.at.date(),
                        why=why,
                    )
                )
    return tuple(sorted(found, key=lambda use: use.entry.at))


def wrenches(facts: JobFacts) -> Sequence[Meter]:
    """The wrenches on file."""
    return [one for one in facts.meters.values() if is_wrench(one)]


def is_wrench(meter: Meter) -> bool:
    """Whether a meter measures torque. Old books have testers that are called a wrench."""
    return meter.quantity is TORQUE or (meter.way.no_number and "wrench" in meter.name.lower())


def torque_words(told: Torqued) -> str:
    """A ``torqued`` entry's figures: ``390 in-lb, set 325 in-lb (arm 10 in, adapter 2 in)``."""
    value = told.wanted or told.written
    parts = [show(parse_amount(value, TORQUE), TORQUE)] if value else []
    if told.set_to and (told.set_to != value or told.adapter):
        adapter = adapter_from(told.adapter)
        parts.append(f"set {told.set_to}" + (f" ({adapter.words})" if adapter else ""))
    if told.drag:
        parts.append(f"drag {told.drag}")
    return ", ".join(parts)
