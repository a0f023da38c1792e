"""Meters in a mechanic's words: each make by its label, an accuracy nobody knows, the way back."""

import json
import re
from datetime import date
from html import unescape
from io import BytesIO
from urllib.parse import urlencode

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from PIL import Image

from rehang.book import queries, services
from rehang.sheets import demo_path
from rehang.sheets.folder import JobFolder, parse_files, read_folder
from rehang.trade.facts.meters import METER_KINDS
from rehang.trade.known.meter_choice import meters_for_check
from rehang.trade.terms.entries import Entry
from rehang.web.shared.meters import certificate_rows
from rehang.web.shop.meter_makes import MAKES, make_of
from tests.hand import Hand
from tests.pins import PIN, give_pins

J = "/jobs/bare/"
NOT_READ = "NOT READ"


def folder(meters: str | None = None, entries=()) -> JobFolder:
    demo = read_folder(demo_path())
    files = dict(demo.files)
    if meters is not None:
        files["meters.toml"] = meters
    files["engine.toml"] = files["engine.toml"].replace('job = "tv4-2207-2026"', 'job = "bare"')
    return JobFolder("bare", files, tuple(entries), parse_files(files, "bare"), {}, ())


@pytest.fixture
def marta(db, client):
    queries.forget()
    removed = [
        Entry(id=one.id, kind=one.kind, at=one.at, by=one.by, data=one.data)
        for one in read_folder(demo_path()).entries
        if one.kind == "removed"
    ]
    services.load_folder(folder=folder("", removed), by="marta", at=timezone.now())
    give_pins("marta")
    client.post("/sign-in/", {"person": "marta"})
    return client


def words(answer) -> str:
    body = re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", answer.content.decode(), flags=re.S)
    return re.sub(r"\s+", " ", unescape(body)).strip()


def on_file():
    return queries.facts(queries.job("bare")).meters


# What stands on the label, as it is keyed, and what such a meter is then worth.
LABELS = {
    "digital": (
        {"range.top": "20", "range.count": "0.01", "range.percent_of_reading": "0.8", "range.counts": "2"},
        "±0.8 % of reading + 2 counts of 10 Ω",
    ),
    "needle": ({"mid_scale": "20", "percent_of_arc": "3"}, "±3 % of arc"),
    "wires": ({"step": "1"}, "go and no-go in steps of 0.001 in"),
    "feelers": ({"accuracy": "0.5"}, "±0.0005 in"),
    "dial-gauge": ({"resolution": "1", "accuracy": "1"}, "±0.001 in"),
    "bore-gauge": ({"resolution": "0.0005", "accuracy": "0.001"}, "±0.001 in"),
    "compression": ({"orifice": "0.040 in", "resolution": "1", "accuracy": "1"}, "±1 psi"),
    "torque-wrench": ({"lowest": "20", "highest": "100", "percent_of_reading": "4"}, "±4 % of reading"),
    "pressure": (
        {"use": "oil pressure", "full_scale": "100", "percent_of_full_scale": "2.5"},
        "±2.5 % of full scale",
    ),
    "tachometer": ({"resolution": "1", "accuracy": "2"}, "±2 rpm"),
    "thermometer": ({"resolution": "5", "accuracy": "5"}, "±5 °F"),
    "spark": ({}, ""),
    "leads": ({}, ""),
    "timing": ({"accuracy": "0.5"}, "±0.5 °"),
    "clock": ({"accuracy": "1"}, "±1 s"),
    "electrode": ({"accuracy": "5"}, "±5 %"),
    "certificate": ({"quantity": "length", "expanded": "0.4", "coverage": "2"}, "U = 0.0004 in, k = 2"),
    "other": ({"quantity": "size", "resolution": "0.01", "accuracy": "0.02"}, "±0.02 mm"),
}  # fmt: skip


def enter(hand: Hand, make: str, name: str, label: dict[str, str], due: str = "2027-03") -> None:
    hand.open(J + "meters/new/")
    hand.open(next(one for one in links(hand.page) if f"make={make}&" in one or one.endswith(make)))
    hand.type("id", name)
    for key, value in label.items():
        (hand.pick if key in hand.form["pick"] else hand.type)(key, value)
    hand.type("due", due)
    hand.press("")


