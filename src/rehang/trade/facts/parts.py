"""Parts and consumables: what one costs, who sends it and how long that takes."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any, ClassVar

from pydantic import Field

from rehang.trade.declared.taken import Where, by_id, read
from rehang.trade.declared.values import STRICT, Day, Flag, ListOf, Number, Text, Whole

__all__ = ["Part", "StockFile", "parts_from"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One line of ``stock.toml``.

    ``stock`` is what was on the shelf when ``counted_on`` it was counted; ``lead_days`` is None
    where nobody knows. ``quoted`` marks a price that is a quotation and not paid yet.
    """

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "A part"

    id: Annotated[str, Text(needed=True), Field(title="Part number")]
    name: Annotated[str, Text(needed=True)]
    price: Annotated[
        float | None, Number(0, description="Of one."), Field(title="Price of one")
    ] = None
    lead_days: Annotated[
        int | None,
        Whole(0, 3_650, "Monday to Friday days after the day it is ordered."),
        Field(title="Working days to come"),
    ] = None
    stock: Annotated[
        int,
        Whole(0, description="On the shelf when counted."),
        Field(title="On the shelf"),
    ] = 0
    counted_on: Annotated[date | None, Day()] = None
    supplier: Annotated[str, Text()] = ""
    unit: Annotated[str, Text(), Field(title="Sold by the")] = ""
    replaces: Annotated[
        tuple[str, ...],
        ListOf(Text(), "Items it stands in for: plug, or hose:HS2.", one=True),
        Field(title="Stands in for"),
    ] = ()
    quoted: Annotated[
        bool, Flag("The price is a quotation."), Field(title="The price is a quotation")
    ] = False
    note: Annotated[str, Text()] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StockFile:
    """``stock.toml``."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "stock.toml"
    __words__: ClassVar[str] = (
        "Parts and consumables: stock, price, who sends them and how long that takes."
    )

    part: Annotated[tuple[Part, ...], ListOf(Part)] = ()


def parts_from(raw: Mapping[str, Any], where: Where) -> dict[str, Part]:
    """The parts by their ids, from ``stock.toml``."""
    return by_id(read(StockFile, raw, where).part, "part", where)
