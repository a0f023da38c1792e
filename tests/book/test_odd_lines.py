"""Lines that stand in a book and cannot be shown: set aside once, named, and struck by a tap."""

import hashlib
import json
import re
from html import unescape

import pytest
from django.db import connection

from rehang.book import members, models, queries, services
from rehang.cli import main as cli
from rehang.sheets.folder import read_folder, write_folder
from rehang.trade.job.judging import judge
from rehang.trade.terms.chain import seal_hash
from rehang.trade.terms.entries import canonical
from rehang.trade.terms.errors import BadInput, NotAllowed
from tests.book import shop
from tests.trade import cast

pytestmark = pytest.mark.django_db

AT = cast.START.isoformat()


def line(kind: str, **data) -> dict:
    return {"id": "odd-line", "at": AT, "by": "ada", "kind": kind, **data}


def raw(fields: str) -> str:
    return f'{{"at":"{AT}","by":"ada","id":"odd-line",{fields}}}'


ODD = {
    "a number of 310 digits": line("needed", part="plug", number=10**309, reason="worn"),
    "a number out of bounds": line("needed", part="plug", number=10**15, reason="worn"),
    "year 1": line("note", text="x") | {"at": "0001-01-01T00:00:00+14:00"},
    "year 9999": line("note", text="x") | {"at": "9999-12-31T23:59:59-14:00"},
    "no offset": line("note", text="x") | {"at": "2026-11-02T09:00:00"},
    "an offset with seconds": line("note", text="x") | {"at": "2026-11-02T09:00:00+00:00:30"},
    "a check no sheet has": line("seen", item="plug:P1", word="crack", check="nonsense"),
    "a word no sheet has": line("seen", item="plug:P1", word="nonsense"),
    "severity 9": line("seen", item="plug:P1", word="crack", severity=9),
    "a reading of no check": line("reading", item="plug:P1", check="nonsense", written="3"),
    "a meter that is not there": line(
        "reading", item="plug:P1", check="gap", written="18 thou", meter="NOPE"
    ),
    "a kind that is none": line("banana", text="x"),
    "a kind that is a number": line("note", text="x") | {"kind": 3},
    "a field missing": line("reading", item="plug:P1"),
    "a field of another type": line("note", text=3),
    "a field too many": line("note", text="x", banana=3),
    "half a character": raw(r'"kind":"note","text":"\ud800"'),
    "NUL": line("note", text="a\0b"),
    "a text of two million": line("note", text="x" * 2_000_000),
    "NaN": raw('"kind":"run_ended","run":"1","engine_hours":NaN'),
    "infinity": raw('"kind":"run_ended","run":"1","engine_hours":1e999'),
    "no JSON": "banana",
    "nothing": "",
    "a list": "[]",
    "brackets without end": '{"x":' + "[" * 100_000,
    "5,000 digits": raw(f'"kind":"note","text":"x","number":{"9" * 5000}'),
    "by a number": line("note", text="x") | {"by": 3},
    "a promise for no day": line("promised", item="plug:P1", what="gap", on="banana"),
    "wanted on no day": line("wanted", on="banana"),
    "a step of no run": line("run_step", run="9", step="idle"),
    "a P-lead of no magneto": line("p_lead", item="banana", state="off"),
    "a service of no day": line("earlier", item="plug:P1", service="banana"),
    "conditions that are no table": line(
        "earlier", item="plug:P1", service="2020-01",
        readings=[{"check": "gap", "written": "18 thou", "meter": "WG", "with": 3}],
    ),
    "a plug out of no hole": line("removed", item="plug:P9", place="9Z"),
    "a sheet that is no TOML": line("filed", file="limits.toml", sha256="x", text="limit ="),
    "a sheet of another job": line(
        "filed", file="engine.toml", sha256="x",
        text=cast.FILES["engine.toml"].replace('job = "case"', 'job = "other"'),
    ),
}  # fmt: skip


def put(job: models.Job, body: dict | str) -> None:
    """A line at the end of the book, past every gate."""
    held = models.Job.objects.get(pk=job.pk)
    seq, kept = held.head_seq + 1, "2026-11-02T20:00:00+00:00"
    text = json.dumps(body) if isinstance(body, dict) else body
    try:
        read = json.loads(text)
        sealed = canonical({**read, "seq": seq, "kept": kept})
    except (ValueError, TypeError, RecursionError):
        sealed = text
    digest = hashlib.sha256(f"{held.head_hash}\n{sealed}".encode()).hexdigest()
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO book_entry (id, job_id, seq, entry_id, kind, item, at, kept_at, by, body,"
            " prev, hash) VALUES (%s, %s, %s, %s, 'note', '', %s, %s, 'ada', %s, %s, %s)",
            [models.entry_key(held.pk, seq), held.pk, seq, f"odd-{seq}", AT, kept, text,
             held.head_hash, digest],
        )  # fmt: skip
        cursor.execute(
            "UPDATE book_job SET head_seq = %s, head_hash = %s WHERE id = %s",
            [seq, digest, held.pk],
        )
    queries.forget()


@pytest.mark.parametrize("body", ODD.values(), ids=ODD)
def test_a_line_that_cannot_be_shown_is_set_aside_named_and_struck(job, body):
    before = queries.judged(queries.job("case"))
    put(job, body)
    held = queries.job("case")
    judged = queries.judged(held)
    (odd,) = judged.state.aside
    assert judged.state.order[-1].kind == "unread"
    assert [one.verdict for one in judged.items] == [one.verdict for one in before.items]
    (blocker,) = [one for one in judged.blockers if one.about == f"entry:{odd}"]
    assert blocker.sentence.startswith(f"Line {held.head_seq} of the book cannot be shown: ")
    # What others write is kept as ever, and so is the strike.
    services.append(job=held, entries=[shop.note("washed-1")], by="ada", at=shop.KEPT)
    services.strike(
        job=held, entry_id=odd, reason="not a line", by="ada", at=shop.KEPT, confirmed="ada"
    )
    queries.forget()
    after = queries.judged(queries.job("case"))
    assert [one.about for one in after.blockers] == [one.about for one in before.blockers]


