"""Rules on what is said to be done again, and on what is promised (DESIGN 4b, 8)."""

from __future__ import annotations

from datetime import date

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.recurring import Recurring
from rehang.trade.known.hours import CLOCK_WORDS, full_day, hours_of
from rehang.trade.known.no_more import no_more
from rehang.trade.known.promises import PROMISED
from rehang.trade.known.state import JobState, before
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.papers import Complied, Promised
from rehang.trade.terms.wording import on_day

__all__ = ["check_complied", "check_promised"]


def check_complied(entry: Entry[Complied], state: JobState, facts: JobFacts) -> None:
    """Whether a thing that recurs, or was promised, can have been done as written (DESIGN 4b, 8)."""
    name = entry.fields.recurring
    on = full_day(entry.fields.on)
    earlier_ones = before(entry, state)
    title, clock, every_hours = name, "since_overhaul", None
    earlier: date | None = None
    last: float | None = None
    if name.startswith(PROMISED):
        promised = next((e for e in earlier_ones if f"{PROMISED}{e.id}" == name), None)
        if promised is None or not is_a(promised, Promised):
            raise BadInput("What this says is done was not promised in this book.")
        title, earlier = promised.fields.what, promised.at.date()
    else:
        one = facts.recurring.get(name)
        if one is None:
            raise BadInput(
                f'"{name}" is none of the directives and inspections on file: '
                f"{', '.join(facts.recurring) or 'there are none'}."
            )
        _check_document(entry, one)
        title, clock, every_hours = one.title, one.clock, one.every_hours
        done = [e for e in earlier_ones if is_a(e, Complied) and e.fields.recurring == name]
        # The book goes before the file: recurring.toml knows what was done before this job.
        earlier = full_day(done[-1].fields.on) if done else one.last_on
        last = done[-1].fields.hours if done else one.last_hours
        _check_open(entry, one, done, facts)
    # Held against the entry's own day, so that the book says the same when it is read later.
    if on > entry.at.date():
        raise BadInput(
            f"{title} is written as done on {on_day(on)}, which was still to come on "
            f"{on_day(entry.at)}. Write the day it was done.",
            "on",
        )
    if earlier is not None and on < earlier:
        raise BadInput(
            f"{title} is written as done on {on_day(on)}; it was done on "
            f"{on_day(earlier)} already. Look at the date again.",
            "on",
        )
    given = entry.fields.hours
    # Hours or calendar, whichever comes first: without the hours one side could never be told.
    if every_hours is not None and given is None:
        raise BadInput(
            f"{title} runs on hours too. Write the {CLOCK_WORDS[clock]} hours it was done at.",
            "hours",
        )
    if given is None:
        return
    # Written so that a number that is none (NaN) is refused too.
    if not given >= 0:
        raise BadInput(f"{given} h cannot be. Write the {CLOCK_WORDS[clock]} hours.", "hours")
    if last is not None and given < last:
        raise BadInput(
            f"{title} is written as done at {given:g} h; the last time it was at {last:g} h. "
            "Hours do not run backwards: read the meter again.",
            "hours",
        )
    # The hours as they stood before this entry: a later run moves them on.
    now = hours_of(facts, state, entry).on(clock)
    if now is not None and given > now:
        raise BadInput(
            f"{title} is written as done at {given:,.1f} h; {now:,.1f} h {CLOCK_WORDS[clock]} are on "
            "file. Read the meter again.",
            "hours",
        )


def _check_open(
    entry: Entry[Complied], one: Recurring, done: list[Entry[Complied]], facts: JobFacts
) -> None:
    """Whether it is still there to be done, and ends by a document where it ends."""
    why = no_more(one, done[-1] if done else None, facts)
    if why:
        raise BadInput(f"{why} It is not done again.")
    if entry.fields.ends and not (entry.fields.document.strip() or one.document):
        raise BadInput("What ends it is done by a document. Write which.", "document")


def _check_document(entry: Entry[Complied], one: Recurring) -> None:
    """Whether a directive is done by the document, and the revision of it, that is on file."""
    if one.kind != "directive":
        return
    for key, given, held in (
        ("document", entry.fields.document, one.document),
        ("revision", entry.fields.revision, one.revision),
    ):
        if given and held and _plain(given) != _plain(held):
            raise BadInput(
                f'{one.title} is written as done by {key} "{given}"; "{held}" is on file. Do it by '
                "that, or change what is on file to what counts now.",
                key,
            )


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())


def check_promised(entry: Entry[Promised], state: JobState, facts: JobFacts) -> None:
    """Whether what is promised is about something and has hours or a day still to come."""
    if not entry.fields.what.strip():
        raise BadInput("Write what is to be looked at again.", "what")
    hours, on = entry.fields.hours, entry.fields.on
    if hours is None and not on:
        raise BadInput("Write at what hours, on what day, or both.", "hours")
    now = hours_of(facts, state, entry).on("since_overhaul")
    if hours is not None and now is None:
        raise BadInput(
            "The engine's hours since overhaul are not on file, so no hours can be promised. "
            "Write a day, or enter the hours with the engine data.",
            "hours",
        )
    # 10,000 h ahead is beyond every such promise: a slip of the key (our choice, no source).
    if hours is not None and now is not None and not now < hours < now + 10_000:
        raise BadInput(
            f"{hours:,.1f} h is not ahead of the engine's {now:,.1f} h since overhaul.", "hours"
        )
    # DESIGN 4a, 14: a month means its last day, and the day itself is still good.
    if on and last_day(on, "on") < entry.at.date():
        raise BadInput(f"{on_day(last_day(on))} is past. Write a day to come.", "on")
