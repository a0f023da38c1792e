"""How long parts of a kind last in a shop: those that failed, those that go on, those that came late.

A part that was dropped or has no history did not wear out: it counts as sound until then. One that
was in service before the shop's records begin counts from the age it then had.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isnan

from rehang.calc.life import Interval, Weibull, weibull, weibull_hours, weibull_lasting
from rehang.trade.facts.limits import limit_for
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import ItemState
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import about
from rehang.trade.terms.wording import lower_first, plural

__all__ = ["OneLife", "ShopLives", "lives_of"]


@dataclass(frozen=True, slots=True)
class OneLife:
    """One part: the ages between which it was watched [h], and how that ended.

    ``failed`` says what it failed by; empty when it was sound to the last.
    """

    item: str
    name: str
    entered: float
    left: float
    failed: str
    ended: str


@dataclass(frozen=True, slots=True)
class ShopLives:
    """The lives of a kind of part, and what they say.

    ``half`` is the age that half outlive [h]; ``full`` are its figures with their ends, in words.
    """

    kind: str
    parts: tuple[OneLife, ...]
    life: Weibull | None
    half: Interval | None
    sentences: tuple[str, ...]
    full: tuple[str, ...]


def lives_of(books: Sequence[JudgedJob], kind: str = "plug", *, ahead: float = 100.0) -> ShopLives:
    """The lives of a kind of part over the books of a shop; ``ahead`` are hours to the next opening.

    Raises
    ------
    BadInput
        No book has a part of that kind with two ages on record.
    """
    found: dict[str, OneLife] = {}
    for judged in books:
        for item in judged.state.items.values():
            if item.kind != kind:
                continue
            one = _one(item, judged)
            if one is None:
                continue
            before = found.get(item.id)
            if before is not None:
                late = one if one.left >= before.left else before
                one = OneLife(
                    one.item, one.name, min(before.entered, one.entered), late.left, late.failed,
                    late.ended,
                )  # fmt: skip
            found[item.id] = one
    parts = tuple(sorted(found.values(), key=lambda one: (-one.left, one.name)))
    if not parts:
        raise BadInput(
            f"No {kind} here has two ages on record, so nothing is known of how long one lasts."
        )
    life = weibull(
        [one.left for one in parts],
        [1 if one.failed else 0 for one in parts],
        [one.entered for one in parts],
    )
    half = None
    if not isnan(life.scale.value):
        half = weibull_hours(life, 0.5)
    said = tuple(_sentences(kind, parts, life, half, ahead))
    return ShopLives(kind, parts, life, half, said, tuple(_in_full(life, half)))


def _one(item: ItemState, judged: JudgedJob) -> OneLife | None:
    ages = [one.item_hours for one in item.earlier if one.item_hours is not None]
    if item.hours is not None:
        ages.append(item.hours)
    if len(ages) < 2 or min(ages) == max(ages):
        return None
    failed, ended = _how_it_ended(item, judged)
    return OneLife(item.id, item.name, min(ages), max(ages), failed, ended)


def _how_it_ended(item: ItemState, judged: JudgedJob) -> tuple[str, str]:
    """What it failed by, and in words how its watch ended."""
    if item.ended:
        return "", item.ended[-1].fields.in_short
    verdict = next((one for one in judged.items if one.item == item.id), None)
    if verdict is not None and (item.removed or item.readings):
        if verdict.verdict != "REJECT":
            return "", "goes on"
        out = next((call.label for call in verdict.calls if call.call == "OUT"), "")
        seen = next((f.label for f in item.open_findings if f.severity == 3), "")
        return lower_first(seen or out or "rejected"), "failed"
    # It left the engine at an earlier service: what was read last says whether it had failed.
    last = max(item.earlier, key=lambda one: one.service)
    for check, reading in last.readings.items():
        limit = limit_for(judged.facts.limits, item.kind, check, "service")
        if limit is None or reading.value is None or not limit.has_source:
            continue
        sheet_check = judged.facts.sheets[item.kind].check(check)
        beyond = (limit.upper is not None and reading.value > limit.upper) or (
            limit.lower is not None and reading.value < limit.lower
        )
        if beyond and not sheet_check.reworkable:
            return lower_first(sheet_check.label), "failed"
    return "", "taken out"


def _sentences(
    kind: str, parts: Sequence[OneLife], life: Weibull, half: Interval | None, ahead: float
) -> list[str]:
    hours = f"{life.total_hours:,.0f} h under watch"
    told = [
        f"{life.failures} of {life.parts} {plural(kind, life.parts)} gave out in {hours}; the oldest has "
        f"{life.longest:,.1f} h."
    ]
    if half is not None and not isnan(half.value):
        told.append(f"Half last past about {about(half.value)} h.")
    if not isnan(life.shape.value):
        told.append(
            f"These {kind}s wear out with hours."
            if life.shape.low > 1
            else f"Whether these {kind}s wear out with hours is not shown."
        )
    going = [one for one in parts if one.ended == "goes on"]
    if going and not isnan(life.scale.value):
        oldest = max(going, key=lambda one: one.left)
        lasting = weibull_lasting(life, ahead, age=oldest.left)
        told.append(
            f"One of {oldest.left:,.1f} h lasts the next {ahead:g} h "
            f"{float(lasting.chance) * 100:.0f} times in 100 "
            f"({float(lasting.low) * 100:.0f} to {float(lasting.high) * 100:.0f}), by age alone: what "
            "was read on it says more."
        )
    return told + list(life.notes)


def _in_full(life: Weibull, half: Interval | None) -> Iterator[str]:
    if half is not None and not isnan(half.value):
        yield f"Half last past {_span(half)} h, 90 times in 100."
    if not isnan(life.shape.value):
        yield (
            f"Weibull shape {_span(life.shape, 1)}, 90 times in 100; above 1 they fail more the "
            "older they are."
        )


def _span(one: Interval, decimals: int = 0) -> str:
    def end(value: float, missing: str) -> str:
        return missing if isnan(value) else f"{value:,.{decimals}f}"

    return (
        f"{one.value:,.{decimals}f} ({end(one.low, 'no lower end')} to "
        f"{end(one.high, 'no upper end')})"
    )
