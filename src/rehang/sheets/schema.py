"""JSON Schema of each file of a job folder, made from what the readers take.

TOML and JSON share one data model, so one schema language serves both. Dates are TOML dates
(``2026-10-05``, no quotes), which a validator sees as text.
"""

from __future__ import annotations

from typing import Any

from rehang.trade.facts.declared import published
from rehang.trade.facts.engine import Engine
from rehang.trade.facts.items import ChecksFile
from rehang.trade.facts.layout import Layout
from rehang.trade.facts.limits import LimitsFile
from rehang.trade.facts.meters import MetersFile
from rehang.trade.facts.parts import StockFile
from rehang.trade.facts.people import PeopleFile
from rehang.trade.facts.recurring import RecurringFile
from rehang.trade.facts.run_file import RunFile
from rehang.trade.facts.tasks import TasksFile
from rehang.trade.facts.torquegroups import TorqueFile
from rehang.trade.terms import entries as book
from rehang.trade.terms.kinds import KINDS

__all__ = ["schemas"]

_DIALECT = "https://json-schema.org/draft/2020-12/schema"
_TEXT: dict[str, Any] = {"type": "string"}
_NUMBER: dict[str, Any] = {"type": "number"}
_WHOLE: dict[str, Any] = {"type": "integer"}
_FLAG: dict[str, Any] = {"type": "boolean"}
_DATE: dict[str, Any] = {"type": "string", "format": "date"}


def _text(description: str, **more: Any) -> dict[str, Any]:
    return {"type": "string", "description": description, **more}


def _table(
    properties: dict[str, Any], required: list[str], description: str = ""
) -> dict[str, Any]:
    return {
        "type": "object",
        "description": description,
        "properties": properties,
        "required": required,
        "additionalProperties": False,
    }


_TYPES = {
    "text": _TEXT,
    "yes or no": _FLAG,
    "whole": _WHOLE,
    "number": _NUMBER,
    "table": {"type": "object"},
    "list": {"type": "array"},
}


def _book_line() -> dict[str, Any]:
    common = {
        "id": _text("Made by whoever writes; the same id twice is one entry."),
        "at": {"type": "string", "format": "date-time"},
        "by": _text("A key of people.toml."),
        "under": _text("Key of the person under whose supervision it was done; may be left out."),
        "v": {"const": book.BOOK_VERSION},
        "seq": _WHOLE,
        "kept": {"type": "string", "format": "date-time"},
        "prev": _text("Hash of the entry before.", pattern="^[0-9a-f]{64}$"),
        "hash": _text("SHA-256 over prev, a line feed and the entry.", pattern="^[0-9a-f]{64}$"),
    }
    kinds = []
    for kind, (must, may) in sorted(KINDS.items()):
        fields = {name: _TYPES[type_] for name, type_ in {**must, **may}.items()}
        kinds.append(
            _table(
                {"kind": {"const": kind}, **common, **fields},
                ["id", "kind", "at", "by", *must],
            )
        )
    return {
        "description": "One line of book.jsonl: one thing that happened.",
        "oneOf": kinds,
    }


def schemas() -> dict[str, dict[str, Any]]:
    """JSON Schema by file name; for ``book.jsonl`` the schema of one line."""
    made = {
        "engine.toml": published(Engine),
        "people.toml": published(PeopleFile),
        "limits.toml": published(LimitsFile),
        "meters.toml": published(MetersFile),
        "layout.toml": published(Layout),
        "checks.toml": published(ChecksFile),
        "tasks.toml": published(TasksFile),
        "stock.toml": published(StockFile),
        "recurring.toml": published(RecurringFile),
        "run.toml": published(RunFile),
        "torque.toml": published(TorqueFile),
        "book.jsonl": _book_line(),
    }
    return {name: {"$schema": _DIALECT, "title": name, **schema} for name, schema in made.items()}
