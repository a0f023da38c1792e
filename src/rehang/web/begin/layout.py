"""How an engine is laid out: one of the shipped layouts by its picture, or drawn from a few answers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_POST

from rehang.sheets import layout, layouts
from rehang.sheets.asked_layout import asked_layout
from rehang.trade.drawn.layouts import outline_svg, outline_words, tray_svg
from rehang.trade.facts.layout import Layout, layout_from
from rehang.trade.facts.layout_asked import (
    ANSWERS,
    Question,
    fired_so_far,
    firing_order_from,
    layout_asked,
    questions,
)
from rehang.trade.terms.errors import BadInput
from rehang.web.shared.forms import BenchForm, TextField

__all__ = ["LayoutForm", "layout_preview"]

ASKED = "asked"
# What a firing order was common for: it gives way to another one once these have changed.
_ORDER_OF = "order_of"
_ORDER_FROM = ("arrangement", "cylinders", "numbering")


@dataclass(frozen=True, slots=True)
class LayoutCard:
    """A layout to pick by its picture."""

    name: str
    title: str
    picture: str
    picked: bool


@dataclass(frozen=True, slots=True)
class AskedRow:
    """A question as it stands on the page, with what is wrong with its answer."""

    question: Question
    wrong: str

    @property
    def is_asked(self) -> bool:
        return len(self.question.choices) > 1


@dataclass(frozen=True, slots=True)
class FiringRow:
    """The firing order: as it is written, what is common, a key for each cylinder, what is missing.

    ``loops`` are the rounds that plugs go by the rule; empty until the order is whole.
    """

    text: str
    common: tuple[str, ...]
    is_common: bool
    keys: tuple[tuple[int, bool], ...]
    missing: str
    loops: tuple[tuple[str, ...], ...]


class LayoutForm(BenchForm):
    """The layout that was picked, or what was answered for one's own."""

    fallback = "layout"

    def __init__(
        self, request: HttpRequest, initial: Mapping[str, Any] | None = None, **more: Any
    ) -> None:
        super().__init__(request, initial, **more)
        self.fields |= {key: TextField() for key in ("layout", *ANSWERS)}

    def chosen(self) -> tuple[str, str]:
        """The layout's name for ``engine.toml`` and the text of ``layout.toml``, if it needs one.

        Raises
        ------
        BadInput
            Nothing was picked, or an answer does not go with the others; ``where`` is its field.
        """
        return self.chosen_of(self.checked())

    def chosen_of(self, typed: Mapping[str, str]) -> tuple[str, str]:
        """The same, out of what was typed by name."""
        if not typed["layout"]:
            raise BadInput("Pick the picture that is like your engine, or draw it.", "layout")
        if typed["layout"] != ASKED:
            return layout(typed["layout"], "layout").name, ""
        return asked_layout({key: typed[key] for key in ANSWERS})

    @property
    def cards(self) -> list[LayoutCard]:
        picked = self["layout"].value()
        # Most engines are opposed.
        ordered = sorted(layouts().values(), key=lambda one: "right" not in one.plan)
        return [
            LayoutCard(one.name, one.title, outline_svg(one, ""), one.name == picked)
            for one in ordered
        ]

    @property
    def is_drawn(self) -> bool:
        return bool(self["layout"].value() == ASKED)

    @cached_property
    def _rows(self) -> Mapping[str, AskedRow]:
        given = {key: str(self.data[key]) for key in ANSWERS if key in self.data}
        was = self.data.get(_ORDER_OF, "")
        if was.partition(" ")[0] != given.get("arrangement"):
            # Of another kind of engine nothing else is usual any more.
            given = {key: text for key, text in given.items() if key == "arrangement"}
        now = {one.key: one for one in questions(given)}
        if was != _order_of(now):
            given.pop("firing_order", None)
        pressed = self.data.get("fires", "")
        if pressed:
            text = given.get("firing_order", "")
            given["firing_order"] = _with_key(pressed, text, int(now["cylinders"].given))
        wrong = {key: str(said[0]) for key, said in self.errors.items()}
        return {one.key: AskedRow(one, wrong.get(one.key, "")) for one in questions(given)}

    def stand(self) -> list[AskedRow]:
        """How the cylinders stand."""
        keys = ("arrangement", "cylinders", "first_side", "numbering")
        return [self._rows[key] for key in keys]

    def plugs(self) -> list[AskedRow]:
        """Plugs, what fires them, and where oil runs to."""
        return [self._rows[key] for key in ("rows", "ignition", "drains")]

    @property
    def order_of(self) -> str:
        return _order_of({key: row.question for key, row in self._rows.items()})

    @cached_property
    def _drawn(self) -> tuple[Layout, str]:
        """The layout as answered so far, and what is wrong with its firing order."""
        given = {key: row.question.given for key, row in self._rows.items()}
        count = int(given["cylinders"])
        wrong = ""
        try:
            firing_order_from(given["firing_order"], count)
        except BadInput as reason:
            wrong = reason.sentence
            given["firing_order"] = "-".join(str(one + 1) for one in range(count))
        return layout_from(layout_asked(given)), wrong

    def outline(self) -> str:
        return outline_svg(self._drawn[0], "How the cylinders stand.")

    def outline_words(self) -> str:
        drop = " A drop: oil can lock it." if self._drawn[0].locks else ""
        return outline_words(self._drawn[0]) + drop

    def tray(self) -> str:
        return tray_svg(self._drawn[0], "The tray, with what fires each plug.")

    def tray_words(self) -> str:
        drawn = self._drawn[0]
        said = ["The tray."]
        said += ["L, R: the magneto that fires it."] * (len(drawn.ignition) > 1)
        said += ["A drop: oil runs to it."] * bool(drawn.drains_to)
        return " ".join(said)

    def firing(self) -> FiringRow:
        """What the page shows of the firing order."""
        drawn, wrong = self._drawn
        question = self._rows["firing_order"].question
        fired = fired_so_far(question.given, len(drawn.cylinders))
        if wrong and question.given == "-".join(map(str, fired)):
            # It is right so far.
            wrong = f"{len(fired)} of {len(drawn.cylinders)}. Tap the cylinder that fires next."
        return FiringRow(
            text=question.given,
            common=tuple(value for value, _ in question.choices),
            is_common=question.given in dict(question.choices),
            keys=tuple((one, one in fired) for one in drawn.cylinders),
            missing=wrong,
            loops=() if wrong else drawn.rotation_loops(),
        )


def _order_of(now: Mapping[str, Question]) -> str:
    return " ".join(now[key].given for key in _ORDER_FROM)


def _with_key(pressed: str, text: str, cylinders: int) -> str:
    """A firing order after a key: a cylinder that fires next, BACK, CLEAR, or a common order."""
    fired = [str(one) for one in fired_so_far(text, cylinders)]
    if pressed == "clear":
        return ""
    if pressed == "back":
        return "-".join(fired[:-1])
    if pressed.isdecimal():
        return "-".join(dict.fromkeys([*fired, pressed]))
    return pressed


@login_required
@require_POST
def layout_preview(request: HttpRequest) -> HttpResponse:
    """The questions with what goes with the answers so far, and their pictures."""
    return render(request, "begin/_layout.html", {"form": LayoutForm(request)})
