"""What a meter found out of tolerance was used on since it was last known good, and what is open.

A use is open until it is done again with a good one or a named person writes why it stands.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from rehang.trade.entries import Entry, last_day
from rehang.trade.facts import JobFacts
from rehang.trade.state import FoundOut, JobState, Taken, item_kind, item_name
from rehang.trade.wording import on_day

__all__ = [
    "DoubtfulUse",
    "goings",
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
    """Torques of one set of fasteners, parted where the count begins again.

    It begins again at a count no higher than the last, and at the first torque after a wrench of
    the going before was found out, for then the card stood at none.
    """
    found: list[list[Entry]] = []
    for entry in torqued:
        last = found[-1] if found else []
        doubts = [one for e in last if (one := state.doubt(e.data["meter"], e)) is not None]
        anew = not last or entry.data["done"] <= last[-1].data["done"]
        if anew or any(one.entry.at <= entry.at for one in doubts):
            found.append([])
        found[-1].append(entry)
    return found


def torqued_now(torqued: Sequence[Entry], state: JobState) -> int:
    """How many of one set of fasteners stand torqued: none where the wrench was found out."""
    last = goings(torqued, state)[-1:]
    if not last or any(state.doubt(e.data["meter"], e) is not None for e in last[0]):
        return 0
    return int(last[0][-1].data["done"])


def torques_in_doubt(torqued: Sequence[Entry], state: JobState) -> list[Entry]:
    """Torques put on with a wrench found out and not gone over, as far or further, by a good one."""
    alike: dict[str, list[Entry]] = {}
    for entry in torqued:
        alike.setdefault(entry.data["what"], []).append(entry)
    found: list[Entry] = []
    for ones in alike.values():
        parted = goings(ones, state)
        for number, going in enumerate(parted):
            good = max(
                (
                    later.data["done"]
                    for after in parted[number + 1 :]
                    for later in after
                    if state.doubt(later.data["meter"], later) is None
                ),
                default=-1,
            )
            found += [
                entry
                for entry in going
                if state.doubt(entry.data["meter"], entry) is not None and entry.data["done"] > good
            ]
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
    data: Mapping[str, object] = entry.data
    if entry.kind == "torqued":
        return f"{data['what']} ({data['done']} of {data['of']})"
    if entry.kind == "master":
        return f"master reading {data['written']}"
    sheet = facts.sheets.get(item_kind(entry.item))
    check = str(data["check"])
    label = sheet.check(check).label.lower() if sheet is not None else check
    return f"{_short(entry.item)} {label} {data['written']}"


def _short(item: str) -> str:
    name = item_name(item)
    return name if item_kind(item) == "plug" else f"{item_kind(item)} {name}"
