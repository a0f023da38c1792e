"""Photos of a job: adding one, and handing them out to the people of the job."""

from __future__ import annotations

import hashlib

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from rehang.book import queries, services
from rehang.decode import pdfs
from rehang.decode.pictures import check_weight, smaller
from rehang.trade.known.photos import is_pdf_name, of_a_paper
from rehang.trade.terms.errors import BadInput, Refused
from rehang.web.shared.desk import Desk, SeeOther, entry_id, job_page, page, say, send_back, writes
from rehang.web.shared.desk import onward as onward_to
from rehang.web.shared.photo_rows import SMALL_SIDE, photo_rows

# The name of a photo is its sum: what is behind it never changes. Only for whoever asked.
CACHE = "private, max-age=31536000, immutable"
# A PDF is a stranger's, as it came: it is saved, and where a browser shows it all the same, it is of
# no origin and loads and runs nothing.
NOTHING_RUNS = "sandbox; default-src 'none'"


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def photos(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Every photo of the job; a post adds one and goes back to the page it came from."""
    if request.method == "GET":
        return page(
            request, desk, "files/photos", current="book", photos=photo_rows(desk.judged), item=""
        )
    onto = _back(request, desk)
    item, entry = request.POST.get("item", ""), request.POST.get("entry", "")
    scale_note = request.POST.get("scale_note", "")
    try:
        data, file_name = _sent(request, of_a_paper(item) and not entry)
        parts = ("pictured", item, entry, hashlib.sha256(data).hexdigest())
        own_id = entry_id(request, *parts)
        if not desk.has(own_id):
            services.add_photo(
                job=desk.job,
                data=data,
                item=item,
                entry=entry,
                scale_note=scale_note,
                entry_id=own_id,
                file_name=file_name,
                by=desk.key,
                at=desk.now(),
            )
    except Refused as reason:
        form, typed = f"photo-{entry or item or 'job'}", {"scale_note": scale_note}
        return send_back(request, onto, form, reason, typed, fields=typed, beside="photo")
    say(request, desk, queries.judged(desk.job).state.entries[own_id])
    return SeeOther(onto)


@require_safe
@job_page
def photo(request: HttpRequest, desk: Desk, name: str) -> HttpResponse:
    """One photo or PDF of the job as it was kept; of a photo with ``?small`` the thumbnail."""
    data = queries.photo(desk.job, name)
    saved_as = f'filename="{desk.job.slug}-{name[:12]}{name[-4:]}"'
    if is_pdf_name(name):
        answer = HttpResponse(data, content_type="application/pdf")
        answer["Content-Disposition"] = f"attachment; {saved_as}"
        answer["Content-Security-Policy"] = NOTHING_RUNS
    else:
        shown = smaller(data, SMALL_SIDE) if "small" in request.GET else data
        answer = HttpResponse(shown, content_type="image/jpeg")
        answer["Content-Disposition"] = f"inline; {saved_as}"
    answer["Cache-Control"] = CACHE
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


def _back(request: HttpRequest, desk: Desk) -> str:
    """Where the form stood; else the page of all photos."""
    onto = onward_to(request, desk)
    board = reverse("web:board", args=[desk.job.slug])
    return onto if onto != board else reverse("web:photos", args=[desk.job.slug])


def _sent(request: HttpRequest, may_be_pdf: bool) -> tuple[bytes, str]:
    """The photo or PDF out of the camera's field or the file's, and what the file was called."""
    sent = request.FILES.get("photo") or request.FILES.get("file")
    if sent is None:
        raise BadInput(
            "Take a photo, or pick one or a PDF first."
            if may_be_pdf
            else "Take a photo or pick one first.",
            "photo",
        )
    name: str = sent.name or ""
    if may_be_pdf and name.lower().endswith(".pdf"):
        pdfs.check_weight(sent.size or 0)
    else:
        check_weight(sent.size or 0)
    data: bytes = sent.read()
    return data, name
