"""PDFs of certificates and of manuals' pages: looked through, and kept byte for byte as they came.

A certificate is somebody else's document and may carry a signature over its bytes, so nothing of
it is written anew. It is opened only to see that it can be opened and how many pages it has.
"""

from __future__ import annotations

import hashlib
import io
import re
import struct
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rehang.decode.pictures import is_pdf, is_picture
from rehang.trade.terms.errors import BadInput

if TYPE_CHECKING:
    from pypdf import PdfReader

__all__ = ["MOST_BYTES", "MOST_PAGES", "KeptPdf", "check_name", "check_weight", "pages_of"]

# A certificate has one to ten pages; a chapter of a manual may have some tens (our choice, no source).
MOST_BYTES = 10_000_000
MOST_PAGES = 50
_PICTURE_ENDS = (".jpg", ".jpeg", ".png", ".webp", ".avif", ".heic")
# A reader looks for the mark of the end in the last 1,024 bytes (from memory).
_END = 1024
# Where the list of the parts begins, said at the end of the file; and what stands there: ISO
# 32000-1:2008, 7.5.5 and 7.5.8 (from memory).
_LIST_AT = re.compile(rb"startxref\s+(\d{1,10})\s+%%EOF")
_LIST = re.compile(rb"\s*(?:xref|\d+\s+\d+\s+obj)")
_TORN = "The PDF is torn: part of it is missing or spoilt. Send it again."
_LOCKED = "The PDF is locked by a password. Save it without one and send that."


@dataclass(frozen=True, slots=True)
class KeptPdf:
    """A PDF as it came, with its number of pages."""

    data: bytes
    pages: int

    @property
    def sha256(self) -> str:
        """The sum of its bytes."""
        return hashlib.sha256(self.data).hexdigest()

    @property
    def name(self) -> str:
        """The name of its file: its sum, so that the chain of a book names every byte of it."""
        return f"{self.sha256}.pdf"


def check_name(name: str, data: bytes) -> None:
    """Whether a file is what its name says, where a photo and a PDF are both taken."""
    ends_as_pdf = name.lower().endswith(".pdf")
    if not data:
        raise BadInput("The file is empty. Pick the PDF or the photo again.")
    if is_pdf(data) and name.lower().endswith(_PICTURE_ENDS):
        raise BadInput(
            f'"{name}" is named as a photo and is a PDF. Name it .pdf and send it again.'
        )
    if ends_as_pdf and is_picture(data):
        raise BadInput(
            f'"{name}" is named as a PDF and is a photo. Name it as a photo (.jpg, .png) and send it '
            "again."
        )
    if ends_as_pdf and not is_pdf(data):
        raise BadInput(
            f'"{name}" is named as a PDF and does not begin as one. Save it anew as PDF and send that.'
        )


def check_weight(number_of_bytes: int) -> None:
    """Whether a PDF is not too heavy to be read at all."""
    if number_of_bytes > MOST_BYTES:
        raise BadInput(
            f"The PDF has {number_of_bytes / 1e6:,.1f} MB; at most {MOST_BYTES // 1_000_000} are taken. "
            "Send the pages that count, or a photo of them."
        )


def pages_of(data: bytes, where: str = "") -> int:
    """How many pages a PDF has that is whole, opens without a password, and is no book.

    Raises
    ------
    BadInput
        One sentence: empty, no PDF, too heavy, torn, locked, or of no page or too many.
    """
    try:
        return _pages_of(data)
    except BadInput as refusal:
        raise BadInput(refusal.sentence, where) from refusal


def _pages_of(data: bytes) -> int:
    if not data:
        raise BadInput("The file is empty. Pick the PDF or the photo again.")
    check_weight(len(data))
    if not is_pdf(data):
        raise BadInput("This file is no PDF: it does not begin as one. Send the PDF itself.")
    if not _list_is_in_its_place(data):
        raise BadInput(_TORN)
    from pypdf import PdfReader
    from pypdf.errors import DependencyError, PyPdfError

    try:
        reader = PdfReader(io.BytesIO(data))
        if reader.is_encrypted and not reader.decrypt(""):
            raise BadInput(_LOCKED)
        return _counted(reader)
    except (DependencyError, NotImplementedError) as problem:
        # Locked for holders of a certificate, or in a way of its own.
        raise BadInput(_LOCKED) from problem
    except (PyPdfError, *_UNREADABLE) as problem:
        raise BadInput(_TORN) from problem


def _list_is_in_its_place(data: bytes) -> bool:
    """Whether no byte before it is missing: the reader would mend that, and lose what stood there."""
    ends = _LIST_AT.findall(data[-_END:])
    if not ends:
        return False
    # Some count from the mark of a PDF, where something stands before it.
    places = (int(ends[-1]), int(ends[-1]) + max(0, data.find(b"%PDF")))
    return any(_LIST.match(data, place) for place in places)


def _counted(reader: PdfReader) -> int:
    """The pages, each of them with what stands on it unpacked."""
    said = len(reader.pages)
    if said > MOST_PAGES:
        raise BadInput(
            f"The PDF has {said:,} pages; at most {MOST_PAGES} are taken. Save the pages that count as a "
            "PDF of their own and send that."
        )
    if said < 1:
        raise BadInput("The PDF has no page. Send the one that shows the certificate.")
    found = 0
    for page in reader.pages:
        if page.get("/Type") != "/Page":
            raise BadInput(_TORN)
        contents = page.get_contents()
        if contents is not None:
            contents.get_data()
        found += 1
    if found != said:
        raise BadInput(_TORN)
    return found


# What the reader raises besides its own, on bytes that are not what the file's list of parts says.
_UNREADABLE = (
    OSError,
    ValueError,
    EOFError,
    RecursionError,
    IndexError,
    KeyError,
    TypeError,
    AttributeError,
    AssertionError,
    OverflowError,
    struct.error,
    zlib.error,
)
