"""Limits: one table, one form after another, a PIN once, and what is refused."""

import re
from datetime import timedelta
from html import unescape

import pytest
from django.utils import timezone

from rehang.book import queries, services
from rehang.sheets import demo_path
from rehang.sheets.folder import JobFolder, parse_files, read_folder
from tests.hand import Hand
from tests.pins import PIN, give_pins

J = "/jobs/bare/"
SOURCE = {"document": "Invented manual", "revision": "3", "page": "5-2"}


def folder(limits: str = "") -> JobFolder:
    """The demo's engine with the limits given: none, unless said."""
    demo = read_folder(demo_path())
    files = dict(demo.files) | {"limits.toml": limits}
    files["engine.toml"] = files["engine.toml"].replace('job = "tv4-2207-2026"', 'job = "bare"')
    return JobFolder(
        name="bare", files=files, entries=demo.entries[:40], facts=parse_files(files, "bare"),
        where={}, notices=(),
    )  # fmt: skip


@pytest.fixture
def marta(db, client):
    queries.forget()
    services.load_folder(folder=folder(), by="marta", at=timezone.now())
    give_pins("marta", "ilse")
    client.post("/sign-in/", {"person": "marta"})
    return client


def words(answer) -> str:
    body = re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", answer.content.decode(), flags=re.S)
    return re.sub(r"\s+", " ", unescape(body)).strip()


def on_file():
    return queries.facts(queries.job("bare")).limits


def pin(hand: Hand) -> None:
    assert "takes a PIN" in words(hand.page)
    hand.type("pin", PIN)
    hand.press()


# A manual as a mechanic reads it off: what is measured or graded, each with its page.
MANUAL = [
    ("plug", "electrode", "7-4", {"lower": "50"}),
    ("plug", "resistance", "7-4", {"upper": "5"}),
    ("plug", "gap", "7-4", {"lower": "16", "upper": "19"}),
    ("plug", "spark", "7-4", {"grade": "steady", "at_psi": "100"}),
    ("cylinder", "compression", "5-2", {"floor": "master"}),
    ("cylinder", "tappet_intake", "5-2", {"lower": "30", "upper": "75"}),
    ("cylinder", "tappet_exhaust", "5-2", {"lower": "30", "upper": "75"}),
    ("lead", "continuity", "7-6", {"grade": "continuous"}),
    ("lead", "leak", "7-6", {"grade": "no leak"}),
    ("magneto", "points", "8-1", {"grade": "as the manual says"}),
    ("magneto", "timing", "8-2", {"lower": "24", "upper": "26"}),
    ("ignition", "timing_difference", "8-2", {"upper": "1"}),
    ("hose", "age", "4-8", {"upper": "5"}),
    ("run", "oil_rise", "9-3", {"upper": "30"}),
    ("run", "oil_idle", "9-3", {"lower": "25"}),
    ("run", "oil_run", "9-3", {"lower": "60", "upper": "90"}),
    ("run", "oil_temp", "9-3", {"lower": "100", "upper": "245"}),
    ("run", "head_temp", "9-3", {"upper": "475"}),
    ("run", "drop_right", "9-3", {"upper": "150"}),
    ("run", "drop_left", "9-3", {"upper": "150"}),
    ("run", "difference", "9-3", {"upper": "50"}),
    ("run", "static", "9-3", {"lower": "2250", "upper": "2350"}),
    ("run", "idle", "9-3", {"lower": "600", "upper": "700"}),
    ("run", "rise", "9-3", {"lower": "20", "upper": "50"}),
    ("run", "carb_heat", "9-3", {"grade": "falls, then steady"}),
    ("run", "switch_off", "9-3", {"grade": "dies"}),
    ("run", "cut_off", "9-3", {"grade": "stops clean"}),
    ("engine", "plug_torque", "7-8", {"lower": "370", "upper": "410"}),
    ("engine", "rocker_cover_torque", "7-8", {"lower": "45", "upper": "55"}),
    ("engine", "filter_torque", "7-8", {"lower": "190", "upper": "210"}),
    ("engine", "drain_torque", "7-8", {"lower": "30", "upper": "35", "unit": "ft-lb"}),
]


