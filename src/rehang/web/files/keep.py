"""Tags and labels on paper, a label read back from a photo, and the job as one kept folder."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from rehang.book import members, queries
from rehang.paper.archive import archive_files, as_zip
from rehang.paper.prints import prints_of
from rehang.paper.tags import labels_pdf, tags_pdf
from rehang.trade.known.state import item_kind, item_name
from rehang.trade.telling.tags import tags_of
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.labels import read_label
from rehang.web.shared.codes import code_in
from rehang.web.shared.desk import Desk, job_page
from rehang.web.shared.paper import paper_size, pdf_answer
from rehang.web.work import fit_rows


def _asked(request: HttpRequest, desk: Desk) -> list[str]:
    """The items in the address, or every plug of the job."""
    return request.GET.getlist("item") or [
        one.item for one in desk.judged.items if one.kind == "plug"
    ]


@require_safe
@job_page
def tags(request: HttpRequest, desk: Desk) -> HttpResponse:
    """A parts tag for each item named, or for every plug."""
    made = tags_pdf(
        tags_of(desk.judged, _asked(request, desk), desk.today()),
        made_out_by=desk.person.name,
        size=paper_size(request),
        printed_at=desk.now(),
    )
    return pdf_answer(made, f"{desk.job.slug}-tags-{desk.today().isoformat()}.pdf")


@require_safe
@job_page
def labels(request: HttpRequest, desk: Desk) -> HttpResponse:
    """A small label with its code for each item named, or for every plug."""
    made = labels_pdf(
        tags_of(desk.judged, _asked(request, desk), desk.today()),
        size=paper_size(request),
        printed_at=desk.now(),
    )
    return pdf_answer(made, f"{desk.job.slug}-labels-{desk.today().isoformat()}.pdf")


@require_safe
@job_page
def archive(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The whole job as one file: a folder that opens without this program."""
    files, book = queries.as_folder(desk.job)
    photos = queries.photos(desk.job)
    made = archive_files(
        desk.judged,
        files=files,
        book=book,
        photos=photos,
        prints=prints_of(desk.judged, desk.now(), photos, size=paper_size(request)),
        written_at=desk.now(),
    )
    name = f"{desk.job.slug}-{desk.today().isoformat()}"
    answer = HttpResponse(as_zip(made, name), content_type="application/zip")
    answer["Content-Disposition"] = f'attachment; filename="{name}.zip"'
    return answer


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def label(request: HttpRequest) -> HttpResponse:
    """Lead to the part whose label is in a photo or whose serial was typed: to put it in, or to its story."""
    if request.method == "GET":
        return _page(request, "", 200)
    typed = request.POST.get("code", "").strip()
    try:
        text = _text_of(request)
        member = members.member_of(request.user)
        key = member.key if member is not None else ""
        if text == typed and ":" not in text:
            slug, item = _by_serial(text, key)
        else:
            slug, item = read_label(text)
            queries.judged(queries.job_for(slug, key)).item(item)
    except BadInput as reason:
        sentence = reason.sentence
        if 'There is no job "' in sentence:
            sentence = (
                f"The label is whole, but its job, {slug}, is not on your board. It may be another "
                "shop's part: find out where it came from before it goes on."
            )
        return _page(request, sentence, 422)
    where = [slug, item_kind(item), item_name(item)]
    # Whoever scans a part that may go in holds it in the hand.
    judged = queries.judged(queries.job(slug))
    fit = fit_rows.fit_of_item(item, judged)
    is_good = judged.item(item).verdict == "KEEP"
    if is_good and fit is not None and fit.offers == item and not (fit.now or fit.stop):
        return redirect(f"{reverse('web:item_write', args=where)}#h-fit")
    return redirect(reverse("web:story", args=where))


def _by_serial(serial: str, key: str) -> tuple[str, str]:
    """The newest job on the person's board that holds a part of that serial, and the part."""
    for job in queries.readable(queries.jobs(person=key)):
        for one in queries.judged(job).items:
            if one.name.casefold() == serial.casefold():
                return job.slug, one.item
    raise BadInput(
        f'"{serial[:40]}" is not a label of this bench book, and no part on your board has it for a '
        "serial. Key what stands beside the small square code."
    )


def _text_of(request: HttpRequest) -> str:
    typed = request.POST.get("code", "").strip()
    if typed:
        return typed
    for field in ("photo", "file"):
        given = request.FILES.get(field)
        if given is not None:
            return code_in(given)
    raise BadInput("Take a photo of the label, or key the serial that is printed beside its code.")


def _page(request: HttpRequest, sentence: str, status: int) -> HttpResponse:
    typed = request.POST.get("code", "")
    return render(
        request, "files/label.html", {"sentence": sentence, "typed": typed}, status=status
    )