def links(answer) -> list[str]:
    found = re.findall(r'href="(\?make=[^"]+)"', answer.content.decode())
    return [J + "meters/new/" + unescape(one) for one in found]


def test_every_make_is_put_on_file_in_9_taps_and_32_keys(marta):
    assert set(LABELS) == set(MAKES)
    counted = {}
    for number, (make, (label, worth)) in enumerate(LABELS.items(), start=1):
        hand = Hand(marta)
        enter(hand, make, f"M-{number}", label)
        if number == 1:
            assert "takes a PIN" in words(hand.page)
            taps, keys = hand.taps, hand.keys
            hand.type("pin", PIN)
            hand.press()
            hand.taps, hand.keys = taps, keys
        assert f"M-{number} is on file." in words(hand.page)
        counted[make] = hand.taps, hand.keys
        held = on_file()[f"M-{number}"]
        assert (held.kind, held.worth) == (MAKES[make].kind, worth)
        assert held.due_text == "2027-03"
    print(counted)
    assert max(taps for taps, _ in counted.values()) <= 9
    assert max(keys for _, keys in counted.values()) <= 32
    assert [r.name for r in on_file()["M-2"].ranges] == ["x1", "x10", "x100", "x1k"]
    assert [r.mid_scale for r in on_file()["M-2"].ranges] == [20, 200, 2000, 20000]


def test_every_kind_of_meter_has_a_make_and_one_on_file_is_known_for_what_it_is():
    assert {one.kind for one in MAKES.values()} == set(METER_KINDS)
    facts = folder().facts
    found = {
        one.id: make_of(
            one.kind, one.quantity.name if one.quantity else "", one.use, one.orifice
        ).key
        for one in facts.meters.values()
    }
    assert found == {
        "DM-2": "digital", "AN-1": "needle", "WG-1": "wires", "WC-1": "electrode", "BT-1": "spark",
        "FG-1": "feelers", "CT-1": "compression", "LT-1": "leads", "TL-1": "timing",
        "TW-3": "torque-wrench", "OT-1": "tachometer", "OP-1": "other", "FP-1": "other",
        "TH-1": "thermometer", "CL-1": "clock",
    }  # fmt: skip


def test_no_accuracy_known_is_an_answer_its_readings_are_not_read_and_it_is_written_later(marta):
    hand = Hand(marta)
    hand.open(f"{J}meters/new/?make=feelers", tap=False)
    assert "Then what it measures is NOT READ" in words(hand.page)
    hand.type("id", "FG-9")
    hand.press("")
    assert "Enter: good to ±." in words(hand.page)
    hand.pick("unknown", "yes")
    hand.press("")
    hand.type("pin", PIN)
    hand.press()
    assert on_file()["FG-9"].accuracy_not_known
    assert "accuracy not known" in words(marta.get(J + "meters/"))
    item = "cylinder:1"
    sent = {"written": "40", "meter": "FG-9|", "once": "00000000-0000-4000-8000-000000000001"}
    assert marta.post(f"{J}items/cylinder/1/read/tappet_intake/", sent).status_code == 303
    call = queries.judged(queries.job("bare")).item(item).call("tappet_intake")
    assert (call.call, call.reading) == (NOT_READ, "40 thou")
    assert call.sentence.startswith("The accuracy of FG-9 is not known. Write it down")
    assert "The accuracy of FG-9 is not known." in words(marta.get(f"{J}items/cylinder/1/"))
    # Once it is written, what was read counts.
    assert "WRITE ITS ACCURACY" in words(marta.get(J + "meters/of/FG-9/"))
    hand.open(f"{J}meters/new/?of=FG-9", tap=False)
    hand.pick("unknown", "no") if "no" in hand.form["pick"]["unknown"] else None
    hand.form["pick"]["unknown"]["yes"] = False
    hand.type("accuracy", "1")
    hand.press("")
    assert on_file()["FG-9"].worth == "±0.001 in"
    call = queries.judged(queries.job("bare")).item(item).call("tappet_intake")
    assert call.call == "WITHIN"


