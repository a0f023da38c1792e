"""Many at once, a block at a time."""

from __future__ import annotations

from collections.abc import Callable
from math import prod

import numpy as np

from rehang.calc._inputs import FloatArray

# What a block works on stays in the cache of a processor, and memory is not asked for anew.
BLOCK = 1 << 15


def in_blocks(
    function: Callable[..., FloatArray], *values: FloatArray, block: int = BLOCK
) -> FloatArray:
    """A function of each element by itself, over arrays that broadcast.

    It is given single numbers as they are, and of arrays blocks with one axis.
    """
    shape = np.broadcast_shapes(*(value.shape for value in values))
    size = prod(shape)
    if size <= block:
        return function(*values)
    rows = [value if not value.ndim else np.broadcast_to(value, shape).ravel() for value in values]
    found = np.empty(size)
    for start in range(0, size, block):
        part = slice(start, start + block)
        found[part] = function(*(row[part] if row.ndim else row for row in rows))
    return found.reshape(shape)
