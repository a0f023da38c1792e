"""The JSON API: append entries to a book, read them, and read the verdicts."""

from __future__ import annotations

import json
import logging
from dataclasses import replace
from datetime import datetime
from typing import Annotated, Any

from django.contrib.auth.decorators import login_required
from django.core.exceptions import RequestDataTooBig
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe
from ninja import Field, NinjaAPI, Schema
from ninja.errors import AuthenticationError, HttpError, ValidationError
from ninja.params.functions import Path, Query
from ninja.parser import Parser
from ninja.security import SessionAuth

from rehang import __version__
from rehang.book import members, models, queries, services
from rehang.book.outage import outage
from rehang.book.tries import TooManyTries
from rehang.trade.doors.asjson import job_as_json
from rehang.trade.terms.entries import Entry, entry_from, read_json
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.web.shared.access import check_own_secret

__all__ = ["BROKEN", "STALE_PAGE", "TOO_LONG", "api", "api_page"]

log = logging.getLogger("rehang.api")

STALE_PAGE = (
    "This page was loaded too long ago, or by someone else. "
    "Go back, load it again and send it once more."
)
BROKEN = "Rehang broke here, and wrote down where. What you keyed is still on this device."
TOO_LONG = "More came at once than is taken in one go (2.6 MB), and nothing of it was kept. Send it in parts."
PAGE = 500


class _Strict(Parser):
    """Reads a body as a line of a book is read: a key that stands twice is refused."""

    def parse_body(self, request: HttpRequest) -> dict[str, Any]:
        json.loads(request.body)
        body: dict[str, Any] = read_json(request.body)
        return body


api = NinjaAPI(
    parser=_Strict(),
    title="Rehang",
    version=__version__,
    description="Append entries to the book of a job, read them back, and read the verdicts.",
    docs_url=None,
    docs_decorator=login_required,
    openapi_url="openapi.json",
    auth=SessionAuth(),
    urls_namespace="api",
)


class EntriesIn(Schema):
    """What a phone's out-tray sends."""

    entries: list[dict[str, Any]] = Field(
        description="Entries as in book.jsonl, without a seal: id, kind, at, and the fields of the "
        "kind. The person (by) is the one signed in and may be left out.",
        min_length=1,
        max_length=services.MOST_AT_ONCE,
    )
    pin: str = Field(
        default="",
        description="The PIN or password of the person signed in. What settles something (a call, a "
        "closing, a second look ...) is refused without it.",
    )


class Kept(Schema):
    """The place of a kept entry in the chain."""

    id: str
    seq: int
    hash: str
    kept: datetime


class EntriesKept(Schema):
    """What was kept now, and the ids that stood in the book already."""

    kept: list[Kept]
    repeated: list[str]


class EntriesOut(Schema):
    """Entries in the order of the book; more says that there are others after these."""

    entries: list[dict[str, Any]]
    head_seq: int
    head_hash: str
    more: bool


class Sentence(Schema):
    """Why not, in one sentence, and the field it is about."""

    sentence: str
    field: str = ""


Slug = Annotated[str, Path(description="Name of the job, as in the address of its board.")]
REFUSALS = {400: Sentence, 401: Sentence, 403: Sentence, 404: Sentence}


def _job(request: HttpRequest, slug: str) -> tuple[models.Job, models.Member]:
    member = members.member_of(request.user)
    if member is None:
        raise HttpError(403, "You are signed in and are nobody in this shop's list of people.")
    try:
        return queries.job_for(slug, member.key), member
    except BadInput as refusal:
        raise HttpError(404, refusal.sentence) from None


