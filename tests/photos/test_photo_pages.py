"""Photos on the pages, with scripts off: added by a form, shown small, handed out to the job's people."""

import re
from html import unescape

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from rehang.book import queries, services
from rehang.decode.pictures import made_fit
from rehang.trade.terms.entries import new_entry
from tests.book import shop
from tests.book.shop import KEPT, entry
from tests.markup import markup
from tests.photos.shots import opened, shot
from tests.trade import cast

pytestmark = pytest.mark.django_db

PLUG = "/jobs/case/plugs/P1/"
WRITE = "/jobs/case/items/plug/P1/write/"
PHOTOS = "/jobs/case/photos/"
BIG = shot(2000, 1500)
BIG_KEPT = made_fit(BIG)
DEE = '[[person]]\nkey = "dee"\nname = "Dee"\nrole = "mechanic"\n'


@pytest.fixture
def seen(job, append):
    """The shop's job with a finding of severity 2 on P1; and a job of Dee's own."""
    append(entry("seen", "seen-1", item="plug:P1", place="1T", word="bridged", check="look"))
    services.load_folder(
        folder=shop.folder("elsewhere", people=cast.PEOPLE + DEE), by="ada", at=KEPT
    )
    return job


@pytest.fixture
def sign_in(seen, client):
    def enter(person):
        assert client.post("/sign-in/", {"person": person}).status_code == 303
        return client

    return enter


def upload(data=BIG, name="IMG_0042.jpg"):
    return SimpleUploadedFile(name, data, content_type="image/jpeg")


def once_of(answer) -> str:
    return re.search(r'name="once" value="(\w+)"', answer.content.decode())[1]


def text_of(answer) -> str:
    body = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", unescape(body)).strip()


def send(client, *, page=PLUG, data=BIG, field="photo", **fields):
    form = {"once": once_of(client.get(page)), "next": f"{page}#photos", **fields}
    if data is not None:
        form[field] = upload(data)
    return client.post(PHOTOS, form)


def pictured():
    return [e for e in queries.entries(queries.job("case")) if e.kind == "pictured"]


@pytest.mark.parametrize("field", ["photo", "file"])
def test_a_photo_from_the_camera_or_a_file_is_kept_and_shown(sign_in, field):
    client = sign_in("ada")
    answer = send(client, field=field, item="plug:P1", scale_note="steel rule, 1 mm marks")
    assert (answer.status_code, answer["Location"]) == (303, f"{PLUG}#photos")
    (one,) = pictured()
    assert (one.by, one.item, one.fields.scale_note) == ("ada", "plug:P1", "steel rule, 1 mm marks")
    page = client.get(PLUG)
    words = text_of(page)
    assert "Photo of plug P1, 1T. Scale: steel rule, 1 mm marks." in words
    assert "Plug P1, 1T Scale: steel rule, 1 mm marks. Ada, " in words
    assert (
        f'<img src="{PHOTOS}{BIG_KEPT.name}?small" alt="Photo of plug P1, 1T" width="480" '
        'height="360" loading="lazy" decoding="async">' in markup(page)
    )


def test_a_photo_beside_a_finding_says_what_it_belongs_to(sign_in):
    client = sign_in("ada")
    assert 'name="entry" value="seen-1"' in client.get(PLUG).content.decode()
    send(client, entry="seen-1")
    (one,) = pictured()
    assert (one.item, one.fields.entry) == ("plug:P1", "seen-1")
    label = queries.state(queries.job("case")).items["plug:P1"].findings[0].label
    said = f"Plug P1, 1T: {label[0].lower()}{label[1:]}"
    page = client.get(PLUG).content.decode()
    assert f"<b>{said}</b><span>No scale in the picture.</span>" in page
    # Beside the finding and among the photos of the item.
    assert page.count(f'alt="Photo of {said[0].lower()}{said[1:]}"') == 2
    assert said in text_of(client.get(PHOTOS))


def test_a_photo_beside_a_reading_says_which(sign_in, append):
    append(shop.ohms("read-1", "4.9 kohm"))
    client = sign_in("ada")
    send(client, entry="read-1")
    # Among the photos of the item, and beside the reading where one is added.
    said = 'alt="Photo of plug P1, 1T: resistance 4.90 kΩ"'
    assert client.get(PLUG).content.decode().count(said) == 1
    page = client.get(WRITE).content.decode()
    assert page.count(said) == 1
    assert f'name="next" value="{WRITE}#c-resistance"' in page


