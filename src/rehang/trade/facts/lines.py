"""The line: one row of the tray typed in one go, always in walk order.

``g 18 18 19 17 18 18 20 18`` is a gap for each hole. Words of one letter may run together
(``s ssssissn``). ``3b=19`` puts one value in one hole. ``-`` is not read. Spaces and tabs
separate, and so does a comma followed by a space. ``in 1T K0415`` puts a plug in, ``out 1T K0411``
takes one out.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from rehang.trade.facts.items import Check, CheckSheet, Word
from rehang.trade.facts.layout import Layout
from rehang.trade.facts.meters import Meter
from rehang.trade.facts.readings import NO_READING, read
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import parse_amount, plain_minus

__all__ = ["Cell", "FitLine", "Line", "parse_fit", "parse_line", "with_unit"]


@dataclass(frozen=True, slots=True)
class Cell:
    """What the line puts in one hole: ``written`` for a reading, ``words`` for a look.

    ``error`` says why it cannot be kept; ``skipped`` marks a hole written as not read.
    """

    hole: str
    typed: str
    written: str = ""
    words: tuple[str, ...] = ()
    error: str = ""
    skipped: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """A line as far as it has been typed. It can be kept when ``complete``."""

    check: Check | None
    cells: tuple[Cell, ...]
    message: str
    complete: bool
    needs_confirm: tuple[str, ...]


def parse_line(
    text: str,
    *,
    sheet: CheckSheet,
    layout: Layout,
    walk: Sequence[str] | None = None,
    meter: Meter | None = None,
    range_name: str = "",
) -> Line:
    """Read a line, half typed or whole. What is wrong is in ``message`` and the cells."""
    holes = list(walk if walk is not None else layout.walk)
    # Digits of another width are what they say; they are kept as 0 to 9.
    stripped = unicodedata.normalize("NFKC", text).strip()
    if not stripped:
        letters = ", ".join(f"{c.letter} {c.label.lower()}" for c in sheet.checks)
        return Line(None, (), f"Begin with a letter: {letters}.", False, ())
    letter, _, rest = stripped.replace("\t", " ").partition(" ")
    try:
        check = sheet.by_letter(letter)
    except BadInput as problem:
        return Line(None, (), str(problem), False, ())
    tokens = _tokens(rest, check, sheet)
    cells: dict[str, Cell] = {}
    message = _stray(tokens)
    row = [t for t in tokens if "=" not in t]
    for hole, token in zip(holes, row, strict=False):
        cells[hole] = _cell(hole, token, check, sheet, meter, range_name)
    for token in tokens:
        if "=" not in token:
            continue
        name, _, value = token.partition("=")
        if not name or not value:
            message = f'On one side of "{token}" nothing stands. Write a hole and what was read there, as in 3b=18.'
            continue
        try:
            hole = layout.check_hole(name)
        except BadInput as problem:
            message = str(problem)
            continue
        if hole in cells:
            message = f"{hole} stands here twice: {cells[hole].typed} and {value}. Keep the one that is meant."
            continue
        cells[hole] = _cell(hole, value, check, sheet, meter, range_name)
    complete = not message
    if not message:
        message, complete = _count(row, holes, bool(len(tokens) - len(row)))
    errors = [c for c in cells.values() if c.error]
    if errors:
        message, complete = f"{errors[0].hole}: {errors[0].error}", False
    confirm = tuple(
        c.hole
        for c in cells.values()
        # DESIGN 4a, 8: a word of severity 3 asks for one confirming tap.
        if any(sheet.words[w].severity == 3 and w in sheet.words for w in c.words)
    )
    return Line(
        check,
        tuple(cells[h] for h in layout.walk if h in cells),
        message,
        complete and bool(cells),
        confirm,
    )


def _stray(tokens: list[str]) -> str:
    """What stands after a value for one hole and names none; ``1 240`` may be one number or two."""
    named = next((n for n, one in enumerate(tokens) if "=" in one), len(tokens))
    stray = next((n for n, one in enumerate(tokens) if n > named and "=" not in one), None)
    if stray is None:
        return ""
    return (
        f'"{tokens[stray]}" stands after {tokens[stray - 1]} and names no hole. Write a number without a '
        "space in it, and the row before the holes that are named."
    )


def _count(row: list[str], holes: list[str], has_single: bool) -> tuple[str, bool]:
    if not row and has_single:
        return "", True
    if len(row) == len(holes):
        return f"{len(row)} of {len(holes)}", True
    if len(row) < len(holes):
        return f"{len(row)} of {len(holes)}: next {holes[len(row)]}", False
    return f"{len(row)} of {len(holes)}: {len(row) - len(holes)} too many.", False


def _tokens(rest: str, check: Check, sheet: CheckSheet) -> list[str]:
    # DESIGN 4a, 9: a comma alone separates nothing, it may be in a number.
    rest = re.sub(r"\s*=\s*", "=", rest.strip())
    parts = _with_their_units([part for part in re.split(r",?[ ]+", rest) if part], check)
    letters = {c.letter for c in check.choices} | {"-"}
    if check.kind == "look":
        letters = {w.letter for w in sheet.look_words} | {"-"}
    if not letters - {"-"}:
        return parts
    found: list[str] = []
    for part in parts:
        if "=" not in part and all(char in letters for char in part.lower()):
            found.extend(part.lower())
        else:
            found.append(part)
    return found


def _with_their_units(parts: list[str], check: Check) -> list[str]:
    """``1,240`` and ``ohm`` are one value."""
    found: list[str] = []
    for part in parts:
        if found and found[-1][-1].isdigit() and _is_unit(part, check):
            found[-1] += f" {part}"
        else:
            found.append(part)
    return found


def _is_unit(part: str, check: Check) -> bool:
    if check.quantity is None or part[0].isdigit():
        return False
    try:
        parse_amount(f"1 {part}", check.quantity)
    except BadInput:
        return False
    return True


def _cell(
    hole: str, token: str, check: Check, sheet: CheckSheet, meter: Meter | None, range_name: str
) -> Cell:
    if token in ("-", ""):
        return Cell(hole, token, skipped=True)
    if check.kind == "look":
        words: list[Word] = []
        for part in token.split("+"):
            found = next((w for w in sheet.look_words if part.lower() in (w.letter, w.name)), None)
            if found is None:
                letters = ", ".join(f"{w.letter} {w.label.lower()}" for w in sheet.look_words)
                return Cell(hole, token, error=f'"{part}" is no look letter. Use {letters}.')
            words.append(found)
        return Cell(
            hole,
            token,
            written=", ".join(w.label for w in words),
            words=tuple(w.name for w in words),
        )
    try:
        reading = read(check, with_unit(token, check, meter), meter, range_name, at_psi=None)
    except BadInput as problem:
        return Cell(hole, token, error=problem.sentence)
    return Cell(hole, token, written=reading.word or with_unit(token, check, meter))


def with_unit(token: str, check: Check, meter: Meter | None) -> str:
    """The number as written with the unit it was keyed in, so that it means one thing for ever."""
    if (
        check.quantity is None
        or token.lower() in NO_READING
        or not re.fullmatch(r"[\d.,+/-]+", plain_minus(token))
    ):
        return token
    token = plain_minus(token)
    unit = (meter.keyed if meter else "") or check.quantity.keyed
    if check.quantity.name == "length" and unit == "thou" and re.match(r"0?\.\d", token):
        unit = "in"
    return f"{token} {unit}"


@dataclass(frozen=True, slots=True)
class FitLine:
    """Plugs that go in or come out by a typed line: ``in 1T K0415``, ``out 1T K0411``.

    ``kind`` is the kind of entry, ``pairs`` the holes with their serials as the job spells them.
    """

    kind: str
    pairs: tuple[tuple[str, str], ...]
    message: str
    complete: bool


_FIT_WORDS = {"in": "fitted", "out": "removed"}


def parse_fit(text: str, *, layout: Layout, serials: Sequence[str]) -> FitLine | None:
    """A line that begins with in or out, half typed or whole; None for any other line.

    ``serials`` are those that the job knows; one that it does not know stays as typed, and the
    rules say what is missing.
    """
    words = [word for word in re.split(r",?\s+", text.strip()) if word]
    kind = _FIT_WORDS.get(words[0].casefold(), "") if words else ""
    if not kind:
        return None
    known = {one.casefold(): one for one in serials}
    pairs: list[tuple[str, str]] = []
    rest = words[1:]
    for number in range(0, len(rest), 2):
        try:
            hole = layout.check_hole(rest[number])
        except BadInput as problem:
            return FitLine(kind, tuple(pairs), str(problem), False)
        if number + 1 == len(rest):
            return FitLine(kind, tuple(pairs), f"{hole}: write the serial behind it.", False)
        serial = rest[number + 1]
        pairs.append((hole, known.get(serial.casefold(), serial)))
    if not pairs:
        return FitLine(
            kind, (), f"Write the hole and the serial, as in {words[0]} 1T K0415.", False
        )
    told = ", ".join(f"{serial} {words[0].lower()} {hole}" for hole, serial in pairs)
    return FitLine(kind, tuple(pairs), told, True)
