"""Why a verdict is what it is, as values; `reason_words` makes them sentences, for a screen or a record."""

from __future__ import annotations

from dataclasses import dataclass

from rehang.calc.outlier import Grubbs
from rehang.trade.facts.items import Word
from rehang.trade.known.state import Finding
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.kinds.items import Spoilt
from rehang.trade.terms.quantities import Quantity
from rehang.trade.verdicts.calls import Call

__all__ = [
    "AllWithin",
    "Apart",
    "ApartFromFellows",
    "BeyondLimit",
    "Blind",
    "Called",
    "CloseCall",
    "CountAgainstWord",
    "Decided",
    "Ended",
    "FarBelowFellows",
    "LookedAt",
    "OddOne",
    "OfRun",
    "OpenFinding",
    "Reason",
    "Scrap",
    "Settled",
    "TakeAgain",
    "TakeAllAgain",
    "ToTake",
    "Travels",
    "Unjudged",
]


@dataclass(frozen=True, slots=True)
class Decided:
    """A person decided against what was proposed; ``text`` is their reason."""

    by: str
    verdict: str
    proposed: str
    text: str


@dataclass(frozen=True, slots=True)
class ApartFromFellows:
    """One cylinder ``gap`` psi below the ``middle`` of the others, whatever its limit."""

    gap: int
    middle: float


@dataclass(frozen=True, slots=True)
class FarBelowFellows:
    """A reading more than ``times`` below the ``middle`` of the others, both in base steps."""

    label: str
    value: int
    middle: float
    times: float
    quantity: Quantity


@dataclass(frozen=True, slots=True)
class OddOne:
    """Of ``n`` figures read together, the one that Grubbs' test sets apart."""

    label: str
    value: int
    test: Grubbs
    n: int
    quantity: Quantity


Apart = ApartFromFellows | FarBelowFellows | OddOne


@dataclass(frozen=True, slots=True)
class Ended:
    """What ended a part, however it tests: dropped, overheated, no known history."""

    entry: Entry[Spoilt]


@dataclass(frozen=True, slots=True)
class Scrap:
    """An open finding of severity 3."""

    finding: Finding


@dataclass(frozen=True, slots=True)
class BeyondLimit:
    """A call of OUT. One that is only read ``once`` counts when it is repeated."""

    call: Call
    once: bool = False


@dataclass(frozen=True, slots=True)
class Blind:
    """A check that passed and cannot see what another found; ``why`` is its sheet's own."""

    call: Call
    why: str


@dataclass(frozen=True, slots=True)
class OpenFinding:
    """A finding of severity 2 that nobody closed."""

    finding: Finding


@dataclass(frozen=True, slots=True)
class LookedAt:
    """A look that found what its limit does not allow."""

    call: Call


@dataclass(frozen=True, slots=True)
class CountAgainstWord:
    """A count and the word for what was seen: both cannot be right."""

    worst: float
    unit: str
    said: str


@dataclass(frozen=True, slots=True)
class ToTake:
    """Checks that nobody has taken."""

    calls: tuple[Call, ...]


@dataclass(frozen=True, slots=True)
class CloseCall:
    """A reading whose meter cannot tell."""

    call: Call


@dataclass(frozen=True, slots=True)
class TakeAgain:
    """A check that is on file and answers nothing: void, or no reading."""

    call: Call


@dataclass(frozen=True, slots=True)
class TakeAllAgain:
    """Many checks that one thing made void."""

    calls: tuple[Call, ...]


@dataclass(frozen=True, slots=True)
class Unjudged:
    """A reading with nothing on file to judge it by."""

    call: Call


@dataclass(frozen=True, slots=True)
class AllWithin:
    """Every check asked for is WITHIN."""


@dataclass(frozen=True, slots=True)
class Called:
    """A close call that a person called."""

    call: Call


@dataclass(frozen=True, slots=True)
class Settled:
    """A finding of severity 2 or more that was settled, and how."""

    finding: Finding


@dataclass(frozen=True, slots=True)
class Travels:
    """What a finding, settled here, asks of another item (``kind:name``)."""

    target: str
    word: Word


@dataclass(frozen=True, slots=True)
class OfRun:
    """What a run's figure says of this part."""

    finding: Finding


Reason = (
    Decided
    | ApartFromFellows
    | FarBelowFellows
    | OddOne
    | Ended
    | Scrap
    | BeyondLimit
    | Blind
    | OpenFinding
    | LookedAt
    | CountAgainstWord
    | ToTake
    | CloseCall
    | TakeAgain
    | TakeAllAgain
    | Unjudged
    | AllWithin
    | Called
    | Settled
    | Travels
    | OfRun
)
