"""Series of readings: which way they run."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

__all__ = ["rises_running"]


def rises_running(values: Sequence[float]) -> int:
    """How many times running the series has risen, up to its last value."""
    rises = 0
    for after, before in pairwise(reversed(values)):
        if after <= before:
            break
        rises += 1
    return rises
