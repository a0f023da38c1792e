"""What each entry of a book says, in words: one sentence for pages, commands and paper."""

from __future__ import annotations

from rehang.trade.facts.accessories import KINDS as ACCESSORIES
from rehang.trade.facts.accessories import accessory_words
from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.readings import Reading
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.doubts import use_words
from rehang.trade.known.oil_fill import top_up_words
from rehang.trade.known.photos import belongs_to, photo_word, scale_words
from rehang.trade.known.state import (
    MONITOR,
    OIL_RISE,
    STANDS,
    Finding,
    ItemState,
    JobState,
    item_kind,
    item_name,
    understand,
)
from rehang.trade.known.torque import torque_words
from rehang.trade.papers.record_words import (
    complied_words,
    drafted_words,
    handed_words,
    signed_words,
)
from rehang.trade.run.run_words import began_words, step_words
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.decisions import CallMade, Closed, LeftOpen, Struck
from rehang.trade.terms.kinds.fields import noted, ppm_words, who
from rehang.trade.terms.kinds.items import (
    Disposed,
    Reworked,
)
from rehang.trade.terms.kinds.meters import MeterFoundOut
from rehang.trade.terms.kinds.oil import Sampled
from rehang.trade.terms.kinds.papers import (
    Complied,
    Drafted,
    PaperHanded,
    RecordSigned,
)
from rehang.trade.terms.kinds.readings import Pictured, ReadingTaken, Seen
from rehang.trade.terms.kinds.runs import RunBegan, RunStepDone
from rehang.trade.terms.kinds.torque import Torqued
from rehang.trade.terms.kinds.work import CarriedOn, Stopped
from rehang.trade.terms.quantities import show
from rehang.trade.terms.wording import lower_first, on_day, upper_first, with_stop
from rehang.trade.work.names import JobNames

__all__ = [
    "DISPOSALS",
    "STOP_WHYS",
    "bottle_words",
    "check_named",
    "entry_words",
    "item_as_said",
    "reading_words",
    "voided_by",
    "with_stop",
]

STOP_WHYS = {
    "phone": "phone rang",
    "helper": "helper asked",
    "part": "waiting on a part",
    "handover": "handed over",
    "shift end": "end of shift",
}
DISPOSALS = (
    ("tagged", "TAGGED", "tagged as a reject"),
    ("quarantined", "QUARANTINED", "put in quarantine"),
    ("mutilated", "MUTILATED", "mutilated so that it cannot fly again"),
    ("returned", "RETURNED", "returned to the owner"),
)


def entry_words(entry: Entry, judged: JudgedJob) -> str:
    """One entry of the book as a sentence, with under whose supervision it was done."""
    try:
        said = _said(entry, judged)
    except BadInput as refusal:
        # A struck line may speak of a meter or a check that is no longer on file.
        said = f"Cannot be shown: {refusal.sentence}"
        if is_a(entry, ReadingTaken):
            said = f"{item_as_said(entry.item)}: {entry.fields.check} {entry.fields.written}."
    if not entry.fields.under:
        return said
    return f"{said} Supervised by {judged.facts.person(entry.fields.under)}."


