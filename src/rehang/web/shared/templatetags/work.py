"""Addresses that the pages of the work lead to, and who settles something on them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from urllib.parse import urlencode

from django import template
from django.urls import reverse

from rehang.trade.gate.powers import need_for
from rehang.web.shared.access import PinBox, supervisors
from rehang.web.shared.access import pin_box as box_of

register = template.Library()


@register.simple_tag
def torque_url(slug: str, group: str, place: str) -> str:
    """The torque card of a group, at one place of it."""
    where = reverse("web:torque_group", args=[slug, group])
    return f"{where}?{urlencode({'place': place})}" if place else where


@register.simple_tag(takes_context=True)
def pin_box(context: dict[str, Any], kind: str, form: str = "", what: str = "") -> PinBox:
    """Who may write an entry of that kind here, for ``_pin.html``; ``form`` names its ids."""
    desk = context["desk"]
    return box_of(desk.judged, desk.key, need_for(kind, what), desk.today(), form or kind)


@register.simple_tag(takes_context=True)
def who_supervises(context: dict[str, Any]) -> tuple[tuple[str, str], ...]:
    """Key and name of everyone under whom the person at the page may work; see ``_under.html``."""
    desk = context["desk"]
    return () if desk.why_not else supervisors(desk.judged, desk.key, desk.today())


@register.inclusion_tag("work/_pegs.html")
def pegs(pegs: Sequence[bool], words: str) -> dict[str, object]:
    """A row of pegs, a solid one for each that is done, and what they say."""
    return {"pegs": pegs, "words": words}
