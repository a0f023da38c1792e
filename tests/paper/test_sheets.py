"""The printed sheets, read back: text, tags, sizes, ink."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pypdfium2
import pytest
from PIL import Image, ImageChops
from pypdf import PdfReader
from pypdf.generic import DictionaryObject, IndirectObject

from rehang.paper import blank_sheet_pdf, tray_record_pdf
from rehang.paper.glyphs import printable
from rehang.paper.prints import prints_of
from rehang.sheets import demo_path, layouts
from rehang.sheets.folder import read_folder
from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.telling.record import tray_record
from rehang.trade.telling.sheet_parts import GENERAL, SIGNS
from rehang.trade.terms.entries import new_entry
from rehang.trade.terms.errors import BadInput
from tests.trade.cast import ENGINE, LIMITS, METERS, START, ZONE, Bench, facts

PRINTED = datetime(2026, 10, 21, 20, 5, tzinfo=UTC)
# Points: 8.5 by 11 inches; ISO 216 A4, 210 by 297 mm.
PAGES = {"letter": (612.0, 792.0), "a4": (595.3, 841.9)}
SIZES = list(PAGES)


@pytest.fixture(scope="module")
def demo() -> JudgedJob:
    folder = read_folder(demo_path())
    return judge(folder.facts, folder.entries)


@pytest.fixture(scope="module", params=SIZES)
def record(request, demo) -> PdfReader:
    return _reader(tray_record_pdf(demo, size=request.param, printed_at=PRINTED))


@pytest.fixture(scope="module", params=SIZES)
def blank(request, demo) -> PdfReader:
    made = blank_sheet_pdf(demo.facts, demo.state, size=request.param, printed_at=PRINTED)
    return _reader(made)


def _reader(made: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(made))


def _text(reader: PdfReader) -> str:
    """All text, line ends and hard spaces as plain spaces."""
    pages = " ".join(page.extract_text() for page in reader.pages)
    return re.sub(r"\s+", " ", pages.replace("\u00a0", " "))


def _tray(judged: JudgedJob, **changed: str) -> str:
    return _text(_reader(tray_record_pdf(judged, size="letter", printed_at=PRINTED, **changed)))


# ---------------------------------------------------------------- what the record says


def test_record_has_every_reading_with_its_status_word(record):
    """Readings of the demo, keyed by hand; units stand in the headings."""
    text = _text(record)
    for heading in ("Gap, in", "Ohms", "Electrode left, %", "Spark at 100 psi", "Look, 10×"):
        assert heading in text
    for row in (
        r"1T K0411 0.018 within 1,180 within 72 within steady within",
        r"1B K0412 0.017 within OL c out 70 within steady within Light lead within REJECT",
        r"2T K0413 0.018 within 4,800 m close call 68 within steady within",
        r"2B K0414 0.017 within 1,290 within 69 within steady within Cracked, nothing missing out REJECT",
        r"3T K0415 0.023 out 1,640 within 61 within intermittent out Dry, pale within REWORK",
        r"3B K0522 0.017 void 1,050 void 85 void steady void",
        r"4T K0417 0.018 c within 1,410 c within 66 within steady c within",
        r"4B K0418 not read not read not read not read Lead bridge not read NOT YET",
    ):
        assert row in text


def test_record_gives_reason_or_next_hole(record):
    text = _text(record)
    assert "Goes to 3B, with a new or annealed gasket." in text
    assert "the high voltage of the bench jumps an open resistor" in text
    assert "That is 2,660 to 19,800 Ω, inside the limit 53 times in 100." in text
    assert "Gap 0.023 in on WG-1; 0.016 to 0.019 in is asked for." in text
    assert "Dropped on 14 Oct 2026" in text
    assert "Cylinder 4: NOT YET. Plug K0417 came out of 4T oil-wet" in text


def test_record_names_engine_hours_airframe_and_times(record):
    text = _text(record)
    for words in (
        "Plug tray record",
        "Shed 4, Stennet Field",
        "Tolvane TV4-150, s/n TV4-2207",
        "3,184.6 h, overhaul 1,142.3 h ago",
        "Pellworth P-12, X-MRW7",
        "s/n 0219, 4,071.8 h",
        "2026-10-15 (15 Oct 2026)",
        "21 Oct 2026, 15:05 −05:00",
        "Invented job",
    ):
        assert words in text


def test_record_names_limits_meters_rule_and_what_was_read_again(record):
    text = _text(record)
    for words in (
        "TV4 manual (invented), rev 6, page 7-4, entered by Marta Oduya, 5 Oct 2026",
        "gap 0.016 to 0.019 in; resistance 5,000 Ω or less; electrode left 50 % or more",
        "WITHIN at 95 in 100 or more, OUT at 5 or less",
        "DM-2, Digital ohmmeter, ±0.8 % of reading + 2 counts of 10 Ω, due Jan 2027.",
        "no calibration on record",
        "Not proved for 2T K0413 resistance 4,800 Ω",
        "4T K0417 spark intermittent, 14 Oct 2026, 09:01, Marta Oduya, BT-1. Void:",
        "REJECT without a replacement: K0412 (1B), K0414 (2B), K0522 (3B).",
    ):
        assert words in text


def test_record_is_a_draft_with_ruled_blanks_and_says_what_a_signature_covers(record):
    text = _text(record)
    # Signed on the page that holds the tray.
    first = re.sub(r"\s+", " ", record.pages[0].extract_text())
    for label in (
        "Work done, or reference",
        "Done by",
        "Signature",
        "Certificate no.",
        "Kind",
        "Date",
        "Second look",
    ):
        assert label in first
    assert SIGNS in first
    assert GENERAL in text
    for page in record.pages:
        assert "DRAFT, NOT SIGNED" in page.extract_text()


def test_each_page_has_the_sheet_id_and_its_number(record):
    found = [
        re.search(r"Sheet (\d+(?: [0-9a-f]{4}){4}) · Page (\d+) of (\d+)", page.extract_text())
        for page in record.pages
    ]
    assert all(found)
    assert len({one[1] for one in found if one}) == 1
    assert [one[2] for one in found if one] == [str(n + 1) for n in range(len(record.pages))]
    assert {one[3] for one in found if one} == {str(len(record.pages))}


def test_the_foot_of_every_print_names_the_last_entry_of_the_book():
    """What ``verify --against`` is given: the number, and 16 digits of the hash."""
    folder = read_folder(demo_path("finished"))
    last = folder.entries[-1]
    foot = f"Sheet {last.seq} {' '.join(last.hash[n : n + 4] for n in (0, 4, 8, 12))}"
    judged = judge(folder.facts, folder.entries)
    made = prints_of(judged, PRINTED, {})
    made["blank.pdf"] = blank_sheet_pdf(
        folder.facts, judged.state, size="letter", printed_at=PRINTED
    )
    assert len(made) >= 3
    for name, data in made.items():
        for page in PdfReader(io.BytesIO(data)).pages:
            assert foot in page.extract_text(), name


def test_a_book_with_no_seal_at_its_end_has_an_id_of_its_own(demo):
    folder = read_folder(demo_path())
    loose = new_entry("note", at=PRINTED, by="marta", text="not sealed")
    judged = judge(folder.facts, (*folder.entries, loose))
    found = tray_record(judged, zone=ZONE, printed_at=PRINTED).sheet_id
    assert re.fullmatch(r"[0-9A-Z]{4}-\d+", found)


def test_no_decimal_point_stands_without_a_digit_before_it(record, blank):
    for reader in (record, blank):
        assert not re.search(r"(?<!\d)\.\d", _text(reader))


def test_eight_plugs_are_one_page_with_their_reasons_limits_meters_and_signature(record):
    first, *behind = (re.sub(r"\s+", " ", page.extract_text()) for page in record.pages)
    for words in (
        "K0411 0.018 within 1,180 within 72 within steady within Normal: tan or grey, dry within KEEP "
        "Goes to 3B, with a new or annealed gasket.",
        "REJECT Resistance OL; Spark cannot see it.",
        "REJECT Dropped on 14 Oct 2026.",
        "NOT YET Pick the bridge out, clean, then take every check; see that none stayed in the cylinder.",
        "rev 6, page 7-4",
        "WITHIN at 95 in 100 or more",
        "BT-1, Bench spark tester, due May 2027",
        "Second look",
    ):
        assert words in first.replace("\u00a0", " "), words
    assert len(behind) == 1
    assert "Signature" not in behind[0]
    # What the column says in few words stands there whole.
    assert "1B K0412: Resistance OL on DM-2, which reads to" in behind[0].replace("\u00a0", " ")


@pytest.mark.parametrize("size", SIZES)
def test_no_signature_stands_without_what_it_was_judged_by(radial, size):
    made = tray_record_pdf(radial, size=size, printed_at=PRINTED)
    pages = [page.extract_text() for page in _reader(made).pages]
    [signed] = [page for page in pages if "Signature" in page]
    assert "Limits" in signed
    assert "Meters" in signed


# ---------------------------------------------------------------- marks


def test_kept_as_keyed_and_two_figures_are_marked():
    bench = Bench().good(but=("resistance", "gap"))
    bench.read("resistance", "12.4 kohm", "DM", range="20k", kept_as_keyed=True)
    bench.read("gap", "17+18", "WG")
    text = _tray(bench.judged())
    assert "12,400 k out" in text
    assert "k = kept as keyed" in text
    assert "0.018 w within" in text
    assert "w = the wider of two" in text


def test_struck_reading_is_listed_with_who_and_why():
    bench = Bench()
    wrong = bench.read("gap", "31 thou", "WG")
    bench.write("struck", entry=wrong.id, reason="read on the wrong plug", by="ben")
    bench.good()
    text = _tray(bench.judged())
    assert "0.017 c within" in text
    assert (
        "Struck: reading P1 gap 31 thou (Ada, 2 Nov 2026, 08:01), "
        "by Ben, 2 Nov 2026, 08:02: read on the wrong plug."
    ) in text


def test_call_by_a_person_is_named():
    bench = Bench().good(but=("resistance",))
    close = bench.read("resistance", "480", "AN", range="x10")
    bench.write(
        "called", entry=close.id, call="WITHIN", reason="Read on a borrowed meter", by="ben"
    )
    text = _tray(bench.judged())
    assert "called by a person" in text
    assert (
        "1T P1 resistance 4,800 Ω: called WITHIN by Ben, 2 Nov 2026, 08:06: "
        "Read on a borrowed meter."
    ) in text


def test_verdict_decided_against_the_proposal_is_named():
    bench = Bench().good()
    bench.write("disagreed", verdict="REJECT", reason="It rattles", by="ben")
    text = _tray(bench.judged())
    assert "1T P1: REJECT decided by Ben, 2 Nov 2026, 08:06, against the proposed KEEP" in text


def test_what_became_of_a_reject_is_printed():
    bench = Bench()
    bench.look("crack")
    bench.write("disposed", how="mutilated", note="in the scrap bin")
    bench.write("replaced", item="plug:P9", place="1T", **{"for": "P1"})
    text = _tray(bench.judged())
    assert "What became of it: mutilated (in the scrap bin). Replaced by P9." in text
    assert re.search(r"in for P1 P9 .*NOT YET", text)


def test_meter_past_its_date_is_marked_at_each_reading():
    late = METERS.replace('due = "2027-03"', 'due = "2026-10"', 1)
    text = _tray(Bench().good().judged(facts(meters=late)))
    assert "0.017 m within" in text
    assert "due Oct 2026. Not proved for 1T P1 gap 0.017 in" in text


def test_reading_without_a_limit_is_printed_as_not_judged():
    no_gap = "".join(
        f"[[limit]]{one}" for one in LIMITS.split("[[limit]]") if one and '"gap"' not in one
    )
    text = _tray(Bench().good().judged(facts(limits=no_gap)))
    assert "0.017 not judged" in text
    assert "No limit on file, so not judged: gap." in text


def test_different_pressures_stand_beside_their_gradings():
    bench = Bench().good()
    bench.write("removed", item="plug:P2", place="1B")
    bench.item = "plug:P2"
    bench.read("spark", "steady", "BT", at_psi=120)
    text = _tray(bench.judged())
    assert "steady at 100 psi within" in text
    assert "steady at 120 psi within" in text


def test_missing_facts_of_the_engine_are_ruled_blanks():
    bare = tray_record(Bench().good().judged(), zone=ZONE, printed_at=PRINTED)
    parts = {fact.label: [part.text for part in fact.parts] for fact in bare.facts}
    assert parts["Engine"] == ["", ""]
    assert parts["Airframe"] == ["", ""]
    assert "s/n" in _tray(Bench().good().judged())


# ---------------------------------------------------------------- what people wrote


def test_typesetting_marks_in_a_note_are_printed_as_they_stand():
    note = "#panic[x] *bold* $x^2$ @ref <a> \\ `raw` // = head"
    bench = Bench()
    bench.look("crack", note=note)
    assert note in _tray(bench.judged())


def test_character_without_a_shape_in_the_font_is_printed_as_its_number():
    bench = Bench()
    bench.look("crack", note="by the ☃ shelf")
    assert "by the [U+2603] shelf" in _tray(bench.judged())


@pytest.mark.parametrize("char", ["Ω", "×", "−", "±", "°", "·", "é", "ß", "Ж"])
def test_font_has_the_characters_of_the_trade_and_its_neighbours(char):
    assert printable(char) == char


def test_long_word_does_not_stop_the_print():
    bench = Bench()
    bench.look("crack", note="x" * 400)
    # Ink does not tell whether a word was cut; the text has every letter.
    assert _tray(bench.judged()).count("x") >= 400


# ---------------------------------------------------------------- file and page


@pytest.mark.parametrize("size", SIZES)
def test_pages_have_their_size(demo, size):
    width, height = PAGES[size]
    for made in (
        tray_record_pdf(demo, size=size, printed_at=PRINTED),
        blank_sheet_pdf(demo.facts, demo.state, size=size, printed_at=PRINTED),
    ):
        for page in _reader(made).pages:
            assert float(page.mediabox.width) == pytest.approx(width, abs=0.1)
            assert float(page.mediabox.height) == pytest.approx(height, abs=0.1)


def _tags(node: object) -> Iterator[str]:
    if isinstance(node, IndirectObject):
        node = node.get_object()
    if isinstance(node, list):
        for one in node:
            yield from _tags(one)
    elif isinstance(node, DictionaryObject):
        if "/S" in node and "/P" in node:
            yield str(node["/S"])
        if "/K" in node:
            yield from _tags(node["/K"])


def test_pdf_is_tagged_titled_and_in_a_language(record, blank):
    for reader, title in ((record, "Plug tray record"), (blank, "Blank tray sheet")):
        root = reader.trailer["/Root"]
        assert root["/MarkInfo"]["/Marked"]
        assert str(root["/Lang"]).startswith("en")
        assert root["/ViewerPreferences"]["/DisplayDocTitle"]
        assert reader.metadata is not None
        assert str(reader.metadata.title).startswith(title)
        assert "pdfuaid" in reader.xmp_metadata.stream.get_data().decode()
        tags = list(_tags(root["/StructTreeRoot"]["/K"]))
        assert {"/H1", "/Table", "/TH", "/TR", "/TD"} <= set(tags)


def _sizes(reader: PdfReader) -> dict[float, str]:
    """What is set in each size of type."""
    found: dict[float, str] = {}
    for page in reader.pages:

        def note(text, user, matrix, font, size, found=found):
            if text.strip():
                size = round(abs(size * matrix[3] * user[3]), 2)
                found[size] = found.get(size, "") + text

        page.extract_text(visitor_text=note)
    return found


def test_readings_are_twelve_points_or_more_and_nothing_is_under_nine_and_a_half(record, blank):
    assert min(_sizes(blank)) >= 12
    sizes = _sizes(record)
    assert min(sizes) == 9.5
    large = " ".join(said for size, said in sizes.items() if size >= 12)
    for value in ("1T", "K0411", "0.018", "1,180", "72", "steady", "KEEP", "REJECT", "Signature"):
        assert value in large, value


def test_nothing_stands_within_half_an_inch_of_the_edge(record, blank):
    for reader in (record, blank):
        for image in _images(reader, scale=2):
            white = Image.new("L", image.size, 255)
            box = _ink_box(image, white)
            # 36 points at two pixels a point, less a pixel of the drawing's own edge.
            assert box[0] >= 71
            assert box[1] >= 71
            assert image.width - box[2] >= 71
            assert image.height - box[3] >= 71


def _ink_box(image: Image.Image, white: Image.Image) -> tuple[int, int, int, int]:
    box = ImageChops.difference(image, white).point(lambda v: 255 if v > 64 else 0).getbbox()
    assert box is not None
    return box


def _images(reader: PdfReader, scale: float, mode: str = "L") -> list[Image.Image]:
    stream = reader.stream
    stream.seek(0)
    document = pypdfium2.PdfDocument(stream.read())
    return [page.render(scale=scale).to_pil().convert(mode) for page in document]


def test_sheets_are_black_only(record, blank):
    for reader in (record, blank):
        for image in _images(reader, scale=1, mode="RGB"):
            assert all(red == green == blue for _, (red, green, blue) in image.getcolors(1 << 20))


def test_ink_of_the_marks_rises_with_trouble_in_one_bit(record):
    """Not read is empty, within outlined, a close call half full, out solid."""
    stream = record.stream
    stream.seek(0)
    page = pypdfium2.PdfDocument(stream.read())[0]
    scale = 300 / 72
    image = page.render(scale=scale).to_pil().convert("L").point(lambda v: 255 if v > 127 else 0)
    text = page.get_textpage()
    share = {}
    # The key names each shape once, left of its word, before the table.
    for word in ("within", "close call", "out", "not read", "void"):
        found = text.search(word, match_case=True, match_whole_word=True).get_next()
        assert found is not None
        left, _, _, _ = text.get_charbox(found[0])
        _, bottom, _, top = text.get_charbox(found[0] + len(word) - 1)
        middle = page.get_height() - (bottom + top) / 2
        # The shape is 11 points wide and ends 2.5 points left of its word.
        box = [left - 14, middle - 6.5, left - 2.2, middle + 6.5]
        cut = image.crop(tuple(round(edge * scale) for edge in box))
        dark = cut.histogram()[0]
        share[word] = dark / (cut.width * cut.height)
    assert share["not read"] > 0.05
    assert share["not read"] < share["within"] < share["close call"] < share["out"]
    assert share["void"] > share["not read"]


def test_same_book_gives_the_same_file(demo):
    one, two = (tray_record_pdf(demo, size="a4", printed_at=PRINTED) for _ in range(2))
    assert one == two


def test_another_entry_gives_another_sheet_id(demo):
    folder = read_folder(demo_path())
    more = new_entry("note", at=PRINTED, by="marta", text="One more")
    other = judge(folder.facts, (*folder.entries, more))
    ids = [tray_record(judged, zone=ZONE, printed_at=PRINTED).sheet_id for judged in (demo, other)]
    assert ids[0] != ids[1]


def test_later_print_of_the_same_book_keeps_the_sheet_id(demo):
    later = PRINTED + timedelta(days=3)
    ids = {tray_record(demo, zone=ZONE, printed_at=at).sheet_id for at in (PRINTED, later)}
    assert len(ids) == 1


def test_other_paper_is_refused(demo):
    sentence = 'There is no paper size "a5" here. Use letter or a4.'
    with pytest.raises(BadInput, match=re.escape(sentence)):
        tray_record_pdf(demo, size="a5", printed_at=PRINTED)


def test_time_of_printing_without_an_offset_is_refused(demo):
    with pytest.raises(BadInput, match="Give a time with its offset"):
        tray_record_pdf(demo, size="a4", printed_at=datetime(2026, 10, 21, 15, 5))  # noqa: DTZ001


# ---------------------------------------------------------------- other engines


def _radial() -> JudgedJob:
    bench = Bench()
    bench.entries.clear()
    for number, hole in enumerate(layouts()["radial-9"].walk):
        bench.item = f"plug:R{number:02}"
        bench.write("removed", place=hole)
        bench.good()
    radial = ENGINE.replace("opposed-4", "radial-9")
    return bench.judged(facts(engine=radial))


@pytest.fixture(scope="module")
def radial() -> JudgedJob:
    return _radial()


@pytest.mark.parametrize("size", SIZES)
def test_eighteen_holes_run_over_pages_with_the_heads_repeated(radial, size):
    reader = _reader(tray_record_pdf(radial, size=size, printed_at=PRINTED))
    pages = [re.sub(r"\s+", " ", page.extract_text()) for page in reader.pages]
    with_rows = [page for page in pages if re.search(r"\bR\d\d\b.*within", page)]
    assert len(with_rows) >= 2
    for page in with_rows:
        assert "Gap, in" in page
        assert "Verdict" in page
    for number in range(18):
        holding = [page for page in pages if f"R{number:02} 0.017" in page]
        assert len(holding) == 1
        # The why of a row is on the page of its readings.
        assert re.search(rf"R{number:02} 0\.017 .*?KEEP Goes to \d[FR]", holding[0])


@pytest.mark.parametrize("size", SIZES)
def test_eighteen_holes_of_a_blank_sheet_repeat_the_heads(radial, size):
    made = blank_sheet_pdf(radial.facts, radial.state, size=size, printed_at=PRINTED)
    pages = [page.extract_text() for page in _reader(made).pages]
    assert len(pages) >= 2
    assert all("Gap, in" in page for page in pages if re.search(r"\n[1-9][FR]\b", page))
    walk = layouts()["radial-9"].walk
    rows = re.findall(r"\bR\d\d\b", " ".join(pages))
    # Once in the picture of the tray and once in the table, the table in walk order.
    assert rows[-len(walk) :] == [f"R{number:02}" for number in range(len(walk))]


# ---------------------------------------------------------------- the blank sheet


def test_blank_sheet_has_holes_in_walk_order_and_letters_of_the_line(blank, demo):
    text = _text(blank)
    walk = demo.facts.layout.walk
    table = text[text.index("Notes") :]
    places = [table.index(hole) for hole in walk]
    assert places == sorted(places)
    for check in demo.facts.sheets["plug"].checks:
        assert re.search(rf"\b{check.letter} ", text)
    assert "s i n" in text
    assert "0.016 to 0.019 in" in text
    assert "TV4 manual (invented), rev 6, page 7-4, entered by Marta Oduya, 5 Oct 2026" in text
    assert "Taken by" in text
    assert len(blank.pages) == 1


def test_blank_sheet_of_an_empty_book_has_blanks_for_serials():
    empty = facts()
    judged = judge(empty, ())
    made = blank_sheet_pdf(empty, judged.state, size="letter", printed_at=START)
    text = _text(_reader(made))
    assert all(hole in text for hole in empty.layout.walk)


def test_record_of_an_empty_book_prints():
    empty = judge(facts(), ())
    text = _tray(empty)
    assert "1T not read" in text
    assert "No plug of this tray has been written down." in text
    assert "No limit on file" not in text
    assert "Made from a book with no entries." in text
