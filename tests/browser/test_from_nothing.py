"""From an empty data folder to a printed, signed record of an engine that is no demo, on a phone.

Everything that a person does is a tap or a key on a page that the page before leads to. What is done
to eight leads alike is done to the first by touch; the forms of the others are filled in as they stand.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest

from tests.browser.conftest import Board
from tests.browser.hands import Hands, Walk, settled
from tests.hand import Hand

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PINS = {"ada": "480713", "bo": "352964"}
MODEL = "Quarrow V4 (invented)"
SERIALS = ("Q101", "Q102", "Q103", "Q104", "Q105", "Q106", "Q107", "Q108")
OHMS = ("1.18", "1.29", "1.24", "1.29", "1.64", "1.05", "1.41", "1.33")
GAPS = ("18", "17", "18", "17", "16", "17", "18", "18")
WEATHER = {
    "Outside temperature": "50 F", "Altimeter setting": "30.01", "Wind": "calm",
    "Heading of the nose": "240",
}  # fmt: skip
# The limits of the run in the order in which one leads to the next: not below, not above, or a word.
RUN_LIMITS = (
    ("", "30", ""), ("25", "90", ""), ("60", "90", ""), ("100", "245", ""), ("", "435", ""),
    ("3", "8", ""), ("50", "150", ""), ("50", "150", ""), ("", "50", ""), ("2200", "2350", ""),
    ("550", "700", ""), ("25", "50", ""), ("", "", "falls"), ("", "", "dies"), ("", "", "stops"),
)  # fmt: skip
# What a hand and a head need for a tap and a key: pointing and thinking, and a key of random letters
# (keystroke-level model, Card, Moran and Newell 1980, from memory).
TAP_S, KEY_S = 1.1 + 1.35, 0.5


def minutes(taps: int, keys: int) -> float:
    """The minutes of a hand at so many taps and keys."""
    return (taps * TAP_S + keys * KEY_S) / 60


@pytest.fixture
def empty(live_server: Any, browser: Any) -> Iterator[Board]:
    """A live board with nothing behind it: no shop, no job, no person."""
    from rehang.book import models, queries

    queries.forget()
    assert not models.Job.objects.exists()
    assert not models.Member.objects.exists()
    one = Board(live_server.url, browser)
    yield one
    one.close()
    assert one.problems == []


def _phone(board: Board) -> Any:
    page = board.context((390, 844)).new_page()
    page.on("pageerror", lambda error: board.problems.append(str(error)))
    return page


def _press(walk: Walk, name: str | re.Pattern[str], *, exact: bool = True) -> None:
    walk.go(walk.page.get_by_role("button", name=name, exact=exact).first)


def _follow(walk: Walk, name: str | re.Pattern[str], *, exact: bool = False) -> None:
    walk.go(walk.page.get_by_role("link", name=name, exact=exact).locator("visible=true").first)


def _new_meter(walk: Walk, what: str = "") -> None:
    """A link where nothing is typed yet, a button of the form where it is taken along."""
    said = re.compile(f"NEW\\s+METER\\s*{what}", re.IGNORECASE)
    walk.go(walk.page.locator("a, button").filter(has_text=said, visible=True).first)


def _pick(walk: Walk, label: str, value: str) -> None:
    """Pick from a list: one tap opens it, one picks."""
    walk.page.get_by_label(label, exact=True).locator("visible=true").first.select_option(value)
    walk.count(2)


def _task(walk: Walk, title: str) -> None:
    """From any page to the page of a task: the rest of the job, its fold, the task."""
    walk.go(walk.page.locator(".foot-bar").get_by_role("link", name="Rest"))
    card = walk.page.locator("a[href*='/tasks/']:not(.slot)").filter(
        has_text=re.compile(rf"^\s*{title}")
    )
    if not card.first.is_visible():
        walk.on(walk.page.locator("details").filter(has=card).locator("summary").first)
    walk.go(card.first)
    walk.page.get_by_role("heading", name=title, exact=True).wait_for()


def _done(walk: Walk, title: str) -> None:
    _task(walk, title)
    _press(walk, "DONE")
    walk.sees(f"{title}: done.")


def _looked(walk: Walk) -> None:
    """The other person looks, and shows it by a PIN of their own on the same phone."""
    _press(walk, "I LOOKED, IT IS RIGHT")
    walk.key("Your PIN", PINS["bo"])
    _press(walk, "CONFIRM")
    walk.sees("second look given.")


def _by_pin(walk: Walk) -> None:
    """What changes the shop's facts asks for the PIN once in ten minutes."""
    if walk.page.get_by_role("heading", name=re.compile("takes a PIN$")).count():
        walk.key("Your PIN", PINS["ada"])
        _press(walk, "CONFIRM")


