"""Torque at a fastener when an adapter moves it away from the drive of the wrench.

A wrench shows the torque at its own drive. An adapter that is not on the drive's axis makes
the lever from the hand to the fastener longer or shorter, and the fastener gets more or less
than the scale shows.

arm: centre of the drive to the middle of the grip.
adapter: centre of the drive to the centre of the fastener; below 0 it points back to the hand.
angle: 0 when the adapter carries on straight away from the hand, to either side, and half a turn
    when it points back to it.
drag: torque that the nut takes to turn before it seats, at the fastener.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rehang.calc import _inputs as check
from rehang.calc._components import root_sum_square
from rehang.calc._inputs import FloatArray
from rehang.calc._said import said
from rehang.calc.errors import OutOfRange
from rehang.calc.units import (
    Metres,
    NewtonMetres,
    NewtonMetresOut,
    Radians,
    Ratio,
    Ratios,
    RatiosOut,
)

# With less than half of the arm left, 1 % of the adapter's length is more than 1 % of the
# torque. Our choice, no source.
SHORT_LEVER = 0.5
# With less than a quarter left the adapter is at least three quarters of the arm and points back,
# so 1 % of its length is 3 % or more of the torque: as much as a whole click wrench is good to
# (3 or 4 %). Nearer to none the setting runs away to any number. Our choice, no source.
LEAST_LEVER = 0.25

GRIP_NOTE = (
    "Holds with the hand in the middle of the grip and the pull at right angles to the handle."
)
SHORT_LEVER_NOTE = (
    "The adapter takes away more than half of the lever: small slips of its length or angle weigh "
    "heavily, so use another adapter or set it at right angles."
)
NONE_SURE_NOTE = (
    "No setting keeps the fastener within its limits with this wrench: use a better one."
)


@dataclass(frozen=True, slots=True)
class SettingRange:
    """Settings that go with the limits of a torque, by the scale and with the wrench's doubt."""

    low: NewtonMetresOut  # setting of the lower limit, with a wrench that is exact
    high: NewtonMetresOut  # setting of the upper limit, with a wrench that is exact
    sure_low: NewtonMetresOut  # lowest setting that keeps k uncertainties inside; nan for none
    sure_high: NewtonMetresOut  # highest such setting; nan where there is none
    coverage_factor: Ratio  # the k of the sure settings
    notes: tuple[str, ...]


def torque_factor(arm: Metres, adapter: Metres, angle: Radians = 0.0) -> RatiosOut:
    r"""Torque at the fastener over torque on the scale.

    .. math:: f = \frac{L + E \cos\alpha}{L}

    It is 1 at right angles. Only the ratio of the two lengths counts. A straight socket or an
    extension on the axis of the drive has a length of 0 here.

    Refused: an angle beyond half a turn; a fastener that comes to lie at the hand or behind it, or
    so near to it that less than `LEAST_LEVER` of the arm is left.

    Source: AC 43.13-1B, 7-40 and figure 7-2, for 0 and half a turn; US Army TM 9-254, figures 4-5
    and 4-6, for any angle (printed there with x for the sum).
    Checked in ``tests/published/test_torque.py``: 0.75 pointing back, and by settings.

    >>> torque_factor(8, -2)
    0.75
    """
    return check.plain(_factor(arm, adapter, angle))


def torque_setting(
    torque: NewtonMetres,
    arm: Metres,
    adapter: Metres = 0.0,
    angle: Radians = 0.0,
    drag: NewtonMetres = 0.0,
) -> NewtonMetresOut:
    r"""What to set the wrench to, for a wanted torque at the fastener.

    .. math:: S = (T + D) \frac{L}{L + E \cos\alpha}

    torque: wanted, without the drag.

    Add the drag where the source of the torque asks for it; where it says that the drag is in
    its figure, leave it at 0. A drag that was read on this wrench with the adapter on is first
    to be brought to the fastener: `torque_applied` of that reading.

    Source: AC 43.13-1B, 7-40 (friction drag is added; adapters) and figure 7-2; US Army TM 9-254,
    figure 4-6.
    Checked in ``tests/published/test_torque.py``: 158.82, 66.7, 214 and 135.

    >>> torque_setting(390, arm=10, adapter=2)
    325.0
    """
    wanted = check.above_zero("The wanted torque", torque)
    more = _drag(drag)
    return check.plain(np.asarray((wanted + more) / _factor(arm, adapter, angle)))


