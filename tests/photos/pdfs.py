"""PDFs made here for the tests: invented certificates of blank pages, and what may be wrong with one."""

import io

from pypdf import PdfWriter
from pypdf.generic import DecodedStreamObject, DictionaryObject, NameObject, TextStringObject

from rehang.decode.pdfs import MOST_BYTES, MOST_PAGES
from tests.photos.shots import shot


def certificate(pages: int = 2, *, script: str = "", ballast: int = 0, **locked: str) -> bytes:
    """A PDF of so many pages; ``ballast`` bytes more lie on the first. ``locked``: its passwords."""
    made = PdfWriter()
    for _ in range(pages):
        made.add_blank_page(595, 842)
    if ballast:
        stream = DecodedStreamObject()
        stream.set_data(b"% " + b"x" * ballast)
        made.pages[0][NameObject("/Contents")] = made._add_object(stream)
    if script:
        made.root_object[NameObject("/OpenAction")] = DictionaryObject(
            {
                NameObject("/S"): NameObject("/JavaScript"),
                NameObject("/JS"): TextStringObject(script),
            }
        )
    if locked:
        made.encrypt(**locked, algorithm="AES-256")
    out = io.BytesIO()
    made.write(out)
    return out.getvalue()


GOOD = certificate()
TORN = "The PDF is torn: part of it is missing or spoilt. Send it again."
LOCKED = "The PDF is locked by a password. Save it without one and send that."

# What is wrong, the file's name, its bytes, and the sentence: of a meter or a limit.
WRONG = [
    ("locked", "certificate.pdf", certificate(user_password="secret"), LOCKED),
    ("half of it", "certificate.pdf", GOOD[: len(GOOD) // 2], TORN),
    ("its end gone", "certificate.pdf", GOOD[:-20], TORN),
    ("its middle gone", "certificate.pdf", GOOD[:200] + GOOD[400:], TORN),
    ("only its ends", "certificate.pdf", b"%PDF-1.7\nstartxref\n0\n%%EOF\n", TORN),
    (
        "empty",
        "certificate.pdf",
        b"",
        "The file is empty. Pick the PDF or the photo again.",
    ),
    (
        "too heavy",
        "certificate.pdf",
        certificate(ballast=MOST_BYTES),
        "The PDF has 10.0 MB; at most 10 are taken. Send the pages that count, or a photo of them.",
    ),
    (
        "too long",
        "manual.pdf",
        certificate(MOST_PAGES + 1),
        "The PDF has 51 pages; at most 50 are taken. Save the pages that count as a PDF of their own and "
        "send that.",
    ),
    (
        "no page",
        "certificate.pdf",
        certificate(0),
        "The PDF has no page. Send the one that shows the certificate.",
    ),
    (
        "a PDF named as a photo",
        "IMG_0042.JPG",
        GOOD,
        '"IMG_0042.JPG" is named as a photo and is a PDF. Name it .pdf and send it again.',
    ),
    (
        "a photo named as a PDF",
        "certificate.pdf",
        shot(),
        '"certificate.pdf" is named as a PDF and is a photo. Name it as a photo (.jpg, .png) and send it '
        "again.",
    ),
    (
        "a text named as a PDF",
        "certificate.PDF",
        b"Calibrated, and good.\n",
        '"certificate.PDF" is named as a PDF and does not begin as one. Save it anew as PDF and send that.',
    ),
]
