"""A full disk, a read-only one, a database that is gone, and what no database should be asked."""

import errno
import json
import os
import shutil

import pytest
from django.db import DatabaseError, OperationalError
from django.test import Client

from rehang.book import members, queries, services
from rehang.book.outage import outage
from rehang.book.tables import bring_up_to_date
from rehang.paper.calendar import ical_text
from rehang.sheets import demo_path
from rehang.sheets.folder import parse_files
from rehang.site import settings as site_settings
from rehang.trade.terms.errors import BadInput, Refused
from tests.started import rehang
from tests.trade import cast

KEPT = "Nothing of this was kept; what stood in the book before still stands."
FULL = f"The disk is full. {KEPT} Make room on it, then do it again."
GONE = (
    f"The database does not answer: it is starting, stopped or out of reach. {KEPT} Do it again in "
    "a minute; if it stays so, look at the machine that holds the books."
)
FAILURES = [
    (OSError(errno.ENOSPC, "No space left on device", "x"), FULL),
    (OperationalError("database or disk is full"), FULL),
    (
        OperationalError("attempt to write a readonly database"),
        f"The database can be read and not written to. {KEPT} Look at the disk and at whose it is, "
        "then do it again.",
    ),
    (
        OperationalError("database is locked"),
        f"Somebody else has been writing to the book for long. {KEPT} Do it again in a moment.",
    ),
    (OperationalError('connection to server at "127.0.0.1", port 1 failed: Connection refused'), GONE),
    (OperationalError("server closed the connection unexpectedly"), GONE),
    (OperationalError("FATAL:  the database system is starting up"), GONE),
    (
        DatabaseError("no such table: book_job"),
        f"The database cannot do this (no such table: book_job). {KEPT} Run: rehang verify",
    ),
    (KeyError("x"), ""),
]  # fmt: skip


@pytest.mark.parametrize(("problem", "said"), FAILURES)
def test_a_failure_of_disk_or_database_has_its_sentence(problem, said):
    assert outage(problem) == said


@pytest.mark.django_db
@pytest.mark.parametrize(("problem", "said"), [one for one in FAILURES if one[1]])
def test_a_page_and_the_api_say_it_and_what_was_kept(job, monkeypatch, problem, said):
    def fails(*args, **kwargs):
        raise problem

    client = Client(raise_request_exception=False)
    client.force_login(
        members.member("ada").user, backend="django.contrib.auth.backends.ModelBackend"
    )
    monkeypatch.setattr(services, "append", fails)
    monkeypatch.setattr(queries, "judged", fails)
    page = client.get("/jobs/case/")
    assert (page.status_code, said.replace('"', "&quot;") in page.content.decode()) == (503, True)
    sent = json.dumps(
        {"entries": [{"id": "note-1", "kind": "note", "at": cast.START.isoformat(), "text": "x"}]}
    )
    answer = client.post("/api/jobs/case/entries", sent, content_type="application/json")
    assert answer.status_code == 503
    assert answer.json()["sentence"] == f"{said} What you keyed is still on this device."


@pytest.mark.django_db
def test_a_body_too_long_is_told_apart_so_that_it_can_be_sent_in_parts(job):
    client = Client()
    client.force_login(
        members.member("ada").user, backend="django.contrib.auth.backends.ModelBackend"
    )
    answer = client.post(
        "/api/jobs/case/entries", b"[" + b" " * 2_700_000 + b"]", content_type="application/json"
    )
    assert answer.status_code == 413
    assert answer.json()["sentence"].startswith(
        "More came at once than is taken in one go (2.6 MB)"
    )


