"""Photos in the book: what an entry of kind ``pictured`` must say, and what its photo belongs to.

The picture itself is a file named by its own SHA-256, so the book's chain names every byte of
it. Nothing here reads that file.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from rehang.trade.facts.items import CheckSheet
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.state import JobState, as_read, item_kind, item_name
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.terms.kinds.extra import WorkFound
from rehang.trade.terms.kinds.monitor import MonitorRead
from rehang.trade.terms.kinds.oil import PiecesCounted
from rehang.trade.terms.kinds.readings import Pictured, ReadingTaken, Seen
from rehang.trade.terms.wording import lower_first

__all__ = [
    "LONGEST_SCALE_NOTE",
    "NO_SCALE",
    "KeptFile",
    "belongs_to",
    "check_can_picture",
    "check_paper",
    "check_pdf",
    "check_scale_note",
    "files_in",
    "is_kept_name",
    "is_named_by",
    "is_pdf_name",
    "item_words",
    "live_photos",
    "of_a_paper",
    "photo_word",
    "photos_in",
    "scale_words",
    "table_name",
]

NO_SCALE = "no scale in the picture"
# A line beside a thumbnail, and under the photo on paper.
LONGEST_SCALE_NOTE = 200
# \Z and not $, which lets a line feed by.
_NAME = re.compile(r"[0-9a-f]{64}\.(jpg|pdf|csv)\Z")


def table_name(sha256: str) -> str:
    """The name of a monitor's table where it is kept beside the photos."""
    return f"{sha256}.csv"


def is_kept_name(text: str) -> bool:
    """Whether a text is the name of a file kept for a book, and so stays inside its folder."""
    return _NAME.match(text) is not None


def is_named_by(name: str, sha256: str) -> bool:
    """Whether a kept file is called by that sum of its bytes."""
    return is_kept_name(name) and name.partition(".")[0] == sha256


def is_pdf_name(text: str) -> bool:
    """Whether what lies among the photos under this name is a PDF."""
    return is_kept_name(text) and text.endswith(".pdf")


def photo_word(name: str) -> str:
    """What lies under the name of a photo or a PDF, as sentences call it."""
    return "PDF" if is_pdf_name(name) else "photo"


@dataclass(frozen=True, slots=True)
class KeptFile:
    """A file that a book speaks of by its sum: a photo, a PDF, or a monitor's table."""

    name: str
    sha256: str
    entry: Entry

    @property
    def kind(self) -> str:
        return "table" if is_a(self.entry, MonitorRead) else photo_word(self.name)

    @property
    def what(self) -> str:
        """What it is, as a sentence names it."""
        if is_a(self.entry, MonitorRead):
            return f"table of {self.entry.fields.of}"
        return f"{self.kind} of {item_words(self.entry.item)}"


def files_in(book: Iterable[Entry]) -> list[KeptFile]:
    """Every file that the book speaks of, struck or not: the chain names the bytes of all."""
    found = []
    for entry in book:
        if is_a(entry, Pictured):
            found.append(KeptFile(entry.fields.photo, entry.fields.sha256, entry))
        elif is_a(entry, MonitorRead) and entry.fields.table:
            found.append(KeptFile(entry.fields.table, entry.fields.sha256, entry))
    return found


def photos_in(book: Iterable[Entry]) -> list[Entry[Pictured]]:
    """Every entry that carries a photo, struck or not: the chain speaks of the files of all."""
    return [entry for entry in book if is_a(entry, Pictured)]


def live_photos(
    state: JobState, *, item: str | None = None, entry: str = ""
) -> list[Entry[Pictured]]:
    """The photos that are not struck, in the order of the book.

    Of one item (``""``: of the whole job), of one entry, or all of them.
    """
    return [
        one
        for one in photos_in(state.live())
        if (item is None or one.item == item) and (not entry or one.fields.entry == entry)
    ]


def check_scale_note(text: str) -> None:
    """Whether a scale note fits under its photo."""
    if len(text) > LONGEST_SCALE_NOTE:
        raise BadInput(
            f"The scale note has {len(text)} characters; at most {LONGEST_SCALE_NOTE} fit under "
            "a photo. Shorten it.",
            "scale_note",
        )


def of_a_paper(item: str) -> bool:
    """Whether what a photo is of is no part: a meter (its certificate) or a limit (its page)."""
    return item_kind(item) in ("meter", "limit")


