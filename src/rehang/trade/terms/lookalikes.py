"""Names that look the same and are not: Cyrillic and Greek letters among Latin ones.

The pairs are those of Unicode Technical Standard 39 (confusables.txt) that fall on a plain Latin
letter, capital letters and the small ones that serials are written in.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Collection, Iterable

from rehang.trade.terms.errors import NotAllowed
from rehang.trade.terms.wording import listed

__all__ = ["as_it_looks", "check_no_twin", "odd_letters", "odd_names"]

_LOOKS = str.maketrans(
    "АВЕЅІЈКМНОРСТУХԚԜавеѕіјкмнорстухԛԝΑΒΕΖΗΙΚΜΝΟΡΤΥΧϹοϲν",
    "ABESIJKMHOPCTYXQWaBesijkMHopcTyxqwABEZHIKMNOPTYXCocv",
)


def as_it_looks(text: str) -> str:
    """A name with each letter that looks like a Latin one written as that one."""
    return text if text.isascii() else text.translate(_LOOKS)


def odd_letters(text: str) -> list[str]:
    """The letters of a name that only look like Latin ones."""
    if text.isascii():
        return []
    return [c for c in dict.fromkeys(text) if c.translate(_LOOKS) != c]


def check_no_twin(item: str, known: Collection[str]) -> None:
    """Refuse an item that looks like one in the job and is written with other letters."""
    if not item or item in known:
        return
    looks, plain = as_it_looks(item), item.isascii()
    for one in known:
        # Two ASCII names look alike only where they are the same, which was asked above.
        if not (plain and one.isascii()) and as_it_looks(one) == looks:
            odd = item if odd_letters(item) else one
            raise NotAllowed(
                f"{_said(odd)} It looks like {looks if odd == item else item}, and is another. "
                "Write it with the letters of the one that it is."
            )


def odd_names(names: Iterable[str]) -> list[str]:
    """A sentence for each name that has letters which only look like Latin ones."""
    return [_said(name) for name in dict.fromkeys(names) if odd_letters(name)]


def _said(name: str) -> str:
    odd = [f"{c} ({unicodedata.name(c).lower()})" for c in odd_letters(name)]
    return (
        f'"{name}" has {listed(odd)}, which {"is" if len(odd) == 1 else "are"} no Latin '
        f"{'letter' if len(odd) == 1 else 'letters'}."
    )
