"""What each entry of a book says, in words: one sentence for pages, commands and paper."""

from __future__ import annotations

from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.readings import Reading
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.doubts import count_words, use_words
from rehang.trade.known.fitting import papers_words
from rehang.trade.known.oil_fill import top_up_words
from rehang.trade.known.photos import belongs_to, scale_words
from rehang.trade.known.state import (
    STANDS,
    Finding,
    ItemState,
    JobState,
    item_kind,
    item_name,
    understand,
)
from rehang.trade.known.torque import torque_words
from rehang.trade.papers.record_words import RECORD_KINDS, record_entry_words
from rehang.trade.run.run_words import RUN_WORDS, run_entry_words
from rehang.trade.terms.entries import Entry, last_day
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.shop import Unread
from rehang.trade.terms.quantities import show
from rehang.trade.terms.wording import lower_first, on_day, with_stop, written_day
from rehang.trade.work.stock_words import STOCK_WORD_KINDS, stock_entry_words
from rehang.trade.work.work_words import WORK_WORDS, task_words, work_entry_words

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
        if entry.kind == "reading":
            said = f"{item_as_said(entry.item)}: {entry.get('check')} {entry.get('written')}."
    if not entry.get("under"):
        return said
    return f"{said} Supervised by {judged.facts.person(entry.get('under'))}."


