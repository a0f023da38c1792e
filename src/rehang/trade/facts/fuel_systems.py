"""How an engine's fuel is metered, and whether that is known."""

from __future__ import annotations

from typing import Protocol

__all__ = ["FUEL_CHECKS", "FUEL_SYSTEMS", "KNOWN", "suits"]

# What meters the fuel, as engine.toml has it; nothing there where nobody wrote it.
FUEL_SYSTEMS = ("carburettor", "injection")
# A check or a sheet of every engine whose fuel system is on file.
KNOWN = "known"
FUEL_CHECKS = (*FUEL_SYSTEMS, KNOWN)


class OfFuel(Protocol):
    """A check or a sheet, which may be of engines with one fuel system alone."""

    @property
    def fuel_system(self) -> str: ...


def suits(one: OfFuel, fuel_system: str) -> bool:
    """Whether an engine may have what a check or a sheet is of; one that is not known may have both.

    >>> from types import SimpleNamespace
    >>> heat = SimpleNamespace(fuel_system="carburettor")
    >>> suits(heat, "carburettor"), suits(heat, ""), suits(heat, "injection")
    (True, True, False)
    """
    return one.fuel_system in ("", KNOWN, fuel_system) or not fuel_system
