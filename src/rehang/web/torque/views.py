"""Torque cards: the value and whose it is, what to set, which order, one fastener a tap."""

from __future__ import annotations

from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from rehang.trade.facts.torquegroups import TorqueGroup
from rehang.trade.known.fastened import item_of, what_of
from rehang.trade.known.torque import Adapter, in_lb_words, lever_of
from rehang.trade.terms.entries import new_entry
from rehang.trade.terms.errors import BadInput, Refused
from rehang.trade.terms.wording import whole
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
from rehang.web.torque import rows as torque_rows

# What the form of the wrench holds: name, label, hint.
ADAPTER = (
    ("arm", "L, inches", "Drive to the middle of the grip, as in 10"),
    ("length", "E, inches", "Drive to the fastener, as in 2; empty without"),
    ("angle", "Angle, degrees", "0 straight on, 90 at the side, 180 back"),
    ("drag", "Drag", "Of a self-locking nut, as in 30 in-lb"),
    ("set", "Set to, if not as worked out", "What the wrench was set to, as in 325 in-lb"),
)


@require_safe
@job_page
def groups(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Every group of fasteners with its value, and the wrenches with how they stand."""
    today = desk.today()
    return page(
        request,
        desk,
        "torque/torque",
        current="torque",
        rows=torque_rows.group_rows(desk.judged, today),
        wrenches=torque_rows.wrench_rows(desk.judged, today, ""),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def group(request: HttpRequest, desk: Desk, group: str) -> HttpResponse:
    """One group's card; a post writes which one of its fasteners is torqued."""
    found = desk.judged.facts.torque_groups.get(group)
    if found is None:
        raise BadInput(f'There is no torque card "{group}" in this job.')
    given = request.POST if request.method == "POST" else request.GET
    names = ("wrench", "place", *(name for name, *_ in ADAPTER))
    values = {name: given.get(name, "").strip() for name in names}
    if request.method == "POST":
        return _write(request, desk, found, values)
    if "new_meter" in request.GET:
        kept = urlencode({name: value for name, value in values.items() if value})
        query = {"make": "torque-wrench", "next": f"{request.path}?{kept}"}
        return SeeOther(f"{reverse('web:new_meter', args=[desk.job.slug])}?{urlencode(query)}")
    sentence = field = ""
    shown = None
    try:
        shown = _page(desk, found, values)
    except Refused as reason:
        sentence = reason.sentence
        field = reason.where
        shown = torque_rows.group_page(desk.judged, found, desk.today())
    return page(
        request,
        desk,
        "torque/group",
        status=422 if sentence else 200,
        current="torque",
        shown=shown,
        fields=[(name, label, hint, values[name]) for name, label, hint in ADAPTER],
        values=values,
        adapted=bool(field) or any(values[name] for name, *_ in ADAPTER),
        sentence=sentence,
        field=field,
    )


def _page(desk: Desk, group: TorqueGroup, values: dict[str, str]) -> torque_rows.TorquePage:
    return torque_rows.group_page(
        desk.judged,
        group,
        desk.today(),
        place=values["place"],
        wrench=values["wrench"],
        adapter=_adapter(values),
        drag=values["drag"],
    )


def _adapter(values: dict[str, str]) -> Adapter | None:
    """The adapter of the form; None where no length was written."""
    if not values["length"]:
        return None
    adapter = Adapter(
        _number(values["arm"], "arm", "the arm of the wrench in inches, as in 10"),
        _number(values["length"], "length", "the length of the adapter in inches, as in 2"),
        _number(values["angle"] or "0", "angle", "the angle in degrees, as in 90"),
    )
    try:
        lever_of(adapter)
    except BadInput as reason:
        raise BadInput(reason.sentence, "length") from None
    return adapter


def _number(text: str, name: str, words: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = -1.0
    if not 0 <= number <= 180 or (name != "angle" and number == 0):
        given = f'"{text}" will not do. ' if text else ""
        raise BadInput(f"{given}Write {words}.", name)
    return number


def _write(
    request: HttpRequest, desk: Desk, group: TorqueGroup, values: dict[str, str]
) -> HttpResponse:
    onto = reverse("web:torque_group", args=[desk.job.slug, group.id])
    query = urlencode({name: value for name, value in values.items() if value})
    back = f"{onto}?{query}" if query else onto
    try:
        shown = _page(desk, group, values)
        if shown.card.wrench is None:
            raise BadInput("Pick the wrench that was used.", "wrench")
        turn = request.POST.get("fastener", "")
        if not (0 < (whole(turn) or 0) <= group.number):
            raise BadInput(f"Tap which of the {group.number} is torqued.", "fastener")
        setting = shown.setting
        adapter = shown.card.adapter
        set_to = values["set"] or (
            f"{in_lb_words(setting.set_to, setting.step)} in-lb" if setting else None
        )
        entry = new_entry(
            "torqued",
            at=desk.now(),
            by=desk.key,
            id=entry_id(request, "torqued", shown.place.name, turn, query),
            group=group.id,
            item=item_of(group, shown.place.name),
            place=shown.place.name or None,
            what=what_of(group, shown.place.name),
            meter=shown.card.wrench.id,
            fasteners=[int(turn)],
            of=group.number,
            passes=group.passes,
            task=group.task if group.task in desk.judged.facts.tasks else None,
            wanted=f"{in_lb_words(setting.wanted)} in-lb" if setting else None,
            set_to=set_to,
            drag=values["drag"] or None,
            adapter=(
                {"arm_in": adapter.arm, "length_in": adapter.length, "angle_deg": adapter.angle}
                if adapter
                else None
            ),
        )
        if not desk.has(entry.id):
            desk.write([entry])
    except Refused as reason:
        return send_back(request, back, "torque", reason, values, anchor="tq-do")
    say(request, desk, entry)
    request.session["said"]["what"] = (
        f"{group.fastener} {turn}" if group.number > 1 else group.fastener
    ) + (f" of {shown.place.short}" if shown.place.name else "")
    # Without scripts the page is loaded anew and comes back to where it was tapped.
    return SeeOther(f"{back}#tq-do")


@sensitive_post_parameters("pin")
@require_POST
@job_page
@writes
def call(request: HttpRequest, desk: Desk, group: str) -> HttpResponse:
    """A named person calls a torque that is a close call, WITHIN or OUT, and says why."""
    place = request.POST.get("place", "")
    onto = reverse("web:torque_group", args=[desk.job.slug, group])
    back = f"{onto}?{urlencode({'place': place})}#tq-do" if place else f"{onto}#tq-do"
    try:
        entry = new_entry(
            "called",
            at=desk.now(),
            by=desk.key,
            id=entry_id(request, "called", request.POST.get("entry", "")),
            entry=request.POST.get("entry", ""),
            call=request.POST.get("call", ""),
            reason=request.POST.get("reason", "").strip(),
        )
        asked = keep(request, desk, [entry])
        if asked is not None:
            return asked
    except Refused as reason:
        return send_back(request, back, "torque", reason, {}, anchor="tq-do")
    say(request, desk, entry)
    return SeeOther(back)