def _meter(walk: Walk, make: str, name: str, **label: str) -> None:
    """Put a meter on file where it is missed, with what its label says."""
    _follow(walk, make)
    walk.key("Id on the meter", name)
    for words, text in label.items():
        walk.key(words.replace("_", " "), text)
    walk.key("Calibration due", "2099-05")
    _press(walk, "FILE IT")
    _by_pin(walk)


def _limit(walk: Walk, low: str, high: str, word: str = "", *, then: str) -> None:
    if low:
        walk.key("Not below", low)
    if high:
        walk.key("Not above", high)
    if word:
        walk.on(walk.page.locator(".pick label").filter(has_text=word).first)
    _press(walk, then)
    _by_pin(walk)


# The legs of the walk, as they come


def _begins_the_shop(walk: Walk, board: Board) -> None:
    walk.page.goto(board.url)
    walk.page.get_by_role("heading", name="Begin your shop").wait_for()
    walk.key("Name of the shop", "North shed (invented)")
    walk.key("Your name", "Ada Lind")
    _pick(walk, "Paper", "mechanic")
    walk.key("Number", "INV-77")
    walk.key("Issued by", "Invented authority")
    walk.key("PIN", PINS["ada"])
    walk.key("The same again", PINS["ada"])
    _press(walk, "BEGIN")


def _begins_a_job(walk: Walk, serial: str) -> None:
    walk.key("Serial", serial)
    walk.key("Model", MODEL)
    walk.on(walk.page.locator("label", has=walk.page.locator('input[value="opposed-4"]')))
    _pick(walk, "Why did it come off?", "spark plugs")
    _press(walk, "BEGIN THE JOB")
    walk.sees("The job has begun.")


def _plugs_out(walk: Walk, serials: tuple[str, ...]) -> None:
    _follow(walk, "PLUGS OUT")
    walk.on(walk.page.locator('.out-field input[name="1T"]'))
    for serial in serials:
        begun = walk.page.locator(".out-field input:focus").input_value()
        assert serial.startswith(begun)
        walk.page.keyboard.type(serial[len(begun) :])
        walk.page.keyboard.press("Enter")
        walk.count(0, len(serial) - len(begun) + 1)
    _press(walk, "THESE CAME OUT")
    walk.sees("8 plugs came out of their holes.")


def _to_the_pad(walk: Walk) -> Hands:
    _follow(walk, "READ THEM NOW")
    walk.page.wait_for_selector("body[data-ready=yes]")
    return Hands(walk.page)


def _first_reading(walk: Walk) -> None:
    hands = _to_the_pad(walk)
    hands.word("look", "normal")
    walk.count(hands.taps)
    settled(walk.page)


def _limits_of_a_plug(walk: Walk) -> None:
    """NOT JUDGED leads to its limit, and that to the next; the source is typed once."""
    _follow(walk, "WHY")
    _follow(walk, "ENTER THE LIMIT")
    walk.key("Document", "Quarrow V4 book (invented)")
    walk.key("Revision", "3")
    walk.key("Page", "7-4")
    walk.on(walk.page.locator(".pick label").filter(has_text="1, noted").first)
    _press(walk, re.compile(r"^THE SAME FOR \d+ OTHER LOOKS"), exact=False)
    _by_pin(walk)
    walk.sees(re.compile(r"So are \d+ other looks\."))
    _limit(walk, "50", "", then="FILE IT, NEXT")
    _limit(walk, "", "5", then="FILE IT, NEXT")
    _limit(walk, "16", "19", then="FILE IT, NEXT")
    walk.key("At this pressure", "100")
    _limit(walk, "", "", "steady", then="FILE IT, NEXT")
    _limit(walk, "", "", "continuous", then="FILE IT, NEXT")
    _limit(walk, "", "", "no leak", then="FILE IT, BACK")


