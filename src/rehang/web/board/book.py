"""The book: every entry, the newest first, and striking one out."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST, require_safe

from rehang.book import queries
from rehang.trade.terms.chain import chain_problems
from rehang.trade.terms.entries import Entry, is_a, new_entry
from rehang.trade.terms.errors import BadInput, Refused
from rehang.trade.terms.kinds.items import Fitted, Removed
from rehang.trade.terms.wording import listed, whole
from rehang.web.board import book_rows
from rehang.web.shared.desk import (
    Desk,
    SeeOther,
    entry_id,
    job_page,
    keep,
    onward,
    page,
    say,
    send_back,
    writes,
)

# About what a person scrolls through in one go.
LINES = 60


@require_safe
@job_page
def book(request: HttpRequest, desk: Desk) -> HttpResponse:
    """A page of the book, and whether anything was altered since it was written."""
    entries = list(queries.entries(desk.job))
    before = request.GET.get("before", "")
    asked = whole(before)
    last = len(entries) + 1 if asked is None else asked
    as_shown = desk.judged.state.entries
    lines = [as_shown.get(e.id, e) for e in entries]
    form = book_rows.LinesForm(request, desk.judged, lines)
    taken = [e for e in lines if form.takes(e)]
    shown = [e for e in taken if e.seq < last][-LINES:]
    shown.reverse()
    return page(
        request,
        desk,
        "board/book",
        current="book",
        rows=book_rows.book_rows(desk.judged, shown),
        older=shown[-1].seq if shown and shown[-1] is not taken[0] else 0,
        form=form,
        found=len(taken),
        newer=bool(before),
        total=len(entries),
        altered=bool(chain_problems(entries)),
        chain_head=desk.job.head_hash,
    )


@sensitive_post_parameters("pin")
@require_POST
@job_page
@writes
def strike(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Strike an entry out, with a reason. The entry stays in the book."""
    target = request.POST.get("entry", "")
    reason = request.POST.get("reason", "").strip()
    back = reverse("web:book", args=[desk.job.slug])
    onto = onward(request, desk) if request.POST.get("next") else back
    desk.judged.state.entry(target)
    try:
        if not reason:
            raise BadInput("Write why this line is struck.", "reason")
        entry = new_entry(
            "struck",
            at=desk.now(),
            by=desk.key,
            id=entry_id(request, "struck", target),
            entry=target,
            reason=reason,
        )
        asked = keep(request, desk, [entry, *_with_it(request, desk, target, reason)])
        if asked is not None:
            return asked
    except Refused as refusal:
        typed = {"reason": reason}
        return send_back(request, onto, f"strike-{target}", refusal, typed, beside="reason")
    say(request, desk, entry, undo=False)
    return SeeOther(onto)


def _with_it(request: HttpRequest, desk: Desk, target: str, reason: str) -> list[Entry]:
    """The strikes of what one tap wrote together with an entry.

    The gasket of a plug put in; and where UNDO is of all of it, the other plugs that came out.
    """
    first = desk.judged.state.entries[target]
    if is_a(first, Removed) and request.POST.get("together"):
        kind, place = first.kind, None
    elif is_a(first, Fitted):
        kind, place = "used", first.place
    else:
        return []
    return [
        new_entry(
            "struck",
            at=desk.now(),
            by=desk.key,
            id=entry_id(request, "struck", one.id),
            entry=one.id,
            reason=reason,
        )
        for one in desk.judged.state.live()
        if (one.kind, one.at, one.by) == (kind, first.at, first.by)
        and place in (None, one.place)
        and one.id != target
    ]


@require_safe
@job_page
def read_back(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Every value in tray order, large, each with CHANGE that comes back to its line."""
    rows = book_rows.read_back_rows(desk.judged)
    unread = book_rows.unread_words(rows)
    here = reverse("web:read_back", args=[desk.job.slug])
    return page(
        request,
        desk,
        "board/read_back",
        current="read-back",
        rows=rows,
        no_plug=listed(desk.judged.empty_holes) if rows else "any hole",
        unread=unread,
        unread_number=book_rows.unread_number(rows),
        back=here,
    )
