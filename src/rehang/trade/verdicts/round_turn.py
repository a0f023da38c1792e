"""Dial readings round a turn: what comes once a turn, what is left without it, and in words."""

from __future__ import annotations

from dataclasses import dataclass
from math import degrees

from rehang.calc.harmonic import FirstHarmonic, first_harmonic
from rehang.trade.facts.items import Check
from rehang.trade.facts.readings import CARRIED, Reading
from rehang.trade.terms.quantities import Quantity

__all__ = ["RoundTurn", "round_turn"]


@dataclass(frozen=True, slots=True)
class RoundTurn:
    """Readings round a turn, in units as they are shown, and the wave of one turn through them."""

    points: tuple[float, ...]
    fit: FirstHarmonic
    unit: str
    is_carried: bool

    @property
    def high_at(self) -> int:
        """Where the wave is highest, in whole degrees from the first reading."""
        return round(degrees(self.fit.high_at)) % 360

    @property
    def words(self) -> str:
        said = f"It ranges over {self._shown(self.fit.span)}."
        if self.fit.amplitude:
            said += (
                f" Once a turn: {self._shown(self.fit.amplitude)} either way, highest at "
                f"{self.high_at}°; {self._shown(self.fit.left_span)} is left without it."
            )
        return said + (
            " The dial was carried round, so what comes once a turn is how it was set up: what is "
            "left is judged."
            if self.is_carried
            else " The dial stood still, so what comes once a turn is the shaft's own: the whole range "
            "is judged."
        )

    def _shown(self, value: float) -> str:
        return f"{value:.1f} {self.unit}"


def round_turn(reading: Reading, check: Check) -> RoundTurn | None:
    """What a reading with figures round a turn comes to; None for any other."""
    quantity: Quantity | None = check.quantity
    if not check.points or quantity is None or len(reading.figures) != check.points:
        return None
    steps = float(quantity.units[quantity.keyed])
    points = tuple(one / steps for one in reading.figures)
    is_carried = reading.conditions.get("dial") == CARRIED
    return RoundTurn(points, first_harmonic(points), quantity.keyed, is_carried)
