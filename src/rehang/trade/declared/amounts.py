"""An amount with its unit as a file states it, read into base steps of what it is an amount of."""

from collections.abc import Callable
from dataclasses import KW_ONLY, dataclass
from typing import Any, Protocol, cast

from pydantic_core import core_schema

from rehang.trade.declared.values import Text, said

__all__ = ["Amount", "Steps"]

_WORDS = "A number with its unit, as in 0.019 in, 5000 ohm or 50 %."


class Steps(Protocol):
    """Whoever reads a table with amounts: knows what they are of."""

    def steps(self, text: str, key: str, *, above_zero: bool) -> int:
        """An amount in base steps; ``above_zero`` where it may not be 0."""


@dataclass(frozen=True, slots=True)
class Amount(Text):
    """A number with its unit; one without quotes is read too, and refused for want of a unit."""

    _: KW_ONLY
    above_zero: bool = False
    also: tuple[type, ...] = (int, float)
    into: Callable[[int], Any] = int

    def core(self) -> core_schema.CoreSchema:
        return core_schema.with_info_after_validator_function(self._steps, Text.core(self))

    def _steps(self, text: str, info: core_schema.ValidationInfo) -> Any:
        reader = cast("Steps", info.context)
        key = info.field_name or ""
        return said(lambda one: self.into(reader.steps(one, key, above_zero=self.above_zero)))(text)

    def schema(self) -> dict[str, Any]:
        found = Text.schema(self)
        return found | {"description": f"{self.description} {_WORDS}".strip()}
