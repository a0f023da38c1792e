"""The text of a TOML file as plain values, and the line of each key in it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from typing import Any

from rehang.sheets.plain import slip_in
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.fields import LONGEST_FILE

__all__ = ["read_toml", "where_in"]


@lru_cache(maxsize=64)
def _lines(text: str) -> tuple[str, ...]:
    return tuple(text.splitlines())


@lru_cache(maxsize=128)
def _headers(text: str, key: str) -> tuple[int, ...]:
    """The lines of ``[[key]]``, from 0: every entry of a list asks for its own."""
    header = re.compile(rf"\s*\[\[\s*{re.escape(key)}\s*\]\]")
    return tuple(number for number, line in enumerate(_lines(text)) if header.match(line))


def _line_of(text: str, path: Sequence[str | int]) -> int:
    """The line of a key: ``("limit", 2, "lower")`` is ``lower`` in the third ``[[limit]]``.

    TOML parsers do not keep lines, so the header is counted and the key looked for below it.
    """
    lines = _lines(text)
    start = 0
    keys = list(path)
    if len(keys) >= 2 and isinstance(keys[1], int):
        headers = _headers(text, str(keys[0]))
        if keys[1] < len(headers):
            start = headers[keys[1]]
        keys = keys[2:]
    elif keys and isinstance(keys[0], str) and len(keys) > 1:
        for number, line in enumerate(lines):
            if re.match(rf"\s*\[\s*{re.escape(str(keys[0]))}\s*\]", line):
                start = number
                break
        keys = keys[1:]
    if keys:
        key = re.compile(rf'\s*"?{re.escape(str(keys[-1]))}"?\s*=')
        for number in range(start, len(lines)):
            if number > start and re.match(r"\s*\[\[", lines[number]):
                break
            if key.match(lines[number]):
                return number + 1
    return start + 1


def where_in(name: str, text: str, *prefix: str | int) -> Callable[..., str]:
    """What says of a key of a file, or of a table of it, which line it stands in."""

    def place(*keys: str | int) -> str:
        return f"{name}, line {_line_of(text, [*prefix, *keys])}"

    return place


def read_toml(name: str, text: str) -> dict[str, Any]:
    """A file as plain values."""
    if len(text) > LONGEST_FILE:
        raise BadInput(
            f"The file has {len(text):,} characters; it may have {LONGEST_FILE:,}.", name
        )
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        found = re.search(r"at line (\d+)", str(problem))
        line = int(found[1]) if found else max(1, len(text.splitlines()))
        reason = re.sub(r"\s*\(at .*\)$", "", str(problem))
        raise BadInput(
            slip_in((text.splitlines() or [""])[line - 1])
            or f"This is not readable as TOML: {reason}. "
            "If the file was cut off while it was copied, copy it again.",
            f"{name}, line {line}",
        ) from None
    except (ValueError, RecursionError):
        # A number of thousands of digits, or brackets without end.
        raise _endless(name, text) from None
    if _has_endless_number(raw):
        raise _endless(name, text)
    return raw


def _has_endless_number(given: object) -> bool:
    """Whether a whole number in it is past all counting, which no reader then has to bear."""
    if isinstance(given, (Mapping, list)):
        inner = given.values() if isinstance(given, Mapping) else given
        return any(_has_endless_number(one) for one in inner)
    return isinstance(given, int) and abs(given) > 2**53


def _endless(name: str, text: str) -> BadInput:
    """The refusal of what no reader bears, with the line of the longest run of it."""
    runs = re.finditer(r"[0-9_]{16,}|[\[{][\[{\s]*", text)
    longest = max(runs, key=lambda run: len(run[0]), default=None)
    place = f", line {text.count(chr(10), 0, longest.start()) + 1}" if longest else ""
    return BadInput(
        "A number or brackets here are beyond all reading. Write it again.", name + place
    )
