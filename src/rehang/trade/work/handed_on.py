"""What a job leaves behind for the next one on the same engine."""

from __future__ import annotations

from collections.abc import Container, Mapping
from typing import Any

from rehang.trade.facts.engine import ACCESSORIES
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.hours import hours_of
from rehang.trade.known.state import JobState, item_kind, item_name
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.items import Fitted, Replaced
from rehang.trade.terms.kinds.papers import Complied

__all__ = ["engine_left"]

# What is told of one job alone, and what is the shop's.
_OF_ONE_JOB = (
    "format", "job", "title", "removed_on", "last_run_on", "note", "inspect", "left_out", "purpose", "also_for", "shop",
    "place", "timezone", "elevation_ft", "thresholds", "shop_hours",
)  # fmt: skip


def engine_left(facts: JobFacts, state: JobState) -> dict[str, Any]:
    """The engine's own table as its job left it: its hours, and what was fitted in its places."""
    found: dict[str, Any] = {
        key: value for key, value in facts.engine.items() if key not in _OF_ONE_JOB
    }
    clocks = hours_of(facts, state).by_clock
    hours = {key: clocks[key] for key in ("since_new", "since_overhaul") if key in clocks}
    if hours:
        found["hours"] = hours
    if "airframe" in clocks:
        found["airframe_hours"] = clocks["airframe"]
    for key in ACCESSORIES:
        # There is one of its kind, whatever its place was called.
        place = next((one for one in state.fitted if item_kind(one) == key), "")
        found[key] = _serial_in(place, state) or found.get(key, "")
    magnetos = found.get("magnetos")
    if isinstance(magnetos, Mapping):
        found["magnetos"] = {
            name: _serial_in(f"magneto:{name}", state) or str(told)
            for name, told in magnetos.items()
        }
    carried: Any = found.get("accessory", [])
    if carried:
        done = {e.fields.recurring for e in state.live() if is_a(e, Complied)}
        found["accessory"] = [_accessory(one, state, done) for one in carried]
    hoses: Any = found.get("hose", [])
    found["hose"] = [_hose(one, state) for one in hoses]
    return found


def _accessory(one: Mapping[str, Any], state: JobState, done: Container[str]) -> dict[str, Any]:
    """An accessory as the next job has it: of another serial no hours are known, and what was done is done."""
    item = f"{one.get('kind')}:{one.get('name') or one.get('kind')}"
    gone = {"left_alone"}
    if item in done:
        gone |= {"due_hours"}
    serial = _serial_in(item, state)
    if serial and serial != str(one.get("serial", "")).strip():
        gone |= {"hours", "engine_hours"}
        return {key: value for key, value in one.items() if key not in gone} | {"serial": serial}
    return {key: value for key, value in one.items() if key not in gone}


def _serial_in(place: str, state: JobState) -> str:
    entry = state.fitted.get(place)
    return entry.fields.serial.strip() if entry is not None else ""


def _hose(hose: Mapping[str, Any], state: JobState) -> dict[str, Any]:
    """The hose in the place of this one: itself, or the new one with its own tag and dates."""
    entry = state.fitted.get(f"hose:{hose.get('id')}")
    if entry is None or item_name(entry.item) == hose.get("id"):
        return dict(hose)
    return {
        **{key: hose[key] for key in ("line", "type") if key in hose},
        "id": item_name(entry.item),
        "made": _made(entry, state) or "unknown",
        "fitted": entry.at.date().isoformat(),
    }


def _made(entry: Entry[Fitted], state: JobState) -> str:
    """When a part was made: as written when it went in, or when it was chosen for the one before it."""
    chosen = (e.fields.made for e in state.live() if is_a(e, Replaced) and e.item == entry.item)
    return entry.fields.made or next(chosen, "")
