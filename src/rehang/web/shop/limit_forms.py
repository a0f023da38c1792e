"""The form of one limit: the bounds of the check in its unit, and whose they are."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.forms import BoundField
from django.http import HttpRequest

from rehang.sheets import edit
from rehang.trade.facts.items import Check
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import DROPS, FROM_MEAN
from rehang.trade.facts.torquegroups import TorqueGroup
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import QUANTITIES, Quantity, parse_amount, show
from rehang.trade.terms.wording import listed, lower_first, whole
from rehang.web.shared.forms import BenchForm, Choose, Pick, TextField

__all__ = ["SOURCE", "LimitForm", "Subject", "subject_of"]

KEYS = (
    "lower", "upper", "short", "aim", "grade", "at_psi", "at_rpm", "worst", "floor", "use",
    "document", "revision", "page", "note",
)  # fmt: skip
BOUNDS = ("lower", "upper", "aim")
WHOLE = ("at_psi", "at_rpm", "worst")
SOURCE = ("document", "revision", "page")
# What is seldom asked stands folded below.
SELDOM = ("aim", "use", "note")
ON_CONDITION = "on condition"
_UNIT = re.compile(r"(?P<number>[-+]?[\d.,]+)\s*(?P<unit>[^\d\s.,+-].*)$")
_SHOWN = {"kohm": "kΩ", "ohm": "Ω", "megohm": "MΩ", "deg": "°"}


@dataclass(frozen=True, slots=True)
class Subject:
    """What a limit is for: a check of a sheet, or the torque of a group of fasteners."""

    kind: str
    name: str
    check: Check | None
    group: TorqueGroup | None

    @property
    def quantity(self) -> Quantity | None:
        if self.check is not None:
            return self.check.quantity
        return QUANTITIES["torque"] if self.group is not None else None

    @property
    def answer(self) -> str:
        """What is asked for: ``grade``, ``look``, ``age``, ``compression`` or a ``measure``."""
        if self.check is None:
            return "measure"
        return self.check.method if self.check.method in ("age", "compression") else self.check.kind

    @property
    def label(self) -> str:
        if self.group is not None:
            return self.group.title
        return self.check.label if self.check is not None else self.name.replace("_", " ")


def subject_of(kind: str, name: str, facts: JobFacts) -> Subject:
    """What a limit of that kind of item and check is for.

    Raises
    ------
    BadInput
        There is no such check, and no group of fasteners of that name.
    """
    sheet = facts.every_sheet.get(kind)
    group = next((one for one in facts.torque_groups.values() if one.limit == name), None)
    if sheet is not None:
        return Subject(kind, name, sheet.check(name), None)
    if kind != "engine" or group is None:
        raise BadInput(f'There is no check sheet for "{kind}", and no torque card of "{name}".')
    return Subject(kind, name, None, group)


class LimitForm(BenchForm):
    """A limit for one check: its bounds, or what else the check asks for, and whose it is."""

    def __init__(
        self, request: HttpRequest, subject: Subject, on_file: Mapping[str, Any], facts: JobFacts
    ) -> None:
        self.subject = subject
        self.units = _units(subject)
        self.wants = wants = {k: str(v) for k, v in dict(on_file.get("wants", {})).items()}
        first = {key: str(on_file.get(key, "")) for key in KEYS}
        first |= {"type": wants.get("type", ""), "state": wants.get("state", "")}
        super().__init__(request, first | self._in_units(first))
        self.fallback = {"grade": "grade", "look": "worst", "age": "upper"}.get(
            subject.answer, "lower"
        )
        asked = _asked(subject, self.units, first, facts)
        self.asked = tuple(name for name in asked if name not in SELDOM)
        self.fields |= {
            **asked,
            "short": TextField(),
            "document": TextField("Document"),
            "revision": TextField("Revision", short=True),
            "page": TextField("Page", short=True),
            "note": TextField("Note"),
        }

    def first(self) -> list[BoundField]:
        """What the check asks for, before whose it is."""
        return [self[name] for name in self.asked if name != "unit"]

    def seldom(self) -> list[BoundField]:
        return [self[name] for name in SELDOM if name in self.fields]

    @property
    def has_unit(self) -> bool:
        return len(self.units) > 0

    @property
    def one_unit(self) -> str:
        """The unit beside a number, where there is one alone."""
        return _SHOWN.get(self.units[0], self.units[0]) if len(self.units) == 1 else ""

    @property
    def asks_short(self) -> bool:
        quantity = self.subject.quantity
        return quantity is not None and quantity.name == "resistance"

    def changes(self) -> dict[str, edit.Value | None]:
        """Each key of a limit, None where it is to have none.

        Raises
        ------
        BadInput
            What was typed cannot be read.
        """
        typed = self.checked()
        found: dict[str, edit.Value | None] = {}
        for key in KEYS:
            text = typed.get(key, "")
            found[key] = (whole(text) if key in WHOLE else text) if text else None
        for key in BOUNDS:
            if typed.get(key):
                found[key] = self._with_unit(typed[key], key)
        self._check_any(found)
        if self.subject.answer == "age":
            # How old a hose of one type may get, or that its looks decide.
            if bool(typed["upper"]) == bool(typed["grade"]):
                raise BadInput(
                    "Write how old it may get, as in 5 years, or choose that it is on condition.",
                    "upper",
                )
            found["wants"] = {"type": typed["type"]}
        elif "state" in self.fields:
            state = {"state": typed["state"]} if typed["state"] else {}
            found["wants"] = {
                **{k: v for k, v in self.wants.items() if k != "state"},
                **state,
            } or None
        return found

    def _check_any(self, found: Mapping[str, edit.Value | None]) -> None:
        bounds = ("lower", "upper", "grade", "worst", "floor")
        if self.subject.answer != "age" and all(found[key] is None for key in bounds):
            what = {
                "grade": "Pick what is asked for.",
                "look": "Pick the worst open finding it may have.",
            }.get(self.subject.answer, "Write the figure it may not be below or not be above.")
            raise BadInput(what, self.fallback)
        if found["floor"] is not None and found["lower"] is not None:
            raise BadInput(
                "Write a figure or pick the master reading of the day, not both.", "lower"
            )

    def _with_unit(self, text: str, key: str) -> str:
        """A bound as the file has it. A bare number takes the unit beside it, as on the pad."""
        quantity = self.subject.quantity
        if quantity is None or _UNIT.match(text):
            return text
        picked = self.data.get("unit", "") or self.units[0]
        if picked not in quantity.units:
            raise BadInput(f'"{picked[:20]}" is no unit of {quantity.name}.', key)
        steps = parse_amount(text, quantity, bare_unit=picked, where=key)
        # Below 1 a bare length is inches, on the pad and here.
        is_length = quantity.name == "length"
        is_inches = is_length and parse_amount(f"{text} in", quantity, where=key) == steps
        written = f"{text} {'in' if is_inches else picked}"
        likely = self.subject.check.believable if self.subject.check is not None else None
        if likely is not None and steps >= 0 and not likely[0] <= steps <= likely[1]:
            raise BadInput(
                f"{show(steps, quantity)} is no likely limit for {lower_first(self.subject.label)}: "
                f"likely is {show(likely[0], quantity).rpartition(' ')[0]} to "
                f"{show(likely[1], quantity)}. Look at the "
                f"unit; if it is right, write it with the number, as in {written}.",
                key,
            )
        return written

    def _in_units(self, first: Mapping[str, str]) -> dict[str, str]:
        """The bounds on file as number and unit, where one unit is that of all of them."""
        found = {key: _UNIT.match(first[key]) for key in BOUNDS if first[key]}
        units = {match["unit"].strip() for match in found.values() if match is not None}
        if None in found.values() or len(units) != 1 or not units <= set(self.units):
            return {}
        numbers = {key: match["number"] for key, match in found.items() if match is not None}
        return {**numbers, "unit": units.pop()}


def _units(subject: Subject) -> tuple[str, ...]:
    """The units that a number may stand in, the one the pad takes first; one spelling of each."""
    quantity = subject.quantity
    if quantity is None:
        return ()
    spelled = {steps: name for name, steps in reversed(list(quantity.units.items()))}
    for name in (quantity.record, quantity.keyed):
        spelled[quantity.units[name]] = name
    rest = [name for name in spelled.values() if name != quantity.keyed]
    if quantity.name == "age":
        # A maker gives the age of a hose in years.
        return (*rest, quantity.keyed)
    return (quantity.keyed, *reversed(rest))


def _whole(text: str) -> None:
    if whole(text) is None:
        raise BadInput(f'"{text[:60]}" is not a whole number. Write digits.')


def _asked(
    subject: Subject, units: tuple[str, ...], on_file: Mapping[str, str], facts: JobFacts
) -> dict[str, TextField]:
    """What the check asks for, by name."""
    match subject.answer:
        case "grade":
            return _grade_fields(subject, on_file)
        case "look":
            worst = (("0", "0, nothing seen"), ("1", "1, noted"), ("2", "2, to be looked into"))
            return {"worst": Choose("Worst open finding it may have", worst, check=_whole)}
        case "age":
            return _age_fields(units, facts)
    fields: dict[str, TextField] = {}
    if subject.answer == "compression":
        assert subject.check is not None
        floors = (("", "a figure"), ("master", "the master reading of the day"))
        states = subject.check.asks.get("state", ())
        fields["floor"] = Choose("The lowest is", floors)
        fields["state"] = Choose("Taken", (("", "either way"), *((one, one) for one in states)))
    fields |= {
        "lower": TextField("Not below", short=True, inputmode="decimal"),
        "upper": TextField("Not above", short=True, inputmode="decimal"),
        **_unit_field(units),
        **_speed_field(subject),
        "aim": TextField("Set it to", "May be left empty", short=True, inputmode="decimal"),
        "use": Pick(
            "Used for",
            (
                ("", "both: going back as found, and setting"),
                ("service", "whether it may go back as found"),
                ("setting", "what to set it to when reworked"),
            ),
        ),
    }
    if subject.check is not None and subject.check.method == FROM_MEAN:
        # Worked out of all of them: nothing is set to it.
        del fields["aim"]
    return fields


def _unit_field(units: tuple[str, ...]) -> dict[str, TextField]:
    if len(units) < 2:
        return {}
    return {"unit": Pick("Unit", tuple((one, _SHOWN.get(one, one)) for one in units))}


def _speed_field(subject: Subject) -> dict[str, TextField]:
    if subject.check is None or subject.check.method not in DROPS:
        return {}
    words = ("Taken from this speed, rpm", "As in 1700. Empty: as the run card says.")
    return {"at_rpm": TextField(*words, check=_whole, short=True, inputmode="numeric")}


def _grade_fields(subject: Subject, on_file: Mapping[str, str]) -> dict[str, TextField]:
    assert subject.check is not None
    grades = [(c.word, c.word) for c in subject.check.choices]
    fields: dict[str, TextField] = {"grade": Choose("Grade asked for", grades)}
    if not subject.check.by_eye and (subject.check.use == "spark" or on_file["at_psi"]):
        fields["at_psi"] = TextField(
            "At this pressure or above, psi", check=_whole, short=True, inputmode="numeric"
        )
    return fields


def _age_fields(units: tuple[str, ...], facts: JobFacts) -> dict[str, TextField]:
    types = listed(sorted({hose.type for hose in facts.hoses.values()}), "or")
    return {
        "type": TextField(
            "Type of hose",
            f"As on its tag: {types}" if types else "As on its tag",
            asks="Write the type of hose that the rule is for, as on its tag.",
            short=True,
        ),
        "upper": TextField("Not older than, from fitting", short=True, inputmode="decimal"),
        **_unit_field(units),
        "grade": Choose("Or", (("", "by its age"), (ON_CONDITION, "on condition: looks decide"))),
    }