def _said(entry: Entry, judged: JudgedJob) -> str:
    """What takes the facts or the book to be said; any other kind says it itself."""
    facts, state = judged.facts, judged.state
    about, note = who(entry.item, entry.place), noted(entry.note)
    if is_a(entry, ReadingTaken):
        check, reading = understand(entry, facts.sheets, facts.meters)
        kept = ", kept as keyed" if entry.fields.kept_as_keyed else ""
        return f"{about}: {check.label.lower()} {reading_words(check, reading)}{kept}.{note}"
    if is_a(entry, Pictured):
        of = belongs_to(entry, facts, state)
        word = upper_first(photo_word(entry.fields.photo))
        return f"{word} of {lower_first(of)}. {scale_words(entry)}{note}"
    match entry.fields:
        case Seen() as seen:
            return f"{about}, {_seen_words(seen, facts)}.{note}"
        case Reworked() as reworked:
            return f"{about} was {_rework_words(reworked, facts)}.{note}"
        case Struck(entry=struck, reason=reason):
            return (
                f"Struck out: {_entry_named(struck, judged) or struck} Reason: {with_stop(reason)}"
            )
        case CallMade(entry=reading_id, call=call, reason=reason):
            return f"Called {call}: {_target_words(reading_id, judged)} Reason: {with_stop(reason)}"
        case LeftOpen(entry=reading_id):
            return f"Left open for a second opinion: {_target_words(reading_id, judged)}"
        case Closed() as closed:
            return f"{_closed_words(closed, judged)} Reason: {with_stop(closed.reason)}"
        case Disposed(how=how):
            words = {key: words for key, _, words in DISPOSALS}
            return f"{about} was {words.get(how, how)}.{note}"
        case MeterFoundOut() as told:
            return _found_out_words(entry.id, told, state)
        case Stopped(why=why) as stopped:
            because = f": {STOP_WHYS.get(why, why)}" if why else ""
            return f"Stopped{_spot_words(stopped, facts)}{because}."
        case CarriedOn() as carried_on:
            return f"Carried on{_spot_words(carried_on, facts)}."
        case Sampled() as sample:
            return f"{_sample_words(sample)}.{note}"
        case Torqued() as torqued:
            return f"{_torqued_words(torqued)}{note}"
        case RunBegan() as began:
            return began_words(began, facts)
        case RunStepDone() as step:
            return step_words(step, facts)
        case Complied() as complied:
            return complied_words(complied, facts)
        case PaperHanded() as handed:
            return handed_words(handed)
        case Drafted() as drafted:
            return drafted_words(drafted)
        case RecordSigned() as signed:
            return signed_words(signed)
    return entry.fields.said(JobNames(facts))


def _torqued_words(told: Torqued) -> str:
    said = torque_words(told)
    figures = f", {said}" if said else ""
    return with_stop(f"{told.what}: {told.which} torqued with {told.meter}{figures}")


def _sample_words(told: Sampled) -> str:
    bottle = f", bottle {told.bottle}" if told.bottle else ""
    if said := top_up_words(told):
        bottle += f", {said}"
    on = on_day(last_day(told.on))
    if not told.ppm:
        return f"Oil sample of {on}{bottle}; the laboratory's figures are awaited"
    return f"Oil sample of {on}{bottle}, parts per million: {ppm_words(told.ppm)}"


def bottle_words(told: Sampled) -> str:
    """A sample whose figures are awaited: "drained on 6 Oct 2026 at 1,142.3 h, bottle 7"."""
    bottle = f", bottle {told.bottle}" if told.bottle else ""
    on = on_day(last_day(told.on))
    return f"drained on {on} at {told.engine_hours:,.1f} h{bottle}"


def item_as_said(item_id: str) -> str:
    """An item as a sentence names it: a plug by its serial alone."""
    kind, name = item_kind(item_id), item_name(item_id)
    if kind in ACCESSORIES:
        return accessory_words(kind, name)
    return name if kind == "plug" else f"{kind} {name}"


def _finding(judged: JudgedJob, finding_id: str) -> Finding | None:
    for item in judged.state.items.values():
        for finding in item.findings:
            if finding.id == finding_id:
                return finding
    return None


def _found_out_words(entry_id: str, told: MeterFoundOut, state: JobState) -> str:
    on_file = state.found_out.get(told.meter, ())
    found = next((one for one in on_file if one.entry.id == entry_id), None)
    if found is None:
        # It is struck, so that nothing follows from it any more.
        return f"{told.meter} found out of tolerance: {with_stop(told.reason)}"
    good = f" Last known good on {on_day(found.good)}." if found.good is not None else ""
    return f"{found.words}: {found.as_found}.{good}"


