"""The kinds of entry and the fields of each."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

__all__ = ["COMMON", "FLAG", "KINDS", "LIST", "NUMBER", "SHARED", "TABLE", "TEXT", "WHOLE"]

# kind -> (fields it must have, fields it may have). Every kind also has id, kind, at, by.
# The value after the colon is the JSON type that the field takes.
TEXT, FLAG, WHOLE, NUMBER, TABLE, LIST = (
    "text",
    "yes or no",
    "whole",
    "number",
    "table",
    "list",
)

KINDS: Mapping[str, tuple[Mapping[str, str], Mapping[str, str]]] = MappingProxyType(
    {
        "removed": (
            {"item": TEXT, "place": TEXT},
            {"hours": NUMBER, "serial": TEXT, "batch": TEXT, "note": TEXT},
        ),
        "reading": (
            {"item": TEXT, "check": TEXT, "written": TEXT},
            {
                "place": TEXT,
                "meter": TEXT,
                "range": TEXT,
                "at_psi": WHOLE,
                "kept_as_keyed": FLAG,
                "hidden_first": FLAG,
                "set": TEXT,
                "note": TEXT,
                "photo": TEXT,
                "with": TABLE,
            },
        ),
        "master": (
            {"meter": TEXT, "written": TEXT},
            {"with": TABLE, "note": TEXT},
        ),
        # Where it is for named holes ("1T, 2T"), as many are counted as are named.
        "counted_out": ({"what": TEXT, "number": WHOLE}, {"place": TEXT, "note": TEXT}),
        "counted_in": ({"what": TEXT, "number": WHOLE}, {"place": TEXT, "note": TEXT}),
        "torqued": (
            {"item": TEXT, "what": TEXT, "meter": TEXT, "of": WHOLE},
            {
                # Which fasteners, by the turn they are tightened at; "done" is the older way to
                # write it: the first so many.
                "fasteners": LIST,
                "done": WHOLE,
                "group": TEXT,
                "written": TEXT,
                "note": TEXT,
                "task": TEXT,
                "place": TEXT,
                "wanted": TEXT,
                "set_to": TEXT,
                "drag": TEXT,
                "passes": WHOLE,
                "adapter": TABLE,
            },
        ),
        "counted": (
            {"item": TEXT, "pieces": WHOLE, "magnetic": WHOLE},
            {
                "largest_mm": NUMBER,
                "on": TEXT,
                "engine_hours": NUMBER,
                "note": TEXT,
                "photo": TEXT,
            },
        ),
        "sampled": (
            {
                "item": TEXT,
                "on": TEXT,
                "engine_hours": NUMBER,
                "oil_hours": NUMBER,
                "added_qt": NUMBER,
            },
            # What the laboratory found may come later, in an entry of its own.
            {
                "ppm": TABLE,
                "bottle": TEXT,
                "fill_qt": NUMBER,
                # Running hours since the oil was changed -> quarts; and the share of old oil left.
                "topups": TABLE,
                "left_share": NUMBER,
                "lab": TEXT,
                "oil": TEXT,
                "flag": TEXT,
                "note": TEXT,
            },
        ),
        "analysed": (
            {"sample": TEXT, "ppm": TABLE},
            {"lab": TEXT, "flag": TEXT, "note": TEXT},
        ),
        "pictured": (
            {"photo": TEXT, "sha256": TEXT},
            {
                "item": TEXT,
                "entry": TEXT,
                "scale_note": TEXT,
                "width": WHOLE,
                "height": WHOLE,
                "note": TEXT,
            },
        ),
        "seen": (
            {"item": TEXT, "word": TEXT},
            {
                "place": TEXT,
                "check": TEXT,
                "severity": WHOLE,
                "set": TEXT,
                "note": TEXT,
                "photo": TEXT,
            },
        ),
        "reworked": ({"item": TEXT, "act": TEXT}, {"place": TEXT, "note": TEXT}),
        "moved": ({"item": TEXT, "place": TEXT}, {"note": TEXT}),
        "dropped": ({"item": TEXT}, {"place": TEXT, "note": TEXT, "person": TEXT}),
        "overheated": ({"item": TEXT}, {"place": TEXT, "note": TEXT}),
        "unknown_history": ({"item": TEXT}, {"place": TEXT, "note": TEXT}),
        "struck": ({"entry": TEXT, "reason": TEXT}, {}),
        "called": ({"entry": TEXT, "call": TEXT, "reason": TEXT}, {}),
        "left_open": ({"entry": TEXT}, {"reason": TEXT, "person": TEXT}),
        "disagreed": ({"item": TEXT, "verdict": TEXT, "reason": TEXT}, {}),
        "closed": ({"finding": TEXT, "reason": TEXT}, {"found": TEXT}),
        "disposed": ({"item": TEXT, "how": TEXT}, {"note": TEXT}),
        "replaced": (
            {"item": TEXT, "place": TEXT, "for": TEXT},
            {"made": TEXT, "type": TEXT, "note": TEXT},
        ),
        "proved": ({"meter": TEXT, "reason": TEXT}, {"due": TEXT}),
        "found_out": (
            {"meter": TEXT, "reason": TEXT},
            {
                "off": TEXT,
                "setting": TEXT,
                "certificate": TEXT,
                "on": TEXT,
                "good": TEXT,
            },
        ),
        "stopped": (
            {"where": TEXT},
            {"place": TEXT, "check": TEXT, "why": TEXT, "half_keyed": TEXT, "task": TEXT},
        ),
        "carried_on": ({"where": TEXT}, {"place": TEXT, "check": TEXT, "task": TEXT}),
        # Tasks. A place is a hole, a cylinder or whatever the task is done for one by one.
        "started": ({"task": TEXT}, {"place": TEXT, "note": TEXT}),
        "done": ({"task": TEXT}, {"place": TEXT, "note": TEXT, "with": LIST}),
        "closed_short": ({"task": TEXT, "reason": TEXT}, {"place": TEXT}),
        "second_look": ({"task": TEXT}, {"place": TEXT, "note": TEXT}),
        "flagged": ({"what": TEXT, "place": TEXT}, {"task": TEXT, "note": TEXT}),
        "flag_off": ({"what": TEXT, "place": TEXT}, {"note": TEXT}),
        # Parts and the plan.
        "needed": ({"part": TEXT, "number": WHOLE, "reason": TEXT}, {"item": TEXT}),
        "not_needed": ({"part": TEXT, "number": WHOLE, "reason": TEXT}, {"item": TEXT}),
        "ordered": (
            {"part": TEXT, "number": WHOLE},
            {"supplier": TEXT, "price": NUMBER, "due": TEXT, "order": TEXT, "note": TEXT},
        ),
        "arrived": (
            {"part": TEXT, "number": WHOLE},
            {
                "order": TEXT,
                "price": NUMBER,
                "release": TEXT,
                "form": TEXT,
                "reference": TEXT,
                "note": TEXT,
            },
        ),
        # The release document of an item or of a part: its form and number, or why there is none.
        "papers": (
            {"about": TEXT},
            {"form": TEXT, "reference": TEXT, "reason": TEXT, "note": TEXT},
        ),
        "used": (
            {"part": TEXT, "number": WHOLE},
            {"item": TEXT, "task": TEXT, "place": TEXT, "note": TEXT},
        ),
        "stock_counted": ({"part": TEXT, "number": WHOLE}, {"note": TEXT}),
        "assigned": ({"item": TEXT, "place": TEXT}, {"new": FLAG, "reason": TEXT}),
        "wanted": ({"on": TEXT}, {"what": TEXT, "note": TEXT}),
        "planned": ({"starts": TABLE}, {"finish": TEXT, "note": TEXT}),
        # Putting together, proving, signing.
        "fitted": (
            {"item": TEXT, "place": TEXT},
            {
                "part": TEXT,
                "serial": TEXT,
                "batch": TEXT,
                "made": TEXT,
                "gasket": TEXT,
                "release": TEXT,
                "form": TEXT,
                "reference": TEXT,
                "note": TEXT,
            },
        ),
        "p_lead": ({"item": TEXT, "state": TEXT}, {"how": TEXT, "note": TEXT}),
        "run_began": ({"run": TEXT}, {"with": TABLE, "engine_hours": NUMBER, "note": TEXT}),
        "run_step": ({"run": TEXT, "step": TEXT}, {"result": TEXT, "note": TEXT}),
        "run_ended": (
            {"run": TEXT},
            {"why": TEXT, "engine_hours": NUMBER, "full_temperature": FLAG, "note": TEXT},
        ),
        "complied": (
            {"recurring": TEXT, "on": TEXT},
            {
                "hours": NUMBER,
                "method": TEXT,
                "document": TEXT,
                "revision": TEXT,
                "note": TEXT,
            },
        ),
        # A promise to look again, at those hours since overhaul or on that day.
        "promised": (
            {"item": TEXT, "what": TEXT},
            {"hours": NUMBER, "on": TEXT, "reason": TEXT, "finding": TEXT},
        ),
        "given": ({"what": TEXT, "to": TEXT}, {"on": TEXT, "note": TEXT}),
        "drafted": ({"what": TEXT, "text": TEXT}, {"fields": TABLE, "note": TEXT}),
        "signed": (
            {"what": TEXT, "text": TEXT, "sha256": TEXT, "name": TEXT},
            {
                "certificate": TEXT,
                "certificate_kind": TEXT,
                "statement": TEXT,
                "fields": TABLE,
                "head": TEXT,
            },
        ),
        "earlier": (
            {"item": TEXT, "service": TEXT},
            {
                "place": TEXT,
                "engine_hours": NUMBER,
                "item_hours": NUMBER,
                "readings": LIST,
                "note": TEXT,
            },
        ),
        "filed": ({"file": TEXT, "sha256": TEXT, "text": TEXT}, {"note": TEXT}),
        "note": ({"text": TEXT}, {"item": TEXT, "place": TEXT}),
        "put_away": ({"reason": TEXT}, {}),
        "brought_back": ({"reason": TEXT}, {}),
    }
)

COMMON = ("id", "kind", "at", "by")

# What every kind may have: the key of the person under whose supervision it was done (DESIGN 4b, 1).
SHARED = {"under": TEXT}