def _said(entry: Entry, judged: JudgedJob) -> str:
    facts, state = judged.facts, judged.state
    name = item_name(entry.item)
    who = f"{name} ({entry.place})" if entry.place else name
    if item_kind(entry.item) not in ("", "plug"):
        who = f"{item_kind(entry.item).capitalize()} {name}"
    note = f" {with_stop(str(entry.get('note')))}" if entry.get("note") else ""
    match entry.kind:
        case Unread.kind:
            return f"Cannot be shown: strike it. {entry.get('why')}"
        case "removed":
            hours = entry.get("hours", None)
            return (
                f"{name} came out of {entry.place}" + (f" at {hours:,} h." if hours else ".") + note
            )
        case "reading":
            check, reading = understand(entry, facts.sheets, facts.meters)
            kept = ", kept as keyed" if entry.get("kept_as_keyed", False) else ""
            return f"{who}: {check.label.lower()} {reading_words(check, reading)}{kept}.{note}"
        case "seen":
            return f"{who}, {_seen_words(entry, facts)}.{note}"
        case "reworked":
            return f"{who} was {_rework_words(entry, facts)}.{note}"
        case "moved":
            return f"{name} moved to {entry.place}.{note}"
        case "dropped":
            person = entry.get("person")
            by = f" by {facts.person(person)}" if person else ""
            return f"{who} was dropped{by}.{note}"
        case "overheated":
            return f"{who} was overheated.{note}"
        case "unknown_history":
            return f"{who} has no known history.{note}"
        case "struck":
            target = state.entries.get(entry.data["entry"])
            what = entry_words(target, judged) if target else entry.data["entry"]
            return f"Struck out: {what} Reason: {with_stop(entry.data['reason'])}"
        case "called":
            return (
                f"Called {entry.data['call']}: {_target_words(entry, judged)} "
                f"Reason: {with_stop(entry.data['reason'])}"
            )
        case "left_open":
            return f"Left open for a second opinion: {_target_words(entry, judged)}"
        case "disagreed":
            return f"{who}: {entry.data['verdict']} by decision. Reason: {with_stop(entry.data['reason'])}"
        case "closed" if entry.data["finding"].startswith(STANDS):
            return f"{_stands_words(entry, judged)} Reason: {with_stop(entry.data['reason'])}"
        case "closed":
            finding = _finding(judged, entry.data["finding"])
            label = f"{finding.label} on {item_as_said(finding.item)}" if finding else "a finding"
            found = f" Found: {with_stop(str(entry.get('found')))}" if entry.get("found") else ""
            return f"Closed {lower_first(label)}.{found} Reason: {with_stop(entry.data['reason'])}"
        case "disposed":
            how = {key: words for key, _, words in DISPOSALS}
            return f"{who} was {how.get(entry.data['how'], entry.data['how'])}.{note}"
        case "replaced":
            made = f", made {written_day(str(entry.get('made')))}" if entry.get("made") else ""
            return f"{name} goes in for {entry.data['for']} at {entry.place}{made}.{note}"
        case "proved":
            due = f" Good to {written_day(entry.get('due'))}." if entry.get("due") else ""
            return (
                f"As-found check of {entry.data['meter']}: {with_stop(entry.data['reason'])}{due}"
            )
        case "found_out":
            return _found_out_words(entry, state)
        case "stopped":
            why = entry.get("why")
            return f"Stopped{_spot_words(entry, facts)}" + (
                f": {STOP_WHYS.get(why, why)}." if why else "."
            )
        case "carried_on":
            return f"Carried on{_spot_words(entry, facts)}."
        case "earlier":
            service = on_day(last_day(entry.data["service"]))
            return f"{name}: service of {service}, copied in from older records.{note}"
        case "filed":
            return f"Filed {entry.data['file']}.{note}"
        case "pictured":
            about = belongs_to(entry, facts, state)
            return f"Photo of {lower_first(about)}. {scale_words(entry)}{note}"
        case "master":
            return f"Master orifice on {entry.data['meter']}: {entry.data['written']}.{note}"
        case "counted":
            pieces, magnetic = entry.data["pieces"], entry.data["magnetic"]
            largest = entry.get("largest_mm", None)
            size = f", the largest {largest:g} mm" if largest else ""
            return f"{who}: {pieces} pieces counted, {magnetic} magnetic{size}.{note}"
        case "sampled":
            on = on_day(last_day(entry.data["on"]))
            bottle = f", bottle {entry.get('bottle')}" if entry.get("bottle") else ""
            if said := top_up_words(entry):
                bottle += f", {said}"
            if not entry.get("ppm", None):
                return f"Oil sample of {on}{bottle}; the laboratory's figures are awaited.{note}"
            return f"Oil sample of {on}{bottle}, parts per million: {_ppm_words(entry)}.{note}"
        case "analysed":
            return f"The laboratory found, parts per million: {_ppm_words(entry)}.{note}"
        case "promised":
            return promise_words(entry)
        case "torqued":
            said = torque_words(entry)
            what = with_stop(
                f"{entry.data['what']}: {count_words(entry.data)} torqued with {entry.data['meter']}"
                + (f", {said}" if said else "")
            )
            return f"{what}{note}"
        case "fitted":
            serial = f" s/n {entry.get('serial')}" if entry.get("serial") else ""
            batch = f", batch {entry.get('batch')}" if entry.get("batch") else ""
            made = f", made {written_day(str(entry.get('made')))}" if entry.get("made") else ""
            gasket = f", gasket {entry.get('gasket')}" if entry.get("gasket") else ""
            told = papers_words(entry) or str(entry.get("release"))
            papers = f", papers {told}" if told else ""
            return (
                f"{who.partition(' (')[0]}{serial} fitted at {entry.place}{batch}{made}{gasket}"
                f"{papers}.{note}"
            )
        case "counted_out":
            return f"{entry.data['number']} {entry.data['what']} counted out.{note}"
        case "counted_in":
            return f"{entry.data['number']} {entry.data['what']} counted in.{note}"
        case "put_away":
            return f"Taken off the board: {with_stop(entry.data['reason'])}"
        case "brought_back":
            return f"Brought back to the board: {with_stop(entry.data['reason'])}"
        case kind if kind in RECORD_KINDS:
            return f"{record_entry_words(entry, facts)}{note}"
        case kind if kind in RUN_WORDS:
            return f"{run_entry_words(entry, facts)}{note}"
        case kind if kind in WORK_WORDS:
            return work_entry_words(entry, facts)
        case kind if kind in STOCK_WORD_KINDS:
            return stock_entry_words(entry, facts)
    return with_stop(str(entry.get("text")))


