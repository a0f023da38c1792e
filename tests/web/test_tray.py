"""The tray, the line, why and the close call, without a browser; every view tried by all four.

Ada inspects, Ben approves, Cy only reads, Dee is not in the job's list.
"""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime

import pytest
from django.urls import reverse

from rehang.sheets.folder import JobFolder, parse_files
from rehang.trade.terms.entries import new_entry
from tests.markup import markup
from tests.pins import PIN, give_pins
from tests.trade import cast

pytestmark = pytest.mark.django_db

AT = datetime(2026, 11, 2, 20, 0, tzinfo=UTC)
PEOPLE = """[[person]]
key = "ada"
name = "Ada"
role = "inspects"
certificate = "CASE-1"
certificate_kind = "mechanic"
[[person]]
key = "ben"
name = "Ben"
role = "approves"
certificate = "CASE-2"
certificate_kind = "mechanic"
[[person]]
key = "cy"
name = "Cy"
role = "reads"
"""
DEE = '[[person]]\nkey = "dee"\nname = "Dee"\nrole = "inspects"\n'


def load(slug: str, people: str, entries=()):
    from rehang.book import services

    files = dict(cast.FILES) | {"people.toml": people}
    files["engine.toml"] = files["engine.toml"].replace('job = "case"', f'job = "{slug}"')
    folder = JobFolder(slug, files, tuple(entries), parse_files(files, slug), {}, ())
    return services.load_folder(folder=folder, by="ada", at=AT)


def removed(serial: str, place: str):
    return new_entry(
        "removed",
        at=cast.START,
        by="ada",
        id=f"removed-{serial}",
        item=f"plug:{serial}",
        place=place,
    )


def ohms(name: str, written: str, meter: str = "DM", range_name: str = "20k", **more):
    return new_entry(
        "reading", at=cast.START, by="ada", id=name, item="plug:P1", place="1T",
        check="resistance", written=written, meter=meter, range=range_name, **more,
    )  # fmt: skip


@pytest.fixture(autouse=True)
def _fresh():
    from rehang.book import queries

    queries.forget()


@pytest.fixture
def job():
    made = load(
        "case", PEOPLE, [removed("P1", "1T"), removed("P2", "1B"), ohms("first", "1.27 kohm")]
    )
    load("other", PEOPLE + DEE)
    give_pins("ada", "ben", "cy", "dee")
    return made


@pytest.fixture
def as_person(client):
    from rehang.book import members

    def sign_in(key: str):
        client.force_login(
            members.member(key).user, backend="django.contrib.auth.backends.ModelBackend"
        )
        return client

    return sign_in


def book_size(slug: str = "case") -> int:
    from rehang.book import queries

    return queries.job(slug).head_seq


PAGES = [
    ("tray", ["case"]),
    ("tray_partial", ["case"]),
    ("why", ["case", "1T", "resistance"]),
    ("close_call", ["case", "first"]),
]
POSTS = [
    ("line_keep", ["case"], {"line": "o 1b=1.3"}),
    (
        "call_it",
        ["case", "first"],
        {"call": "WITHIN", "words": "Steady at every press", "pin": PIN},
    ),
    ("leave_open", ["case", "first"], {}),
]


@pytest.mark.parametrize(("key", "status"), [("ada", 200), ("ben", 200), ("cy", 200), ("dee", 404)])
@pytest.mark.parametrize(("name", "args"), PAGES, ids=[p[0] for p in PAGES])
def test_pages_are_open_to_those_in_the_list(job, as_person, name, args, key, status):
    assert as_person(key).get(reverse(f"web:{name}", args=args)).status_code == status


@pytest.mark.parametrize(("name", "args"), PAGES, ids=[p[0] for p in PAGES])
def test_nobody_sees_a_page_without_signing_in(job, client, name, args):
    answer = client.get(reverse(f"web:{name}", args=args))
    assert answer.status_code == 302
    assert answer.url.startswith(reverse("web:sign_in"))


@pytest.mark.parametrize(
    ("key", "writes"), [("ada", True), ("ben", True), ("cy", False), ("dee", False)]
)
@pytest.mark.parametrize(("name", "args", "form"), POSTS, ids=[p[0] for p in POSTS])
def test_only_those_who_may_write_write(job, as_person, name, args, form, key, writes):
    before = book_size()
    answer = as_person(key).post(reverse(f"web:{name}", args=args), form)
    assert answer.status_code == (303 if writes else 404 if key == "dee" else 422)
    assert book_size() == before + writes
    if key == "cy":
        assert "Cy reads this book and does not write in it." in answer.content.decode()