def _bench(walk: Walk) -> None:
    """The plugs are looked at as they came, cleaned, and seven holes have their threads looked at."""
    page = walk.page
    page.wait_for_selector("body[data-ready=yes]")
    # The way back from the limit is to the next plug, and not to the one that was read.
    assert page.locator("[data-at-hole]").first.inner_text() == "1B"
    hands = Hands(page)
    for _ in SERIALS[1:]:
        hands.word("look", "normal")
    walk.count(hands.taps)
    settled(page)
    walk.go(page.locator('a:has-text("READ IT BACK"):visible'))
    for title in ("Engine and records identified", "Photographs, tags and blanks",
                  "Engine on the stand", "Leads off"):  # fmt: skip
        _done(walk, title)
    for title, act in (
        ("Plugs degreased, lead out, dried", "ALL 8 CLEANED"),
        ("Plugs blasted", "ALL 8 BLASTED AND BLOWN OUT"),
        ("Plug threads and contacts cleaned", "ALL 8 CLEANED AT ITS CONTACT"),
        ("Blanks in the plug holes", "ALL 8 BLANKS IN"),
    ):
        _task(walk, title)
        _press(walk, act)
        walk.sees("8 of 8 done")
    _task(walk, "Hole threads")
    for _ in SERIALS:
        walk.go(page.get_by_role("button", name="CLEAN AND SOUND").first)
    walk.sees("8 of 8 done")


def _reads_the_plugs(walk: Walk) -> None:
    """Five checks of eight plugs; each meter is put on file where the pad misses it."""
    page = walk.page
    walk.go(page.locator(".foot-bar").get_by_role("link", name="Tray"))
    page.wait_for_selector("body[data-ready=yes]")
    hands = Hands(page)

    def new_meter(make: str, name: str, **label: str) -> None:
        settled(page)
        page.get_by_text("Which meter is in your hand?").wait_for()
        _new_meter(walk)
        _meter(walk, make, name, **label)
        page.wait_for_selector("body[data-ready=yes]")
        # It is in the hand already; a spark's pressure is still to be said.
        if page.locator('[data-face="no-meter"]').is_visible():
            hands.meter(name)

    for _ in SERIALS:
        hands.word("look", "normal")
    hands.next_test()
    for _ in SERIALS:
        hands.word("electrode", "over half left")
    hands.next_test()
    new_meter("Digital ohmmeter", "M1", Largest_figure="20", Worth_of_the_last_digit="0.01",
              Good_to_="0.8", and_last_digits="2")  # fmt: skip
    for ohms in OHMS:
        hands.read(ohms)
    hands.next_test()
    new_meter("Wire gauges", "W1", From_one_wire_to_the_next="1")
    for gap in GAPS:
        hands.read(gap)
    hands.next_test()
    new_meter("Spark bench", "S1")
    for _ in SERIALS:
        hands.word("spark", "steady")
    settled(page)
    walk.count(hands.taps)
    walk.go(page.locator('a:has-text("READ IT BACK"):visible'))


