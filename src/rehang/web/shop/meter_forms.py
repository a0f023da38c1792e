"""The form of a meter: what its label says, in the words of who holds it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from typing import Any

from django import forms
from django.forms import BoundField
from django.http import HttpRequest

from rehang.sheets import edit
from rehang.trade.terms.days import last_day
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import QUANTITIES, parse_number
from rehang.trade.terms.wording import lower_first
from rehang.web.shared.forms import BenchForm, Choose, Pick, TextField
from rehang.web.shop.meter_makes import Ask, Make

__all__ = ["DUE_HINT", "MakeForm", "due_day"]

DUE_HINT = "As in 2027-01-31, 2027-01 or 2027-Q1"
MOST_RANGES = 4
# A range of a digital meter after its first: key, label, unit of a bare number.
_RANGE = (
    ("top", "Largest, kΩ", "kohm"),
    ("count", "Last digit, kΩ", "kohm"),
    ("percent_of_reading", "± per cent", ""),
    ("counts", "and last digits", ""),
)
# What a meter may have besides: label, hint, unit of a bare number ("*": that of its quantity).
_MORE: Mapping[str, tuple[str, str, str]] = {
    "resolution": ("Smallest step", "It adds to the accuracy", "*"),
    "repeatability": ("Repeatability", "One standard deviation; it adds to the accuracy", "*"),
    "lowest": ("Lowest it reads", "", "*"),
    "highest": ("Highest it reads", "", "*"),
    "master_mm2": ("Area of its master orifice, mm²", "From the master's certificate", ""),
    "master_u_mm2": ("Standard uncertainty of that area, mm²", "", ""),
    "use": ("What it is for", "As in gap, clearance, oil pressure", "text"),
}
_SHOWN = {"kohm": "kΩ", "ohm": "Ω", "deg": "°", "F": "°F"}


def due_day(text: str) -> date:
    """The last day of a calibration, from its text."""
    return last_day(text, "due")


class MakeForm(BenchForm):
    """A meter of one make: its id, what its label says and its calibration; the rest is folded.

    ``held`` is the meter on file that is changed; None for a new one. ``use`` is what a new one is
    wanted for.
    """

    unknown = forms.BooleanField(required=False)

    def __init__(
        self,
        request: HttpRequest,
        make: Make,
        held: Mapping[str, Any] | None,
        use: str,
        quantity: str = "",
    ) -> None:
        """``use`` and ``quantity`` are those of the check that a meter is looked for."""
        super().__init__(request, _first(make, held, use, quantity))
        self.make, self.held = make, held
        # What the fields of each range on file begin with.
        self.range_heads: list[str] = []
        not_known = make.has_accuracy and bool(self.data.get("unknown"))
        if held is None:
            self.fields["id"] = TextField(
                "Id on the meter", "As in DM-2", asks="Enter the id on the meter.", short=True
            )
        if make.quantity == "*":
            units = [(q.name, f"{q.name}, {q.words}") for q in QUANTITIES.values()]
            self.fields["quantity"] = Pick("Measures", units)
        for ask in make.asks:
            self.fields[ask.key] = _field(ask, not_known=not_known)
        self.fields["due"] = TextField(
            "Calibration due", f"On its sticker. {DUE_HINT}. Empty: none", check=due_day, short=True
        )
        self.more = ["name", "calibrated_by", "note"]
        self.fields |= {
            "name": TextField("Name", asks="Enter its name."),
            "calibrated_by": TextField("Calibrated by"),
            "note": TextField("Note"),
        }
        asked = {ask.key for ask in make.asks}
        for key, (label, hint, unit) in _MORE.items():
            if key not in asked and (make.kind != "tester" or key == "use"):
                shown = _unit_words(unit, make)
                self.fields[key] = TextField(f"{label}{shown}", hint, short=True)
                self.more.append(key)
        if make.kind == "digital":
            for number in range(1, MOST_RANGES):
                for key, label, _ in _RANGE:
                    self.fields[f"range_{number}_{key}"] = TextField(f"{label}, range {number + 1}")

    def told(self) -> list[BoundField]:
        """What its label says, down to its accuracy."""
        names = ["id"] if self.held is None else []
        names += ["quantity"] if self.make.quantity == "*" else []
        return [self[name] for name in (*names, *(ask.key for ask in self.make.asks))]

    def folded(self) -> list[BoundField]:
        return [self[name] for name in self.more]

    def lines(self) -> list[list[BoundField]]:
        """The fields of each further range of a digital meter."""
        if self.make.kind != "digital":
            return []
        return [
            [self[f"range_{number}_{key}"] for key, _, _ in _RANGE]
            for number in range(1, MOST_RANGES)
        ]

    def changes(self, on: date) -> dict[str, edit.Value | None]:
        """Each key of the meter, None where it is to have none; ``on`` dates its calibration.

        Raises
        ------
        BadInput
            What was typed cannot be read.
        """
        typed, make = self.checked(), self.make
        found: dict[str, edit.Value | None] = {}
        if self.held is None:
            found = {"id": typed["id"], "kind": make.kind}
            found |= {"keyed": make.keyed} if make.keyed else {}
            found |= {"use": make.use} if make.use else {}
        if make.quantity and make.kind != "torque wrench":
            found["quantity"] = typed["quantity"] if make.quantity == "*" else make.quantity
        unknown = bool(typed["unknown"]) and make.has_accuracy
        found["accuracy_not_known"] = True if unknown else None
        for ask in make.asks:
            if not ask.key.startswith("range.") and ask.key not in ("mid_scale", "scales"):
                left_out = unknown and ask.of_accuracy
                found[ask.key] = None if left_out else self._value(ask.key, ask.unit, ask.plain)
        for key in (*self.more, "due"):
            unit = _MORE[key][2] if key in _MORE else "text"
            found[key] = self._value(key, "" if unit == "text" else unit, unit == "")
        if make.use and not found["use"]:
            found["use"] = make.use
        ranges = self._ranges(typed, unknown=unknown)
        if ranges:
            found["range"] = ranges
        elif make.kind in ("digital", "analog ohmmeter"):
            found["range"] = None
        before = self.held or {}
        if any(
            str(before.get(key, "")) != str(found[key] or "") for key in ("due", "calibrated_by")
        ):
            # DESIGN 4b, 15: it counts from the day it is put in.
            found["entered_on"] = on
        return found

    def _value(self, field: str, unit: str, plain: bool) -> edit.Value | None:
        """What was typed as the file has it: a number, an amount with its unit, or words."""
        text: str = self.cleaned_data[field]
        if not text:
            return None
        if plain:
            return _number(text, field)
        if not unit or not re.fullmatch(r"[\d.,]+", text):
            return text
        if unit == "*":
            unit = QUANTITIES[self.cleaned_data.get("quantity") or self.make.quantity].keyed
        return f"{text} {unit}"

    def _ranges(
        self, typed: Mapping[str, str], *, unknown: bool
    ) -> list[dict[str, str | int | float]]:
        if self.make.kind == "analog ohmmeter":
            return _scales(typed["scales"], typed["mid_scale"])
        if self.make.kind != "digital":
            return []
        found = []
        self.range_heads = []
        for number in range(MOST_RANGES):
            head = f"range_{number}_" if number else "range."
            made: dict[str, Any] = {
                key: self._value(f"{head}{key}", unit, not unit)
                for key, _, unit in _RANGE
                if typed[f"{head}{key}"] and not (unknown and not unit)
            }
            if made:
                found.append({"name": _range_name(typed[f"{head}top"]), **made})
                self.range_heads.append(head)
        return found

    def place_of(self, *keys: str | int) -> str:
        """The field that asks for a key of the file, as ``("range", 1, "count")``."""
        name = str(keys[-1]) if keys else ""
        if len(keys) > 2 and isinstance(keys[1], int) and keys[1] < len(self.range_heads):
            name = f"{self.range_heads[keys[1]]}{name}"
        if name not in self.fields and name in ("factor", "mid_scale", "range"):
            name = "scales"
        return name


def _field(ask: Ask, *, not_known: bool) -> TextField:
    if ask.picks:
        return Choose(ask.label, ask.picks)
    needed = ask.needed and not (not_known and ask.of_accuracy)
    label = (
        f"{ask.label}, {_SHOWN.get(ask.unit, ask.unit)}" if ask.unit not in ("", "*") else ask.label
    )
    return TextField(
        label,
        ask.where,
        asks=f"Enter: {lower_first(ask.label)}." if needed else "",
        short=True,
        inputmode="decimal" if ask.key != "scales" else "text",
    )


def _unit_words(unit: str, make: Make) -> str:
    if unit != "*" or make.quantity in ("", "*"):
        return ""
    keyed = QUANTITIES[make.quantity].keyed
    return f", {_SHOWN.get(keyed, keyed)}"


def _first(make: Make, held: Mapping[str, Any] | None, use: str, quantity: str) -> dict[str, Any]:
    """What stands in the form before anything is typed."""
    if held is None:
        first: dict[str, Any] = {ask.key: ask.first for ask in make.asks if ask.first}
        wanted = use if use in make.used_for or (not make.used_for and make.quantity == "*") else ""
        first |= {"quantity": quantity} if make.quantity == "*" and quantity else {}
        return first | {"name": make.label, "use": wanted or make.use}
    first = {key: _shown(value) for key, value in held.items() if not isinstance(value, list)}
    ranges = held.get("range", [])
    if make.kind == "analog ohmmeter" and ranges:
        first["scales"] = " ".join(str(one.get("factor", 1)) for one in ranges)
        lowest = min(ranges, key=lambda one: float(one.get("factor", 1)))
        first["mid_scale"] = _shown(lowest["mid_scale"])
    elif ranges:
        first |= {f"range.{key}": _shown(value) for key, value in ranges[0].items()}
        for number, one in enumerate(ranges[1:MOST_RANGES], start=1):
            first |= {f"range_{number}_{key}": _shown(value) for key, value in one.items()}
    return first | {"unknown": bool(held.get("accuracy_not_known"))}


def _shown(value: Any) -> str:
    return value.isoformat() if isinstance(value, date) else str(value)


def _range_name(top: str) -> str:
    """``20k`` for the range up to 20 kΩ, as its switch has it."""
    return top.replace(" ", "").removesuffix("ohm").removesuffix("Ω") if "k" in top else f"{top}k"


def _scales(text: str, mid_scale: str) -> list[dict[str, str | int | float]]:
    """The ranges of a needle: each multiplies the one scale, and so its middle."""
    found: list[dict[str, str | int | float]] = []
    middle = float(_number(mid_scale.removesuffix("ohm").removesuffix("Ω").strip(), "mid_scale"))
    for word in re.split(r"[\s,;]+", text.strip()):
        plain = word.lower().lstrip("x×")
        factor = _number(plain.removesuffix("k"), "scales") * (1000 if plain.endswith("k") else 1)
        if not factor:
            raise BadInput(f'"{word[:20]}" is no range. Write them as in 1 10 100 1000.', "scales")
        name = f"x{factor // 1000}k" if factor >= 1000 and factor % 1000 == 0 else f"x{factor}"
        found.append({"name": name, "factor": factor, "mid_scale": f"{middle * factor:g} ohm"})
    return found


def _number(text: str, field: str = "") -> int | float:
    value = float(parse_number(text, field))
    if not 0 <= value < 1e9:
        raise BadInput(f"{text} is below zero or too large to mean a meter.", field)
    return int(value) if value == int(value) else value
