"""Rows of the places: what came out, what is in, and what one tap may put in or take out."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.task_takes import Use
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.fitting import GASKETS, NAMED_BY_SERIAL, accessory_words
from rehang.trade.known.state import item_kind, item_name
from rehang.trade.known.went_in import part_for
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.entries import Entry, is_a, new_entry
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.items import Fitted, Replaced
from rehang.trade.terms.wording import on_day, upper_first
from rehang.trade.work.places import PlaceNow
from rehang.web.shared.spots import spot_of

__all__ = [
    "FitGroup",
    "FitRow",
    "check_numbered",
    "entries_of",
    "fit_groups",
    "fit_of_item",
    "fit_row",
    "fitting_uses",
    "in_words",
    "known_serials",
    "place_of_task",
    "written_again",
]

_TITLES = {
    "plug": "Spark plugs",
    "lead": "Ignition leads",
    "hose": "Hoses",
    "magneto": "Magnetos",
    "cylinder": "Cylinders",
    "filter": "Oil filter",
}


@dataclass(frozen=True, slots=True)
class FitRow:
    """One place, with what may be done there by a tap.

    ``offers`` is the item that goes in next and ``name`` how it is called; ``stop`` says why it
    may not. ``asks_made`` and so on are what is written with it. ``out`` is the item that a tap
    takes out; ``types_out`` says that nothing is known to be in, so that its serial is typed.
    ``spot`` is its id on a page of places; ``has_page`` says that the part has a page of its own.
    ``asks_serial`` says that its number is not in its name: ``serial`` is that of the one that came
    out, where it is on file. ``again`` is the entry of one that is in without any.
    """

    kind: str
    place: str
    label: str
    now: str
    papers: str
    is_in: bool
    came: str
    offers: str
    name: str
    verdict: str
    mark: str
    stop: str
    gaskets: tuple[str, ...]
    types: str
    asks_made: bool
    asks_batch: bool
    asks_papers: bool
    asks_serial: bool
    serial: str
    again: str
    part: str
    out: str
    types_out: bool
    has_page: bool
    is_new: bool

    @property
    def spot(self) -> str:
        return spot_of(self.kind, self.place)

    @property
    def is_right(self) -> bool:
        """Whether nothing is known to be wrong or missing of what goes in."""
        return self.verdict in ("", "KEEP")


@dataclass(frozen=True, slots=True)
class FitGroup:
    """The places of one kind under their heading."""

    title: str
    rows: tuple[FitRow, ...]
    filled: int

    @property
    def spots(self) -> tuple[str, ...]:
        return tuple(row.spot for row in self.rows)


def fitting_uses(kind: str, facts: JobFacts) -> tuple[tuple[str, Use], ...]:
    """What goes in with each part of a kind, by the task that puts it in: its id and the use."""
    return tuple(
        (task.id, use)
        for task in facts.tasks.values()
        if (kind, "fitted") in task.acts
        for use in task.uses
        if use.each
    )


def _part_of(kind: str, facts: JobFacts) -> str:
    """The part of stock.toml that a new one of a kind is."""
    known = part_for(f"{kind}:new", facts)
    if known is not None:
        return known.id
    taken = [
        use.part
        for task in facts.tasks.values()
        if (kind, "fitted") in task.acts and not task.for_each
        for use in task.uses
    ]
    return taken[0] if taken else ""


def fit_row(one: PlaceNow, judged: JudgedJob) -> FitRow:
    """One place as a row."""
    verdict = next((v for v in judged.items if v.item == one.goes_in), None)
    is_in = bool(one.item) and (
        one.entry is not None
        or one.kind in ("lead", "cylinder", "magneto")
        or one.key in judged.facts.accessories
    )
    named = one.kind in ("plug", "hose")
    came = judged.state.items.get(one.began)
    stop = ""
    if verdict is not None and verdict.verdict == "REJECT":
        stop = (
            f"{verdict.name} is a REJECT. On its page write what became of it and what replaces it."
        )
    elif verdict is not None and verdict.verdict == "REWORK":
        stop = f"{verdict.name} is REWORK. {verdict.next}"
    elif one.kind == "plug" and not one.goes_in and one.began:
        stop = f"{item_name(one.began)} is a REJECT and nothing stands in for it yet."
    new_hose = one.kind == "hose" and item_name(one.goes_in) not in judged.facts.hoses
    return FitRow(
        kind=one.kind,
        place=one.name,
        label=upper_first(one.label),
        now=_now_words(one),
        papers=one.papers,
        is_in=is_in,
        came=(
            f"{came.name} came out {on_day(came.removed.at)}"
            if one.kind == "plug" and came is not None and came.removed is not None
            else ""
        ),
        offers=one.goes_in or (f"{one.kind}:{one.name}" if not named else ""),
        name=item_name(one.goes_in) if named else f"the {one.label}",
        verdict=verdict.verdict if verdict is not None else "",
        mark=status_name(verdict.verdict) if verdict is not None else "",
        stop=stop,
        gaskets=GASKETS if fitting_uses(one.kind, judged.facts) else (),
        types="Another, by its tag" if one.kind == "hose" else "Another, by its serial",
        asks_made=new_hose and not _has_date(one.goes_in, judged),
        asks_batch=one.kind == "filter",
        asks_papers=one.kind == "filter" or not named,
        asks_serial=not named and one.kind != "filter",
        serial=one.own,
        again=one.entry.id if is_in and one.entry is not None and not one.serial else "",
        part=_part_of(one.kind, judged.facts) if one.kind == "filter" else "",
        out=one.item if is_in else "",
        types_out=one.kind == "plug" and not one.began and not one.item,
        is_new=one.is_new,
        has_page=named and (one.item or one.goes_in) in judged.state.items,
    )


def _now_words(one: PlaceNow) -> str:
    if not one.item:
        return ""
    if one.kind in ("plug", "hose"):
        return item_name(one.item)
    return one.serial or item_name(one.item)


def _has_date(item: str, judged: JudgedJob) -> bool:
    return any(is_a(e, Replaced) and e.item == item and e.fields.made for e in judged.state.live())


def fit_groups(judged: JudgedJob) -> tuple[FitGroup, ...]:
    """Every place, kind by kind."""
    found = []
    for kind in dict.fromkeys(one.kind for one in judged.places):
        rows = tuple(fit_row(one, judged) for one in judged.places if one.kind == kind)
        filled = sum(bool(row.now) for row in rows)
        found.append(FitGroup(_TITLES.get(kind, upper_first(kind.replace("-", " "))), rows, filled))
    return tuple(found)


def fit_of_item(item: str, judged: JudgedJob) -> FitRow | None:
    """The place that an item is in, or that it goes into next; None where it has none."""
    inside = [one for one in judged.places if one.item == item]
    goes = [one for one in judged.places if one.goes_in == item]
    return next((fit_row(one, judged) for one in (*inside, *goes)), None)


def in_words(kind: str, place: str, judged: JudgedJob) -> str:
    """Which serial is in a place, or goes there: for a card that stands beside it."""
    one = next((p for p in judged.places if p.kind == kind and p.name == place), None)
    if one is None:
        return ""
    if one.item:
        return f"{item_name(one.item)} is in"
    return f"{item_name(one.goes_in)} goes in" if one.goes_in else "nothing is in"


def place_of_task(kind: str, place: str, judged: JudgedJob) -> PlaceNow | None:
    """The place that a task names, a hose by the one that lies on the line now."""
    for one in judged.places:
        if one.kind != kind:
            continue
        if place in ("", one.name) or f"{kind}:{place}" in (one.item, one.goes_in):
            return one
    return None


def known_serials(judged: JudgedJob) -> tuple[str, ...]:
    """The serials of the plugs that the job knows, as they are spelled."""
    return tuple(one.name for one in judged.state.items.values() if item_kind(one.id) == "plug")


def check_numbered(item: str, told: Mapping[str, str]) -> None:
    """Refuse a part that goes in without its number, which would keep the engine from service.

    Raises
    ------
    BadInput
        Neither a serial nor a batch is given of a part that is named by its place.
    """
    kind = item_kind(item)
    if kind in NAMED_BY_SERIAL or told.get("serial") or told.get("batch"):
        return
    number = "batch or serial" if kind == "filter" else "serial"
    raise BadInput(
        f"Write the {number} of the {accessory_words(kind, kind)} that goes in, as it stands on it.",
        "batch" if kind == "filter" else "serial",
    )


def written_again(
    judged: JudgedJob, wanted: str, serial: str, *, once: str, by: str, at: datetime
) -> list[Entry]:
    """A part that went in without its number: its line struck, and written again; once.

    Raises
    ------
    BadInput
        There is no such line.
    """
    old = judged.state.entries.get(wanted)
    if wanted in judged.state.struck:
        # It was pressed twice.
        return []
    if old is None or not is_a(old, Fitted):
        raise BadInput("No part went in by that line. Open the page again.")
    told = {**old.data, "serial": serial}
    struck = new_entry(
        "struck",
        at=at,
        by=by,
        id=_id(once, "struck", wanted),
        entry=wanted,
        reason="written again with its serial",
    )
    return [
        struck,
        new_entry("fitted", at=at, by=by, id=_id(once, "again", wanted, serial), **told),
    ]


def entries_of(
    judged: JudgedJob,
    kind: str,
    item: str,
    place: str,
    told: Mapping[str, str],
    *,
    once: str,
    by: str,
    at: datetime,
) -> list[Entry]:
    """The entry of going in or out, and of what goes in with it: a new gasket comes off the count."""
    of, name = item_kind(item), item_name(item)
    fields: dict[str, str] = {}
    uses = fitting_uses(of, judged.facts)
    if kind == "fitted":
        fields = {key: value for key, value in told.items() if value}
        if uses and of == "plug":
            fields.setdefault("gasket", "new")
    else:
        fields = {key: told[key] for key in ("serial", "batch", "note") if told.get(key)}
    found = [
        new_entry(
            kind,
            at=at,
            by=by,
            id=_id(once, kind, item, place, *fields.values()),
            item=item,
            place=place,
            **fields,
        )
    ]
    if kind != "fitted" or fields.get("gasket") == "annealed":
        return found
    return found + [
        new_entry(
            "used",
            at=at,
            by=by,
            id=_id(once, "used", task, use.part, name, place),
            part=use.part,
            number=use.number,
            task=task,
            place=place,
        )
        for task, use in uses
    ]


def _id(once: str, *parts: str) -> str:
    """An id for what a form or a line writes: the same form with the same content has the same id."""
    try:
        space = uuid.UUID(once)
    except ValueError:
        space = uuid.uuid4()
    return str(uuid.uuid5(space, "\n".join(parts)))
