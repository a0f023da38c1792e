"""The fold: from a book of entries to what is known of each item now.

The fold never decides. It keeps every reading with the reason it no longer counts, every
finding with what became of it, and the order things happened in.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, TypeVar

from rehang.trade.facts.items import Check, CheckSheet, Word
from rehang.trade.facts.layout import Layout
from rehang.trade.facts.meters import Meter
from rehang.trade.facts.readings import Reading, read
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.decisions import CallMade, Closed, Disagreed, LeftOpen, Struck
from rehang.trade.terms.kinds.items import (
    Disposed,
    EarlierService,
    Fitted,
    Removed,
    Reworked,
    Spoilt,
)
from rehang.trade.terms.kinds.meters import MasterRead, MeterFoundOut, Proved
from rehang.trade.terms.kinds.oil import PiecesCounted, Sampled
from rehang.trade.terms.kinds.readings import Pictured, ReadingTaken, Seen
from rehang.trade.terms.kinds.shop import Noted
from rehang.trade.terms.kinds.torque import Torqued
from rehang.trade.terms.kinds.work import Stopped
from rehang.trade.terms.wording import on_day

T = TypeVar("T")

__all__ = [
    "COUNT",
    "FLAG",
    "MONITOR",
    "OIL_RISE",
    "SAYS",
    "STANDS",
    "WORKED_OUT_NAMES",
    "Earlier",
    "Finding",
    "FoundOut",
    "ItemState",
    "JobState",
    "Taken",
    "as_read",
    "before",
    "fitted_key",
    "item_kind",
    "item_name",
    "meter_on_file",
    "travels_to",
    "understand",
]


@dataclass(slots=True)
class Taken:
    """A reading in its place in the book. ``void`` says why it no longer counts."""

    entry: Entry[ReadingTaken]
    reading: Reading
    void: str = ""
    voided_by: str = ""
    called: str = ""
    called_entry: Entry[CallMade] | None = None
    left_open: Entry[LeftOpen] | None = None

    @property
    def counts(self) -> bool:
        return not self.void


@dataclass(slots=True)
class Finding:
    """Something seen. ``resolved`` says what closed it; empty while it is open."""

    id: str
    entry: Entry
    item: str
    word: str
    label: str
    severity: int
    deposit: bool
    check: str
    note: str
    next_act: str
    cause: str = ""
    resolved: str = ""
    cleaned: bool = False
    closed_by: tuple[str, ...] = ()

    @property
    def is_open(self) -> bool:
        return not self.resolved


@dataclass(slots=True)
class Earlier:
    """One earlier service of an item, copied in from older records."""

    entry: Entry[EarlierService]
    service: str
    place: str
    engine_hours: float | None
    item_hours: float | None
    readings: Mapping[str, Reading]
    left: Mapping[str, Reading]
    note: str


@dataclass(frozen=True, slots=True)
class FoundOut:
    """A meter found out of tolerance, and between which moments what it was used on is in doubt.

    It was last known good at ``proof`` (an as-found check before it) or on the day ``good``, of
    which the later counts; where there is neither, every use before it is in doubt. ``right`` is
    the check that put it right: the first after it with a day that its certificate is good to.
    """

    entry: Entry[MeterFoundOut]
    found_on: date
    good: date | None
    proof: Entry[Proved] | None
    right: Entry[Proved] | None

    def doubts(self, at: datetime) -> bool:
        """Whether a use at that moment is one since it was last known good."""
        # An as-found check clears what went before it, up to its own moment.
        if self.proof is not None and at <= self.proof.at:
            return False
        if self.right is not None and at > self.right.at:
            return False
        # The day itself is in doubt: nothing says which came first on it.
        return self.good is None or at.date() >= self.good

    def stands_key(self, use: str) -> str:
        """What an entry of kind ``closed`` names to say why a use stands all the same."""
        return f"{STANDS}{self.entry.id}:{use}"

    @property
    def as_found(self) -> str:
        """How it was found: "6 % low, at 300 in-lb, certificate 881, Bay Calibration"."""
        said = (
            self.entry.fields.off,
            f"at {self.entry.fields.setting}" if self.entry.fields.setting else "",
            self.entry.fields.reason.strip().rstrip("."),
            f"certificate {self.entry.fields.certificate}" if self.entry.fields.certificate else "",
        )
        return ", ".join(one for one in said if one)

    @property
    def last_good(self) -> date | None:
        """The day it was last known good; None where nothing says."""
        days = [one for one in (self.good, self.proof.at.date() if self.proof else None) if one]
        return max(days, default=None)

    @property
    def words(self) -> str:
        """As a sentence without its stop: "TW-3 was found out of tolerance on 2 Nov 2026"."""
        return f"{self.entry.fields.meter} was found out of tolerance on {on_day(self.found_on)}"


@dataclass(slots=True)
class ItemState:
    """One item as the book leaves it."""

    id: str
    kind: str
    name: str
    came_out_of: str = ""
    place: str = ""
    hours: float | None = None
    removed: Entry[Removed] | None = None
    readings: list[Taken] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    looks: list[Entry[Seen]] = field(default_factory=list)
    look_void: str = "never taken"
    reworks: list[Entry[Reworked]] = field(default_factory=list)
    ended: list[Entry[Spoilt]] = field(default_factory=list)
    earlier: list[Earlier] = field(default_factory=list)
    disposed: Entry[Disposed] | None = None
    replaced_by: str = ""
    disagreed: Entry[Disagreed] | None = None
    notes: list[Entry[Noted]] = field(default_factory=list)
    samples: list[Entry[Sampled]] = field(default_factory=list)
    bottles: list[Entry[Sampled]] = field(default_factory=list)
    counts: list[Entry[PiecesCounted]] = field(default_factory=list)
    pictures: list[Entry[Pictured]] = field(default_factory=list)
    torqued: list[Entry[Torqued]] = field(default_factory=list)

    def of(self, check: str) -> list[Taken]:
        return [taken for taken in self.readings if taken.reading.check == check]

    @property
    def open_findings(self) -> list[Finding]:
        return [finding for finding in self.findings if finding.is_open]


@dataclass(slots=True)
class JobState:
    """The whole job as the book leaves it."""

    items: dict[str, ItemState]
    holes: dict[str, str]
    entries: dict[str, Entry]
    order: list[Entry]
    struck: dict[str, Entry[Struck]]
    stop: Entry[Stopped] | None
    proved: dict[str, Entry[Proved]]
    put_away: bool
    masters: list[tuple[Entry[MasterRead], int]] = field(default_factory=list)
    settled: dict[str, Entry[Closed | CallMade]] = field(default_factory=dict)
    out: dict[str, int] = field(default_factory=dict)
    proofs: dict[str, list[Entry[Proved]]] = field(default_factory=dict)
    found_out: dict[str, list[FoundOut]] = field(default_factory=dict)
    faults: dict[str, str] = field(default_factory=dict)
    # What cannot be shown (:mod:`rehang.trade.terms.aside`), and why: nothing is worked out from it.
    aside: dict[str, BadInput] = field(default_factory=dict)
    torque_calls: dict[str, Entry[CallMade]] = field(default_factory=dict)
    # What is in each place now that was put in by an entry of this job: "plug:1T" and the entry.
    fitted: dict[str, Entry[Fitted]] = field(default_factory=dict)
    void_strikes: set[str] = field(default_factory=set)
    # What was worked out of the state as it stood after so many entries (see :meth:`once`).
    _worked: dict[Hashable, tuple[object, Any]] = field(
        default_factory=dict, repr=False, compare=False
    )
    _worked_at: int = field(default=-1, repr=False, compare=False)

    def once(self, name: str, work: Callable[[], T], by: object = None) -> T:
        """What ``work`` gives ``by`` some facts, worked out once for the state as it stands.

        Nobody changes what was given.
        """
        if self._worked_at != len(self.order):
            self._worked = {}
            self._worked_at = len(self.order)
        worked, key = self._worked, (name, id(by))
        if key not in worked:
            # Held with it, so that no other facts come to have its number.
            worked[key] = by, work()
        found: T = worked[key][1]
        return found

    def master(self, meter: str, on: date) -> tuple[Entry[MasterRead], int] | None:
        """The last master reading of that meter on that day, in base steps."""
        found = [
            one for one in self.masters if one[0].fields.meter == meter and one[0].at.date() == on
        ]
        # DESIGN 4a, 12: of the same day and tester; read again, the later one stands.
        return found[-1] if found else None

    def not_proved(self, meter: Meter, entry: Entry) -> str:
        """Why a meter was not proved where an entry used it; empty when it was in date or is cleared.

        An as-found check clears what went before it. What comes after needs the date that its
        certificate is good to. Neither clears what was done before the meter was found out.
        """
        found = self.doubt(meter.id, entry)
        if found is not None:
            return found.words
        on = entry.at.date()
        why = meter.standing(on)
        proof = self.proved.get(meter.id)
        if not why or proof is None:
            return why
        if entry.at <= proof.at or (proof.fields.due and on <= last_day(proof.fields.due)):
            return ""
        return why

    def doubt(self, meter: str, entry: Entry) -> FoundOut | None:
        """What puts a use of a meter in doubt: found out, and nobody has written why it stands."""
        return next(
            (
                one
                for one in self.found_out.get(meter, ())
                if one.doubts(entry.at) and one.stands_key(entry.id) not in self.settled
            ),
            None,
        )

    def is_out(self, meter: str) -> FoundOut | None:
        """What a meter was found out by and has not been put right since; None for a good one."""
        return next((one for one in self.found_out.get(meter, ()) if one.right is None), None)

    def standing(self, meter: Meter, on: date) -> str:
        """Why a meter is not to be used on that day by its file and the book; empty where it may."""
        found = self.is_out(meter.id)
        if found is not None:
            return f"{found.words} and is not put right"
        why = meter.standing(on)
        proof = self.proved.get(meter.id)
        if why and proof is not None and proof.fields.due and on <= last_day(proof.fields.due):
            return ""
        return why

    def item(self, item_id: str, where: str = "") -> ItemState:
        if item_id in self.items:
            return self.items[item_id]
        raise BadInput(f'There is no item "{item_id}" in this job.', where)

    def entry(self, entry_id: str, where: str = "") -> Entry:
        if entry_id in self.entries:
            return self.entries[entry_id]
        raise BadInput(f'There is no entry "{entry_id}" in this book.', where)

    def live(self) -> list[Entry]:
        """Entries that have not been struck, those left out that settle something and may not.

        What cannot be shown is left out too.
        """
        return list(self.once("live", self._live))

    def _live(self) -> list[Entry]:
        return [
            entry
            for entry in self.order
            if entry.id not in self.struck
            and entry.id not in self.aside
            and not (entry.id in self.faults and entry.fields.settles)
        ]

    def finding(self, finding_id: str, where: str = "") -> Finding:
        for item in self.items.values():
            for finding in item.findings:
                if finding.id == finding_id:
                    return finding
        raise BadInput(f'There is no finding "{finding_id}" in this book.', where)

    def last_readings(self, number: int = 3) -> list[Entry[ReadingTaken | Seen]]:
        taken = [e for e in self.live() if is_a(e, ReadingTaken, Seen) and e.fields.check]
        return taken[-number:]


def item_kind(item_id: str) -> str:
    return item_id.partition(":")[0]


def travels_to(word: Word, hole: str, layout: Layout) -> str:
    """The item that a finding on a part also opens one on; empty where it stays with the part."""
    # With a colon it names one item; a bare kind is the one at the hole.
    if not word.opens or ":" in word.opens:
        return word.opens
    # Oil runs down to such a hole by itself, so a wet plug there accuses nothing (common practice,
    # no source).
    if not hole or (word.opens_unless_drains and hole in layout.drains_to):
        return ""
    return f"{word.opens}:{layout.cylinder_of(hole)}"


def before(entry: Entry, state: JobState) -> list[Entry]:
    """The live entries that stand before one, or all where it is not in the book yet."""
    live = state.live()
    at = state.once("places", lambda: {one.id: number for number, one in enumerate(live)})
    return live[: at.get(entry.id)]


def item_name(item_id: str) -> str:
    return item_id.partition(":")[2]


def fitted_key(entry: Entry, layout: Layout) -> str:
    """The kind and the place of an entry that puts in or takes out, a hole as the layout spells it."""
    place = entry.place.strip()
    spelled = {hole.casefold(): hole for hole in layout.walk}
    if item_kind(entry.item) in ("plug", "lead"):
        place = spelled.get(place.casefold(), place)
    return f"{item_kind(entry.item)}:{place}"


def understand(
    entry: Entry[ReadingTaken],
    sheets: Mapping[str, CheckSheet],
    meters: Mapping[str, Meter],
    where: str = "",
) -> tuple[Check, Reading]:
    """The reading an entry of kind ``reading`` writes down."""
    sheet = sheets.get(item_kind(entry.item))
    if sheet is None:
        raise BadInput(f'There is no check sheet for "{entry.item}".', where)
    check = sheet.check(entry.fields.check, where)
    meter = meter_on_file(entry.fields.meter, meters, where)
    return check, read(
        check,
        entry.fields.written,
        meter,
        entry.fields.range,
        entry.fields.at_psi,
        where,
        {str(k): str(v) for k, v in entry.fields.with_.items()},
    )


def as_read(
    entry: Entry[ReadingTaken], sheets: Mapping[str, CheckSheet], meters: Mapping[str, Meter]
) -> tuple[str, str]:
    """Label and figure of a reading, a needle's with its multiplier.

    As it was written where a struck one speaks of a meter or a check that is no longer on file.
    """
    try:
        check, reading = understand(entry, sheets, meters)
    except BadInput:
        return entry.fields.check, entry.fields.written
    return check.label, reading.text(check)


def meter_on_file(meter_id: str, meters: Mapping[str, Meter], where: str) -> Meter | None:
    if not meter_id:
        return None
    if meter_id not in meters:
        raise BadInput(
            f'There is no meter "{meter_id}" on file. The meters are {", ".join(meters) or "none"}.',
            where,
        )
    return meters[meter_id]


# What the id of a flag begins with; the item follows.
FLAG = "odd-one-out:"

# What the id of a decision on a count of pieces begins with; the entry of the count follows.
COUNT = "count:"

# What the id of a use that stands begins with; the entry that found the meter out and the use follow.
STANDS = "found-out:"

# What the id of a finding begins with that a run's figure opened; the figure's entry and the item follow.
SAYS = "run-says:"

# What the id of a decision on a sudden rise of metal in the oil begins with; the sample's entry follows.
OIL_RISE = "oil-rise:"

# What the id of an answer to what a monitor's table asks begins with; the entry and the cylinder follow.
MONITOR = "monitor-asks:"

# What is closed under such a name is worked out from the whole book, and is no finding of an item's fold.
WORKED_OUT_NAMES = (FLAG, STANDS, SAYS, OIL_RISE, MONITOR)
