"""Photos in a book: the file and the entry, or neither; and the way through a folder and back."""

import errno
import hashlib
import os
import shutil
from datetime import timedelta
from pathlib import Path

import pytest
from django.db import connection

from rehang.book import models, photos, queries, services, verifying
from rehang.decode.pictures import made_fit
from rehang.sheets.folder import book_text, read_folder, write_folder
from rehang.sheets.whole import folder_checked
from rehang.trade.job.judging import judge
from rehang.trade.terms.entries import new_entry
from rehang.trade.terms.errors import BadInput, NotAllowed
from tests.book import shop
from tests.book.shop import KEPT, entry, note, ohms
from tests.photos.shots import saved, scene, shot
from tests.trade import cast

pytestmark = pytest.mark.django_db

KEPT_SHOT = made_fit(shot())


def add(job, data=None, *, by="ada", at=KEPT, **fields):
    return services.add_photo(job=job, data=data or shot(), by=by, at=at, **fields)


@pytest.fixture
def pictured(job, append):
    """The job with one finding and a photo that belongs to it."""
    append(entry("seen", "seen-1", item="plug:P1", place="1T", word="light_lead", check="look"))
    add(job, entry="seen-1", scale_note="steel rule, 1 mm marks", entry_id="photo-1")
    return job


# ---------------------------------------------------------------- adding one


def test_a_photo_is_a_file_named_by_its_sum_and_an_entry_in_the_chain(pictured, photo_folder):
    last = queries.entries(pictured)[-1]
    assert (last.id, last.kind, last.by) == ("photo-1", "pictured", "ada")
    assert dict(last.data) == {
        "photo": KEPT_SHOT.name,
        "sha256": KEPT_SHOT.sha256,
        # The item is that of the finding.
        "item": "plug:P1",
        "entry": "seen-1",
        "scale_note": "steel rule, 1 mm marks",
        "width": 400,
        "height": 300,
    }
    assert [path.name for path in photo_folder.iterdir()] == [KEPT_SHOT.name]
    assert (photo_folder / KEPT_SHOT.name).read_bytes() == KEPT_SHOT.data
    assert (photo_folder / KEPT_SHOT.name).stat().st_mode & 0o777 == 0o600
    assert queries.photo(pictured, KEPT_SHOT.name) == KEPT_SHOT.data
    assert dict(queries.photos(pictured)) == {KEPT_SHOT.name: KEPT_SHOT.data}
    assert queries.state(pictured).items["plug:P1"].pictures == [last]
    assert verifying.job_checked(pictured).changed == []


def test_a_photo_may_be_of_the_whole_engine(job):
    add(job, entry_id="photo-1")
    assert queries.entries(job)[-1].item == ""
    assert verifying.job_checked(job).changed == []


def test_the_same_form_sent_twice_keeps_one_photo(pictured):
    fields = {"entry": "seen-1", "scale_note": "steel rule, 1 mm marks", "entry_id": "photo-1"}
    before = pictured.head_seq
    done = add(pictured, at=KEPT + timedelta(minutes=5), **fields)
    assert (done.entries, done.repeated) == ((), ("photo-1",))
    assert pictured.head_seq == before
    with pytest.raises(NotAllowed, match=r"^The id photo-1 stands in the book already with other"):
        add(pictured, shot(200, 100), **fields)
    assert dict(queries.photos(pictured)) == {KEPT_SHOT.name: KEPT_SHOT.data}


def test_one_photo_under_two_entries_is_one_file(pictured, photo_folder):
    add(pictured, item="plug:P1", entry_id="photo-2")
    assert [e.id for e in queries.entries(pictured)[-2:]] == ["photo-1", "photo-2"]
    assert [path.name for path in photo_folder.iterdir()] == [KEPT_SHOT.name]
    assert verifying.job_checked(pictured).changed == []