def keep(client, line: str, **more):
    return client.post(reverse("web:line_keep", args=["case"]), {"line": line} | more)


def judged():
    from rehang.book import queries

    return queries.judged(queries.job("case"))


def test_a_line_is_kept_whole_and_a_repeat_of_the_form_changes_nothing(job, as_person):
    base = "7d1f2f6e-4f5e-4a35-9b8e-1c7b9c5b2a10"
    for _ in range(3):
        assert keep(as_person("ada"), "o 1b=1.31", base=base).status_code == 303
    readings = judged().state.items["plug:P2"].readings
    assert [t.entry.fields.written for t in readings] == ["1.31 kohm"]


def test_a_line_that_cannot_be_read_keeps_nothing_and_stays_typed(job, as_person):
    before = book_size()
    answer = keep(as_person("ada"), "o 1b=1,24")
    assert answer.status_code == 422
    page = answer.content.decode()
    assert 'value="o 1b=1,24"' in page
    assert "has a comma that is not a thousands mark" in page
    assert book_size() == before


def test_an_unlikely_number_on_the_line_is_asked_about_and_then_marked(job, as_person):
    client = as_person("ada")
    before = book_size()
    # No meter is guessed, not even the only one: it is asked once.
    unasked = keep(client, "g 1b=180")
    assert unasked.status_code == 422
    assert "Gap was written without a meter. Say which meter was used." in unasked.content.decode()
    client.post(reverse("web:choose_meter", args=["case"]), {"check": "gap", "meter": "WG|"})
    answer = keep(client, "g 1b=180")
    assert answer.status_code == 422
    assert "1B: 180 thou is unlikely." in answer.content.decode()
    assert book_size() == before
    assert keep(client, "g 1b=180", confirm="yes").status_code == 303
    assert judged().at("1B").call("gap").kept_as_keyed


def test_the_preview_shows_ghosts_and_writes_nothing(job, as_person):
    before = book_size()
    answer = as_person("ada").post(
        reverse("web:line_preview", args=["case"]), {"line": "o 1.2 1.3"}
    )
    page = markup(answer)
    assert "2 of 8: next 2T" in page
    assert re.search(r'class="cell-read [a-z-]+ ghost"', page)
    assert book_size() == before


def test_reading_again_sends_no_first_value_to_the_page(job, as_person):
    client = as_person("ada")
    answer = client.post(reverse("web:read_again", args=["case", "first"]))
    assert answer.status_code == 303
    page = client.get(answer.url).content.decode()
    assert "1.27" not in page
    assert "1270" not in page
    assert "Being read again" in page


def test_calling_takes_a_call_and_a_reason(job, as_person):
    client = as_person("ada")
    where = reverse("web:call_it", args=["case", "first"])
    assert "Choose WITHIN or OUT." in client.post(where, {}).content.decode()
    said = client.post(where, {"call": "OUT"}).content.decode()
    assert "Calling a close call takes a reason. Write it, or choose what the book holds." in said


def test_a_reason_is_offered_only_where_the_book_holds_it(as_person):
    load("case", PEOPLE, [removed("P1", "1T"), ohms("first", "5.00 kohm")])
    give_pins("ada")
    client = as_person("ada")
    page = client.get(reverse("web:close_call", args=["case", "first"])).content.decode()
    assert "The reason, in your own words" in page
    assert "What the book holds" not in page
    assert "second meter" not in page
    fields = {"call": "WITHIN", "reason": "Repeatable on a second meter", "pin": PIN}
    before = book_size()
    said = client.post(reverse("web:call_it", args=["case", "first"]), fields)
    assert said.status_code == 422
    assert "Calling a close call takes a reason." in said.content.decode()
    assert book_size() == before


def test_a_reason_that_the_book_holds_says_each_reading_and_its_meter(as_person):
    from rehang.book import queries

    again = ohms("again", "5.00 kohm", hidden_first=True)
    load("case", PEOPLE, [removed("P1", "1T"), ohms("first", "5.01 kohm"), again])
    give_pins("ada")
    client = as_person("ada")
    proved = "Read as 5.01 kΩ and 5.00 kΩ on DM."
    page = client.get(reverse("web:close_call", args=["case", "again"])).content.decode()
    assert proved in page
    fields = {"call": "WITHIN", "reason": "Trend and history say so", "pin": PIN}
    said = client.post(reverse("web:call_it", args=["case", "again"]), fields)
    assert "The book does not hold" in said.content.decode()
    fields |= {"reason": proved, "words": "Cold plug."}
    assert client.post(reverse("web:call_it", args=["case", "again"]), fields).status_code == 303
    entry = queries.state(queries.job("case")).live()[-1]
    assert entry.data["reason"] == f"{proved} Cold plug."


