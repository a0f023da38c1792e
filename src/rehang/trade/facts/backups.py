"""``[backup]`` of ``shop.toml``: where backups go, how often, and when the board asks for one."""

from dataclasses import dataclass
from datetime import time
from typing import Annotated, ClassVar

from pydantic import Field

from rehang.trade.declared.values import STRICT, Flag, Text, Whole
from rehang.trade.facts.shop import clock_from

__all__ = ["Backups"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Backups:
    """How the shop keeps its books safe. The days are the shop's own choice, with no source."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "[backup]"
    __words__: ClassVar[str] = "Where backups go, how often, and when the board asks for one."

    to: Annotated[
        str,
        Text("On the machine that keeps the books, as in /media/stick.", longest=400),
        Field(title="Folder or stick"),
    ] = ""
    every_days: Annotated[
        int, Whole(1, 31, "Days from one to the next."), Field(title="Every so many days")
    ] = 1
    at: Annotated[
        time,
        Text('By the shop\'s clock, as in "12:30".', also=(time,), parse=clock_from),
        Field(title="At"),
    ] = time(12, 30)
    # With two, the one before stays until the new one is proved.
    keep: Annotated[
        int, Whole(2, 1_000, "The oldest goes when a new one is proved."), Field(title="Kept")
    ] = 14
    ask_after_days: Annotated[
        int,
        Whole(1, 365, "Days without a proved backup after which the board says so."),
        Field(title="The board asks after days"),
    ] = 7
    accounts: Annotated[
        bool,
        Flag("As they are kept, which is not as they are typed."),
        Field(title="With passwords and PINs"),
    ] = False