def torque_applied(
    setting: NewtonMetres,
    arm: Metres,
    adapter: Metres = 0.0,
    angle: Radians = 0.0,
    drag: NewtonMetres = 0.0,
) -> NewtonMetresOut:
    r"""What the fastener gets at a setting of the wrench.

    .. math:: T = S\, \frac{L + E \cos\alpha}{L} - D

    setting: torque on the wrench's scale.

    Torque beyond the drag; below 0 when the drag alone takes more. The inverse of `torque_setting`.

    Source: US Army TM 9-254, figure 4-5; AC 43.13-1B, 7-40, for the drag.
    Checked in ``tests/published/test_torque.py``: 70.

    >>> torque_applied(60, arm=12, adapter=2)
    70.0
    """
    scale = check.above_zero("The setting", setting)
    less = _drag(drag)
    return check.plain(np.asarray(scale * _factor(arm, adapter, angle) - less))


def setting_range(
    lower: NewtonMetres,
    upper: NewtonMetres,
    arm: Metres,
    adapter: Metres = 0.0,
    angle: Radians = 0.0,
    drag: NewtonMetres = 0.0,
    *,
    accuracy: Ratios = 0.0,
    resolution: NewtonMetres = 0.0,
    u_arm: Metres = 0.0,
    u_adapter: Metres = 0.0,
    u_angle: Radians = 0.0,
    u_drag: NewtonMetres = 0.0,
    coverage_factor: Ratio = 2.0,
) -> SettingRange:
    r"""Settings between which the fastener's torque keeps its limits.

    .. math:: S_\mathrm{low,high} = \frac{T_{L,U} + D}{f}, \qquad
              f S - D \mp k\, u(S) = T_{L,U} \ \text{for the sure ones}

    lower, upper: limits of the torque at the fastener, without the drag.
    accuracy: of the wrench, a hard limit either side as a fraction of the setting; 0.04 for 4 %.
    resolution: least step of the scale.
    coverage_factor: how many standard uncertainties the sure settings keep from the limits.

    ``u(S)`` grows with the setting; the equation is a quadratic and is solved as one. Where the
    wrench is too coarse for the limits there is no sure setting; both are nan then and a note says
    so.

    Source: JCGM 106:2012, 8.3.2 (guarded acceptance), for the sure settings; `torque_setting` for
    the others.
    No printed value: the sure ends are put back into the uncertainty that they were made with in
    ``tests/properties/test_calc_torque.py``; worked by hand in ``tests/published/test_torque.py``.

    >>> found = setting_range(370, 410, arm=10, adapter=2, accuracy=0.04)
    >>> round(found.low, 1), round(found.high, 1)
    (308.3, 341.7)
    >>> round(found.sure_low, 1), round(found.sure_high, 1)
    (323.3, 326.6)
    """
    low, high = check.limits(
        check.above_zero("The lower limit of the torque", lower),
        check.above_zero("The upper limit of the torque", upper),
    )
    more = _drag(drag)
    f = _factor(arm, adapter, angle)
    k = _coverage(coverage_factor)
    limit = _accuracy(accuracy)
    step = check.at_least_zero("The resolution of the wrench", resolution)
    # u(S)**2 = growing**2 S**2 + fixed**2
    growing = root_sum_square(
        {
            "wrench": f * limit / np.sqrt(3.0),
            **_length_parts(arm, adapter, angle, u_arm, u_adapter, u_angle),
        }
    )
    fixed = np.hypot(
        f * step / np.sqrt(12.0), check.at_least_zero("The uncertainty of the drag", u_drag)
    )
    sure_low, sure_high = _sure(low + more, high + more, f, k * growing, k * fixed)
    none = ~(sure_low <= sure_high)
    return SettingRange(
        low=check.plain(np.asarray((low + more) / f)),
        high=check.plain(np.asarray((high + more) / f)),
        sure_low=check.plain(np.asarray(np.where(none, np.nan, sure_low))),
        sure_high=check.plain(np.asarray(np.where(none, np.nan, sure_high))),
        coverage_factor=k,
        notes=(
            GRIP_NOTE,
            *said((none, NONE_SURE_NOTE), (f < SHORT_LEVER, SHORT_LEVER_NOTE)),
        ),
    )