def _second_person(walk: Walk, board: Board) -> None:
    """Bo comes on the list with a paper, gets a code, and picks a PIN on a phone of his own."""
    page = walk.page
    walk.on(page.locator(".foot-more summary"))
    walk.go(page.locator(".foot-places").get_by_role("link", name=re.compile(r"On\s+file")))
    _follow(walk, "People")
    _follow(walk, "ADD PERSON")
    walk.key("Short name", "bo")
    walk.key_into(page.get_by_label("Name", exact=True), "Bo Strand (invented)")
    walk.on(page.locator("summary:visible", has_text="ADD CERTIFICATE").first)
    _pick(walk, "Kind", "shop inspector")
    walk.key("Number", "INV-2")
    walk.key("Issued by", "North shed (invented)")
    _press(walk, "FILE IT")
    _by_pin(walk)
    _follow(walk, "PINS AND CODES")
    walk.on(page.locator("summary", has_text="CHANGE"))
    walk.key("Your own PIN", PINS["ada"])
    _press(walk, "GIVE A ONE-TIME CODE", exact=False)
    code = page.locator("p.big.mono").inner_text()
    his = Walk(_phone(board), PINS)
    with his.leg("code"):
        his.page.goto(board.url)
        _follow(his, "I HAVE A ONE-TIME CODE")
        his.key("Sign-in name", "bo")
        his.key("Code", code)
        his.key("New PIN or password", PINS["bo"])
        his.key("The same again", PINS["bo"])
        _press(his, "SET IT")
    walk.count(*his.counted())
    his.page.context.close()


def _decided_and_leads(walk: Walk, board: Board, job: str) -> None:
    page = walk.page
    page.goto(f"{board.url}{job}")
    _done(walk, "Plugs decided and tagged")
    _looked(walk)
    _task(walk, "Ignition leads")
    for _ in SERIALS:
        walk.go(page.get_by_role("button", name="SOUND").first)
    _follow(walk, "READ CONTINUITY")
    _new_meter(walk)
    _meter(walk, "Lead tester", "L1")
    for check, word in (("CONTINUITY", "Continuous"), ("HIGH-VOLTAGE LEAK", "No leak")):
        if check != "CONTINUITY":
            _follow(walk, f"READ {check}")
        walk.on(page.locator(".pick label").filter(has_text=word).first)
        _meter_in_hand(walk)
        _press(walk, "KEEP IT")
    # No page asks for anything meanwhile.
    page.goto("about:blank")
    _alike(walk, job)
    page.goto(f"{board.url}{job}tasks/E1/")
    walk.sees("8 of 8 done")


def _meter_in_hand(walk: Walk) -> None:
    """Choose the meter where nobody has chosen one for this check yet: it is not guessed."""
    meter = walk.page.locator('select[name="meter"]:visible')
    if meter.count() and meter.first.input_value().strip("|") == "":
        meter.first.select_option(index=1)
        walk.count(2)


def _alike(walk: Walk, job: str) -> None:
    """The other seven leads: the same forms, by the same person, at the same visit."""
    from django.conf import settings
    from django.test import Client

    client = Client()
    name = settings.SESSION_COOKIE_NAME
    [cookie] = [one for one in walk.page.context.cookies() if one["name"] == name]
    client.cookies[name] = cookie["value"]
    hand = Hand(client)
    for hole in ("1B", "2T", "2B", "3T", "3B", "4T", "4B"):
        for check, word in (("continuity", "continuous"), ("leak", "no leak")):
            hand.open(f"{job}items/lead/{hole}/read/{check}/")
            hand.pick("written", word)
            assert any(picked for value, picked in hand.form["pick"]["meter"].items() if value)
            hand.press()
            assert hand.page.status_code == 200
    walk.count(hand.taps, hand.keys)


def _torqued(walk: Walk, low: str, high: str, number: int) -> None:
    """A card whose range is entered where it is missed, and each fastener as it clicks."""
    _follow(walk, "ENTER THE LIMIT")
    _limit(walk, low, high, then="FILE IT, BACK")
    if walk.page.get_by_text("No wrench is on file.").count():
        _new_meter(walk)
        _wrench(walk)
    for one in range(1, number + 1):
        _clicks(walk, one, number)


def _clicks(walk: Walk, one: int, of: int) -> None:
    walk.on(walk.page.locator(f"#peg-{one}"))
    walk.page.locator("#tq-do").get_by_text(f"{one} of {of}").first.wait_for()


def _wrench(walk: Walk) -> None:
    for label, text in (("Id on the meter", "T1"), ("Lowest on its scale", "150"),
                        ("Highest on its scale", "750"), ("Good to", "4"),
                        ("Calibration due", "2099-05")):  # fmt: skip
        walk.key(label, text)
    _press(walk, "FILE IT")
    _by_pin(walk)