def bottle_words(entry: Entry) -> str:
    """A sample whose figures are awaited: "drained on 6 Oct 2026 at 1,142.3 h, bottle 7"."""
    bottle = f", bottle {entry.get('bottle')}" if entry.get("bottle") else ""
    on = on_day(last_day(entry.data["on"]))
    return f"drained on {on} at {entry.data['engine_hours']:,.1f} h{bottle}"


def _ppm_words(entry: Entry) -> str:
    return ", ".join(f"{element} {ppm}" for element, ppm in entry.data["ppm"].items())


def promise_words(entry: Entry) -> str:
    """What was promised, and for when."""
    sides = [
        f"at {entry.get('hours'):,.1f} h since overhaul" if entry.get("hours", None) else "",
        f"by {on_day(last_day(entry.get('on')))}" if entry.get("on") else "",
    ]
    why = f": {with_stop(str(entry.get('reason')))}" if entry.get("reason") else "."
    return f"Promised: {entry.data['what']}, {' or '.join(one for one in sides if one)}{why}"


def item_as_said(item_id: str) -> str:
    """An item as a sentence names it: a plug by its serial alone."""
    kind, name = item_kind(item_id), item_name(item_id)
    return name if kind == "plug" else f"{kind} {name}"


def _finding(judged: JudgedJob, finding_id: str) -> Finding | None:
    for item in judged.state.items.values():
        for finding in item.findings:
            if finding.id == finding_id:
                return finding
    return None


def _found_out_words(entry: Entry, state: JobState) -> str:
    told = state.found_out.get(entry.data["meter"], ())
    found = next((one for one in told if one.entry.id == entry.id), None)
    if found is None:
        # It is struck, so that nothing follows from it any more.
        return f"{entry.data['meter']} found out of tolerance: {with_stop(entry.data['reason'])}"
    good = f" Last known good on {on_day(found.good)}." if found.good is not None else ""
    return f"{found.words}: {found.as_found}.{good}"


def _stands_words(entry: Entry, judged: JudgedJob) -> str:
    """What an entry lets stand although its meter was found out."""
    for meter, told in judged.state.found_out.items():
        for one in told:
            use = entry.data["finding"].removeprefix(one.stands_key(""))
            if use in judged.state.entries:
                what = use_words(judged.state.entries[use], judged.facts)
                return f"Let stand although {meter} was found out of tolerance: {what}."
    return "Let stand although its meter was found out of tolerance."


def _target_words(entry: Entry, judged: JudgedJob) -> str:
    target = judged.state.entries.get(entry.data["entry"])
    return entry_words(target, judged) if target else "an entry that is not in the book."


def _spot_words(entry: Entry, facts: JobFacts) -> str:
    if entry.get("task"):
        return f" at {lower_first(task_words(entry, facts))}"
    words = f" at {entry.place}" if entry.place else ""
    check = check_named(facts, str(entry.get("check")))
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
    if len(reading.figures) == 2 and check.quantity is not None:
        text += f" (the wider of {' and '.join(show(f, check.quantity) for f in reading.figures)})"
    if reading.at_psi is not None:
        text += f" at {reading.at_psi} psi"
    if reading.meter:
        text += f" on {reading.meter}"
    if reading.range:
        text += f" ({reading.range})"
    return text


def _seen_words(entry: Entry, facts: JobFacts) -> str:
    sheet = facts.sheets.get(item_kind(entry.item))
    word = str(entry.get("word"))
    label = sheet.words[word].label if sheet and word in sheet.words else word
    severity = entry.get("severity", None)
    at_look = sheet is not None and entry.get("check") == sheet.look.name
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


def _rework_words(entry: Entry, facts: JobFacts) -> str:
    sheet = facts.sheets.get(item_kind(entry.item))
    act = str(entry.get("act"))
    return sheet.reworks[act].done if sheet and act in sheet.reworks else act