def test_a_meter_chosen_is_kept_on_the_device(job, as_person):
    client = as_person("ada")
    answer = client.post(
        reverse("web:choose_meter", args=["case"]), {"check": "resistance", "meter": "DM|20k"}
    )
    assert answer.status_code == 303
    assert "resistance%3ADM%3A20k%3A" in client.cookies["meters-case"].value


def test_the_light_is_kept_and_an_outside_address_is_not_followed(client):
    answer = client.post("/mode/", {"mode": "sun", "next": "https://example.com/"})
    assert (answer.status_code, answer.url) == (302, "/")
    assert client.cookies["mode"].value == "sun"
    assert "mode" not in client.post("/mode/", {"mode": "neon"}).cookies


def test_the_pad_is_given_what_it_needs_once(job, as_person):
    page = as_person("ada").get(reverse("web:tray", args=["case"])).content.decode()
    raw = re.search(r'<script id="pad-data" type="application/json">(.*?)</script>', page)
    assert raw is not None
    data = json.loads(raw[1])
    checks = {c["name"]: c for c in data["checks"]}
    assert data["walk"][0] == "1T"
    assert checks["resistance"]["show"] == {
        "steps": 1000,
        "decimals": 2,
        "trim": False,
        "unit": "kΩ",
    }
    assert data["chosen"]["resistance"] == {"meter": "DM", "range": "20k", "psi": None}
    assert "<style" not in page
    assert not re.search(r"<script(?![^>]*(src=|application/json))", page)
    assert not re.search(r"\son[a-z]+=", page)


def test_an_unknown_hole_or_reading_is_not_found(job, as_person):
    client = as_person("ada")
    assert client.get("/jobs/case/tray/why/9Z/resistance/").status_code == 404
    assert client.get("/jobs/case/tray/why/2T/resistance/").status_code == 404
    assert client.get("/jobs/case/close/nothing-there/").status_code == 404


def test_each_cell_tells_the_limit_and_how_far_from_it_the_reading_is(job, as_person):
    page = as_person("ada").get(reverse("web:tray", args=["case"])).content.decode()
    html = markup(as_person("ada").get(reverse("web:tray", args=["case"])))
    cell = re.search(r'<a[^>]*data-check="resistance"[^>]*aria-describedby="([\w-]+)"', html)
    assert cell is not None
    assert cell[1] == "far-1T-resistance"
    (words,) = re.findall(rf'id="{cell[1]}" hidden>([^<]*)<', html)
    # By hand: 1.27 kΩ under a limit of 5.00.
    assert words == "Limit 5.00 kΩ or less. 3.73 kΩ inside."
    # On the pad the button of the hole does, for the check that it shows.
    hole = re.search(r'data-hole="1T" aria-describedby="([\w-]+)"', html)
    assert hole is not None
    assert f'id="{hole[1]}" hidden>' in html
    ids = re.findall(r'\sid="([^"]+)"', page)
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize("limited", [True, False])
def test_what_is_read_and_not_judged_is_not_taken_for_passed(client, limited):
    """On the pad and on the page of the task, with the way to the limit that is missing."""
    from rehang.book import queries, services

    queries.forget()
    bench = cast.Bench().good()
    job = load("case", PEOPLE, bench.entries)
    if not limited:
        services.file_text(job=job, name="limits.toml", text="# None yet.\n", by="ada", at=AT)
    client.post("/sign-in/", {"person": "ada"})
    page = client.get("/jobs/case/tray/").content.decode()
    pad = json.loads(re.search(r'id="pad-data" type="application/json">(.*?)</script>', page)[1])
    way = "/jobs/case/limits/new/plug/gap/?next="
    assert pad["urls"]["limits"].get("gap", "").startswith(way) is not limited
    assert re.search(r"data-test-count=\"gap\">\d+ of \d+</span>\s+read<", page)
    task = next(
        one.id for one in queries.judged(job).facts.tasks.values() if ("plug", "gap") in one.answers
    )
    page = client.get(f"/jobs/case/tasks/{task}/").content.decode()
    assert ("Gap: 1 read and NOT JUDGED." in page) is not limited
    assert (way in page) is not limited
    assert bool(re.search(r"\d of \d+\s+read<", page)) is not limited
