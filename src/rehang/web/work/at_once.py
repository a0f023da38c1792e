"""The same work at every place of a task that is ready for it, written by one tap.

A look is of one part and is not among it, nor is a torque (DESIGN 4b, 4).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_POST

from rehang.trade.release.consumed import unwritten_uses
from rehang.trade.terms.entries import canonical, new_entry
from rehang.trade.terms.errors import Refused
from rehang.web.shared.desk import Desk, SeeOther, entry_id, job_page, send_back, writes
from rehang.web.work.task_rows import PlaceRow, TaskPage, task_page

__all__ = ["AtOnce", "at_once", "task_at_once", "used_at_once"]

_BLANK_WORDS = {"blanks": "BLANKS IN", "dehydrator plugs": "DEHYDRATOR PLUGS IN"}


@dataclass(frozen=True, slots=True)
class AtOnce:
    """What one tap writes at several places; ``voids`` says that something was read there already."""

    key: str
    label: str
    voids: bool
    entries: tuple[tuple[str, dict[str, Any]], ...]


# Its key, what it is called, what counts no more for it, and the entry of one place.
_One = tuple[str, str, str, tuple[str, dict[str, Any]]]


def at_once(task: TaskPage) -> tuple[AtOnce, ...]:
    """What may be written for two places of a task or more by one tap."""
    found: dict[str, list[_One]] = {}
    for place in task.places:
        if place.ready and not place.is_over:
            for one in _at(task, place):
                found.setdefault(one[0], []).append(one)
    return tuple(
        AtOnce(
            key,
            f"ALL {len(ones)} {ones[0][1].upper()}",
            any(voids for _, _, voids, _ in ones),
            tuple(entry for *_, entry in ones),
        )
        for key, ones in found.items()
        if len(ones) > 1
    )


def _at(task: TaskPage, place: PlaceRow) -> list[_One]:
    found: list[_One] = []
    if place.asks == "tap" and place.fit is None:
        found.append(("done", "done", "", ("done", {"task": task.id, "place": place.name})))
    for what in place.blanks:
        fields = {"what": what, "number": 1, "place": place.name}
        found.append((what, _BLANK_WORDS[what], "", ("counted_out", fields)))
    for act in place.acts:
        if act.kind == "reworked":
            fields = {"item": act.item, "act": act.act}
            found.append((act.act, act.label, act.voids, (act.kind, fields)))
    return found


@require_POST
@job_page
@writes
def task_at_once(request: HttpRequest, desk: Desk, name: str) -> HttpResponse:
    """Write one entry for each place, all of them or none."""
    row = task_page(desk.judged, name, desk.key)
    onto = reverse("web:task", args=[desk.job.slug, name])
    wanted = request.POST.get("act", "")
    one = next((one for one in at_once(row) if one.key == wanted), None) if row else None
    if one is None:
        # It was pressed twice, or another phone wrote it meanwhile.
        return SeeOther(onto)
    return _write(request, desk, one.entries, onto, f"{one.label.capitalize()}: written.")


@require_POST
@job_page
@writes
def used_at_once(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Write as used what the tasks that are over ask for and nothing is written of."""
    judged = desk.judged
    entries = [
        ("used", {"part": one.part, "number": one.number, "task": one.task.id})
        for one in unwritten_uses(judged.facts, judged.state, judged.work)
    ]
    onto = reverse("web:parts", args=[desk.job.slug])
    return _write(request, desk, entries, onto, "Written as used.")


def _write(
    request: HttpRequest,
    desk: Desk,
    ones: Sequence[tuple[str, dict[str, Any]]],
    onto: str,
    said: str,
) -> HttpResponse:
    at = desk.now()
    entries = [
        new_entry(kind, at=at, by=desk.key, id=entry_id(request, kind, canonical(fields)), **fields)
        for kind, fields in ones
    ]
    try:
        desk.write([entry for entry in entries if not desk.has(entry.id)])
    except Refused as reason:
        return send_back(request, onto, "at_once", reason, {})
    request.session["said"] = {"sentence": said, "undo": ""}
    return SeeOther(onto)
