"""Pieces that every drawing is made of: SVG text, with classes that a page's style sheet colours."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from math import atan2, cos, sin

__all__ = ["arrow", "short", "svg", "words_at"]


def short(value: float) -> str:
    """A coordinate, short: 12, 12.5."""
    return f"{value:.1f}".removesuffix(".0")


def words_at(
    x: float, y: float, words: str, kind: str = "drawn-quiet", anchor: str = "middle"
) -> str:
    return f'<text x="{short(x)}" y="{short(y)}" class="{kind}" text-anchor="{anchor}">{escape(words, quote=False)}</text>'


def svg(width: float, height: float, kind: str, words: str, parts: Sequence[str]) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{kind}" viewBox="0 0 {short(width)} '
        f'{short(height)}" width="{short(width)}" height="{short(height)}" role="img" '
        f'aria-label="{escape(words)}">{"".join(parts)}</svg>'
    )


def arrow(x1: float, y1: float, x2: float, y2: float, kind: str = "drawn-line") -> str:
    """A straight arrow with its head at the second point."""
    turn = atan2(y2 - y1, x2 - x1)
    head = " ".join(
        f"{short(x2 - 11 * cos(turn + side))},{short(y2 - 11 * sin(turn + side))}"
        for side in (-0.45, 0.45)
    )
    return (
        f'<path d="M{short(x1)} {short(y1)}L{short(x2)} {short(y2)}" class="{kind}"/>'
        f'<polygon points="{short(x2)},{short(y2)} {head}" class="drawn-solid"/>'
    )