def test_a_part_that_is_no_plug_takes_photos_too(sign_in):
    client = sign_in("ada")
    where = "/jobs/case/items/cylinder/3/"
    services.append(
        job=queries.job("case"), by="ada", at=KEPT,
        entries=[entry("seen", "seen-3", item="cylinder:3", word="off_centre", severity=2, check="look")],
    )  # fmt: skip
    assert send(client, page=where, item="cylinder:3").status_code == 303
    assert send(client, page=where, entry="seen-3").status_code == 303
    page = client.get(where).content.decode()
    assert page.count("<img") == 3
    assert 'alt="Photo of cylinder 3"' in page
    assert "files/photos.css" in page


def test_undo_takes_the_photo_off_the_page(sign_in):
    client = sign_in("ada")
    send(client, item="plug:P1")
    page = client.get(PLUG)
    assert ">UNDO</button>" in page.content.decode()
    client.post("/jobs/case/strike/", {"entry": pictured()[0].id, "reason": "undone", "once": once_of(page)})  # fmt: skip
    assert "<img" not in client.get(PLUG).content.decode()
    assert "Photo of plug P1, 1T. No scale in the picture." in text_of(
        client.get("/jobs/case/book/")
    )


def test_a_photo_of_the_engine_is_added_on_the_page_of_photos(sign_in):
    client = sign_in("ada")
    assert "No photo has been added to this job." in text_of(client.get(PHOTOS))
    answer = send(client, page=PHOTOS, item="")
    assert answer.status_code == 303
    assert "The engine No scale in the picture. Ada, " in text_of(client.get(PHOTOS))


def test_the_same_form_sent_twice_keeps_one_photo(sign_in):
    client = sign_in("ada")
    form = {"once": once_of(client.get(PLUG)), "item": "plug:P1", "next": PLUG}
    for _ in range(2):
        assert client.post(PHOTOS, form | {"photo": upload()}).status_code == 303
    assert len(pictured()) == 1


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (None, "Take a photo or pick one first."),
        (b"", "The file is empty. Pick the photo again."),
        (b"%PDF-1.7", "This is a PDF, not a photo. Send the photo itself, as JPEG or PNG."),
        (BIG[:9000], "The picture is torn: part of it is missing or spoilt. Send it again."),
        (
            b"\xff\xd8\xff" + b"\0" * 20_000_000,
            "The photo has 20.0 MB; at most 20 are taken. Send it smaller.",
        ),
    ],
    ids=["none", "empty", "pdf", "torn", "heavy"],
)
def test_a_refused_photo_is_said_beside_the_field_and_loses_nothing_typed(sign_in, data, sentence):
    client = sign_in("ada")
    before = queries.entries(queries.job("case"))
    answer = send(client, page=WRITE, data=data, item="plug:P1", scale_note="0.5 mm squares")
    assert (answer.status_code, answer["Location"]) == (303, f"{WRITE}#held")
    page = client.get(WRITE).content.decode()
    assert f'<a href="#f-photo-plug:P1-photo">{sentence}</a>' in page
    assert f'<p class="wrong" id="w-photo-plug:P1">{sentence}</p>' in page
    assert 'value="0.5 mm squares"' in page
    assert queries.entries(queries.job("case")) == before


def test_a_scale_note_that_is_too_long_is_said_beside_its_own_field(sign_in):
    client = sign_in("ada")
    send(client, page=WRITE, item="plug:P1", scale_note="y" * 201)
    page = client.get(WRITE).content.decode()
    assert '<a href="#f-photo-plug:P1-scale_note">The scale note has 201 characters;' in page
    assert f'value="{"y" * 201}"' in page
    assert pictured() == []


def test_the_form_works_with_scripts_off(sign_in):
    client = sign_in("ada")
    pages = [markup(client.get(path)) for path in (PLUG, WRITE)]
    sent = r"<form[^>]*enctype=[^>]*>.*?</form>"
    forms = [form for page in pages for form in re.findall(sent, page, re.DOTALL)]
    # The finding's where it stands, and the item's where it is written on.
    assert len(forms) == 2
    for form in forms:
        assert 'method="post" enctype="multipart/form-data" action="/jobs/case/photos/"' in form
        assert 'type="file"' in form
        assert 'accept="image/*" capture="environment"' in form
        assert "csrfmiddlewaretoken" in form
        assert '<button class="button" type="submit">' in form
        assert "hx-" not in form
    for page in pages:
        ids = re.findall(r'\sid="([^"]+)"', page)
        assert len(ids) == len(set(ids))


# ---------------------------------------------------------------- who may see and add


