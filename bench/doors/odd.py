"""Odd values and odd texts: what a slip, a broken program or a stranger might put in any place."""

from __future__ import annotations

import copy
import json
import string
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, time
from random import Random
from typing import Any

__all__ = [
    "IN_JSON",
    "IN_TOML",
    "TEXTS",
    "changed_bytes",
    "changed_text",
    "odd_entry",
    "odd_text",
    "with_odd_value",
]

TEXTS = [
    "", " ", "\u00a0", "x", "18 thou", "1.2 kohm", "2026-11-12", "2062-01-01", "1T", "9Z", "plug:",
    "plug:K0411", "run:9", "magneto:left", "-", "ol", "9" * 50, "\uff11\uff18", "WITHIN", "KEEP",
    "\ud800", "a\0b", "9999-12-31T23:59:59+00:00", "0001-01-01T00:00:00+00:00", "<2", "74/80",
    "-5 in", "²", "١٢", "1e999 kohm", "18+19", "+", "/", "18/20", "1,234", "1,23", "12,4", "=1+1",
    "\u202e", "\u200b", "a\nb", "\r\n", "é", "e\u0301", "🛩", "<script>alert(1)</script>", "%s",
    "{}", "{{ x }}", "../../etc/passwd", "0", "-0", "1_000", "0x10", "NaN", "inf", "1e400",
    "2026-02-30", "2026-13", "2027-Q1", "2027-Q5", "0000-00-00", "24:00", "true", "null", "[]",
    "'", '"', "\\", ";", "x" * 61, "x" * 300, "9" * 5_000, "x" * 5_000, "\ufeff", "2027-01",
    "2026-11-12 09:30", "2026-11-12T09:30:00+14:00", "2026-11-12T09:30:00+00:00:30", "no-such",
    "cylinder:1", "lead:1T", "hose:", ":", "::", "struck", "removed", "marta", "tom", "resistance",
    "gap", "spark", "look", "compression", "DM-2", "20k", "steady", "5000 ohm", "0.018 in",
    "-1 kohm", "1e-300 in", "1" + "0" * 308 + " ohm", "100 %", "1/0", "0/0", "80/0", "1..2", ".",
]  # fmt: skip
NUMBERS = [
    True, False, 0, -1, 1, 2, 10**9, 10**15, 2**53, 2**63, 10**309, 1e308, -1e308, 5e-324, -0.0,
    -0.5, 0.1, 1e16, float("inf"), float("nan"),
]  # fmt: skip
_DEEP: list[Any] = []
for _ in range(60):
    _DEEP = [_DEEP]
IN_JSON = [
    *TEXTS, *NUMBERS, None, [], {}, [1], [[]], {"a": {"b": [1, {}]}}, {"orifice": "0.040 in"},
    {"iron": "<2"}, {"iron": -1}, [{"check": "gap", "written": "18"}], {"": ""}, {"\ud800": 1},
    [None], [1, 1, 2], [10**400], {"length_in": "1e999", "angle_deg": "0"}, _DEEP, ["x"] * 3_000,
    {"oat_f": "-500", "altimeter_inhg": "0", "wind_kt": "x"}, {"1T": 1}, ["1T", "1T"],
]  # fmt: skip
IN_TOML = [
    *(one for one in TEXTS if one.isprintable()), *NUMBERS, date(1, 1, 1), date(9999, 12, 31),
    date(2026, 11, 12), datetime(2026, 11, 12, 9), time(9, 30), [], {}, [1], ["x"], [[]],  # noqa: DTZ001 - a TOML time may have no zone
    {"a": {"b": 1}}, [{}], [{"id": "x"}], [date(2026, 1, 1)], [[date(2026, 1, 2), date(2026, 1, 1)]],
]  # fmt: skip

_LETTERS = (
    string.ascii_letters + string.digits + " .,;:+-/=\"'{}[]()<>%&?#\\\t\n\0éß²１\u200b\ufeff"
)
Path = tuple[str | int, ...]


def odd_text(dice: Random) -> str:
    """One of the texts, or a few characters drawn."""
    if dice.random() < 0.7:
        return dice.choice(TEXTS)
    return "".join(dice.choice(_LETTERS) for _ in range(dice.randrange(9)))


