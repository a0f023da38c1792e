"""NEW JOB asks why the engine came off, and the page of that reason settles what it asks."""

from __future__ import annotations

import uuid

import pytest

from rehang.sheets import reasons
from tests.pins import PIN
from tests.web.test_begin import begun, board, job_at, text_of

STRIKE = "propeller strike or sudden stop"


@pytest.fixture
def struck(db):
    """A job for spark plugs on an engine that was stopped by a blow as well."""
    from rehang.book import queries

    queries.forget()
    client = begun()
    asked = dict.fromkeys(("since_overhaul", "since_new", "airframe_hours"), "")
    place = board(client, **asked, layout="opposed-4", serial="V4-1", also_for=STRIKE)
    return client, place


def decided(client, place: str, pin: str = PIN, **more: str):
    told = {
        "once": str(uuid.uuid4()), "kind": "teardown", "outcome": "no teardown", "pin": pin,
        "next": f"{place}rest/why/", "document": "Invented SB-12 rev 3", "reason": "The tip is bent.",
    }  # fmt: skip
    return client.post(f"{place}act/", told | more)


def test_what_two_reasons_ask_is_in_the_job(struck):
    from rehang.book import queries

    client, place = struck
    facts = queries.facts(job_at(place))
    assert facts.came_off_for == ("spark plugs", STRIKE)
    # A strike leaves nothing out and looks at every kind, so that the job does.
    assert "cylinder" in facts.inspect and not facts.left_out
    page = text_of(client.get(f"{place}rest/why/"))
    assert "Spark plugs and propeller strike or sudden stop" in page
    assert "Torn down or not: not decided" in page
    assert all(one in page for one in reasons()[STRIKE].documents)
    assert f"{place}rest/why/" in client.get(f"{place}blockers/").content.decode()


def test_the_teardown_is_decided_with_a_pin_and_a_document(struck):
    client, place = struck
    for wrong, said in (
        ({"pin": "111213"}, "not the PIN"),
        ({"document": " "}, "Write by which document"),
        ({"outcome": ""}, "Pick what is decided."),
    ):
        answer = decided(client, place, **wrong)
        page = answer if answer.status_code == 422 else client.get(answer["Location"])
        assert said in text_of(page), said
        assert "not decided" in text_of(client.get(f"{place}rest/why/"))
    assert decided(client, place).status_code == 303
    page = text_of(client.get(f"{place}rest/why/"))
    assert "No teardown" in page and "Invented SB-12 rev 3" in page and "Ada Lind" in page


def test_a_document_is_read_in_its_revision(struck):
    client, place = struck
    name = reasons()[STRIKE].documents[0]
    told = {
        "kind": "read_document",
        "document": name,
        "next": f"{place}rest/why/",
        "form": "read-0",
    }
    client.post(f"{place}act/", told | {"once": "a", "revision": ""})
    assert "Write the number and revision you read." in text_of(client.get(f"{place}rest/why/"))
    client.post(f"{place}act/", told | {"once": "b", "revision": "SB-7 rev B (invented)"})
    assert "SB-7 rev B (invented), Ada Lind" in text_of(client.get(f"{place}rest/why/"))


def test_a_reason_that_the_shop_does_not_know_is_refused(db):
    from rehang.book import queries
    from tests.web.test_begin import ENGINE

    queries.forget()
    answer = begun().post("/new-job/engine/", ENGINE | {"also_for": "hail"})
    assert answer.status_code == 422 and "Pick why the engine came off." in text_of(answer)


def test_research_is_written_on_the_page_of_what_is_due(struck):
    client, place = struck
    told = {"kind": "researched", "next": f"{place}due/", "pin": PIN}
    assert "Not researched in this job." in text_of(client.get(f"{place}due/"))
    client.post(f"{place}act/", told | {"once": "a", "against": ""})
    assert "Write by which list, and of what day it is." in text_of(client.get(f"{place}due/"))
    client.post(f"{place}act/", told | {"once": "b", "against": "Invented list 7"})
    assert "Ada Lind: Invented list 7" in text_of(client.get(f"{place}due/"))
