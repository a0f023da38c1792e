"""A fill of oil as its sample's entry tells it: each top-up, and old oil that did not drain."""

from __future__ import annotations

from collections.abc import Mapping
from math import isclose, isfinite

from rehang.calc.oil import TopUp
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.oil import Sampled

__all__ = ["check_fill", "top_up_words", "top_ups", "top_ups_typed"]


def top_ups(told: Sampled) -> tuple[TopUp, ...]:
    """Each top-up of the fill, in order: running hours since the fill, quarts. Empty where not written."""
    written: Mapping[str, float] = told.topups
    return tuple(
        sorted((TopUp(float(h), float(qt)) for h, qt in written.items()), key=lambda one: one.hours)
    )


def top_ups_typed(text: str) -> dict[str, float]:
    """``12.5 1, 25 1`` as its top-ups: hours since the change and quarts.

    >>> top_ups_typed("12.5 1, 25 1")
    {'12.5': 1.0, '25': 1.0}

    Raises
    ------
    BadInput
        A part is not two numbers, or an hour stands twice.
    """
    found: dict[str, float] = {}
    for part in text.split(","):
        pair = part.split()
        if len(pair) != 2 or not all(_number(one) for one in pair) or pair[0] in found:
            raise BadInput(
                f'"{part.strip()}" is not hours and quarts. Write each top-up as in 12.5 1, the '
                "hours since the change and the quarts, and a comma between two.",
                "topups",
            )
        found[pair[0]] = float(pair[1])
    return found


def top_up_words(told: Sampled) -> str:
    """``topped up 1 qt at 12 h, 1 qt at 25 h``; empty where it is not written."""
    each = ", ".join(f"{one.volume:g} qt at {one.hours:g} h" for one in top_ups(told))
    return f"topped up {each}" if each else ""


def check_fill(told: Sampled, place: str) -> None:
    """Refuse top-ups that cannot be of this fill, and a share that is none.

    Raises
    ------
    BadInput
        Hours or quarts are no numbers, are after the sample or before the fill, or do not come to
        what was added in all; the share of old oil is not from 0 to below 1.
    """
    share = told.left_share
    # A share of 1 would be a fill that was never changed.
    if share is not None and not 0 <= share < 1:
        raise BadInput(
            f"{share:g} of the fill cannot be old oil. Write a share from 0 to 1, as in 0.1.", place
        )
    for hours, volume in (told.topups).items():
        if not (_number(hours) and _number(volume)):
            raise BadInput(
                f'The top-up "{hours}: {volume}" is not hours and quarts. Write the oil\'s hours and '
                "the quarts added, as in 12.5 and 1.",
                place,
            )
    each = top_ups(told)
    wrong = next((o for o in each if not 0 <= o.hours <= told.oil_hours), None)
    if wrong is not None:
        raise BadInput(
            f"A top-up at {wrong.hours:g} h is not within the {told.oil_hours:g} h of this "
            "oil. Write hours since the oil was changed.",
            place,
        )
    added = sum(one.volume for one in each)
    # A hundredth of a quart: far below what is poured or read off.
    if each and not isclose(added, told.added_qt, abs_tol=0.01):
        raise BadInput(
            f"The top-ups come to {added:g} qt, and {told.added_qt:g} qt is written as "
            "added in all. Write all of them, or none.",
            place,
        )


def _number(value: object) -> bool:
    # True is an int in Python, and no quart.
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        return False
    try:
        number = float(value)
    except ValueError:
        return False
    return isfinite(number) and number >= 0
