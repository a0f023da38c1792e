"""What entries about one item come to: out, in, read, seen, worked on, decided, copied in."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rehang.trade.facts.items import Word
from rehang.trade.facts.readings import LARGEST_VALUE, Reading, read
from rehang.trade.known.cylinders_off import CYLINDER, is_off
from rehang.trade.known.folder import Folder, Handlers, day_of_entry, takes
from rehang.trade.known.state import (
    COUNT,
    WORKED_OUT_NAMES,
    Earlier,
    Finding,
    ItemState,
    Taken,
    fitted_key,
    item_kind,
    item_name,
    meter_on_file,
    travels_to,
    understand,
)
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.decisions import CallMade, Closed, Disagreed, LeftOpen
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
from rehang.trade.terms.kinds.oil import PiecesCounted
from rehang.trade.terms.kinds.readings import ReadingTaken, Seen
from rehang.trade.terms.kinds.torque import Torqued

__all__ = ["HANDLERS"]

HANDLERS: Handlers = {}


@takes(HANDLERS, Removed)
def _on_removed(f: Folder, entry: Entry[Removed]) -> None:
    key = fitted_key(entry, f.layout)
    inside = f.state.fitted.get(key)
    if (inside is not None and inside.item == entry.item) or item_kind(entry.item) != "plug":
        # Out again, or no plug: it keeps its place on the tray, and what was read of it on the
        # bench still counts; what happens to it outside is an entry of its own.
        f.state.fitted.pop(key, None)
        item = f.item(entry.item)
        item.removed = entry
        if entry.fields.hours is not None:
            item.hours = entry.fields.hours
        _end_of_place(f, entry, "came off")
        if item.kind == CYLINDER:
            _came_off(f, item, entry)
        return
    hole = f.layout.check_hole(entry.place, f.place_of(entry))
    holder = f.state.holes.get(hole)
    if holder and holder != entry.item:
        raise BadInput(
            f"{item_name(holder)} already came out of {hole}; "
            f"{item_name(entry.item)} cannot come out of it too. Strike the wrong one.",
            f.place_of(entry),
        )
    item = f.item(entry.item)
    if item.place and item.place != hole:
        raise BadInput(
            f"{item.name} already came out of {item.place}; one serial cannot be in {hole} too. "
            "Strike the wrong one.",
            f.place_of(entry),
        )
    for taken in item.readings:
        # DESIGN 4, Verdict: a cycle starts when the item comes out.
        taken.void = taken.void or "taken before it was last removed"
    item.removed = entry
    # The first hole stays: rotation starts from where it served.
    item.came_out_of = item.came_out_of or hole
    item.place = hole
    item.hours = entry.fields.hours
    f.state.holes[hole] = entry.item


def _came_off(f: Folder, cylinder: ItemState, entry: Entry[Removed]) -> None:
    """What was read of a cylinder ends when it comes off, and what is asked of one off begins anew."""
    why = f"taken before it came off on {day_of_entry(entry)}"
    for kind, sheet in f.sheets.items():
        if sheet.one_for != CYLINDER or not (sheet.when_off or sheet.off_voids):
            continue
        item = f.item(f"{kind}:{cylinder.name}")
        ends = {check.name for check in sheet.checks} if sheet.when_off else set(sheet.off_voids)
        for taken in item.readings:
            if taken.reading.check in ends and not taken.void:
                taken.void, taken.voided_by = why, entry.kind
        if sheet.look.name in ends and not item.look_void:
            item.look_void = why


def _is_read_off(f: Folder, item: ItemState) -> bool:
    """Whether something is read while the cylinder is off that only shows with it on."""
    sheet = f.sheets.get(item.kind)
    return sheet is not None and sheet.read_on and is_off(f.state, item.name)


@takes(HANDLERS, Fitted)
def _on_fitted(f: Folder, entry: Entry[Fitted]) -> None:
    f.state.fitted[fitted_key(entry, f.layout)] = entry
    _end_of_place(f, entry, "went in")


def _end_of_place(f: Folder, entry: Entry[Removed] | Entry[Fitted], how: str) -> None:
    """What was read of a part in its place says nothing of it once it was off, or another went in."""
    sheet = f.sheets.get(item_kind(entry.item))
    item = f.state.items.get(entry.item)
    if sheet is None or item is None:
        return
    why = f"taken before it {how} on {day_of_entry(entry)}"
    for taken in item.readings:
        if taken.reading.check in sheet.put_in_voids and not taken.void:
            taken.void, taken.voided_by = why, entry.kind
    if sheet.look.name in sheet.put_in_voids and not item.look_void:
        item.look_void = why


@takes(HANDLERS, Moved)
def _on_moved(f: Folder, entry: Entry[Moved]) -> None:
    item = f.state.item(entry.item, f.place_of(entry))
    hole = f.layout.check_hole(entry.place, f.place_of(entry))
    holder = f.state.holes.get(hole)
    if holder and holder != entry.item:
        raise BadInput(f"{item_name(holder)} is in {hole}. Move it out first.", f.place_of(entry))
    if item.place:
        f.state.holes.pop(item.place, None)
    item.place = hole
    f.state.holes[hole] = entry.item


@takes(HANDLERS, ReadingTaken)
def _on_reading(f: Folder, entry: Entry[ReadingTaken]) -> None:
    if item_kind(entry.item) == "run" and entry.item not in f.state.items:
        raise BadInput(
            f"Run {item_name(entry.item)} has not begun. Begin it first.", f.place_of(entry)
        )
    item = f.known(entry)
    check, reading = understand(entry, f.sheets, f.meters, f.place_of(entry))
    if reading.value is not None and reading.value > LARGEST_VALUE:
        raise BadInput(
            f'"{reading.written}" is more than anything a meter reads. Look at the digits again.',
            f.place_of(entry),
        )
    taken = Taken(entry, reading)
    taken.void = f.voids(check, taken)
    if item.ended:
        # However it tests now, what ended it stands.
        taken.void = f"taken after it was {item.ended[-1].fields.became}"
    first = str(f.layout.firing_order[0])
    if _is_read_off(f, item):
        taken.void = "taken while the cylinder was off"
    elif check.first_on and is_off(f.state, first):
        taken.void = f"taken while cylinder {first}, whose stroke it is read on, was off"
    item.readings.append(taken)


@takes(HANDLERS, Seen)
def _on_seen(f: Folder, entry: Entry[Seen]) -> None:
    kind = item_kind(entry.item)
    item = f.known(entry) if kind == "plug" else f.item(entry.item)
    sheet = f.sheets.get(kind)
    place = f.place_of(entry)
    if sheet is None:
        # With no sheet and no number it is something to look into, not a note.
        severity = 2 if entry.fields.severity is None else entry.fields.severity
        _open(f, item, entry, entry.id, entry.fields.word, entry.fields.word, severity)
        return
    word = sheet.word(entry.fields.word, place)
    if entry.fields.check:
        sheet.check(entry.fields.check, place)
    severity = _severity(f, entry, word, item, place)
    is_look = entry.fields.check in {one.name for one in sheet.looks}
    if is_look:
        item.looks.append(entry)
        item.look_void = "" if not item.ended else "taken after it was dropped"
        if _is_read_off(f, item):
            item.look_void = "taken while the cylinder was off"
        seen_now = {
            other.fields.word
            for other in item.looks
            if other.fields.set and other.fields.set == entry.fields.set
        } | {word.name}
        for finding in item.findings:
            gone = finding.word not in seen_now
            # DESIGN 4a, 11: a clean look closes deposits alone, and after a cleaning.
            if gone and finding.is_open and finding.deposit and finding.cleaned:
                finding.resolved = f"cleaned, and not there at the look of {day_of_entry(entry)}"
    _open(f, item, entry, entry.id, word.name, word.label, severity, word)
    _travel(f, item, entry, word, severity)


def _travel(f: Folder, item: ItemState, entry: Entry[Seen], word: Word, severity: int) -> None:
    """What is seen on one part opens a finding on another, which stays when the part goes (DESIGN 4b, 9)."""
    hole = item.removed.place if item.removed is not None else item.came_out_of
    target = travels_to(word, hole, f.layout)
    if not target:
        return
    other = f.item(target)
    label = word.opens_label.format(plug=item.name, hole=hole)
    if any(one.label == label and one.is_open for one in other.findings):
        # It was seen again and is one thing to look into.
        return
    _open(
        f,
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


def _severity(f: Folder, entry: Entry[Seen], word: Word, item: ItemState, place: str) -> int:
    given = entry.fields.severity
    if given is None:
        if word.drained_severity is not None and item.came_out_of in f.layout.drains_to:
            return word.drained_severity
        return word.severity
    if given not in (0, 1, 2, 3):
        raise BadInput(f"A severity is 0, 1, 2 or 3, not {given}.", place)
    return int(given)


def _open(
    f: Folder,
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


@takes(HANDLERS, Reworked)
def _on_reworked(f: Folder, entry: Entry[Reworked]) -> None:
    item = f.known(entry)
    sheet = f.sheets.get(item.kind)
    if sheet is None:
        item.reworks.append(entry)
        return
    act = sheet.rework(entry.fields.act, f.place_of(entry))
    for taken in item.readings:
        # DESIGN 4, Verdict: what each rework voids. It is the sheet's to say.
        if taken.reading.check in act.voids and not taken.void:
            taken.void = f"taken before it was {act.done} on {day_of_entry(entry)}"
            taken.voided_by = act.name
    if sheet.look.name in act.voids and not item.look_void:
        item.look_void = f"taken before it was {act.done} on {day_of_entry(entry)}"
    if act.clears_deposits:
        for finding in item.findings:
            if finding.deposit and finding.is_open:
                # Not resolved yet: that takes a later look without it.
                finding.cleaned = True
    item.reworks.append(entry)


@takes(HANDLERS, Dropped, Overheated, UnknownHistory)
def _on_ended(f: Folder, entry: Entry[Spoilt]) -> None:
    item = f.known(entry)
    for taken in item.readings:
        taken.void = taken.void or f"taken before it was {entry.fields.became}"
        taken.voided_by = taken.voided_by or entry.kind
    item.look_void = item.look_void or f"taken before it was {entry.fields.became}"
    item.ended.append(entry)


@takes(HANDLERS, CallMade)
def _on_called(f: Folder, entry: Entry[CallMade]) -> None:
    call = entry.fields.call
    # DESIGN 4a, 4: whoever settles it says which of the two it is.
    if call not in ("WITHIN", "OUT"):
        raise BadInput(f'A close call is called WITHIN or OUT, not "{call}".', f.place_of(entry))
    target = f.state.entries.get(entry.fields.entry)
    if target is not None and is_a(target, PiecesCounted):
        # What a person decided of a count; its figures are judged with the limits.
        f.state.settled[f"{COUNT}{target.id}"] = entry
        return
    if target is not None and is_a(target, Torqued):
        f.state.torque_calls[target.id] = entry
        return
    taken = _taken(f, entry)
    taken.called = call
    taken.called_entry = entry


@takes(HANDLERS, LeftOpen)
def _on_left_open(f: Folder, entry: Entry[LeftOpen]) -> None:
    _taken(f, entry).left_open = entry


def _taken(f: Folder, entry: Entry[CallMade | LeftOpen]) -> Taken:
    target = entry.fields.entry
    for item in f.state.items.values():
        for taken in item.readings:
            if taken.entry.id == target:
                return taken
    raise BadInput(f'There is no reading "{target}" to call.', f.place_of(entry))


@takes(HANDLERS, Closed)
def _on_closed(f: Folder, entry: Entry[Closed]) -> None:
    if entry.fields.finding.startswith(WORKED_OUT_NAMES):
        # These are worked out from the whole book, so here they are only remembered.
        f.state.settled[entry.fields.finding] = entry
        return
    finding = f.state.finding(entry.fields.finding, f.place_of(entry))
    finding.resolved = (
        f"closed on {day_of_entry(entry)} by {f.named(entry.by)}: {entry.fields.reason}"
    )


@takes(HANDLERS, Disposed)
def _on_disposed(f: Folder, entry: Entry[Disposed]) -> None:
    f.known(entry).disposed = entry


@takes(HANDLERS, Replaced)
def _on_replaced(f: Folder, entry: Entry[Replaced]) -> None:
    old = f.state.item(f"{item_kind(entry.item)}:{entry.fields.for_}", f.place_of(entry))
    old.replaced_by = item_name(entry.item)
    # It comes into the job as what stands in, so that it can be read and judged itself.
    f.item(entry.item)


@takes(HANDLERS, Disagreed)
def _on_disagreed(f: Folder, entry: Entry[Disagreed]) -> None:
    # DESIGN 4: the tool proposes; a named person may disagree in writing.
    if entry.fields.verdict not in ("KEEP", "REWORK", "REJECT", "NOT YET"):
        raise BadInput(
            f'"{entry.fields.verdict}" is not a verdict. '
            "The verdicts are KEEP, REWORK, REJECT and NOT YET.",
            f.place_of(entry),
        )
    f.known(entry).disagreed = entry


@takes(HANDLERS, EarlierService)
def _on_earlier(f: Folder, entry: Entry[EarlierService]) -> None:
    item = f.item(entry.item)
    place = f.place_of(entry)
    last_day(entry.fields.service, place)
    sheet = f.sheets.get(item.kind)
    if sheet is None:
        return
    found: dict[str, Reading] = {}
    left: dict[str, Reading] = {}
    for one in entry.fields.readings:
        check = sheet.check(_field(one, "check", place), place)
        reading = read(
            check,
            _field(one, "written", place),
            meter_on_file(_field(one, "meter", place, ""), f.meters, place),
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
            place=f.layout.check_hole(hole, place) if hole else "",
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


def _psi(one: Mapping[str, Any], place: str) -> int | None:
    found = one.get("at_psi")
    # True is an int in Python, and no pressure.
    if found is not None and (isinstance(found, bool) or not isinstance(found, int)):
        raise BadInput('"at_psi" of an earlier reading must be a whole number.', place)
    return found


def _with(one: Mapping[str, Any], place: str) -> dict[str, str]:
    found = one.get("with", {})
    if not isinstance(found, Mapping):
        raise BadInput('"with" of an earlier reading must be a table.', place)
    return {str(k): str(v) for k, v in found.items()}
