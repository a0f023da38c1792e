"""Readings out of a judged job, as a table."""

from __future__ import annotations

import re

from rehang.sheets.table_columns import COLUMNS, FIELDS, FLAGS, SELDOM, WITH
from rehang.trade.job.judging import JudgedJob
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.verdicts.calls import Call

__all__ = ["joined_written", "readings_table", "row_of"]

_NUMERIC = re.compile(r"[\d.,+/-]*\d[\d.,+/-]*$")
_SPLIT = re.compile(r"([\d.,+/-]*\d[\d.,+/-]*) (\S(?:.*\S)?)$")


def readings_table(judged: JudgedJob) -> tuple[list[str], list[list[str]]]:
    """Headings and rows of every reading of the book, in its order."""
    state = judged.state
    readings = [entry for entry in state.order if is_a(entry, ReadingTaken)]
    conditions = sorted({f"{WITH}{name}" for e in readings for name in e.fields.with_})
    seldom = [name for name in SELDOM if any(name in e.data for e in readings)]
    headings = [
        *COLUMNS, *conditions, "note", *seldom,
        "call", "p_within", "limit", "void", "struck", "seq", "id",
    ]  # fmt: skip
    calls = _calls(judged)
    voids = {t.entry.id: t.void for item in state.items.values() for t in item.readings}
    rows = []
    for entry in readings:
        row = row_of(entry)
        call = calls.get(entry.id)
        struck = state.struck.get(entry.id)
        row |= {
            "call": call.call if call else "",
            "p_within": "" if call is None or call.p_within is None else repr(call.p_within),
            "limit": call.limit if call else "",
            "void": voids.get(entry.id, ""),
            "struck": struck.fields.reason if struck else "",
            "seq": str(entry.seq or ""),
        }
        rows.append([row.get(name, "") for name in headings])
    return headings, rows


def _calls(judged: JudgedJob) -> dict[str, Call]:
    found: dict[str, Call] = {}
    for item in judged.items:
        for call in item.calls:
            for one in (*call.others, call):
                if one.entry is not None and is_a(one.entry, ReadingTaken):
                    found[one.entry.id] = one
    return found


def row_of(entry: Entry) -> dict[str, str]:
    """The columns that hold what the person wrote; reading them back gives the same entry."""
    content = entry.content()
    written, unit = _split(str(content["written"]))
    row = {"written": written, "unit": unit}
    for name, value in content.items():
        if name == "with":
            row |= {f"{WITH}{key}": str(inner) for key, inner in value.items()}
        elif name in FLAGS:
            row[name] = "yes" if value else "no"
        elif name in FIELDS and name != "written":
            row[name] = str(value)
    return row


def _split(written: str) -> tuple[str, str]:
    found = _SPLIT.fullmatch(written)
    return (found[1], found[2]) if found else (written, "")


def joined_written(written: str, unit: str) -> str:
    return f"{written} {unit}" if unit and _NUMERIC.fullmatch(written) else written


# What the columns are
