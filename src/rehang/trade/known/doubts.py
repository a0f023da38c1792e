"""What a meter found out of tolerance was used on since it was last known good, and what is open.

A use is open until it is done again with a good one or a named person writes why it stands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.state import FoundOut, JobState, Taken, item_kind, item_name
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.meters import MasterRead
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.terms.kinds.torque import Torqued
from rehang.trade.terms.wording import on_day

__all__ = [
    "DoubtfulUse",
    "goings",
    "last_torques",
    "standing_torques",
    "torqued_now",
    "torques_in_doubt",
    "use_words",
    "uses_in_doubt",
]


@dataclass(frozen=True, slots=True)
class DoubtfulUse:
    """One use of a meter since it was last known good.

    ``said`` is what became of it since; empty where it is open. ``key`` is what an entry of kind
    ``closed`` names to say why it stands.
    """

    found: FoundOut
    entry: Entry
    item: str
    what: str
    on: date
    said: str
    key: str

    @property
    def is_open(self) -> bool:
        return not self.said


def goings(torqued: Sequence[Entry[Torqued]], state: JobState) -> list[list[Entry[Torqued]]]:
    """Torques of one set of fasteners that say how many, parted where the count begins again.

    It begins again at a count no higher than the last, and at the first torque after a wrench of
    the going before was found out, for then the card stood at none. Torques that name their
    fasteners stand each for themselves and are in none.
    """
    found: list[list[Entry[Torqued]]] = []
    for entry in torqued:
        if entry.fields.fasteners is not None:
            continue
        last = found[-1] if found else []
        doubts = [one for e in last if (one := state.doubt(e.fields.meter, e)) is not None]
        anew = not last or entry.fields.first <= last[-1].fields.first
        if anew or any(one.entry.at <= entry.at for one in doubts):
            found.append([])
        found[-1].append(entry)
    return found


def last_torques(torqued: Sequence[Entry[Torqued]], state: JobState) -> dict[int, Entry[Torqued]]:
    """The last torque of each fastener of one set, whatever its wrench."""
    found: dict[int, Entry[Torqued]] = {}
    parted = goings(torqued, state)
    for entry in torqued:
        if entry.fields.fasteners is not None:
            found |= dict.fromkeys(entry.fields.fasteners, entry)
            continue
        going = next(one for one in parted if entry in one)
        at = going.index(entry)
        if not at:
            found.clear()
        first = going[at - 1].fields.first if at else 0
        found |= dict.fromkeys(range(first + 1, entry.fields.first + 1), entry)
    return found


def standing_torques(
    torqued: Sequence[Entry[Torqued]], state: JobState
) -> dict[int, Entry[Torqued]]:
    """The torque that each fastener of one set stands by; none of a going with a wrench found out."""
    out = {e.id for e in torqued if state.doubt(e.fields.meter, e) is not None}
    for going in goings(torqued, state):
        # A count says how many and not which: with one in doubt none of the going is sure.
        if any(e.id in out for e in going):
            out |= {e.id for e in going}
    last = last_torques(torqued, state)
    return {number: entry for number, entry in sorted(last.items()) if entry.id not in out}


def torqued_now(torqued: Sequence[Entry[Torqued]], state: JobState) -> int:
    """How many of one set of fasteners stand torqued: none where the wrench was found out."""
    return len(standing_torques(torqued, state))


def torques_in_doubt(torqued: Sequence[Entry[Torqued]], state: JobState) -> list[Entry[Torqued]]:
    """Torques put on with a wrench found out and not gone over by a good one since."""
    alike: dict[str, list[Entry[Torqued]]] = {}
    for entry in torqued:
        alike.setdefault(entry.fields.what, []).append(entry)
    found: list[Entry[Torqued]] = []
    for ones in alike.values():
        going_of = {e.id: n for n, going in enumerate(goings(ones, state)) for e in going}
        for number, entry in enumerate(ones):
            if state.doubt(entry.fields.meter, entry) is None:
                continue
            # What only went on from it did not go over it.
            over = [
                later.fields.reach
                for later in ones[number + 1 :]
                if state.doubt(later.fields.meter, later) is None
                and going_of.get(later.id, -1) != going_of.get(entry.id, -2)
            ]
            if not over or not entry.fields.reach <= frozenset().union(*over):
                found.append(entry)
    return found


def uses_in_doubt(facts: JobFacts, state: JobState, meter: str) -> tuple[DoubtfulUse, ...]:
    """Every use of a meter since it was last known good, the first one first.

    Services copied in from older records are listed; nothing of them is open here.
    """
    told = state.found_out.get(meter, ())
    if not told:
        return ()
    taken = {t.entry.id: t for item in state.items.values() for t in item.readings}
    loose = {
        entry.id for item in state.items.values() for entry in torques_in_doubt(item.torqued, state)
    }
    uses: list[DoubtfulUse] = []
    for entry in state.live():
        if not is_a(entry, ReadingTaken, Torqued, MasterRead) or entry.fields.meter != meter:
            continue
        alike = [one for one in told if one.doubts(entry.at)]
        if not alike:
            continue
        found = state.doubt(meter, entry)
        said = ""
        if found is None:
            found = alike[-1]
            by = state.settled[found.stands_key(entry.id)]
            said = (
                f"stands by {facts.person(by.by)}, {on_day(by.at)}: "
                f"{by.fields.reason.strip().rstrip('.')}"
            )
        elif is_a(entry, Torqued):
            said = "" if entry.id in loose else "gone over again with a good one"
        elif is_a(entry, ReadingTaken):
            said = _since(taken.get(entry.id), state)
        else:
            said = "what was held against it is listed for itself"
        uses.append(
            DoubtfulUse(
                found=found,
                entry=entry,
                item=entry.item,
                what=use_words(entry, facts),
                on=entry.at.date(),
                said=said,
                key=found.stands_key(entry.id),
            )
        )
    return (*_earlier(told, meter, facts, state), *uses)


def _since(taken: Taken | None, state: JobState) -> str:
    """What became of a reading on a meter that was found out; empty while it is open."""
    if taken is None:
        return "its item is not in the job any more"
    item = state.items[taken.entry.item]
    if item.disposed is not None:
        return "its part has left the job"
    if taken.voided_by != "found_out":
        return f"no longer counts: {taken.void}"
    later = [
        other
        for other in item.of(taken.reading.check)
        # A line which says that it was not read answers nothing.
        if other.counts and other.entry.at >= taken.entry.at and other.reading.state != "not taken"
    ]
    return f"read again on {on_day(later[-1].entry.at)}" if later else ""


def _earlier(
    told: Sequence[FoundOut], meter: str, facts: JobFacts, state: JobState
) -> list[DoubtfulUse]:
    found: list[DoubtfulUse] = []
    for item in state.items.values():
        sheet = facts.sheets.get(item.kind)
        for one in item.earlier:
            # DESIGN 4a, 14: a service known by its month is taken at the end of it.
            on = last_day(one.service)
            alike = [f for f in told if f.last_good is None or on >= f.last_good]
            if sheet is None or not alike:
                continue
            for name in dict.fromkeys((*one.readings, *one.left)):
                reading = one.readings.get(name) or one.left[name]
                if reading.meter != meter:
                    continue
                label = sheet.check(name).label.lower()
                found.append(
                    DoubtfulUse(
                        found=alike[-1],
                        entry=one.entry,
                        item=item.id,
                        what=f"{_short(item.id)} {label} {reading.written}",
                        on=on,
                        said="a service before this book",
                        key="",
                    )
                )
    return sorted(found, key=lambda use: use.on)


def use_words(entry: Entry, facts: JobFacts) -> str:
    """What a meter was used on, short: "cover screws of cylinder 2 (2 of 6)", "K0411 gap 18"."""
    match entry.fields:
        case Torqued(what=what, which=which):
            return f"{what} ({which})"
        case MasterRead(written=written):
            return f"master reading {written}"
        case ReadingTaken(check=check, written=written):
            sheet = facts.sheets.get(item_kind(entry.item))
            label = sheet.check(check).label.lower() if sheet is not None else check
            return f"{_short(entry.item)} {label} {written}"
    return entry.kind.replace("_", " ")


def _short(item: str) -> str:
    name = item_name(item)
    return name if item_kind(item) == "plug" else f"{item_kind(item)} {name}"
