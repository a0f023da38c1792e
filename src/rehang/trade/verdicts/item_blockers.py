"""What of the items keeps an engine from service, each with its way out."""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass

from rehang.trade.facts.accessories import KINDS as ACCESSORIES
from rehang.trade.facts.accessories import accessory_words
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.doubts import uses_in_doubt
from rehang.trade.known.fastened import standing_entries
from rehang.trade.known.state import JobState
from rehang.trade.terms.wording import on_day
from rehang.trade.verdicts.item_verdict import ItemVerdict

__all__ = ["Blocker", "blockers_of_items"]


@dataclass(frozen=True, slots=True)
class Blocker:
    """A reason the engine may not be returned to service, and the way out.

    ``group`` is the heading that it stands under (see :mod:`rehang.trade.release.blockers`).
    ``subject`` and ``standing`` are its head where it says what one item is: ``K0411 (1T)``, ``NOT YET``.
    ``mend`` is what is written to lift it, and of what, where that is not on the page of what it is
    about: ``papers:plug:P99``, ``place:cylinder:5``, ``facts:engine``. ``is_unread`` says that nothing
    is wrong with the item it is about but that nobody has read it.
    """

    about: str
    sentence: str
    way_out: str
    group: str = ""
    subject: str = ""
    standing: str = ""
    mend: str = ""
    is_unread: bool = False


# Blockers


def blockers_of_items(
    verdicts: Sequence[ItemVerdict], facts: JobFacts, state: JobState
) -> list[Blocker]:
    """What of the items keeps an engine from service, in the order a list of reasons takes it.

    What a run leaves open is said of the whole run: see :mod:`rehang.trade.run.runs`.
    """
    rejected = {one.item for one in verdicts if one.verdict == "REJECT"}
    return [
        *(said for one in verdicts for said in _of_verdict(one, verdicts, state)),
        *_empty_holes(facts, state),
        *(
            Blocker(
                f"count:{what}",
                f"Count-in is not zero: {number} {what} are out.",
                f"Take out and count in {number} {what}.",
            )
            for what, number in state.out.items()
            if number
        ),
        *_not_proved(verdicts, facts, state),
        *_found_out(facts, state, rejected),
        *(said for one in verdicts for said in _not_judged(one, facts)),
    ]


def _of_verdict(
    one: ItemVerdict, verdicts: Sequence[ItemVerdict], state: JobState
) -> Iterator[Blocker]:
    """An item that is not a KEEP, and a reject whose replacement has none of its own."""
    where = f"{one.name} ({one.place})" if one.place else _said(one)
    if one.kind == "run" or one.verdict == "KEEP":
        return
    if one.verdict in ("NOT YET", "REWORK"):
        yield Blocker(
            one.item,
            f"{where} is {one.verdict}: {one.because}",
            one.next,
            subject=where,
            standing=one.verdict,
            is_unread=one.is_unread,
        )
    elif not one.state.replaced_by:
        # DESIGN 4a, 15: both lift it, what became of it and what is in for it.
        yield Blocker(
            one.item,
            f"{where} is a REJECT without a replacement.",
            "Write what became of it, and put a replacement with its own KEEP in its slot.",
            subject=where,
            standing="REJECT without a replacement",
        )
    else:
        name = one.state.replaced_by
        new = state.items.get(f"{one.kind}:{name}")
        if not one.state.disposed:
            place = f" at {one.place}" if one.place else ""
            yield Blocker(
                one.item,
                f"{name} is in for {one.name}{place}, and what became of {one.name} is not written.",
                f"Write what became of {one.name}.",
            )
        judged = next((v for v in verdicts if new and v.item == new.id), None)
        # DESIGN 4b, 3: what stands in has a KEEP of its own.
        if judged is None or judged.verdict != "KEEP":
            yield Blocker(
                # Where its readings are taken, not those of the one it is in for.
                new.id if new else one.item,
                f"{name}, in for {one.name}, has no KEEP of its own.",
                f"Take every check on {name}.",
                is_unread=judged is not None and judged.is_unread,
            )