@pytest.mark.parametrize(
    ("at", "first"),
    [
        ("plug.gap", ["wires", "dial-gauge", "certificate", "other"]),
        ("plug.resistance", ["digital", "needle", "certificate", "other"]),
        ("plug.spark", ["spark"]),
        ("cylinder.compression", ["compression", "certificate", "other"]),
        ("barrel.bore", ["bore-gauge", "certificate", "other"]),
        ("cylinder.tappet_intake", ["feelers", "dial-gauge", "certificate", "other"]),
        ("run.oil_idle", ["pressure", "certificate", "other"]),
        ("run.static", ["tachometer", "certificate", "other"]),
        ("lead.leak", []),
    ],
)
def test_makes_that_can_read_a_check_are_offered_first_and_can_read_it(marta, at, first):
    body = marta.get(f"{J}meters/new/?check={at}").content.decode().partition("<details")[0]
    offered = re.findall(r"\?make=([\w-]+)", body)
    if first:
        assert offered[: len(first)] == first
    facts = queries.facts(queries.job("bare"))
    kind, _, name = at.partition(".")
    check = facts.sheets[kind].check(name)
    give_pins("marta")
    if not first:
        return
    label = dict(LABELS[first[0]][0])
    query = f"make={first[0]}&check={at}&next={J}tray/"
    sent = {**label, "id": "N-1", "name": "New", "make": first[0], "pin": PIN}
    answer = marta.post(f"{J}meters/new/?{query}", {**sent, "use": label.get("use", check.use)})
    assert (answer.status_code, answer["Location"].partition("?")[0]) == (303, J + "tray/")
    judged = queries.judged(queries.job("bare"))
    assert [one.id for one in meters_for_check(check, judged.facts, judged.state)] == ["N-1"]


def test_a_new_meter_comes_back_chosen_for_the_check_it_was_filed_for(marta):
    back = f"{J}tray/?check=gap&hole=1T"

    def filed(make: str, name: str, label: dict[str, str]):
        sent = {"make": make, "id": name, "name": "Mine", "due": "2027-03", "pin": PIN, **label}
        answer = marta.post(
            f"{J}meters/new/?{urlencode({'check': 'plug.gap', 'next': back})}", sent
        )
        assert answer.status_code == 303, words(answer)
        return marta.get(answer["Location"])

    def in_hand(page) -> dict:
        told = re.search(r'id="pad-data"[^>]*>(.*?)</script>', page.content.decode(), re.S)
        return json.loads(told[1])["chosen"].get("gap", {})

    filed("wires", "W-1", {"step": "1"})
    marta.post(f"{J}tray/meter/", {"check": "gap", "meter": "W-1|", "hole": "1T"})
    assert in_hand(marta.get(back))["meter"] == "W-1"
    page = filed("wires", "W-2", {"step": "1"})
    assert "W-2 is on file and chosen for gap." in words(page)
    assert in_hand(page)["meter"] == "W-2"
    # It stays in hand where the address no longer names it.
    assert in_hand(marta.get(back))["meter"] == "W-2"
    page = filed("digital", "D-1", LABELS["digital"][0])
    assert "D-1 is on file. D-1 reads resistance; gap is read as length." in words(page)
    assert in_hand(page)["meter"] == "W-2"


def test_what_was_typed_stands_after_the_way_to_a_new_meter_and_back(marta):
    form = J + "items/cylinder/2/read/compression/"
    typed = {"supply": "80", "held": "71", "again": "72", "state": "hot", "path_note": "faint",
             "minutes": "14", "station": "28.9 inHg", "new_meter": "yes"}  # fmt: skip
    away = marta.post(form, typed)
    assert away.status_code == 303
    sent = {"make": "compression", "id": "CT-9", "name": "Mine", "due": "2027-03", "pin": PIN}
    answer = marta.post(away["Location"], sent | LABELS["compression"][0])
    assert answer.status_code == 303, words(answer)
    body = marta.get(answer["Location"]).content.decode()
    for name in ("held", "again", "path_note", "minutes", "station"):
        assert f'name="{name}" value="{typed[name]}"' in body, name
    assert re.search(r'value="hot"\s+checked', body)
    assert re.search(r'value="CT-9\|"\s+selected', body)


