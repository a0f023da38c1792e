"""The story of one item, taking a reading by form, and reading the tray back."""

from __future__ import annotations

from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from rehang.trade.facts.items import Check
from rehang.trade.facts.readings import Unlikely, unlikely
from rehang.trade.known.state import understand
from rehang.trade.life.notes import item_notes
from rehang.trade.telling.sentences import DISPOSALS
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.entries import Entry, is_a, new_entry
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.readings import ReadingTaken, Seen
from rehang.trade.terms.quantities import show
from rehang.trade.terms.wording import whole
from rehang.trade.verdicts.calls import Call
from rehang.trade.verdicts.item_verdict import VERDICTS, ItemVerdict
from rehang.web.item import rows as item_rows
from rehang.web.item.engine_rows import odd_flag
from rehang.web.item.forms import ReadForm
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
from rehang.web.work import fit_rows

__all__ = [
    "item",
    "plug",
    "read",
]


@require_safe
@job_page
def plug(request: HttpRequest, desk: Desk, name: str) -> HttpResponse:
    """A plug's story."""
    return _story(request, desk, f"plug:{name}")


@require_safe
@job_page
def item(request: HttpRequest, desk: Desk, kind: str, name: str) -> HttpResponse:
    """The story of any item of the job."""
    return _story(request, desk, f"{kind}:{name}")


def _story(request: HttpRequest, desk: Desk, item_id: str) -> HttpResponse:
    verdict = _verdict(desk, item_id)
    story = item_rows.story(desk.judged, verdict, request.GET.get("chart", ""))
    return page(
        request,
        desk,
        "item/plug",
        current="tray" if verdict.kind == "plug" else "board",
        story=story,
        rework=item_rows.to_rework(desk.judged, verdict),
        verdicts=[(v, status_name(v)) for v in VERDICTS],
        disposals=DISPOSALS,
        read_on=_read_on(desk, story),
        notes=item_notes(verdict, desk.judged),
        flag=odd_flag(desk.judged, verdict),
        fit=fit_rows.fit_of_item(item_id, desk.judged),
    )


def _verdict(desk: Desk, item_id: str) -> ItemVerdict:
    """The verdict of an item; one that has come in and has nothing on file yet is judged too."""
    return desk.judged.item(item_id)


def _read_on(desk: Desk, story: item_rows.Story) -> tuple[str, str]:
    """Address and words of the reading that would settle a close call."""
    check, meter = story.better
    if not check:
        return "", ""
    where = reverse("web:read", args=[desk.job.slug, story.kind, story.name, check])
    return f"{where}?{urlencode({'meter': meter})}", f"READ ON {meter}"


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def read(request: HttpRequest, desk: Desk, kind: str, name: str, check: str) -> HttpResponse:
    """Take one reading, or change one: the old line is struck and the new one written."""
    verdict = _verdict(desk, f"{kind}:{name}")
    sheet = desk.judged.facts.sheets.get(kind)
    if sheet is None:
        raise BadInput(f"There is no check sheet for a {kind}.")
    one = sheet.check(check)
    call = verdict.call(check)
    now = _live(desk, call)
    back = onward(request, desk, "back")
    if back == reverse("web:board", args=[desk.job.slug]):
        back = reverse("web:item", args=[desk.job.slug, kind, name])
    form = ReadForm(request, one, _usual_psi(desk, one))
    doubt: Unlikely | None = None
    if "new_meter" in request.POST:
        return SeeOther(new_meter_url(desk.job.slug, kind, check, form.address(back=back)))
    if request.method == "POST":
        with form.refusing():
            typed = form.checked()
            entries = _entries(request, desk, verdict, one, now, typed)
            doubt = _doubt(desk, verdict, one, entries[-1])
            if doubt is not None and request.POST.get("kept_as_keyed") != "yes":
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
        story_name=name,
        kind=kind,
        takes_meter=one.kind != "look" and not one.by_eye,
        place=verdict.place,
        check=one,
        unit=one.quantity.words if one.quantity else "",
        call=call,
        mark=status_name(call.call) if call else "",
        now=now,
        meters=_meters(desk, one, form),
        words=list(sheet.words.values()) if one.kind == "look" else [],
        severities=(3, 2, 1, 0),
        again=how == "again" or (not how and _settles(request, call)),
        doubt=doubt if form.sentence else None,
        shifted=_shifted(one, doubt),
        back=back,
        **form.shown,
    )


def _meters(desk: Desk, check: Check, form: ReadForm) -> list[meter_rows.MeterChoice]:
    """The meters to choose from: the one chosen in the form, else the one the address asks for."""
    return meter_rows.meter_choices(desk.judged, check, form["meter"].value() or "")


def _settles(request: HttpRequest, call: Call | None) -> bool:
    """A close call is read again on a better meter; nothing was written wrong."""
    return "meter" in request.GET or (call is not None and call.call == "CLOSE CALL")


def _doubt(desk: Desk, verdict: ItemVerdict, check: Check, entry: Entry) -> Unlikely | None:
    """Whether a number looks like a slip beside its fellows on the tray."""
    if not is_a(entry, ReadingTaken) or check.quantity is None:
        return None
    _, reading = understand(entry, desk.judged.facts.sheets, desk.judged.facts.meters)
    if reading.value is None:
        return None
    calls = [o.call(check.name) for o in desk.judged.items if o.item != verdict.item]
    others = [c.value for c in calls if c is not None and c.value is not None]
    return unlikely(check, reading.value, others)


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
    if not typed["written"]:
        raise BadInput(f"Enter {check.label.lower()}.", "written")
    meter, _, range_name = typed["meter"].partition("|")
    psi, written = typed["at_psi"], typed["written"]
    entries.append(
        new_entry(
            "reading",
            at=at,
            by=desk.key,
            id=entry_id(request, "reading", written, typed["meter"], psi),
            item=verdict.item,
            place=verdict.place,
            check=check.name,
            written=_with_unit(desk, check, written, meter),
            meter=meter,
            range=range_name,
            at_psi=whole(psi) if psi and check.kind == "grade" else None,
            kept_as_keyed=True if request.POST.get("kept_as_keyed") == "yes" else None,
        )
    )
    return entries


def _with_unit(desk: Desk, check: Check, written: str, meter_id: str) -> str:
    """The number as typed, with the unit the meter shows when none was written."""
    if check.kind != "measure" or check.quantity is None or not written[-1].isdigit():
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
