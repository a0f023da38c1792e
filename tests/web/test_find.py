"""Search from every page, the five lines that explain each, and the first walk over the demo."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from html import unescape
from pathlib import Path

import pytest
from django.test import Client
from django.urls import get_resolver, reverse

from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.web.shared.help import ANY, helps
from tests import who_may
from tests.book.shop import KEPT, folder, note, removed
from tests.pins import give_pins
from tests.web.test_who_may import ARGS, routes

DEMO = "tv4-2207-2026"
J = f"/jobs/{DEMO}/"
LOADED = datetime(2026, 10, 20, 12, 0, tzinfo=UTC)
DRAWN = Path(__file__).parents[2] / "src/rehang/web/find/templates/find/_drawn.html"
# What the things on file are called in an address.
FACTS = {
    "facts_kind": {"name": "person"},
    "facts_new": {"name": "person"},
    "facts_thing": {"name": "person", "key": "marta"},
}
# What answers with no page of its own: a file, a picture, a part of a page, what a program asks.
NO_PAGE = re.compile(
    r"(_pdf|_zip|_ics|_file|_chart|_partial|_calendar|_live|_entries|_verdicts|-json|-root)$"
)

# What has help and is not shown by a shop that has only just begun its demo.
NOT_HERE = {
    ANY, "begin", "extra", "monitor", "monitor_columns", "new_job", "run_of", "signed",
}  # fmt: skip


@pytest.fixture
def board(db):
    from rehang.book import queries, services

    queries.forget()
    services.load_folder(folder=read_folder(demo_path()), by="marta", at=LOADED)
    services.load_folder(folder=folder("case", [removed("P1"), note("note-1")]), by="ada", at=KEPT)
    give_pins("marta", "ada")
    return queries.job(DEMO)


def signed_in(person: str = "marta") -> Client:
    from rehang.book import members

    client = Client()
    client.force_login(members.member(person).user, "django.contrib.auth.backends.ModelBackend")
    return client


def found(client: Client, **asked: str) -> list[tuple[str, str]]:
    """Address and words of each line that a search shows."""
    answer = client.get("/find/", asked)
    html = answer.content.decode()
    part = re.search(r"<main.*</main>", html, flags=re.S)[0]
    rows = re.findall(r'<a href="(/jobs/[^"]+)">(.*?)</a>', part, flags=re.S)
    return [
        (unescape(where), " ".join(unescape(re.sub(r"<[^>]+>", " ", words)).split()))
        for where, words in rows
    ]


@pytest.mark.parametrize(
    ("asked", "address", "words"),
    [
        ("K0412", J + "plugs/K0412/", "Plug K0412 hole 1B"),
        ("D6", J + "tasks/D6/", "D6 Plug gaps"),
        ("DM-2", J + "meters/of/DM-2/", "DM-2 Digital ohmmeter"),
        ("Marta", J + "facts/person/of/marta/", "Marta Oduya"),
        ("X-MRW7", J, "Tolvane TV4-150, off X-MRW7"),
    ],
)
def test_what_is_typed_stands_on_top_and_leads_to_its_page(board, asked, address, words):
    client = signed_in()
    rows = found(client, q=asked)
    assert rows[0][0] == address
    assert rows[0][1].startswith(words)
    assert [where for where, _ in rows if client.get(where).status_code != 200] == []


def test_a_verdict_stands_beside_a_part(board):
    assert found(signed_in(), q="K0412")[0][1].endswith("REJECT")


def test_a_document_and_a_limit_lead_to_the_limits(board):
    client = signed_in()
    places = [where for where, _ in found(client, q="tv4 manual")]
    assert J + "limits/?q=TV4+manual+%28invented%29" in places
    assert any(re.fullmatch(J + r"limits/\d+/", one) for one in places)
    assert [one for one in places if client.get(one).status_code != 200] == []


def test_nobody_finds_what_is_in_a_job_that_is_not_theirs(board):
    assert found(signed_in("ada"), q="K0411") == []
    assert found(signed_in("ada"), q="Tolvane") == []
    assert found(signed_in("ada"), q="P1")[0][0] == "/jobs/case/plugs/P1/"
    # Nor by saying that they come from it.
    answer = signed_in("ada").get("/find/", {"q": "P1", "from": J})
    assert "TV4-2207" not in answer.content.decode()


def test_a_job_off_the_board_is_found_and_says_so(board):
    from django.utils import timezone

    from rehang.book import queries, services

    services.write(job=board, kind="put_away", data={"reason": "done"}, by="marta",
                   at=timezone.now(), confirmed="marta")  # fmt: skip
    assert queries.job(DEMO).put_away
    rows = found(signed_in(), q="K0411")
    assert "off the board" in rows[0][1]


def test_this_jobs_own_comes_first_and_the_same_in_another_is_one_line(board):
    from rehang.book import services
    from tests.web.test_pages import DEMO as SAME

    other = read_folder(demo_path())
    files = {**other.files, "engine.toml": other.files["engine.toml"].replace(SAME, "tv4-later")}
    from dataclasses import replace

    from rehang.sheets.folder import parse_files

    later = replace(
        other, name="tv4-later", files=files, entries=(), facts=parse_files(files, "tv4-later")
    )
    services.load_folder(folder=later, by="marta", at=LOADED)
    client = signed_in()
    for slug in (DEMO, "tv4-later"):
        rows = found(client, q="DM-2", **{"from": f"/jobs/{slug}/tray/"})
        meters = [where for where, _ in rows if "/meters/" in where]
        assert meters == [f"/jobs/{slug}/meters/of/DM-2/"]


@pytest.mark.parametrize(
    ("asked", "status", "sentence"),
    [
        ("", 422, "Type a serial, a task, a name or any word."),
        ("y" * 500, 422, "That is 500 characters long. Type 60 at most: a serial, a task, a name."),
        ("<b>zzz", 200, "Nothing has “<b>zzz” in it. Try fewer letters, or a part of the serial."),
    ],
)
def test_nothing_too_much_and_no_find_say_one_sentence(board, asked, status, sentence):
    answer = signed_in().get("/find/", {"q": asked})
    html = answer.content.decode()
    assert answer.status_code == status
    assert [unescape(one) for one in re.findall(r'id="w-q" role="status">(.*?)</p>', html)] == [
        sentence
    ]


def test_only_what_is_ours_is_gone_back_to(board):
    answer = signed_in().get("/find/", {"from": "https://elsewhere.example/x"})
    assert 'href="https://elsewhere' not in answer.content.decode()
    assert ">BACK<" not in answer.content.decode()
    assert (
        '/jobs/x"y/' not in signed_in().get("/help/board/", {"from": '/jobs/x"y/'}).content.decode()
    )


# ---------------------------------------------------------------- help


def test_every_page_has_its_five_lines_and_leads_to_them(board):
    from rehang.book import beginning

    close = next(
        row.split("/")[-2]
        for row in re.findall(
            r"/jobs/[^\"]+/close/[^\"]+/", signed_in().get(J + "walk/").content.decode()
        )
    )
    beginning.offer_shop(job=board, by="marta", at=LOADED)
    client, missing, seen = signed_in(), [], set()
    for pattern in routes(get_resolver().url_patterns):
        name = str(pattern.name)
        if NO_PAGE.search(name) or (name in who_may.ADDRESSES and not who_may.ADDRESSES[name][0]):
            continue
        given = dict(ARGS.get(name) or FACTS.get(name) or {})
        given = {key: close if value == "CLOSE" else value for key, value in given.items()}
        given |= {"slug": DEMO} if "<slug:slug>" in str(pattern.pattern) else {}
        # What nobody has an example of is asked for by a name that is not there.
        given = dict.fromkeys(pattern.pattern.converters, "none") | given
        where = reverse(name if name == "api" else f"web:{name}", kwargs=given)
        answer = client.get(where, {"list": ""})
        html = (
            answer.content.decode()
            if answer.get("Content-Type", "").startswith("text/html")
            else ""
        )
        if answer.status_code == 200 and '<header class="head">' in html:
            seen.add(name)
            if name not in helps() or f'href="/help/{name}/' not in html:
                missing.append(name)
    assert missing == []
    assert set(helps()) - seen == NOT_HERE


def test_each_help_is_five_short_lines_with_something_drawn():
    drawn = set(re.findall(r'<symbol id="d-([a-z]+)"', DRAWN.read_text("utf-8")))
    inner = re.compile(r"\b(toml|json|chain|hash|htmx|key of|field of)\b", re.IGNORECASE)
    for name, one in helps().items():
        assert len(one.lines) == 5, name
        for picture, said in one.lines:
            assert picture in drawn, (name, picture)
            assert 6 <= len(said) <= 90, (name, said)
            assert said[-1] in ".?", (name, said)
            assert name == "api" or not inner.search(said), (name, said)


def test_a_shop_that_is_not_begun_has_help_on_its_first_page(db):
    html = Client().get("/begin/").content.decode()
    assert 'href="/help/begin/' in html


def test_help_is_there_before_anybody_has_signed_in(board):
    answer = Client().get("/sign-in/")
    assert 'href="/help/sign_in/' in answer.content.decode()
    html = Client().get("/help/sign_in/", {"from": "/sign-in/"}).content.decode()
    assert "Tap your name, at this machine." in html
    assert 'href="/sign-in/">BACK' in html
    assert 'action="/find/"' not in html


def test_a_page_that_is_none_is_said_so(board):
    answer = Client().get("/help/nothing/")
    assert answer.status_code == 404
    assert "There is no page &quot;nothing&quot; to explain." in answer.content.decode()


def test_search_with_nothing_asked_explains_the_page_that_it_came_from(board):
    html = signed_in().get("/find/", {"from": J + "tray/?check=gap"}).content.decode()
    assert "This page: Tray" in html
    assert f'href="{J}tray/?check=gap">BACK' in html


# ---------------------------------------------------------------- the first walk


def test_the_walk_leads_over_seven_pages_that_have_what_it_speaks_of(board):
    client = signed_in()
    html = client.get(J + "walk/").content.decode()
    assert "All of it is invented" in html
    stops = re.findall(
        r'<a class="button" href="([^"]+)">(\d)\. (.*?)</a>(.*?)</p>', html, flags=re.S
    )
    assert [number for _, number, *_ in stops] == list("1234567")
    there = {
        "1": 'data-key="next"', "2": "READ AGAIN", "3": "OUT", "4": "<svg", "5": "Ground run",
        "6": "/plugs/K0412/", "7": "Your signature",
    }  # fmt: skip
    for where, number, title, words in stops:
        answer = client.get(unescape(where))
        assert answer.status_code == 200, (title, where)
        main = re.search(r"<main.*</main>", answer.content.decode(), flags=re.S)[0]
        assert there[number] in main, (title, where)
        assert len(re.findall(r"[.!?](?=\s|$)", words.strip())) == 1, words


def test_the_walk_is_for_the_demos_people_on_the_demo(board):
    assert signed_in("ada").get(J + "walk/").status_code == 404
    answer = signed_in("ada").get("/jobs/case/walk/")
    assert answer.status_code == 404
    assert "The first walk goes over the demo, and this job is your own." in answer.content.decode()
    assert "/walk/" in signed_in().get(J).content.decode()
    assert "/walk/" not in signed_in("ada").get("/jobs/case/").content.decode()


def test_the_walk_stands_when_the_close_call_is_settled_and_all_is_signed(db):
    from rehang.book import queries, services
    from rehang.web.find.walk import stops

    queries.forget()
    finished = read_folder(demo_path().with_name("demo-finished"))
    job = services.load_folder(folder=finished, by="marta", at=datetime(2026, 11, 30, tzinfo=UTC))
    give_pins("marta")
    client = signed_in()
    walked = stops(queries.judged(job), job.slug)
    assert [client.get(one.address).status_code for one in walked] == [200] * 7