@pytest.mark.django_db
@pytest.mark.parametrize("odd", ["9" * 5_000, "\u00b2", "-1", "0001-01-01", "9999-12-31", "a\0b"])
def test_an_odd_query_is_answered_on_every_page(job, odd):
    client = Client()
    client.force_login(
        members.member("ada").user, backend="django.contrib.auth.backends.ModelBackend"
    )
    wanted = dict.fromkeys(("before", "chart", "show", "check", "hole", "meter", "within", "now", "after", "size", "why", "next"), odd)  # fmt: skip
    pages = ["/fleet/", *(f"/jobs/case/{one}" for one in ("", "book/", "engine/", "tray/", "meters/")),
             "/api/jobs/case/entries", "/api/jobs/case/verdicts"]  # fmt: skip
    client.cookies["meters-case"] = f"gap:WG::{odd.strip(chr(0))[:50]}"
    answered = {one: client.get(one, wanted).status_code for one in pages}
    assert set(answered.values()) <= {200, 302, 400, 404, 422}, answered
    assert ("\0" in odd) == (set(answered.values()) == {400})


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        (
            'layout = "',
            f'title = "{"x" * 301}"\nlayout = "',
            r'"title" has \d+ characters; it may have 300\.$',
        ),
        ('name = "', f'name = "{"x" * 200}', r'"name" has \d+ characters; it may have 200\.$'),
        ('key = "', f'key = "{"x" * 60}', r'"key" has \d+ characters; it may have 60\.$'),
        ('name = "', 'name = "\\u0000', r'"name" has a NUL character in it\. Take it out\.$'),
    ],
)
def test_what_one_database_would_refuse_is_refused_on_both(old, new, sentence):
    name = "engine.toml" if old.startswith("layout") else "people.toml"
    files = dict(cast.FILES)
    assert old in files[name]
    files[name] = files[name].replace(old, new, 1)
    with pytest.raises(BadInput, match=rf"^{name}, line \d+: {sentence}"):
        parse_files(files)


def test_a_line_break_in_a_title_is_written_as_a_calendar_writes_it():
    # RFC 5545, 3.3.11: ESCAPED-CHAR = "\\" / "\;" / "\," / "\N" / "\n"; 3.1: no CONTROL in a text.
    written = ical_text("Oil\r\nBEGIN:VEVENT; a, b\x00\x0b\\").to_ical()
    assert written == rb"Oil\nBEGIN:VEVENT\; a\, b\n\\"


@pytest.mark.slow
def test_a_full_disk_is_said_by_a_command_and_leaves_no_half_file(tmp_path):
    folder = tmp_path / "job"
    shutil.copytree(demo_path(), folder)
    before = {one.name: one.read_bytes() for one in folder.iterdir()}
    done = rehang("seal", folder, data=tmp_path / "data", full_at=10_000)
    assert (done.returncode, done.stdout, done.stderr) == (1, "", f"{FULL}\n")
    assert {one.name: one.read_bytes() for one in folder.iterdir() if one.name[0] != "."} == before
    done = rehang("archive", folder, tmp_path / "kept", data=tmp_path / "data", full_at=10_000)
    assert (done.returncode, done.stdout) == (1, "")
    assert "kept has not been written" in done.stderr
    assert "Nothing of it is left. Make room" in done.stderr
    assert not (tmp_path / "kept").exists()


@pytest.mark.django_db
def test_books_on_a_disk_that_takes_no_writing_are_opened_to_be_read(
    settings, tmp_path, monkeypatch
):
    file = tmp_path / "rehang.sqlite3"
    file.write_bytes(b"")
    assert not site_settings._is_read_only(file)
    monkeypatch.setattr(os, "access", lambda *given: False)
    assert site_settings._is_read_only(file)
    assert site_settings._read_only(file)["NAME"] == f"file://{file}?mode=ro&immutable=1"
    (tmp_path / "rehang.sqlite3-wal").write_bytes(b"x")
    # What was committed last stands in the log: the file alone is not the book.
    assert site_settings._read_only(file)["NAME"] == f"file://{file}?mode=ro"
    settings.REHANG_READ_ONLY, settings.REHANG_DATA = True, tmp_path
    bring_up_to_date()
    monkeypatch.setattr("rehang.book.tables.unapplied", lambda: ["book 0009_later"])
    with pytest.raises(
        Refused, match=r"cannot be written to, and its books are of an older Rehang\."
    ):
        bring_up_to_date()