def changed_text(dice: Random, text: str) -> str:
    """A text with some of it taken out, doubled, changed about or written over."""
    for _ in range(dice.choice((1, 1, 1, 2, 4))):
        at = dice.randrange(len(text) + 1)
        to = min(len(text), at + dice.choice((0, 1, 1, 2, 8, 60)))
        middle = dice.choice(("", text[at:to] * 2, text[at:to][::-1], odd_text(dice)))
        text = text[:at] + middle + text[to:]
    return text


def changed_bytes(dice: Random, data: bytes) -> bytes:
    """Bytes with some of them flipped, taken out, doubled or written over, or the end cut off."""
    made = bytearray(data)
    for _ in range(dice.choice((1, 1, 2, 4, 16))):
        if not made:
            break
        at = dice.randrange(len(made))
        to = at + dice.choice((1, 1, 2, 4, 64))
        match dice.randrange(6):
            case 0:
                made[at] ^= 1 << dice.randrange(8)
            case 1:
                del made[at:to]
            case 2:
                made[at:at] = made[at:to]
            case 3:
                made[at:to] = dice.randbytes(min(to, len(made)) - at)
            case 4:
                made[at:to] = bytes([dice.choice((0, 0x7F, 0x80, 0xFF))]) * (
                    min(to, len(made)) - at
                )
            case _:
                if dice.random() < 0.2:
                    del made[at:]
    return bytes(made)


def paths_in(given: object, path: Path = ()) -> Iterator[Path]:
    """The way to each value in tables and lists."""
    if path:
        yield path
    inner = given.items() if isinstance(given, Mapping) else ()
    for key, value in enumerate(given) if isinstance(given, list) else inner:
        yield from paths_in(value, (*path, key))


def with_odd_value(
    dice: Random, given: Any, values: Sequence[Any], paths: Sequence[Path] | None = None
) -> Any:
    """A copy of tables and lists in which one value is another, gone, or under another key."""
    changed = copy.deepcopy(given)
    *way, key = dice.choice(paths or list(paths_in(changed)))
    table = changed
    for step in way:
        table = table[step]
    match dice.randrange(12):
        case 0:
            del table[key]
        case 1 if isinstance(table, dict):
            table[odd_text(dice)] = table[key]
        case _:
            table[key] = copy.deepcopy(dice.choice(values))
    return changed


def odd_entry(
    dice: Random,
    kinds: Mapping[str, tuple[Mapping[str, str], Mapping[str, str]]],
    known: Mapping[str, Sequence[Mapping[str, Any]]],
    words: Sequence[str],
    common: Mapping[str, Any],
) -> dict[str, Any]:
    """An entry of a known kind, near to one of the book or made by its types, with odd fields.

    ``known`` holds the fields of entries of each kind; ``words`` are names that the job knows;
    ``common`` is its id, time and person.
    """
    kind = dice.choice(list(kinds))
    must, may = kinds[kind]
    if known.get(kind) and dice.random() < 0.7:
        fields = dict(dice.choice(known[kind]))
    else:
        chosen = {**must, **{name: of for name, of in may.items() if dice.random() < 0.4}}
        fields = {name: _of_type(dice, of, words) for name, of in chosen.items()}
    raw = {**common, "kind": kind, **fields}
    for _ in range(dice.choice((0, 1, 1, 1, 2, 3))):
        near = [*must, *may] if dice.random() < 0.9 else [*raw, "under", "seq", "v", "x"]
        raw[dice.choice(near)] = dice.choice(IN_JSON) if dice.random() < 0.6 else dice.choice(words)
    return raw


def _of_type(dice: Random, of: str, words: Sequence[str]) -> Any:
    match of:
        case "text":
            return dice.choice(words) if dice.random() < 0.7 else odd_text(dice)
        case "yes or no":
            return dice.random() < 0.5
        case "whole":
            return dice.choice((-5, -1, 0, 1, 2, 6, 80, 100, 10**6, 10**15))
        case "number":
            return dice.choice((-1, 0, 0.5, 12, 412.5, 1e5, 1e9, 1e300, 5e-324))
        case "list":
            return [dice.choice(IN_JSON) for _ in range(dice.randrange(4))]
    return {dice.choice(words): dice.choice(IN_JSON) for _ in range(dice.randrange(4))}


def as_json(raw: object) -> str:
    """As a program might send it: NaN and lone surrogates and all."""
    return json.dumps(raw, ensure_ascii=False)
