"""The bench board, the list of jobs, the blockers, and the acts that write one entry."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.html import escape
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from rehang.book import members, outlook, queries
from rehang.book.backup_rules import standing, standing_words
from rehang.book.shop import things_offered
from rehang.trade.doors.rules import can_write
from rehang.trade.gate.powers import shopkeepers
from rehang.trade.known.hours import hours_of
from rehang.trade.known.state import FLAG, MONITOR, OIL_RISE, SAYS, WORKED_OUT_NAMES, item_kind
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.entries import Entry, canonical, is_a, new_entry
from rehang.trade.terms.errors import BadInput, Refused
from rehang.trade.terms.kinds.decisions import CallMade, Closed, Disagreed
from rehang.trade.terms.kinds.register import KINDS
from rehang.trade.terms.wording import lower_first, upper_first
from rehang.trade.work.names import item_label
from rehang.web.board import rows as board_rows
from rehang.web.shared.access import supervisors
from rehang.web.shared.desk import (
    Desk,
    SeeOther,
    entry_id,
    job_page,
    keep,
    onward,
    page,
    refused,
    say,
    send_back,
    writes,
)
from rehang.web.shared.meters import certificate_rows

__all__ = [
    "act",
    "board",
    "bring_back",
    "home",
    "put_away",
    "work_under",
]

# What one tap or one small form may write. Readings go through the tray; strikes, filed sheets
# and signatures have pages of their own.
ACTS = tuple(
    kind
    for kind in KINDS
    if kind not in ("reading", "struck", "filed", "earlier", "signed", "torqued")
)
# Acts that lead straight on to other work; a line about them would stand in its way.
QUIET = ("carried_on", "stopped")
# No shelf, count or row of fasteners has more; a longer run of digits is a key held down.
MOST_DIGITS = 6
ASK = {
    "reason": "Write the reason.",
    "verdict": "Pick a verdict.",
    "how": "Pick what became of it.",
    "word": "Pick what was seen.",
    "act": "Pick what was done.",
    "call": "Pick WITHIN or OUT.",
    "place": "Name the hole.",
    "text": "Write the note.",
    "against": "Write by which list, and of what day it is.",
    "document": "Write by which document: its name and revision.",
    "revision": "Write the number and revision you read.",
    "outcome": "Pick what is decided.",
    "item": "Write the serial of its replacement.",
    "on": "Write the day, as in 2026-10-30.",
    "pin": "Type your PIN.",
}


@require_safe
@login_required
def home(request: HttpRequest) -> HttpResponse:
    """The board of the only job, or the list of jobs."""
    member = members.member_of(request.user)
    key = member.key if member is not None else ""
    here = queries.jobs(person=key) if key else []
    away = queries.jobs(person=key, put_away=True) if key else []
    if len(here) == 1 and not away and "list" not in request.GET:
        return redirect("web:board", slug=here[0].slug)
    shop = queries.shop_for(key) if key else None
    # Of a shop with work on its board: who is in none of its jobs is not asked for an engine.
    has_work = any(not queries.is_demo(one) for one in queries.jobs())
    if shop is not None and not here and not away and not has_work:
        return redirect("web:new_job")
    rows: list[dict[str, Any]] = []
    for job in here:
        try:
            judged = queries.judged(job)
        except BadInput as refusal:
            # Its sheets cannot be read at all: the other jobs stand.
            rows.append({"job": job, "sentence": refusal.sentence})
            continue
        rows.append(
            {
                "job": job,
                "engine": _engine_words(judged.facts.engine),
                "blockers": len(judged.blockers),
                "counts": _counts([one.verdict for one in judged.items if one.kind == "plug"]),
            }
        )
    kept = []
    for job in away:
        try:
            named = queries.facts(job).people
        except BadInput:
            # LOOK says why.
            named = {}
        kept.append({"job": job, "may_write": can_write(named.get(key))})
    said = request.session.pop("said", None)
    shown = {
        "rows": rows,
        "away": kept,
        "said": said,
        "shop": shop,
        "demo": "" if shop is None else _demo(),
        "has_work": has_work,
        **_backup(key),
        "to_shop": queries.shop() is None
        and any(not queries.is_demo(one) for one in queries.kept_by(key)),
    }
    return render(request, "board/home.html", shown)


def _backup(key: str) -> dict[str, Any]:
    """How the shop's books are kept safe, for somebody of the shop."""
    shop = queries.shop_for(key) if key else None
    found = None if shop is None else standing(timezone.now())
    if shop is None or found is None:
        return {}
    facts = queries.facts(shop)
    return {
        "backup": standing_words(found),
        "backup_late": found.is_late,
        "backup_page": key in [one.key for one in shopkeepers(facts)],
    }


