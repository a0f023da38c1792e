"""Who is at the page, and which job they may open."""

from __future__ import annotations

from axes.utils import reset
from django.contrib.auth import authenticate
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest

from rehang.book import members, models, queries
from rehang.trade.errors import BadInput
from rehang.trade.judging import JudgedJob
from rehang.trade.rules import can_write

__all__ = ["check_own_password", "may_write", "member_here", "open_job"]


def member_here(request: HttpRequest) -> models.Member:
    """The person signed in; a user who is nobody's person is turned away."""
    member = members.member_of(request.user)
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


def check_own_password(
    request: HttpRequest, member: models.Member, password: str, where: str
) -> None:
    """Whether someone who is signed in typed their own password; a wrong one is counted.

    It is counted where a wrong one at signing in is, so that ten in a row lock both: whoever finds
    a bench signed in guesses no faster than whoever finds it signed out. The answer is then the
    page of the lock, whatever the view answers.

    Raises
    ------
    BadInput
        It is not theirs. Nobody has none yet: whoever asks for it says so first.
    """
    name = member.user.get_username()
    if authenticate(request, username=name, password=password) is None:
        raise BadInput("That is not your password. Type it again.", where)
    reset(username=name)
