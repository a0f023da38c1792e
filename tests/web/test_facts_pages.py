"""What is on file, thing by thing: seen, changed, added and taken out, by whoever keeps the shop."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime
from html import unescape
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.utils import timezone

from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.sheets.things import ONE, THINGS, put, things_in
from rehang.web.facts import forms, reference
from rehang.web.facts.rows import brought
from rehang.web.facts.words import GROUPS
from rehang.web.facts.words import KINDS as KINDS_WORDS
from tests.pins import PIN, give_pins

SLUG = "tv4-2207-2026"
J = f"/jobs/{SLUG}/facts/"
LOADED = datetime(2026, 10, 20, 12, 0, tzinfo=UTC)
KINDS = [one for one in THINGS.values() if one.file != "shop.toml"]


@pytest.fixture
def job(db):
    from rehang.book import queries, services

    queries.forget()
    found = services.load_folder(folder=read_folder(demo_path()), by="marta", at=LOADED)
    give_pins("marta", "tom")
    return found


def at_the_bench(person: str = "marta") -> Client:
    client = Client()
    assert client.post("/sign-in/", {"person": person}).status_code == 303
    return client


@pytest.fixture
def marta(job):
    return at_the_bench()


def filed(job, name: str) -> str:
    from rehang.book import queries

    return queries.files(queries.book(job.slug)).get(name, "")


def things(job, kind: str) -> dict:
    return things_in(filed(job, THINGS[kind].file), THINGS[kind])


def fields_of(page: str) -> dict[str, list[str]]:
    """What a browser would send of the form of a thing, untouched."""
    form = re.search(r'<form method="post" class="facts-form">.*?</form>', page, re.S)[0]
    found: dict[str, list[str]] = {}
    for tag, rest, inner in re.findall(
        r"<(input|textarea|select)\b([^>]*)>(.*?)(?=<(?:input|textarea|select)\b|$)", form, re.S
    ):
        said = dict(re.findall(r'(\w[\w-]*)="([^"]*)"', rest))
        name = said.get("name", "")
        if not name or name == "csrfmiddlewaretoken":
            continue
        if tag == "textarea":
            value = inner.partition("</textarea>")[0].removeprefix("\n")
        elif tag == "select":
            options = re.findall(
                r'<option value="([^"]*)"([^>]*)>', inner.partition("</select>")[0]
            )
            value = next((v for v, more in options if "selected" in more), options[0][0])
        elif said.get("type") in ("checkbox", "radio"):
            if not re.search(r"\bchecked\b", rest):
                continue
            value = said.get("value", "on")
        else:
            value = said.get("value", "")
        found.setdefault(name, []).append(unescape(value))
    return found


def text_of(answer) -> str:
    page = re.sub(r"<(style|script).*?</\1>", "", answer.content.decode(), flags=re.S)
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page))).strip()


def post(client: Client, path: str, page: str | None = None, **changed):
    """Send the form of a page, with some of its fields changed and the PIN of who sends it."""
    sent = fields_of(client.get(J + path).content.decode() if page is None else page)
    for name, value in changed.items():
        sent[name.replace("__", ".")] = value if isinstance(value, list) else [value]
    return client.post(J + path, {**sent, "pin": PIN})


# What stands on the pages


@pytest.mark.parametrize("kind", KINDS, ids=lambda one: one.name)
def test_every_kind_has_its_page_and_no_page_names_a_file_or_a_key(job, marta, kind):
    first = text_of(marta.get(J))
    pages = [marta.get(f"{J}{kind.name}/")]
    for key in list(things(job, kind.name))[:2]:
        if kind.is_list:
            pages.append(marta.get(f"{J}{kind.name}/of/{key}/"))
    if kind.is_list and "Take it over".upper() not in text_of(pages[0]):
        pages.append(marta.get(f"{J}{kind.name}/new/"))
    for answer in pages:
        assert answer.status_code == 200
        said = text_of(answer)
        assert ".toml" not in said + first
        heads = r"<(label|legend|h1|h2|th)\b[^>]*>(.*?)</\1>"
        labels = [one for _, one in re.findall(heads, answer.content.decode(), re.S)]
        plain = [re.sub(r"<[^>]+>", "", one) for one in labels]
        assert not [one for one in plain if re.search(r"[a-z]_[a-z]", one)]


@pytest.mark.parametrize(
    "kind", ["engine", "hose", "person", "limit", "meter", "part", "recurring"]
)
def test_a_form_that_is_sent_untouched_changes_nothing(job, marta, kind):
    kind = THINGS[kind]
    for key in list(things(job, kind.name))[:3]:
        path = f"{kind.name}/of/{key}/" if kind.is_list else f"{kind.name}/"
        before = filed(job, kind.file)
        answer = post(marta, path)
        assert answer.status_code == 303, text_of(answer)[:2000]
        assert filed(job, kind.file) == before, path


@pytest.mark.parametrize(
    ("chosen", "kinds"),
    [
        ("magneto", ["checks-sheet", "check", "word", "rework"]),
        ("run", ["run", "step", "depends", "inspection"]),
        ("opposed-4", ["layout"]),
        ("powers", ["people-powers"]),
    ],
)
def test_a_form_of_what_rehang_brings_is_sent_untouched_too(job, marta, chosen, kinds):
    marta.post(f"{J}{kinds[0]}/", {"from": chosen, "pin": PIN})
    before = filed(job, THINGS[kinds[0]].file)
    for kind in kinds:
        held = things(job, kind)
        assert held, kind
        for key in held:
            answer = post(marta, f"{kind}/of/{key}/" if THINGS[kind].is_list else f"{kind}/")
            assert answer.status_code == 303, text_of(answer)
    assert filed(job, THINGS[kinds[0]].file) == before


@pytest.mark.parametrize("kind", ["task", "group"])
def test_a_standard_one_that_is_filed_stands_as_it_was(job, marta, kind):
    standard = brought(THINGS[kind])
    for key in list(standard)[::7]:
        assert post(marta, f"{kind}/of/{key}/").status_code == 303
        assert things(job, kind)[key] == standard[key]


def test_a_search_finds_a_thing_by_any_word_of_it(marta):
    page = text_of(marta.get(f"{J}part/?q=carburettor"))
    assert "Hose HS2, pump to carburettor" in page
    assert "Solvent" not in page
    assert "None of them has “zeppelin” in it." in text_of(marta.get(f"{J}part/?q=zeppelin"))


# What is changed


def test_a_person_is_added_with_two_papers_and_an_absence(job, marta):
    answer = post(
        marta,
        "person/new/",
        key="ada",
        name="Ada Quill",
        keeps_shop="on",
        certificate__0__kind="mechanic",
        certificate__0__number="DEMO-900",
        certificate__0__authority="Demo authority (invented)",
        certificate__0__entered_on="2026-10-20",
        certificate__1__kind="shop inspector",
        certificate__1__number="DEMO-901",
        certificate__1__authority="The shop (invented)",
        certificate__1__valid_until="2027-01-31",
        certificate__1__entered_on="2026-10-20",
        away__0__0="2026-12-24",
        away__0__1="2026-12-31",
    )
    assert answer.status_code == 303, text_of(answer)
    assert things(job, "person")["ada"] == {
        "key": "ada",
        "name": "Ada Quill",
        "certificate": [
            {
                "kind": "mechanic",
                "number": "DEMO-900",
                "authority": "Demo authority (invented)",
                "entered_on": date(2026, 10, 20),
            },
            {
                "kind": "shop inspector",
                "number": "DEMO-901",
                "authority": "The shop (invented)",
                "valid_until": date(2027, 1, 31),
                "entered_on": date(2026, 10, 20),
            },
        ],
        "keeps_shop": True,
        "away": [[date(2026, 12, 24), date(2026, 12, 31)]],
    }


def test_a_paper_is_of_a_kind_that_lets_a_person_do_something_and_counts_from_today(job, marta):
    page = marta.get(f"{J}person/new/").content.decode()
    for kind in ("Mechanic", "Shop inspector", "Inspection authorization"):
        assert f">{kind}</option>" in page, kind
    answer = post(
        marta,
        "person/new/",
        key="bo",
        name="Bo Strand",
        certificate__0__kind="shop inspector",
        certificate__0__number="INV-2",
        certificate__0__authority="The shop (invented)",
    )
    assert answer.status_code == 303, text_of(answer)
    [paper] = things(job, "person")["bo"]["certificate"]
    here = ZoneInfo("America/Chicago")
    assert paper["entered_on"] == timezone.now().astimezone(here).date()


def test_one_paper_of_two_is_taken_out(job, marta):
    assert post(marta, "person/of/marta/", certificate__0__out="on").status_code == 303
    assert [one["number"] for one in things(job, "person")["marta"]["certificate"]] == [
        "DEMO-114-IA"
    ]


def test_engine_data_is_changed_and_the_rest_of_the_text_stays(job, marta):
    before = filed(job, "engine.toml")
    assert post(marta, "engine/", bore_in="4.5", hours__since_new="3,200.5").status_code == 303
    after = filed(job, "engine.toml")
    assert "# Hours since major overhaul, on 2026-09-30; since new 3,184.6." in after
    own = things_in(before, THINGS["engine"])[ONE]
    own["bore_in"] = 4.5
    own["hours"]["since_new"] = 3200.5
    assert things_in(after, THINGS["engine"])[ONE] == own
    assert things_in(after, THINGS["hose"]) == things_in(before, THINGS["hose"])


def test_a_file_that_the_job_did_not_have_begins_with_its_first_thing(job, marta):
    assert filed(job, "torque.toml") == ""
    answer = post(marta, "group/of/plug/", number="2")
    assert answer.status_code == 303, text_of(answer)
    assert list(things(job, "group")) == ["plug"]
    assert "changed" in text_of(marta.get(f"{J}group/"))
    answer = post(marta, "group/of/plug/", drop="yes")
    assert answer.status_code == 303, text_of(answer)
    assert things(job, "group") == {}


@pytest.mark.parametrize(
    ("kind", "chosen", "file"),
    [
        ("step", "run", "run.toml"),
        ("layout", "opposed-4", "layout.toml"),
        ("word", "plug", "checks.toml"),
    ],
)
def test_what_rehang_brings_is_taken_over_to_be_changed(job, marta, kind, chosen, file):
    assert "TAKE IT OVER" in text_of(marta.get(f"{J}{kind}/"))
    assert marta.post(f"{J}{kind}/", {"from": chosen, "pin": PIN}).status_code == 303
    assert things(job, kind)
    assert "TAKE IT OVER" not in text_of(marta.get(f"{J}{kind}/"))
    assert filed(job, file).startswith("#")


def test_the_table_of_powers_is_a_row_for_each_kind_of_paper(job, marta):
    assert marta.post(f"{J}people-powers/", {"from": "powers", "pin": PIN}).status_code == 303
    powers = things(job, "people-powers")[ONE]["powers"]
    free = len(powers)
    changed = {f"powers.{free}.name": ["apprentice"], f"powers.{free}.powers": ["look"]}
    answer = post(marta, "people-powers/", **changed)
    assert answer.status_code == 303, text_of(answer)
    assert things(job, "people-powers")[ONE]["powers"] == powers | {"apprentice": ["look"]}


def test_the_one_paper_of_an_older_file_gets_a_table_of_its_own(job, marta):
    from rehang.book import services

    person = THINGS["person"]
    text = filed(job, "people.toml")
    older = {
        "key": "tom",
        "name": "Tom Ferrick",
        "certificate": "D-7",
        "certificate_kind": "mechanic",
    }
    services.file_text(
        job=job, name="people.toml", text=put(text, person, "tom", older), by="marta", at=LOADED
    )
    path = "person/of/tom/"
    answer = post(marta, path)
    assert answer.status_code == 422
    assert "A certificate has its “Issued by”." in text_of(answer)
    answer = post(
        marta,
        path,
        certificate__0__authority="Demo authority",
        certificate__0__entered_on="2026-10-20",
    )
    assert answer.status_code == 303, text_of(answer)
    assert things(job, "person")["tom"]["certificate"][0] == {
        "kind": "mechanic",
        "number": "D-7",
        "authority": "Demo authority",
        "entered_on": date(2026, 10, 20),
    }


# What is refused


@pytest.mark.parametrize(
    ("path", "changed", "sentence", "place"),
    [
        ("part/new/", {"id": "rag", "name": ""}, "A part needs “Name”.", "name"),
        ("part/new/", {"id": "rag", "name": "Rag", "price": "1,5"},
         '"1,5" is not a number. Write digits, as in 0.8 or 1,500.', "price"),
        ("part/new/", {"id": "plug", "name": "Plug"}, 'There is a part "plug" already.', "id"),
        ("person/of/tom/", {"key": "thomas"}, "tom stands in the book, first on", "key"),
        ("person/of/tom/", {"days": "Someday"}, '"Someday" is not a weekday.', "days"),
        ("person/of/ilse/", {"certificate__0__number": ""}, "A certificate has its “Number”.",
         "certificate.0.number"),
        ("engine/", {"bore_in": "44"}, "“Bore of a cylinder, inches” is 44; it is 1 or more",
         "bore_in"),
        ("engine/", {"timezone": "Mars/Crater"}, '"Mars/Crater" is not a time zone.', "timezone"),
        ("hose/of/HS1/", {"made": "2029-01"}, "was made 2029-01, after it was fitted", "made"),
        ("recurring/of/annual/", {"every_hours": "", "every_months": ""}, "has no interval", "id"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said_beside_its_field(job, marta, path, changed, sentence, place):
    before = {one.file: filed(job, one.file) for one in KINDS}
    answer = post(marta, path, **changed)
    said = text_of(answer)
    assert answer.status_code == 422, said
    assert sentence in said
    assert f'id="w-{place}"' in answer.content.decode()
    assert ".toml" not in said
    assert before == {one.file: filed(job, one.file) for one in KINDS}
    # What was typed stands there still.
    for name, value in changed.items():
        assert fields_of(answer.content.decode())[name.replace("__", ".")] == [value]


def test_what_another_wrote_while_the_page_was_open_is_not_undone_unseen(job, marta):
    page = marta.get(f"{J}part/of/solvent/").content.decode()
    assert post(marta, "part/of/solvent/", price="9").status_code == 303
    answer = post(marta, "part/of/solvent/", page, stock="7")
    assert answer.status_code == 422
    assert "Somebody changed this while the page was open here." in text_of(answer)
    assert things(job, "part")["solvent"]["price"] == 9
    # Once they have been told, it is theirs to file.
    assert post(marta, "part/of/solvent/", answer.content.decode()).status_code == 303
    assert things(job, "part")["solvent"]["stock"] == 7


def test_what_the_book_names_is_not_taken_out(job, marta):
    for path in ("person/of/tom/", "hose/of/HS1/", "part/of/hose-HS2/"):
        answer = post(marta, path, drop="yes")
        assert answer.status_code == 422, path
        assert "stands in the book, first on" in text_of(answer)
    assert post(marta, "part/of/solvent/", drop="yes").status_code == 303
    assert "solvent" not in things(job, "part")


def test_only_whoever_keeps_the_shop_files_with_their_own_pin(job):
    tom = at_the_bench("tom")
    sent = fields_of(tom.get(f"{J}hose/of/HS1/").content.decode())
    sent["note"] = ["chafed"]
    asked = tom.post(f"{J}hose/of/HS1/", sent)
    assert "To change what is on file takes a PIN" in text_of(asked)
    wrong = tom.post(f"{J}hose/of/HS1/", {**sent, "pin": PIN})
    assert wrong.status_code == 422
    assert "is for whoever keeps the shop" in text_of(wrong)
    right = tom.post(f"{J}hose/of/HS1/", {**sent, "who": "marta", "pin": PIN})
    assert right.status_code == 303
    assert things(job, "hose")["HS1"]["note"] == "chafed"


# The page of each field


def test_every_field_of_every_file_has_its_page():
    assert reference.declared() - set(reference.on_pages()) == set()
    assert set(KINDS_WORDS) == set(THINGS)
    assert sorted(one for _, names in GROUPS for one in names) == sorted(THINGS)


def test_a_field_that_no_form_asks_for_is_found(monkeypatch):
    monkeypatch.setattr(forms, "NOT_ASKED", ("certificate_kind", "supplier"))
    left = reference.declared() - set(reference.on_pages())
    assert left == {("stock.toml", "part.supplier")}


# Of the shop


def test_the_shops_own_book_has_the_same_pages(job, marta):
    from rehang.book import beginning, queries

    beginning.offer_shop(job=job, by="marta", at=LOADED)
    shop = "/jobs/the_shop/facts/"
    first = text_of(marta.get(shop))
    assert "The shop" in first
    assert "Hoses" not in first
    for name in ("shop", "person", "limit", "meter", "task", "step", "part"):
        answer = marta.get(f"{shop}{name}/")
        assert answer.status_code == 200, name
    assert marta.get(f"{shop}hose/").status_code == 404
    sent = fields_of(marta.get(f"{shop}shop/").content.decode())
    answer = marta.post(f"{shop}shop/", {**sent, "place": ["Stennet Field, bay 2"], "pin": PIN})
    assert answer.status_code == 303, text_of(answer)
    own = queries.shop()
    assert things(own, "shop")[ONE]["place"] == "Stennet Field, bay 2"
    # The job goes by what it took along.
    assert things(job, "engine")[ONE]["place"] == "Stennet Field"
