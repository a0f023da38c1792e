"""What can be read from a PDF's own structure of PDF/UA-1 and PDF/A-2b, a sentence for each fault.

It is no validator and gives no certificate: of the rules it takes those that a change of a template
can break. ISO 14289-1:2014 (PDF/UA-1) and ISO 19005-2:2011 (PDF/A-2), clauses from memory.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any

from pypdf import PdfReader
from pypdf.generic import ContentStream, DictionaryObject, IndirectObject

TEXT = (b"Tj", b"TJ", b"'", b'"')
PAINT = (*TEXT, b"f", b"F", b"f*", b"B", b"B*", b"b", b"b*", b"S", b"s", b"sh", b"Do")


def faults_for_readers(made: bytes) -> list[str]:
    """Faults against PDF/UA-1: who cannot see the page hears all of it, in order, by name."""
    pdf = PdfReader(io.BytesIO(made))
    root: Any = pdf.trailer["/Root"]
    found = []
    xml = _xmp(pdf)
    if "<pdfuaid:part>1</pdfuaid:part>" not in xml:
        found.append("5: it does not say that it is PDF/UA-1.")
    if "dc:title" not in xml:
        found.append("7.1: it has no title in its metadata.")
    if not root.get("/ViewerPreferences", {}).get("/DisplayDocTitle"):
        found.append("7.1: a reader shows its file's name and not its title.")
    if not root.get("/MarkInfo", {}).get("/Marked") or "/StructTreeRoot" not in root:
        return [*found, "7.1: it is not tagged."]
    if not root.get("/Lang"):
        found.append("7.2: it is in no language.")
    for number, page in enumerate(pdf.pages, start=1):
        found += [f"7.1: page {number}, {fault}" for fault in _unmarked(page, pdf)]
    return found + _of_tags(list(_elements(root["/StructTreeRoot"]["/K"])))


def faults_for_keeping(made: bytes) -> list[str]:
    """Faults against PDF/A-2b: it needs nothing from outside, now or in many years."""
    pdf = PdfReader(io.BytesIO(made))
    root: Any = pdf.trailer["/Root"]
    xml = _xmp(pdf)
    found = []
    if "<pdfaid:part>2</pdfaid:part>" not in xml or "<pdfaid:conformance>B</" not in xml:
        found.append("6.6.4: it does not say that it is PDF/A-2b.")
    if pdf.is_encrypted:
        found.append("6.1.3: it is encrypted.")
    if "/ID" not in pdf.trailer:
        found.append("6.1.3: its trailer has no ID.")
    if "/OutputIntents" not in root:
        found.append("6.2.3: it does not say what its colours are.")
    for name in ("/OpenAction", "/AA", "/AcroForm", "/Names"):
        if "/JavaScript" in str(root.get(name, "")) or (name == "/AA" and name in root):
            found.append(f"6.5: {name} does something when it is opened.")
    for page in pdf.pages:
        for name, font in page.get("/Resources", {}).get("/Font", {}).items():
            held = font.get_object()
            inner = held["/DescendantFonts"][0].get_object() if "/DescendantFonts" in held else held
            if not {"/FontFile", "/FontFile2", "/FontFile3"} & set(inner["/FontDescriptor"]):
                found.append(f"6.2.11.4: the font {name} is not in it.")
    return found


def _xmp(pdf: PdfReader) -> str:
    meta = pdf.xmp_metadata
    return meta.stream.get_data().decode() if meta is not None else ""


def _unmarked(page: Any, pdf: PdfReader) -> Iterator[str]:
    """What is drawn outside any tag and is not marked as decoration."""
    depth = 0
    for operands, operator in ContentStream(page["/Contents"], pdf).operations:
        if operator in (b"BMC", b"BDC"):
            depth += 1
        elif operator == b"EMC":
            depth -= 1
        elif operator in PAINT and depth == 0:
            yield f"{operator.decode()} {operands} is neither tagged nor an artifact."


def _elements(node: Any) -> Iterator[DictionaryObject]:
    node = node.get_object() if isinstance(node, IndirectObject) else node
    if isinstance(node, list):
        for one in node:
            yield from _elements(one)
    elif isinstance(node, DictionaryObject):
        if "/S" in node:
            yield node
        if "/K" in node:
            yield from _elements(node["/K"])


def _attribute(element: DictionaryObject, name: str) -> Any:
    held: Any = element.get("/A", [])
    held = held.get_object() if isinstance(held, IndirectObject) else held
    for one in held if isinstance(held, list) else [held]:
        if name in one.get_object():
            return one.get_object()[name]
    return None


def _of_tags(elements: list[DictionaryObject]) -> list[str]:
    found = []
    level = 0
    for one in elements:
        tag = str(one["/S"])
        if tag == "/Figure" and not str(one.get("/Alt", "")).strip():
            found.append("7.3: a picture says nothing to who cannot see it.")
        if tag == "/TH" and _attribute(one, "/Scope") is None:
            found.append("7.5: the head of a table does not say what it heads.")
        if tag == "/Table":
            found += _of_table(one)
        if tag[:2] == "/H" and tag[2:].isdigit():
            if int(tag[2:]) > level + 1:
                found.append(f"7.4.2: a heading {tag} stands below one of level {level}.")
            level = int(tag[2:])
    return found


def _of_table(table: DictionaryObject) -> list[str]:
    """Every row of a table has as many cells as the others, spans counted."""
    widths = set()
    below: dict[int, int] = {}
    rows = [one for one in _elements(table["/K"]) if one["/S"] == "/TR"]
    for number, row in enumerate(rows):
        width = below.get(number, 0)
        for cell in _elements(row["/K"]):
            if cell["/S"] in ("/TH", "/TD"):
                span = int(_attribute(cell, "/ColSpan") or 1)
                width += span
                for later in range(1, int(_attribute(cell, "/RowSpan") or 1)):
                    below[number + later] = below.get(number + later, 0) + span
        widths.add(width)
    return [f"7.5: rows of one table have {sorted(widths)} cells."] if len(widths) > 1 else []