def test_the_31_limits_of_one_manual_take_under_100_taps_and_300_keys(marta):
    hand = Hand(marta)
    hand.open(J + "limits/", tap=False)
    hand.open(re.search(r'href="([^"]+)">ENTER NEXT<', hand.page.content.decode())[1])
    assert "/plug/look/" in hand.at
    for name, value in (*SOURCE.items(), ("worst", "1")):
        (hand.pick if name == "worst" else hand.type)(name, value)
    hand.press("looks")
    pin(hand)
    looks, at_31 = len(on_file()), (0, 0)
    for done, (kind, check, page, typed) in enumerate(MANUAL, start=looks + 1):
        while f"/{kind}/{check}/" not in hand.at:
            # What this manual does not give.
            hand.open(unescape(re.search(r'href="([^"]+)">SKIP<', hand.page.content.decode())[1]))
        hand.type("page", page)
        for name, value in typed.items():
            (hand.pick if name in hand.form["pick"] else hand.type)(name, value)
        hand.press("on")
        if done == 31:
            at_31 = hand.taps, hand.keys
    assert len(on_file()) == looks + 31
    print(f"31 limits: {at_31}; {looks + 31} limits: {hand.taps} taps, {hand.keys} keys")
    assert (at_31[0] < 100, at_31[1] < 300) == (True, True)
    # A manual with 31 figures besides its looks.
    assert hand.taps < 130
    assert hand.keys < 300
    found = {(one.item, one.check): one for one in on_file()}
    gap, ohms, drain = (
        found["plug", "gap"],
        found["plug", "resistance"],
        found["engine", "drain_torque"],
    )
    assert (gap.lower, gap.upper, ohms.upper, drain.upper) == (160, 190, 5000, 4200)
    assert all(one.has_source and one.document == "Invented manual" for one in on_file())
    assert (gap.page, drain.page) == ("7-4", "7-8")


def test_one_tap_gives_every_look_without_a_limit_the_same_one(marta):
    hand = Hand(marta)
    hand.open(J + "limits/new/plug/look/", tap=False)
    for name, value in SOURCE.items():
        hand.type(name, value)
    hand.pick("worst", "1")
    others = int(re.search(r"THE SAME FOR (\d+) OTHER", words(hand.page))[1])
    hand.press("looks")
    pin(hand)
    assert f"Look, 10× is on file: max severity 1. So are {others} other looks." in words(hand.page)
    assert "/plug/electrode/" in hand.at
    assert len(on_file()) == others + 1
    assert {(one.worst, one.page) for one in on_file()} == {(1, "5-2")}
    asked = marta.get(J + "limits/new/plug/gap/")
    assert "OTHER LOOKS" not in words(asked)


@pytest.mark.parametrize(
    ("at", "typed", "filed"),
    [
        ("plug/gap/", {"lower": "0.016", "upper": "0.019"}, {"lower": 160, "upper": 190}),
        ("plug/gap/", {"lower": "16", "upper": "19"}, {"lower": 160, "upper": 190}),
        ("plug/gap/", {"lower": "0.016", "upper": ".019", "unit": "in"}, {"upper": 190}),
        ("plug/resistance/", {"upper": "5"}, {"upper": 5000}),
        ("plug/resistance/", {"upper": "5000", "unit": "ohm"}, {"upper": 5000}),
        ("plug/resistance/", {"upper": "5,000 ohm"}, {"upper": 5000}),
        ("engine/plug_torque/", {"lower": "30", "upper": "34", "unit": "ft-lb"}, {"upper": 4080}),
        ("hose/age/", {"type": "rubber", "upper": "5", "unit": "years"}, {"upper": 60}),
        ("cylinder/compression/", {"lower": "60", "state": "hot"}, {"lower": 60}),
        ("cylinder/compression/", {"floor": "master"}, {"floor": "master"}),
    ],
)
def test_a_bare_number_takes_the_unit_beside_it(marta, at, typed, filed):
    answer = marta.post(f"{J}limits/new/{at}", {**SOURCE, **typed, "pin": PIN})
    assert answer.status_code == 303, words(answer)
    limit = on_file()[-1]
    assert {key: getattr(limit, key) for key in filed} == filed
    if "state" in typed:
        assert limit.wants == {"state": "hot"}


