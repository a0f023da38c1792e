"""Which models of engine a fact of the shop is for."""

from collections.abc import Sequence
from typing import Annotated

from pydantic import Field

from rehang.trade.declared.values import ListOf, Text

__all__ = ["Models", "is_for"]

Models = Annotated[
    tuple[str, ...],
    ListOf(Text(longest=200), "Engine models it is for, as on their plates; every one if none."),
    Field(title="Engine models"),
]


def is_for(models: Sequence[str], model: str) -> bool:
    """Whether what names these models is for an engine of that one, however it is spaced or cased."""
    plain = [" ".join(one.split()).casefold() for one in models]
    return not plain or " ".join(model.split()).casefold() in plain
