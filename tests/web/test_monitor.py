"""A monitor's table through the pages: sent, its columns confirmed, drawn, asked about, answered."""

from __future__ import annotations

import hashlib
import json
import re
import uuid
from html import unescape

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from rehang.decode import flights
from tests.flights import HEADINGS, MAPPED, Flight
from tests.pins import PIN
from tests.web.test_begin import begun, board, job_at, text_of

BARE = tuple(one.partition(" (")[0] for one in HEADINGS)


@pytest.fixture(autouse=True)
def read_here(monkeypatch):
    """Tables are read in this process; ``tests/photos/test_apart.py`` reads one apart."""

    def answered(name: str, data: bytes, said: dict) -> dict:
        return json.loads(json.dumps(flights.read_flight(name, data, said)))

    monkeypatch.setattr("rehang.web.monitor.views.look_at_flight", flights.look)
    monkeypatch.setattr("rehang.book.services.read_flight", answered)


@pytest.fixture
def job(db):
    from rehang.book import queries

    queries.forget()
    client = begun()
    return client, board(client, layout="opposed-4", serial="V4-1", purpose="annual or 100-hour")


def sent(client, place: str, data: bytes, of: str = "Ferry of 29 Nov", name: str = "flight.csv"):
    """Send a table; the page that asks what its columns are, or the one that says why not."""
    told = {"of": of, "file": SimpleUploadedFile(name, data)}
    answer = client.post(f"{place}monitor/", told)
    assert answer.status_code == 303, text_of(answer)
    return answer["Location"].partition("#")[0]


def picked(page) -> dict[str, str]:
    """What each field of the form of columns stands at."""
    found = {}
    for name, inner in re.findall(
        r'name="([cu]\d+)">(.*?)</select>', page.content.decode(), flags=re.S
    ):
        chosen = re.search(r'<option(?: value="([^"]*)")? selected>([^<]*)', inner)
        found[name] = unescape(chosen[1] or chosen[2]) if chosen else ""
    return found


def read(client, place: str, data: bytes, **other: str):
    """Send and read it; the answer of the form."""
    onto = sent(client, place, data)
    fields = picked(client.get(onto)) | {"once": str(uuid.uuid4())} | other
    return client.post(onto, fields)


def kept(place: str):
    from rehang.book import queries
    from rehang.trade.run.monitor_told import monitors_of

    return monitors_of(queries.judged(job_at(place)).state)


def test_a_table_is_read_drawn_and_kept_with_its_sum(job):
    client, place = job
    assert "No flight or run has been read" in text_of(client.get(f"{place}monitor/"))
    onto = sent(client, place, Flight().data)
    page = client.get(onto)
    assert picked(page)["c6"] == "exhaust:3" and "by the table" in text_of(page)
    answer = client.post(onto, picked(page) | {"once": "a"})
    assert answer.status_code == 303, text_of(answer)
    (entry,) = kept(place)
    assert (entry.fields.columns, entry.fields.units) == (MAPPED["columns"], MAPPED["units"])
    assert entry.fields.sha256 == hashlib.sha256(Flight().data).hexdigest()
    shown = client.get(answer["Location"])
    text = text_of(shown)
    assert "every exhaust rose" in text and "Look at cylinder 3:" in text
    assert "Exhaust spread" in text and entry.fields.sha256 in text
    assert shown.content.decode().count("<svg") >= 8
    # Every byte of it lies beside the photos.
    assert client.get(f"{answer['Location']}table.csv").content == Flight().data
    # It waits no more.
    assert client.get(onto).status_code == 404


def test_the_same_twice_is_one(job):
    client, place = job
    onto = sent(client, place, Flight().data)
    fields = picked(client.get(onto)) | {"once": "3f4ff4a1-8a4c-4f0b-9b2a-1d6a3f0c7e11"}
    first = client.post(onto, fields)
    onto = sent(client, place, Flight().data)
    assert client.post(onto, fields)["Location"] == first["Location"]
    assert len(kept(place)) == 1


def test_what_was_said_of_headings_is_kept_by_the_shop(job):
    client, place = job
    data = Flight(headings=BARE).data
    onto = sent(client, place, data)
    page = client.get(onto)
    assert "As the headings look." in text_of(page)
    fields = picked(page)
    assert fields["u6"] == "" and fields["c6"] == "exhaust:3"
    # A unit is asked for, and never guessed.
    answer = client.post(onto, fields | {"once": "a"})
    assert answer.status_code == 422 and "does not say its unit. Pick " in text_of(answer)
    assert not kept(place)
    units = {f"u{column}": MAPPED["units"][name] for name, column in MAPPED["columns"].items()}
    # Somebody has another column for the oil: that is learnt too.
    answer = client.post(onto, fields | units | {"c3": "", "once": "b"})
    assert answer.status_code == 303, text_of(answer)
    page = client.get(sent(client, place, data, of="Ferry of 30 Nov"))
    assert "As the shop said it of the same headings for Ferry of 29 Nov." in text_of(page)
    assert picked(page)["u6"] == "°F" and picked(page)["c3"] == ""


