"""A finding's photo beside the one of the same part before it, in this stay or an earlier one."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.photos import live_photos
from rehang.trade.telling.sentences import item_as_said
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.kinds.readings import Pictured
from rehang.trade.terms.wording import on_day, upper_first
from rehang.web.shared.photo_rows import PhotoRow, photo_rows

__all__ = ["PhotoPair", "photo_pairs"]

# From this severity on a finding stands in a record.
_TOLD = 2


@dataclass(frozen=True, slots=True)
class PhotoPair:
    """One finding and its photo; ``before`` is None where the part has no earlier one.

    ``job`` and ``job_before`` name the jobs whose photos they are, as an address asks for them.
    """

    words: str
    now: PhotoRow
    job: Mapping[str, str]
    before: PhotoRow | None
    job_before: Mapping[str, str]
    before_on: str


def photo_pairs(
    judged: JudgedJob, books_with: Callable[[str], Sequence[JudgedJob]]
) -> list[PhotoPair]:
    """The findings that have a photo; ``books_with`` gives the jobs that a part was in."""
    found = []
    for one in judged.items:
        for finding in one.findings:
            photos = live_photos(judged.state, entry=finding.entry.id)
            if finding.severity < _TOLD or not photos:
                continue
            now = photos[-1]
            book, before = _last_before(now, books_with(one.item), [one.id for one in photos])
            found.append(
                PhotoPair(
                    words=f"{upper_first(item_as_said(one.item))}: {finding.label}",
                    now=_row(now, judged),
                    job={"slug": judged.facts.job},
                    before=_row(before, book) if before is not None and book is not None else None,
                    job_before={"slug": book.facts.job if book is not None else ""},
                    before_on=on_day(before.at) if before is not None else "",
                )
            )
    return found


def _last_before(
    now: Entry[Pictured], books: Iterable[JudgedJob], own: Sequence[str]
) -> tuple[JudgedJob | None, Entry[Pictured] | None]:
    """The last photo of the same part before one, ``own`` left aside: those of the finding itself."""
    earlier = [
        (entry.at, entry, book)
        for book in books
        for entry in live_photos(book.state, item=now.item)
        if entry.at < now.at and entry.id not in own
    ]
    if not earlier:
        return None, None
    _, entry, book = max(earlier, key=lambda one: one[0])
    return book, entry


def _row(entry: Entry[Pictured], judged: JudgedJob) -> PhotoRow:
    return next(row for row in photo_rows(judged, item=entry.item) if row.entry == entry.id)
