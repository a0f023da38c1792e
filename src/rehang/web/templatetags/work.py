"""Addresses that the pages of the work lead to."""

from __future__ import annotations

from urllib.parse import urlencode

from django import template
from django.urls import reverse

register = template.Library()


@register.simple_tag
def torque_url(slug: str, group: str, place: str) -> str:
    """The torque card of a group, at one place of it."""
    where = reverse("web:torque_group", args=[slug, group])
    return f"{where}?{urlencode({'place': place})}" if place else where