@api.post(
    "/jobs/{slug}/entries",
    response={200: EntriesKept, 409: Sentence, 413: Sentence, 422: Sentence, **REFUSALS},
    summary="Append entries to the book",
    operation_id="append_entries",
)
def append_entries(request: HttpRequest, slug: Slug, body: EntriesIn) -> dict[str, Any]:
    """All of them are kept, on the disk before this answers, or none of them.

    Sending the same entry again is harmless: its id comes back as repeated.
    409: a rule forbids it, or the id stands in the book with other content. 422: something
    cannot be read.
    """
    job, member = _job(request, slug)
    entries = [
        _entry(raw, member.key, f"entries[{number}]") for number, raw in enumerate(body.entries)
    ]
    confirmed = ""
    if body.pin:
        try:
            check_own_secret(request, member, body.pin, "pin")
        except BadInput as refusal:
            raise NotAllowed(refusal.sentence) from None
        confirmed = member.key
    done = services.append(
        job=job, entries=entries, by=member.key, at=timezone.now(), confirmed=confirmed
    )
    return {
        "kept": [
            {"id": one.id, "seq": one.seq, "hash": one.hash, "kept": one.kept}
            for one in done.entries
        ],
        "repeated": list(done.repeated),
    }


def _entry(raw: dict[str, Any], by: str, where: str) -> Entry:
    if raw.get("by", by) != by:
        raise BadInput(
            f"The entry says it is by {json.dumps(raw['by'])}, and {by} is signed in. "
            "Leave it out, or sign in as that person.",
            f"{where}.by",
        )
    for name in ("seq", "kept", "prev", "hash"):
        if name in raw:
            raise BadInput(f'The book puts the seal on. Leave "{name}" out.', f"{where}.{name}")
    return entry_from(raw | {"by": by}, where)


@api.get(
    "/jobs/{slug}/entries",
    response={200: EntriesOut, 422: Sentence, **REFUSALS},
    summary="Read entries of the book",
    operation_id="read_entries",
)
def read_entries(
    request: HttpRequest,
    slug: Slug,
    after: Annotated[int, Query(ge=0, description="Entries up to this place are left out.")] = 0,
) -> dict[str, Any]:
    """Entries with their seals, in the order of the book, at most 500 at a time."""
    job, _ = _job(request, slug)
    # Past the end there is nothing; a number that no slice takes is past the end.
    found = queries.entries(job, after=min(after, job.head_seq)) if after < job.head_seq else ()
    return {
        "entries": [_line_of(entry) for entry in found[:PAGE]],
        "head_seq": job.head_seq,
        "head_hash": job.head_hash,
        "more": len(found) > PAGE,
    }


def _line_of(entry: Entry) -> dict[str, Any]:
    """The line of an entry; of one that cannot be shown, why and where it stands."""
    line: dict[str, Any] = json.loads(replace(entry, original=None).line())
    return line


@api.get(
    "/jobs/{slug}/verdicts",
    response={200: dict[str, Any], 409: Sentence, 422: Sentence, **REFUSALS},
    summary="Read the verdicts",
    operation_id="read_verdicts",
)
def read_verdicts(
    request: HttpRequest,
    slug: Slug,
    now: Annotated[
        datetime | None,
        Query(description="Judge the book as it stood then (date, time and offset)."),
    ] = None,
) -> dict[str, Any]:
    """Every item with its verdict, reasons, next act and calls, and what blocks a return to service."""
    job, _ = _job(request, slug)
    if now is not None and now.tzinfo is None:
        raise BadInput("Write date, time and offset, as in 2026-10-13T09:12:00-05:00.", "now")
    return job_as_json(queries.judged(job, now))


# Refusals: one shape for all of them


def _sentence(request: HttpRequest, status: int, sentence: str, field: str = "") -> HttpResponse:
    return api.create_response(request, {"sentence": sentence, "field": field}, status=status)


@api.exception_handler(BadInput)
def _on_bad_input(request: HttpRequest, refusal: BadInput) -> HttpResponse:
    return _sentence(request, 422, refusal.sentence, refusal.where)


@api.exception_handler(NotAllowed)
def _on_not_allowed(request: HttpRequest, refusal: NotAllowed) -> HttpResponse:
    return _sentence(request, 409, str(refusal))


@api.exception_handler(TooManyTries)
def _on_too_many(request: HttpRequest, refusal: TooManyTries) -> HttpResponse:
    answer = _sentence(request, 429, str(refusal), "pin")
    answer["Retry-After"] = str(refusal.wait_s)
    return answer


