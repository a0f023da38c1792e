"""The shapes and colours of a chart, by the light it is read in."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

__all__ = ["ARROW", "CIRCLE", "FONT", "LOOKS", "PALETTES", "PARTS", "part_of"]

# What a reader of the drawing can ask for by name: how layers begin, and the part they are of.
PARTS: Mapping[str, str] = MappingProxyType(
    {
        "fellows": "fellows",
        "usual": "usual",
        "close": "close-call",
        "fan": "fan",
        "limit": "limit",
        "other": "other",
        "line": "line",
        "bar": "bars",
        "left": "points",
        "point": "points",
        "break": "breaks",
        "labels": "labels",
    }
)

_TOKENS = (
    "paper", "bench", "steel", "ink", "ink2", "line", "within", "within-fill", "close-fill",
    "half", "out-fill", "on-out", "wait-fill",
)  # fmt: skip


def _palette(*values: str) -> Mapping[str, str]:
    return MappingProxyType(dict(zip(_TOKENS, values, strict=True)))


# The colours of tokens.css, light by light; a test holds the two together.
PALETTES: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "day": _palette(
            "#FFFFFF", "#EDEFEC", "#DCE1E0", "#10171C", "#3C474D", "#66747B", "#0B4F94",
            "#E3EEF9", "#FFB861", "#FFB861", "#8E0B16", "#FFFFFF", "#D3D9DC",
        ),
        "dim": _palette(
            "#0C1114", "#171F24", "#222D34", "#F3F6F4", "#B9C4C9", "#7F8E96", "#9CCBFF",
            "#10263D", "#FFB861", "#FFB861", "#CF2631", "#FFFFFF", "#46535B",
        ),
        "sun": _palette(
            "#FFFFFF", "#FFFFFF", "#FFFFFF", "#000000", "#000000", "#000000", "#000000",
            "#FFFFFF", "#FFFFFF", "#000000", "#000000", "#FFFFFF", "#FFFFFF",
        ),
        "print": _palette(
            "#FFFFFF", "#FFFFFF", "#FFFFFF", "#000000", "#000000", "#000000", "#000000",
            "#FFFFFF", "#FFFFFF", "#000000", "#000000", "#FFFFFF", "#FFFFFF",
        ),
        # One colour for each name, so that a drawing for the page can be told by its colours and
        # left to the page's style sheet.
        "page": _palette(*(f"#0A0B{n:02X}" for n in range(len(_TOKENS)))),
    }
)  # fmt: skip

FONT = "Noto Sans, system-ui, sans-serif"

# Shapes in a box from -1 to 1, after the marks of the page: circle, half diamond, octagon, ring,
# struck square. One shape, one meaning.
CIRCLE = "circle"

_DIAMOND = "M0,-.87L.87,0L0,.87L-.87,0Z"

_HALF = "M0,-.87V.87L-.87,0Z"

_OCTAGON = "M-.37,-.88H.37L.88,-.37V.37L.37,.88H-.37L-.88,.37V-.37Z"

_SQUARE = "M-.75,-.75H.75V.75H-.75Z"

_TICK = "M-.4,.05L-.12,.33L.42,-.28"

_BANG = "M0,-.43V.12M0,.38V.42"

_CROSS = "M-.35,-.35L.35,.35M.35,-.35L-.35,.35"

_DASH = "M-.38,0H.38"

_SLASH = "M-.58,.58L.58,-.58"

ARROW = "M0,-1L.8,.5H-.8Z"


def part_of(layer: str) -> str:
    """The part of the drawing that a layer belongs to; empty for grid and axes."""
    return next((part for begins, part in PARTS.items() if layer.startswith(begins)), "")


# Each status as the page's marks draw it: what is laid down, from below to above.
LOOKS: Mapping[str, tuple[tuple[str, dict[str, Any]], ...]] = MappingProxyType(
    {
        "aside": (
            (
                "point_shape",
                {"shape": CIRCLE, "across": 9, "fill": "paper", "stroke": "line", "width": 1.5},
            ),
        ),
        "plain": (("point_plain", {"shape": CIRCLE, "across": 13, "fill": "ink"}),),
        "within": (
            ("point_shape", {"shape": CIRCLE, "across": 22, "fill": "within-fill", "stroke": "within", "width": 2.4}),
            ("point_sign", {"shape": _TICK, "across": 24, "stroke": "within", "width": 2.6}),
        ),
        "close-call": (
            ("point_shape", {"shape": _DIAMOND, "across": 26, "fill": "paper"}),
            ("point_half", {"shape": _HALF, "across": 26, "fill": "half"}),
            ("point_line", {"shape": _DIAMOND, "across": 26, "stroke": "ink", "width": 2.2}),
            ("point_sign", {"shape": _BANG, "across": 26, "stroke": "ink", "width": 2.6}),
        ),
        "out": (
            ("point_shape", {"shape": _OCTAGON, "across": 26, "fill": "out-fill"}),
            ("point_sign", {"shape": _CROSS, "across": 26, "stroke": "on-out", "width": 2.8}),
        ),
        "not-judged": (
            ("point_shape", {"shape": CIRCLE, "across": 22, "fill": "paper", "stroke": "ink", "width": 2.4}),
            ("point_sign", {"shape": _DASH, "across": 24, "stroke": "ink", "width": 2.6}),
        ),
        "void": (
            ("point_shape", {"shape": _SQUARE, "across": 24, "fill": "paper", "stroke": "line", "width": 2, "dash": (3, 3)}),
            ("point_sign", {"shape": _SLASH, "across": 24, "stroke": "ink", "width": 2.4}),
        ),
    }
)  # fmt: skip