def _hung(walk: Walk) -> None:
    _task(walk, "Mount bolts and isolators")
    walk.go(walk.page.get_by_role("button", name=re.compile("^SOUND")).first)
    _looked(walk)
    _follow(walk, "TORQUE")
    _torqued(walk, "260", "300", 4)
    _done(walk, "Engine hung")
    _task(walk, "Hoses on")
    walk.sees("No hose is on file: their age is not known.")
    _press(walk, "DONE")
    _looked(walk)
    _task(walk, "Controls")
    walk.go(walk.page.get_by_role("button", name=re.compile("^SOUND")).first)
    _looked(walk)
    _done(walk, "Electrical, starter and P-leads")
    _task(walk, "Engine-to-mount bolts")
    _press(walk, "START", exact=False)
    _looked(walk)
    _follow(walk, "TORQUE")
    _torqued(walk, "300", "360", 4)
    _done(walk, "Oil in")
    _done(walk, "Pre-oiled")


def _closed(walk: Walk) -> None:
    page = walk.page
    _task(walk, "Plugs in")
    for _ in SERIALS:
        walk.go(page.get_by_role("button", name=re.compile("^PUT IN ")).first)
    _follow(walk, "TORQUE Hole 1T")
    _torqued(walk, "360", "420", 1)
    for _ in SERIALS[1:]:
        walk.go(page.get_by_role("link", name=re.compile("^NEXT: HOLE")))
        _clicks(walk, 1, 1)
    _task(walk, "Plugs in")
    _looked(walk)
    _task(walk, "Leads on")
    _press(walk, "ALL 8 DONE")
    _looked(walk)
    # The propeller stayed on this engine: that is no task of this job.
    walk.go(page.locator(".foot-bar").get_by_role("link", name="Rest"))
    _follow(walk, "WHICH TASKS")
    stage = page.locator("details.fold", has=page.locator("label", has_text="Propeller on"))
    if stage.get_attribute("open") is None:
        walk.on(stage.locator("summary"))
    walk.on(page.get_by_role("checkbox", name="Propeller on"))
    _press(walk, "KEEP THIS LIST")
    _by_pin(walk)
    walk.sees("18 are left out")
    _task(walk, "Count-in")
    walk.on(page.locator("summary:visible", has_text="COUNT OUT OR IN"))
    walk.key("What, as blanks", "blanks")
    walk.key("How many", "8")
    _press(walk, "COUNTED IN")
    _press(walk, "DONE")
    _looked(walk)


def _ready_to_run(walk: Walk) -> None:
    """What the run would be read on and judged by is entered before it."""
    _task(walk, "First ground run")
    _follow(walk, "GROUND RUN")
    for what, make, name, label in (
        ("oil pressure shows", "Stopwatch", "C1", {"Good_to_": "0.5"}),
        ("oil pressure at idle", "Pressure gauge", "P1", {"Full_scale": "100", "of_full_scale": "2"}),
        ("oil temperature", "Oil or head", "H1", {"Smallest_step": "5", "Good_to_": "5"}),
        ("drop on", "Tachometer", "R1", {"Smallest_step": "2", "Good_to_": "5"}),
    ):  # fmt: skip
        _new_meter(walk, f"for {what}")
        _meter(walk, make, name, **label)
    _follow(walk, "ENTER THE LIMITS")
    for number, (low, high, word) in enumerate(RUN_LIMITS, start=1):
        last = number == len(RUN_LIMITS)
        _limit(walk, low, high, word, then="FILE IT, BACK" if last else "FILE IT, NEXT")
    walk.page.get_by_role("heading", name="Run 1").wait_for()


def _reads(walk: Walk, label: str, *figures: str, feel: str = "", heading: str = "") -> None:
    fields = ["#k-written"] if len(figures) == 1 else ["#k-first", "#k-second"]
    for field, figure in zip(fields, figures, strict=True):
        walk.key_into(walk.page.locator(field), figure)
    if heading:
        walk.key_into(walk.page.locator("#k-heading"), heading)
    if feel:
        walk.on(walk.page.locator(".pick label").filter(has_text=feel).first)
    _meter_in_hand(walk)
    _press(walk, f"KEEP {label.upper()}")


