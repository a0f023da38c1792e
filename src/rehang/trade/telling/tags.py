"""Parts tags by the verdict: serviceable, repairable, hold or scrap. A trade convention, not law.

Colours as parts tags in US trade use have them: yellow, green, red (common practice, no source); what is
still to be decided is on white, our own choice. Other countries differ, so the word stands on every tag and the colour is extra.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from textwrap import shorten

from rehang.trade.job.judging import JudgedJob
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.labels import label_text
from rehang.trade.terms.wording import on_day
from rehang.trade.verdicts.item_verdict import ItemVerdict

__all__ = ["TAG_OF", "Tag", "tag_of", "tags_of"]

# verdict -> word, colour of the stock in US trade
TAG_OF = {
    "KEEP": ("SERVICEABLE", "yellow"),
    "REWORK": ("REPAIRABLE", "green"),
    "NOT YET": ("HOLD", "white"),
    "REJECT": ("SCRAP", "red"),
}


@dataclass(frozen=True, slots=True)
class Tag:
    """One tag: what, serial, hours, why, date. Who made it out and the signature are a person's."""

    word: str
    colour: str
    part: str
    serial: str
    place: str
    goes_to: str
    hours: str
    why: str
    became: str
    date: str
    code: str


def tag_of(judged: JudgedJob, item: ItemVerdict, on: date) -> Tag:
    """The tag of one item as it is judged."""
    word, colour = TAG_OF[item.verdict]
    engine = str(judged.facts.engine.get("engine", ""))
    # The stub is torn off: what stays on the part names it.
    kind = f"{item.kind.capitalize()} {item.name}" + (f", {engine}" if engine else "")
    hours = f"{item.state.hours:,.1f}" if item.state.hours is not None else ""
    gone = item.state.disposed
    return Tag(
        word=word,
        colour=colour,
        part=kind,
        serial=item.name,
        place=item.place,
        goes_to=item.goes_to if item.verdict == "KEEP" else "",
        hours=hours,
        # A tag has room for four lines; the rest stands in the book, where its code leads.
        why=shorten(item.reasons[0], 175, placeholder=" ...") if item.reasons else "",
        became=gone.fields.how if gone else "",
        date=on_day(on),
        code=label_text(judged.facts.job, item.item),
    )


def tags_of(judged: JudgedJob, items: Iterable[str], on: date) -> tuple[Tag, ...]:
    """The tags of some items, in the order given.

    Raises
    ------
    BadInput
        None was named, or one is not in this job.
    """
    found = tuple(tag_of(judged, judged.item(one), on) for one in items)
    if not found:
        raise BadInput("Name at least one part to make a tag for.")
    return found
