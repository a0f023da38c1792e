"""The meters on file."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from rehang.trade.facts.meters import Meter
from rehang.trade.job.judging import JudgedJob
from rehang.trade.telling.sentences import entry_words
from rehang.trade.terms.entries import is_a
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.terms.wording import on_day, written_day
from rehang.web.shared.meters import certificate_soon, meter_standing
from rehang.web.shared.times import when_text, zone_of
from rehang.web.shop.meter_makes import make_of

__all__ = [
    "MeterRow",
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
    make: str = "other"
    soon: bool = False
    found: tuple[str, ...] = ()
    is_known: bool = True

    @property
    def worth_words(self) -> str:
        """What it is good to, as a sentence begins."""
        if not self.is_known:
            return "Its accuracy is not known"
        return f"Good to {self.worth or 'a grade only'}"


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
                is_known=not meter.accuracy_not_known,
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
                make=make_of(
                    meter.kind,
                    meter.quantity.name if meter.quantity else "",
                    meter.use,
                    meter.orifice,
                ).key,
                soon=certificate_soon(meter, today),
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
