"""A cylinder off and on by its pages: from the tap that takes it off to a signed record."""

from __future__ import annotations

import re
import uuid
from datetime import UTC, datetime
from html import unescape
from typing import Any

import pytest
from django.utils import timezone

from rehang.sheets.folder import JobFolder, parse_book, parse_files
from rehang.trade.terms.entries import new_entry
from tests.pins import PIN, give_pins
from tests.trade.one_off import BARREL, FILES, LOCKED, OFF, RUN_IN, STEPS, VALVES, OneOff

J = "/jobs/sx6-off/"
LOADED = datetime(2026, 11, 3, 8, 0, tzinfo=UTC)


@pytest.fixture
def job(db):
    """The six as received, in a book."""
    from rehang.book import queries, services

    queries.forget()
    facts = parse_files(FILES, "sx6-off")
    lines = OneOff(until="as received").lines()
    entries, where = parse_book("".join(f"{one}\n" for one in lines), facts.people)
    folder = JobFolder("sx6-off", dict(FILES), tuple(entries), facts, where, ())
    job = services.load_folder(folder=folder, by="marta", at=LOADED)
    give_pins("marta", "tom", "ilse")
    return job


@pytest.fixture
def marta(job, client):
    return signed_in(client, "marta")


def signed_in(client, person: str):
    client.post("/sign-out/")
    assert client.post("/sign-in/", {"person": person}).status_code == 303
    return client


def text_of(answer) -> str:
    body = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", unescape(body)).strip()


def judged():
    from rehang.book import queries

    return queries.judged(queries.job("sx6-off"))


def post(client, where: str, **fields: str):
    answer = client.post(J + where, {"once": str(uuid.uuid4()), **fields})
    assert answer.status_code == 303, text_of(answer)
    assert "#held" not in answer["Location"], text_of(client.get(answer["Location"]))
    return answer


def off(client, **more: str):
    told = {
        "once": str(uuid.UUID(int=5)),
        "which": OFF,
        "note": "air at the exhaust, lapping did not hold",
    }
    return client.post(f"{J}rest/cylinders/", told | more)


def read(client, item: str, checks) -> None:
    kind, _, name = item.partition(":")
    for check, _, written, meter in checks:
        post(client, f"items/{kind}/{name}/read/{check}/", written=written, meter=meter)


def look(client, task: str) -> None:
    """A second look, by the one who may; whoever works signs in again after it."""
    post(signed_in(client, "ilse"), "act/", kind="second_look", task=task, pin=PIN)
    signed_in(client, "marta")


def write(*names: str) -> None:
    """Steps of the work that other tests walk by their pages, as entries of now."""
    from rehang.book import services

    entries = []

    def keep(kind: str, *, by: str = "marta", **data: Any) -> None:
        told = {key: value for key, value in data.items() if value != ""}
        # A look takes the PIN of who gives it, on a page.
        if kind != "second_look":
            entries.append(new_entry(kind, at=timezone.now(), by=by, id=str(uuid.uuid4()), **told))

    for name in names:
        STEPS[name](keep)
    services.append(job=judged_job(), entries=entries, by="marta", at=timezone.now())


def judged_job():
    from rehang.book import queries

    return queries.job("sx6-off")


def test_taking_one_off_asks_which_and_why_and_is_written_once(marta):
    page = text_of(marta.get(f"{J}rest/cylinders/"))
    assert "No cylinder came off" in page and "What was read of it ends" in page
    assert f"{J}rest/cylinders/" in marta.get(f"{J}rest/").content.decode()
    assert marta.get(f"{J}tasks/J1/").status_code in (302, 404)
    for told, said in (
        ({"which": ""}, "Pick which cylinder comes off."),
        ({"note": " "}, "Write why it comes off."),
        ({"which": "9"}, '"9" is no place of a cylinder'),
    ):
        answer = off(marta, **told)
        assert answer.status_code == 422 and said in text_of(answer), said
        # What was typed is kept.
        assert told.get("note") or "lapping did not hold" in answer.content.decode()
    assert judged().facts.off == ()
    for _ in range(2):
        answer = off(marta)
        assert answer.status_code == 303, text_of(answer)
    assert judged().facts.off == (OFF,)
    page = text_of(marta.get(f"{J}rest/cylinders/"))
    for said in (
        "Cylinder 5", "lapping did not hold", "Rod, studs and deck looked after", "Break-in run",
        "Cylinder hold-down nuts 0 of 6 torqued", "Cylinder through-bolt nuts 0 of 2 torqued",
    ):  # fmt: skip
        assert said in page, said
    page = marta.get(f"{J}blockers/").content.decode()
    assert "not written as on again" in page and f"{J}rest/cylinders/" in page
    # It is off; only another one can come off.
    assert 'name="which" value="5"' not in marta.get(f"{J}rest/cylinders/").content.decode()


