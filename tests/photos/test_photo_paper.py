"""Photos on the printed record: under a number, with what each belongs to and its scale."""

import io
import re

import pytest
from pypdf import PdfReader
from pypdf.generic import DictionaryObject, IndirectObject

from rehang.decode.pictures import made_fit
from rehang.paper import tray_record_pdf
from rehang.trade.job.judging import judge
from rehang.trade.known.photos import belongs_to, live_photos, scale_words
from rehang.trade.telling.record import tray_record
from rehang.trade.terms.entries import new_entry
from tests.book import shop
from tests.book.shop import entry, ohms
from tests.photos.shots import corners, is_near, shot
from tests.trade import cast

FIRST, SECOND = made_fit(shot(2000, 1500)), made_fit(shot(300, 900))
FILES = {one.name: one.data for one in (FIRST, SECOND)}
PRINTED = cast.START


def pictured(entry_id, of, **fields):
    return entry("pictured", entry_id, photo=of.name, sha256=of.sha256, **fields)


def judged(*entries):
    facts = cast.facts()
    return judge(facts, [shop.removed(), *entries])


@pytest.fixture(scope="module")
def two():
    return judged(
        entry("seen", "seen-1", item="plug:P1", place="1T", word="soot", severity=2, check="look"),
        pictured("photo-1", FIRST, item="plug:P1", entry="seen-1", scale_note="rule #1, *1 mm*"),
        pictured("photo-2", SECOND, item="plug:P1"),
    )


def reader(of, files=FILES, size="letter") -> PdfReader:
    return PdfReader(io.BytesIO(tray_record_pdf(of, size=size, printed_at=PRINTED, photos=files)))


def text_of(pdf: PdfReader) -> str:
    words = " ".join(page.extract_text() for page in pdf.pages).replace("\u00a0", " ")
    return re.sub(r"\s+", " ", words)


def alts(pdf: PdfReader) -> list[str]:
    found, waiting = [], [pdf.trailer["/Root"]["/StructTreeRoot"]]
    while waiting:
        node = waiting.pop(0)
        node = node.get_object() if isinstance(node, IndirectObject) else node
        if isinstance(node, list):
            waiting += node
        elif isinstance(node, DictionaryObject):
            found += [str(node["/Alt"])] if "/Alt" in node else []
            waiting += [node["/K"]] if "/K" in node else []
    return found


@pytest.mark.parametrize("size", ["letter", "a4"])
def test_photos_stand_on_a_page_of_their_own_behind_the_record(two, size):
    pdf = reader(two, size=size)
    plain = reader(judged(), size=size)
    assert len(pdf.pages) == len(plain.pages) + 1
    assert [len(page.images) for page in pdf.pages] == [0] * len(plain.pages) + [2]
    last = re.sub(r"\s+", " ", pdf.pages[-1].extract_text().replace("\u00a0", " "))
    # What a person wrote is printed as it stands.
    assert "1. Plug P1, 1T: " in last
    assert "severity 2 Scale: rule #1, *1 mm*." in last
    assert "2. Plug P1, 1T No scale in the picture." in last
    # 9:00 at five hours behind UTC is 8:00 in Chicago, where summer time has ended.
    assert f"Added by Ada, 2 Nov 2026, 08:00. Sum begins {FIRST.sha256[:12]}." in last
    assert "DRAFT, NOT SIGNED" in last


def test_a_photo_is_printed_in_its_colours_and_shape_with_words_for_who_cannot_see_it(two):
    pdf = reader(two)
    shown = [one.image for one in pdf.pages[-1].images]
    assert sorted(one.size for one in shown) == [(300, 900), (1100, 825)]
    assert all(is_near(corners(one), by=14) for one in shown)
    assert len(alts(pdf)) == 2
    assert alts(pdf)[1] == "Photo 2: Plug P1, 1T. No scale in the picture."


