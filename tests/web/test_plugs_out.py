"""Plugs out: as last time, typed, scribed, photographed, out of a table; and what is refused."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from html import unescape

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from rehang.sheets.folder import JobFolder, parse_files
from rehang.trade.terms.entries import Entry, new_entry
from tests.trade import cast

pytestmark = pytest.mark.django_db

AT = datetime(2026, 11, 2, 20, 0, tzinfo=UTC)
PEOPLE = """[[person]]
key = "ada"
name = "Ada"
role = "mechanic"
[[person]]
key = "cy"
name = "Cy"
role = "reads"
"""
WALK = ("1T", "1B", "2T", "2B", "3T", "3B", "4T", "4B")
OUT = "/jobs/now/tray/out/"
# What went in at the end of the job before, hole by hole of the walk.
LAST = dict(zip(WALK, (f"K04{n}" for n in range(11, 19)), strict=True))


def load(slug: str, entries: tuple[Entry, ...] = (), *, serial: str = "C-1", people: str = PEOPLE):
    from rehang.book import services

    files = dict(cast.FILES) | {"people.toml": people}
    files["engine.toml"] = (
        files["engine.toml"].replace('job = "case"', f'job = "{slug}"')
        + f'title = "Job {slug}"\nserial = "{serial}"\n'
    )
    folder = JobFolder(slug, files, entries, parse_files(files, slug), {}, ())
    return services.load_folder(folder=folder, by="ada", at=AT)


def plug(kind: str, serial: str, hole: str, at: datetime = cast.START, **more: str) -> Entry:
    name = f"{kind}-{serial}"
    return new_entry(kind, at=at, by="ada", id=name, item=f"plug:{serial}", place=hole, **more)


def before() -> tuple[Entry, ...]:
    """The job before: each plug came out, and went in a row further."""
    out = [plug("removed", serial, hole) for hole, serial in LAST.items()]
    at = cast.START + timedelta(hours=1)
    # Put in where each is found this time: out of its neighbour's hole.
    turned = dict(zip(LAST, [*list(LAST.values())[1:], LAST["1T"]], strict=True))
    moved = [plug("fitted", serial, hole, at, gasket="new") for hole, serial in turned.items()]
    return (*out, *moved)


TURNED = dict(zip(WALK, [*list(LAST.values())[1:], LAST["1T"]], strict=True))


@pytest.fixture(autouse=True)
def _fresh():
    from rehang.book import queries

    queries.forget()


@pytest.fixture
def ada(client):
    """Ada, signed in, with an empty job of an engine that the shop had before."""
    load("before", before())
    load("now")
    client.post("/sign-in/", {"person": "ada"})
    return client


def state(slug: str = "now"):
    from rehang.book import queries

    return queries.state(queries.job(slug))


def out_of(slug: str = "now") -> dict[str, str]:
    return {hole: item.removeprefix("plug:") for hole, item in state(slug).holes.items()}


def text_of(answer) -> str:
    body = re.sub(r"<(script|style).*?</\1>", " ", answer.content.decode(), flags=re.S)
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", body))).strip()


def test_all_as_last_time_is_one_tap_by_where_each_went_in(ada):
    page = ada.get(OUT)
    assert "ALL 8 AS LAST TIME" in text_of(page)
    answer = ada.post(OUT, {"act": "last", "once": "a" * 32}, follow=True)
    assert "8 plugs came out of their holes." in text_of(answer)
    assert out_of() == TURNED


def test_undo_takes_back_all_that_one_tap_wrote(ada):
    answer = ada.post(OUT, {"act": "last", "once": "a" * 32}, follow=True)
    form = next(
        one
        for one in re.findall(r"<form.*?</form>", answer.content.decode(), re.S)
        if "UNDO" in one
    )
    sent = dict(re.findall(r'name="(\w+)" value="([^"]*)"', form))
    ada.post("/jobs/now/strike/", sent)
    assert out_of() == {}
    assert "ALL 8 AS LAST TIME" in text_of(ada.get(OUT))


def test_a_wrong_one_is_struck_alone_and_written_right(ada):
    answer = ada.post(OUT, {"1T": "X1", "1B": "X2", "once": "a" * 32}, follow=True)
    entry = re.search(
        r'name="entry" value="([^"]+)">\s*<input[^>]*value="wrong serial', answer.content.decode()
    )
    assert entry is not None
    ada.post(
        "/jobs/now/strike/", {"entry": entry[1], "reason": "wrong serial or hole", "next": OUT}
    )
    assert out_of() == {"1B": "X2"}
    ada.post(OUT, {"1T": "X3", "once": "b" * 32})
    assert out_of() == {"1T": "X3", "1B": "X2"}


def test_where_nothing_says_what_went_in_the_rotation_map_offers(client):
    load("before", tuple(plug("removed", serial, hole) for hole, serial in LAST.items()))
    load("now")
    client.post("/sign-in/", {"person": "ada"})
    words = text_of(client.get(OUT))
    assert (
        "No plug was written back in: every hole. What its rotation sent there is shown." in words
    )
    assert "ALL 8 AS PLANNED THEN" in words
    assert "LAST TIME" not in words
    client.post(OUT, {"act": "last", "once": "a" * 32})
    # The layout of opposed-4 sends 1T to 3B: whose plug is in 3B now is that of 1T.
    from rehang.book import queries

    rotation = queries.facts(queries.job("now")).layout.rotation
    assert out_of() == {rotation[hole]: serial for hole, serial in LAST.items()}


def test_typed_serials_are_spelled_as_the_books_spell_them_and_read_at_once(ada):
    ada.post(OUT, {"1T": "k0412", "2B": " plug:Z9 ", "once": "a" * 32})
    assert out_of() == {"1T": "K0412", "2B": "Z9"}
    read = {
        "id": "first", "kind": "seen", "at": cast.START.isoformat(), "item": "plug:K0412",
        "place": "1T", "check": "look", "word": "normal",
    }  # fmt: skip
    answer = ada.post("/api/jobs/now/entries", {"entries": [read]}, content_type="application/json")
    assert answer.status_code == 200, answer.content


def test_a_plug_without_a_serial_gets_the_next_that_no_plug_has(ada):
    load("third", (plug("removed", "A1", "1T"),))
    answer = ada.post(OUT, {"act": "scribe", "hole": "2T", "1T": "A2", "once": "a" * 32})
    # It is written at once, and what is typed beside it stays typed.
    assert (answer.status_code, out_of()) == (303, {"2T": "A3"})
    assert state().items["plug:A3"].removed.fields.note == "No serial on it: A3 scribed."
    body = ada.get(answer["Location"]).content.decode()
    assert re.search(r'name="1T"[^>]*value="A2"|value="A2"[^>]*name="1T"', body)


@pytest.mark.parametrize(
    ("typed", "written"),
    [
        ({"1T": "KV4101", "1B": "KV41KV4102"}, {"1T": "KV4101", "1B": "KV4102"}),
        ({"1T": "KV4101", "1B": "kv41KV4102"}, {"1T": "KV4101", "1B": "KV4102"}),
        ({"1T": "K04K0412"}, {"1T": "K0412"}),
        # Nothing says that these begin twice.
        ({"1T": "AAAA1", "1B": "AAAA2"}, {"1T": "AAAA1", "1B": "AAAA2"}),
        ({"1T": "ZZ1ZZ19"}, {"1T": "ZZ1ZZ19"}),
    ],
)
def test_a_serial_keyed_behind_its_own_beginning_begins_once(ada, typed, written):
    assert ada.post(OUT, {**typed, "once": "a" * 32}).status_code == 303
    assert out_of() == written


def test_a_photo_of_a_label_fills_its_field(ada):
    from tests.web.test_keep import photo_of

    picture = photo_of(ada.get("/jobs/before/paper/labels.pdf?item=plug:K0411").content)
    answer = ada.post(OUT, {"act": "photo", "hole": "3T", "photo": picture, "1T": "K9"})
    body = answer.content.decode()
    assert re.search(r'name="3T"[^>]*value="K0411"|value="K0411"[^>]*name="3T"', body)
    assert re.search(r'name="1T"[^>]*value="K9"|value="K9"[^>]*name="1T"', body)
    assert out_of() == {}


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        ("Hole,Serial\n1t,K1\n1B,K2\n", {"1T": "K1", "1B": "K2"}),
        ("1T;K1\n1B;K2\n", {"1T": "K1", "1B": "K2"}),
        ("Serial,Position,Notes\nK1,1T,oily\n,1B,\n", {"1T": "K1"}),
        ("Hole,Serial\n1T,K1\n1t,K2\n", "1T stands in line 2 and in line 3."),
        ("Hole,Serial\n9Z,K1\n", 'line 2: There is no hole "9Z" in this layout.'),
        ("Name,Colour\nK1,red\n", "Head one Hole and one Serial."),
        ("Hole,Serial\n1T,\n", "No row of it has a serial."),
    ],
)
def test_a_table_fills_the_fields_or_says_what_is_wrong(ada, rows, told):
    sent = SimpleUploadedFile("plugs.csv", rows.encode())
    answer = ada.post(OUT, {"act": "table", "table": sent})
    assert out_of() == {}
    if isinstance(told, str):
        assert answer.status_code == 422 and told in text_of(answer)
        return
    fields = dict(re.findall(r'name="(\d[TB])" value="([^"]+)"', answer.content.decode()))
    assert answer.status_code == 200 and fields == told


@pytest.mark.parametrize(
    ("typed", "hole", "says"),
    [
        ({}, "", "Write the serial of one plug at least, or go back to the tray."),
        ({"1T": "K1", "2B": "k1"}, "2B", "k1 is written at 1T and at 2B. Look at both plugs again."),
        ({"1T": "K1", "2B": "OLD"}, "2B", "OLD already came out of 4B; one serial cannot be in 2B too."),
        ({"1T": "K1", "4B": "K2"}, "4B", "OLD already came out of 4B; K2 cannot come out of it too."),
        ({"1T": "К0411"}, "1T", "It looks like plug:K0411, and is another."),
        ({"1T": "cylinder:3"}, "1T", "cylinder:3 is no plug."),
        ({"1T": "rehang:1:now:plug:K1:0000"}, "1T", "A letter of this label was misread."),
        ({"1T": "K1", "2B": "E55"}, "2B", "E55 is in 3T of Job other (other)"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_one_sentence_at_its_field_and_nothing_is_written(ada, typed, hole, says):
    ada.post(OUT, {"4B": "OLD", "once": "c" * 32})
    at = cast.START + timedelta(hours=1)
    load(
        "other", (plug("removed", "E55", "1T"), plug("fitted", "E55", "3T", at, gasket="new")),
        serial="C-2",
    )  # fmt: skip
    answer = ada.post(OUT, {**typed, "once": "a" * 32})
    assert answer.status_code == 422
    assert says in text_of(answer)
    assert out_of() == {"4B": "OLD"}
    for name, serial in typed.items():
        assert re.search(rf'name="{name}"[^>]*value="{re.escape(serial)}"', answer.content.decode())
    if hole:
        assert f'href="#f-{hole}"' in answer.content.decode()


def test_the_same_rules_hold_at_the_line_and_at_the_interface(ada):
    at = cast.START + timedelta(hours=1)
    load(
        "other", (plug("removed", "E55", "1T"), plug("fitted", "E55", "3T", at, gasket="new")),
        serial="C-2",
    )  # fmt: skip
    answer = ada.post("/jobs/now/tray/line/", {"line": "out 1T E55", "base": "a" * 32})
    assert "E55 is in 3T of Job other (other)" in text_of(answer)
    entry = {
        "id": "x-55", "kind": "removed", "at": cast.START.isoformat(), "item": "plug:E55", "place": "1T",
    }  # fmt: skip
    answer = ada.post(
        "/api/jobs/now/entries", {"entries": [entry]}, content_type="application/json"
    )
    assert "E55 is in 3T of Job other" in answer.content.decode()
    assert out_of() == {}


def test_a_job_that_one_is_not_in_is_not_named(ada):
    at = cast.START + timedelta(hours=1)
    eve = PEOPLE.replace('"ada"', '"eve"').replace('"Ada"', '"Eve"')
    entries = (plug("removed", "E55", "1T"), plug("fitted", "E55", "3T", at, gasket="new"))
    from dataclasses import replace

    from rehang.book import services

    files = dict(cast.FILES) | {"people.toml": eve}
    files["engine.toml"] = files["engine.toml"].replace('"case"', '"secret"') + 'title = "Secret"\n'
    files["limits.toml"] = files["limits.toml"].replace('"ada"', '"eve"')
    folder = JobFolder(
        "secret", files, tuple(replace(e, by="eve") for e in entries), parse_files(files, "secret"), {}, ()
    )  # fmt: skip
    services.load_folder(folder=folder, by="eve", at=AT)
    told = text_of(ada.post(OUT, {"1T": "E55", "once": "a" * 32}))
    assert "E55 is in an engine of a job that you are not in." in told
    assert "Secret" not in told and "secret" not in told


def test_a_plug_rejected_before_comes_out_all_the_same_with_a_remark(client):
    at = cast.START + timedelta(minutes=30)
    gone = new_entry("dropped", at=at, by="ada", id="drop", item="plug:K0411", place="1T")
    load("before", (plug("removed", "K0411", "1T"), gone))
    load("now")
    client.post("/sign-in/", {"person": "ada"})
    answer = client.post(OUT, {"3B": "K0411", "2T": "K2", "once": "a" * 32}, follow=True)
    remark = "K0411 was dropped on 2 Nov 2026 in Job before (before)."
    assert remark in text_of(answer)
    assert state().items["plug:K0411"].removed.fields.note == remark
    assert state().items["plug:K2"].removed.fields.note == ""


def test_two_phones_at_one_hole_keep_one_plug_and_void_nothing(ada):
    ada.post(OUT, {"1T": "K1", "once": "a" * 32})
    read = {
        "id": "first", "kind": "seen", "at": cast.START.isoformat(), "item": "plug:K1",
        "place": "1T", "check": "look", "word": "normal",
    }  # fmt: skip
    ada.post("/api/jobs/now/entries", {"entries": [read]}, content_type="application/json")
    # The other phone had its page open before, and sends the same hole with another one.
    answer = ada.post(OUT, {"1T": "K1", "1B": "K2", "once": "b" * 32}, follow=True)
    assert out_of() == {"1T": "K1", "1B": "K2"}
    assert len([e for e in state().order if e.kind == "removed"]) == 2
    answer = ada.post(OUT, {"1T": "K1", "once": "d" * 32}, follow=True)
    assert "1T K1: in the book already." in text_of(answer)
    answer = ada.post("/jobs/now/tray/line/", {"line": "out 1T K1", "base": "e" * 32})
    assert "K1 is out of 1T already" in text_of(answer)
    assert state().items["plug:K1"].looks
    # Nor does a strike take the hole from what was read of it.
    first = state().items["plug:K1"].removed.id
    answer = ada.post(
        "/jobs/now/strike/", {"entry": first, "reason": "undone", "next": OUT}, follow=True
    )
    assert "K1 was read or looked at 1 time since it came out of 1T." in text_of(answer)
    assert out_of()["1T"] == "K1"


def test_a_form_sent_twice_writes_once(ada):
    for _ in range(2):
        assert ada.post(OUT, {"1T": "K1", "once": "a" * 32}).status_code == 303
    assert len(state().order) - len([e for e in state().order if e.kind == "filed"]) == 1


def test_who_reads_sees_the_list_and_no_form(ada, client):
    ada.post(OUT, {"1T": "K1", "once": "a" * 32})
    ada.post("/sign-out/")
    from rehang.book import members

    client.force_login(
        members.member("cy").user, backend="django.contrib.auth.backends.ModelBackend"
    )
    page = client.get(OUT)
    assert "K1" in text_of(page) and "THESE CAME OUT" not in text_of(page)
    assert client.post(OUT, {"1B": "K2"}).status_code == 403


def test_an_empty_job_invites_from_board_task_tray_and_read_back(client):
    load("now")
    client.post("/sign-in/", {"person": "ada"})
    for page in ("", "tray/", "read-back/", "tasks/C2/"):
        answer = client.get(f"/jobs/now/{page}")
        assert answer.status_code == 200
        assert f'href="{OUT}' in answer.content.decode(), page
    # No link of the empty tray leads nowhere.
    assert "PLUG TAGS" not in text_of(client.get("/jobs/now/paper/"))
    html = client.get("/jobs/now/tray/").content.decode()
    assert "/tray/why/" not in re.sub(r'"why": "[^"]*"', "", html)
