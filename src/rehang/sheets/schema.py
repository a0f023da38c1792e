"""JSON Schema of each file of a job folder, made from what the readers take.

TOML and JSON share one data model, so one schema language serves both. Dates are TOML dates
(``2026-10-05``, no quotes), which a validator sees as text.
"""

from __future__ import annotations

from typing import Any

from rehang.trade.facts.declared import published
from rehang.trade.facts.items import ChecksFile
from rehang.trade.facts.limits import LimitsFile
from rehang.trade.facts.meters import MetersFile
from rehang.trade.facts.parts import StockFile
from rehang.trade.facts.people import PeopleFile
from rehang.trade.facts.recurring import RecurringFile
from rehang.trade.facts.run_file import RunFile
from rehang.trade.facts.shop import Shop
from rehang.trade.facts.tasks import TasksFile
from rehang.trade.facts.torquegroups import TorqueFile
from rehang.trade.known.fitting import ACCESSORIES
from rehang.trade.life.oil_trend import PLATINGS
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


def _list_of(name: str, table: dict[str, Any], description: str) -> dict[str, Any]:
    return _table({name: {"type": "array", "items": table}}, [], description)


def _between(least: float, most: float, description: str = "", **more: Any) -> dict[str, Any]:
    """A number with its bounds; they keep slips out and are no limits of the trade."""
    told = {"description": description} if description else {}
    return {**_NUMBER, "minimum": least, "maximum": most, **told, **more}


_HOURS = _between(0, 200_000)
_AMOUNT = "A number with its unit, as in 0.019 in, 5000 ohm or 50 %."


def _engine() -> dict[str, Any]:
    return _table(
        {
            "format": {"const": 1, "description": "Version of the folder."},
            "job": _text(
                "Short name: small letters, digits, dashes.", pattern="^[a-z0-9][a-z0-9-]{0,59}$"
            ),
            "title": {**_TEXT, "maxLength": 300},
            "layout": _text("Name of a shipped layout, or of the one in layout.toml."),
            "engine": _TEXT,
            "serial": _TEXT,
            "airframe": _TEXT,
            "airframe_serial": _TEXT,
            "registration": _TEXT,
            "shop": _TEXT,
            "place": _TEXT,
            "owner": _TEXT,
            "timezone": _text("IANA name, as in America/Chicago."),
            "hours": _table({"since_new": _HOURS, "since_overhaul": _HOURS}, []),
            "airframe_hours": _HOURS,
            "removed_on": _DATE,
            "last_run_on": _DATE,
            "fuel": {
                "enum": ["gravity", "pump"],
                "description": "How fuel reaches the engine; by a pump when left out.",
            },
            "bore_plating": {
                "enum": list(PLATINGS),
                "description": "What the bores are plated with: a source of that metal in the oil.",
            },
            "sump_qt": _between(0, 200),
            "elevation_ft": _between(-1_500, 20_000, "Of the place above sea level, in feet."),
            "bore_in": _between(
                1, 12, "Bore of a cylinder, in inches.", **{"$comment": "It is in inches."}
            ),
            "flying_hours_per_year": _between(0, 8_784, "Hours flown in a year."),
            "compression_ratio": _between(2, 25, "As in 8.5, without the to 1."),
            "spark_advance_deg": _between(0, 60, "Degrees before top centre."),
            "magnetos": {"type": "object", "additionalProperties": _TEXT},
            **{
                one: _text(f"Serial of the {one}, where the job answers for it.")
                for one in ACCESSORIES
            },
            "thresholds": _table(
                {"within": _NUMBER, "out": _NUMBER},
                [],
                "WITHIN at this probability or more, OUT at this or less.",
            ),
            "shop_hours": published(Shop),
            "invented": _FLAG,
            "note": _TEXT,
            "inspect": {
                "type": "array",
                "items": _TEXT,
                "description": "Kinds of item this job inspects; plug alone when left out.",
            },
            "hose": {
                "type": "array",
                "items": _table(
                    {
                        "id": _TEXT,
                        "line": _text("From where to where."),
                        "type": _text("As in rubber or PTFE; the age rule on file is for a type."),
                        "made": _text("2021-03-15, 2021-03, 2021-Q1, or unknown."),
                        "fitted": _text("The same forms."),
                        "note": _TEXT,
                    },
                    ["id", "line", "type"],
                ),
            },
        },
        ["format", "job", "layout", "timezone"],
        "The engine and the job.",
    )


def _layout() -> dict[str, Any]:
    hole = _text("Cylinder number and row letter, as in 1T.")
    holes = {"type": "array", "items": hole}
    return _table(
        {
            "layout": _TEXT,
            "title": _TEXT,
            "cylinders": {"type": "array", "items": _WHOLE},
            "rows": {"type": "object", "additionalProperties": _text("Name of the row.")},
            "walk": {**holes, "description": "The order readings are taken in."},
            "tray": {"type": "array", "items": holes, "description": "Rows of the picture."},
            "prop_end": _TEXT,
            "firing_order": {"type": "array", "items": _WHOLE},
            "ignition": {"type": "object", "additionalProperties": holes},
            "rotation": {"type": "object", "additionalProperties": hole},
            "drains_to": {**holes, "description": "Holes that oil runs to."},
            "locks": {
                **holes,
                "description": "Holes whose plugs come out before anything turns the shaft: oil "
                "drains down into their cylinders and can lock them.",
            },
            "plan": {
                "type": "object",
                "propertyNames": {"enum": ["left", "right", "line", "round"]},
                "additionalProperties": {"type": "array", "items": _WHOLE},
                "description": "Where the cylinders stand.",
            },
            "source": _TEXT,
        },
        ["layout", "cylinders", "rows", "firing_order", "ignition", "rotation", "source"],
        "An engine's layout.",
    )


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
        "engine.toml": _engine(),
        "people.toml": published(PeopleFile),
        "limits.toml": published(LimitsFile),
        "meters.toml": published(MetersFile),
        "layout.toml": _layout(),
        "checks.toml": published(ChecksFile),
        "tasks.toml": published(TasksFile),
        "stock.toml": published(StockFile),
        "recurring.toml": published(RecurringFile),
        "run.toml": published(RunFile),
        "torque.toml": published(TorqueFile),
        "book.jsonl": _book_line(),
    }
    return {name: {"$schema": _DIALECT, "title": name, **schema} for name, schema in made.items()}
