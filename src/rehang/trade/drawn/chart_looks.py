"""The shapes and colours of a chart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

__all__ = [
    "ARROW", "CIRCLE", "HALO", "LOOKS", "OPEN_POINT", "SET_POINT", "Look", "printed",
]  # fmt: skip

# On a page a colour is a class that the page's style sheet fills in, so one drawing serves every
# light; in a file and on paper it is black, or white where it is one of these.
_WHITE = frozenset({"paper", "bench", "steel", "within-fill", "close-fill", "on-out", "wait-fill"})


def printed(token: str) -> str:
    """A colour of the page in a drawing that is black and white alone."""
    return "#FFFFFF" if token in _WHITE else "#000000"


# Shapes in a box from -1 to 1, after the marks of the page: circle, half diamond, octagon, ring,
# struck square. One shape, one meaning.
CIRCLE = "M-1,0A1,1,0,1,1,1,0A1,1,0,1,1,-1,0Z"

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


@dataclass(frozen=True, slots=True)
class Look:
    """One shape so many pixels across, as it is filled and drawn round."""

    shape: str
    across: float
    fill: str = ""
    stroke: str = ""
    width: float = 0.0
    dash: tuple[float, ...] = ()


OPEN_POINT = Look(CIRCLE, 9, "paper", "line", 2)
SET_POINT = Look(CIRCLE, 10, "paper", "ink", 2.5)
PLAIN_POINT = Look(CIRCLE, 13, "ink")
HALO = Look(CIRCLE, 32, "paper")

# Each status as the page's marks draw it: what is laid down, from below to above.
LOOKS: Mapping[str, tuple[Look, ...]] = MappingProxyType(
    {
        "": (PLAIN_POINT,),
        "aside": (Look(CIRCLE, 9, "paper", "line", 1.5),),
        "within": (
            Look(CIRCLE, 22, "within-fill", "within", 2.4),
            Look(_TICK, 24, "", "within", 2.6),
        ),
        "close-call": (
            Look(_DIAMOND, 26, "paper"),
            Look(_HALF, 26, "half"),
            Look(_DIAMOND, 26, "", "ink", 2.2),
            Look(_BANG, 26, "", "ink", 2.6),
        ),
        "out": (Look(_OCTAGON, 26, "out-fill"), Look(_CROSS, 26, "", "on-out", 2.8)),
        "not-judged": (
            Look(CIRCLE, 22, "paper", "ink", 2.4),
            Look(_DASH, 24, "", "ink", 2.6),
        ),
        "void": (
            Look(_SQUARE, 24, "paper", "line", 2, (3, 3)),
            Look(_SLASH, 24, "", "ink", 2.4),
        ),
    }
)
