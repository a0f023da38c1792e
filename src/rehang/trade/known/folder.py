"""What the fold fills in, and what its handlers of each kind of entry stand on."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime, time
from typing import Any

from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.layout import Layout
from rehang.trade.facts.meters import Meter
from rehang.trade.known.state import (
    FoundOut,
    ItemState,
    JobState,
    Taken,
    item_kind,
    item_name,
)
from rehang.trade.terms.entries import Entry, F, is_a
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.fields import Fields
from rehang.trade.terms.kinds.readings import ReadingTaken, Seen
from rehang.trade.terms.kinds.work import (
    CarriedOn,
)
from rehang.trade.terms.wording import on_day

__all__ = ["Folder", "Handlers", "day_of_entry", "takes"]

Handlers = dict[type[Fields], Callable[["Folder", Any], None]]
_Handler = Callable[["Folder", Entry[F]], None]


def takes(handlers: Handlers, *kinds: type[F]) -> Callable[[_Handler[F]], _Handler[F]]:
    """The function below takes up entries of those kinds."""

    def keep(function: _Handler[F]) -> _Handler[F]:
        handlers.update(dict.fromkeys(kinds, function))
        return function

    return keep


class Folder:
    """Adds one entry after another to a state; lives only inside :func:`rehang.trade.known.fold.fold`.

    An entry of a kind that no handler takes is only kept.
    """

    def __init__(
        self,
        state: JobState,
        layout: Layout,
        sheets: Mapping[str, CheckSheet],
        meters: Mapping[str, Meter],
        where: Mapping[str, str],
        voids: Callable[[Check, Taken], str],
        named: Callable[[str], str],
        handlers: Handlers,
    ) -> None:
        self.named = named
        self.handlers = handlers
        self.state = state
        self.layout = layout
        self.sheets = sheets
        self.meters = meters
        self.where = where
        self.voids = voids

    def add(self, entry: Entry) -> None:
        handler = self.handlers.get(type(entry.fields))
        if handler is not None:
            handler(self, entry)
        if is_a(entry, ReadingTaken, Seen) or (is_a(entry, CarriedOn) and not entry.fields.task):
            # Working on after a stop is the end of the stop.
            self.state.stop = None

    def end(self) -> None:
        """What only the whole book can say: which readings a meter found out has put in doubt."""
        for meter, told in self.state.found_out.items():
            self.state.found_out[meter] = [self._with_proofs(one) for one in told]
        for item in self.state.items.values():
            if item.disposed is not None:
                # It is out of the job, whatever it read.
                continue
            for taken in item.readings:
                found = self.state.doubt(taken.reading.meter, taken.entry)
                if found is not None and not taken.void:
                    taken.void = found.words
                    taken.voided_by = found.entry.kind

    def _with_proofs(self, found: FoundOut) -> FoundOut:
        when = found.entry.at
        if found.found_on < when.date():
            # Written down later than it was found: what was proved that day may be what came after.
            when = datetime.combine(found.found_on, time.min, tzinfo=when.tzinfo)
        proofs = self.state.proofs.get(found.entry.fields.meter, ())
        return replace(
            found,
            proof=max((p for p in proofs if p.at <= when), key=lambda p: p.at, default=None),
            right=min(
                (p for p in proofs if p.at > when and p.fields.due),
                key=lambda p: p.at,
                default=None,
            ),
        )

    def place_of(self, entry: Entry) -> str:
        return self.where.get(entry.id, "")

    def item(self, item_id: str) -> ItemState:
        kind, name = item_kind(item_id), item_name(item_id)
        if not name:
            raise BadInput(f'"{item_id}" is not an item. Write kind:name, as in plug:K0411.')
        return self.state.items.setdefault(item_id, ItemState(item_id, kind, name))

    def known(self, entry: Entry) -> ItemState:
        if item_kind(entry.item) == "engine":
            # What no sheet lists: the oil system, the idle. It is on every engine.
            self.item(entry.item)
        if entry.item not in self.state.items:
            raise BadInput(
                f'"{entry.item}" has not come into this job. '
                'Write an entry of kind "removed" for it first.',
                self.place_of(entry),
            )
        item = self.state.items[entry.item]
        if entry.place and item.kind == "plug":
            hole = self.layout.check_hole(entry.place, self.place_of(entry))
            if item.place and hole != item.place:
                raise BadInput(
                    f"{item.name} is in {item.place}, not in {hole}. "
                    "Write where it moved to, or mend the hole.",
                    self.place_of(entry),
                )
        return item


def day_of_entry(entry: Entry) -> str:
    return on_day(entry.at)