def _sure(
    low: FloatArray, high: FloatArray, f: FloatArray, growing: FloatArray, fixed: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Settings at which f S - u is low and f S + u is high, u**2 = (growing S)**2 + fixed**2."""
    steep = f**2 - growing**2
    with np.errstate(divide="ignore", invalid="ignore"):

        def root(b: FloatArray) -> FloatArray:
            return np.asarray(np.sqrt((growing * b) ** 2 + fixed**2 * steep))

        # A wrench whose doubt grows as fast as what it gives never comes clear of the low limit.
        sure_low = np.where(steep > 0, (f * low + root(low)) / steep, np.inf)
        # The small root, by the product of the two: it holds where steep is 0 or less too.
        sure_high = (high**2 - fixed**2) / (f * high + root(high))
        sure_high = np.where(high >= fixed, sure_high, -np.inf)
    return np.asarray(sure_low), np.asarray(sure_high)


# Inputs


def _lever(
    arm: ArrayLike, adapter: ArrayLike, angle: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    length = check.above_zero("The arm of the wrench", arm)
    extra = check.finite("The length of the adapter", adapter)
    turned = check.finite("The angle of the adapter", angle)
    if not (np.abs(turned) <= np.pi).all():
        raise OutOfRange(
            "The angle of the adapter must be from minus to plus half a turn, in radians: "
            f"got {check.shown(turned)}."
        )
    return length, extra, turned


def _cosine(angle: FloatArray) -> FloatArray:
    # The cosine of the nearest float to a quarter turn is 6e-17, not 0; the angle's own sine
    # about the quarter turn is exact there.
    return np.asarray(np.sin(np.pi / 2.0 - np.abs(angle)))


def _factor(arm: ArrayLike, adapter: ArrayLike, angle: ArrayLike) -> FloatArray:
    length, extra, turned = _lever(arm, adapter, angle)
    left = (length + extra * _cosine(turned)) / length
    if not (left > 0).all():
        raise OutOfRange(
            "The adapter must not reach back as far as the hand: got one that leaves "
            f"{check.shown(left)} of the arm."
        )
    if not (left >= LEAST_LEVER).all():
        raise OutOfRange(
            f"The adapter must leave at least {LEAST_LEVER:g} of the arm: got {check.shown(left)}."
        )
    return np.asarray(left)


def _length_parts(
    arm: ArrayLike,
    adapter: ArrayLike,
    angle: ArrayLike,
    u_arm: ArrayLike,
    u_adapter: ArrayLike,
    u_angle: ArrayLike,
) -> dict[str, FloatArray]:
    """What the lengths and the angle add to the uncertainty of the factor."""
    length, extra, turned = _lever(arm, adapter, angle)
    cosine = _cosine(turned)
    spread = check.at_least_zero("The uncertainty of the angle", u_angle)
    lost = -np.expm1(-(spread**2))
    # 1 - e cos 2a, without the difference of nearly equal terms.
    u_cosine = np.sqrt(lost * (lost + 2.0 * (1.0 - lost) * np.sin(turned) ** 2) / 2.0)
    return {
        "arm": extra
        * cosine
        / length**2
        * check.at_least_zero("The uncertainty of the arm", u_arm),
        "adapter": cosine
        / length
        * check.at_least_zero("The uncertainty of the adapter's length", u_adapter),
        "angle": np.asarray(extra / length * u_cosine),
    }


def _drag(value: ArrayLike) -> FloatArray:
    return check.at_least_zero("The friction drag", value)


def _accuracy(value: ArrayLike) -> FloatArray:
    limit = check.at_least_zero("The accuracy of the wrench", value)
    if not (limit < 1).all():
        raise OutOfRange(
            f"The accuracy of the wrench must be below 1 (4 % is 0.04): got {check.shown(limit)}."
        )
    return limit


def _coverage(value: float) -> float:
    return float(check.above_zero("The coverage factor", value))