def _runs(walk: Walk) -> None:
    for label, text in WEATHER.items():
        walk.key(label, text)
    walk.on(walk.page.locator("label", has_text="Bo Strand"))
    _press(walk, "BEGIN RUN 1", exact=False)
    for done in ("ALL OF IT IS SO", "IT RUNS"):
        _press(walk, done, exact=False)
    # Below one second nobody has read a pressure: what is read sooner is not believed.
    walk.page.locator("[data-secs]").filter(has_text=re.compile(r"^\s*([2-9]|\d\d)")).wait_for()
    for done in ("PRESSURE SHOWS", "NOTHING LEAKS"):
        _press(walk, done, exact=False)
    _reads(walk, "Oil temperature", "150")
    _reads(walk, "Oil pressure at idle", "38")
    _press(walk, "WARM", exact=False)
    _reads(walk, "Drop on right", "1700", "1622", feel="smooth")
    _reads(walk, "Drop on left", "1700", "1630", feel="smooth")
    _press(walk, "BACK ON BOTH", exact=False)
    _reads(walk, "Static speed, full throttle", "2292", heading="240")
    _reads(walk, "Static speed, full throttle", "2274", heading="060")
    _reads(walk, "Oil pressure at run-up", "75")
    _reads(walk, "Hottest cylinder head", "371")
    for done in ("BACK TO IDLE", "FALLS, THEN STEADY", "BACK TO COLD"):
        _press(walk, done, exact=False)
    _reads(walk, "Idle speed", "650")
    for done in ("IDLE READ", "DIES", "BACK ON"):
        _press(walk, done, exact=False)
    _reads(walk, "Rise as the mixture is cut", "650", "684")
    for done in ("STOPS CLEAN", "IT HAS STOPPED", "FITTINGS AND SCREWS TIGHT", "DRY AND TIGHT",
                 "DRY AND TIGHT", "DRY AND TIGHT", "LOOKED OVER"):  # fmt: skip
        _press(walk, done, exact=False)
    walk.on(walk.page.get_by_text("It was at full temperature"))
    _press(walk, "END RUN 1", exact=False)
    walk.sees("Every reading stands.")


def _nothing_left(walk: Walk) -> None:
    """What the reasons still ask for: what was used up, and that the run was the task."""
    page = walk.page
    _done(walk, "First ground run")
    walk.go(page.locator(".foot-bar").get_by_role("link", name="Board"))
    _follow(walk, re.compile("reasons? not to return it"))
    _follow(walk, re.compile("^Not written as used"))
    walk.on(page.locator("summary:visible", has_text="NOT NEEDED").first)
    walk.key("Why", "plain blanks went in")
    _press(walk, "IT WAS NOT NEEDED")
    walk.go(page.get_by_role("button", name=re.compile(r"^ALL \d+ USED$")))
    walk.go(page.locator(".foot-bar").get_by_role("link", name="Board"))
    _follow(walk, "0 reasons not to return it to service yet")


def _signed(walk: Walk, board: Board) -> bytes:
    _follow(walk, "THE RECORDS")
    _follow(walk, "READ AND SIGN maintenance entry")
    _follow(walk, "READ IT WHOLE, SIGN")
    walk.on(walk.page.locator("summary:visible", has_text="The whole text").first)
    walk.sees("Spark plugs out: 1T Q101, 1B Q102")
    walk.sees("who works the engine Ada Lind, who watches Bo Strand (invented)")
    walk.key("Your PIN", PINS["ada"])
    _press(walk, "SIGN")
    walk.page.wait_for_url("**/record/signed/**")
    link = walk.page.get_by_role("link", name="PRINT ON LETTER")
    walk.count(1)
    printed = walk.page.request.get(board.url + link.get_attribute("href"))
    assert printed.status == 200
    return bytes(printed.body())


