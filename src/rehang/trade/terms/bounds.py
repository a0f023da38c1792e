"""What one entry may hold, whatever the book says: lengths, numbers, blanks, digits, names.

The bounds keep slips and nonsense out; they are no limits of the trade (common practice, no source).
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from typing import Any

from rehang.trade.terms.entries import LONGEST_FILE, Entry
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.terms.kinds import KINDS
from rehang.trade.terms.wording import invisible_in, is_blank

__all__ = [
    "LONGEST",
    "LONGEST_RECORD",
    "LONGEST_TEXT",
    "REASONED",
    "check_bounds",
    "check_fits",
    "check_sizes",
    "name_fault",
]

# Longest texts that are kept, in characters.
LONGEST = {
    "item": 120, "place": 200, "check": 60, "meter": 60, "word": 60, "range": 60, "by": 60,
    "written": 200, "serial": 120, "for": 120, "part": 120, "task": 60, "run": 60, "what": 200,
}  # fmt: skip
LONGEST_TEXT = 4_000
# A signed record holds its whole text, some pages of it.
LONGEST_RECORD = 60_000
# What a table or a list in an entry holds at most, and how deep they may lie in each other.
MOST_WITHIN = 2_000
DEEPEST = 4

# Field -> least and most.
_NUMBERS: Mapping[str, tuple[float, float]] = {
    "hours": (0, 200_000),
    "engine_hours": (0, 200_000),
    "item_hours": (0, 200_000),
    "oil_hours": (0, 10_000),
    "added_qt": (0, 1_000),
    "fill_qt": (0, 1_000),
    "left_share": (0, 1),
    "number": (-100_000, 100_000),
    "done": (-10_000, 10_000),
    "of": (-10_000, 10_000),
    "passes": (1, 20),
    "at_psi": (0, 1_000),
    "pieces": (-1_000_000, 1_000_000),
    "magnetic": (-1_000_000, 1_000_000),
    "largest_mm": (0, 1_000),
    "price": (-10_000_000, 10_000_000),
}
# Any other number.
_MOST = 1_000_000_000

# Texts that are told apart by their characters: an invisible one, or a digit that only looks like
# 0 to 9, would make two names of one.
_NAMES = ("item", "serial", "for", "part", "meter", "check", "place", "run", "task", "recurring")
_DIGITS = (*_NAMES, "written", "range", "wanted", "set_to", "drag", "on", "due", "good")

# A remark, and the mark that looks of one time share: nothing rests on what they say.
_MAY_BE_BLANK = ("note", "set")

_EMPTY = {
    ("needed", "reason"): "Write why {part} is needed.",
    ("not_needed", "reason"): "Write why {part} is not needed.",
    ("struck", "reason"): "Striking an entry takes a reason. Write it.",
}
# Kinds that settle something by a person's reason, which has a rule of its own (powers.check_reason).
REASONED = ("called", "closed", "closed_short", "disagreed", "proved", "found_out")


def check_bounds(entry: Entry) -> None:
    """Refuse an entry by what it holds alone.

    Raises
    ------
    BadInput, NotAllowed
        The sentence of the first thing in it that cannot be.
    """
    if entry.is_fit:
        return
    must = KINDS[entry.kind][0]
    check_sizes(entry)
    for name, value in entry.data.items():
        if isinstance(value, str):
            if name == "reason" and entry.kind in REASONED:
                continue
            if (name in must or (value and name not in _MAY_BE_BLANK)) and is_blank(value):
                raise NotAllowed(_empty(entry, name, name in must))
            if not value.isascii():
                _check_characters(name, value)
    object.__setattr__(entry, "is_fit", True)


def check_sizes(entry: Entry) -> None:
    """Refuse what no page can show: texts, numbers, lists and tables beyond all bounds.

    Raises
    ------
    BadInput
        Naming the field.
    """
    check_fits(entry)
    for name, value in entry.data.items():
        if not isinstance(value, bool) and isinstance(value, (int, float)):
            least, most = _NUMBERS.get(name, (-_MOST, _MOST))
            if not least <= value <= most:
                raise BadInput(
                    f'"{name}" is {_number(value)}; it lies between {least:,} and {most:,}. '
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
    longest = {"filed": LONGEST_FILE, "signed": LONGEST_RECORD}.get(entry.kind, LONGEST_TEXT)
    _check_text("by", entry.by, LONGEST["by"])
    for name, value in entry.data.items():
        if isinstance(value, str):
            most = LONGEST.get(name, longest) if longest == LONGEST_TEXT else longest
            # The index of readings holds no longer name of a place.
            _check_text(name, value, 20 if (entry.kind, name) == ("reading", "place") else most)
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
    plain = unicodedata.normalize("NFKC", text)
    if plain != text:
        odd = next((c for c in text if unicodedata.normalize("NFKC", c) != c), "")
        about = f" has {_character(odd)}" if odd else " is put together from parts"
        return f'"{text}"{about}. Write it as "{plain}".'
    return ""


def _empty(entry: Entry, name: str, needed: bool) -> str:
    if needed and (entry.kind, name) in _EMPTY:
        return _EMPTY[entry.kind, name].format_map(entry.data)
    said = f'"{name}" of an entry of kind "{entry.kind}" is empty'
    return f"{said}. Write it." if needed else f"{said}. Write it, or leave it out."


def _check_text(name: str, text: str, most: int) -> None:
    if len(text) > most:
        raise BadInput(f'"{name}" has {len(text):,} characters; the book keeps at most {most:,}.')
    if "\0" in text:
        raise BadInput("The entry has a NUL character in it. Take it out.")


def _check_characters(name: str, text: str) -> None:
    if name in _NAMES:
        fault = name_fault(text)
        if fault:
            raise BadInput(fault)
    if name in _DIGITS:
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
            _check_text(name, str(key), LONGEST["item"])
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
    elif isinstance(value, (int, float)) and not -_MOST <= value <= _MOST:
        raise BadInput(f'"{name}" has {_number(value)} in it. Look at the digits again.')


def _number(value: float) -> str:
    """A number as a sentence shows it; one of hundreds of digits by their count."""
    text = f"{value:,}" if abs(value) < 10**18 else ""
    return text or f"a number of {len(f'{int(value)}'):,} digits"


def _character(one: str) -> str:
    return f"{unicodedata.name(one, f'U+{ord(one):04X}').lower()} (U+{ord(one):04X})"
