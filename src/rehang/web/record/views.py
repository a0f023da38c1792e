"""The records: a draft to read and mend, its signature, what was signed, and what comes due."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from rehang.book import outlook, pins, queries, services
from rehang.paper.calendar import due_ics
from rehang.paper.records import STICKER, due_pdf, record_pdf, signed_pdf
from rehang.trade.gate.powers import check_says_enough, holders, need_for, papers_for
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.drafts import APPROVES, LEFT_OUT, Draft, check_what, own_of
from rehang.trade.papers.no_age_rule import without_age_rule
from rehang.trade.papers.signing import Signed, sha256_of
from rehang.trade.telling.entry_sheet import has_short_form
from rehang.trade.telling.entry_tables import draft_as_signed
from rehang.trade.telling.entry_text import draft_of
from rehang.trade.terms.entries import is_a, new_entry
from rehang.trade.terms.errors import BadInput, NotAllowed, Refused
from rehang.trade.terms.kinds.papers import Drafted
from rehang.web.record import rows as record_rows
from rehang.web.record.pairs import PhotoPair, photo_pairs
from rehang.web.shared.access import pin_box, settled_by
from rehang.web.shared.desk import (
    Desk,
    SeeOther,
    entry_id,
    job_page,
    keep,
    page,
    say,
    send_back,
    writes,
)
from rehang.web.shared.paper import paper_size, pdf_answer

READ_OTHERWISE = (
    "The record reads otherwise now than when you opened it. Read it again, then sign that."
)
# Short names, for the head of a phone.
PLACES = {
    "maintenance": "Maintenance",
    "inspection": "Inspection",
    "discrepancies": "For the owner",
}
FIELDS = ("pin",)


@require_safe
@job_page
def records(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The three records of the job, how each stands, and what has been signed."""
    return page(
        request,
        desk,
        "record/records",
        current="paper",
        rows=record_rows.record_rows(desk.judged),
        signatures=record_rows.signed_rows(desk.judged),
        blockers=len(desk.judged.blockers),
        grounded=record_rows.grounded_rows(desk.job.slug, desk.judged),
        asked=record_rows.asked_rows(desk.job.slug, desk.judged),
    )


@require_safe
@job_page
def record(request: HttpRequest, desk: Desk, what: str) -> HttpResponse:
    """A draft: every sentence with what it was drawn from, every field or a ruled blank."""
    draft = draft_of(desk.judged, check_what(what))
    ones = [one for one in desk.judged.signed if one.what == what]
    return page(
        request,
        desk,
        "record/record",
        current="paper",
        what=what,
        has_sticker=has_short_form(draft),
        place=PLACES[what],
        draft=draft,
        blocks=record_rows.block_rows(
            draft, str((request.session.get("held") or {}).get("form", ""))
        ),
        fields=record_rows.field_rows(draft, list(own_of(desk.judged.state, what))),
        signature=record_rows.signed_row(ones[-1], desk.judged) if ones else None,
        blockers=len(desk.judged.against(what)) if what in APPROVES else 0,
        grounded=record_rows.grounded_rows(desk.job.slug, desk.judged)
        if what != "discrepancies"
        else (),
        asked=record_rows.asked_rows(desk.job.slug, desk.judged),
        pairs=_pairs(desk),
        next_added=_next_added(desk, what),
        owner=desk.judged.facts.engine.get("owner", ""),
        today=desk.today().isoformat(),
    )


def _pairs(desk: Desk) -> list[PhotoPair]:
    def books_with(item: str) -> list[JudgedJob]:
        return [one for _, one in outlook.books_with(desk.job, item, person=desk.key)]

    return photo_pairs(desk.judged, books_with)


def _next_added(desk: Desk, what: str) -> str:
    """The name of a sentence that is yet to be added."""
    taken = {
        entry.fields.what.partition(":")[2]
        for entry in desk.judged.state.order
        if is_a(entry, Drafted) and entry.fields.what.startswith(f"{what}:more-")
    }
    return f"more-{len(taken) + 1}"


