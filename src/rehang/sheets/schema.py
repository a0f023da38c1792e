"""JSON Schema of each file of a job folder, made from what the readers take.

TOML and JSON share one data model, so one schema language serves both. Dates are TOML dates
(``2026-10-05``, no quotes), which a validator sees as text.
"""

from __future__ import annotations

from typing import Any

from rehang.trade.facts.declared import published
from rehang.trade.facts.meters import METER_KINDS
from rehang.trade.facts.parts import StockFile
from rehang.trade.facts.people import PeopleFile
from rehang.trade.facts.recurring import RecurringFile
from rehang.trade.facts.shop import Shop
from rehang.trade.facts.tasks import FOR_EACH, HOLD_WHEN
from rehang.trade.facts.torquegroups import FOR_EACH as TORQUED_FOR_EACH
from rehang.trade.facts.torquegroups import PATTERNS
from rehang.trade.known.fitting import ACCESSORIES
from rehang.trade.life.oil_trend import PLATINGS
from rehang.trade.terms import entries as book
from rehang.trade.terms.kinds import KINDS
from rehang.trade.terms.quantities import QUANTITIES

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
            "at_psi": {
                **_WHOLE,
                "minimum": 0,
                "maximum": 1_000,
                "description": "The pressure the grade is asked at.",
            },
            "worst": {
                **_WHOLE,
                "minimum": 0,
                "maximum": 3,
                "description": "The worst open finding a look may have.",
            },
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
            "percent_of_reading": _between(0, 100),
            "counts": _between(0, 10_000),
            "count": _text("Worth of the last digit. " + _AMOUNT),
            "factor": {
                **_NUMBER,
                "exclusiveMinimum": 0,
                "maximum": 1_000_000,
                "description": "What the scale is multiplied by.",
            },
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
                "percent_of_arc": {**_NUMBER, "exclusiveMinimum": 0, "maximum": 50},
                "percent_of_full_scale": {**_NUMBER, "exclusiveMinimum": 0, "maximum": 100},
                "percent_of_reading": {
                    **_NUMBER,
                    "exclusiveMinimum": 0,
                    "maximum": 100,
                    "description": "Of a torque wrench; a digital meter states it by range.",
                },
                "full_scale": amount,
                "accuracy": amount,
                "resolution": amount,
                "repeatability": amount,
                "expanded": _text("U of its certificate. " + _AMOUNT),
                "coverage": {
                    **_NUMBER,
                    "exclusiveMinimum": 0,
                    "maximum": 10,
                    "description": "k of its certificate.",
                },
                "step": _text("From one wire to the next. " + _AMOUNT),
                "keyed": _text("Unit a bare number takes on this meter."),
                "due": {
                    "type": "string",
                    "description": "Calibration due: 2027-01-31, 2027-01 or 2027-Q1. None: no calibration on record.",
                },
                "calibrated_by": _TEXT,
                "entered_on": {
                    **_DATE,
                    "description": "The day its calibration was put in. Before it none is on record.",
                },
                "note": _TEXT,
                "lowest": amount,
                "highest": amount,
                "orifice": _text("Restrictor of a compression tester, as in 0.040 in."),
                "use": _text(
                    "What it is for, by the check sheets' words, as in gap or clearance; several "
                    "set apart by commas. One with an orifice is for compression, wires for gap."
                ),
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
            "by_eye": {**_FLAG, "description": "A grade that takes no meter."},
            "use": _text("What a meter that takes this check is for. None: the check's name."),
        },
        ["name", "label", "letter", "kind"],
    )
    figures: dict[str, Any] = {
        "type": "object",
        "properties": dict.fromkeys(("pieces", "magnetic", "largest"), _NUMBER),
        "additionalProperties": False,
    }
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
            "opens_closed_by": {"type": "array", "items": {"enum": ["look", "found"]}},
            "counted": _FLAG,
            "at_most": figures,
            "at_least": figures,
            "instead": {
                "type": "object",
                "additionalProperties": {"type": "array", "items": _TEXT},
            },
            "about": _text("The look it is the answer of, on a sheet with more than one."),
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
                    "one_for": {
                        "enum": ["removed", "cylinder", "hole", "magneto", "hose", "name", "run"]
                    },
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


