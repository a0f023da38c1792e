"""A file from a stranger is read apart: what takes too long or too much is let go, in words."""

from __future__ import annotations

import io
import threading
import zipfile

import pytest
from PIL import Image

from rehang.decode import apart, flights, pictures, tables
from rehang.trade.terms.errors import BadInput
from tests.flights import MAPPED, Flight
from tests.photos.shots import shot

TOO_MUCH = "took more than"


def test_a_photo_and_a_table_are_read_as_they_are_in_this_process():
    taken = shot()
    assert apart.made_fit(taken) == pictures.made_fit(taken)
    csv = b"hole,gap\n1T,18\n1B,17\n"
    assert apart.read_table("t.csv", csv) == tables.read_table("t.csv", csv)


def test_a_flight_is_read_as_it_is_in_this_process():
    data = Flight(every=3).packed
    assert apart.read_flight("f.csv", data, MAPPED) == flights.read_flight("f.csv", data, MAPPED)
    assert apart.look_at_flight("f.csv", data) == flights.look("f.csv", data)


def test_a_refusal_keeps_its_sentence_and_its_place():
    with pytest.raises(BadInput, match=r"^photos/x.jpg: The file is empty. Pick the photo again.$"):
        apart.check_kept(b"", "photos/x.jpg")


def progressive_of_many_scans() -> bytes:
    """A small file whose pixels are gone through over and over: its last scan, thousands of times."""
    out = io.BytesIO()
    Image.new("L", (6000, 6000), 128).save(out, "JPEG", progressive=True, quality=50)
    data = out.getvalue()
    last = data[data.rindex(b"\xff\xda") : -2]
    return data[:-2] + last * 4000 + data[-2:]


def test_a_picture_that_takes_too_long_is_let_go(monkeypatch):
    monkeypatch.setattr(apart, "PROCESSOR_S", 1)
    # By the bound on the processor alone, which a busy machine does not move.
    monkeypatch.setattr(apart, "CLOCK_S", None)
    with pytest.raises(BadInput, match=TOO_MUCH):
        apart.made_fit(progressive_of_many_scans())


def swollen_workbook() -> bytes:
    """A workbook whose one sheet unpacks to a hundred times its size."""
    book = tables.write_xlsx(["a"], [["b"]], "t")
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(book)) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for one in old.infolist():
            text = old.read(one.filename)
            if one.filename.startswith("xl/worksheets/"):
                row = b'<row r="%d"><c t="inlineStr"><is><t>x</t></is></c></row>'
                text = text.replace(
                    b"</sheetData>", b"".join(row % n for n in range(2, 300_000)) + b"</sheetData>"
                )
            new.writestr(one.filename, text)
    return out.getvalue()


def test_a_workbook_that_takes_too_much_is_let_go_or_refused(monkeypatch):
    monkeypatch.setattr(apart, "PROCESSOR_S", 2)
    with pytest.raises(BadInput, match=f"{TOO_MUCH}|rows|unpack"):
        apart.read_table("wide.xlsx", swollen_workbook())


def test_a_reader_out_of_memory_is_let_go(monkeypatch):
    monkeypatch.setattr(apart, "MOST_MEMORY", 120 * 1024 * 1024)
    with pytest.raises(BadInput, match=TOO_MUCH):
        apart.made_fit(shot(6000, 6000))


@pytest.mark.parametrize("mode", ["RGB", "RGBA"])
def test_the_largest_photo_that_is_taken_fits_in_500_mb(monkeypatch, mode):
    """Of address space, of which the programs that are loaded take some 100 MB before a photo."""
    monkeypatch.setattr(apart, "MOST_MEMORY", 600 * 1024 * 1024)
    out = io.BytesIO()
    Image.new(mode, (7000, 5600), "red").save(out, "PNG", compress_level=1)
    made = apart.made_fit(out.getvalue())
    assert (made.width, made.height) == (1600, 1280)


def test_more_files_at_once_than_there_are_places_are_sent_away(monkeypatch):
    """Whoever waits here holds a thread that answers pages."""
    inside, done = threading.Semaphore(0), threading.Event()

    def slow(*_: object) -> list[str]:
        inside.release()
        done.wait(300)
        return []

    monkeypatch.setattr(apart, "_answer", slow)
    threads = [threading.Thread(target=apart.read_codes, args=(b"x",)) for _ in range(2)]
    for one in threads:
        one.start()
    inside.acquire()
    while apart._places.acquire(blocking=False):
        # The second of them has not taken its place yet.
        apart._places.release()
    try:
        with pytest.raises(BadInput, match="Other files are being read just now"):
            apart.read_codes(b"x")
    finally:
        done.set()
        for one in threads:
            one.join()
