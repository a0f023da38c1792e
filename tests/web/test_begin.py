"""An empty data folder: the shop, the demo, the first engine and the second job on it."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import UTC, date, datetime
from html import unescape

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone

from rehang.sheets import demo_path
from tests.photos.shots import shot
from tests.pins import PIN

AT = datetime(2026, 11, 30, 12, 0, tzinfo=UTC)
SHOP = {
    "shop": "North shed (invented)", "town": "Elm Strip", "timezone": "America/Denver",
    "name": "Ada Lind", "pin": PIN, "again": PIN, "kind1": "mechanic", "number1": "INV-77",
    "authority1": "Invented authority",
}  # fmt: skip
ENGINE = {
    "serial": "Q6-11", "engine": "Quarrow Q6", "layout": "opposed-6", "purpose": "spark plugs",
    "since_overhaul": "512.3", "since_new": "1512.3", "registration": "X-ABC",
    "airframe_hours": "2000", "removed_on": "2026-11-30", "fuel": "pump", "bore_plating": "none",
}  # fmt: skip


@pytest.fixture(autouse=True)
def empty(db):
    from rehang.book import queries

    queries.forget()


def text_of(answer) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.content.decode()))).strip()


def begun(**other: str) -> Client:
    client = Client()
    answer = client.post("/begin/", SHOP | other)
    assert (answer.status_code, answer["Location"]) == (303, "/new-job/"), text_of(answer)
    return client


def board(client: Client, **other: str) -> str:
    answer = client.post("/new-job/engine/", ENGINE | other)
    assert answer.status_code == 303, text_of(answer)
    return answer["Location"]


def job_at(address: str):
    from rehang.book import queries

    return queries.job(address.strip("/").split("/")[-1])


def test_an_empty_folder_leads_from_any_page_to_the_first_one():
    client = Client()
    assert client.get("/")["Location"].startswith("/sign-in/")
    assert client.get("/sign-in/")["Location"] == "/begin/"
    page = client.get("/begin/")
    assert page.status_code == 200 and "Begin your shop" in text_of(page)
    assert "rehang load" not in page.content.decode()


def test_the_first_page_makes_a_shop_a_keeper_and_a_whole_chain():
    from rehang.book import members, queries, verifying

    client = begun()
    facts = queries.facts(queries.shop())
    ada = facts.people["ada"]
    assert (ada.name, ada.keeps_shop) == ("Ada Lind", True)
    assert [one.words for one in ada.papers] == ["mechanic certificate INV-77"]
    assert members.is_theirs(members.member("ada"), PIN)
    assert verifying.store_checked().outcome == "whole"
    # It is no job: no list has it, and no page of a job opens it.
    assert queries.jobs(put_away=None) == []
    assert client.get("/jobs/the_shop/").status_code == 404
    # Begun once.
    assert Client().get("/begin/")["Location"] == "/"


def test_a_paper_counts_from_the_day_on_the_shops_wall(monkeypatch):
    from rehang.book import queries

    # Half past midnight of the next day in UTC is an evening in Denver.
    evening = datetime(2026, 12, 1, 0, 30, tzinfo=UTC)
    monkeypatch.setattr("django.utils.timezone.now", lambda: evening)
    begun()
    (paper,) = queries.facts(queries.shop()).people["ada"].papers
    assert paper.entered_on == date(2026, 11, 30)


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"name": "  "}, "Write your name, as on your papers."),
        ({"shop": ""}, "Write the name of the shop."),
        ({"pin": "123456", "again": "123456"}, "That PIN is guessed first."),
        ({"pin": "12", "again": "12"}, "A PIN is 6 digits"),
        ({"again": "480714"}, "The two are not the same. Enter the PIN twice."),
        ({"password": "short"}, "12"),
        ({"password": "ada lind 2026"}, "too similar"),
        ({"number1": ""}, "Write the number on the paper."),
        ({"authority1": ""}, "Write who issued the paper."),
        ({"kind1": ""}, "Pick what kind of paper it is."),
        ({"until1": "2025-01-11"}, "That paper ended on 11 Jan 2025."),
        ({"timezone": "Mars/Olympus"}, "is not a time zone"),
    ],
)
def test_what_cannot_be_is_one_sentence_and_nothing_is_begun(wrong: dict[str, str], said: str):
    from rehang.book import models, queries

    answer = Client().post("/begin/", SHOP | wrong)
    assert answer.status_code == 422
    assert said in text_of(answer)
    assert queries.shop() is None and not models.Member.objects.exists()


def test_from_elsewhere_it_takes_the_code_of_the_machines_own_screen(settings):
    settings.REHANG_BEGIN_CODE = "ABCDEFGHJKMN"
    settings.ALLOWED_HOSTS = ["bench.shop.lan"]
    far = Client(REMOTE_ADDR="192.168.1.20", HTTP_HOST="bench.shop.lan")
    long = {"password": "thick washer under it"}
    assert "Code" in text_of(far.get("/begin/"))
    assert far.post("/begin/", SHOP | long).status_code == 422
    wrong = far.post("/begin/", SHOP | long | {"code": "ABCD-EFGH-JKMM"})
    assert "That is not the code." in text_of(wrong)
    assert far.post("/begin/", SHOP | {"code": "abcd-efgh-jkmn"}).status_code == 422, "no password"
    right = far.post("/begin/", SHOP | long | {"code": "abcd-efgh-jkmn"})
    assert right.status_code == 303


def test_the_demo_stands_apart_and_goes_with_one_tap():
    from rehang.book import members, queries, verifying
    from rehang.site.serve import check_everyone_has_a_password

    client = Client()
    assert client.post("/demo/")["Location"] == "/sign-in/"
    page = text_of(client.get("/sign-in/"))
    assert "BEGIN YOUR SHOP" in page and "Marta Oduya" in page
    # Invented people have no password, and keep nobody off the network.
    check_everyone_has_a_password()
    client = begun(password="thick washer under it")
    check_everyone_has_a_password()
    assert members.is_of_a_demo(members.member("marta"))
    assert queries.shop_for("marta") is None
    assert "Marta Oduya" in text_of(Client().get("/sign-in/"))
    assert client.post("/demo/", {"away": "yes"})["Location"] == "/?list"
    assert "Marta Oduya" not in text_of(Client().get("/sign-in/"))
    client.post("/demo/", {})
    assert "Marta Oduya" in text_of(Client().get("/sign-in/"))
    # A person of the demo begins nothing and puts nothing away.
    marta = Client()
    marta.post("/sign-in/", {"person": "marta"})
    assert marta.post("/new-job/engine/", ENGINE).status_code == 403
    assert marta.post("/demo/", {"away": "yes"}).status_code == 403
    assert verifying.store_checked().outcome == "whole"


def test_a_new_engine_is_on_the_board_and_every_page_of_it_opens():
    from rehang.book import queries

    client = begun()
    place = board(client, hose1_id="H1", hose1_line="Tank to pump", hose1_type="rubber",
                  hose1_made="2021-03")  # fmt: skip
    assert place == "/jobs/q6-11-2026/"
    facts = queries.facts(job_at(place))
    assert facts.engine["hours"] == {"since_new": 1512.3, "since_overhaul": 512.3}
    assert facts.timezone_name == "America/Denver"
    assert facts.hoses["H1"].fitted == "unknown"
    assert facts.inspect == ("plug", "hole", "lead", "mount", "control")
    # What a plug job does not ask for is left out of it, and what needs it goes on without it.
    assert {"C4", "E3", "F1", "G4"} <= set(facts.left_out)
    assert {"C2", "H3", "H7"} <= set(facts.tasks) and "C5" not in facts.tasks["C6"].needs
    for name in ("", "tray/", "engine/", "rest/", "read-back/", "book/", "meters/", "limits/",
                 "paper/", "blockers/", "record/", "due/", "run/", "places/", "rest/parts/",
                 "torque/", "tables/", "from-the-shop/"):  # fmt: skip
        assert client.get(place + name).status_code == 200, name


def test_a_task_that_is_put_back_brings_the_parts_that_its_checks_are_on():
    from rehang.book import queries

    client = begun()
    place = board(client)
    before = queries.facts(job_at(place))
    assert "cylinder" not in before.inspect
    shown = text_of(client.get(place + "rest/tasks/"))
    assert "Differential compression brings the cylinder into the job" in shown
    wanted = {"task": [*before.tasks, "C4"], "pin": PIN}
    answer = client.post(place + "rest/tasks/", wanted, follow=True)
    assert "Inspected now too: cylinder." in text_of(answer)
    judged = queries.judged(job_at(place))
    assert judged.facts.inspect == (*before.inspect, "cylinder")
    # Saying that it is done answers nothing: each cylinder's pressure is asked for.
    asked = [one.missing for one in judged.work.tasks["C4"].places]
    assert asked and all("compression" in " ".join(one) for one in asked)
    # A task that asks nothing of another kind brings none.
    assert not before.left_out["A3"].answers
    wanted["task"] = [*before.tasks, "C4", "A3"]
    client.post(place + "rest/tasks/", wanted)
    after = queries.facts(job_at(place))
    assert "A3" in after.tasks and after.inspect == judged.facts.inspect


def test_limits_are_pasted_as_a_table_at_the_shop_too():
    from rehang.book import queries

    client = begun()
    shop = queries.shop()
    assert "PASTE A TABLE" in text_of(client.get(f"/jobs/{shop.slug}/limits/"))
    page = f"/jobs/{shop.slug}/tables/"
    assert "readings" not in text_of(client.get(page)).lower()
    pasted = (
        "Part,Check,Lower,Upper,Unit,Document,Revision,Page\n"
        "plug,gap,0.016,0.019,in,Case manual (invented),2,4-2\n"
    )
    looked = client.post(page, {"paste": pasted, "what": "limits"})
    assert "1 will be kept" in text_of(looked)
    hidden = dict(
        re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', looked.content.decode())
    )
    kept = client.post(page, hidden | {"act": "keep", "pin": PIN}, follow=True)
    assert "1 new and 0 changed limits are on file." in text_of(kept)
    [limit] = queries.facts(queries.shop()).limits
    assert (limit.item, limit.check, limit.page) == ("plug", "gap", "4-2")
    readings = "item,check,written\nplug:K1,gap,18 thou\n"
    refused = client.post(page, {"paste": readings, "what": "readings"})
    assert "Readings are of a job." in text_of(refused)
    assert client.get(f"/jobs/{shop.slug}/tables/readings.csv").status_code == 404


def test_a_task_that_was_put_back_before_brings_its_parts_when_the_list_is_kept_again():
    from rehang.book import queries, services
    from rehang.sheets.things import ONE, THINGS, put, things_in

    client = begun()
    place = board(client)
    job = job_at(place)
    # As an older book has it: the task is part of the job, and what its checks are on is not.
    text, engine = queries.files(job)["engine.toml"], THINGS["engine"]
    table = dict(things_in(text, engine)[ONE])
    table["left_out"] = [one for one in table["left_out"] if one != "C4"]
    [by] = [one.key for one in queries.facts(job).people.values()]
    new = put(text, engine, ONE, table)
    services.file_text(job=job, name="engine.toml", text=new, by=by, at=timezone.now())
    facts = queries.facts(job_at(place))
    assert "C4" in facts.tasks and "cylinder" not in facts.inspect
    shown = text_of(client.get(place + "rest/tasks/"))
    assert "Differential compression brings the cylinder into the job" in shown
    client.post(place + "rest/tasks/", {"task": [*facts.tasks], "pin": PIN})
    assert "cylinder" in queries.facts(job_at(place)).inspect


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"serial": ""}, "Write the engine's serial, from its data plate."),
        ({"serial": "Q6\u200b11"}, "cannot be seen"),
        ({"since_overhaul": "many"}, "many"),
        ({"since_overhaul": "-4"}, "-4"),
        ({"bore_in": "133.35"}, "It is in inches."),
        ({"purpose": "tea"}, "Pick why the engine came off."),
        ({"layout": "opposed-5"}, 'There is no layout "opposed-5".'),
        ({"removed_on": "30/11/2026"}, "30/11/2026"),
        ({"hose1_id": "H1"}, "Write from where to where the hose goes."),
        ({"hose1_id": "H1", "hose1_line": "a to b", "hose1_type": "rubber",
          "hose2_id": "H1", "hose2_line": "b to c", "hose2_type": "rubber"}, "two hoses"),
    ],
)  # fmt: skip
def test_an_engine_that_cannot_be_is_one_sentence_and_no_job(wrong: dict[str, str], said: str):
    from rehang.book import queries

    client = begun()
    answer = client.post("/new-job/engine/", ENGINE | wrong)
    assert answer.status_code == 422, answer.status_code
    assert said in text_of(answer)
    assert queries.jobs(put_away=None) == []


def test_all_that_is_wrong_with_a_new_engine_is_said_at_once_each_at_its_field():
    client = begun()
    answer = client.post(
        "/new-job/engine/",
        ENGINE | {"serial": "", "bore_in": "133.35", "hose2_id": "H1", "since_new": "1,5",
                  "accessory1_hours": "10"},
    )  # fmt: skip
    page = answer.content.decode()
    assert answer.status_code == 422
    said = re.findall(r'<a href="#f-(\w+)">', page.partition('id="held"')[2].partition("</div>")[0])
    assert said == [
        "serial", "since_new", "hose2_line", "hose2_type", "accessory1_kind", "bore_in"
    ]  # fmt: skip
    for name in said:
        assert f'id="w-{name}"' in page, name
    assert re.findall(r'<(?:input|select)[^>]*name="(\w+)"[^>]*autofocus', page) == ["serial"]
    folds = re.findall(r"<details class=\"sheet plain-sheet\"( open)?>", page)
    assert folds == [" open"] * 3


def test_two_phones_that_begin_the_same_engine_begin_one_job():
    from rehang.book import queries

    client = begun()
    board(client)
    again = client.post("/new-job/engine/", ENGINE | {"serial": "q6-11"})
    assert again.status_code == 422
    assert "is on the board already" in text_of(again)
    assert len(queries.jobs()) == 1


def test_the_second_job_goes_on_from_the_first():
    from rehang.book import queries

    client = begun()
    first = board(client)
    client.post(first + "photos/", {"photo": SimpleUploadedFile("engine.jpg", shot())})
    client.post(first + "put-away/", {"reason": "went to another shop", "pin": PIN})
    page = client.get("/new-job/")
    (picture,) = re.findall(r'class="engine-photo" src="([^"]+)"', page.content.decode())
    assert client.get(picture).status_code == 200
    assert "Quarrow Q6 Q6-11" in text_of(page) and "Last job never signed" in text_of(page)
    known = "/new-job/of/q6-11-2026/"
    form = {"purpose": "annual or 100-hour", "since_overhaul": "600.3", "since_new": "1512.3",
            "registration": "X-ABC", "airframe_hours": "2000", "removed_on": "2027-06-01"}  # fmt: skip
    backwards = client.post(known, form | {"since_overhaul": "500"})
    assert backwards.status_code == 422
    assert "less than the 512.3 h at the end of its last job" in text_of(backwards)
    answer = client.post(known, form)
    assert answer.status_code == 303, text_of(answer)
    facts = queries.facts(job_at(answer["Location"]))
    # One clock was typed; the engine turns all of them alike.
    assert facts.engine["hours"] == {"since_new": 1600.3, "since_overhaul": 600.3}
    assert facts.engine["airframe_hours"] == 2088.0
    assert facts.layout.name == "opposed-6"
    assert "cylinder" in facts.inspect


def test_a_job_without_a_shop_offers_what_it_knows(demo_real):
    from rehang.book import queries
    from rehang.sheets.shop_things import offers

    client = Client()
    client.post("/sign-in/", {"person": "marta"})
    assert "BEGIN THE SHOP'S BOOK" in text_of(client.get("/?list"))
    slug = demo_real.slug
    before = queries.judged(demo_real)
    wrong = client.post("/begin/", {"job": slug, "pin": "000001"})
    assert wrong.status_code == 422 and queries.shop() is None
    assert client.post("/begin/", {"job": slug, "pin": PIN}).status_code == 303
    shop = queries.files(queries.shop())
    assert list(queries.facts(queries.shop()).people) == list(before.facts.people)
    # The job opens as it was, and nothing of the shop is otherwise than in it.
    job = queries.job(slug)
    assert [(i.item, i.verdict) for i in queries.judged(job).items] == [
        (i.item, i.verdict) for i in before.items
    ]
    assert offers(shop, queries.files(job), str(before.facts.engine["engine"])) == []


@pytest.fixture
def demo_real(db):
    """The demo's files as those of an engine that is no demo, as an older store has them."""
    from dataclasses import replace

    from rehang.book import queries, services
    from rehang.sheets import demo_path
    from rehang.sheets.folder import parse_files, read_folder
    from tests.pins import give_pins

    queries.forget()
    folder = read_folder(demo_path())
    files = dict(folder.files)
    files["engine.toml"] = files["engine.toml"].replace("invented = true\n", "")
    real = replace(folder, files=files, facts=parse_files(files))
    job = services.load_folder(
        folder=real, by="marta", at=datetime(2026, 11, 20, 12, 0, tzinfo=UTC)
    )
    give_pins("marta")
    return job


