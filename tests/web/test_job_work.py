"""A job's own choice of tasks, the same work at every place by one tap, and what was used up."""

from __future__ import annotations

import uuid

import pytest
from django.test import Client

from tests.pins import PIN
from tests.web.test_begin import begun, board, job_at, text_of

HOLES = ("1T", "1B", "2T", "2B", "3T", "3B", "4T", "4B")


@pytest.fixture
def job(db) -> tuple[Client, str]:
    """A job for spark plugs on a four-cylinder engine of which nothing else is known."""
    from rehang.book import queries

    queries.forget()
    client = begun()
    asked = dict.fromkeys(("since_overhaul", "since_new", "airframe_hours"), "")
    return client, board(client, **asked, layout="opposed-4", serial="V4-1")


def act(client: Client, place: str, kind: str, **fields: str) -> None:
    answer = client.post(f"{place}act/", {"once": str(uuid.uuid4()), "kind": kind, **fields})
    assert answer.status_code == 303 and "#held" not in answer["Location"], fields


def plugs_out(client: Client, place: str) -> None:
    for task in ("A1", "A2", "C1"):
        act(client, place, "done", task=task)
    serials = {hole: f"Q10{number}" for number, hole in enumerate(HOLES)}
    assert client.post(f"{place}tray/out/", serials).status_code == 303


def judged(place: str):
    from rehang.book import queries

    return queries.judged(job_at(place))


def test_a_purpose_picks_the_tasks_and_the_page_of_tasks_changes_them(job):
    client, place = job
    facts = judged(place).facts
    assert "C4" in facts.left_out and "H5" in facts.tasks
    act(client, place, "done", task="A1")
    page = client.get(f"{place}rest/tasks/").content.decode()
    assert 'value="C4"\n' in page or 'value="C4">' in page
    # Compression is put back and the propeller stays on; what is begun is not left out by not ticking.
    wanted = [one for one in facts.tasks if one not in ("H5", "A1")] + ["C4"]
    answer = client.post(f"{place}rest/tasks/", {"task": wanted, "pin": PIN})
    assert answer.status_code == 303, text_of(answer)
    facts = judged(place).facts
    assert {"A1", "C4"} <= set(facts.tasks)
    assert "H5" in facts.left_out
    assert "H5" not in facts.tasks["H6"].needs and "H4" in facts.tasks["H6"].needs
    assert "Propeller bolts" not in text_of(client.get(f"{place}torque/"))
    refused = client.post(f"{place}rest/tasks/", {"task": wanted, "pin": "111213"})
    assert refused.status_code == 422 or "not the PIN" in text_of(refused)


def test_a_task_left_out_that_there_is_none_of_is_refused(job):
    from rehang.book import queries
    from rehang.sheets.folder import check_facts, parse_files
    from rehang.trade.terms.errors import BadInput

    _, place = job
    files = dict(queries.files(job_at(place)))
    files["engine.toml"] = files["engine.toml"].replace('"A3"', '"A33"')
    with pytest.raises(BadInput, match='"A33" is left out and is no task of this job'):
        check_facts(parse_files(files, "v4"), ["engine.toml"])


def test_the_next_job_of_the_engine_asks_for_its_own_tasks(job):
    from rehang.trade.work.handed_on import engine_left

    _, place = job
    one = judged(place)
    assert one.facts.left_out
    assert "left_out" not in engine_left(one.facts, one.state)


def test_the_same_work_at_eight_places_is_one_tap_and_eight_entries(job):
    client, place = job
    plugs_out(client, place)
    assert "ALL 8 BLANKS IN" in text_of(client.get(f"{place}tasks/C7/"))
    once = {"once": str(uuid.uuid4()), "act": "blanks"}
    for _ in range(2):
        # Pressed twice it is written once.
        assert client.post(f"{place}tasks/C7/all/", once).status_code == 303
    now = judged(place)
    assert now.state.out["blanks"] == 8
    assert now.work.tasks["C7"].state == "DONE"
    # A look is of one part: it is not among what one tap writes.
    page = text_of(client.get(f"{place}tasks/C6/"))
    assert "CLEAN AND SOUND" in page and "ALL 8" not in page


def test_what_was_used_up_is_written_on_the_page_of_parts_or_said_not_to_be_needed(job):
    client, place = job
    plugs_out(client, place)
    client.post(f"{place}tasks/C7/all/", {"once": str(uuid.uuid4()), "act": "blanks"})
    page = text_of(client.get(f"{place}rest/parts/"))
    assert "Not written as used 1 1 × Desiccant refill Blanks in the plug holes" in page
    assert ".toml" not in page
    asked = [b.sentence for b in judged(place).blockers if b.about == "used"]
    assert asked == [
        "Not written as used, though the work is done: Desiccant refill for Blanks in the plug holes (C7)."
    ]
    act(client, place, "not_needed", part="desiccant", number="1", reason="plain blanks went in")
    assert [b for b in judged(place).blockers if b.about == "used"] == []
    act(client, place, "started", task="A4")
    act(client, place, "done", task="A4")
    assert client.post(f"{place}rest/parts/used/", {"once": str(uuid.uuid4())}).status_code == 303


def test_a_task_that_is_done_elsewhere_leads_there(job):
    client, place = job
    for task, address in (("H7", "run/"), ("H9", "record/"), ("G3", "facts/hose/new/")):
        assert f'href="{place}{address}"' in client.get(f"{place}tasks/{task}/").content.decode()


def test_a_run_says_before_it_which_meters_and_limits_it_would_miss(job):
    client, place = job
    page = client.get(f"{place}run/").content.decode()
    assert "No meter on file reads:" in page
    for check in ("oil_rise", "oil_idle", "oil_temp", "drop_right"):
        assert f"check=run.{check}" in page, check
    assert f"{place}limits/new/run/" in page