@require_POST
@job_page
@writes
def write(request: HttpRequest, desk: Desk, what: str) -> HttpResponse:
    """Write one sentence or field anew, leave it out, or go back to what the book gives."""
    check_what(what)
    name = request.POST.get("line", "")
    onto = f"{reverse('web:record', args=[desk.job.slug, what])}#l-{name}"
    text = " ".join(request.POST.get("text", "").split())
    act = request.POST.get("act", "write")
    reason = " ".join(request.POST.get("reason", "").split()) if act == "leave out" else ""
    try:
        if act == "as drawn":
            _strike_own(request, desk, what, name)
            return SeeOther(onto)
        entry = new_entry(
            "drafted",
            at=desk.now(),
            by=desk.key,
            id=entry_id(request, "drafted", what, name, act, text, reason),
            what=f"{what}:{name}",
            text=LEFT_OUT if act == "leave out" else _not_empty(text),
            **({"reason": reason} if reason else {}),
        )
        if act == "leave out":
            # Before the PIN is asked for.
            check_says_enough(reason)
        asked = keep(request, desk, [entry])
        if asked is not None:
            return asked
    except Refused as refusal:
        typed = {"text": text, "reason": request.POST.get("reason", "")}
        return send_back(request, onto, name, refusal, typed, fields=typed, beside="text")
    say(request, desk, entry)
    return SeeOther(onto)


def _not_empty(text: str) -> str:
    if not text:
        raise BadInput("Write the sentence, or leave it out.", "text")
    return text


def _strike_own(request: HttpRequest, desk: Desk, what: str, name: str) -> None:
    """Strike everything that people wrote in place of one drawn sentence."""
    state = desk.judged.state
    now = desk.now()
    entries = [
        new_entry(
            "struck",
            at=now,
            by=desk.key,
            id=entry_id(request, "struck", one.id),
            entry=one.id,
            reason="back to what the book gives",
        )
        for one in state.live()
        if is_a(one, Drafted) and one.fields.what == f"{what}:{name}"
    ]
    if entries:
        desk.write(entries)


@sensitive_post_parameters("pin")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def sign(request: HttpRequest, desk: Desk, what: str) -> HttpResponse:
    """The whole text to be read, and the signature that asks for the signer's own PIN."""
    draft = draft_of(desk.judged, check_what(what))
    refusal: BadInput | NotAllowed | None = None
    if request.method == "POST":
        new_id = entry_id(request, "signed", what)
        try:
            if not desk.has(new_id):
                _keep_signature(request, desk, draft, new_id)
            return SeeOther(reverse("web:signed", args=[desk.job.slug, new_id]))
        except (BadInput, NotAllowed) as reason:
            refusal = reason
            # The book may have moved on meanwhile: what is shown is what it says now.
            desk = Desk(
                queries.job(desk.job.slug),
                queries.judged(queries.job(desk.job.slug)),
                desk.person,
                desk.why_not,
            )
            draft = draft_of(desk.judged, what)
    where = refusal.where if refusal is not None and refusal.where in FIELDS else ""
    return page(
        request,
        desk,
        "record/sign",
        status=422 if refusal is not None else 200,
        current="paper",
        what=what,
        draft=draft,
        blocks=record_rows.block_rows(draft),
        fields=record_rows.field_rows(draft, ()),
        lines=draft.text.split("\n"),
        text_words=len(draft.text.split()),
        text_sum=sha256_of(draft.text),
        chain_head=desk.job.head_hash,
        reasons=record_rows.first_reasons(desk.job.slug, desk.judged.against(what), desk.judged),
        number=len(desk.judged.against(what)),
        unairworthy=_is_unairworthy(desk, what),
        may_sign=_may_sign(desk, draft),
        papers=_papers(desk, what),
        box=pin_box(desk.judged, desk.key, need_for("signed", what), desk.today(), "sign"),
        sentence=refusal.sentence if refusal is not None else "",
        field=where,
        picked=request.POST.get("certificate", ""),
    )


def _is_unairworthy(desk: Desk, what: str) -> bool:
    return what == "inspection" and bool(desk.judged.against(what))


def _may_sign(desk: Desk, draft: Draft) -> str:
    """Why nobody may sign this now, or nothing."""
    same = [one for one in desk.judged.signed if one.what == draft.what and one.stands]
    number = len(desk.judged.blockers)
    if same:
        return f"It was signed by {same[-1].name}, and nothing has changed since."
    if draft.what == "maintenance" and number:
        return (
            f"{number} {'reason stands' if number == 1 else 'reasons stand'} against returning it "
            "to service."
        )
    if draft.what == "discrepancies" and not draft.lines:
        return "Nothing is on the list, so there is nothing to sign."
    if draft.blank:
        names = ", ".join(one.label.lower() for one in draft.blank)
        return f"Still empty: {names}. {draft.blank[0].rule} asks for it."
    return ""


