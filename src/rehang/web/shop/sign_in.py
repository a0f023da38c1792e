"""Signing in and out, one's own password, PIN and visits."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.auth import authenticate, login, logout, update_session_auth_hash
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from rehang.book import beginning, door, members, models, pins, queries, services, visits
from rehang.book.tries import remember_device
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.web.shared.access import check_own_secret
from rehang.web.shared.desk import SeeOther, asked_for, refused
from rehang.web.shared.forms import BenchForm, Secret, TextField
from rehang.web.shared.times import short_when, zone_for

__all__ = [
    "let_in",
    "of_member",
    "own_visits",
    "set_password",
    "set_pin",
    "sign_in",
    "sign_out",
    "use_code",
]

NO_MATCH = "That name and password do not go together. Check both, then sign in again."
NO_CODE = (
    "That name and code do not go together, or the code is used or too old. Check both; whoever keeps "
    "the shop gives you another."
)
NOBODY = "This sign-in belongs to nobody in a job's list of people."


def of_member(
    view: Callable[[HttpRequest, models.Member], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """A page of whoever is signed in, given as who they are in the jobs' lists; else 404."""

    @login_required
    @wraps(view)
    def inner(request: HttpRequest) -> HttpResponse:
        member = members.member_of(request.user)
        if member is None:
            return refused(request, NotAllowed(NOBODY), 404)
        return view(request, member)

    return inner


def _sign_in_name() -> TextField:
    return TextField(
        "Sign-in name",
        "Your name, or your short name on the list of people",
        asks="Enter your sign-in name.",
        autocomplete="username",
        autocapitalize="none",
        spellcheck="false",
    )


def _new_secret(label: str, **more: Any) -> Secret:
    return Secret(label, autocomplete="new-password", **more)


class _Twice(BenchForm):
    """A form that asks for something new twice, in ``fallback`` and in ``again``."""

    def check_twice(self, what: str) -> None:
        """Whether both are the same; ``what`` is what is to be entered again."""
        if self.data.get(self.fallback, "") != self.data.get("again", ""):
            raise BadInput(f"The two are not the same. Enter {what} twice.", "again")


class SignInForm(BenchForm):
    """Name and password."""

    fallback = "name"
    name = _sign_in_name()
    password = Secret("Password", asks="Enter your password.", autocomplete="current-password")


class CodeForm(_Twice):
    """A one-time code, and what is set with it."""

    fallback = "new"
    name = _sign_in_name()
    code = TextField(
        "Code",
        asks="Enter the code you were given.",
        short=True,
        autocomplete="one-time-code",
        autocapitalize="characters",
        spellcheck="false",
    )
    new = _new_secret("New PIN or password")
    again = _new_secret("The same again")


class PasswordForm(_Twice):
    """One's own password, and what one has now."""

    fallback = "password"
    now = Secret("Your PIN", autocomplete="current-password")
    password = _new_secret("New password")
    again = _new_secret("The same again")


class PinForm(_Twice):
    """One's own PIN, and what one has now."""

    fallback = "new"
    new = _new_secret("New PIN", short=True, inputmode="numeric")
    again = _new_secret("The same again", short=True, inputmode="numeric")
    pin = Secret(short=True)


@sensitive_post_parameters("password")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """One tap for each person without a password at this machine; else name and password."""
    onto = asked_for(request) or reverse("web:home")
    # Nobody to sign in as: the shop is begun first.
    to_begin = beginning.is_empty()
    if to_begin and not queries.jobs(put_away=None):
        return SeeOther(reverse("web:begin"))
    form = SignInForm(request)
    if request.method == "POST":
        tapped = request.POST.get("person", "")
        with form.refusing():
            if tapped:
                # Before the name is looked up: elsewhere every name gets the same answer.
                members.check_is_at_the_machine(request.META)
                member = members.member(tapped)
                members.check_can_tap_in(member, request.META)
                return let_in(request, member, "with one tap", onto)
            typed = form.checked()
            found = authenticate(
                request, username=members.sign_in_name(typed["name"]), password=typed["password"]
            )
            if found is None:
                raise BadInput(NO_MATCH, "password")
            whose = members.member_of(found)
            if whose is None:
                raise BadInput(NOBODY, "name")
            return let_in(request, whose, "with a password", onto)
    choices = members.tap_in_choices(request.META)
    said_pins = [(one.name, one.pin_shown) for one in choices if one.pin_shown]
    shown = {
        "choices": choices,
        "said_pins": said_pins,
        "next": onto,
        "to_begin": to_begin,
        **form.shown,
    }
    return render(request, "shop/sign_in.html", shown, status=form.status)


