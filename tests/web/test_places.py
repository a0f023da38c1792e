"""Parts put in and taken out by taps, by scan and by the line; the record and the count follow."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from html import unescape

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import JobFolder, read_folder
from rehang.trade.telling.entry_text import draft_of
from rehang.trade.terms.entries import Entry

SLUG = "tv4-2207-finished"
J = f"/jobs/{SLUG}/"
# Before the first plug went in: pre-oiled, the dehydrator plugs counted in.
BEFORE = "2026-11-10T10:29:00-06:00"
LOADED = datetime(2026, 11, 10, 16, 29, tzinfo=UTC)
GOES = {
    "1T": "L0418", "1B": "L0417", "2T": "N0703", "2B": "L0415",
    "3T": "N0701", "3B": "L0411", "4T": "N0702", "4B": "N0704",
}  # fmt: skip


def folder(until: str = BEFORE) -> JobFolder:
    whole = read_folder(demo_path("finished"))
    last = datetime.fromisoformat(until)
    return JobFolder(
        name=whole.name,
        files=whole.files,
        entries=tuple(e for e in whole.entries if e.at <= last),
        facts=whole.facts,
        where={},
        notices=(),
    )


@pytest.fixture
def marta(db, client):
    """The client with the finished demo as it stood before the plugs went in."""
    from rehang.book import queries, services

    queries.forget()
    services.load_folder(folder=folder(), by="marta", at=LOADED)
    assert client.post("/sign-in/", {"person": "marta"}).status_code == 303
    return client


def judged():
    from rehang.book import queries

    return queries.judged(queries.job(SLUG))


def text_of(answer) -> str:
    body = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", unescape(body)).strip()


def tap(client, page: str, button: str, **typed: str):
    """Send the form that a button of a page is in, as it stands there, with what was typed."""
    return press(client, client.get(J + page), button, **typed)


def press(client, answer, button: str, **typed: str):
    body = answer.content.decode()
    found = next(
        (
            form
            for form in re.findall(r"<form[^>]*>.*?</form>", body, re.S)
            if button in unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", form)))
        ),
        None,
    )
    assert found is not None, f"the page has no button {button!r}"
    fields = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', found))
    pressed = [
        (name, value)
        for tag, words in re.findall(r"<button([^>]*)>(.*?)</button>", found, re.S)
        if button in re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", words))
        for name, value in re.findall(r'name="([^"]+)" value="([^"]*)"', tag)
    ]
    where = re.search(r'action="([^"]+)"', found)
    assert where is not None
    fields = {k: unescape(v) for k, v in fields.items()}
    return client.post(where[1], fields | dict(pressed) | typed, follow=True)


def drawn(line: str) -> str:
    return next(
        (one.drawn for one in draft_of(judged(), "maintenance").lines if one.id == line), ""
    )


def test_the_card_of_plugs_in_says_which_serial_goes_where(marta):
    told = text_of(marta.get(J + "tasks/H3/"))
    for hole, serial in GOES.items():
        assert f"Hole {hole}" in told
        assert f"PUT IN {serial}" in told
    torque = text_of(marta.get(J + "torque/plug/?place=1T"))
    assert "L0418 goes in" in torque


def test_eight_plugs_go_in_by_a_tap_each_and_stand_in_the_record(marta):
    before = judged().stock.parts["gasket-plug"].on_hand
    for serial in GOES.values():
        answer = tap(marta, "tasks/H3/", f"PUT IN {serial}")
        assert f"{serial} fitted at" in text_of(answer)
    assert drawn("plugs-in") == (
        "1T L0418, 1B L0417, 2T N0703, 2B L0415, 3T N0701, 3B L0411, 4T N0702, 4B N0704."
    )
    assert "s/n N0703, N0701, N0702 (Release form R1 no. KS-44187)" in drawn("on").replace(
        "N0701, N0702, N0703", "N0703, N0701, N0702"
    )
    assert "plug L0412" in drawn("off").replace("Plug", "plug")
    assert judged().stock.parts["gasket-plug"].on_hand == before - 8
    assert "L0418 is in" in text_of(marta.get(J + "torque/plug/?place=1T"))
    # None of it is torqued, and the card says so.
    assert judged().work.tasks["H3"].state == "STARTED"


def test_an_old_gasket_annealed_takes_none_off_the_count(marta):
    before = judged().stock.parts["gasket-plug"].on_hand
    tap(marta, "tasks/H3/", "L0418, OLD GASKET ANNEALED")
    assert judged().stock.parts["gasket-plug"].on_hand == before
    assert judged().state.fitted["plug:1T"].fields.gasket == "annealed"


def test_undo_takes_the_plug_out_and_its_gasket_back_on_the_shelf(marta):
    before = judged().stock.parts["gasket-plug"].on_hand
    answer = tap(marta, "tasks/H3/", "PUT IN L0418")
    assert judged().stock.parts["gasket-plug"].on_hand == before - 1
    press(marta, answer, "UNDO")
    assert "plug:1T" not in judged().state.fitted
    assert judged().stock.parts["gasket-plug"].on_hand == before


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("L0412", "L0412 was mutilated on 23 Oct 2026"),
        ("K9999", "K9999 was never seen in this job"),
        ("l0417", "L0417 is in 1B. Take it out there first."),
        ("", "Write the serial of the one that is meant."),
    ],
)
def test_another_serial_is_held_against_the_rules(marta, typed, says):
    tap(marta, "tasks/H3/", "PUT IN L0417")
    answer = tap(marta, "tasks/H3/", "PUT IN, NEW GASKET", other=typed)
    assert says in text_of(answer)
    assert list(judged().state.fitted).count("plug:1T") == 0


def test_out_and_in_again_by_taps(marta):
    tap(marta, "tasks/H3/", "PUT IN L0418")
    tap(marta, "tasks/H3/", "OUT L0418 out of 1T")
    assert "plug:1T" not in judged().state.fitted
    # What was read of it on the bench stands, and it goes back by one tap.
    assert judged().item("plug:L0418").verdict == "KEEP"
    tap(marta, "tasks/H3/", "PUT IN L0418")
    assert judged().state.fitted["plug:1T"].item == "plug:L0418"


def test_a_scanned_label_offers_to_put_it_in(marta):
    answer = marta.post("/label/", {"code": "l0418"}, follow=True)
    assert "PUT IN L0418" in text_of(answer)
    tap(marta, "items/plug/L0418/write/", "PUT IN L0418")
    assert judged().state.fitted["plug:1T"].item == "plug:L0418"
    assert "L0418 is in" in text_of(marta.get(J + "items/plug/L0418/write/"))


def line(client, typed: str):
    return client.post(J + "tray/line/", {"line": typed, "base": ""}, follow=True)


def test_the_line_puts_in_and_takes_out(marta):
    line(marta, "in 1t l0418, 1B L0417")
    assert {key: one.item for key, one in judged().state.fitted.items() if "plug" in key} == {
        "plug:1T": "plug:L0418", "plug:1B": "plug:L0417",
    }  # fmt: skip
    line(marta, "out 1T L0418")
    assert "plug:1T" not in judged().state.fitted


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("in", "Write the hole and the serial, as in in 1T K0415."),
        ("in 1T", "1T: write the serial behind it."),
        ("in 9T L0418", '"9T"'),
        ("in 1T L0412", "L0412 was mutilated on 23 Oct 2026"),
        ("in 1T L0418, 1B L0418", "L0418 is in 1T"),
        ("out 1T K1", "K1"),
    ],
)
def test_a_line_that_may_not_be_says_why_and_keeps_nothing(marta, typed, says):
    before = len(judged().state.order)
    answer = line(marta, typed)
    assert answer.status_code == 422
    assert says in text_of(answer)
    assert len(judged().state.order) == before


def test_the_places_page_tells_what_is_in_and_what_has_papers(marta):
    told = text_of(marta.get(J + "places/"))
    for words in ("Spark plugs 0 of 8 in", "Hoses 5 of 5 in", "Oil filter 1 of 1 in", "F-2608-3"):
        assert words in told
    assert "Release form R1 no. FH-20771" in told


def test_papers_are_written_by_a_form_and_a_form_alone_is_refused(marta):
    answer = tap(marta, "places/", "WRITE THE PAPERS", about="plug", form="R1", reference="")
    assert "Write the form of the release document and its number" in text_of(answer)
    tap(marta, "places/", "WRITE THE PAPERS", about="hose:HS6", form="R1", reference="77")
    one = next(p for p in judged().places if p.item == "hose:HS6")
    assert one.papers == "R1 no. 77"


@pytest.fixture
def receiving(db, client):
    """The same job on the morning the plugs came out."""
    from rehang.book import queries, services

    queries.forget()
    early = folder("2026-10-06T12:50:00-05:00")
    entries = tuple(
        Entry(id=e.id, kind=e.kind, at=e.at, by=e.by, data=e.data)
        for e in early.entries
        if e.kind not in ("earlier", "fitted", "removed")
    )
    services.load_folder(
        folder=JobFolder(
            name=early.name,
            files=early.files,
            entries=entries,
            facts=early.facts,
            where={},
            notices=(),
        ),
        by="marta",
        at=LOADED - timedelta(days=34),
    )
    assert client.post("/sign-in/", {"person": "marta"}).status_code == 303
    return client


def test_plugs_come_out_by_their_serial_and_each_hole_gets_its_blank(receiving):
    for hole, serial in (("1T", "L0411"), ("1B", "L0412")):
        tap(receiving, "tasks/C2/", f"OUT OF {hole}", other=serial)
    assert judged().state.holes == {"1T": "plug:L0411", "1B": "plug:L0412"}
    tap(receiving, "tasks/C7/", "BLANK IN Hole 1B")
    tap(receiving, "tasks/C7/", "DEHYDRATOR PLUG IN Hole 1T")
    states = {p.name: p.state for p in judged().work.tasks["C7"].places}
    assert (states["1T"], states["1B"], states["2T"]) == ("DONE", "DONE", "NOT STARTED")
    assert judged().state.out["dehydrator plugs"] == 1


def test_blanks_are_counted_and_not_ticked(receiving):
    tap(receiving, "tasks/C2/", "OUT OF 1T", other="L0411")
    receiving.post(J + "act/", {"kind": "done", "task": "C7", "place": "1T"}, follow=True)
    assert judged().work.tasks["C7"].place("1T").state != "DONE"
