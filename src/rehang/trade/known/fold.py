"""The fold: once through the book, entry by entry, to what is known of each item now."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import date, datetime, time
from typing import Any

from rehang.trade.facts.items import Check, CheckSheet, Word
from rehang.trade.facts.layout import Layout
from rehang.trade.facts.meters import Meter
from rehang.trade.facts.readings import LARGEST_VALUE, Reading, read
from rehang.trade.known.oil_fill import check_fill
from rehang.trade.known.state import (
    COUNT,
    WORKED_OUT_NAMES,
    Earlier,
    Finding,
    FoundOut,
    ItemState,
    JobState,
    Taken,
    fitted_key,
    item_kind,
    item_name,
    meter_on_file,
    travels_to,
    understand,
)
from rehang.trade.terms.aside import set_aside
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import Entry, F, is_a
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.decisions import CallMade, Closed, Disagreed, LeftOpen
from rehang.trade.terms.kinds.fields import Fields
from rehang.trade.terms.kinds.items import (
    Disposed,
    Dropped,
    EarlierService,
    Fitted,
    Moved,
    Overheated,
    Removed,
    Replaced,
    Reworked,
    Spoilt,
    UnknownHistory,
)
from rehang.trade.terms.kinds.meters import MasterRead, MeterFoundOut, Proved
from rehang.trade.terms.kinds.oil import Analysed, PiecesCounted, Sampled
from rehang.trade.terms.kinds.readings import Pictured, ReadingTaken, Seen
from rehang.trade.terms.kinds.runs import RunBegan
from rehang.trade.terms.kinds.shop import BroughtBack, Noted, PutAway, Unread
from rehang.trade.terms.kinds.torque import Torqued
from rehang.trade.terms.kinds.work import (
    CarriedOn,
    CountedIn,
    CountedOut,
    FinishWanted,
    Stopped,
    Tallied,
)
from rehang.trade.terms.quantities import parse_amount
from rehang.trade.terms.strikes import strikes_in
from rehang.trade.terms.wording import on_day, written_day

__all__ = ["fold"]


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
    given = [e for e in entries if now is None or e.at <= now]
    order: list[Entry] = []
    by_id: dict[str, Entry] = {}
    for entry in given:
        if entry.id in by_id:
            if by_id[entry.id].content() != entry.content():
                raise BadInput(
                    f"Two entries have the id {entry.id} and say different things. "
                    "Give the second one an id of its own.",
                    (where or {}).get(entry.id, ""),
                )
            continue
        by_id[entry.id] = entry
        order.append(entry)
    struck, void = strikes_in(order)
    # Filled entry by entry: a rule sees the book before the entry, and nothing behind it.
    state = JobState({}, {}, {}, [], struck, None, {}, False, void_strikes=void)
    for item_id in expected:
        state.items[item_id] = ItemState(item_id, item_kind(item_id), item_name(item_id))
    folder = _Fold(state, layout, sheets, meters, where or {}, voids, named)
    for entry in order:
        if is_a(entry, Unread):
            state.aside[entry.id] = BadInput(entry.fields.why)
        elif entry.id not in struck:
            try:
                said = fault(entry, state)
                if said:
                    state.faults[entry.id] = said
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


# What the fold does with an entry of a kind; of one that is not here it only keeps the entry.
_HANDLERS: dict[type[Fields], Callable[[_Fold, Any], None]] = {}

_Handler = Callable[["_Fold", Entry[F]], None]


def _on(*kinds: type[F]) -> Callable[[_Handler[F]], _Handler[F]]:
    """The method below takes up entries of those kinds."""

    def keep(method: _Handler[F]) -> _Handler[F]:
        _HANDLERS.update(dict.fromkeys(kinds, method))
        return method

    return keep


class _Fold:
    """Adds one entry after another to a state; lives only inside :func:`fold`."""

    def __init__(
        self,
        state: JobState,
        layout: Layout,
        sheets: Mapping[str, CheckSheet],
        meters: Mapping[str, Meter],
        where: Mapping[str, str],
        voids: Callable[[Check, Taken], str],
        named: Callable[[str], str],
    ) -> None:
        self.named = named
        self.state = state
        self.layout = layout
        self.sheets = sheets
        self.meters = meters
        self.where = where
        self.voids = voids

    def add(self, entry: Entry) -> None:
        handler = _HANDLERS.get(type(entry.fields))
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

    def _place_of(self, entry: Entry) -> str:
        return self.where.get(entry.id, "")

    def _item(self, item_id: str) -> ItemState:
        kind, name = item_kind(item_id), item_name(item_id)
        if not name:
            raise BadInput(f'"{item_id}" is not an item. Write kind:name, as in plug:K0411.')
        return self.state.items.setdefault(item_id, ItemState(item_id, kind, name))

    def _known(self, entry: Entry) -> ItemState:
        if item_kind(entry.item) == "engine":
            # What no sheet lists: the oil system, the idle. It is on every engine.
            self._item(entry.item)
        if entry.item not in self.state.items:
            raise BadInput(
                f'"{entry.item}" has not come into this job. '
                'Write an entry of kind "removed" for it first.',
                self._place_of(entry),
            )
        item = self.state.items[entry.item]
        if entry.place and item.kind == "plug":
            hole = self.layout.check_hole(entry.place, self._place_of(entry))
            if item.place and hole != item.place:
                raise BadInput(
                    f"{item.name} is in {item.place}, not in {hole}. "
                    "Write where it moved to, or mend the hole.",
                    self._place_of(entry),
                )
        return item

    @_on(Removed)
    def _on_removed(self, entry: Entry[Removed]) -> None:
        key = fitted_key(entry, self.layout)
        inside = self.state.fitted.get(key)
        if (inside is not None and inside.item == entry.item) or item_kind(entry.item) != "plug":
            # Out again, or no plug: it keeps its place on the tray, and what was read of it on the
            # bench still counts; what happens to it outside is an entry of its own.
            self.state.fitted.pop(key, None)
            item = self._item(entry.item)
            item.removed = entry
            if entry.fields.hours is not None:
                item.hours = entry.fields.hours
            return
        hole = self.layout.check_hole(entry.place, self._place_of(entry))
        holder = self.state.holes.get(hole)
        if holder and holder != entry.item:
            raise BadInput(
                f"{item_name(holder)} already came out of {hole}; "
                f"{item_name(entry.item)} cannot come out of it too.",
                self._place_of(entry),
            )
        item = self._item(entry.item)
        if item.place and item.place != hole:
            raise BadInput(
                f"{item.name} already came out of {item.place}; "
                f"one serial cannot be in {hole} too.",
                self._place_of(entry),
            )
        for taken in item.readings:
            taken.void = taken.void or "taken before it was last removed"
        item.removed = entry
        item.came_out_of = item.came_out_of or hole
        item.place = hole
        item.hours = entry.fields.hours
        self.state.holes[hole] = entry.item

    @_on(Fitted)
    def _on_fitted(self, entry: Entry[Fitted]) -> None:
        self.state.fitted[fitted_key(entry, self.layout)] = entry

    @_on(Moved)
    def _on_moved(self, entry: Entry[Moved]) -> None:
        item = self.state.item(entry.item, self._place_of(entry))
        hole = self.layout.check_hole(entry.place, self._place_of(entry))
        holder = self.state.holes.get(hole)
        if holder and holder != entry.item:
            raise BadInput(
                f"{item_name(holder)} is in {hole}. Move it out first.", self._place_of(entry)
            )
        if item.place:
            self.state.holes.pop(item.place, None)
        item.place = hole
        self.state.holes[hole] = entry.item

    @_on(ReadingTaken)
    def _on_reading(self, entry: Entry[ReadingTaken]) -> None:
        if item_kind(entry.item) == "run" and entry.item not in self.state.items:
            raise BadInput(
                f"Run {item_name(entry.item)} has not begun. Begin it first.", self._place_of(entry)
            )
        item = self._known(entry)
        check, reading = understand(entry, self.sheets, self.meters, self._place_of(entry))
        if reading.value is not None and reading.value > LARGEST_VALUE:
            raise BadInput(
                f'"{reading.written}" is more than anything a meter reads. Look at the digits again.',
                self._place_of(entry),
            )
        taken = Taken(entry, reading)
        taken.void = self.voids(check, taken)
        if item.ended:
            taken.void = f"taken after it was {item.ended[-1].fields.became}"
        item.readings.append(taken)

    @_on(Seen)
    def _on_seen(self, entry: Entry[Seen]) -> None:
        kind = item_kind(entry.item)
        item = self._known(entry) if kind == "plug" else self._item(entry.item)
        sheet = self.sheets.get(kind)
        place = self._place_of(entry)
        if sheet is None:
            severity = 2 if entry.fields.severity is None else entry.fields.severity
            self._open(item, entry, entry.id, entry.fields.word, entry.fields.word, severity)
            return
        word = sheet.word(entry.fields.word, place)
        if entry.fields.check:
            sheet.check(entry.fields.check, place)
        severity = self._severity(entry, word, item, place)
        is_look = entry.fields.check in {one.name for one in sheet.looks}
        if is_look:
            item.looks.append(entry)
            item.look_void = "" if not item.ended else "taken after it was dropped"
            seen_now = {
                other.fields.word
                for other in item.looks
                if other.fields.set and other.fields.set == entry.fields.set
            } | {word.name}
            for finding in item.findings:
                gone = finding.word not in seen_now
                if gone and finding.is_open and finding.deposit and finding.cleaned:
                    finding.resolved = f"cleaned, and not there at the look of {_day(entry)}"
        self._open(item, entry, entry.id, word.name, word.label, severity, word)
        self._travel(item, entry, word, severity)

    def _travel(self, item: ItemState, entry: Entry[Seen], word: Word, severity: int) -> None:
        """What is seen on one part opens a finding on another, which stays when the part goes (DESIGN 4b, 9)."""
        hole = item.removed.place if item.removed is not None else item.came_out_of
        target = travels_to(word, hole, self.layout)
        if not target:
            return
        other = self._item(target)
        label = word.opens_label.format(plug=item.name, hole=hole)
        if any(one.label == label and one.is_open for one in other.findings):
            # It was seen again and is one thing to look into.
            return
        self._open(
            other,
            entry,
            f"{entry.id}:{item_kind(target)}",
            word.name,
            label,
            severity if word.opens_severity is None else word.opens_severity,
            None,
            next_act=word.next_act,
            closed_by=word.opens_closed_by,
        )

    def _severity(self, entry: Entry[Seen], word: Word, item: ItemState, place: str) -> int:
        given = entry.fields.severity
        if given is None:
            if word.drained_severity is not None and item.came_out_of in self.layout.drains_to:
                return word.drained_severity
            return word.severity
        if given not in (0, 1, 2, 3):
            raise BadInput(f"A severity is 0, 1, 2 or 3, not {given}.", place)
        return int(given)

    def _open(
        self,
        item: ItemState,
        entry: Entry[Seen],
        finding_id: str,
        word: str,
        label: str,
        severity: int,
        from_sheet: Word | None = None,
        next_act: str = "",
        closed_by: tuple[str, ...] = (),
    ) -> None:
        item.findings.append(
            Finding(
                id=finding_id,
                entry=entry,
                item=item.id,
                word=word,
                label=label,
                severity=severity,
                deposit=from_sheet.deposit if from_sheet else False,
                check=entry.fields.check if item.id == entry.item else "",
                note=entry.fields.note,
                next_act=from_sheet.next_act if from_sheet else next_act,
                cause=from_sheet.cause if from_sheet else "",
                closed_by=closed_by,
            )
        )

    @_on(Reworked)
    def _on_reworked(self, entry: Entry[Reworked]) -> None:
        item = self._known(entry)
        sheet = self.sheets.get(item.kind)
        if sheet is None:
            item.reworks.append(entry)
            return
        act = sheet.rework(entry.fields.act, self._place_of(entry))
        for taken in item.readings:
            if taken.reading.check in act.voids and not taken.void:
                taken.void = f"taken before it was {act.done} on {_day(entry)}"
                taken.voided_by = act.name
        if sheet.look.name in act.voids and not item.look_void:
            item.look_void = f"taken before it was {act.done} on {_day(entry)}"
        if act.clears_deposits:
            for finding in item.findings:
                if finding.deposit and finding.is_open:
                    finding.cleaned = True
        item.reworks.append(entry)

    @_on(Dropped, Overheated, UnknownHistory)
    def _on_ended(self, entry: Entry[Spoilt]) -> None:
        item = self._known(entry)
        for taken in item.readings:
            taken.void = taken.void or f"taken before it was {entry.fields.became}"
            taken.voided_by = taken.voided_by or entry.kind
        item.look_void = item.look_void or f"taken before it was {entry.fields.became}"
        item.ended.append(entry)

    @_on(CallMade)
    def _on_called(self, entry: Entry[CallMade]) -> None:
        call = entry.fields.call
        if call not in ("WITHIN", "OUT"):
            raise BadInput(
                f'A close call is called WITHIN or OUT, not "{call}".', self._place_of(entry)
            )
        target = self.state.entries.get(entry.fields.entry)
        if target is not None and is_a(target, PiecesCounted):
            # What a person decided of a count; its figures are judged with the limits.
            self.state.settled[f"{COUNT}{target.id}"] = entry
            return
        if target is not None and is_a(target, Torqued):
            self.state.torque_calls[target.id] = entry
            return
        taken = self._taken(entry)
        taken.called = call
        taken.called_entry = entry

    @_on(LeftOpen)
    def _on_left_open(self, entry: Entry[LeftOpen]) -> None:
        self._taken(entry).left_open = entry

    def _taken(self, entry: Entry[CallMade | LeftOpen]) -> Taken:
        target = entry.fields.entry
        for item in self.state.items.values():
            for taken in item.readings:
                if taken.entry.id == target:
                    return taken
        raise BadInput(f'There is no reading "{target}" to call.', self._place_of(entry))

    @_on(Closed)
    def _on_closed(self, entry: Entry[Closed]) -> None:
        if entry.fields.finding.startswith(WORKED_OUT_NAMES):
            # These are worked out from the whole book, so here they are only remembered.
            self.state.settled[entry.fields.finding] = entry
            return
        finding = self.state.finding(entry.fields.finding, self._place_of(entry))
        finding.resolved = (
            f"closed on {_day(entry)} by {self.named(entry.by)}: {entry.fields.reason}"
        )

    @_on(Disposed)
    def _on_disposed(self, entry: Entry[Disposed]) -> None:
        self._known(entry).disposed = entry

    @_on(Replaced)
    def _on_replaced(self, entry: Entry[Replaced]) -> None:
        old = self.state.item(f"{item_kind(entry.item)}:{entry.fields.for_}", self._place_of(entry))
        old.replaced_by = item_name(entry.item)
        # It comes into the job as what stands in, so that it can be read and judged itself.
        self._item(entry.item)

    @_on(Disagreed)
    def _on_disagreed(self, entry: Entry[Disagreed]) -> None:
        if entry.fields.verdict not in ("KEEP", "REWORK", "REJECT", "NOT YET"):
            raise BadInput(
                f'"{entry.fields.verdict}" is not a verdict. '
                "The verdicts are KEEP, REWORK, REJECT and NOT YET.",
                self._place_of(entry),
            )
        self._known(entry).disagreed = entry

    @_on(FinishWanted)
    def _on_wanted(self, entry: Entry[FinishWanted]) -> None:
        last_day(entry.fields.on, self._place_of(entry))

    @_on(Stopped)
    def _on_stopped(self, entry: Entry[Stopped]) -> None:
        # Where a task stopped is kept with the work; this is where reading stopped.
        if not entry.fields.task:
            self.state.stop = entry

    @_on(Proved)
    def _on_proved(self, entry: Entry[Proved]) -> None:
        meter_on_file(entry.fields.meter, self.meters, self._place_of(entry))
        if entry.fields.due:
            last_day(entry.fields.due, self._place_of(entry))
        self.state.proved[entry.fields.meter] = entry
        self.state.proofs.setdefault(entry.fields.meter, []).append(entry)

    @_on(MeterFoundOut)
    def _on_found_out(self, entry: Entry[MeterFoundOut]) -> None:
        place = self._place_of(entry)
        meter = entry.fields.meter
        meter_on_file(meter, self.meters, place)
        found_on = _whole_day(entry.fields.on, place) or entry.at.date()
        good = _whole_day(entry.fields.good, place)
        if found_on > entry.at.date():
            raise BadInput(
                f"{on_day(found_on)} is still to come. Write the day it was found.", place
            )
        if good is not None and good > found_on:
            raise BadInput(
                f"{meter} was last known good on {on_day(good)}, which is after the day it was found "
                f"out, {on_day(found_on)}. Look at both days again.",
                place,
            )
        found = FoundOut(entry, found_on, good, None, None)
        self.state.found_out.setdefault(meter, []).append(found)

    @_on(MasterRead)
    def _on_master(self, entry: Entry[MasterRead]) -> None:
        place = self._place_of(entry)
        meter = meter_on_file(entry.fields.meter, self.meters, place)
        if meter is None or meter.quantity is None:
            raise BadInput("A master reading needs the tester it was taken on.", place)
        value = parse_amount(entry.fields.written, meter.quantity, where=place)
        self.state.masters.append((entry, value))

    @_on(Sampled)
    def _on_sampled(self, entry: Entry[Sampled]) -> None:
        item = self._item(entry.item)
        taken = [*item.samples, *item.bottles]
        before = max(
            taken, key=lambda e: self.state.order.index(self.state.entries[e.id]), default=None
        )
        place = self._place_of(entry)
        last_day(entry.fields.on, place)
        _check_ppm(entry, place)
        if before is not None:
            if entry.fields.engine_hours < before.fields.engine_hours:
                raise BadInput(
                    f"The sample is at {entry.fields.engine_hours:g} h; the one before was at "
                    f"{before.fields.engine_hours:g} h. Hours do not run backwards.",
                    place,
                )
            if entry.fields.on < before.fields.on:
                raise BadInput(
                    f"The sample of {written_day(entry.fields.on)} stands behind the one of "
                    f"{written_day(before.fields.on)}. Write them in the order they were drained.",
                    place,
                )
        if entry.fields.oil_hours <= 0 or entry.fields.added_qt < 0:
            raise BadInput("Oil hours must be above 0 and oil added 0 or more.", place)
        check_fill(entry.fields, place)
        (item.samples if entry.fields.ppm else item.bottles).append(entry)

    @_on(Analysed)
    def _on_analysed(self, entry: Entry[Analysed]) -> None:
        """What the laboratory found of a sample that was taken before; the two are one sample."""
        place = self._place_of(entry)
        _check_ppm(entry, place)
        for item in self.state.items.values():
            for taken in item.bottles:
                if taken.id == entry.fields.sample:
                    found = {k: v for k, v in entry.data.items() if k != "sample"}
                    item.bottles.remove(taken)
                    item.samples.append(replace(taken, data={**taken.data, **found}))
                    item.samples.sort(key=lambda e: (e.fields.on, e.fields.engine_hours))
                    return
        raise BadInput("There is no sample that waits for these figures.", place)

    @_on(CountedOut)
    def _on_counted_out(self, entry: Entry[CountedOut]) -> None:
        self._count(entry, 1)

    @_on(CountedIn)
    def _on_counted_in(self, entry: Entry[CountedIn]) -> None:
        self._count(entry, -1)

    def _count(self, entry: Entry[Tallied], sign: int) -> None:
        """Blanks, rags, covers, loose tools: out of the box and in or on the engine, or back."""
        what, number = entry.fields.what, entry.fields.number
        place = self._place_of(entry)
        if number < 1:
            raise BadInput(f"{number} {what} cannot be counted. Write 1 or more.", place)
        there = self.state.out.get(what, 0)
        left = there + sign * number
        if left < 0:
            raise BadInput(
                f"{number} {what} counted in, and only {there} {'is' if there == 1 else 'are'} out."
                if there
                else f"{number} {what} counted in, and none is out.",
                place,
            )
        self.state.out[what] = left

    @_on(Torqued)
    def _on_torqued(self, entry: Entry[Torqued]) -> None:
        place = self._place_of(entry)
        meter_on_file(entry.fields.meter, self.meters, place)
        of, named = entry.fields.of, entry.fields.fasteners
        done = entry.fields.done
        if (named is None) == (done is None):
            raise BadInput(
                'A torque says which fasteners it was put on: write "fasteners", as in [3].', place
            )
        if named is None and done is not None and not 0 <= done <= of:
            raise BadInput(f"{done} of {of} cannot be.", place)
        if named is not None and not (
            named
            and all(type(one) is int and 1 <= one <= of for one in named)
            and len(set(named)) == len(named)
        ):
            raise BadInput(
                f'"fasteners" is {json.dumps(named)}. Write the numbers of those torqued, each once '
                f"and from 1 to {of}, as in [3].",
                place,
            )
        self._item(entry.item).torqued.append(entry)

    @_on(RunBegan)
    def _on_run_began(self, entry: Entry[RunBegan]) -> None:
        run = f"run:{entry.fields.run}"
        if run in self.state.items:
            raise BadInput(
                f"Run {entry.fields.run} has begun already. Give this run a name of its own.",
                self._place_of(entry),
            )
        self._item(run)

    @_on(PiecesCounted)
    def _on_counted(self, entry: Entry[PiecesCounted]) -> None:
        if entry.fields.on:
            last_day(entry.fields.on, self._place_of(entry))
        self._item(entry.item).counts.append(entry)

    @_on(Pictured)
    def _on_pictured(self, entry: Entry[Pictured]) -> None:
        place = self._place_of(entry)
        # The file's name is its sum, so that the chain names every byte of the picture.
        sha256 = entry.fields.sha256
        if not re.fullmatch(r"[0-9a-f]{64}", sha256) or entry.fields.photo != f"{sha256}.jpg":
            raise BadInput(
                f'The photo "{entry.fields.photo}" is not named by its sum "{sha256}". '
                "Add the photo again.",
                place,
            )
        if entry.fields.entry and entry.fields.entry not in self.state.entries:
            raise BadInput(
                f'The photo belongs to "{entry.fields.entry}", which is not in the book.', place
            )
        if entry.item:
            known = item_kind(entry.item) == "plug"
            item = self._known(entry) if known else self._item(entry.item)
            item.pictures.append(entry)

    @_on(PutAway)
    def _on_put_away(self, entry: Entry[PutAway]) -> None:
        self.state.put_away = True

    @_on(BroughtBack)
    def _on_brought_back(self, entry: Entry[BroughtBack]) -> None:
        self.state.put_away = False

    @_on(Noted)
    def _on_note(self, entry: Entry[Noted]) -> None:
        if entry.item and entry.item in self.state.items:
            self.state.items[entry.item].notes.append(entry)

    @_on(EarlierService)
    def _on_earlier(self, entry: Entry[EarlierService]) -> None:
        item = self._item(entry.item)
        place = self._place_of(entry)
        last_day(entry.fields.service, place)
        sheet = self.sheets.get(item.kind)
        if sheet is None:
            return
        found: dict[str, Reading] = {}
        left: dict[str, Reading] = {}
        for one in entry.fields.readings:
            check = sheet.check(_field(one, "check", place), place)
            reading = read(
                check,
                _field(one, "written", place),
                meter_on_file(_field(one, "meter", place, ""), self.meters, place),
                _field(one, "range", place, ""),
                _psi(one, place),
                place,
                _with(one, place),
            )
            (left if _field(one, "as", place, "found") == "left" else found)[check.name] = reading
        hole = entry.place
        item.earlier.append(
            Earlier(
                entry=entry,
                service=entry.fields.service,
                place=self.layout.check_hole(hole, place) if hole else "",
                engine_hours=entry.fields.engine_hours,
                item_hours=entry.fields.item_hours,
                readings=found,
                left=left,
                note=entry.fields.note,
            )
        )


def _field(one: Any, name: str, place: str, default: str | None = None) -> str:
    found = one.get(name, default) if isinstance(one, dict) else None
    if not isinstance(found, str):
        raise BadInput(f'An earlier reading needs "{name}", as text.', place)
    return found


def _whole_day(text: str, place: str) -> date | None:
    """A day written out in full, which a month is not; None where there is none."""
    if not text:
        return None
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
        raise BadInput(f'"{text}" is not a day. Write it out, as in 2026-10-22.', place)
    return last_day(text, place)


def _psi(one: Mapping[str, Any], place: str) -> int | None:
    found = one.get("at_psi")
    if found is not None and (isinstance(found, bool) or not isinstance(found, int)):
        raise BadInput('"at_psi" of an earlier reading must be a whole number.', place)
    return found


def _with(one: Mapping[str, Any], place: str) -> dict[str, str]:
    found = one.get("with", {})
    if not isinstance(found, Mapping):
        raise BadInput('"with" of an earlier reading must be a table.', place)
    return {str(k): str(v) for k, v in found.items()}


def _check_ppm(entry: Entry[Sampled | Analysed], place: str) -> None:
    for element, ppm in entry.fields.ppm.items():
        below = isinstance(ppm, str) and re.fullmatch(r"<[0-9]+(\.[0-9]+)?", ppm) is not None
        number = isinstance(ppm, (int, float)) and not isinstance(ppm, bool) and ppm >= 0
        if not (below or number):
            raise BadInput(
                f'{element} is "{ppm}". Write parts per million, as in 32, or "<2" where the '
                "laboratory found less than it can see.",
                place,
            )


def _day(entry: Entry) -> str:
    return on_day(entry.at)