def let_in(request: HttpRequest, member: models.Member, how: str, onto: str) -> HttpResponse:
    """Begin a visit. A device at which someone showed who they are is known from then on."""
    login(request, member.user, backend="django.contrib.auth.backends.ModelBackend")
    door.came_in(request, member, how)
    answer = SeeOther(onto)
    if how != "with one tap":
        remember_device(answer, member.key)
    return answer


@sensitive_post_parameters("code", "new", "again")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def use_code(request: HttpRequest) -> HttpResponse:
    """Set a PIN or password of one's own with a one-time code, and be signed in with it."""
    form = CodeForm(request)
    if request.method == "POST":
        with form.refusing():
            typed = form.checked()
            code = pins.as_code(typed["code"])
            if not code:
                raise BadInput("Enter the code you were given.", "code")
            form.check_twice("the new one")
            user = authenticate(request, username=members.sign_in_name(typed["name"]), code=code)
            found = members.member_of(user) if user is not None else None
            if found is None:
                raise BadInput(NO_CODE, "code")
            pins.set_by_code(person=found.key, new=typed["new"], by=found.key, at=timezone.now())
            fresh = members.member(found.key)
            return let_in(request, fresh, "with a one-time code", reverse("web:home"))
    return render(request, "shop/code.html", form.shown, status=form.status)


@of_member
@require_http_methods(["GET", "HEAD", "POST"])
def own_visits(request: HttpRequest, member: models.Member) -> HttpResponse:
    """Where one is signed in; a post ends one of these visits, or all but this one."""
    here = request.session.session_key or ""
    if request.method == "POST":
        key = request.POST.get("visit", "")
        number = door.ended(
            person=member.key, by=member.key, at=timezone.now(), key=key, but=here
        )  # fmt: skip
        said = "1 visit is" if number == 1 else f"{number} visits are"
        request.session["said"] = {"sentence": f"{said} ended.", "undo": ""}
        return SeeOther(reverse("web:visits"))
    rows, zone = visits.of(member.user_id), zone_for(member.key)
    return render(
        request,
        "shop/visits.html",
        {
            "member": member,
            "said": request.session.pop("said", None),
            "rows": [
                (
                    row,
                    *(short_when(at, zone) if at else "" for at in (row.began_at, row.seen_at)),
                    row.session_key == here,
                )
                for row in rows
            ],
            "keeps": bool(queries.kept_by(member.key)),
        },
    )


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """End the visit. Readings still in this device's out-tray stay on the device."""
    logout(request)
    return SeeOther(reverse("web:sign_in"))


@sensitive_post_parameters("password", "again", "now")
@never_cache
@of_member
@require_http_methods(["GET", "HEAD", "POST"])
def set_password(request: HttpRequest, member: models.Member) -> HttpResponse:
    """Set one's own password; the PIN or password of now is asked for first."""
    onto = asked_for(request) or reverse("web:home") + "?list"
    form = PasswordForm(request)
    if members.has_password(member):
        form.fields["now"].label = "PIN or password of now"
    if request.method == "POST":
        with form.refusing():
            typed = form.checked()
            # One tap signs in as anyone, so a first password takes the PIN that only they know.
            check_own_secret(request, member, typed["now"], "now")
            form.check_twice("the new password")
            services.set_password(
                person=member.key, password=typed["password"], by=member.key, at=timezone.now()
            )
            fresh = members.member(member.key)
            update_session_auth_hash(request, fresh.user)
            request.session["said"] = {"sentence": "Your password is set.", "undo": ""}
            return SeeOther(onto)
    shown = {"member": member, "said_pin": member.pin_shown, "next": onto, **form.shown}
    return render(request, "shop/set_password.html", shown, status=form.status)


@sensitive_post_parameters("pin", "new", "again")
@never_cache
@of_member
@require_http_methods(["GET", "HEAD", "POST"])
def set_pin(request: HttpRequest, member: models.Member) -> HttpResponse:
    """Change one's own PIN; whoever has none yet is told how they come by it."""
    form = PinForm(request)
    form.fields["pin"].label = f"PIN or password of {member.name} now"
    if request.method == "POST":
        with form.refusing():
            typed = form.checked()
            check_own_secret(request, member, typed["pin"], "pin")
            form.check_twice("the new PIN")
            pins.set_pin(person=member.key, pin=typed["new"], by=member.key, at=timezone.now())
            request.session["said"] = {"sentence": "Your PIN is set.", "undo": ""}
            return SeeOther(reverse("web:home") + "?list")
    shown = {"member": member, "has_one": members.has_secret(member), **form.shown}
    return render(request, "shop/set_pin.html", shown, status=form.status)
