"""Documents, promises and signatures."""

from __future__ import annotations

from dataclasses import field
from typing import Annotated, ClassVar

from rehang.trade.terms.kinds.fields import (
    LONGEST_FILE,
    DatedText,
    EngineHours,
    Fields,
    Holds,
    ItemId,
    Remark,
    TableField,
    What,
    entry_kind,
)

__all__ = [
    "Complied",
    "Drafted",
    "Filed",
    "PaperHanded",
    "PapersGiven",
    "Promised",
    "RecordSigned",
]


@entry_kind("papers")
class PapersGiven(Fields):
    """The release document of an item or of a part: its form and number, or why there is none."""

    about: str
    form: str = ""
    reference: str = ""
    reason: str = ""
    note: Remark = ""


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
    note: Remark = ""


@entry_kind("promised")
class Promised(Fields):
    """A promise to look again, at those hours since overhaul or on that day."""

    item: ItemId
    what: What
    hours: EngineHours | None = None
    on: DatedText = ""
    reason: str = ""
    finding: str = ""


@entry_kind("given")
class PaperHanded(Fields):
    """A paper was handed over."""

    what: What
    to: str
    on: DatedText = ""
    note: Remark = ""


@entry_kind("drafted")
class Drafted(Fields):
    """A record as its writer wants it, before it is signed."""

    what: What
    text: str
    fields: TableField = field(default_factory=dict)
    note: Remark = ""


@entry_kind("signed")
class RecordSigned(Fields):
    """A record with its whole text, some pages of it."""

    settles: ClassVar[bool] = True
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


@entry_kind("filed")
class Filed(Fields):
    """A file of the job as it was changed."""

    longest_text: ClassVar[int] = LONGEST_FILE

    file: str
    sha256: str
    text: str
    note: Remark = ""
