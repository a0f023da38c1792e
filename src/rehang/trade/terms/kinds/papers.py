"""Documents, promises and signatures."""

from __future__ import annotations

from dataclasses import field
from typing import Annotated, ClassVar

from rehang.trade.terms.days import last_day
from rehang.trade.terms.kinds.fields import (
    LONGEST_FILE,
    DatedText,
    EngineHours,
    Fields,
    Holds,
    ItemId,
    Names,
    Papered,
    Remark,
    TableField,
    What,
    entry_kind,
    name_of,
    noted,
)
from rehang.trade.terms.wording import FILE_WORDS, on_day, stopped, upper_first, with_stop

__all__ = [
    "CONFIRMED_WITH",
    "Complied",
    "DocumentRead",
    "Drafted",
    "Filed",
    "PaperHanded",
    "PapersGiven",
    "Promised",
    "RecordSigned",
    "Researched",
]


# What somebody types to show who they are.
CONFIRMED_WITH = ("PIN", "password")


@entry_kind("papers")
class PapersGiven(Papered):
    """The release document of an item or of a part: its form and number, or why there is none."""

    about: str
    form: str = ""
    reference: str = ""
    reason: str = ""
    note: Remark = ""

    @property
    def papers(self) -> str:
        """The document, or why there is none.

        >>> PapersGiven(about="plug:N0701", form="Form R1", reference="4471").papers
        'Form R1 no. 4471'
        >>> PapersGiven(about="plug:N0701", reason="Bought before papers.").papers
        'no release document: Bought before papers'
        """
        reason = self.reason.strip().rstrip(".")
        return self.document() or (f"no release document: {reason}" if reason else "")

    def said(self, names: Names) -> str:
        about = names.part(self.about)
        if about == self.about:
            about = name_of(about) or about
        return f"{stopped(f'Papers of {about}: {self.papers}')}{noted(self.note)}"


@entry_kind("complied")
class Complied(Fields):
    """What recurs, or was promised, was done."""

    settles: ClassVar[bool] = True

    recurring: Annotated[str, Holds(names=True, digits=True)]
    on: DatedText
    hours: EngineHours | None = None
    method: str = ""
    document: str = ""
    revision: str = ""
    # A terminating action: what recurred does so no more.
    ends: bool = False
    note: Remark = ""


@entry_kind("researched")
class Researched(Fields):
    """The directives and service documents of the engine were looked through, by which list."""

    against: Annotated[str, Holds(longest=200, empty="Write by which list, and of what day it is.")]
    note: Remark = ""

    def said(self, names: Names) -> str:
        return f"Directives and service documents researched, {stopped(self.against)}{noted(self.note)}"


@entry_kind("read_document")
class DocumentRead(Fields):
    """A document was read, in the revision that counts on that day, and what it asks here."""

    document: Annotated[str, Holds(longest=200, names=True)]
    revision: Annotated[str, Holds(longest=200, empty="Write the number and revision you read.")]
    note: Remark = ""

    def said(self, names: Names) -> str:
        return f"{self.document}: read, {stopped(self.revision)}{noted(self.note)}"


@entry_kind("promised")
class Promised(Fields):
    """A promise to look again, at those hours since overhaul or on that day."""

    item: ItemId
    what: What
    hours: EngineHours | None = None
    on: DatedText = ""
    reason: str = ""
    finding: str = ""

    @property
    def words(self) -> str:
        """What was promised, for when and why."""
        sides = [
            f"at {self.hours:,.1f} h since overhaul" if self.hours else "",
            f"by {on_day(last_day(self.on))}" if self.on else "",
        ]
        why = f": {with_stop(self.reason)}" if self.reason else "."
        return f"{self.what}, {' or '.join(one for one in sides if one)}{why}"

    def said(self, names: Names) -> str:
        return f"Promised: {self.words}"


@entry_kind("given")
class PaperHanded(Fields):
    """A paper was handed over."""

    is_quiet: ClassVar[bool] = True

    what: What
    to: str
    on: DatedText = ""
    note: Remark = ""


@entry_kind("drafted")
class Drafted(Fields):
    """A record as its writer wants it, before it is signed."""

    is_quiet: ClassVar[bool] = True

    what: What
    text: str
    # Why a sentence is left out; words in its place need none.
    reason: str = ""
    fields: TableField = field(default_factory=dict)
    note: Remark = ""


@entry_kind("signed")
class RecordSigned(Fields):
    """A record with its whole text, some pages of it."""

    settles: ClassVar[bool] = True
    is_quiet: ClassVar[bool] = True
    longest_text: ClassVar[int] = 60_000

    what: What
    text: str
    sha256: str
    name: str
    certificate: str = ""
    certificate_kind: str = ""
    statement: str = ""
    fields: TableField = field(default_factory=dict)
    head: str = ""
    # What the signer typed: their PIN or their password. Signatures of before do not say.
    typed: Remark = ""

    @property
    def secret(self) -> str:
        """What it was confirmed with."""
        return self.typed if self.typed in CONFIRMED_WITH else " or ".join(CONFIRMED_WITH)


@entry_kind("filed")
class Filed(Fields):
    """A file of the job as it was changed."""

    longest_text: ClassVar[int] = LONGEST_FILE

    file: str
    sha256: str
    # A list with nothing in it yet is a list.
    text: Remark
    note: Remark = ""

    def said(self, names: Names) -> str:
        what = upper_first(FILE_WORDS.get(self.file, self.file))
        return f"{what} changed.{noted(self.note)}"
