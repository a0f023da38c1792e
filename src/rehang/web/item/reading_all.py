"""One check of every part of a kind on one page: a row each, kept together by one tap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from rehang.trade.facts.items import Check
from rehang.trade.job.again import needed_checks
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.wording import upper_first
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.work.names import item_label
from rehang.web.item.reading import doubt_of, reading_entry
from rehang.web.shared import meters as meter_rows
from rehang.web.shared.desk import Desk, SeeOther, job_page, onward, page, writes
from rehang.web.shared.forms import BenchForm, Pick, TextField
from rehang.web.shared.templatetags.pages import new_meter_url

__all__ = ["read_all"]


class _AllForm(BenchForm):
    """A field for each part, what was kept as keyed, and the meter of them all."""

    by_address = True
    meter = TextField()

    def __init__(self, request: HttpRequest, check: Check, labels: dict[str, str]) -> None:
        super().__init__(request)
        for name, label in labels.items():
            self.fields[f"r-{name}"] = (
                Pick(
                    label,
                    [("", "not yet"), *((c.word, upper_first(c.word)) for c in check.choices)],
                )
                if check.kind == "grade"
                else TextField(label, short=True, inputmode="decimal")
            )
            self.fields[f"k-{name}"] = TextField()
        # What was typed before the way led to a new meter.
        self.initial.update({k: request.GET[k] for k in self.fields if k in request.GET})


@dataclass(frozen=True, slots=True)
class _Row:
    """One part: its field, what is unlikely of what was typed, and whether that is kept."""

    field: Any
    name: str
    doubt: str
    is_kept: bool


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def read_all(request: HttpRequest, desk: Desk, kind: str, check: str) -> HttpResponse:
    """Take one check of every part that still asks for it; a row left empty stays to be read."""
    sheet = desk.judged.facts.sheets.get(kind)
    if sheet is None:
        raise BadInput(f"There is no check sheet for a {kind}.")
    one = sheet.check(check)
    if not one.is_read_in_rows:
        raise BadInput(f"{one.label} is read of one part at a time, on the page of each.")
    asked = [v for v in desk.judged.items if v.kind == kind and _asks(v, one, desk)]
    labels = {v.name: upper_first(item_label(desk.judged.facts, v.item)) for v in asked}
    form = _AllForm(request, one, labels)
    back = onward(request, desk, "back")
    if "new_meter" in request.POST:
        return SeeOther(new_meter_url(desk.job.slug, kind, check, form.address(back=back)))
    doubts: dict[str, str] = {}
    if request.method == "POST":
        with form.refusing():
            typed = form.checked()
            entries = _entries(request, desk, asked, one, typed)
            doubts = _doubts(desk, asked, one, entries, typed)
            if doubts:
                first = next(iter(doubts))
                raise BadInput(f"{typed[f'r-{first}']} is unlikely. {doubts[first]}", f"r-{first}")
            desk.write([entry for entry in entries.values() if not desk.has(entry.id)])
            words = f"{one.label} of {len(entries)} kept."
            request.session["said"] = {"sentence": words, "undo": ""}
            return SeeOther(back)
    return page(
        request,
        desk,
        "item/read_all",
        current="engine",
        status=form.status,
        check=one,
        kind=kind,
        unit=one.quantity.words if one.quantity else "",
        rows=[
            _Row(
                form[f"r-{v.name}"],
                v.name,
                doubts.get(v.name, ""),
                bool(form.data.get(f"k-{v.name}")),
            )
            for v in asked
        ],
        takes_meter=not one.by_eye,
        meters=meter_rows.meter_choices(desk.judged, one, form["meter"].value() or ""),
        cautions=sheet.cautions,
        back=back
        if "back" in request.GET or "back" in request.POST
        else reverse("web:rest", args=[desk.job.slug]),
        **form.shown,
    )


def _asks(verdict: ItemVerdict, check: Check, desk: Desk) -> bool:
    """Whether the check is to be read on a part; what was read already is read again on its page."""
    return any(
        call.check == check.name and call.call in ("NOT READ", "VOID")
        for call, _, _ in needed_checks(verdict, desk.judged)
    )


def _entries(
    request: HttpRequest,
    desk: Desk,
    asked: Sequence[ItemVerdict],
    check: Check,
    typed: dict[str, str],
) -> dict[str, Entry]:
    found = {}
    for verdict in asked:
        written = typed[f"r-{verdict.name}"]
        if written:
            one = {
                "written": written,
                "meter": typed["meter"],
                "at_psi": "",
                "kept_as_keyed": typed[f"k-{verdict.name}"],
            }
            found[verdict.name] = reading_entry(request, desk, verdict, check, one)
    if not found:
        raise BadInput(
            f"Enter {check.label.lower()} of one of them at the least.",
            f"r-{asked[0].name}" if asked else "",
        )
    return found


def _doubts(
    desk: Desk,
    asked: Sequence[ItemVerdict],
    check: Check,
    entries: dict[str, Entry],
    typed: dict[str, str],
) -> dict[str, str]:
    """What looks like a slip, by the name of its part; one that is kept as keyed is none."""
    found = {}
    for verdict in asked:
        if verdict.name in entries and typed[f"k-{verdict.name}"] != "yes":
            others = [entry for name, entry in entries.items() if name != verdict.name]
            doubt = doubt_of(desk, verdict, check, [entries[verdict.name]], others)
            if doubt is not None:
                found[verdict.name] = doubt.sentence
    return found
