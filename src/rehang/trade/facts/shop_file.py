"""``shop.toml``: what of a shop is no person's, meter's or engine's own."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, ClassVar

from pydantic import Field

from rehang.trade.declared.taken import Where, read
from rehang.trade.declared.values import STRICT, Flag, Given, Number, Text
from rehang.trade.facts.backups import Backups
from rehang.trade.facts.engine import FORMAT, Engine, Thresholds, check_thresholds
from rehang.trade.facts.layout import Layout
from rehang.trade.facts.shop import Shop

__all__ = ["NO_LAYOUT", "SHOP_BOOK", "ShopFile", "shop_from"]

# The name of the shop's own book. No job can have it: a job's name has no underscore.
SHOP_BOOK = "the_shop"
NO_LAYOUT = Layout(
    name="none",
    title="no engine",
    cylinders=(),
    rows=(),
    firing_order=(),
    ignition={},
    rotation={},
    source="a shop is no engine",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopFile:
    """The shop: what a new job begins with. Its keys are those that a job's own file knows."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "shop.toml"
    __words__: ClassVar[str] = "The shop: what every new job begins with."

    format: Annotated[int, Given({"const": FORMAT, "description": "Version of the folder."})]
    shop: Annotated[
        str, Text("Name of the shop.", longest=200, needed=True), Field(title="Name of the shop")
    ]
    place: Annotated[str, Text("Where it is.", longest=200)] = ""
    timezone: Annotated[str, Text("As in America/Chicago.", needed=True), Field(title="Time zone")]
    # The lowest shore and the highest field there are.
    elevation_ft: Annotated[
        float,
        Number(-1_500, 18_000, "Of the place above sea level, in feet."),
        Field(title="Height of the place, feet"),
    ] = 0.0
    thresholds: Annotated[Thresholds, Field(title="When a reading is in or out")] = field(
        default_factory=Thresholds
    )
    shop_hours: Shop = field(default_factory=Shop)
    backup: Annotated[Backups, Field(title="Backup")] = field(default_factory=Backups)
    demo_away: Annotated[
        bool, Flag("The demo jobs stand on no list."), Field(title="The demo is put away")
    ] = False
    invented: Annotated[bool, Flag(), Field(title="Made up, for show")] = False
    note: Annotated[str, Text()] = ""


def shop_from(raw: Mapping[str, Any], where: Where) -> Engine:
    """The shop as the head of a book that has no engine.

    Raises
    ------
    BadInput
        With the place, for the first thing that cannot be.
    """
    shop = read(ShopFile, raw, where)
    check_thresholds(shop.thresholds, where)
    return Engine(
        format=shop.format,
        job=SHOP_BOOK,
        title=shop.shop,
        layout=NO_LAYOUT.name,
        shop=shop.shop,
        place=shop.place,
        timezone=shop.timezone,
        elevation_ft=shop.elevation_ft,
        thresholds=shop.thresholds,
        shop_hours=shop.shop_hours,
        invented=shop.invented,
        inspect=(),
    )