def test_a_photo_is_handed_out_whole_and_small(sign_in):
    client = sign_in("ada")
    send(client, item="plug:P1")
    answer = client.get(f"{PHOTOS}{BIG_KEPT.name}")
    assert answer.content == BIG_KEPT.data
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Cache-Control"] == "private, max-age=31536000, immutable"
    assert answer["Content-Disposition"].startswith('inline; filename="case-')
    small = client.get(f"{PHOTOS}{BIG_KEPT.name}?small")
    assert opened(small.content).size == (480, 360)
    assert small["Cache-Control"] == "private, max-age=31536000, immutable"


@pytest.mark.parametrize("name", ["secret-key", "0" * 64 + ".jpg", "..", "%2e%2e%2fsecret-key"])
def test_no_other_file_is_handed_out(sign_in, name):
    answer = sign_in("ada").get(f"{PHOTOS}{name}")
    assert answer.status_code == 404
    assert answer["Content-Type"].startswith("text/html")


def test_a_changed_photo_is_not_handed_out(sign_in, photo_folder):
    client = sign_in("ada")
    send(client, item="plug:P1")
    (photo_folder / BIG_KEPT.name).write_bytes(BIG)
    answer = client.get(f"{PHOTOS}{BIG_KEPT.name}")
    assert answer.status_code == 404
    assert "This photo has been changed since it was kept." in text_of(answer)
    assert client.get(PLUG).status_code == 200


@pytest.mark.parametrize(
    ("person", "seen_as", "added_as"),
    [("ada", 200, 303), ("ben", 200, 303), ("cy", 200, 403), ("dee", 404, 404), ("", 302, 302)],
)
def test_who_may_see_and_who_may_add(sign_in, client, person, seen_as, added_as):
    services.add_photo(job=queries.job("case"), data=BIG, item="plug:P1", by="ada", at=KEPT)
    if person:
        sign_in(person)
    assert client.get(PHOTOS).status_code == seen_as
    assert client.get(f"{PHOTOS}{BIG_KEPT.name}").status_code == seen_as
    answer = client.post(PHOTOS, {"photo": upload(shot()), "item": "plug:P1", "once": "0" * 32})
    assert answer.status_code == added_as
    assert len(pictured()) == (2 if added_as == 303 else 1)
    if person == "cy":
        page = client.get(PLUG).content.decode()
        assert "<img" in page
        assert "ADD A PHOTO" not in page


def test_a_way_back_that_leads_elsewhere_is_not_taken(sign_in):
    client = sign_in("ada")
    answer = client.post(PHOTOS, {"photo": upload(), "item": "plug:P1", "next": "//elsewhere.example/", "once": "1" * 32})  # fmt: skip
    assert answer["Location"] == PHOTOS


def test_entries_of_that_kind_are_not_taken_by_the_interface(sign_in):
    client = sign_in("ada")
    sent = {
        "id": "photo-9", "kind": "pictured", "at": cast.START.isoformat(),
        "photo": BIG_KEPT.name, "sha256": BIG_KEPT.sha256,
    }  # fmt: skip
    answer = client.post("/api/jobs/case/entries", {"entries": [sent]}, "application/json")
    assert answer.status_code == 409
    assert answer.json()["sentence"] == "A photo is added with its picture, on a page of the job."


def test_photos_of_two_years_of_one_engine_stand_side_by_side(seen, client):
    serial = f'{cast.ENGINE}serial = "X-100"\n'
    earlier = KEPT.replace(year=KEPT.year - 1)
    jobs = {}
    for name, at in (("before", earlier), ("now", KEPT)):
        looked = new_entry(
            "seen", at=cast.START.replace(year=at.year), by="ada", id=f"seen-{name}",
            item="cylinder:3", word="off_centre", severity=2, check="look",
        )  # fmt: skip
        folder = shop.folder(name, [looked], engine=serial)
        jobs[name] = services.load_folder(folder=folder, by="ada", at=at)
    client.post("/sign-in/", {"person": "ada"})
    page = "/jobs/now/items/cylinder/3/"
    services.add_photo(job=jobs["now"], data=BIG, item="cylinder:3", by="ada", at=KEPT)
    # One year alone is nothing to compare.
    assert "Year by year" not in text_of(client.get(page))
    other = shot(900, 600)
    services.add_photo(job=jobs["before"], data=other, item="cylinder:3", by="ada", at=earlier)
    answer = client.get(page)
    assert "Year by year 2 years 2025" in text_of(answer)
    shown = re.findall(r"/jobs/(\w+)/photos/\w+\.jpg\?small", answer.content.decode())
    # The older first; then this year's, once there and once among the photos of this job.
    assert shown == ["before", "now", "now"]