def test_a_wrench_that_was_missing_comes_back_picked_with_the_adapter_as_typed(marta):
    card = J + "torque/plug/"
    away = marta.get(card, {"arm": "10", "length": "2", "new_meter": "yes"})
    assert away["Location"].startswith(J + "meters/new/?make=torque-wrench")
    sent = {"make": "torque-wrench", "id": "TW-9", "name": "Mine", "due": "2027-03", "pin": PIN}
    answer = marta.post(away["Location"], sent | LABELS["torque-wrench"][0])
    assert answer["Location"] == f"{card}?arm=10&length=2&wrench=TW-9"


def test_an_empty_list_of_meters_leads_to_a_new_one_and_back(marta):
    for path, back in (
        ("items/plug/K0411/read/gap/", "%2Fjobs%2Fbare%2Fitems%2Fplug%2FK0411%2Fread%2Fgap%2F"),
        ("tray/?check=gap", "%2Fjobs%2Fbare%2Ftray%2F%3Fcheck%3Dgap"),
    ):
        body = unescape(marta.get(J + path).content.decode())
        found = re.search(r'href="([^"]+)"[^>]*>NEW METER', body)
        # A page with a form leads there with what was typed.
        way = found[1] if found else marta.post(J + path, {"new_meter": "yes"})["Location"]
        assert way.startswith(f"{J}meters/new/?check=plug.gap&next={back}")
    assert "No meter on file reads this." in words(marta.get(J + "items/plug/K0411/read/gap/"))


@pytest.mark.parametrize(
    ("make", "typed", "sentence"),
    [
        ("feelers", {"accuracy": "0,5"}, '"0,5" has a comma that is not a thousands mark.'),
        ("feelers", {"accuracy": "thin"}, '"thin" is not a length.'),
        (
            "feelers",
            {"accuracy": "0.001"},
            '"0.001 thou" is finer than length is kept. The smallest step',
        ),
        ("wires", {"step": "0"}, '"step" of N-1 must be above 0'),
        (
            "needle",
            {"mid_scale": "20", "percent_of_arc": "3", "scales": "1 ten"},
            '"ten" is not a number.',
        ),
        (
            "torque-wrench",
            {"lowest": "100", "highest": "20", "percent_of_reading": "4"},
            "N-1 goes from",
        ),
        (
            "pressure",
            {"full_scale": "100", "percent_of_full_scale": "few"},
            '"few" is not a number.',
        ),
        ("spark", {"due": "soon"}, '"soon" is not a date.'),
    ],
)
def test_what_cannot_be_a_meter_is_one_sentence_and_nothing_is_filed(marta, make, typed, sentence):
    sent = {"make": make, "id": "N-1", "name": "New", "pin": PIN, **typed}
    answer = marta.post(f"{J}meters/new/?make={make}", sent)
    assert answer.status_code == 422
    assert sentence in words(answer)
    assert on_file() == {}


