"""A layout out of a few answers, and what is asked for it.

What is offered, the firing orders with it, is common practice, no source, and from memory: the
engine's own manual governs. Everything made here is data that can be changed afterwards.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import cos, pi
from types import MappingProxyType
from typing import Any

from rehang.trade.facts.layout import Row
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.wording import listed

__all__ = [
    "ANSWERS",
    "Question",
    "fired_so_far",
    "firing_order_from",
    "layout_asked",
    "questions",
    "settled",
]

SOURCE = "common practice, no source; the engine's own manual governs"
# What is answered, in the order that it is asked: what is offered hangs on the answers before it.
ANSWERS = (
    "arrangement", "cylinders", "rows", "first_side", "numbering", "firing_order", "ignition",
    "drains",
)  # fmt: skip
_Choices = tuple[tuple[str, str], ...]
_ACROSS = 6  # holes of one line of the tray that a phone shows at a size to be read
_NUMBERS = (
    "No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten", "Eleven",
    "Twelve", "Thirteen", "Fourteen", "Fifteen", "Sixteen", "Seventeen", "Eighteen",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Arrangement:
    """One way that cylinders stand; what is usual comes first."""

    words: str
    title: str
    counts: tuple[int, ...]
    usual: int
    rows: tuple[str, ...]
    drains: tuple[str, ...]
    banks: bool = False
    heads_down: bool = False
    round: bool = False


_LINE, _LINE_ROWS = (1, 2, 3, 4, 5, 6, 8), ("left-right", "front-rear", "one")
_VEE, _VEE_ROWS = (2, 4, 6, 8, 12, 16), ("a-b", "left-right", "one")
ARRANGEMENTS: Mapping[str, _Arrangement] = MappingProxyType(
    {
        "opposed": _Arrangement(
            words="Flat", title="opposed", counts=(2, 4, 6, 8), usual=4, banks=True,
            rows=("top-bottom", "upper-lower", "one"), drains=("second", "none", "every"),
        ),
        "line": _Arrangement(
            words="In line", title="in line", counts=_LINE, usual=4, rows=_LINE_ROWS,
            drains=("none", "every"),
        ),
        "inverted": _Arrangement(
            words="In line, inverted", title="inverted in line", counts=_LINE, usual=4,
            rows=_LINE_ROWS, drains=("every",), heads_down=True,
        ),
        "radial": _Arrangement(
            words="Radial", title="radial", counts=(3, 5, 7, 9, 11, 14, 18), usual=9,
            rows=("front-rear", "one"), drains=("lower", "every"), round=True,
        ),
        "v": _Arrangement(
            words="V", title="V", counts=_VEE, usual=8, rows=_VEE_ROWS,
            drains=("none", "every"), banks=True,
        ),
        "v-inverted": _Arrangement(
            words="V, inverted", title="inverted V", counts=_VEE, usual=12, rows=_VEE_ROWS,
            drains=("every",), banks=True, heads_down=True,
        ),
    }
)  # fmt: skip
_ROWS: Mapping[str, tuple[Row, ...]] = MappingProxyType(
    {
        "top-bottom": (Row("T", "top"), Row("B", "bottom")),
        "upper-lower": (Row("U", "upper"), Row("L", "lower")),
        "left-right": (Row("L", "left"), Row("R", "right")),
        "front-rear": (Row("F", "front"), Row("R", "rear")),
        "a-b": (Row("A", "A"), Row("B", "B")),
        "one": (Row("P", "plug"),),
    }
)
# Firing orders by how the cylinders are numbered: from memory, no source. A number that is not
# here has none that is common enough to be offered.
_IN_LINE = {
    1: ("1",), 2: ("1-2",), 3: ("1-3-2", "1-2-3"), 4: ("1-3-4-2", "1-2-4-3"), 5: ("1-2-4-5-3",),
    6: ("1-5-3-6-2-4", "1-4-2-6-3-5"), 8: ("1-6-2-5-8-3-7-4",),
}  # fmt: skip
_ORDERS: Mapping[tuple[str, str], Mapping[int, tuple[str, ...]]] = MappingProxyType(
    {
        ("opposed", "alternating"): {
            2: ("1-2",), 4: ("1-3-2-4", "1-4-2-3"), 6: ("1-4-5-2-3-6", "1-6-3-2-5-4"),
            8: ("1-5-8-3-2-6-7-4",),
        },
        ("opposed", "banks"): {2: ("1-2",), 4: ("1-4-3-2",), 6: ("1-6-2-4-3-5",)},
        ("line", ""): _IN_LINE,
        ("inverted", ""): _IN_LINE,
        ("v", "banks"): {8: ("1-5-4-2-6-3-7-8",), 12: ("1-12-5-8-3-10-6-7-2-11-4-9",)},
        ("v", "alternating"): {8: ("1-8-4-3-6-5-7-2",)},
        ("v-inverted", "banks"): {12: ("1-12-5-8-3-10-6-7-2-11-4-9",)},
        ("v-inverted", "alternating"): {},
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Question:
    """One thing that is asked: its choices, each a value and its words, and which one is taken.

    A firing order may be another one than those that are offered.
    """

    key: str
    words: str
    choices: tuple[tuple[str, str], ...]
    given: str


# What is offered


def _counts(answers: Mapping[str, str]) -> _Choices:
    return tuple((str(n), str(n)) for n in ARRANGEMENTS[answers["arrangement"]].counts)


def _row_choices(answers: Mapping[str, str]) -> _Choices:
    return tuple(
        (key, " and ".join(f"{row.letter} {row.name}" if row.name != row.letter else row.name
                           for row in _ROWS[key]) if key != "one" else "one plug to a cylinder")
        for key in ARRANGEMENTS[answers["arrangement"]].rows
    )  # fmt: skip


def _sides(answers: Mapping[str, str]) -> _Choices:
    kind = ARRANGEMENTS[answers["arrangement"]]
    if kind.round:
        return (("top", "upright"),)
    if not kind.banks:
        return (("front", "front"), ("rear", "rear"))
    return (
        ("right", "right front"), ("left", "left front"),
        ("right-rear", "right rear"), ("left-rear", "left rear"),
    )  # fmt: skip


def _numberings(answers: Mapping[str, str]) -> _Choices:
    kind, count = ARRANGEMENTS[answers["arrangement"]], int(answers["cylinders"])
    if not kind.banks or count == 2:
        return (("alternating" if kind.banks else "", "one after the other"),)
    half = count // 2
    by_turns = (
        "alternating",
        f"by turns: {_joined(range(1, count, 2))} and {_joined(range(2, count + 1, 2))}",
    )
    along = (
        "banks",
        f"along a side: {_joined(range(1, half + 1))} and {_joined(range(half + 1, count + 1))}",
    )
    return (by_turns, along) if kind.title == "opposed" else (along, by_turns)


def _joined(numbers: Sequence[int]) -> str:
    """A run of cylinders in few letters: 1, 3, 5 or 1 to 6."""
    if len(numbers) > 3:
        return f"{numbers[0]}, {numbers[1]} … {numbers[-1]}"
    return ", ".join(str(one) for one in numbers)


def _orders(answers: Mapping[str, str]) -> _Choices:
    arrangement, count = answers["arrangement"], int(answers["cylinders"])
    if ARRANGEMENTS[arrangement].round:
        # Every other one; of two rows by turns, the one across in the other row. From memory.
        step = 2 if count % 2 else count // 2 + 2
        order = "-".join(str(i * step % count + 1) for i in range(count))
        return ((order, order),)
    known = _ORDERS[arrangement, answers["numbering"]].get(count, ())
    return tuple((order, order) for order in known)


def _ignitions(answers: Mapping[str, str]) -> _Choices:
    rows, kind = _ROWS[answers["rows"]], ARRANGEMENTS[answers["arrangement"]]
    one = ("one", "one magneto fires all")
    if len(rows) == 1:
        return (one,)
    first, second = (row.name for row in rows)
    straight = (
        ("rows", f"L fires {first}, R fires {second}"),
        ("rows-right", f"R fires {first}, L fires {second}"),
    )
    if kind.round:
        straight = straight[::-1]
    if not kind.banks:
        return (*straight, one)
    crossed = (
        ("crossed", f"L fires {first} on cylinder 1's side, {second} on the other"),
        ("crossed-right", f"R fires {first} on cylinder 1's side, {second} on the other"),
    )
    return (*crossed, *straight, one)


def _drains(answers: Mapping[str, str]) -> _Choices:
    rows = _ROWS[answers["rows"]]
    words = {
        "second": f"the {rows[-1].name} holes", "lower": "the cylinders that hang down",
        "every": "every hole", "none": "no hole",
    }  # fmt: skip
    offered = ARRANGEMENTS[answers["arrangement"]].drains
    return tuple((one, words[one]) for one in offered if len(rows) > 1 or one != "second")


def _ways(answers: Mapping[str, str]) -> _Choices:
    return tuple((key, one.words) for key, one in ARRANGEMENTS.items())


_ASKED: Mapping[str, tuple[str, Callable[[Mapping[str, str]], _Choices]]] = MappingProxyType(
    {
        "arrangement": ("How do the cylinders stand?", _ways),
        "cylinders": ("How many cylinders?", _counts),
        "rows": ("Plugs of a cylinder", _row_choices),
        "first_side": ("Where is cylinder 1? The propeller is in front.", _sides),
        "numbering": ("How are they numbered?", _numberings),
        "firing_order": ("Firing order", _orders),
        "ignition": ("Which magneto fires what?", _ignitions),
        "drains": ("Where does oil run to?", _drains),
    }
)


def questions(answers: Mapping[str, str]) -> tuple[Question, ...]:
    """All that is asked, in its order, with what is offered after the answers before it.

    An answer that is not given, or not among what is offered, is the usual one; a firing order that
    is given is taken as it is written. A question with one choice need not be asked.
    """
    found: list[Question] = []
    given: dict[str, str] = {}
    for key, (words, offered) in _ASKED.items():
        choices = offered(given)
        values = [value for value, _ in choices]
        answer = answers.get(key)
        if answer is None or (answer not in values and key != "firing_order"):
            answer = _usual(key, values, given)
        given[key] = answer
        found.append(Question(key, words, choices, answer))
    return tuple(found)


def _usual(key: str, values: Sequence[str], given: Mapping[str, str]) -> str:
    if key == "cylinders":
        return str(ARRANGEMENTS[given["arrangement"]].usual)
    return values[0] if values else ""


def settled(answers: Mapping[str, str]) -> dict[str, str]:
    """The answers with the usual one wherever there is none that fits."""
    return {one.key: one.given for one in questions(answers)}


# What was answered


def firing_order_from(text: str, cylinders: int) -> tuple[int, ...]:
    """A firing order as people write it: 1-3-2-4, 1 3 2 4, or 1324 up to nine cylinders.

    Raises
    ------
    BadInput
        It is empty, or does not name each cylinder once; ``where`` is ``firing_order``.
    """
    text = " ".join(text.split())
    if not text:
        raise _wrong_order("Write the firing order: it is on the engine's plate or in its manual.")
    numbers = [int(one) for one in re.findall(r"[0-9]{1,6}", text)]
    if re.search(r"[^\W\d_]", text) or not numbers:
        raise _wrong_order(
            f'The firing order "{text[:60]}" is no list of cylinders. Write it as in 1-3-2-4.'
        )
    if len(numbers) == 1 and cylinders <= 9:
        numbers = [int(digit) for digit in str(numbers[0])]
    wrong = _order_faults(numbers, cylinders)
    if wrong:
        raise _wrong_order(
            f'The firing order "{text[:60]}" {listed(wrong)}. '
            + (f"Each of the {cylinders} cylinders fires once." if cylinders > 1 else "")
        )
    return tuple(numbers)


def fired_so_far(text: str, cylinders: int) -> tuple[int, ...]:
    """The cylinders that a firing order names so far, each once; what is none is left out.

    >>> fired_so_far("1-3-3-9", 4)
    (1, 3)
    """
    numbers = [int(one) for one in re.findall(r"[0-9]{1,6}", text)]
    return tuple(dict.fromkeys(n for n in numbers if 1 <= n <= cylinders))


def _order_faults(numbers: Sequence[int], cylinders: int) -> list[str]:
    every = range(1, cylinders + 1)
    strange = [str(n) for n in dict.fromkeys(numbers) if n not in every]
    twice = [str(n) for n in every if numbers.count(n) > 1]
    left = [str(n) for n in every if n not in numbers]
    return [
        f"{does} {listed(names[:6])}"
        for does, names in (
            ("names what is no cylinder here:", strange),
            ("names more than once", twice),
            ("leaves out", left),
        )
        if names
    ]


def _wrong_order(sentence: str) -> BadInput:
    return BadInput(sentence.strip(), "firing_order")


def layout_asked(answers: Mapping[str, str]) -> dict[str, Any]:
    """The table of a layout from its answers, as ``layout.toml`` has it.

    Raises
    ------
    BadInput
        An answer that is missing or does not go with the others, with the question's key as ``where``.
    """
    given: dict[str, str] = {}
    for key, (words, offered) in _ASKED.items():
        choices = offered(given)
        answer = str(answers.get(key, "")).strip()
        if key == "firing_order":
            given[key] = answer
        elif len(choices) == 1:
            given[key] = choices[0][0]
        elif answer in [value for value, _ in choices]:
            given[key] = answer
        else:
            raise BadInput(_not_offered(words, answer, choices), key)
    return _table(given)


def _not_offered(words: str, answer: str, choices: Sequence[tuple[str, str]]) -> str:
    offered, asked = listed([said for _, said in choices], "or"), words.partition("?")[0]
    if not answer:
        return f"{asked}: pick one of {offered}."
    answer = " ".join(answer.split())[:60]
    return f'{asked}: "{answer}" does not go with the rest. Pick one of {offered}.'


def _table(given: Mapping[str, str]) -> dict[str, Any]:
    kind, count = ARRANGEMENTS[given["arrangement"]], int(given["cylinders"])
    order = firing_order_from(given["firing_order"], count)
    cylinders, rows = list(range(1, count + 1)), _ROWS[given["rows"]]
    plan = _plan(kind, cylinders, given)
    hang = _hanging(kind, cylinders)
    two_rows = kind.round and count % 2 == 0
    title = f"two-row {kind.title}" if two_rows else kind.title
    found: dict[str, Any] = {
        "layout": f"{given['arrangement']}-{count}",
        "title": f"{_NUMBERS[count]} cylinder{'' if count == 1 else 's'}, {title}",
        "cylinders": cylinders,
        "firing_order": list(order),
        "drains_to": [
            f"{c}{row.letter}"
            for c in cylinders
            for row in rows
            if {"every": True, "lower": c in hang, "second": row is rows[-1]}.get(given["drains"])
        ],
        # Where the head hangs down oil can lock the cylinder, whatever was answered of plugs.
        "locks": [f"{c}{rows[0].letter}" for c in hang],
        "source": SOURCE,
        "rows": {row.letter: row.name for row in rows},
        "plan": plan,
        "ignition": _wiring(given["ignition"], plan, cylinders, rows),
        "rotation": _rotation(order, cylinders, rows),
    }
    if not kind.round:
        found["prop_end"] = "right" if given["first_side"].endswith("rear") else "left"
    lines = -(-count // _ACROSS)
    if lines > 1:
        across = -(-count // lines)
        parts = [cylinders[at : at + across] for at in range(0, count, across)]
        found["tray"] = [[f"{c}{row.letter}" for c in part] for part in parts for row in rows]
    return found


def _plan(
    kind: _Arrangement, cylinders: list[int], given: Mapping[str, str]
) -> dict[str, list[int]]:
    """Where the cylinders stand, from the propeller end."""
    if kind.round:
        return {"round": cylinders}
    turned = -1 if given["first_side"].endswith("rear") else 1
    if not kind.banks:
        return {"line": cylinders[::turned]}
    half = len(cylinders) // 2
    alternating = given["numbering"] == "alternating"
    first = cylinders[::2] if alternating else cylinders[:half]
    other = cylinders[1::2] if alternating else cylinders[half:]
    side = given["first_side"].removesuffix("-rear")
    return {side: first[::turned], "left" if side == "right" else "right": other[::turned]}


def _hanging(kind: _Arrangement, cylinders: list[int]) -> list[int]:
    """The cylinders whose heads stand below the crankshaft: oil runs down into them."""
    if kind.heads_down:
        return cylinders
    if not kind.round:
        return []
    # A little more than level, as the cosine of a right angle is not quite nothing.
    return [c for c in cylinders if cos(2 * pi * (c - 1) / len(cylinders)) < -1e-9]


def _wiring(
    ignition: str, plan: Mapping[str, list[int]], cylinders: list[int], rows: Sequence[Row]
) -> dict[str, list[str]]:
    if ignition == "one":
        return {"left": [f"{c}{row.letter}" for c in cylinders for row in rows]}
    first, second = (row.letter for row in rows)
    mine, other = (cylinders, []) if ignition.startswith("rows") else map(sorted, plan.values())
    one = [f"{c}{first}" for c in mine] + [f"{c}{second}" for c in other]
    two = [f"{c}{second}" for c in mine] + [f"{c}{first}" for c in other]
    return (
        {"right": one, "left": two} if ignition.endswith("right") else {"left": one, "right": two}
    )


def _rotation(
    order: Sequence[int], cylinders: Sequence[int], rows: Sequence[Row]
) -> dict[str, str]:
    """Each plug to the next cylinder in firing order, and to the other row: common practice."""
    following = dict(zip(order, (*order[1:], order[0]), strict=True))
    letters = [row.letter for row in rows]
    onto = dict(zip(letters, reversed(letters), strict=True))
    return {f"{c}{one}": f"{following[c]}{onto[one]}" for c in cylinders for one in letters}
