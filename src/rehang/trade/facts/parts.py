"""Parts and consumables: what one costs, who sends it and how long that takes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from rehang.trade.terms.errors import BadInput

__all__ = ["Part", "part_from"]

Where = Callable[..., str]


@dataclass(frozen=True, slots=True)
class Part:
    """One line of ``stock.toml``.

    ``stock`` is what was on the shelf when ``counted_on`` it was counted. ``lead_days`` are Monday
    to Friday days after the day it is ordered; None where nobody knows. ``replaces`` names the
    items a new one stands in for: a kind ("plug") or one item ("hose:HS2"). ``price`` is for one.
    ``quoted`` marks a price that is a quotation and not paid yet.
    """

    id: str
    name: str
    price: float | None
    lead_days: int | None
    stock: int
    counted_on: date | None
    supplier: str
    unit: str
    replaces: tuple[str, ...]
    quoted: bool
    note: str


_KEYS = {
    "id", "name", "price", "lead_days", "stock", "counted_on", "supplier", "unit", "replaces",
    "quoted", "note",
}  # fmt: skip


def part_from(raw: Mapping[str, Any], where: Where) -> Part:
    """A part from ``stock.toml``."""
    for key in raw:
        if key not in _KEYS:
            raise BadInput(f'A part has no "{key}". It has {", ".join(sorted(_KEYS))}.', where(key))
    for key in ("id", "name"):
        if not isinstance(raw.get(key), str) or not raw[key].strip():
            raise BadInput(f'A part needs "{key}".', where(key))
    price = raw.get("price")
    if price is not None and (
        isinstance(price, bool) or not isinstance(price, (int, float)) or price < 0
    ):
        raise BadInput(f"The price of {raw['name']} is {price}. Write 0 or more.", where("price"))
    for key in ("lead_days", "stock"):
        given = raw.get(key)
        if given is not None and (
            isinstance(given, bool) or not isinstance(given, int) or given < 0
        ):
            raise BadInput(
                f'"{key}" of {raw["name"]} is {given}. Write a whole number of 0 or more.',
                where(key),
            )
    replaces = raw.get("replaces", [])
    if isinstance(replaces, str):
        replaces = [replaces]
    return Part(
        id=raw["id"],
        name=raw["name"],
        price=None if price is None else float(price),
        lead_days=raw.get("lead_days"),
        stock=raw.get("stock", 0),
        counted_on=raw.get("counted_on"),
        supplier=str(raw.get("supplier", "")),
        unit=str(raw.get("unit", "")),
        replaces=tuple(replaces),
        quoted=bool(raw.get("quoted", False)),
        note=str(raw.get("note", "")),
    )
