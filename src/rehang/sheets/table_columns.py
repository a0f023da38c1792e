"""What the columns of a table of readings are taken for: as said, or by the words of their headings."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from rehang.decode.tables import Table
from rehang.sheets.table_moments import cell_text
from rehang.trade.facts.items import Check
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.terms.errors import BadInput

__all__ = [
    "COLUMNS",
    "FIELDS",
    "FLAGS",
    "LEFT_OUT",
    "SELDOM",
    "WITH",
    "WORKED_OUT",
    "Column",
    "Target",
    "check_choices",
    "check_name",
    "guess",
    "numbered",
    "target_from",
    "target_text",
    "wanted_checks",
]

LEFT_OUT = "-"
# What a column may be, with its words. Conditions ("with.state") come beside these.
FIELDS: Mapping[str, str] = MappingProxyType(
    {
        "at": "when it was read",
        "time": "time of day, beside a column with the day",
        "by": "who read it (key or name)",
        "item": "the item (serial, or kind:name)",
        "place": "the hole",
        "check": "which check",
        "written": "the reading",
        "unit": "the unit of the reading",
        "meter": "the meter",
        "range": "the range of the meter",
        "at_psi": "the pressure of a spark test",
        "note": "a note",
        "set": "the set it belongs to",
        "photo": "the photo's name",
        "kept_as_keyed": "yes where an unlikely number was kept as keyed",
        "hidden_first": "yes where the first reading was hidden",
        "struck": "why it was struck out",
        "id": "the entry's id",
    }
)
# Worked out when a table is written; never taken back in.
WORKED_OUT = ("call", "p_within", "limit", "void", "seq")
COLUMNS = (
    "at", "by", "item", "place", "check", "written", "unit", "meter", "range", "at_psi",
)  # fmt: skip
SELDOM = ("set", "photo", "kept_as_keyed", "hidden_first")
FLAGS = ("kept_as_keyed", "hidden_first")
WITH = "with."

# Headings that shops write, small and without marks. The guess is shown before it is used.
_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "when": "at", "date": "at", "day": "at", "taken": "at", "taken at": "at", "date time": "at",
        "timestamp": "at", "date and time": "at", "time of day": "time", "hour": "time",
        "who": "by", "mechanic": "by", "inspector": "by", "person": "by", "taken by": "by",
        "initials": "by", "serial": "item", "serial no": "item", "serial number": "item",
        "s n": "item", "sn": "item", "part": "item", "hole": "place", "position": "place",
        "pos": "place", "location": "place", "test": "check", "measurement": "check",
        "reading": "written", "value": "written", "measured": "written", "result": "written",
        "units": "unit", "uom": "unit", "instrument": "meter", "tester": "meter",
        "meter id": "meter", "gauge": "meter", "scale": "range", "meter range": "range",
        "psi": "at_psi", "bench pressure": "at_psi", "notes": "note", "remark": "note",
        "remarks": "note", "comment": "note", "comments": "note", "entry id": "id",
        "struck reason": "struck",
    }
)  # fmt: skip
_KIND_WORDS: Mapping[str, str] = MappingProxyType(
    {"cyl": "cylinder", "plug serial": "plug", "spark plug": "plug", "mag": "magneto"}
)
_CHECK_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "ohm": "resistance", "ohms": "resistance", "kohm": "resistance", "kohms": "resistance",
        "kω": "resistance", "ω": "resistance", "resistor": "resistance", "gaps": "gap",
        "wear": "electrode", "electrodes": "electrode", "sparks": "spark", "bench test": "spark",
        "comp": "compression", "differential": "compression", "compressions": "compression",
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Target:
    """What one column is: a field, ``item`` of a kind, a condition, or readings of one check."""

    field: str = LEFT_OUT
    check: str = ""
    unit: str = ""
    kind: str = ""


@dataclass(frozen=True, slots=True)
class Column:
    """One column and what it is taken for. ``how`` is exact, guessed, said or left out."""

    heading: str
    target: Target
    how: str
    words: str


def target_text(target: Target) -> str:
    """A target as it is written: ``at``, ``item:cylinder``, ``resistance in ohm``, ``-``."""
    if target.kind:
        return f"{target.field}:{target.kind}"
    if target.check:
        return f"{target.check} in {target.unit}" if target.unit else target.check
    return target.field


def target_from(text: str, facts: JobFacts) -> Target:
    """A target from its text; one that is not known is refused with the known ones."""
    text = " ".join(text.split())
    if text in ("", LEFT_OUT):
        return Target()
    if text in FIELDS:
        return Target(text)
    if text.startswith("item:"):
        kind = text.removeprefix("item:")
        if kind in facts.sheets:
            return Target("item", kind=kind)
        raise BadInput(f'There is no check sheet for "{kind}". Use {", ".join(facts.sheets)}.')
    if text.startswith(WITH):
        if text.removeprefix(WITH) in _conditions(facts):
            return Target(text)
        known = ", ".join(f"{WITH}{name}" for name in _conditions(facts))
        raise BadInput(f'No check asks for "{text.removeprefix(WITH)}". Use {known}.')
    name, _, unit = text.partition(" in ")
    check = check_choices(facts).get(name)
    if check is None:
        raise BadInput(
            f'"{name}" is not something a column can be. It can be {", ".join(FIELDS)}, '
            f"item:KIND, with.CONDITION, a check ({', '.join(check_choices(facts))}) or - to leave "
            "it out."
        )
    if unit and (check.quantity is None or unit not in check.quantity.units):
        units = ", ".join(check.quantity.units) if check.quantity else ""
        raise BadInput(
            f'{check.label} is not written in "{unit}". '
            + (f"Use {units}." if units else "It takes no unit.")
        )
    return Target("reading", check=name, unit=unit)


def check_choices(facts: JobFacts) -> dict[str, Check]:
    """The checks that a reading can be of, by name; looks are findings and stand apart."""
    return {
        check.name: check
        for kind in dict.fromkeys((*facts.inspect, *facts.sheets))
        for check in facts.sheets[kind].checks
        if check.kind != "look" and check.method != "age"
    }


def _conditions(facts: JobFacts) -> list[str]:
    return list(dict.fromkeys(n for c in check_choices(facts).values() for n in c.asks))


def numbered(table: Table, said: Mapping[str, str] | Mapping[int, str] | None) -> dict[int, str]:
    """What was said of columns, by their number; it is said by number or by heading."""
    found: dict[int, str] = {}
    for key, value in (said or {}).items():
        if isinstance(key, int):
            found[key] = value
            continue
        if key not in table.headings:
            raise BadInput(
                f'The table has no column "{key}". '
                f"It has {', '.join(h for h in table.headings if h)}.",
                table.name,
            )
        if table.headings.count(key) > 1:
            raise BadInput(
                f'The table has the heading "{key}" twice. Give each column its own.', table.name
            )
        found[table.headings.index(key)] = value
    return found


def guess(
    table: Table, facts: JobFacts, said: Mapping[str, str] | Mapping[int, str] | None = None
) -> list[Column]:
    """What each column is taken for: as ``said``, else by its heading's words.

    Raises
    ------
    BadInput
        A column that is spoken of is not there, or two columns are said to be the same thing.
    """
    given = numbered(table, said)
    columns: list[Column] = []
    taken: dict[Target, str] = {}
    wanted = [
        target_from(given[n], facts) if n in given else None for n in range(len(table.headings))
    ]
    for heading, target in zip(table.headings, wanted, strict=True):
        if target is None or target.field == LEFT_OUT:
            continue
        slot = _slot(target)
        if slot in taken:
            raise BadInput(
                f'"{taken[slot]}" and "{heading}" are both said to be {target_text(slot)}. '
                "Leave one of them out.",
                table.name,
            )
        taken[slot] = heading
    long_shape = _is_long(table, facts, wanted)
    for heading, target in zip(table.headings, wanted, strict=True):
        if target is not None:
            how = "left out" if target.field == LEFT_OUT else "said"
            columns.append(Column(heading, target, how, _words(target, facts)))
            continue
        found, exact = _guess_one(heading, facts, long_shape=long_shape)
        if found.field == LEFT_OUT or _slot(found) in taken:
            words = "worked out, not taken in" if heading in WORKED_OUT else "left out"
            columns.append(Column(heading, Target(), "left out", words))
            continue
        taken[_slot(found)] = heading
        columns.append(
            Column(heading, found, "exact" if exact else "guessed", _words(found, facts))
        )
    return columns


def _slot(target: Target) -> Target:
    """What may be taken by one column only, whatever its unit or kind."""
    return Target(target.field, check=target.check)


def _is_long(table: Table, facts: JobFacts, wanted: Sequence[Target | None]) -> bool:
    fields = set()
    for heading, target in zip(table.headings, wanted, strict=True):
        found = target or _guess_one(heading, facts, long_shape=True)[0]
        fields.add(found.field)
    return {"check", "written"} <= fields


def _guess_one(heading: str, facts: JobFacts, *, long_shape: bool) -> tuple[Target, bool]:
    if heading in WORKED_OUT:
        return Target(), True
    if heading in FIELDS:
        return Target(heading), True
    if heading.startswith(WITH) and heading.removeprefix(WITH) in _conditions(facts):
        return Target(heading), True
    plain = " ".join(re.sub(r"[^\w%Ω]+", " ", heading.casefold()).replace("_", " ").split())
    if plain in FIELDS:
        return Target(plain), False
    if plain.replace(" ", "_") in FIELDS:
        return Target(plain.replace(" ", "_")), False
    if plain in _WORDS:
        return Target(_WORDS[plain]), False
    kind = _KIND_WORDS.get(plain, plain)
    if kind in facts.sheets:
        return Target("item", kind=kind), False
    if plain in _conditions(facts):
        return Target(f"{WITH}{plain}"), False
    if not long_shape:
        check, unit = _guess_check(plain, facts)
        if check is not None:
            return Target("reading", check=check.name, unit=unit), heading == check.name
    return Target(), False


def _guess_check(plain: str, facts: JobFacts) -> tuple[Check | None, str]:
    """The check a heading names, and the unit that stands in it (``Gap (thou)``)."""
    checks = check_choices(facts)
    by_word = {name.replace("_", " "): check for name, check in checks.items()}
    by_word |= {check.label.casefold().replace(",", ""): check for check in checks.values()}
    by_word |= {w: checks[name] for w, name in _CHECK_WORDS.items() if name in checks}
    words = plain.split()
    for length in range(len(words), 0, -1):
        check = by_word.get(" ".join(words[:length]))
        if check is None:
            continue
        rest = " ".join(words[length:]) or (plain if length == 1 else "")
        unit = ""
        if check.quantity is not None:
            units = {name.casefold(): name for name in check.quantity.units}
            unit = units.get(rest, "")
        return check, unit
    return None, ""


def _words(target: Target, facts: JobFacts) -> str:
    if target.field == LEFT_OUT:
        return "left out"
    if target.check:
        label = check_choices(facts)[target.check].label
        return f"readings of {label.lower()}" + (f", in {target.unit}" if target.unit else "")
    if target.kind:
        return f"the item, a {target.kind}"
    if target.field.startswith(WITH):
        return f"{target.field.removeprefix(WITH)}, written with the reading"
    return FIELDS[target.field]


def wanted_checks(table: Table, columns: Sequence[Column], facts: JobFacts) -> list[Check]:
    """The checks in the table whose rows name no meter, so that one has to be said."""
    targets = [column.target for column in columns]
    fields = {target.field for target in targets}
    if "meter" in fields:
        return []
    known = check_choices(facts)
    found = [target.check for target in targets if target.check]
    if "check" in fields:
        at = next(n for n, target in enumerate(targets) if target.field == "check")
        found += [check_name(cell_text(row.cells[at]), known) for row in table.rows]
    return [known[name] for name in dict.fromkeys(found) if name in known]


def check_name(text: str, known: Mapping[str, Check]) -> str:
    """A check as its sheet names it, whatever word stands in the cell for it."""
    plain = " ".join(text.casefold().replace("_", " ").split())
    for name, check in known.items():
        if plain in (name.replace("_", " "), check.label.casefold()):
            return name
    return _CHECK_WORDS.get(plain, text)


# In
