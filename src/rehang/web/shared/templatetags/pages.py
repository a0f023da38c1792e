"""Addresses that are made from an item's id, ``plug:K0411``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any
from urllib.parse import quote, urlencode

from django import template
from django.forms import BoundField
from django.urls import reverse
from django.utils.html import format_html_join

from rehang.trade.facts.limits import limit_for
from rehang.trade.known.state import item_kind, item_name

register = template.Library()


@register.filter
def any_wrong(fields: Any) -> bool:
    """Whether a field among them is wrong, so that what is folded over it stands open."""
    if isinstance(fields, Iterable) and not isinstance(fields, BoundField):
        return any(any_wrong(one) for one in fields)
    return bool(getattr(fields, "errors", ()))


@register.simple_tag
def item_url(slug: str, item_id: str) -> str:
    """The page of an item in its job."""
    if item_kind(item_id) == "plug":
        return reverse("web:plug", args=[slug, item_name(item_id)])
    return reverse("web:item", args=[slug, item_kind(item_id), item_name(item_id)])


@register.simple_tag
def story_url(slug: str, item_id: str) -> str:
    """The story of an item over its services, with its odds."""
    return reverse("web:story", args=[slug, item_kind(item_id), item_name(item_id)])


@register.simple_tag
def read_url(slug: str, item_id: str, check: str, back: str = "") -> str:
    """Where one check of an item is read or changed; afterwards the way leads to ``back``."""
    where = reverse("web:read", args=[slug, item_kind(item_id), item_name(item_id), check])
    return f"{where}?{urlencode({'back': back})}" if back else where


@register.simple_tag
def to_do_url(slug: str, card: Any) -> str:
    """Where a piece of work is done: the page of its task, else that of the item."""
    return reverse("web:task", args=[slug, card.task]) if card.task else item_url(slug, card.item)


@register.simple_tag
def wait_url(slug: str, wait: Any) -> str:
    """Where what is waited for is settled."""
    if wait.task:
        return reverse("web:task", args=[slug, wait.task])
    if wait.entry:
        return reverse("web:close_call", args=[slug, wait.entry])
    return reverse("web:parts", args=[slug]) if wait.page == "parts" else item_url(slug, wait.item)


@register.simple_tag
def limit_url(slug: str, number: int, kind: str, check: str, for_type: str = "") -> str:
    """The form of a limit on file; below number 0 that of a new one."""
    if number >= 0:
        return reverse("web:limit", args=[slug, number])
    query = f"?{urlencode({'type': for_type}, quote_via=quote)}" if for_type else ""
    return reverse("web:new_limit", args=[slug, kind, check]) + query


@register.inclusion_tag("shared/_enter_limit.html", takes_context=True)
def enter_limit(
    context: Mapping[str, Any], call: str, kind: str, check: str, label: str
) -> dict[str, str]:
    """The way from a reading that nothing judges to its limit; from there it leads back ``here``.

    One on file that judges nothing, for want of a source, is changed there. Needs judged, job,
    may_write and here of the page.
    """
    if call != "NOT JUDGED" or not context["may_write"]:
        return {"way": ""}
    limits = context["judged"].facts.limits
    held = limit_for(limits, kind, check, "service")
    number = next((n for n, one in enumerate(limits) if one is held), -1)
    back = urlencode({"next": context["here"]}, quote_via=quote)
    return {"way": f"{limit_url(context['job'].slug, number, kind, check)}?{back}", "label": label}


@register.simple_tag
def new_meter_url(slug: str, kind: str, check: str, back: str) -> str:
    """Where a meter for a check is put on file; afterwards the way leads ``back``."""
    query = urlencode({"check": f"{kind}.{check}", "next": back}, quote_via=quote)
    return f"{reverse('web:new_meter', args=[slug])}?{query}"


@register.simple_tag
def better_meter_url(slug: str, why: Any) -> str:
    """The tray at the reading of a close call, with the meter in hand that would settle it."""
    query = {
        "check": why.check,
        "hole": why.hole,
        "meter": why.better_meter,
        "range": why.better_range,
    }
    return f"{reverse('web:tray', args=[slug])}?{urlencode(query, quote_via=quote)}"


@register.simple_tag
def query_of(values: Mapping[str, str], **first: str) -> str:
    """The query of a form of choices as it stands, with some of them chosen otherwise."""
    rest = {name: value for name, value in values.items() if value and name not in first}
    return f"?{urlencode({**first, **rest}, quote_via=quote)}"


@register.simple_tag
def wrong_attrs(held: Mapping[str, Any] | None, form: str, name: str, hint: str = "") -> str:
    """The attributes of a field: whether it is wrong, and the ids of its hint and its sentence.

    A ``hint`` that ends in a dash goes on with the name.
    """
    ids = [f"{hint}{name}" if hint.endswith("-") else hint] if hint else []
    attributes = {}
    if held and held["form"] == form and held["field"] == name:
        ids.append(f"w-{form}-{name}")
        attributes["aria-invalid"] = "true"
    if ids:
        attributes["aria-describedby"] = " ".join(ids)
    return format_html_join("", ' {}="{}"', attributes.items())


@register.simple_tag
def typed(held: Mapping[str, Any] | None, form: str, name: str, first: object = "") -> object:
    """What was typed in a field of a form that was refused; else what stands there first."""
    if not held or held["form"] != form:
        return first
    return held["values"].get(name, "")