REFUSED = [
    ({"by": "cy"}, "Cy reads this book and does not write in it."),
    ({"by": "dee"}, "You are not in this job's list of people. Ask its owner to add you."),
    ({"item": "plug:P9"}, 'There is no item "plug:P9" in this job.'),
    ({"entry": "seen-9"}, 'There is no entry "seen-9" in this book.'),
    (
        {"item": "plug:P1", "entry": "seen-2"},
        "That line is about plug P2, not plug P1. Add the photo on the page of its own item.",
    ),
    ({"entry": "read-1"}, "That line is struck. Add the photo to one that stands."),
    (
        {"entry": "note-1"},
        "A photo belongs to a finding, a reading or another line about an item. "
        "Add the photo to the item.",
    ),
    (
        {"scale_note": "x" * 201},
        "scale_note: The scale note has 201 characters; at most 200 fit under a photo. Shorten it.",
    ),
    ({"scale_note": "a\0b"}, "The entry has a NUL character in it. Take it out."),
    (
        {"at": cast.START - timedelta(days=1), "data": b"%PDF-1.7"},
        "This is a PDF, not a photo. Send the photo itself, as JPEG or PNG.",
    ),
]


@pytest.mark.parametrize(("changed", "sentence"), REFUSED, ids=lambda x: str(x)[:30])
def test_what_is_refused_leaves_neither_entry_nor_file(
    job, append, photo_folder, changed, sentence
):
    append(
        shop.removed("P2", "1B"),
        ohms("read-1"),
        entry("seen", "seen-2", item="plug:P2", place="1B", word="light_lead", check="look"),
        note("note-1"),
        entry("struck", "strike-1", entry="read-1", reason="wrong plug"),
    )
    before = book_text(queries.entries(job))
    with pytest.raises((BadInput, NotAllowed), match=r"\.$") as refused:
        add(job, **changed)
    assert str(refused.value) == sentence
    assert book_text(queries.entries(job)) == before
    assert models.Entry.objects.filter(job=job).count() == before.count("\n")
    assert not photo_folder.exists() or list(photo_folder.iterdir()) == []


@pytest.mark.parametrize("where", ["fsync", "replace"])
def test_a_full_disk_leaves_neither_entry_nor_file(job, photo_folder, monkeypatch, where):
    def full(*args):
        raise OSError(errno.ENOSPC, "No space left on device")

    before, head = models.Entry.objects.filter(job=job).count(), job.head_hash
    with monkeypatch.context() as patch:
        patch.setattr(os if where == "fsync" else Path, where, full)
        with pytest.raises(OSError, match="No space left"):
            add(job, item="plug:P1", entry_id="photo-1")
    assert models.Entry.objects.filter(job=job).count() == before
    assert job.head_hash == head
    assert list(photo_folder.iterdir()) == []
    # And once there is room again, it is kept.
    add(job, item="plug:P1", entry_id="photo-1")
    assert verifying.job_checked(job).changed == []


def test_the_file_is_in_place_before_the_entry_is_committed(job, photo_folder, monkeypatch):
    seen = []
    settle = photos._settle_folder

    def look(path):
        # The test itself runs in a transaction: the service's own is a savepoint in it.
        seen.append((len(connection.savepoint_ids), (photo_folder / KEPT_SHOT.name).is_file()))
        settle(path)

    monkeypatch.setattr(photos, "_settle_folder", look)
    add(job, item="plug:P1")
    assert seen == [(1, True)]


def test_an_entry_of_that_kind_is_not_taken_without_its_file(job):
    fields = {"photo": KEPT_SHOT.name, "sha256": KEPT_SHOT.sha256, "item": "plug:P1"}
    sent = new_entry("pictured", at=cast.START, by="ada", **fields)
    with pytest.raises(NotAllowed, match=r"^A photo is added with its picture, on a page of the"):
        services.append(job=job, entries=[sent], by="ada", at=KEPT)


def test_a_struck_photo_leaves_the_item_and_stays_in_the_book(pictured):
    services.strike(job=pictured, entry_id="photo-1", reason="wrong plug", by="ada", at=KEPT)
    assert queries.state(pictured).items["plug:P1"].pictures == []
    assert queries.photo(pictured, KEPT_SHOT.name) == KEPT_SHOT.data
    assert verifying.job_checked(pictured).changed == []


# ---------------------------------------------------------------- held against its sum