def test_taken_back_at_once_it_asks_for_nothing_and_once_measured_it_is_not_taken_back(marta):
    off(marta)
    first = judged().state.items["cylinder:5"].removed.id
    post(marta, "items/barrel/5/read/bore/", written="4.376", meter="BG-1")
    from rehang.book import services
    from rehang.trade.terms.errors import NotAllowed

    def strike(entry: str, once: str) -> None:
        line = new_entry(
            "struck",
            at=timezone.now(),
            by="marta",
            id=once,
            entry=entry,
            reason="it is cylinder 6 that came off",
        )
        services.append(job=judged_job(), entries=[line], by="marta", at=timezone.now())

    with pytest.raises(
        NotAllowed, match="Cylinder 5 was measured or put on 1 time since it came off"
    ):
        strike(first, str(uuid.uuid4()))
    bore = judged().item("barrel:5").call("bore")
    assert bore is not None and bore.entry is not None
    strike(bore.entry.id, str(uuid.uuid4()))
    strike(first, str(uuid.uuid4()))
    assert judged().facts.off == () and "J1" not in judged().work.tasks


def test_who_only_helps_may_take_it_off_and_a_stranger_may_not(job, client):
    assert off(client).status_code in (302, 303) and judged().facts.off == ()
    assert off(signed_in(client, "tom")).status_code == 303
    assert judged().facts.off == (OFF,)


def test_from_off_to_a_signed_record_by_its_pages(marta):
    off(marta)
    post(marta, "act/", kind="done", task="J1", place=OFF)
    post(marta, "items/barrel/5/read/look/", word="sound")
    read(marta, "barrel:5", BARREL)
    page = text_of(marta.get(f"{J}items/barrel/5/"))
    assert "Top ring gap" in page and "31 thou" in page
    post(marta, "places/in/", of="cylinder", item="cylinder:5", place=OFF, serial="CY-5517")
    for group, number in (("hold-down", 6), ("through-bolt", 2)):
        card = marta.get(f"{J}torque/{group}/?place=5").content.decode()
        assert "pattern-turn" in card and "passes" in card
        for turn in range(1, number + 1):
            post(marta, f"torque/{group}/", place=OFF, wrench="TW-6", fastener=str(turn))
    read(marta, "barrel:5", LOCKED)
    look(marta, "J4")
    read(marta, "barrel:5", VALVES)
    write("tappets", "covers", "manifolds", "count-in")
    look(marta, "H6")
    write("run 1", "run 1 done")
    assert "break-in 5 is NOT YET" in " ".join(one.sentence for one in judged().blockers)
    read(marta, "break-in:5", RUN_IN)
    post(marta, "items/break-in/5/read/look/", word="dry")
    write("borescope", "compression", "run 2", "run 2 done")
    assert judged().blockers == ()
    page = text_of(marta.get(f"{J}rest/cylinders/"))
    assert "Shown right" in page and "s/n CY-5517" in page
    shown = marta.get(f"{J}record/maintenance/sign/")
    assert "bore 4.376 in, choke 0.005 in" in text_of(shown)
    fields = dict(
        re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', shown.content.decode())
    )
    answer = marta.post(
        f"{J}record/maintenance/sign/", {k: unescape(v) for k, v in fields.items()} | {"pin": PIN}
    )
    assert answer.status_code == 303, text_of(answer)
    assert [one.fault for one in judged().signed] == [""]


def measured(client, serial: str) -> None:
    off(client, serial=serial)
    post(client, "act/", kind="done", task="J1", place=OFF)
    post(client, "items/barrel/5/read/look/", word="sound")
    read(client, "barrel:5", BARREL)


@pytest.mark.parametrize("inspected", [True, False])
def test_it_goes_on_by_its_serial_in_the_page_of_its_task(job, client, inspected):
    from rehang.book import services

    if not inspected:
        text = FILES["engine.toml"].replace('"cylinder", ', "")
        services.file_text(job=job, name="engine.toml", text=text, by="marta", at=timezone.now())
    marta = signed_in(client, "marta")
    measured(marta, "CY-5502")
    page = marta.get(f"{J}tasks/J3/").content.decode()
    # The one that came off is offered by its number; another is written with its own.
    assert 'name="serial" autocomplete="off"\n      value="CY-5502"' in page
    told = {"of": "cylinder", "item": "cylinder:5", "place": OFF, "next": f"{J}tasks/J3/"}
    answer = marta.post(f"{J}places/in/", told)
    said = "Write the serial of the cylinder that goes in, as it stands on it."
    assert said in text_of(marta.get(answer["Location"]))
    assert "cylinder:5" not in judged().state.fitted
    post(marta, "places/in/", **told, serial="CY-5502")
    assert "CY-5502 is in" in text_of(marta.get(f"{J}tasks/J3/"))
    wants = ("serial", "release document")
    assert not [b for b in judged().blockers if any(one in b.sentence for one in wants)]


