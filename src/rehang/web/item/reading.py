"""Taking a reading of an item by form, or changing one; a compression check has its own."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from rehang.trade.facts.items import Check
from rehang.trade.facts.readings import Unlikely, unlikely
from rehang.trade.known.state import understand
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.entries import Entry, is_a, new_entry
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.readings import ReadingTaken, Seen
from rehang.trade.terms.quantities import show
from rehang.trade.terms.wording import whole
from rehang.trade.verdicts.calls import Call
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.work.names import item_label
from rehang.web.item import pressure_rows
from rehang.web.item.forms import PressureForm, ReadForm
from rehang.web.shared import meters as meter_rows
from rehang.web.shared.desk import (
    Desk,
    SeeOther,
    entry_id,
    job_page,
    keep,
    onward,
    page,
    say,
    writes,
)
from rehang.web.shared.templatetags.pages import new_meter_url

__all__ = ["doubt_of", "read", "reading_entry"]


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def read(request: HttpRequest, desk: Desk, kind: str, name: str, check: str) -> HttpResponse:
    """Take one reading, or change one: the old line is struck and the new one written."""
    verdict = desk.judged.item(f"{kind}:{name}")
    sheet = desk.judged.facts.sheets.get(kind)
    if sheet is None:
        raise BadInput(f"There is no check sheet for a {kind}.")
    one = sheet.check(check)
    if one.method == "age":
        raise BadInput(
            f"{one.label} comes from the dates on file and the rule on file; "
            "there is nothing to read."
        )
    if one.method == "counted":
        raise BadInput(f"{one.label} is counted: write it under COUNT PIECES.")
    if one.method == "compression":
        return _pressure(request, desk, verdict, one)
    return _reading(request, desk, verdict, one)


def _back(request: HttpRequest, desk: Desk, verdict: ItemVerdict) -> str:
    """Where the way leads from a form: where it came from, else the page of the item."""
    back = onward(request, desk, "back")
    if back == reverse("web:board", args=[desk.job.slug]):
        back = reverse("web:item", args=[desk.job.slug, verdict.kind, verdict.name])
    return back


def _reading(request: HttpRequest, desk: Desk, verdict: ItemVerdict, one: Check) -> HttpResponse:
    sheet = desk.judged.facts.sheets[verdict.kind]
    call = verdict.call(one.name)
    now = _live(desk, call)
    back = _back(request, desk, verdict)
    form = ReadForm(request, one, _usual_psi(desk, one))
    doubt: Unlikely | None = None
    if "new_meter" in request.POST:
        way = form.address(back=back)
        return SeeOther(new_meter_url(desk.job.slug, verdict.kind, one.name, way))
    if request.method == "POST":
        with form.refusing():
            typed = form.checked()
            entries = _entries(request, desk, verdict, one, now, typed)
            doubt = doubt_of(desk, verdict, one, entries)
            if doubt is not None and typed["kept_as_keyed"] != "yes":
                raise BadInput(f"{typed['written']} is unlikely. {doubt.sentence}", "written")
            asked = keep(request, desk, entries)
            if asked is not None:
                return asked
            say(request, desk, entries[-1])
            return SeeOther(back)
    how = form["how"].value() or ""
    return page(
        request,
        desk,
        "item/read",
        current="read-back",
        status=form.status,
        story_name=verdict.name,
        kind=verdict.kind,
        takes_meter=one.kind != "look" and not one.by_eye,
        place=verdict.place,
        check=one,
        unit=one.quantity.words if one.quantity else "",
        call=call,
        mark=status_name(call.call) if call else "",
        now=now,
        meters=meter_rows.meter_choices(desk.judged, one, form["meter"].value() or ""),
        words=list(sheet.words.values()) if one.kind == "look" else [],
        severities=(3, 2, 1, 0),
        again=how == "again" or (not how and _settles(request, call)),
        doubt=doubt if form.sentence else None,
        shifted=_shifted(one, doubt),
        back=back,
        **form.shown,
    )


def _settles(request: HttpRequest, call: Call | None) -> bool:
    """A close call is read again on a better meter; nothing was written wrong."""
    return "meter" in request.GET or (call is not None and call.call == "CLOSE CALL")


def _shifted(check: Check, doubt: Unlikely | None) -> str:
    """The value with its point moved, as it would be typed."""
    if doubt is None or doubt.shifted is None or check.quantity is None:
        return ""
    return show(doubt.shifted, check.quantity).replace("Ω", "ohm")


def _live(desk: Desk, call: Call | None) -> Entry | None:
    """The entry that carries the check now; None when there is nothing to change."""
    if call is None or call.entry is None or call.call == "VOID":
        return None
    return call.entry if is_a(call.entry, ReadingTaken, Seen) else None


def _usual_psi(desk: Desk, check: Check) -> str:
    """The pressure last written for a graded check."""
    if check.kind != "grade":
        return ""
    for entry in reversed(desk.judged.state.live()):
        if is_a(entry, ReadingTaken) and entry.fields.check == check.name:
            psi = entry.fields.at_psi
            if psi is not None:
                return str(psi)
    return ""


def _entries(
    request: HttpRequest,
    desk: Desk,
    verdict: ItemVerdict,
    check: Check,
    now: Entry | None,
    typed: dict[str, str],
) -> list[Entry]:
    at = desk.now()
    entries = []
    if now is not None and typed["how"] != "again":
        if not typed["reason"]:
            raise BadInput("Write why the reading is changed.", "reason")
        entries.append(
            new_entry(
                "struck",
                at=at,
                by=desk.key,
                id=entry_id(request, "struck", now.id),
                entry=now.id,
                reason=typed["reason"],
            )
        )
    if check.kind == "look":
        entries.append(_seen(request, desk, verdict, check, typed))
        return entries
    entries.append(reading_entry(request, desk, verdict, check, typed))
    return entries


def reading_entry(
    request: HttpRequest, desk: Desk, verdict: ItemVerdict, check: Check, typed: dict[str, str]
) -> Entry:
    """What a form writes of one check of an item that is measured or graded."""
    if not typed["written"]:
        raise BadInput(f"Enter {check.label.lower()}.", "written")
    meter, _, range_name = typed["meter"].partition("|")
    beside = {"with": {"dial": typed["dial"]}} if typed.get("dial") else {}
    psi, written = typed["at_psi"], typed["written"]
    return new_entry(
        "reading",
        at=desk.now(),
        by=desk.key,
        id=entry_id(request, "reading", verdict.item, written, typed["meter"], psi),
        item=verdict.item,
        place=verdict.place,
        check=check.name,
        written=_with_unit(desk, check, written, meter),
        meter=meter,
        range=range_name,
        at_psi=whole(psi) if psi and check.kind == "grade" else None,
        kept_as_keyed=True if typed["kept_as_keyed"] == "yes" else None,
        **beside,
    )


def _with_unit(desk: Desk, check: Check, written: str, meter_id: str) -> str:
    """The number as typed, with the unit the meter shows when none was written."""
    if check.kind != "measure" or check.quantity is None or not written[-1].isdigit():
        return written
    if check.points:
        # Each figure takes the unit that the dial shows.
        return written
    if check.quantity.name == "length" and written.startswith((".", "0.")):
        return f"{written} in"
    meter = desk.judged.facts.meters.get(meter_id)
    unit = meter.keyed if meter is not None and meter.keyed else check.quantity.keyed
    return f"{written} {unit}"


def _seen(
    request: HttpRequest, desk: Desk, verdict: ItemVerdict, check: Check, typed: dict[str, str]
) -> Entry:
    sheet = desk.judged.facts.sheets[verdict.kind]
    if not typed["word"]:
        raise BadInput("Pick what was seen.", "word")
    word = sheet.word(typed["word"], "word")
    severity: int | None = None
    if len(word.severities) > 1:
        picked = typed["severity"]
        if picked not in [str(s) for s in word.severities]:
            offered = " or ".join(str(s) for s in word.severities)
            raise BadInput(f"{word.label} may be {offered}. Pick one.", "severity")
        severity = int(picked)
    worst = severity if severity is not None else word.severity
    if worst == 3 and typed["confirm"] != "yes":
        raise BadInput(
            f"{word.label} at severity 3 makes it a reject. Tick the box to say so.", "confirm"
        )
    return new_entry(
        "seen",
        at=desk.now(),
        by=desk.key,
        id=entry_id(request, "seen", word.name, str(severity)),
        item=verdict.item,
        place=verdict.place,
        check=check.name,
        word=word.name,
        severity=severity,
    )


# Compression


def _pressure(request: HttpRequest, desk: Desk, verdict: ItemVerdict, check: Check) -> HttpResponse:
    """Two reads of a cylinder with all that is written down beside them, in one go."""
    asked = pressure_rows.pressure_form(desk.judged, check, desk.today())
    back = _back(request, desk, verdict)
    form = PressureForm(request, desk.judged.facts.meters)
    doubt: Unlikely | None = None
    if "new_meter" in request.POST:
        way = new_meter_url(desk.job.slug, verdict.kind, check.name, form.address(back=back))
        return SeeOther(way)
    if request.method == "POST":
        with form.refusing():
            typed = form.checked()
            entries = _reads(request, desk, verdict, check, typed)
            doubt = doubt_of(desk, verdict, check, entries)
            if doubt is not None and typed["kept_as_keyed"] != "yes":
                raise BadInput(f"{form.data['held'].strip()} is unlikely. {doubt.sentence}", "held")
            fresh = [entry for entry in entries if not desk.has(entry.id)]
            if fresh:
                desk.write(fresh)
            say(request, desk, entries[-1])
            return SeeOther(back)
    meters = meter_rows.meter_choices(desk.judged, check, form["meter"].value() or "")
    return page(
        request,
        desk,
        "item/pressure",
        current="engine",
        status=form.status,
        label=item_label(desk.judged.facts, verdict.item),
        check=check,
        call=verdict.call(check.name),
        asked=asked,
        meters=meters,
        doubt=doubt if form.sentence else None,
        back=back,
        **form.shown,
        cautions=desk.judged.facts.sheets[verdict.kind].cautions,
    )


def _reads(
    request: HttpRequest, desk: Desk, verdict: ItemVerdict, check: Check, typed: dict[str, str]
) -> list[Entry]:
    meter, supply = typed["meter"], typed["supply"]
    conditions = {
        name: typed[name]
        for name in ("state", "minutes", "orifice", "path", "path_note", "station")
        if typed[name] and name in check.asks
    }
    common: dict[str, Any] = {"at": desk.now(), "by": desk.key}
    beside: dict[str, Any] = {"with": conditions, **common}
    entries = []
    if typed["master"]:
        written = f"{typed['master']} psi"
        entries.append(
            new_entry(
                "master",
                id=entry_id(request, "master", meter, written),
                meter=meter,
                written=written,
                **common,
            )
        )
    for number, value in enumerate(one for one in (typed["held"], typed["again"]) if one):
        entries.append(
            new_entry(
                "reading",
                id=entry_id(request, "reading", str(number), value, supply, meter, str(conditions)),
                item=verdict.item,
                check=check.name,
                meter=meter,
                written=f"{value}/{supply} psi",
                kept_as_keyed=True if typed["kept_as_keyed"] == "yes" else None,
                **beside,
            )
        )
    return entries


def doubt_of(
    desk: Desk,
    verdict: ItemVerdict,
    check: Check,
    entries: Sequence[Entry],
    beside: Sequence[Entry] = (),
) -> Unlikely | None:
    """Whether a number looks like a slip beside the same check of the other items.

    ``beside`` are readings of those that are written with it.
    """
    calls = [one.call(check.name) for one in desk.judged.items if one.item != verdict.item]
    others = [call.value for call in calls if call is not None and call.value is not None]
    others += [value for value in (_value(desk, one) for one in beside) if value is not None]
    for entry in entries:
        if not is_a(entry, ReadingTaken) or check.quantity is None:
            continue
        value = _value(desk, entry)
        doubt = unlikely(check, value, others) if value is not None else None
        if doubt is not None:
            return doubt
    return None


def _value(desk: Desk, entry: Entry) -> int | None:
    if not is_a(entry, ReadingTaken):
        return None
    return understand(entry, desk.judged.facts.sheets, desk.judged.facts.meters)[1].value
