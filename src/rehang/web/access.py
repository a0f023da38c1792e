"""Who is at the page, and which job they may open."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest

from rehang.book import models, queries
from rehang.trade.errors import BadInput
from rehang.trade.judging import JudgedJob
from rehang.trade.rules import can_write

__all__ = ["may_write", "member_here", "open_job"]


def member_here(request: HttpRequest) -> models.Member:
    """The person signed in; a user who is nobody's person is turned away."""
    member = queries.member_of(request.user)
    if member is None:
        raise PermissionDenied
    return member


def open_job(request: HttpRequest, slug: str) -> models.Job:
    """The job of that name, for someone in its list of people; otherwise not found."""
    try:
        return queries.job_for(slug, member_here(request).key)
    except BadInput as refusal:
        raise Http404(str(refusal)) from None


def may_write(request: HttpRequest, judged: JudgedJob) -> bool:
    """Whether the person signed in may write in this job's book."""
    return can_write(judged.facts.people.get(member_here(request).key))