def test_a_job_whose_sheets_cannot_be_read_stops_no_other_job(job, client, monkeypatch):
    other = shop.folder("other", entries=[shop.removed()])
    services.load_folder(folder=other, by="ada", at=shop.KEPT)
    with connection.cursor() as cursor:
        # Sheets and all, as a program that knows other keys would have written it.
        cursor.execute("DELETE FROM book_reading")
        cursor.execute("UPDATE book_job SET head_seq = 1 WHERE slug = 'case'")
    queries.forget()
    user = members.member("ada").user
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    shown = " ".join(unescape(client.get("/").content.decode()).split())
    assert "Cannot be shown: The folder has no engine.toml." in shown
    assert client.get("/jobs/other/").status_code == 200
    assert client.get("/jobs/case/").status_code == 404
    for path in (
        "/fleet/",
        "/find/?q=P1",
        "/label/",
        "/jobs/other/story/plug/P1/",
        "/jobs/other/rest/",
        "/jobs/other/limits/",
        "/sign-in/",
    ):
        assert client.get(path, follow=True).status_code == 200, path


def test_what_was_good_is_never_set_aside_by_what_comes_after(job, append):
    append(shop.ohms("ohms-1"))
    with pytest.raises(NotAllowed, match=r"^P1 was read or looked at 1 time since it came out"):
        services.strike(
            job=job, entry_id="removed-P1", reason="a slip of mine", by="ada", at=shop.KEPT
        )
    queries.forget()
    assert not queries.judged(queries.job("case")).state.aside


def test_an_odd_line_goes_out_and_comes_in_with_its_folder(job, tmp_path):
    put(job, ODD["a number of 310 digits"])
    put(job, ODD["half a character"].replace("odd-line", "odd-half"))
    files, book = queries.as_folder(queries.job("case"))
    write_folder(tmp_path / "case", files, book)
    folder = read_folder(tmp_path / "case")
    judged = judge(folder.facts, folder.entries, where=folder.where)
    assert list(judged.state.aside) == ["odd-line", "odd-half"]
    # As it was kept, character for character.
    assert str(10**309) in (tmp_path / "case" / "book.jsonl").read_text("utf-8")
    odd = book[-2]
    assert odd.hash == seal_hash(odd, seq=odd.seq, kept=odd.kept, prev=book[-3].hash)


def test_a_line_that_was_typed_is_refused_with_its_place_and_not_set_aside(tmp_path):
    write_folder(tmp_path / "case", dict(cast.FILES), [shop.removed()])
    with (tmp_path / "case" / "book.jsonl").open("a") as file:
        file.write(json.dumps(ODD["a number of 310 digits"]) + "\n")
    (tmp_path / "case" / "contents.toml").unlink()
    with pytest.raises(
        BadInput, match=r'^book\.jsonl, line 2: "number" is a number of more digits'
    ):
        read_folder(tmp_path / "case")


@pytest.mark.slow
def test_every_page_stands_over_every_odd_line(demo, client, tmp_path, monkeypatch, capsys):
    from tests.web.test_pages import PAGES

    more = [
        "record/", "record/maintenance/", "due/", "due/next-due.ics", "run/", "torque/", "tray/",
        "places/", "rest/", "rest/bench/", "rest/handover/", "rest/parts/", "rest/plan.ics",
        "rest/rotation/", "engine/", "engine/oil/", "story/plug/K0411/", "tables/readings.csv",
        "paper/archive.zip",
    ]  # fmt: skip
    for number, body in enumerate(ODD.values()):
        text = json.dumps(body) if isinstance(body, dict) else body
        text = text.replace("odd-line", f"odd-line-{number}").replace('"ada"', '"marta"')
        text = text.replace("plug:P1", "plug:K0411")
        put(demo, json.loads(text) if isinstance(body, dict) else text)
    user = members.member("marta").user
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    job = f"/jobs/{demo.slug}/"
    pages = ["/fleet/", *(job + one for one in (*PAGES, *more)),
             f"/api{job}entries", f"/api{job}verdicts"]  # fmt: skip
    assert {one: client.get(one).status_code for one in pages} == dict.fromkeys(pages, 200)
    shown = unescape(client.get(f"{job}book/").content.decode())
    assert len(re.findall("Cannot be shown: strike it", shown)) == len(ODD)
    odd = list(queries.state(queries.job(demo.slug)).aside)
    assert f'<input type="hidden" name="entry" value="{odd[0]}">' in shown
    # The commands.
    monkeypatch.setattr(cli, "open_store", lambda: None)
    for command in (["story", demo.slug, "K0411"], ["plan", demo.slug], ["forecast", demo.slug],
                    ["save", demo.slug, str(tmp_path / "saved")]):  # fmt: skip
        assert cli.app(command, result_action="return_value") == 0, command
    for one in odd:
        services.strike(
            job=queries.job(demo.slug), entry_id=one, reason="not a line", by="marta",
            at=shop.KEPT, confirmed="marta",
        )  # fmt: skip
    queries.forget()
    assert {one: client.get(one).status_code for one in pages} == dict.fromkeys(pages, 200)
