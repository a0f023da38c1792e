"""What an entry about parts, the rotation or the plan says, in words."""

from __future__ import annotations

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.fitting import papers_words
from rehang.trade.known.state import item_kind, item_name
from rehang.trade.terms.entries import Entry, last_day
from rehang.trade.terms.wording import on_day, upper_first

__all__ = ["STOCK_WORD_KINDS", "stock_entry_words"]

STOCK_WORD_KINDS = (
    "needed", "not_needed", "ordered", "arrived", "papers", "used", "stock_counted", "assigned", "wanted",
    "planned",
)  # fmt: skip


def stock_entry_words(entry: Entry, facts: JobFacts) -> str:
    """One entry as a sentence, with its note."""
    note = _stopped(upper_first(str(entry.get("note")))) if entry.get("note") else ""
    return f"{_stopped(_words(entry, facts))}{f' {note}' if note else ''}"


def _words(entry: Entry, facts: JobFacts) -> str:
    match entry.kind:
        case "assigned":
            name = item_name(entry.item)
            if entry.get("new", False):
                name = f"The new {item_kind(entry.item)} for {name}"
            return f"{name} is to go to {entry.place}{_because(entry)}"
        case "wanted":
            day = last_day(str(entry.data["on"]))
            return f"Wanted ready by {day:%a} {on_day(day)}"
        case "planned":
            return f"A plan was promised, {len(entry.data['starts'])} pieces of work"
        case "papers":
            about = str(entry.data["about"])
            known = facts.parts.get(about)
            return f"Papers of {known.name if known else item_name(about) or about}: {papers_words(entry)}"
    name = str(entry.data["part"])
    thing = f"{entry.data['number']} {facts.parts[name].name if name in facts.parts else name}"
    match entry.kind:
        case "needed":
            return f"{thing} needed{_because(entry)}"
        case "not_needed":
            return f"{thing} not needed{_because(entry)}"
        case "ordered":
            supplier = f" from {entry.get('supplier')}" if entry.get("supplier") else ""
            due = ""
            if entry.get("due"):
                day = last_day(str(entry.get("due")))
                due = f", due {day:%a} {on_day(day)}"
            return f"{thing} ordered{supplier}{due}"
        case "arrived":
            told = papers_words(entry) or str(entry.get("release"))
            release = f", release {told}" if told else ""
            return f"{thing} arrived{release}"
        case "used":
            where = f" at {entry.place}" if entry.place else ""
            task = f" for {entry.get('task')}" if entry.get("task") else ""
            became = f", as {item_name(entry.item)}" if entry.item else ""
            return f"{thing} used{task}{where}{became}"
    return f"{thing} on the shelf, counted"


def _because(entry: Entry) -> str:
    return f": {str(entry.get('reason')).strip()}" if entry.get("reason") else ""


def _stopped(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."
