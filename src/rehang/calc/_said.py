"""Sentences about a result, for the arrays that calculations take."""

from __future__ import annotations

import numpy as np


def said(*cases: tuple[np.ndarray, str]) -> tuple[str, ...]:
    """A sentence for each case that is met, with how many of an array meet it."""
    sentences = []
    for met, sentence in cases:
        array = np.asarray(met)
        if array.any():
            many = f"{int(array.sum())} of {array.size}: " if array.ndim else ""
            sentences.append(many + sentence)
    return tuple(sentences)
