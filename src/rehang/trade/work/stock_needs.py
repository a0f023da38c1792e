"""What is needed and why: by items, by tasks, by what was written down."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.state import item_kind, item_name
from rehang.trade.known.went_in import WentIn, part_for
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.stock import AboutStock, Needed, NotNeeded
from rehang.trade.terms.wording import listed, lower_first, upper_first
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.work.stock_values import OwnerLine, PartNeed, PartStock
from rehang.trade.work.task_states import JobWork
from rehang.trade.work.todo import uses_of

__all__ = ["fitted_lines", "item_needs", "set_words", "task_needs", "written_needs"]

# Common practice, no source: with half of a set or more past saving, buy the whole set.
SET_RULE = 0.5


def item_needs(facts: JobFacts, items: Sequence[ItemVerdict]) -> list[PartNeed]:
    """What verdicts ask for: a REJECT for sure, what is not decided perhaps."""
    found = []
    for one in items:
        if one.verdict == "KEEP" or one.state.replaced_by:
            continue
        part = part_for(one.item, facts)
        sure = one.verdict == "REJECT"
        # What may be needed and has no part is nothing that anyone could order.
        if part is None and not sure:
            continue
        found.append(
            PartNeed(
                part=part.id if part else "",
                number=1,
                why=f"{_item_words(one)} is {one.verdict}: {one.because}",
                sure=sure,
                item=one.item,
                photos=tuple(e.fields.photo for e in one.state.pictures),
            )
        )
    return found


def _item_words(one: ItemVerdict) -> str:
    if one.kind == "plug":
        return f"{one.name} ({one.place})" if one.place else one.name
    return f"{one.kind.capitalize()} {one.name}"


def task_needs(work: JobWork) -> list[PartNeed]:
    """What the tasks still to be done use up; offered work only once it is begun."""
    return [
        PartNeed(use.part, use.number, f"{one.task.title}.", True, task=one.task.id)
        for one in work.tasks.values()
        if one.unfinished and not (one.task.offered and one.state == "NOT STARTED")
        for use in uses_of(one)
    ]


def written_needs(about: Mapping[str, Sequence[Entry[AboutStock]]]) -> list[PartNeed]:
    found = []
    for name, entries in about.items():
        for entry in entries:
            if is_a(entry, Needed, NotNeeded):
                sign = 1 if is_a(entry, Needed) else -1
                why = entry.fields.reason
                found.append(
                    PartNeed(name, sign * entry.fields.number, why, True, item=entry.fields.item)
                )
    return found


def set_words(facts: JobFacts, items: Sequence[ItemVerdict]) -> str:
    """What common practice says of a set of plugs that fails in part."""
    plugs = [one for one in items if one.kind == "plug" and one.state.came_out_of]
    whole = len(facts.layout.walk)
    most = math.ceil(whole * SET_RULE)
    rejects = [one for one in plugs if one.verdict == "REJECT"]
    gone = [one.name for one in rejects]
    perhaps = [one.name for one in plugs if one.verdict in ("REWORK", "NOT YET")]
    rule = (
        f"from {most} of {whole} past saving the whole set is bought (common practice, no source)"
    )
    if not perhaps and all(one.state.replaced_by for one in rejects):
        # What to buy is settled: each has its new one.
        return ""
    if len(gone) >= most:
        return f"{len(gone)} of {whole} plugs are rejects ({listed(gone)}): {rule}."
    if gone and len(gone) + len(perhaps) >= most:
        more = most - len(gone)
        return (
            f"{len(gone)} of {whole} plugs are rejects. If {more} of {listed(perhaps)} "
            f"{'goes' if more == 1 else 'go'} too, {rule}."
        )
    return ""


def fitted_lines(
    facts: JobFacts,
    parts: Mapping[str, PartStock],
    pieces: Iterable[WentIn],
    items: Sequence[ItemVerdict],
) -> tuple[OwnerLine, ...]:
    """What went in, a line for each part: how many, for what, the photos, and what it cost."""
    verdicts = {one.item: one for one in items}
    grouped: dict[str, list[WentIn]] = {}
    for piece in pieces:
        # What no part is tied to has a line of its own, by its kind.
        grouped.setdefault(piece.part or f"kind {item_kind(piece.item)}", []).append(piece)
    lines = []
    for key, ones in grouped.items():
        known = parts.get(key)
        number = sum(one.number for one in ones)
        each = known.each if known is not None else None
        lines.append(
            OwnerLine(
                name=known.part.name
                if known is not None
                else facts.part_name(ones[0].part)
                if ones[0].part
                else upper_first(item_kind(ones[0].item)),
                unit=known.part.unit if known is not None else "",
                number=number,
                each=each,
                total=None if each is None else each * number,
                why=(
                    *(_piece_why(one, verdicts) for one in ones if one.item),
                    *_used_why(facts, [one for one in ones if not one.item]),
                ),
                photos=tuple(
                    dict.fromkeys(
                        entry.fields.photo
                        for one in ones
                        for about in (one.stands_for, one.item)
                        if about in verdicts
                        for entry in verdicts[about].state.pictures
                    )
                ),
                quoted=False,
            )
        )
    return tuple(sorted(lines, key=lambda line: (line.total is None, -(line.total or 0.0))))


def _piece_why(one: WentIn, verdicts: Mapping[str, ItemVerdict]) -> str:
    """Which item went in, for which, and why that had to go."""
    name = item_name(one.item)
    if item_kind(one.item) != "plug":
        name = f"{item_kind(one.item).capitalize()} {name}"
    old = verdicts.get(one.stands_for)
    if old is None:
        return f"{name}, {one.place}." if one.place else f"{name}."
    did = "went in" if one.is_in else "is to go in"
    return f"{name} {did}. {_item_words(old)} is {old.verdict}: {old.because}"


def _used_why(facts: JobFacts, ones: Iterable[WentIn]) -> list[str]:
    """What was used without a name, by the work it was used for."""
    summed: dict[str, int] = {}
    for one in ones:
        task = facts.tasks.get(one.task)
        for_what = lower_first(task.title) if task is not None else one.task or one.place
        summed[for_what] = summed.get(for_what, 0) + one.number
    return [
        f"{number} for {for_what}." if for_what else f"{number} used."
        for for_what, number in summed.items()
    ]
