"""What a meter found out of tolerance was used on since it was last known good, and what is open.

A use is open until it is done again with a good one or a named person writes why it stands.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.state import FoundOut, JobState, Taken, item_kind, item_name
from rehang.trade.terms.entries import Entry, last_day
from rehang.trade.terms.wording import listed, on_day

__all__ = [
    "DoubtfulUse",
    "count_words",
    "goings",
    "last_torques",
    "reach_of",
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


def goings(torqued: Sequence[Entry], state: JobState) -> list[list[Entry]]:
    """Torques of one set of fasteners that say how many, parted where the count begins again.

    It begins again at a count no higher than the last, and at the first torque after a wrench of
    the going before was found out, for then the card stood at none. Torques that name their
    fasteners stand each for themselves and are in none.
    """
    found: list[list[Entry]] = []
    for entry in torqued:
        if "fasteners" in entry.data:
            continue
        last = found[-1] if found else []
        doubts = [one for e in last if (one := state.doubt(e.data["meter"], e)) is not None]
        anew = not last or entry.data["done"] <= last[-1].data["done"]
        if anew or any(one.entry.at <= entry.at for one in doubts):
            found.append([])
        found[-1].append(entry)
    return found


def last_torques(torqued: Sequence[Entry], state: JobState) -> dict[int, Entry]:
    """The last torque of each fastener of one set, whatever its wrench."""
    found: dict[int, Entry] = {}
    parted = goings(torqued, state)
    for entry in torqued:
        if "fasteners" in entry.data:
            found |= dict.fromkeys(entry.data["fasteners"], entry)
            continue
        going = next(one for one in parted if entry in one)
        at = going.index(entry)
        if not at:
            found.clear()
        first = going[at - 1].data["done"] if at else 0
        found |= dict.fromkeys(range(first + 1, entry.data["done"] + 1), entry)
    return found


def standing_torques(torqued: Sequence[Entry], state: JobState) -> dict[int, Entry]:
    """The torque that each fastener of one set stands by; none of a going with a wrench found out."""
    out = {e.id for e in torqued if state.doubt(e.data["meter"], e) is not None}
    for going in goings(torqued, state):
        if any(e.id in out for e in going):
            out |= {e.id for e in going}
    last = last_torques(torqued, state)
    return {number: entry for number, entry in sorted(last.items()) if entry.id not in out}


def torqued_now(torqued: Sequence[Entry], state: JobState) -> int:
    """How many of one set of fasteners stand torqued: none where the wrench was found out."""
    return len(standing_torques(torqued, state))


def reach_of(entry: Entry) -> frozenset[int]:
    """The fasteners that a torque vouches for: those it names, or all up to its count."""
    if "fasteners" in entry.data:
        return frozenset(entry.data["fasteners"])
    return frozenset(range(1, entry.data["done"] + 1))


def torques_in_doubt(torqued: Sequence[Entry], state: JobState) -> list[Entry]:
    """Torques put on with a wrench found out and not gone over by a good one since."""
    alike: dict[str, list[Entry]] = {}
    for entry in torqued:
        alike.setdefault(entry.data["what"], []).append(entry)
    found: list[Entry] = []
    for ones in alike.values():
        going_of = {e.id: n for n, going in enumerate(goings(ones, state)) for e in going}
        for number, entry in enumerate(ones):
            if state.doubt(entry.data["meter"], entry) is None:
                continue
            # What only went on from it did not go over it.
            over = [
                reach_of(later)
                for later in ones[number + 1 :]
                if state.doubt(later.data["meter"], later) is None
                and going_of.get(later.id, -1) != going_of.get(entry.id, -2)
            ]
            if not over or not reach_of(entry) <= frozenset().union(*over):
                found.append(entry)
    return found


def count_words(data: Mapping[str, Any]) -> str:
    """Which fasteners a torque was put on: "2 of 6", "no. 3 of 6"."""
    named, of = data.get("fasteners"), data["of"]
    if named is None:
        return f"{data['done']} of {of}"
    if len(named) == of:
        return f"{of} of {of}"
    return f"no. {listed([str(one) for one in sorted(named)])} of {of}"


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
        if entry.kind not in ("reading", "torqued", "master") or entry.get("meter") != meter:
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
                f"{str(by.data['reason']).strip().rstrip('.')}"
            )
        elif entry.kind == "torqued":
            said = "" if entry.id in loose else "gone over again with a good one"
        elif entry.kind == "reading":
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
    data = entry.data
    if entry.kind == "torqued":
        return f"{data['what']} ({count_words(data)})"
    if entry.kind == "master":
        return f"master reading {data['written']}"
    sheet = facts.sheets.get(item_kind(entry.item))
    check = str(data["check"])
    label = sheet.check(check).label.lower() if sheet is not None else check
    return f"{_short(entry.item)} {label} {data['written']}"


def _short(item: str) -> str:
    name = item_name(item)
    return name if item_kind(item) == "plug" else f"{item_kind(item)} {name}"
