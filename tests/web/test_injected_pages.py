"""An injected six on the pages: from a new engine to what it carries, reads and is asked for."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from html import unescape

import pytest

from rehang.sheets.folder import JobFolder, parse_book, parse_files
from tests.trade.injected import Injected
from tests.web.test_begin import ENGINE, begun, board, empty, job_at  # noqa: F401

AT = datetime(2026, 11, 3, 12, 0, tzinfo=UTC)
J = "/jobs/sx6-injected/"
CARRIED = {
    "purpose": "annual or 100-hour", "fuel_system": "injection",
    "accessory1_kind": "vacuum-pump", "accessory1_serial": "VP-1", "accessory1_hours": "480",
    "accessory2_kind": "propeller", "accessory2_serial": "PR-1",
    "accessory3_kind": "fuel-pump", "accessory3_name": "boost", "accessory3_serial": "FP-2",
}  # fmt: skip


def text_of(answer) -> str:
    body = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", unescape(body)).strip()


def load(job: Injected) -> None:
    from rehang.book import queries, services

    queries.forget()
    facts = parse_files(job.files, "injected")
    entries, _ = parse_book("".join(f"{one}\n" for one in job.lines()), facts.people)
    services.load_folder(
        folder=JobFolder(
            name="sx6-injected", files=job.files, entries=tuple(entries), facts=facts, where={}, notices=()
        ),
        by="marta",
        at=AT,
    )  # fmt: skip


@pytest.fixture
def marta(db, client):
    load(Injected())
    assert client.post("/sign-in/", {"person": "marta"}).status_code == 303
    return client


def judged():
    from rehang.book import queries

    return queries.judged(queries.job("sx6-injected"))


def test_a_new_engine_is_begun_with_what_it_carries_and_how_its_fuel_is_metered():
    from rehang.book import queries

    client = begun()
    address = board(client, **CARRIED)
    facts = queries.facts(job_at(address))
    assert facts.fuel_system == "injection"
    pump = facts.accessories["vacuum-pump:vacuum-pump"]
    # Hours are those of today, when the engine has what was typed of it.
    assert (pump.hours, pump.engine_hours) == (480, 512.3)
    assert list(facts.accessories) == [
        "vacuum-pump:vacuum-pump", "propeller:propeller", "fuel-pump:boost",
    ]  # fmt: skip
    assert {"injector", "fuel", "induction", "vacuum-pump", "propeller"} <= {*facts.inspect}
    page = text_of(client.get(f"{address}engine/"))
    assert "Fuel is metered by injection." in page
    assert "Vacuum pump s/n VP-1, 480.0 h" in page and "Fuel pump, boost s/n FP-2" in page
    tasks = text_of(client.get(f"{address}rest/"))
    assert "Propeller track and indexing" in tasks and "injectors run" in tasks


def test_a_job_that_says_nothing_of_its_fuel_says_that_it_does_not_know():
    client = begun()
    address = board(client, purpose="annual or 100-hour")
    page = text_of(client.get(f"{address}engine/"))
    assert (
        "Not on file what meters its fuel, carburettor or injection: carburettor heat is asked"
        in page
    )
    assert "injectors run" not in text_of(client.get(f"{address}rest/"))


def test_an_accessory_without_its_kind_is_asked_for_it_and_nothing_is_kept():
    from rehang.book import queries

    client = begun()
    answer = client.post("/new-job/engine/", ENGINE | {"accessory1_serial": "X-1"})
    assert answer.status_code == 422
    assert "Pick what the accessory is." in text_of(answer)
    assert list(queries.jobs(put_away=None)) == []


def test_the_fuel_system_and_an_accessory_are_written_with_what_is_on_file(marta):
    page = marta.get(f"{J}facts/accessory/")
    assert page.status_code == 200 and "VP-2209" in text_of(page)
    one = marta.get(f"{J}facts/accessory/of/vacuum-pump/")
    assert one.status_code == 200 and "Due at so many of its hours" in text_of(one)
    engine = text_of(marta.get(f"{J}facts/engine/"))
    assert "Fuel is metered by" in engine


def test_the_record_and_what_comes_due_tell_the_pump_and_the_propeller(marta):
    record = text_of(marta.get(f"{J}record/maintenance/"))
    assert "Magnetos inside" in record and "Fuel and accessories" in record
    due = text_of(marta.get(f"{J}due/"))
    assert "Vacuum pump, s/n VP-2209: 500 h of its own" in due and "29.6 h left" in due


# A page of the job, and what it must tell.
PAGES = {
    "items/magneto/left/": ("E-gap, points opening", "Impulse coupling, lag", "within"),
    "items/injector/3/": ("From the mean of all", "under the mean of 6"),
    "items/propeller/propeller/": ("Track, one blade against another",),
    "items/propeller/propeller/write/": ("The propeller is live",),
    "items/magneto/left/write/": ("OPENED", "treat the propeller as live"),
    "items/fuel/lines/write/": ("no sparks",),
    "tasks/G8/": ("Fuel vapour lies low",),
    "tasks/H10/": ("The propeller is live",),
    "run/of/2/": ("under power",),
}


def test_each_has_its_page_with_what_may_hurt(marta):
    missed = []
    for address, told in PAGES.items():
        answer = marta.get(J + address)
        page = text_of(answer) if answer.status_code == 200 else f"answered {answer.status_code}"
        missed += [(address, one) for one in told if one not in page]
        if "arburettor heat" in page:
            missed.append((address, "carburettor heat"))
    assert missed == []


def test_a_magneto_opened_on_its_page_is_asked_for_everything_inside_and_its_timing(marta):
    act = {
        "once": "o-1", "kind": "reworked", "item": "magneto:right", "act": "opened",
        "next": f"{J}items/magneto/right/",
    }  # fmt: skip
    assert marta.post(f"{J}act/", act).status_code == 303
    one = judged().item("magneto:right")
    assert one.verdict == "NOT YET"
    void = {call.check for call in one.calls if call.call == "VOID"}
    assert {"timing", "e_gap", "condenser", "coil_primary"} <= void
    assert judged().blockers


def test_a_pump_comes_off_and_another_goes_in_by_taps(marta):
    from tests.web.test_places import press

    write = f"{J}items/vacuum-pump/vacuum-pump/write/"
    press(marta, marta.get(write), "OUT")
    assert judged().state.items["vacuum-pump:vacuum-pump"].removed is not None
    assert "off (s/n VP-2209)" in text_of(marta.get(f"{J}engine/"))
    # The form for another one, not for the one that came out.
    body = marta.get(write)
    body.content = body.content.replace(b"PUT IN<", b"ANOTHER ONE IN<")
    press(marta, body, "ANOTHER ONE IN", serial="VP-9000")
    place = next(one for one in judged().places if one.key == "vacuum-pump:vacuum-pump")
    assert (place.serial, place.is_new) == ("VP-9000", True)
    page = text_of(marta.get(f"{J}engine/"))
    assert "s/n VP-9000" in page and "When Vacuum pump, s/n VP-9000" in page
