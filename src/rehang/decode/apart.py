"""Each file in a process of its own: started for it, bounded, and ended with it."""

from __future__ import annotations

import base64
import json
import os
import subprocess
import sys
import threading
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from rehang.decode.answers import table_from
from rehang.decode.flights import FlightHead
from rehang.decode.pdfs import KeptPdf
from rehang.decode.pictures import Picture
from rehang.decode.tables import Table
from rehang.trade.terms.errors import BadInput

__all__ = [
    "check_kept",
    "look_at_flight",
    "made_fit",
    "read_codes",
    "read_flight",
    "read_pdf",
    "read_table",
]

# A photo of 40 megapixels takes some two seconds, a full table half of one; a machine that is busy
# takes some times as long on the clock, though not on the processor.
PROCESSOR_S = 8
CLOCK_S = 30
# Of address space. A photo of 40 megapixels is three copies of 120 MB while it is turned.
MOST_MEMORY = 900 * 1024 * 1024
# A million rows of a monitor are the largest file there is: text of some 150 MB and its numbers.
FLIGHT = (30, 120, 2_000 * 1024 * 1024)
# The largest workbook that is taken (decode/workbooks.py) takes some 2 s and 100 MB.
TABLE = (6, 20, 500 * 1024 * 1024)
# Read at the same time, and waiting for their turn. More are sent away, so that the threads that
# answer pages are never all waiting here.
AT_ONCE = 1
WAITING = 1

# Seconds of the processor and of the clock, and bytes of address space.
_Bounds = tuple[int, int, int]
_NOTHING: Mapping[str, Any] = MappingProxyType({})
_turns = threading.BoundedSemaphore(AT_ONCE)
_places = threading.BoundedSemaphore(AT_ONCE + WAITING)


def made_fit(data: bytes) -> Picture:
    """See :func:`rehang.decode.pictures.made_fit`; the photo is read apart."""
    made = _apart("made_fit", data)
    return Picture(base64.b64decode(made["data"]), made["sha256"], made["width"], made["height"])


def check_kept(data: bytes, where: str = "") -> None:
    """See :func:`rehang.decode.pictures.check_kept`; the photo is read apart."""
    _apart("check_kept", data, where)


def read_pdf(data: bytes, where: str = "") -> KeptPdf:
    """A PDF as it came; its pages are counted apart (:func:`rehang.decode.pdfs.pages_of`)."""
    return KeptPdf(data, int(_apart("pages_of", data, where)))


def read_table(name: str, data: bytes) -> Table:
    """See :func:`rehang.decode.tables.read_table`; the table is read apart."""
    return table_from(_apart("read_table", data, name, bounds=TABLE))


def read_codes(photo: bytes) -> list[str]:
    """See :func:`rehang.decode.codes.read_codes`; the photo is read apart."""
    return [str(text) for text in _apart("read_codes", photo)]


def look_at_flight(name: str, data: bytes) -> FlightHead:
    """See :func:`rehang.decode.flights.look`; the table is read apart."""
    said = _apart("look_at_flight", data, name)
    return FlightHead(
        separator=said["separator"],
        headings=tuple(said["headings"]),
        units=tuple(said["units"]),
        samples=tuple(tuple(row) for row in said["samples"]),
        head_lines=said["head_lines"],
        width=said["width"],
        clocks=tuple(said["clocks"]),
        commas=said["commas"],
    )


def read_flight(name: str, data: bytes, said: Mapping[str, Any]) -> dict[str, Any]:
    """See :func:`rehang.decode.flights.read_flight`; the table is read apart, with bounds of its own."""
    made: dict[str, Any] = _apart("read_flight", data, name, said, FLIGHT)
    return made


def _apart(
    what: str,
    data: bytes,
    where: str = "",
    said: Mapping[str, Any] = _NOTHING,
    bounds: _Bounds | None = None,
) -> Any:
    """What a reader answers for a file, or its sentence.

    Raises
    ------
    BadInput
        The reader's own sentence; or the file took too long or too much, or brought it down.
    """
    if not _places.acquire(blocking=False):
        raise BadInput("Other files are being read just now. Send this one again.", where)
    try:
        with _turns:
            return _answer(what, data, where, said, bounds or (PROCESSOR_S, CLOCK_S, MOST_MEMORY))
    finally:
        _places.release()


def _answer(what: str, data: bytes, where: str, said: Mapping[str, Any], bounds: _Bounds) -> Any:
    seconds, clock, most_memory = bounds
    too_much = _TOO_MUCH.format(seconds=seconds, megabytes=most_memory // 1024**2)
    asked = json.dumps(
        {
            "what": what, "where": where, "most_memory": most_memory, "seconds": seconds,
            "said": dict(said),
        }
    )  # fmt: skip
    try:
        done = subprocess.run(
            [sys.executable, "-m", "rehang.decode.child"],
            input=asked.encode() + b"\n" + data,
            capture_output=True,
            timeout=clock,
            # One thread: each of more would take address space of its own before it works.
            env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"},
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise BadInput(too_much, where) from None
    if done.returncode:
        raise BadInput(too_much, where)
    answer = json.loads(done.stdout)
    if "refused" in answer:
        raise BadInput(answer["refused"], answer["where"])
    return answer["answer"]


_TOO_MUCH = (
    "This file took more than {seconds} seconds or {megabytes} MB to read, or brought the reader "
    "down, and was let go. Save it anew, smaller, and send that."
)
