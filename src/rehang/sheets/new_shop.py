"""The files of a shop's own book, as it begins: with one person, or out of a job that it did before."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Collection, Mapping
from typing import Any

from rehang.sheets.job_files import PEOPLE, SHOP
from rehang.sheets.new_job import copied, head_text
from rehang.sheets.shop_things import OF_ONE_ENGINE
from rehang.sheets.things import THINGS, ThingKind, add, put, things_in
from rehang.trade.facts.engine import FORMAT
from rehang.trade.facts.shop_file import ShopFile

__all__ = ["begun_by", "offered_by", "person_key"]

_EMPTY = {
    "limits.toml": "# Limits, each with the document that it is from.\n",
    "meters.toml": "# Everything that is measured with.\n",
}


def person_key(name: str, taken: Collection[str]) -> str:
    """A short name for a person, which entries carry: the first name, with a number where taken.

    >>> person_key("Ada Lind", ["ada"])
    'ada-2'
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    words = re.findall(r"[a-z0-9]+", plain)
    stem = words[0][:40] if words else "person"
    key, number = stem, 2
    while key in taken:
        key, number = f"{stem}-{number}", number + 1
    return key


def begun_by(shop: Mapping[str, Any], person: Mapping[str, Any]) -> dict[str, str]:
    """The files of a shop that one person begins, who keeps it: with no meter and no limit yet."""
    known = {key: value for key, value in person.items() if value}
    return {
        SHOP: head_text(THINGS["shop"], {"format": FORMAT, **shop}),
        PEOPLE: add("", THINGS["person"], {**known, "keeps_shop": True}),
        **_EMPTY,
    }


def offered_by(job: Mapping[str, str]) -> dict[str, str]:
    """The files of a shop out of those of a job: all but what is of that engine or that job alone.

    Limits and what recurs are kept for the model of the engine, where the job names one.
    """
    engine = tomllib.loads(job["engine.toml"])
    own = {key: engine[key] for key in ShopFile.__dataclass_fields__ if key in engine}
    own.setdefault("shop", engine.get("place") or "The shop")
    model = str(engine.get("engine", ""))
    head = head_text(THINGS["shop"], {**own, "format": FORMAT})
    return {SHOP: head, **copied(job, lambda text, kind: _for_the_model(text, kind, model))}


def _for_the_model(text: str, kind: ThingKind, model: str) -> str:
    for key, one in things_in(text, kind).items():
        said = {k: v for k, v in one.items() if k not in OF_ONE_ENGINE}
        if model and "models" not in one:
            said["models"] = [model]
        text = put(text, kind, key, said)
    return text
