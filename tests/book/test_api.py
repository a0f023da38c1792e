"""The JSON API, as the fixed cast meets it: Ada inspects, Ben approves, Cy only reads, Dee has no access."""

import json
from datetime import timedelta

import pytest
from django.test import Client

from rehang.book import members, queries, services
from rehang.trade.doors.asjson import job_as_json
from rehang.web.api.views import BROKEN, STALE_PAGE, api
from tests.book.shop import KEPT, folder, note, ohms
from tests.pins import PIN, give_pins

pytestmark = pytest.mark.django_db

URL = "/api/jobs/case/entries"


@pytest.fixture(autouse=True)
def clock(monkeypatch):
    """The bench day of these tests, so that nothing written is still to come."""
    from rehang.web.api import views as module

    monkeypatch.setattr(module.timezone, "now", lambda: KEPT)


@pytest.fixture
def client_of(job):
    services.load_folder(
        folder=folder("other", people='[[person]]\nkey = "dee"\nname = "Dee"\n', limits=""),
        by="dee",
        at=KEPT,
    )

    def sign_in(key: str, **given) -> Client:
        client = Client(**given)
        client.force_login(
            members.member(key).user, backend="django.contrib.auth.backends.ModelBackend"
        )
        return client

    return sign_in


def sent(*entries, **changed) -> dict:
    return {"entries": [one.content() | changed for one in entries]}


def post(client: Client, body: object, **given):
    text = body if isinstance(body, str) else json.dumps(body)
    return client.post(URL, text, content_type="application/json", **given)


def test_entries_are_kept_and_read_back(client_of, job):
    client = client_of("ada")
    answer = post(client, sent(ohms("read-1"), note("note-1")))
    assert answer.status_code == 200
    kept = answer.json()["kept"]
    stored = queries.entries(queries.job("case"))[-2:]
    assert [(k["id"], k["seq"], k["hash"]) for k in kept] == [(e.id, e.seq, e.hash) for e in stored]
    assert answer.json()["repeated"] == []

    read = client.get(URL, {"after": kept[0]["seq"] - 1}).json()
    assert read["entries"] == [json.loads(e.line()) for e in stored]
    assert (read["head_seq"], read["head_hash"], read["more"]) == (
        stored[-1].seq,
        stored[-1].hash,
        False,
    )


def test_a_phone_that_sends_twice_is_told_so(client_of):
    client = client_of("ada")
    post(client, sent(note("note-1")))
    answer = post(client, sent(note("note-1"), note("note-2")))
    assert [one["id"] for one in answer.json()["kept"]] == ["note-2"]
    assert answer.json()["repeated"] == ["note-1"]


def test_by_may_be_left_out_and_is_the_person_signed_in(client_of):
    body = sent(note("note-1"))
    del body["entries"][0]["by"]
    assert post(client_of("ben"), body).status_code == 200
    assert queries.entries(queries.job("case"))[-1].by == "ben"


def bad(**changed) -> dict:
    return {"entries": [note("note-1").content() | changed]}


