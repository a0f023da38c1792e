"""A mechanic's walk on a phone, from eight plugs out to a signature, and the same by a helper.

It begins at the finished demo as it ships. Every act is a tap or a key on a page that a link of the
page before leads to; taps and keys are counted as a hand would make them.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from tests.browser.hands import Walk
from tests.pins import give_pins

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

JOB = "tv4-2207-finished"
J = f"/jobs/{JOB}/"
# Each has a PIN of their own, so that one is never taken for another's.
PINS = {"marta": "480713", "ilse": "352964", "tom": "716208"}
IN = {
    "1T": "L0418", "1B": "L0417", "2T": "N0703", "2B": "L0415",
    "3T": "N0701", "3B": "N0705", "4T": "N0702", "4B": "N0704",
}  # fmt: skip
OUT = {**IN, "3B": "L0411"}
WEATHER = {
    "Outside temperature": "50 F", "Altimeter setting": "30.01", "Dew point": "38 F",
    "Wind": "250 at 7", "Heading of the nose": "240",
}  # fmt: skip

# What settles something, of which a helper's book holds none of his own.
SETTLING = ("disagreed", "disposed", "called", "closed", "closed_short", "second_look", "complied")
# Counted on this walk, with nothing to spare: two runs of twelve steps are two thirds of it.
MOST_TAPS, MOST_KEYS = 233, 233


@pytest.fixture
def finished(board: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    """The finished demo on the board, on the afternoon of its last entry."""
    from rehang.book import services
    from rehang.sheets import demo_path
    from rehang.sheets.folder import read_folder

    start = datetime.now(UTC)
    then = datetime(2026, 11, 12, 20, 0, tzinfo=UTC)
    monkeypatch.setattr(
        "django.utils.timezone.now", lambda: then + (datetime.now(UTC) - start) + timedelta(hours=1)
    )
    services.load_folder(folder=read_folder(demo_path("finished")), by="marta", at=then)
    for person, pin in PINS.items():
        give_pins(person, pin=pin)
    return board


def _to_task(walk: Walk, title: str) -> None:
    """From any page to the page of a task: the rest of the job, its fold, the task."""
    walk.link("Rest of the job")
    walk.page.get_by_role("heading", name="Rest of the job").wait_for()
    card = walk.page.locator("a[href*='/tasks/']:not(.slot)").filter(
        has_text=re.compile(rf"^\s*{title}")
    )
    if not card.first.is_visible():
        walk.on(walk.page.locator("details").filter(has=card).locator("summary"))
    walk.on(card.first)
    walk.page.get_by_role("heading", name=title, exact=True).wait_for()


def _plugs_out(walk: Walk) -> None:
    for hole, serial in OUT.items():
        walk.tap(f"{serial} out of {hole}")
        walk.sees(f"{serial} came out of {hole}.")


def _dropped(walk: Walk) -> None:
    walk.link("L0411")
    walk.link("WRITE")
    walk.on(walk.page.locator('button[value="dropped"]'))
    walk.sees("L0411 (1T) was dropped.")


def _replaced_and_read(walk: Walk) -> None:
    """N0705 goes in for L0411, once its five checks are read."""
    walk.key(re.compile("Serial of its replacement"), "N0705")
    walk.tap("PUT IT IN ITS PLACE")
    walk.sees("N0705 goes in for L0411 at 3B.")
    walk.link("VERDICT")
    walk.on(walk.page.locator("a:visible", has_text="N0705").first)
    walk.link("WRITE")
    walk.tap(re.compile("^Normal: tan or grey, dry"))
    for check, label, written in (
        ("electrode left", "Electrode left", "100"),
        ("resistance", "Resistance", "1.02"),
        ("gap", "Gap", "17"),
    ):
        walk.link(f"READ IT {check}")
        walk.key(re.compile(f"^{label}, in"), written)
        walk.tap("KEEP IT")
        walk.page.get_by_role("link", name=f"READ IT {check}").wait_for(state="detached")
    walk.link("READ IT spark")
    walk.word("Steady")
    walk.tap("KEEP IT")
    walk.link("VERDICT")
    walk.sees("Every check asked for is WITHIN")


def _plugs_in(walk: Walk) -> None:
    for serial in IN.values():
        walk.tap(f"PUT IN {serial}")
        walk.sees(f"{serial} fitted at")


def _torqued(walk: Walk) -> None:
    walk.link("TORQUE Hole 1T")
    for hole in IN:
        walk.page.get_by_role("heading", name=f"Hole {hole}, {IN[hole]} is in: 0 of 1").wait_for()
        walk.on(walk.page.locator("#peg-1"))
        walk.page.get_by_role("heading", name=f"Hole {hole}, {IN[hole]} is in: 1 of 1").wait_for()
        if hole != "4B":
            walk.link(re.compile("^NEXT: HOLE"))


def _to_run(walk: Walk) -> None:
    walk.link("Bench board")
    walk.link("GROUND RUN")


def _run_begins(walk: Walk, number: int) -> None:
    for label, text in WEATHER.items():
        walk.key(label, text)
    walk.word("Tom Ferrick")
    walk.tap(f"BEGIN RUN {number}")


def _reads(walk: Walk, label: str, *figures: str, feel: str = "", heading: str = "") -> None:
    """Key one figure of the run, or two, and keep it."""
    fields = ["#k-written"] if len(figures) == 1 else ["#k-first", "#k-second"]
    for field, figure in zip(fields, figures, strict=True):
        walk.key_into(walk.page.locator(field), figure)
    if heading:
        walk.key_into(walk.page.locator("#k-heading"), heading)
    if feel:
        walk.word(feel)
    walk.tap(f"KEEP {label.upper()}")


def _runs(walk: Walk, *, oil: str) -> None:
    """The run card from its first step to its last; ``oil`` is what the look for oil sees."""
    for done in ("ALL OF IT IS SO", "IT RUNS", "PRESSURE SHOWS", "NOTHING LEAKS"):
        walk.tap(done)
    _reads(walk, "Oil temperature", "150")
    _reads(walk, "Oil pressure at idle", "38")
    walk.tap("WARM")
    _reads(walk, "Drop on right", "1700", "1622", feel="smooth")
    _reads(walk, "Drop on left", "1700", "1630", feel="smooth")
    walk.tap("BACK ON BOTH")
    _reads(walk, "Static speed, full throttle", "2292", heading="240")
    _reads(walk, "Static speed, full throttle", "2274", heading="060")
    _reads(walk, "Oil pressure at run-up", "75")
    _reads(walk, "Hottest cylinder head", "371")
    _reads(walk, "Fuel pressure", "5")
    walk.tap("BACK TO IDLE")
    walk.tap("FALLS, THEN STEADY")
    walk.tap("BACK TO COLD")
    _reads(walk, "Idle speed", "650")
    walk.tap("IDLE READ")
    walk.tap("DIES")
    walk.tap("BACK ON")
    _reads(walk, "Rise as the mixture is cut", "650", "684")
    walk.tap("STOPS CLEAN")
    walk.tap("IT HAS STOPPED")
    walk.tap("FITTINGS AND SCREWS TIGHT")
    for seen in (oil, "DRY AND TIGHT", "DRY AND TIGHT"):
        walk.tap(seen)
    walk.tap("LOOKED OVER")


def _run_ends(walk: Walk, number: int, hours: str) -> None:
    walk.key("Engine hours now", hours)
    walk.on(walk.page.get_by_text("It was at full temperature"))
    walk.tap(f"END RUN {number}")
    walk.page.get_by_role("heading", name=f"Run {number}").wait_for()


def _papers(walk: Walk) -> None:
    """What the reasons still ask for: the paper of N0705, and the shelf counted."""
    walk.link("Bench board")
    walk.link(re.compile("reasons not to return it"))
    walk.link(re.compile("^N0705, new in 3B, has no release document"))
    walk.key("Form", "Release form R1")
    walk.key("Number", "KS-45012")
    walk.tap("WRITE THE PAPERS")
    walk.link("Bench board")
    walk.link(re.compile("reasons not to return it"))
    walk.page.get_by_role("link", name=re.compile("^1 more Plug KS-R went in")).wait_for()
    assert walk.page.get_by_text("N0705, new in 3B, has no release document").count() == 0
    walk.link(re.compile("^1 more Plug KS-R went in"))
    for part in ("Plug KS-R", "Copper plug gasket"):
        shelf = walk.page.locator(
            "details", has=walk.page.locator("summary.bar", has_text="The shelf")
        )
        if shelf.get_attribute("open") is None:
            walk.on(shelf.locator("> summary"))
        row = shelf.locator("details").filter(has_text=f"COUNT {part}")
        walk.on(row.locator("summary"))
        walk.key_into(row.get_by_label("On the shelf now"), "4")
        walk.on(row.get_by_role("button", name="KEEP THE COUNT"))
        walk.sees(f"4 {part} on the shelf, counted.")


def test_mechanic_walks_from_eight_plugs_out_to_a_signature(
    finished: Any, record_property: Any
) -> None:
    page = finished.open(J)
    walk = Walk(page, PINS)
    walk.sees("0 reasons not to return it to service yet")
    with walk.leg("eight plugs out"):
        _to_task(walk, "Plugs in")
        _plugs_out(walk)
    with walk.leg("one dropped, scrapped, replaced and read"):
        _dropped(walk)
        walk.tap("MUTILATED")
        walk.pin("marta")
        walk.sees("L0411 was mutilated so that it cannot fly again.")
        _replaced_and_read(walk)
    with walk.leg("eight plugs in"):
        _to_task(walk, "Plugs in")
        _plugs_in(walk)
    with walk.leg("torqued"):
        _torqued(walk)
    with walk.leg("looked at by a second person"):
        _to_task(walk, "Plugs in")
        walk.tap("I LOOKED, IT IS RIGHT")
        walk.sees("Marta Oduya has no paper on file to give a second look. Ilse Karr has.")
        # Marta's own PIN is not Ilse's.
        walk.pin("marta")
        walk.sees("That is not the PIN or password of Ilse Karr.")
        walk.pin("ilse")
        walk.sees("Plugs in: second look given.")
    with walk.leg("leads on, and looked at"):
        _to_task(walk, "Leads on")
        for hole in IN:
            walk.tap(f"DONE lead {hole}")
            walk.sees(f"Leads on, lead {hole}: done.")
        walk.tap("I LOOKED, IT IS RIGHT")
        walk.pin("ilse")
        walk.sees("Leads on: second look given.")
    with walk.leg("run"):
        _to_run(walk)
        _run_begins(walk, 3)
        _runs(walk, oil="OIL LEAK")
        _run_ends(walk, 3, "926.2")
        walk.sees("Oil leak at run 3 is open.")
    with walk.leg("papers and shelf"):
        _papers(walk)
    with walk.leg("run again after the leak"):
        _to_run(walk)
        _run_begins(walk, 4)
        _runs(walk, oil="DRY AND TIGHT")
        _run_ends(walk, 4, "926.7")
    with walk.leg("annual written again, after its run"):
        walk.link("Bench board")
        walk.link(re.compile("reasons? not to return it"))
        walk.link(re.compile("^Annual inspection is written as done"))
        row = walk.page.locator("#due-annual details")
        walk.on(row.locator("summary"))
        walk.key_into(row.get_by_label("Your PIN"), PINS["marta"])
        walk.on(row.get_by_role("button", name="WRITE IT DOWN"))
    with walk.leg("signed"):
        walk.link("Bench board")
        walk.link(re.compile("reasons? not to return it"))
        walk.sees("No reason on these sheets stands against returning it")
        walk.link("THE RECORDS")
        walk.link("READ AND SIGN maintenance entry")
        walk.link("READ IT WHOLE, SIGN")
        walk.on(page.locator("#text > summary"))
        walk.sees("Spark plugs in: 1T L0418, 1B L0417, 2T N0703, 2B L0415, 3T N0701, 3B N0705")
        walk.sees("s/n N0705 (Release form R1 no. KS-45012)")
        walk.pin("marta", "SIGN")
        page.wait_for_url("**/record/signed/**")
    judged = finished.judged(JOB)
    assert judged.blockers == ()
    [one] = judged.signed
    assert (one.name, one.certificate, one.stands) == ("Marta Oduya", "DEMO-114", True)
    assert judged.work.tasks["H3"].look.given.by == "ilse"
    record_property("walk", walk.told())
    # What a hand does for all of it; a page that asks more of it is seen here.
    taps, keys = walk.counted()
    assert taps <= MOST_TAPS, walk.told()
    assert keys <= MOST_KEYS, walk.told()


def test_helper_is_refused_at_each_step_that_settles_something(finished: Any) -> None:
    page = finished.open(J, person="Tom")
    walk = Walk(page, PINS)
    refused = []

    def no(sentence: str) -> None:
        walk.sees(sentence)
        refused.append(sentence)

    def not_by_own_pin(button: str = "CONFIRM") -> None:
        """The form offers who may alone, and the helper's own PIN is not theirs."""
        walk.pin("tom", button)
        walk.page.get_by_text(re.compile("That is not the PIN or password of ")).first.wait_for()

    _to_task(walk, "Plugs in")
    _plugs_out(walk)
    _dropped(walk)
    # A verdict against the proposal.
    walk.link("VERDICT")
    walk.on(page.locator("summary", has_text="DISAGREE IN WRITING"))
    no("Tom Ferrick has no paper on file to decide against a proposal. Marta Oduya has.")
    walk.on(page.locator("#f-disagreed-verdict label", has_text="KEEP"))
    walk.key_into(page.locator("#f-disagreed-reason"), "it fell on the mat")
    walk.key_into(page.locator("#f-disagreed-pin"), PINS["tom"])
    walk.tap("DECIDE")
    walk.sees("That is not the PIN or password of Marta Oduya.")
    # What becomes of a reject.
    walk.link("WRITE")
    walk.tap("MUTILATED")
    no("Tom Ferrick has no paper on file to say what becomes of a part. Marta Oduya has.")
    not_by_own_pin()
    walk.link("NOT NOW")
    # What he may write as any of the crew: its replacement, five readings, and eight plugs in.
    _replaced_and_read(walk)
    _to_task(walk, "Plugs in")
    _plugs_in(walk)
    # Torque on his own.
    walk.link("TORQUE Hole 1T")
    walk.on(page.locator("#peg-1"))
    no(
        "Tom Ferrick has no paper on file to torque alone. Write under whose supervision it was "
        "done: Marta Oduya or Ilse Karr."
    )
    # Under a mechanic whom he names he may; the book says under whom.
    page.get_by_label("You work under").select_option("marta")
    walk.tap("SET", exact=True)
    _to_task(walk, "Plugs in")
    _torqued(walk)
    [*_, torqued] = [e for e in finished.judged(JOB).state.live() if e.kind == "torqued"]
    assert (torqued.by, torqued.fields.under) == ("tom", "marta")
    # The second look at it.
    _to_task(walk, "Plugs in")
    walk.tap("I LOOKED, IT IS RIGHT")
    no("Tom Ferrick has no paper on file to give a second look. Ilse Karr has.")
    not_by_own_pin()
    walk.link("NOT NOW")
    # A task closed short.
    _to_task(walk, "Magnetos inside")
    walk.on(page.locator("summary", has_text="STOP THIS TASK"))
    no("Tom Ferrick has no paper on file to close a task short. Marta Oduya has.")
    walk.key("Reason", "not asked for")
    not_by_own_pin("CLOSE IT SHORT")
    # What is due, declared done.
    walk.link("Bench board")
    walk.link(re.compile("reasons not to return it"))
    walk.link("NEXT DUE")
    walk.on(page.locator("summary", has_text="annual inspection"))
    no("Tom Ferrick has no paper on file to say that a due item is done. Marta Oduya has.")
    # The records, as far as they go; the list for the owner is ready to be signed.
    walk.link("Bench board")
    walk.link(re.compile("reasons not to return it"))
    walk.link("LIST FOR THE OWNER")
    walk.link("READ IT WHOLE, SIGN")
    no("Tom Ferrick has no paper on file to sign the list of discrepancies. Marta Oduya has.")
    not_by_own_pin("SIGN")
    assert len(refused) == 7
    judged = finished.judged(JOB)
    settled = [e.kind for e in judged.state.live() if e.by == "tom" and e.kind in SETTLING]
    assert settled == []
    assert judged.signed == ()
    assert judged.work.tasks["H3"].look.waits


def test_helper_signs_no_entry_though_nothing_stands_against_it(finished: Any) -> None:
    page = finished.open(J, person="Tom")
    walk = Walk(page, PINS)
    for what, named in (("maintenance", "maintenance entry"), ("inspection", "inspection entry")):
        walk.link("Bench board")
        walk.link("0 reasons not to return it to service yet")
        walk.link("THE RECORDS")
        walk.link(f"READ AND SIGN {named}")
        walk.link("READ IT WHOLE, SIGN")
        walk.sees(f"Tom Ferrick has no paper on file to sign the {named}. Marta Oduya has.")
        # Who may is Marta alone: no other name is offered, and his own PIN is not hers.
        offered = page.get_by_label("Who").locator("option").all_inner_texts()
        assert offered == ["Marta Oduya"], what
        walk.pin("tom", "SIGN")
        walk.sees("That is not the PIN or password of Marta Oduya.")
    assert finished.judged(JOB).signed == ()
