"""The blank tray sheet: empty boxes in the order the readings are taken."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, tzinfo

from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import limit_for, limit_words
from rehang.trade.known.state import JobState, item_name
from rehang.trade.telling.record import limit_source
from rehang.trade.telling.sheet_parts import (
    GENERAL,
    INVENTED,
    Paragraph,
    SheetColumn,
    SheetFact,
    SheetPart,
    Sign,
    column_of,
    engine_facts,
    sheet_id,
    shop_words,
    stamp_words,
)
from rehang.trade.terms.wording import lower_first

__all__ = ["BlankRow", "BlankSheet", "blank_sheet"]


@dataclass(frozen=True, slots=True)
class BlankRow:
    """One hole of the blank sheet; an empty serial prints as a ruled blank."""

    hole: str
    serial: str


@dataclass(frozen=True, slots=True)
class BlankSheet:
    """The tray with empty boxes, ready to be set in type."""

    title: str
    shop: str
    sheet_id: str
    printed: str
    notices: tuple[str, ...]
    facts: tuple[SheetFact, ...]
    tray: tuple[tuple[BlankRow, ...], ...]
    tray_ends: tuple[str, str]
    columns: tuple[SheetColumn, ...]
    rows: tuple[BlankRow, ...]
    paragraphs: tuple[Paragraph, ...]
    statement: str
    signs: tuple[Sign, ...]
    foot: str


# The blank sheet


def blank_sheet(
    facts: JobFacts, state: JobState, *, zone: tzinfo, printed_at: datetime
) -> BlankSheet:
    """The tray with empty boxes: holes in walk order, checks in the order they are taken."""
    kinds = [state.items[i].kind for i in state.holes.values() if i in state.items]
    sheet = facts.sheets[kinds[0] if kinds else "plug"]
    printed = stamp_words(printed_at.astimezone(zone))
    layout = facts.layout

    def row(hole: str) -> BlankRow:
        return BlankRow(hole, item_name(state.holes.get(hole, "")))

    return BlankSheet(
        title="Blank tray sheet",
        shop=shop_words(facts),
        sheet_id=sheet_id(facts, state),
        printed=printed,
        notices=(INVENTED,) if facts.engine.get("invented") else (),
        facts=(
            *engine_facts(facts),
            SheetFact("Job", (SheetPart(facts.job),)),
            SheetFact("Printed", (SheetPart(printed),)),
        ),
        tray=tuple(tuple(row(hole) for hole in line) for line in layout.tray),
        tray_ends=_tray_ends(layout.prop_end),
        columns=tuple(_blank_column(check, sheet, facts) for check in sheet.checks),
        rows=tuple(row(hole) for hole in layout.walk),
        paragraphs=(
            Paragraph(
                "To key it in",
                (
                    "Each column from top to bottom is one line: its letter, then the values; "
                    "- is not read.",
                ),
            ),
            *_letters(sheet),
            Paragraph("Limits", tuple(_blank_limits(sheet, facts))),
        ),
        statement=GENERAL,
        signs=(Sign("Taken by"), Sign("Date")),
        foot="Pencilled readings count once they are kept in the book. Rehang does not sign.",
    )


def _tray_ends(prop_end: str) -> tuple[str, str]:
    """The words at the left and right end of the tray picture."""
    words = "propeller end"
    return {"left": (words, ""), "right": ("", words)}.get(prop_end, ("", ""))


def _blank_column(check: Check, sheet: CheckSheet, facts: JobFacts) -> SheetColumn:
    limit = limit_for(facts.limits, sheet.item, check.name, "service")
    return replace(
        column_of(check),
        letter=check.letter,
        letters=" ".join(choice.letter for choice in check.choices)
        if check.kind == "grade"
        else "",
        limit=limit_words(limit, record=True) if limit and limit.has_source else "",
    )


def _letters(sheet: CheckSheet) -> list[Paragraph]:
    found = [
        Paragraph(
            f"{check.label} letters",
            ("; ".join(f"{c.letter} = {c.word}" for c in check.choices) + ".",),
        )
        for check in sheet.checks
        if check.choices
    ]
    words = "; ".join(f"{w.letter} = {lower_first(w.label)}" for w in sheet.look_words)
    if words:
        found.append(Paragraph(f"{sheet.look.label} letters", (f"{words}.",)))
    return found


def _blank_limits(sheet: CheckSheet, facts: JobFacts) -> list[str]:
    """Whose the limits are; the bounds themselves stand in the headings."""
    gathered: dict[str, list[str]] = {}
    missing = []
    for check in sheet.checks:
        limit = limit_for(facts.limits, sheet.item, check.name, "service")
        if limit is None or not limit.has_source:
            missing.append(check.label.lower())
        else:
            gathered.setdefault(limit_source(limit, facts), []).append(check.label.lower())
    alone = len(gathered) == 1 and not missing
    lines = [
        f"{source}." if alone else f"{source}: {'; '.join(checks)}."
        for source, checks in gathered.items()
    ]
    if missing:
        lines.append(f"No limit with a source on file: {'; '.join(missing)}.")
    return lines
