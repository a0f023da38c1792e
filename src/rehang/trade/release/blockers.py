"""What keeps an engine from service: one list, each line with its reason and its way out.

Nothing is ticked by hand. The list is what items, work, meters, counts, runs, what recurs and the
record itself leave open; it is empty when nothing does. What is asked for before approval:
14 CFR 43.9(a), 43.11(a) and (b), 43.15(c); the shop's own rules and the mechanic's judgement govern.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.gate.powers import APPROVE, holders
from rehang.trade.known.drafts import own_of
from rehang.trade.known.state import JobState, item_kind, item_name
from rehang.trade.papers.due import Due, HourCounts, claim_blockers
from rehang.trade.papers.signing import Signed
from rehang.trade.release.claims import claims_not_borne_out
from rehang.trade.release.cylinders_off import off_blockers
from rehang.trade.release.extra import extra_blockers
from rehang.trade.release.order import out_of_order
from rehang.trade.release.torquetodo import torque_blockers
from rehang.trade.release.why_off import reason_blockers
from rehang.trade.run.proofs import claimed, not_shown
from rehang.trade.run.runs import Runs
from rehang.trade.terms.entries import is_a
from rehang.trade.terms.kinds.items import Fitted, Replaced
from rehang.trade.terms.kinds.papers import Complied, PaperHanded
from rehang.trade.terms.wording import NO_SERIAL, at_time, is_blank, on_day
from rehang.trade.verdicts.item_blockers import Blocker
from rehang.trade.work.task_states import JobWork
from rehang.trade.work.todo import is_about_work, work_blockers

__all__ = [
    "GROUPS",
    "NOT_DONE",
    "OF_THE_WHOLE",
    "RECORD",
    "BlockerGroup",
    "completed_on",
    "grouped",
    "release_blockers",
]

EXTRA = "Work that the owner has not agreed to"
PARTS, METERS, COUNTS = "Parts and readings", "Meters", "Still counted out"
WORK, LOOKS = "Work not finished", "Second looks"
RUN, RECORD = "Ground run and magnetos", "The record"
# What somebody outside decides first, then in the order in which a bench gets to them.
GROUPS = (EXTRA, PARTS, METERS, WORK, LOOKS, COUNTS, RUN, RECORD)

# Work that is not finished, as against what is not right.
NOT_DONE = (WORK, LOOKS, COUNTS)

# What is of the whole engine and not of one tray.
OF_THE_WHOLE = (EXTRA, WORK, LOOKS, RUN, RECORD)


@dataclass(frozen=True, slots=True)
class BlockerGroup:
    """The blockers under one heading."""

    title: str
    blockers: tuple[Blocker, ...]


def grouped(blockers: Sequence[Blocker]) -> tuple[BlockerGroup, ...]:
    """Blockers under their headings; a heading with none is left out."""
    found = {title: tuple(b for b in blockers if b.group == title) for title in GROUPS}
    return tuple(BlockerGroup(title, ones) for title, ones in found.items() if ones)


def release_blockers(
    facts: JobFacts,
    state: JobState,
    *,
    items: Iterable[Blocker],
    work: JobWork,
    runs: Runs,
    due: tuple[Due, ...],
    hours: HourCounts,
    signed: Sequence[Signed],
) -> tuple[Blocker, ...]:
    """Everything that keeps the engine from service as the book stands.

    ``items`` are what :func:`rehang.trade.verdicts.verdict.judge_items` found of items, meters and counts.
    """
    found = [
        *items,
        *_faults(facts, state),
        *_without_serial(facts, state),
        *work_blockers(work, facts),
        *(replace(one, group=WORK) for one in torque_blockers(facts, state, work)),
        *(replace(one, group=WORK) for one in extra_blockers(facts, state, agreed=True)),
        *(replace(one, group=EXTRA) for one in extra_blockers(facts, state, agreed=False)),
        *(replace(one, group=RUN) for one in runs.blockers),
        *(replace(one, group=RUN) for one in off_blockers(facts, state, runs)),
        *claim_blockers(facts, state, due),
        *claims_not_borne_out(facts, state, runs, hours),
        *out_of_order(facts, state, runs),
        *(replace(one, group=RECORD) for one in reason_blockers(facts, state)),
        *_of_the_record(facts, state, runs, hours, signed),
    ]
    named = [one if one.group else replace(one, group=_group(one)) for one in found]
    # A stable sort: under each heading they keep the order they were found in.
    return tuple(sorted(named, key=lambda one: GROUPS.index(one.group)))


def _group(one: Blocker) -> str:
    match one.about.partition(":")[0]:
        case "meter":
            return METERS
        case "count":
            return COUNTS
        case "look":
            return LOOKS
        case "record" | "entry":
            return RECORD
    return WORK if is_about_work(one) else PARTS


def completed_on(runs: Runs) -> str:
    """The day that the last run ended, which is when the work was complete; empty before that."""
    ended = [run.ended.at for run in runs.runs if run.ended is not None and run.has_figures]
    return on_day(max(ended)) if ended else ""


def _no_serial(text: object) -> bool:
    if not isinstance(text, str) or is_blank(text):
        return True
    # DESIGN 4b, 15: full-width letters say "none" as well as plain ones.
    return unicodedata.normalize("NFKC", text).strip().casefold() in NO_SERIAL


def _faults(facts: JobFacts, state: JobState) -> list[Blocker]:
    """Entries that were let into the book and break a rule of its gate (DESIGN 4b, 14)."""
    of_files = [
        Blocker("record:files", said, f"Put it right in {name}.")
        # A door refuses such a file; a book that has one all the same says so.
        for name, faults in facts.faults.items()
        for said in faults
    ]
    unread = [
        Blocker(
            f"entry:{one}",
            f"Line {state.entries[one].seq or one} of the book cannot be shown: {why.sentence}",
            "Strike it with a reason, and write it again as it should be.",
        )
        for one, why in state.aside.items()
        if one not in state.struck
    ]
    return [*of_files, *unread] + [
        Blocker(
            f"entry:{entry.id}",
            f"What {facts.person(entry.by)} wrote on {at_time(entry.at)} does not stand: "
            f"{state.faults[entry.id]}",
            "Strike it with a reason, and write it again as it should be.",
        )
        for entry in state.order
        if entry.id in state.faults and entry.id not in state.aside
    ]


def _without_serial(facts: JobFacts, state: JobState) -> list[Blocker]:
    """Parts that carry a serial and have none on file."""
    found: list[Blocker] = []
    if _no_serial(facts.engine.get("serial", "")):
        found.append(
            Blocker(
                "record:serial",
                "The engine has no serial on file.",
                "Enter it with the engine data, from its data plate.",
                mend="facts:engine",
            )
        )
    held = facts.engine.get("magnetos")
    if "magneto" in facts.inspect:
        named = held if isinstance(held, Mapping) else {}
        found += [
            Blocker(
                f"magneto:{name}",
                f"The {name} magneto has no serial on file.",
                "Enter it with the engine data, from its plate.",
                mend="facts:engine",
            )
            for name in facts.layout.ignition
            if _no_serial(named.get(name, ""))
        ]
    fitted = {e.item: e for e in state.live() if is_a(e, Fitted, Replaced)}
    for item, entry in fitted.items():
        kind, name = item_kind(item), item_name(item)
        # Of any other part its place asks for the number (DESIGN 4b, 3).
        plug = kind == "plug" and _no_serial(name)
        if plug:
            where = f" at {entry.place}" if entry.place else ""
            found.append(
                Blocker(
                    item,
                    f"The {kind}{where} was fitted without a serial.",
                    "Strike the line and write it again with the serial.",
                )
            )
    return found


def _of_the_record(
    facts: JobFacts, state: JobState, runs: Runs, hours: HourCounts, signed: Sequence[Signed]
) -> list[Blocker]:
    """Fields that a record would leave blank, and what was signed and not handed over."""
    found: list[Blocker] = []
    if not completed_on(runs) and "field-date" not in own_of(state, "maintenance"):
        found.append(
            Blocker(
                "record:maintenance",
                "The maintenance entry has no date of completion (14 CFR 43.9(a)(2)).",
                "The day the last ground run ends is taken; or write the day on the record's page.",
            )
        )
    # The day of the last entry: whose papers give it then is who could sign the book as it stands.
    # A job without an entry has no day to ask for.
    if state.order and not holders(APPROVE, state.order[-1].at.date(), facts):
        found.append(
            Blocker(
                "record:certificate",
                "Nobody in the list of people has papers that let a person sign a maintenance entry "
                "(14 CFR 43.9(a)(4)).",
                "Write the certificate of whoever signs: its kind, number and authority.",
                mend="people",
            )
        )
    inspected = [
        one
        for one in facts.recurring.values()
        if one.kind == "inspection"
        and any(is_a(e, Complied) and e.fields.recurring == one.id for e in state.live())
    ]
    if (
        inspected
        and hours.on("airframe") is None
        and "field-total" not in own_of(state, "inspection")
    ):
        found.append(
            Blocker(
                "record:inspection",
                f"{inspected[-1].title} is done and the aircraft's total time is not on file "
                "(14 CFR 43.11(a)(2)).",
                "Enter the airframe's hours with the engine data, or its total time on the record's page.",
            )
        )
    found += [
        Blocker(
            "record:inspection",
            f"{' and '.join(titles)} asks the ground run for {what} ({source}): {why}",
            "Run the engine and read it; or leave the inspection out of this job.",
        )
        for titles in [claimed(facts, state)]
        if titles
        for what, why, source in not_shown(facts, runs.proofs)
    ]
    found += [
        Blocker(
            f"record:{one.what}", f"{one.title}: {one.fault}", "Read the record and sign it again."
        )
        for one in signed
        if one.fault
    ]
    return found + _not_given(state, signed)


def _not_given(state: JobState, signed: Sequence[Signed]) -> list[Blocker]:
    """A list of discrepancies that was signed, or is owed, and not handed over (14 CFR 43.11(b))."""
    live = state.live()
    place = {entry.id: number for number, entry in enumerate(live)}
    lists = [one for one in signed if one.what == "discrepancies"]
    unairworthy = [one for one in signed if one.entry.fields.statement == "unairworthy"]
    owed = max((*lists, *unairworthy), key=lambda one: place[one.entry.id], default=None)
    if owed is None:
        return []
    given = [
        number
        for number, entry in enumerate(live)
        if is_a(entry, PaperHanded) and entry.fields.what == "discrepancies"
    ]
    after = place[owed.entry.id]
    if lists and place[lists[-1].entry.id] < after:
        # The list may be signed first and the inspection on it: both are of one day's look.
        after = place[lists[-1].entry.id]
    if any(number > after for number in given):
        return []
    on = on_day(owed.entry.at)
    said = (
        f"The list of discrepancies signed on {on} has not been given to the owner."
        if lists
        else f"{owed.title} was signed as unairworthy on {on} and no list of discrepancies is signed."
    )
    return [
        Blocker(
            "record:discrepancies",
            said,
            "Sign it, print it, hand it over, and write to whom it was given: 14 CFR 43.11(b).",
        )
    ]