def _closed_words(told: Closed, judged: JudgedJob) -> str:
    if told.finding.startswith(STANDS):
        return _stands_words(told, judged)
    if told.finding.startswith(OIL_RISE):
        sample = judged.state.entries.get(told.finding.removeprefix(OIL_RISE))
        of = f" of {on_day(sample.at)}" if sample is not None else ""
        return f"Decided on the metal in the oil sample{of}."
    if told.finding.startswith(MONITOR):
        cylinder = told.finding.rpartition(":")[2]
        return f"Answered what the engine monitor asks of cylinder {cylinder}."
    finding = _finding(judged, told.finding)
    label = f"{finding.label} on {item_as_said(finding.item)}" if finding else "a finding"
    found = f" Found: {with_stop(told.found)}" if told.found else ""
    return f"Closed {lower_first(label)}.{found}"


def _stands_words(told: Closed, judged: JudgedJob) -> str:
    """What an entry lets stand although its meter was found out."""
    for meter, found_out in judged.state.found_out.items():
        for one in found_out:
            use = told.finding.removeprefix(one.stands_key(""))
            if use in judged.state.entries:
                what = use_words(judged.state.entries[use], judged.facts)
                return f"Let stand although {meter} was found out of tolerance: {what}."
    return "Let stand although its meter was found out of tolerance."


def _entry_named(entry_id: str, judged: JudgedJob) -> str:
    """Another entry as a sentence; empty where it is not in the book."""
    target = judged.state.entries.get(entry_id)
    return entry_words(target, judged) if target else ""


def _target_words(entry_id: str, judged: JudgedJob) -> str:
    return _entry_named(entry_id, judged) or "a line that is not in the book."


def _spot_words(told: Stopped | CarriedOn, facts: JobFacts) -> str:
    if told.task:
        return f" at {lower_first(JobNames(facts).task(told.task, told.place))}"
    words = f" at {told.place}" if told.place else ""
    check = check_named(facts, told.check)
    return words + (f", {check.label.lower()}" if check else "")


def check_named(facts: JobFacts, name: str) -> Check | None:
    """The first check of that name on any sheet."""
    for sheet in facts.sheets.values():
        for check in sheet.checks:
            if check.name == name:
                return check
    return None


def reading_words(check: Check, reading: Reading) -> str:
    """A reading with what it was taken on and at."""
    text = reading.text(check)
    if check.two_figures and len(reading.figures) == 2 and check.quantity is not None:
        text += f" (the wider of {' and '.join(show(f, check.quantity) for f in reading.figures)})"
    if reading.at_psi is not None:
        text += f" at {reading.at_psi} psi"
    if reading.meter:
        text += f" on {reading.meter}"
    if reading.range:
        text += f" ({reading.range})"
    return text


def _seen_words(told: Seen, facts: JobFacts) -> str:
    sheet = facts.sheets.get(item_kind(told.item))
    word = told.word
    label = sheet.words[word].label if sheet and word in sheet.words else word
    severity = told.severity
    at_look = sheet is not None and told.check == sheet.look.name
    # Each kind of part has a look of its own: the 10× look is the plug's alone.
    words = f"{lower_first(sheet.look.label)}: {label}" if sheet and at_look else f"seen: {label}"
    return words + (f", severity {severity}" if severity is not None else "")


def voided_by(item: ItemState, act: str, sheet: CheckSheet) -> tuple[str, ...]:
    """What stands on file of an item and counts no more once that act is written, in words."""
    voids = sheet.rework(act).voids
    found = [
        f"{check.label.lower()} {taken.reading.text(check)}"
        for check in sheet.checks
        if check.name in voids
        for taken in item.of(check.name)[-1:]
        if taken.counts
    ]
    if sheet.look.name in voids and item.looks and not item.look_void:
        found.append(sheet.look.label.lower())
    return tuple(found)


def _rework_words(told: Reworked, facts: JobFacts) -> str:
    sheet = facts.sheets.get(item_kind(told.item))
    act = told.act
    return sheet.reworks[act].done if sheet and act in sheet.reworks else act
