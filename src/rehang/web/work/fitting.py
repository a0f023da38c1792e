"""Putting parts into their places and taking them out: one tap, one scan or one typed line."""

from __future__ import annotations

from collections.abc import Mapping

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_POST, require_safe

from rehang.trade.terms.errors import BadInput, Refused
from rehang.web.shared.desk import Desk, SeeOther, job_page, onward, page, say, send_back, writes
from rehang.web.work import fit_rows

# What a form may say of what goes in besides its name.
FIELDS = ("serial", "batch", "made", "gasket", "form", "reference", "part", "note")


@require_safe
@job_page
def places(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Every place of the job that carries a part, with what is in it."""
    groups = fit_rows.fit_groups(desk.judged)
    # One list at a time: the first that is not whole.
    current = next((one for one in groups if one.filled < len(one.rows)), None)
    return page(
        request,
        desk,
        "work/places",
        current="rest",
        groups=groups,
        now=current,
        at=request.GET.get("at", ""),
        about_papers=request.GET.get("papers", ""),
    )


@require_POST
@job_page
@writes
def put_in(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Write that a part is in its place, and what was used up with it."""
    return _write(request, desk, "fitted")


@require_POST
@job_page
@writes
def take_out(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Write that a part is out of its place."""
    return _write(request, desk, "removed")


def _write(request: HttpRequest, desk: Desk, kind: str) -> HttpResponse:
    onto = onward(request, desk)
    place = request.POST.get("place", "").strip()
    typed = {k: str(v).strip() for k, v in request.POST.items() if k != "csrfmiddlewaretoken"}
    try:
        item = _item(desk, typed)
        told = {name: typed.get(name, "") for name in FIELDS}
        once = request.POST.get("once", "")
        if kind == "fitted":
            fit_rows.check_numbered(item, told)
        if again := typed.get("again"):
            entries = fit_rows.written_again(
                desk.judged, again, told["serial"], once=once, by=desk.key, at=desk.now()
            )
        else:
            entries = fit_rows.entries_of(
                desk.judged, kind, item, place, told, once=once, by=desk.key, at=desk.now()
            )
        entries = [one for one in entries if not desk.has(one.id)]
        if entries:
            desk.write(entries)
    except Refused as reason:
        return send_back(request, onto, "fit", reason, typed)
    # On a page of many places a tap comes back to its place, and what was written is said there.
    spot = request.POST.get("spot", "")
    if spot not in [row.spot for group in fit_rows.fit_groups(desk.judged) for row in group.rows]:
        spot = ""
    if entries:
        say(request, desk, entries[-1] if again else entries[0])
        if spot:
            request.session["said"]["at"] = spot
    return SeeOther(f"{onto.partition('#')[0]}#{spot}" if spot else onto)


def _item(desk: Desk, typed: Mapping[str, str]) -> str:
    """The item that is put in or taken out: the one offered, or another by its serial."""
    kind, other = typed.get("of", ""), typed.get("other", "")
    if not other:
        if not typed.get("item"):
            raise BadInput("Write the serial of the one that is meant.", "other")
        return typed["item"]
    if kind not in ("plug", "hose"):
        return typed.get("item") or f"{kind}:{other}"
    known = {one.name.casefold(): one.name for one in desk.judged.state.items.values()}
    return f"{kind}:{known.get(other.casefold(), other)}"
