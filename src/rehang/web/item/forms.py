"""Forms of what is read on an item: one reading, two reads of a cylinder, a sample of its oil."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from django.forms import BoundField
from django.http import HttpRequest

from rehang.trade.facts.items import Check
from rehang.trade.known.oil_fill import top_ups_typed
from rehang.trade.life.oil_trend import ELEMENTS
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.wording import whole
from rehang.web.shared.forms import BenchForm, Choose, TextField

__all__ = ["OilForm", "PressureForm", "ReadForm", "oil_number"]


def _spark_psi(text: str) -> None:
    if whole(text) is None:
        raise BadInput(f'"{text[:60]}" is not a pressure. Write whole psi, as in 100.')


class ReadForm(BenchForm):
    """One reading: the number, the grade or what is seen, and why an earlier one is struck."""

    by_address = True
    how = TextField()
    reason = TextField("Why it is struck")
    written = TextField(inputmode="decimal")
    at_psi = TextField("At this pressure, psi", check=_spark_psi, short=True, inputmode="numeric")
    word = TextField()
    severity = TextField()
    confirm = TextField()
    meter = TextField()
    kept_as_keyed = TextField()
    shifted = TextField()

    def __init__(self, request: HttpRequest, check: Check, usual_psi: str) -> None:
        super().__init__(request, {"reason": "Written wrong", "at_psi": usual_psi})
        self.fallback = "word" if check.kind == "look" else "written"
        for number in range(check.points):
            self.fields[f"at_{number}"] = TextField(
                f"{number * 360 / check.points:g}°", short=True, inputmode="text"
            )
        if "dial" in check.asks:
            words = [(one, one.capitalize()) for one in check.asks["dial"]]
            self.fields["dial"] = Choose("The dial", words)
            self.initial.setdefault("dial", words[0][0])
        # What was typed before the way led to a new meter.
        self.initial.update({k: request.GET[k] for k in self.fields if k in request.GET})
        if self.data.get("shifted"):
            # The answer to UNLIKELY that moves the point is a button of its own.
            self.data = {**dict(self.data.items()), "written": self.data["shifted"]}
        self.points = check.points

    @property
    def round_turn(self) -> list[Any]:
        """The boxes for what a dial shows round a turn."""
        return [self[f"at_{number}"] for number in range(self.points)]

    def clean(self) -> dict[str, Any]:
        """With the figures round a turn as one reading, as a line would write them."""
        typed: dict[str, Any] = super().clean() or self.cleaned_data
        if self.points:
            given = [typed.get(f"at_{number}", "") for number in range(self.points)]
            if any(given) and not all(given):
                gap = given.index("")
                self.add_error(
                    f"at_{gap}", f"Write what the dial shows at {gap * 360 / self.points:g}°."
                )
            elif all(given):
                typed["written"] = " ".join(given)
        return typed


def _bare_psi(text: str) -> str:
    return text.removesuffix("psi").strip()


def _psi(text: str) -> None:
    bare = _bare_psi(text)
    if not (bare.isascii() and bare.isdigit()):
        raise BadInput(f'"{text}" is not a pressure. Write whole psi, as in 74.')


def _minutes(text: str) -> None:
    if not (text.isascii() and text.isdigit()):
        raise BadInput(f'"{text}" is not whole minutes. Write digits, as in 12.')


class _Psi(TextField):
    """A whole pressure in psi, with or without its unit."""

    def __init__(self, label: str, *, asks: str = "", hinted: bool = False) -> None:
        super().__init__(label, asks=asks, check=_psi, hinted=hinted, inputmode="numeric")

    def clean(self, value: object) -> str:
        return _bare_psi(super().clean(value))


class PressureForm(BenchForm):
    """Two reads of a cylinder, and what was so while they were taken."""

    by_address = True
    fallback = "held"
    meter = TextField("Tester")
    supply = _Psi("Supply", asks="Enter the supply.")
    held = _Psi("First read", asks="Enter what the cylinder held.", hinted=True)
    again = _Psi("Second read")
    state = TextField(asks="Pick hot or cold: a cold figure never clears a hot one.")
    orifice = TextField(asks="Pick the tester's orifice.")
    path = TextField(asks="Pick where the air was heard, or none.")
    path_note = TextField("How loud, or where just (may be left empty)")
    minutes = TextField("Minutes since shutdown", check=_minutes, short=True, inputmode="numeric")
    station = TextField(
        "Pressure of the air here (may be left empty)",
        "What a barometer shows, as in 28.6 inHg. Empty: by the elevation on file.",
        short=True,
    )
    master = _Psi("Master reading of this tester today, psi", hinted=True)
    kept_as_keyed = TextField()

    def __init__(self, request: HttpRequest, meters: Collection[str]) -> None:
        super().__init__(request, {"supply": "80"})
        self.meters = meters

    def clean_meter(self) -> str:
        """The id of the tester; without one nothing else is looked at."""
        meter: str = self.cleaned_data["meter"].partition("|")[0]
        if meter not in self.meters:
            self.add_error("meter", "Pick the tester that was used.")
        return meter


def oil_number(text: str) -> float:
    """A number of 0 or more.

    Raises
    ------
    BadInput
        It is none.
    """
    try:
        number = float(text)
    except ValueError:
        number = float("nan")
    if not 0 <= number < float("inf"):
        raise BadInput(f'"{text}" is not a number of 0 or more. Write digits, as in 32.')
    return number


def _number_field(label: str, hint: str, asks: str = "") -> TextField:
    return TextField(label, hint, asks=asks, check=oil_number, short=True)


def _ppm(text: str) -> None:
    if not text.startswith("<"):
        oil_number(text)


class OilForm(BenchForm):
    """A sample of the oil, or what the laboratory found of one that was sent to it before."""

    fallback = "on"
    on = TextField(
        "Drained on", "As in 2026-10-06", asks="Enter the day it was drained.", short=True
    )
    engine_hours = _number_field(
        "Engine hours then", "As in 1142.3", "Enter the engine hours when it was drained."
    )
    oil_hours = _number_field("Hours on this oil", "As in 51", "Enter the hours on this oil.")
    added_qt = _number_field(
        "Quarts added since the change",
        "As in 7; 0 where none was",
        "Enter the quarts added since the change; 0 where none was.",
    )
    fill_qt = _number_field(
        "Quarts filled at the change", "Left empty: the sump by the engine data"
    )
    topups = TextField(
        "Each top-up: hours since the change, quarts",
        "As in 12.5 1, 25 1; may be left empty, and a steady flow is taken",
        check=top_ups_typed,
        short=True,
    )
    left_share = _number_field("Share of the fill that was old oil", "As in 0.1; may be left empty")
    bottle = TextField("Bottle", "Its number or label; may be left empty", short=True)
    lab = TextField(
        "Laboratory", "May be left empty. Another one begins a new baseline", short=True
    )
    oil = TextField(
        "Oil, its brand", "May be left empty. Another one begins a new baseline", short=True
    )
    flag = TextField(
        "What was unusual about the sample",
        "As in cold, on the stand; may be left empty",
        short=True,
    )
    numbers = ("engine_hours", "oil_hours", "added_qt", "fill_qt", "left_share")

    def __init__(self, request: HttpRequest) -> None:
        super().__init__(request)
        self.answering: str = self.data.get("sample") or request.GET.get("sample", "")
        if self.answering:
            self.fields = {name: self.fields[name] for name in ("lab", "flag")}
        self.names = tuple(self.fields)
        for element, source in ELEMENTS.items():
            field = TextField(element, check=_ppm, inputmode="decimal", title=source)
            self.fields[f"ppm-{element}"] = field

    def told(self) -> list[BoundField]:
        return [self[name] for name in self.names]

    def elements(self) -> list[BoundField]:
        return [self[f"ppm-{element}"] for element in ELEMENTS]

    def ppm(self) -> dict[str, str | float]:
        """What the laboratory found, by element; as written where it is below what it can see."""
        typed = self.checked()
        given = {element: typed[f"ppm-{element}"] for element in ELEMENTS}
        return {
            element: text if text.startswith("<") else oil_number(text)
            for element, text in given.items()
            if text
        }

    def sample(self) -> dict[str, Any]:
        """What was written of the sample itself."""
        typed = self.checked()
        return {name: self._told(name, typed[name]) for name in self.names if typed[name]}

    def _told(self, name: str, text: str) -> Any:
        if name == "topups":
            return top_ups_typed(text)
        return oil_number(text) if name in self.numbers else text
