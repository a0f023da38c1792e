"""The one place where a reason becomes a sentence: in a screen's units, or in a record's."""

from __future__ import annotations

from collections.abc import Sequence

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import limit_words
from rehang.trade.facts.meters import Band
from rehang.trade.known.state import item_kind, item_name
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.items import Dropped, Spoilt
from rehang.trade.terms.quantities import Quantity, number_and_unit, show, show_record
from rehang.trade.terms.wording import lower_first, upper_first, with_stop
from rehang.trade.verdicts.calls import Call
from rehang.trade.verdicts.checks import seen_on
from rehang.trade.verdicts.meter_calls import per_hundred
from rehang.trade.verdicts.reasons import (
    AllWithin,
    ApartFromFellows,
    BeyondLimit,
    Blind,
    Called,
    CloseCall,
    CountAgainstWord,
    Decided,
    Ended,
    FarBelowFellows,
    LookedAt,
    OddOne,
    OfRun,
    OpenFinding,
    Reason,
    Scrap,
    Settled,
    TakeAgain,
    TakeAllAgain,
    ToTake,
    Travels,
    Unjudged,
)

__all__ = [
    "band_on_record",
    "reason_headline",
    "reason_in_brief",
    "reason_in_column",
    "reason_on_record",
    "reason_words",
]

_ONCE = "It counts once it is repeated on a clean contact."


# Gone on with without the one that it named, Grubbs' test would name most of so few.
FEW = 6


def _far_below(told: FarBelowFellows) -> str:
    return (
        f"{told.label} {show(told.value, told.quantity)} is far below its fellows: they read about "
        f"{show(round(told.middle), told.quantity)}, more than {told.times:g} times as much. Looked into "
        "even when its limit allows it (common practice, no source)."
    )


def _odd_one(told: OddOne) -> str:
    few = (
        " Of six or fewer it names one and is not gone on with (the same source)."
        if told.n <= FEW
        else ""
    )
    return (
        f"{told.label} {show(told.value, told.quantity)} is the odd one of {told.n}, whose mean is "
        f"{show(round(told.test.mean), told.quantity)}: Grubbs' G {told.test.g:.3f} is above "
        f"{told.test.critical:.3f} (two sides, 0.05; NIST/SEMATECH e-Handbook, 1.3.5.17.1).{few}"
    )


def _all_again(calls: Sequence[Call]) -> str:
    # All of them say the same.
    labels = "; ".join(lower_first(call.label) for call in calls)
    return f"{upper_first(labels)}: {calls[0].sentence}"


def _apart(told: ApartFromFellows) -> str:
    return (
        f"{told.gap} psi below the median of the others ({told.middle:g}): odd one out, looked into "
        "even when its limit allows it (common practice, no source)."
    )


def reason_words(reason: Reason) -> str:
    """A reason as the screen says it."""
    match reason:
        case Decided(by, verdict, proposed, text):
            return f"{by} decided {verdict} against the proposed {proposed}: {text}"
        case ApartFromFellows():
            return _apart(reason)
        case FarBelowFellows():
            return _far_below(reason)
        case OddOne():
            return _odd_one(reason)
        case Ended(entry):
            # A dropped plug: common practice; FAA-H-8083-32, chapter 4, from memory.
            scrap = (
                "A drop can crack it where light does not reach, so it is scrap however it tests, "
                "and its earlier tests are void."
                if is_a(entry, Dropped)
                else "Its earlier tests are void."
            )
            return f"{_ended(entry)}. {scrap}"
        case Scrap(finding):
            note = f", {finding.note}" if finding.note else ""
            return f"{finding.label} seen {seen_on(finding.entry)} (severity 3){note}."
        case BeyondLimit(call, once):
            return f"{_beyond(call)} {_ONCE}" if once else _beyond(call)
        case Blind(call, why):
            return f"{call.label} {call.reading} does not save it: {why}"
        case OpenFinding(finding):
            extra = f" {with_stop(finding.note)}" if finding.note else ""
            cleaned = " Cleaned; the look after it is still to come." if finding.cleaned else ""
            return (
                f"{finding.label} (severity {finding.severity}), seen {seen_on(finding.entry)}, "
                f"is open.{extra}{cleaned}"
            )
        case LookedAt(call):
            return call.sentence
        case CountAgainstWord(worst, unit, said):
            return (
                f"{worst:g} {unit}, and what was seen is called {said}: both cannot be right. "
                "Look again and write the word for it, or strike what is wrong."
            )
        case ToTake(calls):
            return f"Still to be taken: {', '.join(call.label.lower() for call in calls)}."
        case CloseCall(call):
            return f"{call.label} {call.reading} is a close call. {call.sentence}"
        case TakeAgain(call) | Called(call):
            return f"{call.label}: {call.sentence}"
        case TakeAllAgain(calls):
            return _all_again(calls)
        case Unjudged(call):
            return f"{call.label} {call.reading}: {call.sentence}"
        case AllWithin():
            return "Every check asked for is WITHIN since it was last worked on."
        case Settled(finding):
            return f"{finding.label}: {finding.resolved}."
        case Travels(target, word):
            where = f"{item_kind(target)} {item_name(target)}".capitalize()
            return f"{where} is to be looked at: {lower_first(word.next_act)}."
        case OfRun(finding):
            return f"{with_stop(finding.label)} It is open."


def reason_headline(reason: Reason) -> str:
    """A reason in a few words, with no stop at its end: what it is, without why it is so."""
    match reason:
        case BeyondLimit(call) if not _has_no_figure(call):
            return f"{call.label} {call.reading}, where {call.limit} is asked for"
        case Ended(entry):
            return _ended(entry)
        case CloseCall(call):
            return f"{call.label} {call.reading} is a close call"
    return reason_words(reason).rstrip(".")