def check_paper(
    item: str,
    meters: Collection[str],
    sheets: Mapping[str, CheckSheet],
    where: str = "",
) -> None:
    """Whether there is such a meter on file, or such a check (``limit:plug.gap``)."""
    name = item_name(item)
    if item_kind(item) == "meter":
        if name not in meters:
            raise BadInput(f'There is no meter "{name}" on file to add a photo to.', where)
        return
    kind, _, check = name.partition(".")
    if kind in sheets:
        sheets[kind].check(check, where)
    elif kind != "engine" or not check:
        raise BadInput(f'There is no limit "{name}" to add a photo to.', where)


def check_pdf(entry: Entry[Pictured], where: str = "") -> None:
    """Whether a PDF is of a paper, and its entry says how much it is."""
    if not of_a_paper(entry.item) or entry.fields.entry:
        raise BadInput(
            f"A PDF is kept with a meter or a limit, and this one is of {item_words(entry.item)}. "
            "Add a photo there.",
            where,
        )
    if not entry.fields.pages or not entry.fields.size:
        raise BadInput(
            f"The PDF of {item_words(entry.item)} does not say how many pages and bytes it has. "
            "Add it again.",
            where,
        )


def check_can_picture(item: str, entry_id: str, state: JobState, facts: JobFacts) -> str:
    """Whether a photo can be of this item, or belong to this entry; returns the item it is of."""
    if of_a_paper(item):
        check_paper(item, facts.meters, facts.sheets)
    elif item:
        state.item(item)
    if not entry_id:
        return item
    target = state.entry(entry_id)
    if target.id in state.struck:
        raise NotAllowed("That line is struck. Add the photo to one that stands.")
    if not (target.item or is_a(target, WorkFound)) or is_a(target, Pictured):
        raise NotAllowed(
            "A photo belongs to a finding, a reading or another line about an item. "
            "Add the photo to the item."
        )
    if item and item != target.item:
        raise NotAllowed(
            f"That line is about {item_words(target.item)}, not {item_words(item)}. "
            "Add the photo on the page of its own item."
        )
    return target.item


def item_words(item: str) -> str:
    """``plug K0418``, as people say it."""
    if item_kind(item) == "limit":
        return f"the page of the limit for {item_name(item).replace('.', ', ').replace('_', ' ')}"
    return f"{item_kind(item)} {item_name(item)}" if item else "the engine"


def belongs_to(entry: Entry[Pictured], facts: JobFacts, state: JobState) -> str:
    """What a photo shows, in words: ``Plug K0418, 4B: lead bridge, severity 2``."""
    target = state.entries.get(entry.fields.entry)
    words = item_words(entry.item)
    item = state.items.get(entry.item)
    hole = (target.place if target else "") or (item.came_out_of if item else "")
    if hole and item_kind(entry.item) == "plug":
        words += f", {hole}"
    if target is not None:
        words += f": {_target_words(target, facts)}"
        if target.id in state.struck:
            words += " (struck since)"
    return words[0].upper() + words[1:]


def _target_words(target: Entry, facts: JobFacts) -> str:
    sheet = facts.sheets.get(item_kind(target.item))
    if is_a(target, ReadingTaken):
        label, text = as_read(target, facts.sheets, facts.meters)
        return f"{_small(label)} {text}"
    if is_a(target, Seen):
        word = target.fields.word
        label = sheet.words[word].label if sheet and word in sheet.words else word
        severity = target.fields.severity
        return _small(label) + (f", severity {severity}" if severity is not None else "")
    if is_a(target, WorkFound):
        return f"work found, {lower_first(target.fields.what)}"
    if is_a(target, PiecesCounted):
        pieces = target.fields.pieces
        return f"{pieces:,} {'piece' if pieces == 1 else 'pieces'}, {target.fields.magnetic:,} magnetic"
    return target.kind.replace("_", " ")


def _small(text: str) -> str:
    """With a small first letter, unless it is a word all in capitals."""
    return lower_first(text)


def scale_words(entry: Entry[Pictured]) -> str:
    """The scale of a photo as it is printed, or that there is none; of a PDF, how much it is."""
    if is_pdf_name(entry.fields.photo):
        return f"{_amount(entry.fields.pages or 0, entry.fields.size or 0)}."
    note = entry.fields.scale_note.strip()
    return f"Scale: {note.rstrip('.')}." if note else f"{NO_SCALE[0].upper()}{NO_SCALE[1:]}."


def _amount(pages: int, size: int) -> str:
    """``3 pages, 214 kB``: part of a kilobyte counts as one."""
    weight = f"{size / 1e6:,.1f} MB" if size >= 1_000_000 else f"{-(-size // 1000)} kB"
    return f"{pages:,} {'page' if pages == 1 else 'pages'}, {weight}"