REFUSED = [
    ("ada", bad(by="ben"), 422,
     'The entry says it is by "ben", and ada is signed in. Leave it out, or sign in as that person.',
     "entries[0].by"),
    ("ada", bad(hash="0" * 64), 422, 'The book puts the seal on. Leave "hash" out.', "entries[0].hash"),
    ("ada", bad(kind="scribble"), 422, None, "entries[0]"),
    ("ada", bad(colour="red"), 422,
     'An entry of kind "note" has no field "colour". It takes text, item, place.', "entries[0]"),
    ("ada", bad(v=2), 422,
     "This entry is of book version 2; this Rehang reads version 1. "
     "Open the folder with the Rehang that wrote it, or a newer one.", "entries[0]"),
    ("ada", bad(at="yesterday"), 422,
     '"at" is "yesterday". Write date, time and offset, as in 2026-10-13T09:12:00-05:00.',
     "entries[0]"),
    ("ada", bad(at=(KEPT + timedelta(days=1)).isoformat()), 409,
     "This is dated 3 Nov 2026, 20:00, which is still to come. "
     "Set the clock of this device right.", ""),
    ("ada", sent(ohms("read-1", place="9T")), 422,
     'There is no hole "9T" in this layout. Its holes are 1T, 1B, 2T, 2B, 3T, 3B, 4T, 4B.', ""),
    ("ada", sent(note("note-0"), ohms("read-1", place="9T")), 422,
     'There is no hole "9T" in this layout. Its holes are 1T, 1B, 2T, 2B, 3T, 3B, 4T, 4B.', "entry 2"),
    ("cy", bad(by="cy"), 409, "Cy reads this book and does not write in it.", ""),
    ("dee", bad(by="dee"), 404, 'There is no job "case" on your board.', ""),
    ("ada", {}, 422, '"entries" is not as it must be: Field required.', "entries"),
    ("ada", {"entries": []}, 422,
     '"entries" is not as it must be: List should have at least 1 item after validation, not 0.', "entries"),
    ("ada", "not json", 400, 'The body is not JSON. Send {"entries": [...]}.', ""),
    ("ada", '{"entries": [{"id": "note-1", "kind": "note", "at": "2026-11-02T09:00:00-05:00", '
     '"text": "half \\ud83d"}]}', 422,
     "The entry has half a character in it. Type the text again.", "entries[0]"),
    ("ada", '{"entries": [{"id": "note-1", "kind": "note", "at": "2026-11-02T09:00:00-05:00", '
     '"text": "one", "text": "two"}]}', 422,
     '"text" stands here twice. Keep the one that is meant.', "body"),
    ("ada", '{"entries": [{"id": "note-1", "kind": "note", "at": "2026-11-02T09:00:00-05:00", '
     '"text": NaN}]}', 422, "NaN is not a number. Write the number in digits.", "body"),
    ("ada", '{"entries": [{"id": "note-1", "kind": "note", "at": "2026-11-02T09:00:00-05:00", '
     '"text": "\\u00a0"}]}', 409, '"text" of an entry of kind "note" is empty. Write it.', ""),
]  # fmt: skip


@pytest.mark.parametrize(("who", "body", "status", "sentence", "field"), REFUSED)
def test_what_is_refused_says_why_and_keeps_nothing(
    client_of, job, who, body, status, sentence, field
):
    answer = post(client_of(who), body)
    assert answer.status_code == status
    said = answer.json()
    if sentence is None:
        assert said["sentence"].startswith('"scribble" is not a kind of entry. Known kinds: ')
    else:
        assert said["sentence"] == sentence
    assert said["field"] == field
    assert queries.job("case").head_seq == job.head_seq


def test_a_bug_is_logged_and_the_phone_is_told_to_keep_what_it_has(client_of, monkeypatch, caplog):
    monkeypatch.setattr(services, "append", lambda **given: 1 / 0)
    answer = post(client_of("ada"), sent(note("note-1")))
    assert (answer.status_code, answer.json()) == (500, {"sentence": BROKEN, "field": ""})
    assert "ZeroDivisionError" in caplog.text


def test_one_id_with_other_content_is_a_conflict(client_of):
    client = client_of("ada")
    post(client, sent(note("note-1")))
    answer = post(client, sent(note("note-1", "Something else.")))
    assert (answer.status_code, answer.json()["sentence"]) == (
        409,
        "The id note-1 stands in the book already with other content. "
        "Give this entry an id of its own.",
    )


@pytest.mark.parametrize(
    ("who", "status"), [("ada", 200), ("ben", 200), ("cy", 200), ("dee", 404), (None, 401)]
)
@pytest.mark.parametrize("path", [URL, "/api/jobs/case/verdicts"])
def test_who_is_in_the_jobs_list_may_read(client_of, who, status, path):
    client = client_of(who) if who else Client()
    answer = client.get(path)
    assert answer.status_code == status
    if who is None:
        assert answer.json() == {
            "sentence": "Sign in first. What you keyed is still on this device.",
            "field": "",
        }


def test_nobody_appends_without_signing_in(job):
    assert post(Client(), sent(note("note-1"))).status_code == 401


def test_a_post_from_elsewhere_is_refused_and_one_with_the_token_is_kept(client_of):
    client = client_of("ada", enforce_csrf_checks=True)
    answer = post(client, sent(note("note-1")))
    assert (answer.status_code, answer.json()) == (403, {"sentence": STALE_PAGE, "field": ""})
    client.get("/api/")
    token = client.cookies["rehang_csrf"].value
    assert post(client, sent(note("note-1")), HTTP_X_CSRFTOKEN=token).status_code == 200


