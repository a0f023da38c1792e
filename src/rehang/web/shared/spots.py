"""Where on the page of places a part is put in, taken out and has its papers written."""

from __future__ import annotations

from urllib.parse import urlencode

from django.urls import reverse

from rehang.trade.telling.sheet_parts import status_name

__all__ = ["papers_address", "spot_address", "spot_of"]


def spot_of(kind: str, place: str) -> str:
    """The id of a place on a page of places."""
    return f"at-{kind}-{status_name(place)}"


def spot_address(slug: str, kind: str, place: str) -> str:
    """The page of places, open at one of them."""
    spot = spot_of(kind, place)
    return f"{reverse('web:places', args=[slug])}?{urlencode({'at': spot})}#{spot}"


def papers_address(slug: str, item: str) -> str:
    """The page of places, open where the release document of an item is written."""
    return f"{reverse('web:places', args=[slug])}?{urlencode({'papers': item})}#papers"
