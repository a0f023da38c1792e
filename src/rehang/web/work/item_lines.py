"""The parts at one place of a task, a line each, with what may be written of it there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from rehang.trade.known.state import item_kind

__all__ = ["AllRead", "ItemLine", "ItemLink", "QuickAct", "ReadLink", "all_reads", "item_lines"]


@dataclass(frozen=True, slots=True)
class ItemLink:
    item: str
    label: str
    verdict: str
    mark: str


@dataclass(frozen=True, slots=True)
class QuickAct:
    """What one tap may write about an item at a place: a sound look, or that it was worked on.

    ``voids`` says what was read already and counts no more after that tap.
    """

    label: str
    kind: str
    item: str
    check: str
    word: str
    act: str
    voids: str = ""


@dataclass(frozen=True, slots=True)
class ReadLink:
    """A check that is still to be taken, where it is taken; ``in_rows``: with its fellows' too."""

    label: str
    item: str
    check: str
    in_rows: bool = False


@dataclass(frozen=True, slots=True)
class ItemLine:
    """One part, the taps that it still asks for and the checks that are still to be taken."""

    link: ItemLink
    acts: tuple[QuickAct, ...]
    reads: tuple[ReadLink, ...]


@dataclass(frozen=True, slots=True)
class AllRead:
    """A check that several parts of a place still ask for, read of them on one page."""

    label: str
    kind: str
    check: str
    number: int


def all_reads(reads: Sequence[ReadLink]) -> tuple[AllRead, ...]:
    """Each check that may be read in rows and that two parts or more ask for."""
    counts = Counter((item_kind(one.item), one.check, one.label) for one in reads if one.in_rows)
    return tuple(
        AllRead(label, kind, check, number)
        for (kind, check, label), number in counts.items()
        if number > 1
    )


def item_lines(
    links: Sequence[ItemLink], acts: Sequence[QuickAct], reads: Sequence[ReadLink]
) -> tuple[ItemLine, ...]:
    """A line for each part where there are several; none where the place is of one part."""
    if len(links) < 2:
        return ()
    together = {(one.kind, one.check) for one in all_reads(reads)}
    return tuple(
        ItemLine(
            link,
            tuple(one for one in acts if one.item == link.item),
            tuple(
                one
                for one in reads
                if one.item == link.item and (item_kind(one.item), one.check) not in together
            ),
        )
        for link in links
    )