@pytest.mark.parametrize(
    ("make", "typed", "field"),
    [
        ("digital", {"range.percent_of_reading": "0.8%"}, "range.percent_of_reading"),
        ("digital", {"range.counts": "two"}, "range.counts"),
        ("digital", {"range.count": "fine"}, "range.count"),
        ("digital", {"range_1_top": "200", "range_1_percent_of_reading": "1%"}, "range_1_percent_of_reading"),
        ("digital", {"range_2_top": "200", "range_2_count": "fine"}, "range_2_count"),
        ("needle", {"scales": "1 10", "percent_of_arc": "3%"}, "percent_of_arc"),
        ("needle", {"scales": "1 10", "mid_scale": "some"}, "mid_scale"),
        ("needle", {"scales": "1 ten"}, "scales"),
        ("wires", {"step": "0"}, "step"),
        ("feelers", {"accuracy": "thin"}, "accuracy"),
        ("feelers", {"repeatability": "thin"}, "repeatability"),
        ("torque-wrench", {"lowest": "200"}, "lowest"),
        ("torque-wrench", {"percent_of_reading": "4%"}, "percent_of_reading"),
        ("pressure", {"percent_of_full_scale": "few"}, "percent_of_full_scale"),
        ("compression", {"master_mm2": "big"}, "master_mm2"),
        ("spark", {"due": "soon"}, "due"),
        ("spark", {"id": ""}, "id"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_meter_stands_beside_the_field_that_it_was_typed_in(
    marta, make, typed, field
):
    sent = {"make": make, "id": "N-1", "name": "New", "pin": PIN, **LABELS[make][0], **typed}
    answer = marta.post(f"{J}meters/new/?make={make}", sent)
    assert answer.status_code == 422, words(answer)
    assert re.findall(r'class="wrong" id="w-([^"]+)"', answer.content.decode()) == [field]


FOUND = {
    "kind": "found_out",
    "meter": "DM-2",
    "reason": "The laboratory, against its own.",
    "off": "6 % low",
}
PROVED = {"kind": "proved", "meter": "DM-2", "reason": "Held 5.00 against 5.00 kohm."}


@pytest.mark.parametrize(
    ("form", "typed", "field"),
    [
        (FOUND, {"on": "soon"}, "on"),
        (FOUND, {"good": "soon"}, "good"),
        (FOUND, {"reason": ""}, "reason"),
        (PROVED, {"due": "soon"}, "due"),
        (PROVED, {"reason": ""}, "reason"),
    ],
)
def test_what_is_wrong_with_a_meter_found_out_stands_beside_its_own_field(
    db, client, form, typed, field
):
    queries.forget()
    services.load_folder(folder=folder(), by="marta", at=timezone.now())
    give_pins("marta")
    client.post("/sign-in/", {"person": "marta"})
    page = J + "meters/of/DM-2/"
    sent = {**form, "next": page, "who": "marta", "pin": PIN, **typed}
    body = client.post(J + "act/", sent, follow=True).content.decode()
    kind = form["kind"]
    assert re.findall(r'class="wrong" id="w-([^"]+)"', body) == [f"{kind}-{field}"]
    assert f'href="#f-{kind}-{field}"' in body
    assert f'id="f-{kind}-{field}"' in body
    kept = next(
        value for name, value in form.items() if name == ("off" if kind == "found_out" else "kind")
    )
    assert kept in body


def test_every_meter_of_the_demo_comes_back_the_same_from_its_own_form(db, client):
    queries.forget()
    services.load_folder(folder=folder(), by="marta", at=timezone.now())
    give_pins("marta")
    client.post("/sign-in/", {"person": "marta"})
    before = on_file()
    for name in before:
        hand = Hand(client)
        hand.open(f"{J}meters/new/?of={name}", tap=False)
        hand.press("")
        if "takes a PIN" in words(hand.page):
            hand.type("pin", PIN)
            hand.press()
        assert f"{name} is on file." in words(hand.page), words(hand.page)
    assert on_file() == before


PAGES = [
    "", "tray/", "tray/why/1T/gap/", "engine/", "engine/oil/", "read-back/", "book/", "blockers/",
    "meters/", "limits/", "items/cylinder/1/", "items/cylinder/1/read/compression/", "run/",
    "run/of/1/", "run/drops/", "run/air/?speed=2300", "torque/", "torque/plug/", "story/cylinder/1/",
    "rest/bench/", "rest/handover/", "record/", "due/", "paper/",
]  # fmt: skip


def test_every_page_stands_where_no_accuracy_is_known_at_all(db, client):
    queries.forget()
    finished = read_folder(demo_path("finished"))
    job = services.load_folder(folder=finished, by="marta", at=timezone.now())
    text = finished.files["meters.toml"]
    text = re.sub(r"(?m)^kind = ", "accuracy_not_known = true\nkind = ", text)
    services.file_text(job=job, name="meters.toml", text=text, by="marta", at=timezone.now())
    judged = queries.judged(queries.job(job.slug))
    assert not any(
        call.call == "WITHIN" and call.band for one in judged.items for call in one.calls
    )
    client.post("/sign-in/", {"person": "marta"})
    names = [one.name for one in judged.items if one.kind == "plug"][:2]
    paths = PAGES + [f"{room}{name}/" for name in names for room in ("plugs/", "story/plug/")]
    paths += [f"meters/of/{name}/" for name in judged.facts.meters]
    paths += [f"meters/new/?of={name}" for name in judged.facts.meters]
    found = {
        path: client.get(f"/jobs/{job.slug}/{path}", follow=True).status_code for path in paths
    }
    assert {path: status for path, status in found.items() if status != 200} == {}


def test_certificates_past_their_day_and_due_within_30_days_stand_on_the_board(db, client):
    queries.forget()
    services.load_folder(folder=folder(), by="marta", at=timezone.now())
    client.post("/sign-in/", {"person": "marta"})
    facts = queries.facts(queries.job("bare"))
    judged = queries.judged(queries.job("bare"))
    # TW-3: 2 October 2026. TL-1: December, so its last day; DM-2: January.
    rows = {day: certificate_rows(judged, day) for day in (
        date(2026, 10, 2), date(2026, 10, 3), date(2026, 11, 30), date(2026, 12, 1), date(2027, 1, 1)
    )}  # fmt: skip
    said = {day: [(row.meter, row.words) for row in found] for day, found in rows.items()}
    past = ("TW-3", "OUT OF DATE since 2 Oct 2026")
    assert said[date(2026, 10, 2)] == [("TW-3", "due 2 Oct 2026")]
    assert said[date(2026, 10, 3)] == said[date(2026, 11, 30)] == [past]
    assert said[date(2026, 12, 1)] == [past, ("TL-1", "due 31 Dec 2026")]
    assert said[date(2027, 1, 1)] == [
        past, ("TL-1", "OUT OF DATE since 31 Dec 2026"), ("DM-2", "due 31 Jan 2027"),
    ]  # fmt: skip
    assert facts.meters["AN-1"].due is None
    today = judged.today
    shown = words(client.get(J))
    for row in certificate_rows(judged, today):
        assert f"{row.meter} {row.name} {row.words}" in shown
    assert "Certificates of meters" in shown


def test_a_photo_of_its_certificate_is_kept_with_a_meter_and_of_its_page_with_a_limit(marta):
    sent = {"make": "feelers", "id": "FG-9", "name": "Feelers", "accuracy": "1", "pin": PIN}
    marta.post(f"{J}meters/new/", sent)
    made = BytesIO()
    Image.new("RGB", (60, 40), "white").save(made, "PNG")
    for item, at, says in (
        ("meter:FG-9", "meters/of/FG-9/", "Meter FG-9"),
        ("limit:plug.gap", "limits/3/", "The page of the limit for plug, gap"),
    ):
        assert "No photo or PDF of it yet." in words(marta.get(J + at))
        photo = SimpleUploadedFile("paper.png", made.getvalue(), "image/png")
        answer = marta.post(J + "photos/", {"item": item, "photo": photo, "next": J + at})
        assert answer["Location"] == J + at
        shown = marta.get(J + at)
        assert says in words(shown)
        assert "No photo or PDF of it yet." not in words(shown)
    for item, sentence in (
        ("meter:XX-1", 'There is no meter "XX-1" on file to add a photo to.'),
        ("limit:plug.moon", 'There is no check "moon" on the plug sheet.'),
        ("limit:nothing", 'There is no limit "nothing" to add a photo to.'),
    ):
        photo = SimpleUploadedFile("paper.png", made.getvalue(), "image/png")
        before = len(queries.entries(queries.job("bare")))
        answer = marta.post(
            J + "photos/", {"item": item, "photo": photo, "next": J + "meters/"}, follow=True
        )
        assert sentence in words(answer)
        assert len(queries.entries(queries.job("bare"))) == before


@pytest.mark.parametrize("at", ["plug.resistance", "plug.gap"])
def test_anything_else_measures_what_the_check_asks_for(marta, at):
    page = marta.get(f"{J}meters/new/?make=other&check={at}").content.decode()
    fields = re.findall(r"<(?:input|option)[^>]*>", page)
    picked = [one for one in fields if re.search(r"\b(checked|selected)\b", one)]
    wanted = {"plug.resistance": "resistance", "plug.gap": "length"}[at]
    assert any(f'value="{wanted}"' in one for one in picked), picked
