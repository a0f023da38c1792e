"""What one entry may hold, whatever the book says: lengths, numbers, blanks, digits, names.

What each field may hold is declared with it (:mod:`rehang.trade.terms.kinds.fields`).
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from typing import Any

from rehang.trade.terms.entries import Entry
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.terms.kinds.fields import LONGEST_TEXT, MOST, EntryField, Holds, Reasoned
from rehang.trade.terms.kinds.register import CLASSES, FIELDS
from rehang.trade.terms.wording import invisible_in, is_blank

__all__ = [
    "LONGEST_BY",
    "check_bounds",
    "check_fits",
    "check_sizes",
    "name_fault",
]

LONGEST_BY = 60
# A key of a table in an entry: the name of a thing.
LONGEST_KEY = 120
# What a table or a list in an entry holds at most, and how deep they may lie in each other.
MOST_WITHIN = 2_000
DEEPEST = 4


def check_bounds(entry: Entry) -> None:
    """Refuse an entry by what it holds alone.

    Raises
    ------
    BadInput, NotAllowed
        The sentence of the first thing in it that cannot be.
    """
    if entry.is_fit:
        return
    kind, declared = CLASSES[entry.kind], FIELDS[entry.kind]
    check_sizes(entry)
    for name, value in entry.data.items():
        if isinstance(value, str):
            # The gate asks more of such a reason, and says so in its own words.
            if name == "reason" and issubclass(kind, Reasoned):
                continue
            one = declared[name]
            if (one.needed or (value and not one.holds.may_be_blank)) and is_blank(value):
                raise NotAllowed(_empty(entry, name, one))
            if not value.isascii():
                _check_characters(one.holds, value)
    # Past the freeze: it is remembered and no part of what the entry says.
    object.__setattr__(entry, "is_fit", True)


def check_sizes(entry: Entry) -> None:
    """Refuse what no page can show: texts, numbers, lists and tables beyond all bounds.

    Raises
    ------
    BadInput
        Naming the field.
    """
    check_fits(entry)
    declared = FIELDS[entry.kind]
    for name, value in entry.data.items():
        # True is an int in Python, and no number here.
        if not isinstance(value, bool) and isinstance(value, (int, float)):
            holds = declared[name].holds
            if not holds.least <= value <= holds.most:
                raise BadInput(
                    f'"{name}" is {_number(value)}; it lies between {holds.least:,} and '
                    f"{holds.most:,}. "
                    "Look at the digits again."
                )
        elif isinstance(value, (Mapping, list)):
            _check_within(name, value, 1)


def check_fits(entry: Entry) -> None:
    """Refuse what no store can hold exactly: texts that are too long, NUL characters.

    Raises
    ------
    BadInput
        Naming the field.
    """
    kind, declared = CLASSES[entry.kind], FIELDS[entry.kind]
    own = kind.longest_text if kind.longest_text != LONGEST_TEXT else 0
    _check_text("by", entry.by, LONGEST_BY)
    for name, value in entry.data.items():
        if isinstance(value, str):
            _check_text(name, value, own or declared[name].holds.longest or LONGEST_TEXT)
        elif isinstance(value, (Mapping, list)):
            _check_texts_within(name, value)


def name_fault(text: str) -> str:
    """Why a text cannot name a thing: what cannot be seen in it, or letters of another width."""
    hidden = invisible_in(text)
    if hidden:
        return (
            f'"{text}" has {_character(hidden)} in it, which cannot be seen. Take it out: two names '
            "that look the same must be the same."
        )
    # DESIGN 4b, 15: names are compared after NFKC, so they are written in it.
    plain = unicodedata.normalize("NFKC", text)
    if plain != text:
        odd = next((c for c in text if unicodedata.normalize("NFKC", c) != c), "")
        about = f" has {_character(odd)}" if odd else " is put together from parts"
        return f'"{text}"{about}. Write it as "{plain}".'
    return ""


def _empty(entry: Entry, name: str, one: EntryField) -> str:
    if one.holds.empty:
        return one.holds.empty.format_map(entry.data)
    said = f'"{name}" of an entry of kind "{entry.kind}" is empty'
    return f"{said}. Write it." if one.needed else f"{said}. Write it, or leave it out."


def _check_text(name: str, text: str, most: int) -> None:
    if len(text) > most:
        raise BadInput(f'"{name}" has {len(text):,} characters; the book keeps at most {most:,}.')
    if "\0" in text:
        raise BadInput("The entry has a NUL character in it. Take it out.")


def _check_characters(holds: Holds, text: str) -> None:
    if holds.names:
        fault = name_fault(text)
        if fault:
            raise BadInput(fault)
    if holds.digits:
        # Python takes the digits of every script for numbers; other readers of the book do not.
        odd = next((c for c in text if c.isdecimal() and not c.isascii()), "")
        if odd:
            raise BadInput(
                f'"{text}" has {_character(odd)}. Write digits as 0 to 9: '
                f"{''.join(str(unicodedata.decimal(c, c)) for c in text)}."
            )


def _check_texts_within(name: str, value: object) -> None:
    if isinstance(value, str):
        _check_text(name, value, LONGEST_TEXT)
    elif isinstance(value, Mapping):
        for key, inner in value.items():
            _check_text(name, str(key), LONGEST_KEY)
            _check_texts_within(name, inner)
    elif isinstance(value, list):
        for inner in value:
            _check_texts_within(name, inner)


def _check_within(name: str, value: Any, depth: int) -> None:
    if isinstance(value, (Mapping, list)):
        if depth > DEEPEST or len(value) > MOST_WITHIN:
            raise BadInput(
                f'"{name}" holds more than can be: at most {MOST_WITHIN:,} things, {DEEPEST} deep.'
            )
        for inner in value.values() if isinstance(value, Mapping) else value:
            _check_within(name, inner, depth + 1)
    elif isinstance(value, (int, float)) and not -MOST <= value <= MOST:
        raise BadInput(f'"{name}" has {_number(value)} in it. Look at the digits again.')


def _number(value: float) -> str:
    """A number as a sentence shows it; one of hundreds of digits by their count."""
    text = f"{value:,}" if abs(value) < 10**18 else ""
    return text or f"a number of {len(f'{int(value)}'):,} digits"


def _character(one: str) -> str:
    return f"{unicodedata.name(one, f'U+{ord(one):04X}').lower()} (U+{ord(one):04X})"