@api.exception_handler(AuthenticationError)
def _on_nobody(request: HttpRequest, refusal: AuthenticationError) -> HttpResponse:
    return _sentence(request, 401, "Sign in first. What you keyed is still on this device.")


@api.exception_handler(Http404)
def _on_not_found(request: HttpRequest, refusal: Http404) -> HttpResponse:
    return _sentence(request, 404, "There is nothing at this address.")


@api.exception_handler(HttpError)
def _on_http(request: HttpRequest, refusal: HttpError) -> HttpResponse:
    sentences = {400: 'The body is not JSON. Send {"entries": [...]}.', 403: STALE_PAGE}
    own = refusal.status_code in (403, 404) and "CSRF" not in refusal.message
    if isinstance(refusal.__cause__, BadInput):
        return _sentence(request, 422, refusal.__cause__.sentence, "body")
    sentence = refusal.message if own else sentences.get(refusal.status_code, refusal.message)
    return _sentence(request, refusal.status_code, sentence)


@api.exception_handler(RequestDataTooBig)
def _on_too_much(request: HttpRequest, refusal: RequestDataTooBig) -> HttpResponse:
    return _sentence(request, 413, TOO_LONG, "body")


@api.exception_handler(ValidationError)
def _on_shape(request: HttpRequest, refusal: ValidationError) -> HttpResponse:
    """The body or a parameter does not have its shape; the first place where it does not."""
    first = refusal.errors[0]
    place = [str(part) for part in first["loc"] if part not in ("body", "query", "path")]
    field = ".".join(place) or "body"
    name = place[-1] if place else "body"
    return _sentence(request, 422, f'"{name}" is not as it must be: {first["msg"]}.', field)


@api.exception_handler(Exception)
def _on_our_own_fault(request: HttpRequest, problem: Exception) -> HttpResponse:
    """A bug, or a disk or database that fails: its traceback goes to the log, and the phone keeps what it has."""
    log.error("%s %s", request.method, request.path, exc_info=problem)
    failed = outage(problem)
    if failed:
        return _sentence(request, 503, f"{failed} What you keyed is still on this device.")
    return _sentence(request, 500, BROKEN)


# The page of the operations


@require_safe
@login_required
def api_page(request: HttpRequest) -> HttpResponse:
    """The operations of the API, written out from its own schema."""
    schema = api.get_openapi_schema()
    shapes = schema["components"]["schemas"]
    operations = [
        {
            "id": one["operationId"],
            "method": method.upper(),
            "path": path,
            "title": one["summary"],
            "text": one.get("description", "").split("\n\n"),
            "parameters": [
                {
                    "name": parameter["name"],
                    "required": parameter["required"],
                    "text": parameter.get("description")
                    or parameter["schema"].get("description", ""),
                }
                for parameter in one.get("parameters", [])
            ],
            "body": _fields_of(_content(one.get("requestBody")), shapes),
            "answer": _fields_of(_content(one["responses"][200]), shapes),
            "refusals": sorted(int(code) for code in one["responses"] if int(code) != 200),
        }
        for path, methods in schema["paths"].items()
        for method, one in methods.items()
    ]
    return render(request, "api/api.html", {"operations": operations, "version": __version__})


def _content(part: dict[str, Any] | None) -> dict[str, Any]:
    content = (part or {}).get("content", {})
    found: dict[str, Any] = content.get("application/json", {}).get("schema", {})
    return found


def _fields_of(shape: dict[str, Any], shapes: dict[str, Any]) -> list[dict[str, str]]:
    """Name, kind and meaning of each field of a shape that is named in the schema."""
    if "$ref" not in shape:
        return []
    named = shapes[shape["$ref"].rpartition("/")[2]]
    return [
        {"name": name, "kind": _kind_of(field), "text": field.get("description", "")}
        for name, field in named.get("properties", {}).items()
    ]


def _kind_of(field: dict[str, Any]) -> str:
    if "$ref" in field:
        return str(field["$ref"].rpartition("/")[2])
    if field.get("type") == "array":
        return f"list of {_kind_of(field.get('items', {}))}"
    return str(field.get("format") or field.get("type") or "any")