def _keep_signature(request: HttpRequest, desk: Desk, draft: Draft, new_id: str) -> None:
    head = request.POST.get("head", "")
    moved_on = head != desk.job.head_hash
    if not moved_on and request.POST.get("sum") != sha256_of(draft.text):
        # Overdue days are counted to today: after midnight the text is another.
        raise NotAllowed(READ_OTHERWISE)
    who = settled_by(request, desk.key)
    services.sign(
        job=desk.job,
        what=draft.what,
        text=draft.text,
        certificate=request.POST.get("certificate", ""),
        head=head,
        statement="unairworthy" if _is_unairworthy(desk, draft.what) else "",
        entry_id=new_id,
        by=who,
        at=timezone.now(),
        confirmed=who,
        typed="PIN" if pins.is_a_pin(request.POST.get("pin", "")) else "password",
    )


def _papers(desk: Desk, what: str) -> list[tuple[str, str]]:
    """Number and words of every paper that signs this record today, with whose it is."""
    power = need_for("signed", what).power
    facts, day = desk.judged.facts, desk.today()
    return [
        (paper.number, f"{one.name}: {paper.words}, {paper.authority}".rstrip(", "))
        for one in holders(power, day, facts)
        for paper in papers_for(one, power, day, facts)
    ]


def _signed(desk: Desk, entry_id: str) -> Signed:
    for one in desk.judged.signed:
        if one.entry.id == entry_id:
            return one
    raise BadInput("There is no such signed record in this job.")


@require_safe
@job_page
def signed(request: HttpRequest, desk: Desk, entry_id: str) -> HttpResponse:
    """What was signed, word for word, and what came after."""
    one = _signed(desk, entry_id)
    draft = draft_as_signed(desk.judged, one)
    owed = any(b.about == "record:discrepancies" for b in desk.judged.blockers)
    return page(
        request,
        desk,
        "record/signed",
        current="paper",
        row=record_rows.signed_row(one, desk.judged),
        blocks=record_rows.block_rows(draft) if draft is not None else [],
        pairs=_pairs(desk),
        has_sticker=has_short_form(draft),
        owed=owed and one.what == "discrepancies",
        owner=desk.judged.facts.engine.get("owner", ""),
        today=desk.today().isoformat(),
    )


@require_safe
@job_page
def draft_pdf(request: HttpRequest, desk: Desk, what: str) -> HttpResponse:
    made = record_pdf(
        desk.judged, check_what(what), size=paper_size(request, STICKER), printed_at=desk.now()
    )
    return pdf_answer(made, _name(desk, f"{what}-draft", "pdf"))


@require_safe
@job_page
def signed_record_pdf(request: HttpRequest, desk: Desk, entry_id: str) -> HttpResponse:
    one = _signed(desk, entry_id)
    size = paper_size(request, STICKER)
    made = signed_pdf(desk.judged, one, size=size, printed_at=desk.now())
    return pdf_answer(made, _name(desk, f"{one.what}-signed", "pdf"))


def _name(desk: Desk, what: str, form: str) -> str:
    return f"{desk.job.slug}-{what}-{desk.today().isoformat()}.{form}"


@require_safe
@job_page
def due(request: HttpRequest, desk: Desk) -> HttpResponse:
    """What recurs: by hours, by date, which governs, and writing it down as done."""
    return page(
        request,
        desk,
        "record/due",
        current="paper",
        rows=record_rows.due_rows(outlook.with_owed(desk.job, desk.key)),
        today=desk.today().isoformat(),
        rate=desk.judged.facts.engine.get("flying_hours_per_year"),
        research=record_rows.research_row(desk.judged),
        no_rule=without_age_rule(desk.judged.facts, desk.judged.state),
    )


@require_safe
@job_page
def due_calendar(request: HttpRequest, desk: Desk) -> HttpResponse:
    answer = HttpResponse(
        due_ics(outlook.with_owed(desk.job, desk.key), timezone.now()),
        content_type="text/calendar; charset=utf-8",
    )
    answer["Content-Disposition"] = f'attachment; filename="{_name(desk, "next-due", "ics")}"'
    return answer


@require_safe
@job_page
def due_sheet_pdf(request: HttpRequest, desk: Desk) -> HttpResponse:
    judged = outlook.with_owed(desk.job, desk.key)
    made = due_pdf(judged, size=paper_size(request), printed_at=desk.now())
    return pdf_answer(made, _name(desk, "next-due", "pdf"))


@require_safe
@job_page
def blockers(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Every reason the engine may not be returned to service, with the way out."""
    groups = record_rows.blocker_groups(desk.job.slug, desk.judged)
    return page(
        request,
        desk,
        "record/blockers",
        current="board",
        groups=groups,
        number=len(desk.judged.blockers),
        grounded=record_rows.grounded_rows(desk.job.slug, desk.judged),
        asked=record_rows.asked_rows(desk.job.slug, desk.judged),
    )
