"""The meters and the limits on file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import Limit, limit_for, limit_words
from rehang.trade.facts.meters import Meter
from rehang.trade.job.judging import JudgedJob
from rehang.trade.telling.sentences import entry_words
from rehang.trade.terms.entries import is_a
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.terms.wording import on_day, written_day
from rehang.web.shared.meters import meter_standing
from rehang.web.shared.times import when_text, zone_of

__all__ = [
    "LimitRow",
    "MeterRow",
    "limit_rows",
    "meter_rows",
]


@dataclass(frozen=True, slots=True)
class MeterRow:
    id: str
    name: str
    kind: str
    measures: str
    worth: str
    due: str
    by: str
    standing: str
    sentence: str
    used: int
    ranges: str
    proved: str
    note: str
    found: tuple[str, ...] = ()


def meter_rows(judged: JudgedJob, today: date) -> list[MeterRow]:
    """Every meter: what it is worth, when it is due, how it stands today."""
    used: dict[str, int] = {}
    for entry in judged.state.live():
        if is_a(entry, ReadingTaken) and entry.fields.meter:
            used[entry.fields.meter] = used.get(entry.fields.meter, 0) + 1
    rows = []
    for meter in judged.facts.meters.values():
        proof = judged.state.proved.get(meter.id)
        rows.append(
            MeterRow(
                id=meter.id,
                name=meter.name,
                kind=meter.kind,
                measures=meter.quantity.name if meter.quantity else "",
                worth=meter.worth,
                due=written_day(meter.due_text),
                by=meter.calibrated_by,
                standing=meter_standing(judged, meter, today),
                sentence=_standing_words(judged, meter, today),
                used=used.get(meter.id, 0),
                ranges=", ".join(r.name for r in meter.ranges),
                proved=(
                    f"{entry_words(proof, judged)} "
                    f"{judged.facts.person(proof.by)}, {when_text(proof.at, zone_of(judged))}"
                    if proof
                    else ""
                ),
                note=meter.note,
                found=tuple(
                    f"{entry_words(one.entry, judged)} "
                    f"{judged.facts.person(one.entry.by)}, {when_text(one.entry.at, zone_of(judged))}"
                    for one in judged.state.found_out.get(meter.id, ())
                ),
            )
        )
    return rows


def _standing_words(judged: JudgedJob, meter: Meter, today: date) -> str:
    found = judged.state.is_out(meter.id)
    if found is not None:
        return (
            f"Found out of tolerance on {on_day(found.found_on)}: {found.as_found}. It is good "
            "again from the check on which a new certificate with its day is entered."
        )
    proof = judged.state.proved.get(meter.id)
    if meter.standing(today) and not judged.state.standing(meter, today) and proof is not None:
        return f"Proved good to {written_day(proof.fields.due)}, that day included."
    if meter.due is None:
        return "No calibration on record: its readings are called and raise a blocker."
    if today > meter.due:
        return f"Past its date since {on_day(meter.due)}: its readings raise a blocker."
    return f"In date to {on_day(meter.due)}, that day included."


@dataclass(frozen=True, slots=True)
class LimitRow:
    """One limit, or the place where one is missing."""

    number: int
    item: str
    check: str
    label: str
    words: str
    use: str
    source: str
    entered: str
    judges: bool
    note: str
    for_type: str = ""


def limit_rows(facts: JobFacts) -> list[LimitRow]:
    """Limits in the order of the check sheets; a check with none says so."""
    rows = []
    numbers = {id(one): number for number, one in enumerate(facts.limits)}
    for kind, sheet in facts.sheets.items():
        for check in sheet.checks:
            mine = [one for one in facts.limits if one.item == kind and one.check == check.name]
            rows += [_limit_row(one, numbers[id(one)], check.label, facts) for one in mine]
            if (kind, check.name) == ("hose", "age"):
                rows += [
                    _no_limit(kind, check.name, f"{check.label}, {one}", for_type=one)
                    for one in _types_without_rule(facts, mine)
                ]
            elif not mine or limit_for(facts.limits, kind, check.name, "service") is None:
                rows.append(_no_limit(kind, check.name, check.label))
    shown = {row.number for row in rows}
    rows += [
        _limit_row(one, number, f"{one.item}, {one.check.replace('_', ' ')}", facts)
        for number, one in enumerate(facts.limits)
        if number not in shown
    ]
    filed = {one.check for one in facts.limits if one.item == "engine"}
    rows += [
        _no_limit("engine", one.limit, f"engine, {one.limit.replace('_', ' ')}")
        for one in facts.torque_groups.values()
        if one.limit not in filed
    ]
    return rows


def _types_without_rule(facts: JobFacts, rules: Sequence[Limit]) -> list[str]:
    """Types of hose on file that no age rule names."""
    ruled = {one.wants.get("type") for one in rules}
    return sorted({hose.type for hose in facts.hoses.values()} - ruled)


def _no_limit(kind: str, check: str, label: str, *, for_type: str = "") -> LimitRow:
    return LimitRow(
        -1, kind, check, label, "", "", "", "", judges=False, note="", for_type=for_type
    )


def _limit_row(limit: Limit, number: int, label: str, facts: JobFacts) -> LimitRow:
    uses = {"service": "to go back as found", "setting": "to be set to", "": ""}
    words = limit_words(limit)
    if limit.short_is_out:
        words += "; short is out"
    entered = ""
    if limit.entered_by:
        entered = f"put in by {facts.person(limit.entered_by)}"
        if limit.entered_on:
            entered += f", {on_day(limit.entered_on)}"
    return LimitRow(
        number=number,
        item=limit.item,
        check=limit.check,
        label=label,
        words=words,
        use=uses[limit.use],
        source=limit.source_text,
        entered=entered,
        judges=limit.has_source,
        note=limit.note,
    )
