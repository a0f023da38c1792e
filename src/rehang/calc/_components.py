"""What each input contributes to a standard uncertainty, and how they are put together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from rehang.calc import _inputs as check
from rehang.calc._inputs import FloatArray, FloatOrArray


@dataclass(frozen=True, slots=True)
class Component:
    """What one input contributes to a standard uncertainty."""

    source: str
    standard_uncertainty: FloatOrArray  # [unit of the result]


def components(parts: Mapping[str, FloatArray]) -> tuple[Component, ...]:
    """The parts, by name, without their signs."""
    return tuple(
        Component(source=name, standard_uncertainty=check.plain(np.abs(np.asarray(part))))
        for name, part in parts.items()
    )


def root_sum_square(parts: Mapping[str, FloatArray]) -> FloatArray:
    """Inputs that do not depend on each other. JCGM 100:2008, eq. (10)."""
    total = np.asarray(0.0)
    for part in parts.values():
        total = np.asarray(np.hypot(total, part))
    return total