def test_one_that_went_on_without_its_serial_is_written_again_where_its_blocker_leads(marta):
    measured(marta, "")
    from rehang.book import services

    told = {"at": timezone.now(), "by": "marta", "item": "cylinder:5", "place": OFF}
    line = new_entry("fitted", id=str(uuid.uuid4()), **told)
    services.append(job=judged_job(), entries=[line], by="marta", at=timezone.now())
    page = marta.get(f"{J}blockers/").content.decode()
    way = f"{J}places/?at=at-cylinder-5#at-cylinder-5"
    assert f'href="{way}"' in page
    shown = marta.get(way).content.decode()
    assert "WRITE ITS SERIAL" in shown and f'name="again" value="{line.id}"' in shown
    told = {"of": "cylinder", "item": "cylinder:5", "place": OFF, "again": line.id}
    for _ in range(2):
        post(marta, "places/in/", **told, serial="CY-5517")
    assert judged().state.fitted["cylinder:5"].fields.serial == "CY-5517"
    assert "WRITE ITS SERIAL" not in marta.get(way).content.decode()
    assert not [b for b in judged().blockers if "without a serial" in b.sentence]


def test_another_one_needs_its_papers_and_the_blocker_leads_to_where_they_are_written(marta):
    measured(marta, "CY-5502")
    post(marta, "places/in/", of="cylinder", item="cylinder:5", place=OFF, serial="CY-5517")
    page = marta.get(f"{J}blockers/").content.decode()
    way = f"{J}places/?papers=cylinder%3A5#papers"
    assert f'href="{way}"' in page
    shown = marta.get(way).content.decode()
    assert re.search(r'id="papers"\s+open', shown)
    assert re.search(r'value="cylinder:5"\s+selected', shown)
    told = {"kind": "papers", "about": "cylinder:5", "form": "8130-3", "reference": "INV-22"}
    post(marta, "act/", **told)
    assert way not in marta.get(f"{J}blockers/").content.decode()


def test_the_task_of_the_rope_shows_its_steps_and_what_to_mind(job, client):
    from rehang.book import services

    text = FILES["engine.toml"].replace('"intake"]', '"intake", "valve"]')
    text = 'purpose = "valves and guides"\n' + text
    why = '[[reason]]\nid = "valves and guides"\ntasks = ["V1", "V2"]\n'
    for name, new in (("engine.toml", text), ("reasons.toml", why)):
        services.file_text(job=job, name=name, text=new, by="marta", at=timezone.now())
    page = text_of(signed_in(client, "marta").get(f"{J}tasks/V1/"))
    assert "Step by step" in page and "Clean soft rope fed in" in page
    assert "The propeller moves as the rope gives" in page
    # One cylinder after another: the work stands open where it is.
    assert page.count("3 TO DO") == 5 and page.count("READ INTAKE WOBBLE") == 6


def test_eight_figures_of_the_dial_are_keyed_in_eight_boxes_and_drawn(job, client):
    from rehang.book import services

    text = FILES["engine.toml"].replace('"intake"]', '"intake", "crankshaft"]')
    services.file_text(job=job, name="engine.toml", text=text, by="marta", at=timezone.now())
    marta = signed_in(client, "marta")
    where = f"{J}items/crankshaft/flange/read/runout/"
    page = marta.get(where).content.decode()
    assert all(f'name="at_{n}"' in page for n in range(8)) and "315°" in page
    given = [".5", "1", "2.5", "1.5", "1", "-2", "-1", ""]
    boxes = {f"at_{n}": one for n, one in enumerate(given)}
    answer = marta.post(where, {"once": "a", "meter": "DI-1", "dial": "stands still", **boxes})
    assert answer.status_code == 422 and "Write what the dial shows at 315°." in text_of(answer)
    assert 'value="2.5"' in answer.content.decode()
    post(
        marta,
        "items/crankshaft/flange/read/runout/",
        meter="DI-1",
        dial="stands still",
        **boxes | {"at_7": "-.5"},
    )
    call = judged().item("crankshaft:flange").call("runout")
    assert (call.reading, call.call) == ("4.5 thou", "NOT JUDGED")
    page = marta.get(f"{J}items/crankshaft/flange/").content.decode()
    assert page.count('class="turn-point') == 9 and "turn-curve" in page
    assert "what comes once a turn is the shaft" in text_of(
        marta.get(f"{J}items/crankshaft/flange/")
    )
