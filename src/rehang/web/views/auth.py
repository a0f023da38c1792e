"""Signing in and out, one's own password, and PINs."""

from __future__ import annotations

from django.contrib.auth import authenticate, login, logout, update_session_auth_hash
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from rehang.book import members, pins, services
from rehang.trade.errors import BadInput, NotAllowed, Refused
from rehang.web.access import check_own_secret
from rehang.web.views.desk import SeeOther, asked_for, refused

NO_MATCH = "That name and password do not go together. Check both, then sign in again."
NOBODY = "This sign-in belongs to nobody in a job's list of people."


@sensitive_post_parameters("password")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """One tap for each person without a password at this machine; else name and password."""
    onto = asked_for(request) or reverse("web:home")
    name = request.POST.get("name", "").strip()
    field = sentence = ""
    status = 200
    if request.method == "POST":
        tapped = request.POST.get("person", "")
        try:
            if tapped:
                member = members.member(tapped)
                members.check_can_tap_in(member, request.META)
                user = member.user
                login(request, user, backend="django.contrib.auth.backends.ModelBackend")
                return SeeOther(onto)
            if not name:
                raise BadInput("Enter your sign-in name.", "name")
            if not request.POST.get("password"):
                raise BadInput("Enter your password.", "password")
            found = authenticate(request, username=name, password=request.POST["password"])
            if found is None:
                raise BadInput(NO_MATCH, "password")
            login(request, found)
            return SeeOther(onto)
        except Refused as reason:
            sentence = reason.sentence
            field = reason.where or "name"
            status = 422
    return render(
        request,
        "web/sign_in.html",
        {
            "choices": (choices := members.tap_in_choices(request.META)),
            "said_pins": [(one.name, one.pin_shown) for one in choices if one.pin_shown],
            "name": name,
            "next": onto,
            "field": field,
            "sentence": sentence,
        },
        status=status,
    )


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """End the visit. Readings still in this device's out-tray stay on the device."""
    logout(request)
    return SeeOther(reverse("web:sign_in"))


@sensitive_post_parameters("password", "again", "now")
@never_cache
@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def set_password(request: HttpRequest) -> HttpResponse:
    """Set one's own password; the PIN or password of now is asked for first."""
    member = members.member_of(request.user)
    if member is None:
        return refused(request, NotAllowed(NOBODY), 404)
    onto = asked_for(request) or reverse("web:home") + "?list"
    has_one = members.has_password(member)
    field = sentence = ""
    if request.method == "POST":
        new, again = request.POST.get("password", ""), request.POST.get("again", "")
        try:
            # One tap signs in as anyone, so a first password takes the PIN that only they know.
            check_own_secret(request, member, request.POST.get("now", ""), "now")
            if new != again:
                raise BadInput("The two are not the same. Enter the new password twice.", "again")
            services.set_password(person=member.key, password=new, by=member.key, at=timezone.now())
            fresh = members.member(member.key)
            update_session_auth_hash(request, fresh.user)
            request.session["said"] = {"sentence": "Your password is set.", "undo": ""}
            return SeeOther(onto)
        except Refused as reason:
            sentence = reason.sentence
            field = reason.where or "password"
    return render(
        request,
        "web/set_password.html",
        {
            "member": member,
            "has_one": has_one,
            "said_pin": member.pin_shown,
            "next": onto,
            "field": field,
            "sentence": sentence,
        },
        status=422 if sentence else 200,
    )


@sensitive_post_parameters("pin", "new", "again")
@never_cache
@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def set_pin(request: HttpRequest) -> HttpResponse:
    """Change one's own PIN, or have somebody type their first one while one stands by with theirs."""
    member = members.member_of(request.user)
    if member is None:
        return refused(request, NotAllowed(NOBODY), 404)
    person = request.POST.get("person", "") or member.key
    field = sentence = ""
    if request.method == "POST":
        new, again = request.POST.get("new", ""), request.POST.get("again", "")
        try:
            check_own_secret(request, member, request.POST.get("pin", ""), "pin")
            if new != again:
                raise BadInput("The two are not the same. Enter the new PIN twice.", "again")
            pins.set_pin(person=person, pin=new, by=member.key, at=timezone.now())
            name = members.member(person).name
            request.session["said"] = {"sentence": f"The PIN of {name} is set.", "undo": ""}
            return SeeOther(reverse("web:home") + "?list")
        except Refused as reason:
            sentence = reason.sentence
            field = reason.where or "new"
    return render(
        request,
        "web/set_pin.html",
        {
            "member": member,
            "has_one": members.has_secret(member),
            "people": members.with_no_secret_beside(member),
            "person": person,
            "field": field,
            "sentence": sentence,
        },
        status=422 if sentence else 200,
    )