def _demo() -> str:
    """Where the demo is: here, put away, or never brought in."""
    if not any(queries.is_demo(one) for one in queries.jobs(put_away=None)):
        return "none"
    return "away" if queries.is_demo_away() else "here"


def _engine_words(engine: Any) -> str:
    parts = [str(engine.get("engine", "")), str(engine.get("serial", ""))]
    airframe = str(engine.get("registration", "") or "")
    return " ".join(p for p in parts if p) + (f", off {airframe}" if airframe else "")


def _counts(verdicts: list[str]) -> list[tuple[str, str, int]]:
    return [
        (word, status_name(word), verdicts.count(word))
        for word in ("KEEP", "REWORK", "NOT YET", "REJECT")
        if word in verdicts
    ]


@require_safe
@job_page
def board(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Where I left off, what I can do now, what waits, what to take."""
    row = board_rows.board(outlook.with_owed(desk.job, desk.key), person=desk.key)
    carry = reverse("web:tray", args=[desk.job.slug])
    if row.spot is not None:
        carry += "?" + urlencode({"check": row.spot.check, "hole": row.spot.hole})
    return page(
        request,
        desk,
        "board/board",
        current="board",
        board=row,
        carry=carry,
        serial=desk.judged.facts.engine.get("serial", desk.job.slug),
        day=desk.today().isoformat(),
        certificates=certificate_rows(desk.judged, desk.today()),
        from_shop=len(things_offered(desk.job)),
        **_backup(desk.key),
        several=len(queries.jobs(person=desk.key, put_away=None)) > 1,
    )


@sensitive_post_parameters("pin")
@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def put_away(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Take a job off the board, after asking once; its book stays."""
    if request.method == "POST":
        reason = request.POST.get("reason", "").strip()
        onto, typed = reverse("web:put_away", args=[desk.job.slug]), {"reason": reason}
        try:
            if not reason:
                raise BadInput(ASK["reason"], "reason")
            entry = new_entry(
                "put_away",
                at=desk.now(),
                by=desk.key,
                id=entry_id(request, "put_away", reason),
                reason=reason,
            )
            asked = keep(request, desk, [entry])
        except Refused as refusal:
            return send_back(request, onto, "put-away", refusal, typed, beside="reason")
        if asked is not None:
            return asked
        request.session["said"] = {
            "sentence": f"{desk.job.title or desk.job.slug} is off the board. Its book stays.",
            "undo": "",
        }
        return SeeOther(reverse("web:home") + "?list")
    return page(request, desk, "board/put_away", current="board")


@sensitive_post_parameters("pin")
@require_POST
@job_page
@writes
def bring_back(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Put a job on the board again."""
    entry = new_entry(
        "brought_back", at=desk.now(), by=desk.key, reason="brought back from the list of jobs"
    )
    if desk.judged.state.put_away:
        try:
            asked = keep(request, desk, [entry])
        except Refused as refusal:
            return refused(request, refusal, 403, desk)
        if asked is not None:
            return asked
    return SeeOther(reverse("web:board", args=[desk.job.slug]))


@sensitive_post_parameters("pin")
@require_POST
@job_page
@writes
def act(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Write one entry from a form, then go back to the page, which says so and offers UNDO."""
    kind = request.POST.get("kind", "")
    form = request.POST.get("form", kind)
    onto = onward(request, desk)
    if kind not in ACTS:
        raise BadInput(f'"{escape(kind)}" is not an act of the bench.')
    try:
        fields = _fields(request, desk, kind)
        entry = new_entry(
            kind,
            at=desk.now(),
            by=desk.key,
            id=entry_id(request, kind, canonical(fields)),
            **fields,
        )
        asked = keep(request, desk, [entry, *_promise(request, desk, entry)])
        if asked is not None:
            return asked
    except Refused as reason:
        kept_back = ("csrfmiddlewaretoken", "pin")
        typed = {k: str(v) for k, v in request.POST.items() if k not in kept_back}
        names = {*ASK, *typed}
        # The day of a promise that stands beside what is written.
        beside = "again_on" if reason.where == "on" and "again_on" in typed else ""
        names -= {"on"} if beside else set()
        return send_back(request, onto, form, reason, typed, fields=names, beside=beside)
    if kind not in QUIET:
        say(request, desk, entry)
    return SeeOther(onto)


def _promise(request: HttpRequest, desk: Desk, entry: Entry) -> list[Entry]:
    """The promise to look again that stands beside what is closed or decided; none where none is made."""
    more = request.POST.get("again_hours", "").strip()
    on = request.POST.get("again_on", "").strip()
    if not is_a(entry, Closed, CallMade, Disagreed) or not (more or on):
        return []
    state = desk.judged.state
    item, what = entry.item, "looked at again"
    closed = entry.fields.finding if is_a(entry, Closed) else ""
    if closed and not closed.startswith(WORKED_OUT_NAMES):
        finding = state.finding(closed)
        item, what = finding.item, f"looked at again for: {lower_first(finding.label)}"
    elif closed.startswith(SAYS):
        item = closed.removeprefix(SAYS).partition(":")[2]
    elif closed.startswith(MONITOR):
        item = f"cylinder:{closed.rpartition(':')[2]}"
    elif closed.startswith(OIL_RISE):
        item = state.entry(closed.removeprefix(OIL_RISE)).item
    elif closed:
        item = closed.removeprefix(FLAG)
    elif is_a(entry, CallMade):
        item = state.entry(entry.fields.entry).item
    now = hours_of(desk.judged.facts, state).on("since_overhaul")
    hours = _typed(more, "number", "again_hours") if more else None
    if hours is not None and now is None:
        raise BadInput("The engine's hours are not on file. Write a day to look again on.")
    return [
        new_entry(
            "promised",
            at=entry.at,
            by=entry.by,
            id=entry_id(request, "promised", entry.id),
            item=item,
            what=f"{upper_first(item_label(desk.judged.facts, item))} {what}",
            hours=None if hours is None or now is None else round(now + hours, 1),
            on=on,
            finding=closed,
            reason=entry.fields.reason,
        )
    ]


def _fields(request: HttpRequest, desk: Desk, kind: str) -> dict[str, Any]:
    """The fields of a kind out of a form, each as the type the book keeps."""
    must, may = KINDS[kind]
    found: dict[str, Any] = {}
    picked = ""
    for name, wanted in {**must, **may}.items():
        text = request.POST.get(name, "").strip()
        if name == "item" and kind == "replaced":
            serial = request.POST.get("serial", "").strip()
            text = f"{request.POST.get('stem', 'plug:')}{serial}" if serial else ""
        if name == "word":
            # A word whose severity is the person's to pick comes as "soot:2".
            text, _, picked = text.partition(":")
        if name == "severity":
            text = picked
        if name == "item" and kind == "assigned":
            # The new one for a reject comes as "plug:K0412|new".
            text, _, picked = text.partition("|")
        if name == "new" and kind == "assigned":
            text = "yes" if picked == "new" else ""
        if not text:
            # The slot of a replacement is worked out below, from the one it stands in for.
            if name in must and not (name == "place" and kind == "replaced"):
                raise BadInput(ASK.get(name, f"Fill in {name.replace('_', ' ')}."), name)
            continue
        found[name] = _typed(text, wanted, name)
    item = desk.judged.state.items.get(str(found.get("item", "")))
    if item is not None and item.place and "place" in {**must, **may} and kind != "moved":
        found.setdefault("place", item.place)
    if kind == "replaced":
        old = desk.judged.item(f"{item_kind(found['item'])}:{found['for']}")
        found.setdefault("place", old.goes_to or old.place)
    return found


def _typed(text: str, wanted: str, name: str) -> Any:
    match wanted:
        case "whole":
            if not text.isascii() or not text.isdigit():
                raise BadInput(f'"{text}" is not a whole number. Write digits.', name)
            if len(text) > MOST_DIGITS:
                raise BadInput(
                    f"A number of {len(text)} digits is more than anyone counts here. Write "
                    f"{MOST_DIGITS} digits at most.",
                    name,
                )
            return int(text)
        case "number":
            try:
                return float(text)
            except ValueError:
                raise BadInput(f'"{text}" is not a number. Write digits.', name) from None
        case "yes or no":
            return text in ("yes", "on", "true")
    return text


@require_POST
@job_page
def work_under(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Say under whom one works on this visit; each line then carries it."""
    wanted = request.POST.get("under", "")
    allowed = supervisors(desk.judged, desk.key, desk.today())
    if wanted and wanted not in [key for key, _ in allowed]:
        raise BadInput(f'"{escape(wanted)}" does not supervise work in this job.')
    request.session["under"] = wanted
    return SeeOther(onward(request, desk))