def _told(walk: Walk) -> list[str]:
    rows = [f"{'step':<34}{'taps':>6}{'keys':>6}{'by hand, min':>14}{'machine, s':>12}"]
    for name, (taps, keys) in walk.legs.items():
        rows.append(
            f"{name:<34}{taps:>6}{keys:>6}{minutes(taps, keys):>14.1f}{walk.seconds[name]:>12.1f}"
        )
    taps, keys = walk.counted()
    rows.append(
        f"{'all':<34}{taps:>6}{keys:>6}{minutes(taps, keys):>14.1f}{sum(walk.seconds.values()):>12.1f}"
    )
    return rows


FIRST = ("the shop and who keeps it", "new job", "plugs out", "first reading")
SECOND = ("second engine: new job", "second engine: plugs out", "second engine: first reading")


def test_an_empty_folder_becomes_a_printed_signed_record_on_a_phone(
    empty: Board, request: Any, record_property: Any, capsys: Any
) -> None:
    walk = Walk(_phone(empty), PINS)
    with walk.leg(FIRST[0]):
        _begins_the_shop(walk, empty)
    with walk.leg(FIRST[1]):
        _begins_a_job(walk, "V4-0042")
    job = "/jobs/" + walk.page.url.rstrip("/").rpartition("/")[2] + "/"
    with walk.leg(FIRST[2]):
        _plugs_out(walk, SERIALS)
    with walk.leg(FIRST[3]):
        _first_reading(walk)
    with walk.leg("limits of a plug and a lead"):
        _limits_of_a_plug(walk)
    with walk.leg("seen, cleaned, threads, blanks"):
        _bench(walk)
    with walk.leg("plugs read, three meters"):
        _reads_the_plugs(walk)
    with walk.leg("second person, code and PIN"):
        _second_person(walk, empty)
    with walk.leg("decided, looked at; leads"):
        _decided_and_leads(walk, empty, job)
    with walk.leg("hung, two torques, oil in"):
        _hung(walk)
    with walk.leg("plugs, leads, which tasks, count"):
        _closed(walk)
    with walk.leg("four meters, limits of the run"):
        _ready_to_run(walk)
    with walk.leg("run"):
        _runs(walk)
    with walk.leg("what the reasons ask for"):
        _nothing_left(walk)
    with walk.leg("read whole, signed, printed"):
        printed = _signed(walk, empty)
    with walk.leg(SECOND[0]):
        walk.page.goto(f"{empty.url}/new-job/")
        _follow(walk, "ANOTHER ENGINE")
        _begins_a_job(walk, "V4-0077")
    with walk.leg(SECOND[1]):
        _plugs_out(walk, tuple(one.replace("Q1", "R2") for one in SERIALS))
    with walk.leg(SECOND[2]):
        _first_reading(walk)
    told = _told(walk)
    record_property("walk", "\n".join(told))
    terminal = request.config.pluginmanager.get_plugin("terminalreporter")
    if terminal is not None:
        with capsys.disabled():
            terminal.write_line("\n" + "\n".join(told))
    assert printed.startswith(b"%PDF")
    judged = empty.judged(job.split("/")[2])
    [one] = judged.signed
    assert (one.name, one.certificate, one.stands) == ("Ada Lind", "INV-77", True)
    assert judged.blockers == ()
    assert judged.work.tasks["H3"].look.given.by == "bo"
    second = empty.judged(walk.page.url.split("/jobs/")[1].split("/")[0])
    # What the first engine's book said of its limits judges the second of its model.
    assert second.at("1T").call("look").call == "WITHIN"
    _hold_to_the_goals(walk)


def _hold_to_the_goals(walk: Walk) -> None:
    def of(legs: tuple[str, ...]) -> tuple[int, int]:
        return (sum(walk.legs[one][0] for one in legs), sum(walk.legs[one][1] for one in legs))

    # With no meter and no limit on file, and for the second engine: the goals that were set.
    assert minutes(*of(FIRST)) < 10, of(FIRST)
    taps, keys = of(SECOND)
    assert minutes(taps, keys) < 2, (taps, keys)
    assert taps < 40, taps