def test_what_it_asks_is_answered_by_a_person_and_blocks_nothing(job):
    client, place = job
    answer = read(client, place, Flight().data)
    here = answer["Location"]
    (entry,) = kept(place)
    blockers = text_of(client.get(f"{place}blockers/"))
    assert "Engine monitor, Ferry of 29 Nov. Look at cylinder 3:" in blockers
    from rehang.book import queries

    judged = queries.judged(job_at(place))
    assert not any("monitor" in one.about for one in judged.blockers)
    cylinder = text_of(client.get(f"{place}items/cylinder/3/"))
    assert "Look at cylinder 3: its exhaust went" in cylinder
    assert "Look at cylinder" not in text_of(client.get(f"{place}items/cylinder/1/"))
    told = {
        "kind": "closed", "finding": f"monitor-asks:{entry.id}:3", "form": "asked-3", "next": here,
        "reason": "Injector line cleaned, probe sits well.", "once": "c",
    }  # fmt: skip
    client.post(f"{place}act/", told | {"reason": "ok", "pin": PIN, "who": "ada"})
    assert "too little to stand on the record" in text_of(client.get(here))
    assert (
        client.post(f"{place}act/", told | {"pin": PIN, "who": "ada", "once": "d"}).status_code
        == 303
    )
    assert "Answered. Ada Lind" in text_of(client.get(here))
    assert "Look at cylinder 3" not in text_of(client.get(f"{place}blockers/"))


def test_decimals_with_a_comma_are_asked_about(job):
    client, place = job
    data = Flight(cell=lambda v, n: f"{v:.1f}".replace(".", ","), separator=";").data
    answer = read(client, place, data)
    assert answer.status_code == 422
    assert "Say whether decimals are written with a point or with a comma." in text_of(answer)
    answer = read(client, place, data, decimal=",")
    assert answer.status_code == 303, text_of(answer)
    assert kept(place)[0].fields.found["exhaust"]["odd"][0]["cylinder"] == "3"


SWAP = {"c5": "head:2", "c9": "exhaust:2"}
WRONG = [
    ("swapped", Flight().data, SWAP, "no head is hotter than its exhaust"),
    ("no time", Flight().data, {"c0": ""}, "Say which column is the time."),
    ("twice", Flight().data, {"c5": "exhaust:1"}, "are said to be the same"),
    (
        "nothing of a cylinder",
        Flight().data,
        {f"c{n}": "" for n in range(4, 12)},
        "Say which columns are temperatures of cylinders",
    ),
    (
        "running back",
        b"\n".join([*Flight().data.split(b"\n")[:50], *Flight().data.split(b"\n")[10:]]),
        {},
        "The time runs back here",
    ),
    (
        "empty column",
        Flight(cell=lambda v, n: "" if n == "head:4" else f"{v:g}").data,
        {"c11": "head:4"},
        "holds no number",
    ),
]


@pytest.mark.parametrize(
    ("data", "other", "said"), [w[1:] for w in WRONG], ids=[w[0] for w in WRONG]
)
def test_what_cannot_be_read_is_said_and_nothing_is_kept(job, data, other, said):
    client, place = job
    answer = read(client, place, data, **other)
    assert answer.status_code == 422 and said in text_of(answer), text_of(answer)
    assert not kept(place)


@pytest.mark.parametrize(
    ("data", "of", "said"),
    [
        (b"", "Ferry", "Choose the table of the flight first."),
        (b"only words", "Ferry", "This is no table with a row of headings"),
        (Flight().data, " ", "Write which flight or run it is of."),
        (b"\x1f\x8bno", "Ferry", "The packed file is not whole."),
    ],
)
def test_what_is_no_table_is_not_even_laid_by(job, data, of, said):
    client, place = job
    told = {"of": of, "file": SimpleUploadedFile("flight.csv", data)} if data else {"of": of}
    answer = client.post(f"{place}monitor/", told)
    assert answer.status_code == 303
    assert said in text_of(client.get(answer["Location"].partition("#")[0]))


def test_one_that_is_too_large_is_not_kept_and_its_sum_is(job, monkeypatch):
    client, place = job
    monkeypatch.setattr("rehang.book.services.MOST_KEPT", 1_000)
    here = read(client, place, Flight().packed)["Location"]
    (entry,) = kept(place)
    assert (
        entry.fields.table == ""
        and entry.fields.sha256 == hashlib.sha256(Flight().data).hexdigest()
    )
    assert "too large to be kept" in text_of(client.get(here))
    assert client.get(f"{here}table.csv").status_code == 404


def test_no_such_table(job):
    client, place = job
    assert client.get(f"{place}monitor/one/none-1/").status_code == 404
    assert client.get(f"{place}monitor/columns/{'0' * 64}/").status_code == 404
    assert client.get(f"{place}monitor/columns/..%2f..%2fx/").status_code == 404


def test_it_travels_with_the_folder_and_is_missed_when_it_is_gone(job, tmp_path):
    from rehang.book import queries
    from rehang.sheets.folder import photo_problems, read_folder, write_folder

    client, place = job
    read(client, place, Flight().data)
    held = job_at(place)
    files, entries = queries.as_folder(held)
    write_folder(tmp_path / "job", files, entries, queries.photos(held))
    name = kept(place)[0].fields.table
    assert (tmp_path / "job" / "photos" / name).read_bytes() == Flight().data
    (tmp_path / "job" / "photos" / name).unlink()
    (missing,) = photo_problems(entries, read_folder(tmp_path / "job").photos)
    assert f"The table of Ferry of 29 Nov, photos/{name}, is missing." in missing