def test_a_changed_byte_of_a_photo_is_found(pictured, photo_folder):
    path = photo_folder / KEPT_SHOT.name
    whole = bytearray(path.read_bytes())
    place = f"case, entry {pictured.head_seq}"
    said = f"{place}: The photo of plug P1, photos/{KEPT_SHOT.name},"
    for at in range(0, len(whole), max(1, len(whole) // 40)):
        spoilt = bytearray(whole)
        spoilt[at] ^= 1
        path.write_bytes(spoilt)
        assert verifying.job_checked(pictured).changed == [
            f"{said} has been changed since it was kept. Go back to a good copy."
        ]
        with pytest.raises(BadInput, match=r"^This photo has been changed since it was kept\."):
            queries.photo(pictured, KEPT_SHOT.name)
    path.unlink()
    missing = [f"{said} is missing. Copy it from where the book came from."]
    assert verifying.job_checked(pictured).changed == missing
    assert verifying.store_checked().changed == missing
    with pytest.raises(BadInput, match=r"^This photo is missing on this machine\."):
        queries.photo(pictured, KEPT_SHOT.name)
    # The same photo sent again mends it.
    add(pictured, item="plug:P1")
    assert verifying.job_checked(pictured).changed == []


def test_a_photo_of_another_job_is_not_handed_out(pictured):
    other = services.load_folder(folder=shop.folder("other"), by="ada", at=KEPT)
    with pytest.raises(BadInput, match=r"^There is no such photo in this job\.$"):
        queries.photo(other, KEPT_SHOT.name)


@pytest.mark.parametrize("name", ["../rehang.sqlite3", "..%2fsecret-key", "secret-key", ""])
def test_no_name_leads_out_of_the_folder(pictured, name):
    with pytest.raises(BadInput, match=r"^There is no such photo in this job\.$"):
        queries.photo(pictured, name)
    with pytest.raises(BadInput, match=r"is not the name of a photo\.$"):
        photos.read(name)


# ---------------------------------------------------------------- out as a folder and in again


def _tree(path: Path) -> dict[str, bytes]:
    return {
        str(p.relative_to(path)): p.read_bytes() for p in sorted(path.rglob("*")) if p.is_file()
    }


@pytest.fixture
def saved_folder(pictured, tmp_path):
    write_folder(tmp_path / "one", *queries.as_folder(pictured), queries.photos(pictured))
    return tmp_path / "one"


def _other_machine(settings, tmp_path):
    settings.REHANG_DATA = tmp_path / "elsewhere"
    models.Job.objects.all().update(slug="aside")
    queries.forget()


def test_a_job_goes_out_and_in_and_out_the_same_to_the_byte(saved_folder, settings, tmp_path):
    assert f"photos/{KEPT_SHOT.name}" in _tree(saved_folder)
    assert f'name = "photos/{KEPT_SHOT.name}"' in (saved_folder / "contents.toml").read_text()
    assert folder_checked(saved_folder).changed == []
    read = read_folder(saved_folder)
    assert read.notices == ()
    assert dict(read.photos) == {KEPT_SHOT.name: KEPT_SHOT.data}
    _other_machine(settings, tmp_path)
    loaded = services.load_folder(folder=read, by="ben", at=KEPT + timedelta(days=1))
    assert (tmp_path / "elsewhere" / "photos" / KEPT_SHOT.name).read_bytes() == KEPT_SHOT.data
    assert verifying.job_checked(loaded).changed == []
    write_folder(tmp_path / "two", *queries.as_folder(loaded), queries.photos(loaded))
    assert _tree(tmp_path / "two") == _tree(saved_folder)


def test_a_folder_saved_again_in_its_place_keeps_its_photos(saved_folder):
    before = _tree(saved_folder)
    read = read_folder(saved_folder)
    write_folder(saved_folder, read.files, read.entries)
    assert _tree(saved_folder) == before


def test_a_missing_photo_is_said_and_the_job_is_still_judged(saved_folder, settings, tmp_path):
    shutil.rmtree(saved_folder / "photos")
    line = len((saved_folder / "book.jsonl").read_text().splitlines())
    read = read_folder(saved_folder)
    said = (
        f"book.jsonl, line {line}: The photo of plug P1, photos/{KEPT_SHOT.name}, is missing. "
        "Copy it from where the book came from."
    )
    assert read.notices == (said,)
    assert len(folder_checked(saved_folder).changed) == 1
    _other_machine(settings, tmp_path)
    with pytest.raises(BadInput, match=r"^book\.jsonl, line \d+: The photo photos/\w+\.jpg is not in the folder\. Copy it from where the folder came from\.$"):  # fmt: skip
        services.load_folder(folder=read, by="ben", at=KEPT)
    assert not models.Job.objects.filter(slug="case").exists()


def test_a_changed_photo_is_said_and_not_loaded(saved_folder, settings, tmp_path):
    path = saved_folder / "photos" / KEPT_SHOT.name
    path.write_bytes(saved(scene(300, 200)))
    read = read_folder(saved_folder)
    assert len(read.notices) == 1
    assert read.notices[0].endswith("has been changed since it was kept. Go back to a good copy.")
    assert len(folder_checked(saved_folder).changed) == 1
    _other_machine(settings, tmp_path)
    with pytest.raises(BadInput, match=r"has been changed since it was kept\. Copy it again from"):
        services.load_folder(folder=read, by="ben", at=KEPT)
    assert not models.Job.objects.filter(slug="case").exists()
    assert not (tmp_path / "elsewhere" / "photos" / KEPT_SHOT.name).exists()


def test_a_folder_without_photos_loads_where_the_photos_lie_already(saved_folder):
    shutil.rmtree(saved_folder / "photos")
    loaded = services.load_folder(folder=read_folder(saved_folder), by="ada", at=KEPT)
    assert verifying.job_checked(loaded).changed == []


def test_loading_a_folder_brings_back_a_photo_that_was_lost(saved_folder, pictured, photo_folder):
    (photo_folder / KEPT_SHOT.name).unlink()
    assert len(verifying.job_checked(pictured).changed) == 1
    services.load_folder(folder=read_folder(saved_folder), by="ada", at=KEPT)
    assert verifying.job_checked(pictured).changed == []


def _by_hand(tmp_path: Path, **fields) -> Path:
    folder = shop.folder(entries=[shop.removed(), entry("pictured", "photo-1", **fields)])
    write_folder(tmp_path / "hand", folder.files, [])
    (tmp_path / "hand" / "book.jsonl").write_text(book_text(folder.entries), "utf-8")
    (tmp_path / "hand" / "contents.toml").unlink()
    return tmp_path / "hand"


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        (
            {"photo": "../../secret.jpg", "sha256": "0" * 64},
            'book.jsonl, line 2: The photo "../../secret.jpg" is not named by its sum '
            f'"{"0" * 64}". Add the photo again.',
        ),
        (
            {"photo": KEPT_SHOT.name, "sha256": KEPT_SHOT.sha256, "entry": "nothing"},
            'book.jsonl, line 2: The photo belongs to "nothing", which is not in the book.',
        ),
        (
            {"photo": KEPT_SHOT.name, "sha256": KEPT_SHOT.sha256, "item": "plug:P7"},
            'book.jsonl, line 2: "plug:P7" has not come into this job. '
            'Write an entry of kind "removed" for it first.',
        ),
    ],
)
def test_a_line_typed_by_hand_is_held_to_the_same_rules(tmp_path, fields, sentence):
    read = read_folder(_by_hand(tmp_path, **fields))
    with pytest.raises(BadInput, match=r"^book\.jsonl, line 2: ") as refused:
        judge(read.facts, read.entries, where=read.where)
    assert str(refused.value) == sentence


def test_a_file_that_only_looks_like_a_photo_is_not_loaded(tmp_path):
    data = b"\xff\xd8\xff" + b"nothing that can be shown or printed" * 9
    sha256 = hashlib.sha256(data).hexdigest()
    path = _by_hand(tmp_path, photo=f"{sha256}.jpg", sha256=sha256)
    (path / "photos").mkdir()
    (path / "photos" / f"{sha256}.jpg").write_bytes(data)
    with pytest.raises(BadInput, match=rf"^book\.jsonl, line 2, photos/{sha256}\.jpg: The picture cannot be read: "):  # fmt: skip
        services.load_folder(folder=read_folder(path), by="ada", at=KEPT)
    assert not models.Job.objects.filter(slug="case").exists()
