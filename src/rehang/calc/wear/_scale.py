"""The scale that values grow evenly on, and the way that they go."""

from __future__ import annotations

from typing import Literal

import numpy as np

from rehang.calc._inputs import FloatArray
from rehang.calc.errors import OutOfRange

Scale = Literal["linear", "log"]
Direction = Literal["either", "up", "down"]


def to_scale(values: FloatArray, scale: Scale) -> FloatArray:
    if scale == "linear":
        return values
    if not (values > 0).all():
        raise OutOfRange(
            f"On a log scale a value must be above 0: got {float(values.min()):g}. Leave out what "
            "is short or was not read."
        )
    return np.asarray(np.log(values))
