"""``rehang pin``: set a person's PIN at the machine that keeps the book."""

from __future__ import annotations

import getpass
import importlib
import sys
from collections.abc import Callable
from datetime import datetime
from typing import Any

from cyclopts import App

from rehang.cli.asked import Store
from rehang.sheets import DEMO_PINS
from rehang.trade.terms.errors import BadInput

__all__ = ["register", "say_demo_pins"]


def register(app: App, *, store: Store, now: Callable[[], datetime]) -> None:
    """Add the command to the program. ``store`` opens the book."""

    @app.command(name="pin")
    def _pin(person: str, /) -> int:
        """Set the PIN of whoever keeps the shop: six digits, typed twice, or two lines of the input.

        Looks, decisions and signatures ask for it. Everyone else sets their own, with a one-time code
        from the page People.

        Example: rehang pin marta

        Parameters
        ----------
        person
            Key of the person in people.toml.
        """
        store()
        pins = importlib.import_module("rehang.book.pins")
        name = importlib.import_module("rehang.book.members").member(person).name
        ask = getpass.getpass if sys.stdin.isatty() else _line
        new = ask(f"New PIN of {name}: ")
        if ask("The same again: ") != new:
            raise BadInput("The two are not the same. Enter the new PIN twice.")
        pins.set_pin(person=person, pin=new, by=pins.TERMINAL, at=now())
        print(f"The PIN of {name} is set.")
        return 0


def _line(prompt: str) -> str:
    return sys.stdin.readline().rstrip("\n")


def say_demo_pins(job: Any, *, by: str, at: datetime) -> None:
    """Give the people of a demo their PINs, and say those that are still the demo's."""
    pins = importlib.import_module("rehang.book.pins")
    said = pins.show_demo_pins(job=job, pins=DEMO_PINS, by=by, at=at)
    if said:
        named = ", ".join(f"{name} {pin}" for name, pin in said.items())
        print(
            f"PINs of the demo's people, for looks, decisions and signatures: {named}.",
            file=sys.stderr,
        )