def _tasks() -> dict[str, Any]:
    ids = {"type": "array", "items": _text("Id of a task.")}
    pair = {"type": "array", "items": _TEXT, "minItems": 2, "maxItems": 2}
    tool = _table(
        {
            "name": _TEXT,
            "size": _TEXT,
            "drive": _TEXT,
            "meter": _text("Id of a meter of meters.toml, or a kind of meter in plain words."),
        },
        ["name"],
    )
    use = _table(
        {
            "part": _text("Id of a part of stock.toml."),
            "number": {**_WHOLE, "minimum": 1},
            "each": {**_FLAG, "description": "So many for each place, not in all."},
        },
        ["part"],
    )
    task = _table(
        {
            "id": _TEXT,
            "title": _TEXT,
            "how": _text("A line about the doing of it."),
            "stage": _TEXT,
            "needs": {**ids, "description": "What has to be done before it."},
            "for_each": {"enum": list(FOR_EACH)},
            "fasteners": {**_WHOLE, "minimum": 0, "description": "How many each place has."},
            "fastener": _text("What one is called, as in screw."),
            "answers": {
                "type": "array",
                "items": pair,
                "description": "Item kind and check whose answer shows that a place is done.",
            },
            "acts": {
                "type": "array",
                "items": pair,
                "description": "Item kind and rework, or kind of entry, that shows it.",
            },
            "minutes": {
                "type": "array",
                "items": _NUMBER,
                "minItems": 3,
                "maxItems": 3,
                "description": "Least, likely and most for one competent person.",
            },
            "minutes_for": {
                **_WHOLE,
                "minimum": 0,
                "description": "How many places they are for; 0 for the whole task.",
            },
            "hands": {**_WHOLE, "minimum": 1},
            "hold": _text("What a second person looks at before work goes on."),
            "hold_when": {"enum": list(HOLD_WHEN)},
            "tool": {"type": "array", "items": tool},
            "use": {"type": "array", "items": use},
            "cautions": {"type": "array", "items": _TEXT},
            "late": _text("Why it is left late on purpose."),
            "late_after": {**ids, "description": "What it waits for by that choice."},
            "after_hours": {
                **_NUMBER,
                "minimum": 0,
                "maximum": 10_000,
                "description": "Hours on the clock once it is done.",
            },
            "in_one_go": {**_FLAG, "description": "Not left overnight."},
            "offered": {**_FLAG, "description": "Does not block."},
            "stand": _FLAG,
            "hoist": _FLAG,
            "counts_in": {**_FLAG, "description": "Not done before every count is zero."},
            "run": {
                **_WHOLE,
                "minimum": 0,
                "description": "Which ground run it is: not done before so many are on file.",
            },
            "clears_lock": {
                **_FLAG,
                "description": "Clears hydraulic lock; left out where the layout has none.",
            },
            "source": _TEXT,
            "leave_out": {**_FLAG, "description": "Take the shipped task out."},
        },
        ["id"],
    )
    return _table(
        {
            "sheet": _table({"name": _TEXT, "source": _TEXT}, []),
            "task": {"type": "array", "items": task},
        },
        [],
        "Tasks that are laid over the shipped ones.",
    )


def _torque() -> dict[str, Any]:
    return _list_of(
        "group",
        _table(
            {
                "id": _text("Short name of the group."),
                "title": _TEXT,
                "limit": _text('The check its value is filed under, of item "engine".'),
                "task": _text("Id of the task it belongs to."),
                "for_each": {
                    "enum": list(TORQUED_FOR_EACH),
                    "description": "What it is done at one by one; empty for once on the engine.",
                },
                "part": _text(
                    "Kind of part that the fasteners hold, as in plug: torque is done again once "
                    "such a part was fitted or worked on."
                ),
                "leave_out": {**_FLAG, "description": "This engine has no such fasteners."},
                "number": {**_WHOLE, "minimum": 1, "description": "Fasteners at each place."},
                "fastener": _text("What one is called: screw, bolt."),
                "pattern": {"enum": list(PATTERNS)},
                "passes": {**_WHOLE, "minimum": 1},
                "how": _TEXT,
                "cautions": {"type": "array", "items": _TEXT},
            },
            ["id"],
        ),
        "Groups of fasteners that are tightened together. No torque stands here.",
    )


