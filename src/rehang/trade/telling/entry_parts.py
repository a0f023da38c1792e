"""What went off, in and on, what was worked on and torqued: paragraphs of a maintenance entry."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rehang.trade.facts.torquegroups import FOR_EACH
from rehang.trade.known.drafts import LineRows
from rehang.trade.known.extras import Extra, extras_of
from rehang.trade.known.fastened import TorqueCall, torque_places
from rehang.trade.known.state import item_name
from rehang.trade.known.torque import in_lb_words
from rehang.trade.known.went_in import went_in
from rehang.trade.release.torquetodo import fasteners_words
from rehang.trade.telling.sentences import item_as_said
from rehang.trade.terms.entries import is_a
from rehang.trade.terms.kinds.items import Fitted
from rehang.trade.terms.kinds.papers import PapersGiven
from rehang.trade.terms.kinds.stock import Arrived, Used
from rehang.trade.terms.wording import listed, so_many, upper_first, written_day
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.verdicts.reason_words import reason_headline
from rehang.trade.work.places import PlaceNow

if TYPE_CHECKING:
    from rehang.trade.telling.entry_text import Drawer

__all__ = [
    "arrived",
    "found_done",
    "new_part",
    "new_plugs",
    "off",
    "on",
    "papers_of",
    "part_named",
    "plugs_in",
    "plugs_out",
    "reworked",
    "torque",
]


def plugs_out(of: Drawer) -> LineRows:
    return tuple(
        (hole, item_name(one.id))
        for hole in of.facts.layout.walk
        for one in of.judged.state.items.values()
        if one.kind == "plug" and one.came_out_of == hole
    )


def plugs_in(of: Drawer) -> LineRows:
    return tuple(
        (one.name, item_name(one.item))
        for one in of.judged.places
        if one.kind == "plug" and one.item
    )


def off(of: Drawer) -> LineRows:
    """What went off and why: rejects, what was scrapped, and what has another in its place; nothing that is in."""
    inside = {one.item for one in of.judged.places}
    told: list[tuple[str, str]] = []
    for one in of.judged.items:
        gone = one.state.disposed
        if one.item in inside or not (
            one.verdict == "REJECT" or gone is not None or one.state.replaced_by
        ):
            continue
        plug = "plug " if one.kind == "plug" else ""
        why = [_short_reason(one)] if one.verdict == "REJECT" else []
        if gone is not None:
            note = f", {gone.fields.note}" if gone.fields.note else ""
            why.append(f"{gone.fields.how}{note}")
        why = why or [f"replaced by {one.state.replaced_by}"]
        told.append((f"{plug}{item_as_said(one.item)}", "; ".join(why)))
    # Another of the same name, as a magneto, is told by its serial.
    told += [
        (f"{one.label} {one.own}", "")
        for one in of.judged.places
        if one.is_new and one.own and one.item == one.began
    ]
    told += [
        # It is off once another is on: what nobody touched is not told as work.
        ("old oil filter", "")
        for one in of.judged.places
        if one.kind == "filter" and one.is_new
    ]
    return tuple(told)


def on(of: Drawer) -> LineRows:
    """Parts on and their papers, each piece once: what has a name by its name, the rest by its number."""
    pieces = went_in(of.facts, of.judged.state, (Fitted,))
    new = [one for one in of.judged.places if one.is_new]
    told = new_plugs(of, [one for one in new if one.kind == "plug"])
    told += [new_part(of, one) for one in new if one.kind != "plug"]
    named = {one.item for one in new}
    # What was used and names its item is on, though nobody wrote down that it was fitted.
    told += [
        (item_as_said(one.item), part_named(of, one.part))
        for one in pieces
        if is_a(one.entry, Used) and one.item and one.item not in named
    ]
    used: dict[str, int] = {}
    for one in pieces:
        if not one.item:
            used[one.part] = used.get(one.part, 0) + one.number
    for part, number in used.items():
        known = of.facts.parts.get(part)
        head = so_many(number, known.unit if known else "", part_named(of, part))
        told.append((head, papers_of(of, part)))
    return tuple(told)


def new_part(of: Drawer, one: PlaceNow) -> tuple[str, str]:
    """A part that came in, what it is in place of, its number, its date and its papers."""
    entry = one.entry
    assert entry is not None
    name = item_as_said(one.item)
    if one.item != one.began and one.kind == "hose":
        name += f" in place of {one.name}"
    extra = [part_named(of, one.part)] if one.part else []
    if entry.fields.serial:
        extra.append(f"s/n {entry.fields.serial}")
    if entry.fields.batch:
        extra.append(f"batch {entry.fields.batch}")
    if entry.fields.made:
        extra.append(f"made {written_day(entry.fields.made)}")
    if one.papers:
        extra.append(one.papers)
    return name, ", ".join(extra)


def new_plugs(of: Drawer, new: Sequence[PlaceNow]) -> list[tuple[str, str]]:
    """The plugs that came in, by their serials under the release document that they share."""
    alike: dict[tuple[str, str], list[str]] = {}
    for one in new:
        alike.setdefault((one.part, one.papers), []).append(item_name(one.item))
    return [
        (f"{len(ones)} × {part_named(of, part) if part else 'plug'}, s/n {', '.join(ones)}", papers)
        for (part, papers), ones in alike.items()
    ]


def papers_of(of: Drawer, part: str) -> str:
    """The last release document that a part came with; one without a number is none."""
    return next(
        (
            words
            for e in reversed(of.live)
            if is_a(e, Arrived, PapersGiven)
            and part == (e.fields.part if isinstance(e.fields, Arrived) else e.fields.about)
            and (words := e.fields.papers)
        ),
        "",
    )


def part_named(of: Drawer, part: str) -> str:
    return of.facts.part_name(part)


def reworked(of: Drawer) -> LineRows:
    """Each rework by what was done, with the items that it was done to."""
    told: dict[str, list[str]] = {}
    for item in of.judged.state.items.values():
        sheet = of.facts.sheets.get(item.kind)
        for entry in item.reworks:
            act = entry.fields.act
            known = sheet.reworks.get(act) if sheet else None
            note = f" ({entry.fields.note})" if entry.fields.note and item.kind != "plug" else ""
            name = f"{item_as_said(item.id)}{note}"
            ones = told.setdefault(known.done if known else act, [])
            if name not in ones:
                ones.append(name)
    return tuple((act, ", ".join(ones)) for act, ones in told.items())


def found_done(of: Drawer) -> LineRows:
    """Work found that is done: what, why, and how it is said to be done."""
    return tuple(
        (f"{one.told.what}: {one.told.reason.strip().rstrip('.')}; {_ended(one)}",)
        for one in extras_of(of.facts, of.judged.state)
        if one.is_done
    )


def _ended(one: Extra) -> str:
    return one.closed.fields.reason.strip().rstrip(".") if one.closed is not None else ""


def torque(of: Drawer) -> LineRows:
    """Each group with what arrived, the wrench and until when it is in date."""
    told: dict[tuple[str, tuple[str, str]], list[str]] = {}
    for place in torque_places(of.facts, of.judged.state):
        alike: dict[tuple[str, str], list[int]] = {}
        for number, call in place.calls.items():
            if call.call != "VOID":
                alike.setdefault(arrived(of, call), []).append(number)
        for said, numbers in alike.items():
            whole = len(numbers) == place.group.number
            words = (
                place.label
                if whole and place.place
                else upper_first(fasteners_words(place, numbers))
            )
            told.setdefault((place.group.title, said), []).append(words)
    return tuple(
        (
            f"{title} ({listed(_shortened(words))})"
            if words[0].partition(" ")[0] in FOR_EACH
            else listed(words),
            *said,
        )
        for (title, said), words in told.items()
    )


def arrived(of: Drawer, call: TorqueCall) -> tuple[str, str]:
    """What arrived at the fastener, and how it was put there."""
    state, entry = of.judged.state, call.entry
    meter = of.facts.meters[entry.fields.meter]
    due = f", due {written_day(meter.due_text)}" if meter.due_text else ", no calibration"
    doubt = ", in doubt" if state.doubt(meter.id, entry) is not None else ""
    value = f"{in_lb_words(call.arrived)} in-lb" if call.arrived is not None else "no value"
    set_to = f"set {entry.fields.set_to}, " if entry.fields.adapter else ""
    by = f", called {call.call} by {call.called_by}" if call.called_by else ""
    call_word = "" if call.call == "WITHIN" or by else f", {call.call}"
    return value, f"{set_to}{meter.id}{due}{doubt}{by}{call_word}"


def _short_reason(one: ItemVerdict) -> str:
    return "; ".join(map(reason_headline, one.deciding)) or one.verdict


def _shortened(labels: Sequence[str]) -> list[str]:
    """Places of one kind with the kind said once: "hole 1T", "1B"."""
    head = labels[0].partition(" ")[0]
    return [labels[0], *(one.removeprefix(f"{head} ") for one in labels[1:])]
