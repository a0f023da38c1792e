"""Why what is on the list of directives is not, or no more, due on this engine."""

from __future__ import annotations

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.recurring import Recurring
from rehang.trade.known.hours import full_day
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.kinds.papers import Complied
from rehang.trade.terms.wording import listed, on_day, with_stop

__all__ = ["no_more"]


def no_more(one: Recurring, done: Entry[Complied] | None, facts: JobFacts) -> str:
    """One sentence why it is not due; empty where it is. ``done`` is when the book last has it done."""
    serial = str(facts.engine.get("serial", "")).strip()
    if one.not_for:
        return f"{one.title} does not apply: {with_stop(one.not_for)}"
    # The shop's own book, and an engine without a serial on file, are of none and so of any.
    if (
        serial
        and one.serials
        and serial.casefold() not in [text.strip().casefold() for text in one.serials]
    ):
        return (
            f"{one.title} is for serial {listed(list(one.serials), 'or')}; this engine is {serial}."
        )
    if done is not None and done.fields.ends:
        by = done.fields.document or one.document
        return f"{one.title} was ended on {on_day(full_day(done.fields.on))} by {by}: it recurs no more."
    on = full_day(done.fields.on) if done is not None else one.last_on
    return f"{one.title} was done once, on {on_day(on)}, for good." if one.once and on else ""