@pytest.mark.parametrize(
    ("at", "typed", "sentence"),
    [
        ("plug/gap/", {"upper": "0,019"}, '"0,019" has a comma that is not a thousands mark.'),
        ("plug/gap/", {"upper": "190"}, "190 thou is no likely limit for gap: likely is 5 to 60"),
        ("plug/resistance/", {"upper": "5000"}, "5,000.00 kΩ is no likely limit for resistance:"),
        ("plug/gap/", {"upper": "wide"}, '"wide" is not a length. Write a number in thousandths'),
        (
            "plug/gap/",
            {"upper": "19 psi"},
            '"19 psi" has the unit "psi", which is not one for leng',
        ),
        ("plug/gap/", {"upper": "19", "unit": "mile"}, '"mile" is no unit of length.'),
        (
            "plug/gap/",
            {"lower": "-16"},
            '"-16 thou" is below zero, and "Gap" has no sign. Write the',
        ),
        (
            "plug/gap/",
            {"lower": "20", "upper": "19"},
            "The lower bound 20 thou is above the upper bound 19 thou.",
        ),
        ("plug/electrode/", {"lower": "150"}, "150 % is no likely limit for"),
        ("plug/electrode/", {"lower": "150 %"}, '"150 %" is more than 100 % of a new one.'),
        ("plug/gap/", {}, "Write the figure it may not be below or not be above."),
        ("plug/spark/", {}, "Pick what is asked for."),
        ("plug/look/", {}, "Pick the worst open finding it may have."),
        ("cylinder/compression/", {"floor": "master", "lower": "60"}, "Write a figure or pick the"),
    ],
)
def test_what_cannot_be_a_limit_is_one_sentence_and_nothing_is_filed(marta, at, typed, sentence):
    answer = marta.post(f"{J}limits/new/{at}", {**SOURCE, **typed, "pin": PIN})
    assert answer.status_code == 422
    assert sentence in words(answer)
    assert on_file() == ()


def test_one_pin_holds_for_ten_minutes_of_its_own_person_and_no_longer(marta, monkeypatch):
    def enter(**more):
        return marta.post(J + "limits/new/plug/gap/", {**SOURCE, "upper": "19", **more})

    assert "it then holds on this device for 10 minutes" in words(enter())
    assert enter(pin=PIN).status_code == 303
    assert "The PIN of Marta Oduya holds here until" in words(marta.get(J + "limits/"))
    assert marta.post(J + "limits/0/", {**SOURCE, "upper": "18"}).status_code == 303
    # It settles nothing of the job.
    asked = marta.post(J + "put-away/", {"reason": "hung again"})
    assert "takes a PIN" in words(asked)
    later = timezone.now() + timedelta(minutes=10, seconds=1)
    monkeypatch.setattr("rehang.web.shared.pin_holds.timezone.now", lambda: later)
    assert "takes a PIN" in words(marta.post(J + "limits/0/", {**SOURCE, "upper": "17"}))
    assert on_file()[0].upper == 180


def test_a_pin_that_holds_is_ended_by_hand_and_by_a_new_pin(marta):
    def change(**more):
        return marta.post(J + "limits/0/", {**SOURCE, "upper": "18", **more})

    marta.post(J + "limits/new/plug/gap/", {**SOURCE, "upper": "19", "pin": PIN})
    marta.post(J + "let-go/", {"next": J + "limits/"})
    assert "takes a PIN" in words(change())
    assert change(pin=PIN).status_code == 303
    give_pins("marta", pin="135791")
    assert "takes a PIN" in words(change())


def test_the_pin_of_another_person_holds_for_nothing_more(marta):
    files = queries.files(queries.job("bare"))["people.toml"]
    assert 'key = "ilse"' in files
    marta.post("/sign-in/", {"person": "tom"})
    sent = {**SOURCE, "upper": "19", "who": "marta", "pin": PIN}
    assert marta.post(J + "limits/new/plug/gap/", sent).status_code == 303
    assert on_file()[0].entered_by == "marta"
    again = marta.post(J + "limits/0/", {**SOURCE, "upper": "18", "who": "marta"})
    assert "takes a PIN" in words(again)