@pytest.mark.parametrize("files", [{}, {FIRST.name: SECOND.data, SECOND.name: SECOND.data}])
def test_a_photo_that_is_missing_or_changed_is_said_and_not_printed(two, files):
    pdf = reader(two, files)
    assert sum(len(page.images) for page in pdf.pages) == len(files) // 2
    said = "The photo is not here, or is not the one that was kept."
    assert text_of(pdf).count(said) == 2 - len(files) // 2


def test_a_struck_photo_is_not_printed():
    struck = entry("struck", "strike-1", entry="photo-1", reason="wrong plug")
    of = judged(pictured("photo-1", FIRST, item="plug:P1"), struck)
    pdf = reader(of)
    assert sum(len(page.images) for page in pdf.pages) == 0
    assert "Sum begins" not in text_of(pdf)


def test_twenty_photos_all_find_room():
    many = [pictured(f"photo-{n:02}", (FIRST, SECOND)[n % 2], item="plug:P1") for n in range(20)]
    pdf = reader(judged(*many))
    text = text_of(pdf)
    assert all(f" {n}. Plug P1, 1T " in text for n in range(1, 21))
    # The same file twice is stored once, so what is shown is counted and not what is stored.
    assert len(alts(pdf)) == 20


def test_a_record_without_photos_has_no_page_of_them():
    assert tray_record(judged(), zone=cast.ZONE, printed_at=PRINTED).photos == ()
    assert "Photos" not in text_of(reader(judged()))


def test_a_time_of_printing_may_have_parts_of_a_second():
    at = PRINTED.replace(microsecond=123_456)
    assert tray_record_pdf(judged(), size="letter", printed_at=at).startswith(b"%PDF")


# ---------------------------------------------------------------- the words


@pytest.mark.parametrize(
    ("target", "words"),
    [
        (None, "Plug P1, 1T"),
        (ohms("what-1", "4.9 kohm"), "Plug P1, 1T: resistance 4.90 kΩ"),
        # A needle's figure is what its range makes of it.
        (
            entry(
                "reading",
                "what-1",
                item="plug:P1",
                place="1T",
                check="resistance",
                written="12 ohm",
                meter="AN",
                range="x100",
            ),
            "Plug P1, 1T: resistance 1.20 kΩ",
        ),
        (
            entry("seen", "what-1", item="plug:P1", place="1T", word="soot", severity=2),
            "Plug P1, 1T: {soot}, severity 2",
        ),
        (entry("dropped", "what-1", item="plug:P1"), "Plug P1, 1T: dropped"),
        (
            entry("counted", "what-1", item="filter:main", pieces=1, magnetic=0),
            "Filter main: 1 piece, 0 magnetic",
        ),
    ],
)
def test_a_photo_says_what_it_belongs_to(target, words):
    item = target.item if target else "plug:P1"
    more = {"entry": "what-1"} if target else {}
    of = judged(*[target] if target else [], pictured("photo-1", FIRST, item=item, **more))
    (one,) = live_photos(of.state)
    label = of.facts.sheets["plug"].words["soot"].label
    wanted = words.replace("{soot}", label[0].lower() + label[1:])
    assert belongs_to(one, of.facts, of.state) == wanted


def test_a_photo_of_a_reading_that_was_struck_says_so():
    of = judged(
        ohms("what-1"),
        pictured("photo-1", FIRST, item="plug:P1", entry="what-1"),
        entry("struck", "strike-1", entry="what-1", reason="slip"),
    )
    (one,) = live_photos(of.state)
    assert belongs_to(one, of.facts, of.state) == "Plug P1, 1T: resistance 1.20 kΩ (struck since)"


def test_scale_words():
    def scale(**fields):
        made = new_entry("pictured", at=cast.START, by="ada", photo="x", sha256="y", **fields)
        return scale_words(made)

    assert scale() == "No scale in the picture."
    assert scale(scale_note="  ") == "No scale in the picture."
    assert scale(scale_note="0.5 mm squares.") == "Scale: 0.5 mm squares."
