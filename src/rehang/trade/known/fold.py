"""The fold: once through the book, entry by entry, to what is known of each item now."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime

from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.layout import Layout
from rehang.trade.facts.meters import Meter
from rehang.trade.known import fold_items, fold_others
from rehang.trade.known.folder import Folder, Handlers
from rehang.trade.known.state import (
    ItemState,
    JobState,
    Taken,
    item_kind,
    item_name,
)
from rehang.trade.terms.aside import set_aside
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.shop import Unread
from rehang.trade.terms.strikes import strikes_in

__all__ = ["fold"]

# What the fold does with an entry of a kind; of one that is not here it only keeps the entry.
HANDLERS_OF_ALL: Handlers = {**fold_items.HANDLERS, **fold_others.HANDLERS}


def fold(
    entries: Iterable[Entry],
    *,
    layout: Layout,
    sheets: Mapping[str, CheckSheet],
    meters: Mapping[str, Meter],
    now: datetime | None = None,
    where: Mapping[str, str] | None = None,
    expected: Iterable[str] = (),
    voids: Callable[[Check, Taken], str] = lambda check, taken: "",
    fault: Callable[[Entry, JobState], str] = lambda entry, state: "",
    stays: Callable[[Entry], bool] = lambda entry: False,
    named: Callable[[str], str] = str,
) -> JobState:
    """Fold a book, in its order, into the state of the job at ``now``.

    ``fault`` says which rule an entry breaks against the state before it, or nothing. What settles
    something by breaking one settles nothing. ``stays`` says which entries the book keeps even when
    they cannot be understood: they are set aside, where any other is refused.

    ``expected`` are the items the job has by its facts, whatever the book says of them.
    ``voids`` says why a reading was taken under conditions that do not count, or nothing.

    ``where`` maps an entry's id to its place in a file, and ``named`` a person's key to their name,
    for sentences.
    """
    # DESIGN 4a, 14: with --now the book is judged as it stood then.
    given = [e for e in entries if now is None or e.at <= now]
    order: list[Entry] = []
    by_id: dict[str, Entry] = {}
    for entry in given:
        if entry.id in by_id:
            # The same entry twice is one entry: a phone may send it again (DESIGN 1).
            if by_id[entry.id].content() != entry.content():
                raise BadInput(
                    f"Two entries have the id {entry.id} and say different things. "
                    "Give the second one an id of its own.",
                    (where or {}).get(entry.id, ""),
                )
            continue
        by_id[entry.id] = entry
        order.append(entry)
    # Before the fold, for a strike reaches back to an entry that is folded before it.
    struck, void = strikes_in(order)
    # Filled entry by entry: a rule sees the book before the entry, and nothing behind it.
    state = JobState({}, {}, {}, [], struck, None, {}, False, void_strikes=void)
    for item_id in expected:
        state.items[item_id] = ItemState(item_id, item_kind(item_id), item_name(item_id))
    folder = Folder(state, layout, sheets, meters, where or {}, voids, named, HANDLERS_OF_ALL)
    for entry in order:
        if is_a(entry, Unread):
            state.aside[entry.id] = BadInput(entry.fields.why)
        elif entry.id not in struck:
            try:
                said = fault(entry, state)
                if said:
                    state.faults[entry.id] = said
                # DESIGN 4b, 14: at fault it stays in the book and settles nothing.
                if not (said and entry.fields.settles):
                    folder.add(entry)
            except BadInput as refusal:
                if not stays(entry):
                    raise
                state.aside[entry.id] = refusal
                entry = set_aside(entry, refusal.sentence)
        state.entries[entry.id] = entry
        state.order.append(entry)
    folder.end()
    return state