@pytest.fixture
def kept_six(tmp_path):
    """The six-cylinder demo as a shop keeps it: what it is judged by is filed in its book."""
    from rehang.book.keeping import filed_entries
    from rehang.sheets.folder import read_folder, seal_all, write_folder

    read = read_folder(demo_path("six"))
    at = read.entries[-1].at
    filed = [
        filed_entries(name, text, "rhea", at, len(read.entries))
        for name, text in read.files.items()
    ]
    write_folder(tmp_path / "six", read.files, seal_all([*read.entries, *filed]))
    return tmp_path / "six"


def zip_of(folder, *, prefix: str = "kept/") -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                archive.writestr(prefix + str(path.relative_to(folder)), path.read_bytes())
    return held.getvalue()


def brought(client: Client, data: bytes):
    return client.post("/new-job/bring/", {"file": SimpleUploadedFile("job.zip", data)})


@pytest.mark.parametrize("prefix", ["", "kept/"])
def test_another_shops_kept_job_comes_in_by_the_browser(prefix: str, kept_six):
    from rehang.book import members, queries, verifying
    from rehang.site.serve import check_everyone_has_a_password

    client = begun(password="thick washer under it")
    answer = brought(client, zip_of(kept_six, prefix=prefix))
    assert answer.status_code == 303, text_of(answer)
    assert answer["Location"] == "/jobs/sx6-0118-2026/"
    facts = queries.facts(queries.job("sx6-0118-2026"))
    assert list(facts.people) == ["rhea", "ivo", "pia", "ada"]
    assert client.get(answer["Location"]).status_code == 200
    # Its own people stand in its book, and none of them signs in here.
    assert not members.is_at_home(members.member("rhea"))
    check_everyone_has_a_password()
    assert verifying.store_checked().outcome == "whole"
    assert "is here already" in text_of(brought(client, zip_of(kept_six)))