def _empty_holes(facts: JobFacts, state: JobState) -> Iterator[Blocker]:
    """Holes that nobody wrote a plug down for, once one was written down for another."""
    if not any(state.holes.get(hole) for hole in facts.layout.walk):
        return
    for hole in facts.layout.walk:
        if hole not in state.holes:
            yield Blocker(
                hole, f"No plug has been written down for {hole}.", "Write which came out."
            )


def _not_proved(
    verdicts: Sequence[ItemVerdict], facts: JobFacts, state: JobState
) -> Iterator[Blocker]:
    """Each meter that was not in date where it was used, with what it was used on."""
    used: dict[str, list[str]] = {}
    standing: dict[str, str] = {}
    for one in verdicts:
        # What is scrap is not held up by the meter that said so.
        for call in one.calls if one.verdict != "REJECT" else ():
            # DESIGN 4a, 15: each reading that still carries a verdict.
            if call.meter_standing and call.call in ("WITHIN", "CLOSE CALL", "OUT"):
                used.setdefault(call.meter, []).append(f"{_short(one)} {call.label.lower()}")
                standing[call.meter] = call.meter_standing
    for entry in standing_entries(facts, state):
        meter = entry.fields.meter
        why = state.not_proved(facts.meters[meter], entry)
        # What a meter found out put in doubt is told below, with a way out of its own.
        if why and state.doubt(meter, entry) is None:
            used.setdefault(meter, []).append(f"{entry.fields.what} ({entry.fields.which})")
            standing[meter] = why
    for meter, uses in used.items():
        yield Blocker(
            f"meter:{meter}",
            f"{standing[meter]}; used on {', '.join(uses)}.",
            "Take each reading again with a meter that is in date, "
            f"or enter an as-found check of {meter}.",
        )


def _not_judged(one: ItemVerdict, facts: JobFacts) -> Iterator[Blocker]:
    """What was measured with nothing to judge it by, and a count beyond what is allowed."""
    for call in one.calls:
        sheet = facts.sheets.get(one.kind)
        is_count = sheet is not None and sheet.check(call.check).method == "counted"
        if is_count and one.decided_by:
            continue
        if is_count and call.call in ("NOT JUDGED", "OUT"):
            # It is said of the engine, whatever becomes of the filter (DESIGN 4b, 9).
            yield Blocker(
                one.item,
                f"{one.kind} {one.name}: {call.label.lower()} {call.reading}, {call.limit}. "
                f"{call.sentence}",
                "Find where it comes from; a named person decides on the count, with a reason, or "
                "enter the limit with its document.",
            )
        elif (
            call.call == "NOT JUDGED"
            # Nobody puts in a limit for what another stands in for.
            and not (one.verdict == "REJECT" and one.state.replaced_by)
            and not (sheet is not None and sheet.check(call.check).judged_by)
        ):
            yield Blocker(
                one.item,
                f"{_short(one)} {call.label.lower()} is measured and not judged: {call.source}.",
                "Enter the limit with its document, revision, page and who entered it.",
            )


def _found_out(facts: JobFacts, state: JobState, rejected: Container[str]) -> list[Blocker]:
    """Each meter found out of tolerance, with what it was used on that is open again."""
    found: list[Blocker] = []
    for meter in state.found_out:
        for one in state.found_out[meter]:
            uses = [
                use.what
                for use in uses_in_doubt(facts, state, meter)
                if use.is_open and use.found.entry is one.entry and use.item not in rejected
            ]
            if not uses:
                continue
            good = f" ({on_day(one.last_good)})" if one.last_good else " (no day on file)"
            found.append(
                Blocker(
                    f"meter:{meter}",
                    f"{one.words} ({one.as_found}). Since it was last known good{good}, used on "
                    f"{', '.join(uses)}.",
                    "Do each again with a good one, or write on the page of "
                    f"{meter} why it stands.",
                )
            )
    return found


def _said(one: ItemVerdict) -> str:
    return (
        accessory_words(one.kind, one.name) if one.kind in ACCESSORIES else f"{one.kind} {one.name}"
    )


def _short(one: ItemVerdict) -> str:
    return f"run {one.name}" if one.kind == "run" else one.name
