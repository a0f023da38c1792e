"""JSON Schema of each file of a job folder, made from what the readers take.

TOML and JSON share one data model, so one schema language serves both. Dates are TOML dates
(``2026-10-05``, no quotes), which a validator sees as text.
"""

from __future__ import annotations

from typing import Any

from rehang.trade import entries as book
from rehang.trade.meters import METER_KINDS
from rehang.trade.quantities import QUANTITIES

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


_AMOUNT = "A number with its unit, as in 0.019 in, 5000 ohm or 50 %."


def _engine() -> dict[str, Any]:
    return _table(
        {
            "format": {"const": 1, "description": "Version of the folder."},
            "job": _text(
                "Short name: small letters, digits, dashes.", pattern="^[a-z0-9][a-z0-9-]{0,59}$"
            ),
            "title": _TEXT,
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
            "hours": _table({"since_new": _NUMBER, "since_overhaul": _NUMBER}, []),
            "airframe_hours": _NUMBER,
            "removed_on": _DATE,
            "last_run_on": _DATE,
            "sump_qt": _NUMBER,
            "bore_in": _NUMBER,
            "flying_hours_per_year": _NUMBER,
            "compression_ratio": _NUMBER,
            "spark_advance_deg": {**_NUMBER, "description": "Degrees before top centre."},
            "magnetos": {"type": "object", "additionalProperties": _TEXT},
            "thresholds": _table(
                {"within": _NUMBER, "out": _NUMBER},
                [],
                "WITHIN at this probability or more, OUT at this or less.",
            ),
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


def _people() -> dict[str, Any]:
    return _list_of(
        "person",
        _table(
            {
                "key": _text("Short name that entries carry."),
                "name": _TEXT,
                "role": _text('What they do; "reads" may look and not write.'),
                "certificate": _TEXT,
                "days": _text("When they are in."),
            },
            ["key", "name"],
        ),
        "Who may write in the book.",
    )


def _limits() -> dict[str, Any]:
    amount = _text(_AMOUNT)
    table = _table(
        {
            "item": _text("Kind of item, as in plug."),
            "check": _text("Name of a check on that item's sheet."),
            "lower": amount,
            "upper": amount,
            "short": {"const": "out", "description": "A short is out."},
            "grade": _text("The grade asked for, as in steady."),
            "at_psi": {**_WHOLE, "description": "The pressure the grade is asked at."},
            "worst": {**_WHOLE, "description": "The worst open finding a look may have."},
            "aim": _text("What to set it to when it is reworked. " + _AMOUNT),
            "use": {"enum": ["service", "setting"]},
            "document": _TEXT,
            "revision": _TEXT,
            "page": _TEXT,
            "entered_by": _text("A key of people.toml."),
            "entered_on": _DATE,
            "note": _TEXT,
            "floor": {"const": "master", "description": "The master reading of the day."},
            "wants": {
                "type": "object",
                "additionalProperties": _TEXT,
                "description": "Conditions a reading must have been taken under.",
            },
        },
        ["item", "check"],
        "One bound at least. Without document, revision, entered_by and entered_on it judges nothing.",
    )
    table["anyOf"] = [{"required": [key]} for key in ("lower", "upper", "grade", "worst", "floor")]
    return _list_of("limit", table, "Limits, each with its source.")


def _meters() -> dict[str, Any]:
    amount = _text(_AMOUNT)
    one_range = _table(
        {
            "name": _TEXT,
            "top": amount,
            "percent_of_reading": _NUMBER,
            "counts": _NUMBER,
            "count": _text("Worth of the last digit. " + _AMOUNT),
            "factor": {**_NUMBER, "description": "What the scale is multiplied by."},
            "mid_scale": _text("Resistance at the middle of the arc. " + _AMOUNT),
        },
        ["name"],
    )
    return _list_of(
        "meter",
        _table(
            {
                "id": _TEXT,
                "name": _TEXT,
                "kind": {"enum": list(METER_KINDS)},
                "quantity": {"enum": list(QUANTITIES)},
                "range": {"type": "array", "items": one_range},
                "percent_of_arc": _NUMBER,
                "percent_of_full_scale": _NUMBER,
                "full_scale": amount,
                "accuracy": amount,
                "resolution": amount,
                "repeatability": amount,
                "expanded": _text("U of its certificate. " + _AMOUNT),
                "coverage": {**_NUMBER, "description": "k of its certificate."},
                "step": _text("From one wire to the next. " + _AMOUNT),
                "keyed": _text("Unit a bare number takes on this meter."),
                "due": {
                    "type": "string",
                    "description": "Calibration due: 2027-01-31, 2027-01 or 2027-Q1. None: no calibration on record.",
                },
                "calibrated_by": _TEXT,
                "note": _TEXT,
                "lowest": amount,
                "highest": amount,
                "orifice": _text("Restrictor of a compression tester, as in 0.040 in."),
            },
            ["id", "kind"],
        ),
        "Meters and what each is good to.",
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


def _checks() -> dict[str, Any]:
    choice = _table(
        {"letter": _TEXT, "word": _TEXT, "low": _WHOLE, "high": _WHOLE}, ["letter", "word"]
    )
    check = _table(
        {
            "name": _TEXT,
            "label": _TEXT,
            "letter": _text("What a line for this check begins with."),
            "kind": {"enum": ["measure", "grade", "look"]},
            "quantity": {"enum": list(QUANTITIES)},
            "choice": {"type": "array", "items": choice},
            "two_figures": _TEXT,
            "reworkable": _FLAG,
            "rework_act": _TEXT,
            "repeat_after": _text("An OUT counts once it is repeated after this act."),
            "believable": {"type": "array", "items": _WHOLE, "minItems": 2, "maxItems": 2},
            "unlikely_factor": _NUMBER,
            "catches": _TEXT,
            "misses": _TEXT,
            "blind_to": {"type": "object", "additionalProperties": _TEXT},
            "caution": _TEXT,
            "source": _TEXT,
            "required": _FLAG,
            "method": _text("A rule of its own: compression or age."),
            "asks": {"type": "object", "additionalProperties": {"type": "array", "items": _TEXT}},
            "hint": _text("A general figure, shown as not approved data and never judged by."),
        },
        ["name", "label", "letter", "kind"],
    )
    word = _table(
        {
            "name": _TEXT,
            "label": _TEXT,
            "letter": _TEXT,
            "severity": {"anyOf": [_WHOLE, {"type": "array", "items": _WHOLE}]},
            "drained_severity": _WHOLE,
            "deposit": _FLAG,
            "cause": _TEXT,
            "next": _TEXT,
            "opens": _TEXT,
            "opens_severity": _WHOLE,
            "opens_label": _TEXT,
            "opens_unless_drains": _FLAG,
            "source": _TEXT,
        },
        ["name", "label", "severity"],
    )
    rework = _table(
        {
            "name": _TEXT,
            "done": _TEXT,
            "voids": {"type": "array", "items": _TEXT},
            "clears_deposits": _FLAG,
            "caution": _TEXT,
        },
        ["name", "done", "voids"],
    )
    return _table(
        {
            "sheet": _table(
                {
                    "item": _TEXT,
                    "title": _TEXT,
                    "source": _TEXT,
                    "cautions": {"type": "array", "items": _TEXT},
                    "group": _TEXT,
                    "one_for": {"enum": ["removed", "cylinder", "hole", "magneto", "hose", "name"]},
                    "names": {"type": "array", "items": _TEXT},
                },
                ["item"],
            ),
            "check": {"type": "array", "items": check},
            "word": {"type": "array", "items": word},
            "rework": {"type": "array", "items": rework},
        },
        ["sheet"],
        "A check sheet that takes the place of the shipped one.",
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
        "v": {"const": book.BOOK_VERSION},
        "seq": _WHOLE,
        "kept": {"type": "string", "format": "date-time"},
        "prev": _text("Hash of the entry before.", pattern="^[0-9a-f]{64}$"),
        "hash": _text("SHA-256 over prev, a line feed and the entry.", pattern="^[0-9a-f]{64}$"),
    }
    kinds = []
    for kind, (must, may) in sorted(book.KINDS.items()):
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
        "people.toml": _people(),
        "limits.toml": _limits(),
        "meters.toml": _meters(),
        "layout.toml": _layout(),
        "checks.toml": _checks(),
        "book.jsonl": _book_line(),
    }
    return {name: {"$schema": _DIALECT, "title": name, **schema} for name, schema in made.items()}
