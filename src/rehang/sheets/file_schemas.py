"""JSON Schema of each file of a job folder, made from the classes that declare them.

TOML and JSON share one data model, so one schema language serves both. Dates are TOML dates
(``2026-10-05``, no quotes), which a validator sees as text.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from rehang.trade.declared.published import published
from rehang.trade.facts.engine import Engine
from rehang.trade.facts.items import ChecksFile
from rehang.trade.facts.layout import Layout
from rehang.trade.facts.limits import LimitsFile
from rehang.trade.facts.meters import MetersFile
from rehang.trade.facts.parts import StockFile
from rehang.trade.facts.people import PeopleFile
from rehang.trade.facts.reasons import ReasonsFile
from rehang.trade.facts.recurring import RecurringFile
from rehang.trade.facts.run_file import RunFile
from rehang.trade.facts.shop_file import ShopFile
from rehang.trade.facts.tasks import TasksFile
from rehang.trade.facts.torquegroups import TorqueFile
from rehang.trade.terms import entries as book
from rehang.trade.terms.kinds.register import KINDS

__all__ = ["FILES", "schemas"]

_DIALECT = "https://json-schema.org/draft/2020-12/schema"
# The class that declares each file of facts.
FILES: Mapping[str, type] = MappingProxyType(
    {
        "engine.toml": Engine,
        "shop.toml": ShopFile,
        "people.toml": PeopleFile,
        "limits.toml": LimitsFile,
        "meters.toml": MetersFile,
        "layout.toml": Layout,
        "checks.toml": ChecksFile,
        "tasks.toml": TasksFile,
        "stock.toml": StockFile,
        "recurring.toml": RecurringFile,
        "reasons.toml": ReasonsFile,
        "run.toml": RunFile,
        "torque.toml": TorqueFile,
    }
)
_TYPES: dict[str, dict[str, Any]] = {
    "text": {"type": "string"},
    "yes or no": {"type": "boolean"},
    "whole": {"type": "integer"},
    "number": {"type": "number"},
    "table": {"type": "object"},
    "list": {"type": "array"},
}


def _text(description: str, **more: Any) -> dict[str, Any]:
    return {"type": "string", "description": description, **more}


def _book_line() -> dict[str, Any]:
    common = {
        "id": _text("Made by whoever writes; the same id twice is one entry."),
        "at": {"type": "string", "format": "date-time"},
        "by": _text("A key of people.toml."),
        "under": _text("Key of the person under whose supervision it was done; may be left out."),
        "v": {"const": book.BOOK_VERSION},
        "seq": _TYPES["whole"],
        "kept": {"type": "string", "format": "date-time"},
        "prev": _text("Hash of the entry before.", pattern="^[0-9a-f]{64}$"),
        "hash": _text("SHA-256 over prev, a line feed and the entry.", pattern="^[0-9a-f]{64}$"),
    }
    kinds = []
    for kind, (must, may) in sorted(KINDS.items()):
        fields = {name: _TYPES[type_] for name, type_ in {**must, **may}.items()}
        kinds.append(
            {
                "type": "object",
                "description": "",
                "properties": {"kind": {"const": kind}, **common, **fields},
                "required": ["id", "kind", "at", "by", *must],
                "additionalProperties": False,
            }
        )
    return {
        "description": "One line of book.jsonl: one thing that happened.",
        "oneOf": kinds,
    }


def schemas() -> dict[str, dict[str, Any]]:
    """JSON Schema by file name; for ``book.jsonl`` the schema of one line."""
    made = {name: published(kind) for name, kind in FILES.items()} | {"book.jsonl": _book_line()}
    return {name: {"$schema": _DIALECT, "title": name, **schema} for name, schema in made.items()}
