"""What the drops of a magneto check say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.terms.quantities import QUANTITIES, show

__all__ = ["MagCheck", "is_no_drop", "mag_check"]

_OTHER = {"left": "right", "right": "left"}


@dataclass(frozen=True, slots=True)
class MagCheck:
    """A magneto check read: the sentences, the first the one that matters, and who is accused.

    ``accused`` names a magneto ("right") and ``part`` what of it ("P-lead", "plug or lead",
    "timing"); both empty when nothing is wrong. ``accusations`` are what a finding is opened on:
    the check, the item and the sentence.
    """

    sentences: tuple[str, ...]
    accused: str
    part: str
    hot: str
    accusations: tuple[tuple[str, str, str], ...] = ()


def is_no_drop(drop: int, feel: str) -> bool:
    return feel == "no drop" or drop == 0


@dataclass(frozen=True, slots=True)
class _Said:
    """One thing that a magneto check says. The lower the ``rank``, the more it matters."""

    rank: int
    side: str
    part: str
    sentence: str
    check: str = ""
    item: str = ""


def mag_check(
    drops: Mapping[str, tuple[int, str, bool]], facts: JobFacts, *, split: bool = False
) -> MagCheck:
    """What the drops say: ``side -> (drop in rpm, how it felt, over the limit)``.

    Selecting LEFT runs the left magneto and grounds the right, so no drop on LEFT accuses the
    right one. The table is common practice, no source, but for the cold-cylinder check (AC
    43.13-1B, 8-2a) and the order of the switch (FAA powerplant handbook, ignition checks).
    """
    over = [side for side, (_, _, out) in drops.items() if out]
    said = [
        one
        for side, drop in drops.items()
        if (one := _said_of(side, drop, len(over), facts)) is not None
    ]
    hot = next((one.side for one in said if one.rank == 0 and one.part == _HOT), "")
    if len(over) == 2 and not any(one.rank < 3 for one in said):
        both = "Large, smooth drops on both: timing late, mixture too rich, or a weak engine."
        said += [_Said(3, "both", "timing", both, f"drop_{s}", f"magneto:{s}") for s in over]
    if split and not any(one.rank < 4 for one in said):
        apart = "The drops are too far apart: timing split, or one bad plug."
        said.append(_Said(3, "", "timing or plug", apart, "difference", _BOTH))
    if not said:
        values = " and ".join(
            f"{show(drop, QUANTITIES['speed'])} on {side.upper()}"
            for side, (drop, _, _) in drops.items()
        )
        more = "" if len(drops) == 2 else " The other side is still to be read."
        return MagCheck((f"{values}, smooth: nothing is suspect.{more}",), "", "", "")
    said.sort(key=lambda one: one.rank)
    return MagCheck(
        sentences=tuple(dict.fromkeys(one.sentence for one in said)),
        accused=said[0].side,
        part=said[0].part,
        hot=hot,
        accusations=tuple((one.check, one.item, one.sentence) for one in said if one.item),
    )


_HOT = "P-lead"
_BOTH = "ignition:both magnetos"


def _said_of(side: str, given: tuple[int, str, bool], over: int, facts: JobFacts) -> _Said | None:
    """What one side says; None where it says nothing."""
    drop, feel, out = given
    holes = ", ".join(facts.layout.ignition.get(side, ()))
    select, other = side.upper(), _OTHER[side]
    check, own = f"drop_{side}", f"magneto:{side}"
    least = facts.run_rules.plausible_drop
    if is_no_drop(drop, feel):
        return _Said(
            0, other, _HOT,
            f"No drop on {select}: suspect the {other} magneto. {select} runs the {side} one and "
            f"should ground the {other} one, which fires on. Look at the {other} magneto's P-lead "
            "and the switch; the propeller is live, tag it. If they are sound, the timing is too "
            "early.",
            check, f"magneto:{other}",
        )  # fmt: skip
    if feel == "dies":
        sentence = f"It dies on {select}: the {side} magneto is dead or grounded."
        if not out:
            sentence += (
                f" {drop} rpm was keyed beside it, which an engine that dies does not have: one of "
                "the two is wrong."
            )
        return _Said(1, side, "magneto", sentence, check, own)
    if drop < least:
        return _Said(
            1, other, "P-lead or switch",
            f"{drop} rpm on {select} is less than a drop is here ({least} rpm by the shop's own "
            f"figure: common practice, no source): the {other} magneto may not be grounded, or the "
            "speed was keyed before it settled.",
            check, f"magneto:{other}",
        )  # fmt: skip
    if feel == "sudden, rough":
        return _Said(
            2, side, "plug or lead",
            f"A sudden, rough drop of {drop} rpm on {select}: a dead plug or lead among {holes}. "
            "Find the cold cylinder, then swap the plug: the fault moves with a plug and stays with "
            "a lead or the magneto.",
            check, own,
        )  # fmt: skip
    if out and over == 1 and feel != "slow, gentle":
        return _Said(
            3, side, "timing",
            f"A large, smooth drop of {drop} rpm on {select} alone: the {side} magneto is late, or "
            "its internal timing is out.",
            check, own,
        )  # fmt: skip
    if feel == "slow, gentle":
        return _Said(
            4, side if out else "", "timing" if out else "",
            f"A slow, gentle fall of {drop} rpm on {select}: timing, mixture or valve clearance.",
            check, own if out else "",
        )  # fmt: skip
    return None
