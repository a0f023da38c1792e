"""Addresses that are made from an item's id, ``plug:K0411``."""

from __future__ import annotations

from urllib.parse import urlencode

from django import template
from django.urls import reverse

from rehang.trade.known.state import item_kind, item_name

register = template.Library()


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
