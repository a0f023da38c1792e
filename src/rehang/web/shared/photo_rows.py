"""Photos as the pages show them: a small picture, what it belongs to, its scale, who and when."""

from __future__ import annotations

from dataclasses import dataclass

from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.photos import belongs_to, is_pdf_name, live_photos, of_a_paper, scale_words
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.kinds.readings import Pictured
from rehang.trade.terms.wording import lower_first
from rehang.web.shared.times import when_text, zone_of

__all__ = ["SMALL_SIDE", "PhotoRow", "photo_rows"]

# The long side of a thumbnail, sharp on a screen of two dots to the pixel.
SMALL_SIDE = 480


@dataclass(frozen=True, slots=True)
class PhotoRow:
    """One photo. ``width`` and ``height`` are those of its thumbnail; 0 where the book has none.

    Of a PDF there is no thumbnail, and ``scale`` says how much it is. A paper's photo has no scale.
    """

    name: str
    entry: str
    seq: int
    about: str
    scale: str
    when: str
    who: str
    note: str
    alt: str
    width: int
    height: int
    year: int = 0
    is_pdf: bool = False


def photo_rows(judged: JudgedJob, *, item: str | None = None, entry: str = "") -> list[PhotoRow]:
    """The photos that are not struck, the newest first: of an item, of an entry, or all."""
    return [
        _row(one, judged) for one in reversed(live_photos(judged.state, item=item, entry=entry))
    ]


def _row(entry: Entry[Pictured], judged: JudgedJob) -> PhotoRow:
    about = belongs_to(entry, judged.facts, judged.state)
    wide, high = (max(0, side or 0) for side in (entry.fields.width, entry.fields.height))
    part = min(1.0, SMALL_SIDE / max(wide, high, 1))
    return PhotoRow(
        name=entry.fields.photo,
        entry=entry.id,
        seq=entry.seq,
        about=about,
        scale=_scale(entry),
        when=when_text(entry.at, zone_of(judged)),
        who=judged.facts.person(entry.by),
        note=entry.fields.note,
        alt=f"Photo of {lower_first(about)}",
        width=round(wide * part),
        height=round(high * part),
        year=entry.at.year,
        is_pdf=is_pdf_name(entry.fields.photo),
    )


def _scale(entry: Entry[Pictured]) -> str:
    if is_pdf_name(entry.fields.photo):
        # A number and its unit stay on one line of a narrow link.
        pages, _, weight = scale_words(entry).rstrip(".").partition(", ")
        return f"{pages}, {weight.replace(' ', chr(0xA0))}"
    if of_a_paper(entry.item) and not entry.fields.scale_note:
        return ""
    return scale_words(entry)
