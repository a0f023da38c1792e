"""The files of a new job, composed of what the shop has on file and of what is known of the engine.

The job takes a copy, so that it stays whole and is judged by what was on file when it began.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Callable, Collection, Mapping
from datetime import date
from types import MappingProxyType
from typing import Any

from rehang.sheets.job_files import PEOPLE, SHOP
from rehang.sheets.shipped import shipped_texts
from rehang.sheets.things import ONE, THINGS, ThingKind, add, drop, put, things_in
from rehang.trade.facts.engine import FORMAT
from rehang.trade.facts.for_models import is_for

__all__ = [
    "BY_MODEL",
    "OF_THE_SHOP",
    "copied",
    "head_text",
    "job_files",
    "job_name",
    "shop_copy",
]

# What a job copies of the shop's, file by file.
OF_THE_SHOP = (
    PEOPLE,
    "limits.toml",
    "meters.toml",
    "stock.toml",
    "recurring.toml",
    "tasks.toml",
    "run.toml",
    "torque.toml",
    "checks.toml",
    "reasons.toml",
)
# Lists whose things may be for some models alone.
BY_MODEL = MappingProxyType({"limits.toml": "limit", "recurring.toml": "recurring"})
# Keys of the shop's own file that a job's file has too.
_SHOPS_KEYS = ("shop", "place", "timezone", "elevation_ft", "thresholds", "shop_hours", "invented")


def job_name(serial: str, day: date, taken: Collection[str]) -> str:
    """A name for a job: the engine's serial and the year, with a number where that is taken.

    >>> job_name("SX6-0118", date(2026, 11, 30), ["sx6-0118-2026"])
    'sx6-0118-2026-2'
    """
    plain = unicodedata.normalize("NFKD", serial).encode("ascii", "ignore").decode().lower()
    stem = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:48] or "engine"
    name, number = f"{stem}-{day.year}", 2
    while name in taken:
        name, number = f"{stem}-{day.year}-{number}", number + 1
    return name


def job_files(
    shop: Mapping[str, str],
    engine: Mapping[str, Any],
    *,
    name: str,
    layout: str = "",
    last: Mapping[str, str] = MappingProxyType({}),
    done: Mapping[str, tuple[date, float | None]] = MappingProxyType({}),
) -> dict[str, str]:
    """The texts of a new job's files.

    ``shop`` are the texts of the shop's files, ``engine`` the keys of the engine's file as they
    are known now, ``layout`` the text of a layout of its own. ``last`` are the texts of
    the engine's last job and ``done`` is when its book says that what recurs was last done, and at which hours.
    """
    head = tomllib.loads(shop[SHOP])
    own = {key: head[key] for key in _SHOPS_KEYS if key in head}
    head_of_job = {**engine, **own, "format": FORMAT, "job": name}
    text = head_text(THINGS["engine"], head_of_job)
    for kind in ("hose", "accessory"):
        for one in engine.get(kind, ()):
            text = add(text, THINGS[kind], one)
    files = {"engine.toml": text}
    if layout:
        files["layout.toml"] = layout
    files |= shop_copy(shop, str(engine.get("engine", "")))
    going_on = _going_on(last.get("recurring.toml", ""), files.get("recurring.toml", ""), done)
    if going_on:
        files["recurring.toml"] = going_on
    # Kept as they were when it began, so that its list of what they ask for stays.
    known = things_in(shipped_texts(THINGS["reason"])["reasons"], THINGS["reason"])
    for why in (engine.get("purpose", ""), *engine.get("also_for", ())):
        if why in known and why not in things_in(files.get("reasons.toml", ""), THINGS["reason"]):
            files["reasons.toml"] = add(files.get("reasons.toml", ""), THINGS["reason"], known[why])
    return files


def shop_copy(shop: Mapping[str, str], model: str) -> dict[str, str]:
    """What a job on an engine of that model copies of the shop's files: those for its model."""
    return copied(shop, lambda text, kind: _for_model(text, kind, model))


def copied(files: Mapping[str, str], by_model: Callable[[str, ThingKind], str]) -> dict[str, str]:
    """The files that pass between a shop and its jobs, with ``by_model`` over the lists by model."""
    return {
        name: by_model(files[name], THINGS[BY_MODEL[name]]) if name in BY_MODEL else files[name]
        for name in OF_THE_SHOP
        if name in files
    }


def head_text(kind: ThingKind, values: Mapping[str, Any]) -> str:
    """The text of the file that says whose book it is, its keys in the order of their declaration.

    What is empty is left out: what is not known is not written down.
    """
    given = {key: values[key] for key in kind.fields if values.get(key) not in (None, "", [], {})}
    return put("", kind, ONE, given)


def _for_model(text: str, kind: ThingKind, model: str) -> str:
    """A list with what is for that model alone or for every one, told without the models' names."""
    held = {
        key: one
        for key, one in things_in(text, kind).items()
        if is_for(one.get("models", ()), model)
    }
    own = {_plain(one, kind) for one in held.values() if one.get("models")}
    for key, one in things_in(text, kind).items():
        # What is for the model itself goes before what is for every one.
        if key not in held or (not one.get("models") and _plain(one, kind) in own):
            text = drop(text, kind, key)
        elif one.get("models"):
            text = put(text, kind, key, {k: v for k, v in one.items() if k != "models"})
    return text


def _plain(one: Mapping[str, Any], kind: ThingKind) -> str:
    return kind.key_of({key: value for key, value in one.items() if key != "models"})


def _going_on(last: str, own: str, done: Mapping[str, tuple[date, float | None]]) -> str:
    """What recurs on an engine: the list of its last job as that job left it, and what the shop adds."""
    if not last:
        return own
    kind, text = THINGS["recurring"], last
    known = things_in(last, kind)
    for key, one in known.items():
        on, hours = done.get(key, (None, None))
        last_time = {"last_on": on, "last_hours": hours}
        said = {name: value for name, value in last_time.items() if value is not None}
        text = put(text, kind, key, {**one, **said})
    for key, one in things_in(own, kind).items():
        if key not in known:
            text = add(text, kind, one)
    return text
