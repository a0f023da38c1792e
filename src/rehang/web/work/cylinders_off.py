"""Cylinders that came off: taking one off, what that asks, and how far each is on again."""

from __future__ import annotations

from dataclasses import dataclass, replace

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.cylinders_off import CYLINDER, is_off, on_again
from rehang.trade.known.fastened import torque_places
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.entries import new_entry
from rehang.trade.terms.wording import on_day
from rehang.web.shared.desk import Desk, SeeOther, entry_id, job_page, page, say, writes
from rehang.web.shared.forms import BenchForm, Choose, TextField
from rehang.web.work.rows import state_mark

__all__ = ["cylinders_off"]


class OffForm(BenchForm):
    """Which one comes off, and why."""

    fallback = "which"
    note = TextField("Why it comes off", asks="Write why it comes off.")
    serial = TextField(
        "Its serial", "As it stands on it. It is offered where the cylinder goes on."
    )

    def __init__(self, request: HttpRequest, judged: JudgedJob) -> None:
        super().__init__(request)
        here = [str(one) for one in judged.facts.layout.cylinders]
        on = [one for one in here if not is_off(judged.state, one)]
        self.fields["which"] = Choose("Cylinder", [(one, one) for one in on])
        self.fields["which"].error_messages["required"] = "Pick which cylinder comes off."
        self.fields["which"].required = True
        self.order_fields(["which", "note", "serial"])


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that is asked of a cylinder that came off, how it stands, and where it is done."""

    title: str
    said: str
    mark: str
    link: str


@dataclass(frozen=True, slots=True)
class OffRow:
    """A cylinder that came off: since when, what is in its place, and what is asked."""

    name: str
    words: str
    mark: str
    groups: tuple[tuple[str, tuple[Line, ...]], ...]

    @property
    def open(self) -> int:
        """How many things are still asked."""
        return sum(one.mark != "within" for _, lines in self.groups for one in lines)


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def cylinders_off(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The cylinders that came off; a post takes one off."""
    judged = desk.judged
    form = OffForm(request, judged)
    if request.method == "POST":
        with form.refusing():
            typed = form.checked()
            name = typed["which"]
            entry = new_entry(
                "removed",
                at=desk.now(),
                by=desk.key,
                id=entry_id(request, "removed", name),
                item=f"{CYLINDER}:{name}",
                place=name,
                note=typed["note"],
                **({"serial": typed["serial"]} if typed["serial"] else {}),
            )
            if not desk.has(entry.id):
                desk.write([entry])
            say(request, desk, entry)
            return SeeOther(reverse("web:cylinders_off", args=[desk.job.slug]))
    return page(
        request,
        desk,
        "work/cylinders_off",
        current="rest",
        status=form.status,
        rows=[_row(judged, desk.job.slug, name) for name in judged.facts.off],
        **form.shown,
    )


def _row(judged: JudgedJob, slug: str, name: str) -> OffRow:
    removed = judged.state.items[f"{CYLINDER}:{name}"].removed
    assert removed is not None
    note = removed.fields.note.strip().rstrip(".")
    came_with = f", s/n {removed.fields.serial}" if removed.fields.serial else ""
    words = f"Off {on_day(removed.at)}{came_with}, {judged.facts.person(removed.by)}"
    words += f": {note}." if note else "."
    on = on_again(judged.state, name)
    if on is not None:
        serial = on.fields.serial or on.fields.batch
        words += f" On again {on_day(on.at)}" + (f", s/n {serial}." if serial else ".")
    groups = (
        ("Its work", _tasks(judged, slug, name)),
        ("What shows it right", (*_torque(judged, slug, name), *_checks(judged, slug, name))),
    )
    row = OffRow(name, words, "not-yet", groups)
    return replace(row, mark="within") if on is not None and not row.open else row


def _tasks(judged: JudgedJob, slug: str, name: str) -> tuple[Line, ...]:
    found = []
    for one in judged.work.tasks.values():
        place = one.place(name) if one.task.when_off else None
        if place is not None:
            link = reverse("web:task", args=[slug, one.task.id])
            state = one.state if one.state == "HELD" else place.state
            found.append(Line(one.task.title, state.lower(), state_mark(state), link))
    return tuple(found)


def _torque(judged: JudgedJob, slug: str, name: str) -> list[Line]:
    found = []
    for one in torque_places(judged.facts, judged.state):
        if not one.group.when_off or one.place != name:
            continue
        calls = {call.call for call in one.calls.values()}
        short = any(call.passes_short for call in one.calls.values())
        right = not one.missing and calls == {"WITHIN"} and not short
        said = f"{len(one.standing)} of {one.group.number} torqued"
        said += "; passes not all written" if short else ""
        link = f"{reverse('web:torque_group', args=[slug, one.group.id])}?place={name}"
        found.append(Line(one.group.title, said, "within" if right else "not-yet", link))
    return found


def _checks(judged: JudgedJob, slug: str, name: str) -> list[Line]:
    sheets = judged.facts.sheets
    found = []
    for one in judged.items:
        sheet = sheets.get(one.kind)
        if one.name == name and sheet is not None and (sheet.when_off or one.kind == CYLINDER):
            link = reverse("web:item", args=[slug, one.kind, name])
            title = "The cylinder, on again" if one.kind == CYLINDER else sheet.title
            mark = "within" if one.verdict == "KEEP" else status_name(one.verdict)
            found.append(Line(title, one.verdict, mark, link))
    return found