def test_a_limit_is_entered_from_its_reading_and_the_way_leads_back(marta):
    back = J + "tray/"
    hand = Hand(marta)
    hand.open(f"{J}limits/new/plug/gap/?next={back}")
    assert "Next without a limit: spark plug, spark." in words(hand.page)
    for name, value in (*SOURCE.items(), ("lower", "16"), ("upper", "19")):
        hand.type(name, value)
    hand.press("on")
    pin(hand)
    # On to the next, and the way back is kept.
    assert hand.at == f"{J}limits/new/plug/spark/?next=%2Fjobs%2Fbare%2Ftray%2F"
    assert hand.form["text"]["document"] == "Invented manual"
    hand.pick("grade", "steady")
    hand.press("file")
    assert hand.at == back


def test_the_table_is_searched_by_any_of_its_words(db, client):
    queries.forget()
    demo = read_folder(demo_path())
    services.load_folder(folder=folder(demo.files["limits.toml"]), by="marta", at=timezone.now())
    client.post("/sign-in/", {"person": "marta"})

    def rows(query: str) -> list[str]:
        body = client.get(f"{J}limits/{query}").content.decode()
        table = body.partition("<table")[2].partition("</table>")[0]
        return [words_of(one) for one in re.findall(r"<tr>(.*?)</tr>", table, re.S)]

    def words_of(markup: str) -> str:
        return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", unescape(markup))).strip()

    assert "Gap 16 to 19 thou 7-4" in rows("")
    assert "Spark plugs 370 to 410 in-lb 7-8" in rows("")
    assert "Age, rubber max 60 months 4-8" in rows("")
    assert "Compression min master of the day, hot 5-2" in rows("")
    # What nobody put in stands apart from what the shop did, and says what it is.
    assert not any("Oil metals" in row for row in rows(""))
    hints = words(client.get(J + "limits/")).partition("Hints: general figures, not approved data")[
        2
    ]
    assert "Oil metals : a metal over 1.5 × its first samples (common practice, no source)" in hints
    assert "judges nothing" in hints and "Hints:" not in words(client.get(J + "limits/?none"))
    assert [row for row in rows("?q=GAP+7-4") if row.startswith("Gap")] == ["Gap 16 to 19 thou 7-4"]
    assert rows("?q=drop+left")[1:] == ["Drop on LEFT max 150 rpm from 1,700 rpm 9-3"]
    assert "Fuel pressure none" in rows("?none")
    assert not any(row.endswith("none") for row in rows(""))
    assert "No limit has “moon” in it." in words(client.get(J + "limits/?q=moon"))


def test_beside_what_nothing_judges_stands_the_way_to_its_limit(db, client):
    queries.forget()
    demo = read_folder(demo_path())
    files = dict(demo.files)
    files["engine.toml"] = files["engine.toml"].replace('job = "tv4-2207-2026"', 'job = "bare"')
    # One check with no limit, one with a limit that names no source.
    kept = [
        one for one in demo.files["limits.toml"].split("[[limit]]") if 'check = "gap"' not in one
    ]
    files["limits.toml"] = "[[limit]]".join(kept).replace(
        'check = "resistance"\nupper = "5000 ohm"\nshort = "out"\ndocument = "TV4 manual (invented)"',
        'check = "resistance"\nupper = "5000 ohm"\nshort = "out"',
    )
    services.load_folder(
        folder=JobFolder("bare", files, demo.entries, parse_files(files, "bare"), {}, ()),
        by="marta", at=timezone.now(),
    )  # fmt: skip
    client.post("/sign-in/", {"person": "marta"})
    number = next(n for n, one in enumerate(on_file()) if one.check == "resistance")
    for path, way in (
        (
            "tray/why/1T/gap/",
            f"{J}limits/new/plug/gap/?next=%2Fjobs%2Fbare%2Ftray%2F%3Fcheck%3Dgap",
        ),
        ("tray/why/1T/resistance/", f"{J}limits/{number}/?next="),
        ("plugs/K0411/", f"{J}limits/new/plug/gap/?next=%2Fjobs%2Fbare%2Fplugs%2FK0411%2F"),
        ("items/plug/K0411/read/gap/", f"{J}limits/new/plug/gap/?next="),
    ):
        body = unescape(client.get(J + path).content.decode())
        ways = re.findall(r'href="([^"]+)"\s*>ENTER THE LIMIT', body)
        assert any(one.startswith(way) for one in ways), (path, ways)