def test_ones_own_kept_job_comes_back_as_it_was(tmp_path):
    from rehang.book import queries
    from rehang.sheets.folder import write_folder

    client = begun()
    job = job_at(board(client))
    write_folder(tmp_path / "kept", *queries.as_folder(job))
    answer = brought(client, zip_of(tmp_path / "kept"))
    assert answer.status_code == 303, text_of(answer)
    assert queries.job(job.slug).head_hash == job.head_hash


def changed_limits(data: bytes) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(held, "w") as new:
        for one in old.infolist():
            text = old.read(one)
            if one.filename.endswith("limits.toml"):
                text = text.replace(b"5000 ohm", b"50000 ohm")
            new.writestr(one.filename, text)
    return held.getvalue()


def two_books(data: bytes) -> bytes:
    held = io.BytesIO(data)
    with zipfile.ZipFile(held, "a") as more:
        more.writestr("other/book.jsonl", "")
    return held.getvalue()


def bomb(data: bytes) -> bytes:
    held = io.BytesIO(data)
    with zipfile.ZipFile(held, "a", zipfile.ZIP_DEFLATED) as more:
        more.writestr("kept/stock.toml", b" " * (300 * 1024 * 1024))
    return held.getvalue()


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda data: b"not a zip", "no zip file that can be read"),
        (lambda data: data[: len(data) // 2], "no zip file that can be read"),
        (lambda data: b"", "no zip file that can be read"),
        (changed_limits, "changed"),
        (two_books, "holds 2 of them"),
        (bomb, "unpacks to more than 256 MB"),
    ],
)
def test_a_zip_file_that_is_no_whole_job_is_one_sentence_and_no_job(spoil, said: str, kept_six):
    from rehang.book import queries

    client = begun()
    answer = brought(client, spoil(zip_of(kept_six)))
    assert answer.status_code == 422
    assert said in text_of(answer)
    assert queries.jobs(put_away=None) == []