def _run() -> dict[str, Any]:
    step = _table(
        {
            "id": _text("Name of the step, as entries write it."),
            "title": _text("Its head on the card."),
            "say": _text("What is done, in a sentence or two."),
            "hint": _text("A general figure, shown as not approved data."),
            "caution": _TEXT,
            "checks": {
                "type": "array",
                "items": _TEXT,
                "description": "Checks of the run's sheet that are read at this step.",
            },
            "clock": _text("The check whose limit the clock runs against."),
            "done": _text("What the button says."),
            "after": {
                "type": "array",
                "items": _TEXT,
                "description": "Tasks that may not be half done or wait for their second look.",
            },
            "starts": {**_FLAG, "description": "The engine is started at this step."},
            "power": {**_FLAG, "description": "The engine is at power at this step."},
            "stops": {**_FLAG, "description": "The engine stands still once it is done."},
        },
        ["id", "title", "say", "done"],
    )
    texts = {"type": "array", "items": _TEXT}
    return _table(
        {
            "step": {"type": "array", "items": step},
            "shop": _table(
                {
                    "plausible_drop": _text("A magneto drop below this is accused, as in 20 rpm."),
                    "hot_minutes": {
                        **_WHOLE,
                        "minimum": 1,
                        "description": "So long after shut-down a compression reading is hot.",
                    },
                    "standing_minutes": {
                        **_WHOLE,
                        "minimum": 1,
                        "description": "Stood longer, oil has drained down where the layout locks.",
                    },
                },
                [],
                "The shop's own figures.",
            ),
            "depends": {
                "type": "array",
                "items": _table(
                    {
                        "id": _TEXT,
                        "title": _TEXT,
                        "voids": {**texts, "description": "Checks whose figures it ends."},
                        "items": {**texts, "description": "Kinds of item, or whole items."},
                        "lines": {**texts, "description": "Words of a hose's line."},
                        "tasks": {**texts, "description": "Ids of tasks."},
                        "acts": {**texts, "description": "Kinds of entry; all when left out."},
                        "readings": {
                            **texts,
                            "description": "Readings that take it apart, as cylinder:compression.",
                        },
                    },
                    ["id", "title", "voids"],
                ),
                "description": "Which work ends which figures of a run.",
            },
            "accuses": {
                "type": "object",
                "additionalProperties": _TEXT,
                "description": "What each check accuses when it is out, as in magneto:left.",
            },
            "inspection": {
                "type": "array",
                "items": _table(
                    {
                        "what": _TEXT,
                        "checks": texts,
                        "source": _TEXT,
                        "gravity": _text("What is said where fuel runs by gravity."),
                        "gravity_checks": texts,
                    },
                    ["what", "checks", "source"],
                ),
                "description": "What an annual or 100-hour inspection asks of the run.",
            },
            "shut_down": _table(
                {
                    "order": {
                        "type": "array",
                        "items": _TEXT,
                        "minItems": 1,
                        "description": "The acts to shut the engine down, one by one.",
                    },
                    "whys": {
                        "type": "array",
                        "items": _TEXT,
                        "description": "What it may have been for, to be picked from.",
                    },
                },
                ["order"],
            ),
        },
        [],
        "The walk through a ground run; every required check has its step.",
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
        "limits.toml": _limits(),
        "meters.toml": _meters(),
        "layout.toml": _layout(),
        "checks.toml": _checks(),
        "tasks.toml": _tasks(),
        "stock.toml": published(StockFile),
        "recurring.toml": published(RecurringFile),
        "run.toml": _run(),
        "torque.toml": _torque(),
        "book.jsonl": _book_line(),
    }
    return {name: {"$schema": _DIALECT, "title": name, **schema} for name, schema in made.items()}