def reason_in_brief(reason: Reason) -> str:
    """A reason in about six words, for a line of a list: what it is, with no stop at its end."""
    match reason:
        case Decided(by, verdict, _, _):
            return f"{by} decided {verdict}"
        case ApartFromFellows(gap, _):
            return f"{gap} psi below the others"
        case FarBelowFellows():
            return f"{lower_first(reason.label)} far below its fellows"
        case OddOne():
            return f"{lower_first(reason.label)} the odd one of {reason.n}"
        case Ended(entry):
            return entry.fields.in_short
        case Scrap(finding) | OpenFinding(finding) | Settled(finding) | OfRun(finding):
            return lower_first(finding.label)
        case BeyondLimit(call, _):
            return f"{_in_brief(call)}, limit {call.limit}" if call.limit else _in_brief(call)
        case CloseCall(call) | Called(call):
            return f"{_in_brief(call)}: a close call"
        case CountAgainstWord():
            return "the count and the word do not agree"
        case ToTake(calls):
            first, *more = [lower_first(call.label) for call in calls]
            return f"take {first}{f' and {len(more)} more' if more else ''}"
        case TakeAgain(call):
            return f"take again: {lower_first(call.label)}"
        case TakeAllAgain(calls):
            return f"take again: {lower_first(calls[0].label)} and {len(calls) - 1} more"
        case Unjudged(call):
            return f"{_in_brief(call)}: no limit on file"
        case Blind(call, _) | LookedAt(call):
            return _in_brief(call)
        case Travels(target, _):
            return f"{item_kind(target)} {item_name(target)} to be looked at"
        case AllWithin():
            return "all within"


def _in_brief(call: Call) -> str:
    return f"{lower_first(call.label)} {call.reading}".rstrip()


def reason_in_column(reason: Reason) -> str:
    """A reason for a narrow column of a record: what is wrong and no more, in the record's units."""
    match reason:
        case BeyondLimit(call) if not _has_no_figure(call):
            return f"{call.label} {call.record}"
        case Ended(entry):
            return f"{upper_first(entry.fields.in_short)} {seen_on(entry)}"
        case Scrap(finding):
            return finding.label
        case Blind(call):
            return f"{call.label} cannot see it"
        case OpenFinding(finding):
            return f"{finding.label} is open"
        case CloseCall(call):
            return f"{call.label} {call.record} is a close call"
    return reason_words(reason).rstrip(".")


def _ended(entry: Entry[Spoilt]) -> str:
    note = f" ({entry.fields.note})" if entry.fields.note else ""
    return f"{upper_first(entry.fields.in_short)} {seen_on(entry)}{note}"


def _beyond(call: Call) -> str:
    if _has_no_figure(call):
        return f"{call.label}: {lower_first(call.sentence)}"
    return f"{call.label} {call.reading}, where {call.limit} is asked for. {call.sentence}"


def _has_no_figure(call: Call) -> bool:
    return call.value is None and call.band is None and call.reading != "OL"


def reason_on_record(reason: Reason, facts: JobFacts) -> str:
    """A reason as a record says it: a reading in the record's units, all else as on the screen."""
    match reason:
        case BeyondLimit(call, once) if not _has_no_figure(call):
            said = _reading_on_record(call, facts)
            return f"{said} {_ONCE}" if once else said
        case CloseCall(call) | Called(call) | Unjudged(call) if call.reading and not _is_look(call):
            return _reading_on_record(call, facts)
    return reason_words(reason)


def _is_look(call: Call) -> bool:
    return call.limit_data is not None and call.limit_data.worst is not None


def _reading_on_record(call: Call, facts: JobFacts) -> str:
    """One reading against its limit, in the record's units."""
    said = f"{call.label} {call.record}"
    meter = facts.meters.get(call.meter)
    if meter is not None and call.quantity is not None:
        said += f" on {meter.id}"
        name = call.taken.fields.range if call.taken else ""
        if meter.ranges and call.entry is not None:
            one = meter.range(name)
            if name and len(meter.ranges) > 1:
                said += f" {_on_the_dial(name)}"
            if call.value is None and one is not None:
                said += (
                    f", which reads to {show_record(one.top, call.quantity)}"
                    if one.top is not None
                    else ", its needle at rest"
                )
    if call.limit_data is not None:
        said += f"; {limit_words(call.limit_data, record=True)} is asked for"
    said += "."
    if call.band is not None and call.quantity is not None:
        said += f" That is {band_on_record(call.band, call.quantity)}"
        if call.p_within is not None:
            said += f", {call.held_back or per_hundred(call.p_within)}"
        said += "."
    if call.called_by:
        said += f" Called {call.call} by {call.called_by}."
    elif call.call == "CLOSE CALL":
        said += " A close call."
    elif call.call == "NOT JUDGED":
        said += " Measured and not judged: no limit with a source is on file."
    return said


def _on_the_dial(name: str) -> str:
    """A range as the meter's dial has it: x10 is ×10."""
    return f"×{name[1:]}" if name[:1] == "x" and name[1:2].isdigit() else name


def band_on_record(band: Band, quantity: Quantity) -> str:
    low = _step(max(band.low, 0), quantity)
    if band.high == float("inf"):
        return f"{show_record(low, quantity)} or more"
    number, _ = number_and_unit(low, quantity, record=True)
    return f"{number} to {show_record(_step(band.high, quantity), quantity)}"


def _step(base: float, quantity: Quantity) -> float:
    """A band's end to the last digit that the screen shows, so that both say the same."""
    digit: float = float(quantity.units[quantity.keyed]) / 10.0**quantity.keyed_decimals
    return round(base / digit) * digit