def test_verdicts_are_those_of_the_command(client_of, append):
    append(ohms("read-1"))
    answer = client_of("cy").get("/api/jobs/case/verdicts").json()
    assert answer == json.loads(json.dumps(job_as_json(queries.judged(queries.job("case")))))
    assert answer["items"][0]["item"] == "plug:P1"


def test_verdicts_of_an_earlier_time(client_of, append):
    append(ohms("read-1", minute=10))
    client = client_of("ada")
    when = {"now": "2026-11-02T09:05:00-05:00"}
    then = client.get("/api/jobs/case/verdicts", when).json()
    assert then["judged_as_of"] == when["now"]
    assert [c["call"] for c in then["items"][0]["calls"] if c["check"] == "resistance"] == ["NOT READ"]  # fmt: skip
    answer = client.get("/api/jobs/case/verdicts", {"now": "2026-11-02T09:05:00"})
    assert (answer.status_code, answer.json()) == (
        422,
        {
            "sentence": "Write date, time and offset, as in 2026-10-13T09:12:00-05:00.",
            "field": "now",
        },
    )


def test_a_long_book_is_read_in_pieces(client_of, append):
    append(*(note(f"note-{n}") for n in range(500)))
    client = client_of("ada")
    first = client.get(URL).json()
    assert (len(first["entries"]), first["more"]) == (500, True)
    rest = client.get(URL, {"after": first["entries"][-1]["seq"]}).json()
    assert [one["seq"] for one in rest["entries"]] == [501, 502, 503, 504, 505]
    assert rest["more"] is False
    assert client.get(URL, {"after": 10**30}).json()["entries"] == []
    assert client.get(URL, {"after": -1}).status_code == 422


def test_the_schema_names_each_answer_that_is_given():
    paths = api.get_openapi_schema()["paths"]
    post_entries = paths["/api/jobs/{slug}/entries"]["post"]
    assert {int(code) for code in post_entries["responses"]} == {
        200, 400, 401, 403, 404, 409, 413, 422,
    }  # fmt: skip
    assert set(paths) == {"/api/jobs/{slug}/entries", "/api/jobs/{slug}/verdicts"}


def test_the_page_of_the_api_lists_each_operation_and_loads_nothing_from_elsewhere(client_of):
    answer = client_of("ada").get("/api/")
    page = answer.content.decode()
    for words in (
        "<b>POST</b> /api/jobs/{slug}/entries",
        "<b>GET</b> /api/jobs/{slug}/entries",
        "<b>GET</b> /api/jobs/{slug}/verdicts",
        "Append entries to the book",
        "400 401 403 404 409 422",
    ):
        assert words in page
    assert "://" not in page
    assert "default-src 'none'" in answer["Content-Security-Policy"]
    assert client_of("ada").get("/api/openapi.json").json()["info"]["title"] == "Rehang"


def test_reading_the_book_takes_few_questions_however_long_it_is(
    client_of, append, django_assert_max_num_queries
):
    append(*(note(f"note-{n}") for n in range(100)))
    client = client_of("ada")
    queries.forget()
    # Session, user, member, job, entries.
    with django_assert_max_num_queries(5):
        assert client.get("/api/jobs/case/verdicts").status_code == 200
    # The judged job is still at hand.
    with django_assert_max_num_queries(4):
        assert client.get("/api/jobs/case/verdicts").status_code == 200


@pytest.mark.parametrize("address", ["/api/jobs/..%2Fetc/entries", "/api/nothing/", "/api/jobs"])
def test_an_address_of_the_api_that_is_none_is_answered_in_json(client, db, address):
    answer = client.get(address)
    assert answer.status_code in (401, 404)
    assert answer.json()["sentence"]


@pytest.mark.parametrize("typed", ["\ud800", "4807\ud800", "\udfff480713"])
def test_half_a_character_in_a_secret_is_a_wrong_secret(job, typed):
    give_pins("ada")
    name = members.member("ada").user.username
    asked = members.OwnSecret()
    assert asked.authenticate(None, username=name, secret=PIN) is not None
    assert asked.authenticate(None, username=name, secret=typed) is None
    assert asked.authenticate(None, username=name, code=typed) is None
    assert asked.authenticate(None, username=typed, secret=PIN) is None