def test_a_second_person_is_put_on_the_list_by_name_and_begins_with_a_code():
    from rehang.book import queries

    client = begun()
    answer = client.post("/jobs/the_shop/facts/person/new/", {"name": "Ada Moss", "pin": PIN})
    assert answer.status_code == 303, text_of(answer)
    assert list(queries.facts(queries.shop()).people) == ["ada", "ada-2"]
    page = client.post("/people/", {"person": "ada-2", "act": "code", "pin": PIN})
    assert "The code of Ada Moss" in text_of(page)


@pytest.mark.parametrize("name", ["ada", "Ada", "Ada Lind", " ada  lind "])
def test_a_person_signs_in_by_the_short_name_or_the_whole_one(name: str):
    begun(password="thick washer under it")
    answer = Client().post("/sign-in/", {"name": name, "password": "thick washer under it"})
    assert answer.status_code == 303, text_of(answer)


def test_a_serial_that_differs_by_a_mark_alone_is_the_same_engine():
    client = begun()
    board(client)
    answer = client.post("/new-job/engine/", ENGINE | {"serial": "q6 11"})
    assert answer.status_code == 422
    assert "Q6-11 has been here before." in text_of(answer)


def test_a_meter_found_out_in_one_job_is_found_out_in_the_next():
    from rehang.book import queries, services

    client = begun()
    first = job_at(board(client))
    meters = '[[meter]]\nid = "T1"\nname = "Lead tester"\nkind = "tester"\nuse = "leads"\ndue = "2099-04"\n'
    services.file_text(job=first, name="meters.toml", text=meters, by="ada", at=timezone.now())
    said = {
        "meter": "T1",
        "reason": "sparks at half of what the standard asks",
        "good": "2026-01-10",
    }
    services.write(job=queries.job(first.slug), kind="found_out", data=said, by="ada",
                   at=timezone.now(), confirmed="ada")  # fmt: skip
    second = job_at(board(client, serial="Q6-12"))
    assert "T1" in queries.judged(second).state.found_out
    page = text_of(client.get(f"/jobs/{second.slug}/meters/of/T1/"))
    assert "sparks at half of what the standard asks" in page
