"""Files of a job in revisions, inside the chain."""

import hashlib
from datetime import timedelta

import pytest

from rehang.book import models, queries, services, verifying
from rehang.sheets.folder import facts_at, read_folder, write_folder
from rehang.trade.terms.errors import BadInput, NotAllowed
from tests.book.shop import KEPT, ohms
from tests.trade import cast

pytestmark = pytest.mark.django_db

TIGHTER = cast.LIMITS.replace("5000 ohm", "1000 ohm")


def file_limits(job, text=TIGHTER, **given):
    return services.file_text(
        job=job, name="limits.toml", text=text, **({"by": "ben", "at": KEPT} | given)
    )


def call(job, now=None) -> str:
    found = queries.judged(job, now).item("plug:P1").call("resistance")
    assert found is not None
    return found.call


def test_a_new_limit_is_filed_in_the_book_and_judges_from_then_on(job, append):
    append(ohms("read-1", "1.2 kohm"))
    assert call(job) == "WITHIN"
    (kept,) = file_limits(job).entries
    assert (kept.kind, kept.by, kept.data["file"]) == ("filed", "ben", "limits.toml")
    assert kept.data["sha256"] == hashlib.sha256(TIGHTER.encode()).hexdigest()
    assert call(job) == "OUT"
    assert [one.revision for one in queries.revisions(job, "limits.toml")] == [1, 2]
    assert models.JobFile.objects.get(job=job, name="limits.toml", revision=2).text == TIGHTER
    assert verifying.job_checked(job).changed == []


def test_an_earlier_day_is_judged_by_the_limits_of_that_day(job, append):
    append(ohms("read-1", "1.2 kohm"))
    file_limits(job, at=KEPT + timedelta(days=2))
    assert call(job, KEPT + timedelta(days=1)) == "WITHIN"
    assert call(job, KEPT + timedelta(days=2)) == "OUT"
    # Before anything was filed the first limits hold.
    assert call(job, KEPT - timedelta(hours=1)) == "WITHIN"


def test_the_same_text_is_not_filed_twice(job):
    before = job.head_seq
    assert file_limits(job, cast.LIMITS) == services.Appended((), ())
    assert queries.job("case").head_seq == before


def test_a_text_taken_back_at_the_same_instant_is_filed_again(job):
    file_limits(job, by="ada")
    file_limits(job, cast.LIMITS, by="ada")
    (kept,) = file_limits(job, by="ada").entries
    assert kept.data["text"] == queries.files(job)["limits.toml"] == TIGHTER
    assert len(queries.revisions(job, "limits.toml")) == 4
    assert verifying.job_checked(job).changed == []


REFUSED = [
    ("limits.toml", '[[limit]]\nitem = "plug"\ncheck = "gap"\n', BadInput,
     "limits.toml, line 1: The limit for plug gap has no bound. "
     'Give "lower", "upper", "grade", "worst" or "floor".'),
    ("meters.toml", cast.METERS.replace('id = "DM"', 'id = "DX"'), BadInput,
     'There is no meter "DM" on file. The meters are DX, AN, WG, WC, BT.'),
    ("engine.toml", cast.ENGINE.replace('"case"', '"other"'), NotAllowed,
     'The job of this book is "case"; its files say "other". A book does not change its job.'),
    ("engine.toml", cast.ENGINE.replace("format = 1", "format = 7"), BadInput,
     "engine.toml, line 2: The folder is of format 7; this Rehang reads format 1. "
     "Open it with the Rehang that wrote it, or a newer one."),
    ("people.toml", cast.PEOPLE.replace('"ada"', '"ava"').replace('"Ada"', '"Ava"'), BadInput,
     'limits.toml, line 9: "ada" is not in the list of people.'),
    ("people.toml", cast.PEOPLE.replace('"Ben"', '"Benno"'), NotAllowed,
     '"ben" is Ben on this board and Benno in this list of people. Give one of them another key.'),
    ("book.jsonl", "{}", BadInput,
     '"book.jsonl" is not a file of a job. They are engine.toml, people.toml, limits.toml, '
     "meters.toml, shop.toml, layout.toml, checks.toml, tasks.toml, stock.toml, "
     "recurring.toml, reasons.toml, run.toml, torque.toml."),
]  # fmt: skip


@pytest.mark.parametrize(("name", "text", "kind", "sentence"), REFUSED)
def test_a_text_that_the_book_cannot_stand_on_is_refused(job, append, name, text, kind, sentence):
    append(ohms("read-1"))
    before = job.head_seq
    with pytest.raises(kind, match=r".") as refusal:
        services.file_text(job=job, name=name, text=text, by="ada", at=KEPT)
    assert str(refusal.value) == sentence
    assert queries.job("case").head_seq == before
    assert verifying.job_checked(job).changed == []


def test_who_has_written_in_the_book_stays_in_the_list_of_people(job, append):
    append(ohms("read-1", by="ben"))
    head, _, rest = cast.PEOPLE.partition('[[person]]\nkey = "ben"')
    people = head + rest[rest.index("[[person]]") :]
    with pytest.raises(
        NotAllowed,
        match=r'^The list of people leaves out "ben", who has written in this book\. '
        r"Keep the person in the list\.$",
    ):
        services.file_text(job=job, name="people.toml", text=people, by="ada", at=KEPT)


def test_someone_new_in_the_list_may_open_the_job(job):
    people = cast.PEOPLE + '\n[[person]]\nkey = "dee"\nname = "Dee"\n'
    services.file_text(job=job, name="people.toml", text=people, by="ada", at=KEPT)
    assert queries.job_for("case", "dee") == job
    assert [one.key for one in queries.people(job)] == ["ada", "ben", "cy", "dee"]


def test_nobody_writes_themselves_in_with_the_text_they_file(job):
    people = cast.PEOPLE + '\n[[person]]\nkey = "dee"\nname = "Dee"\n'
    with pytest.raises(NotAllowed, match=r"^You are not in this job's list of people\."):
        services.file_text(job=job, name="people.toml", text=people, by="dee", at=KEPT)
    with pytest.raises(NotAllowed, match=r"^Cy reads this book and does not write in it\.$"):
        services.file_text(
            job=job, name="people.toml", text=cast.PEOPLE.replace('"reads"', '"mechanic"'),
            by="cy", at=KEPT,
        )  # fmt: skip


def test_a_filed_sheet_is_not_struck(job):
    (filed,) = file_limits(job).entries
    with pytest.raises(
        NotAllowed,
        match=r"^A filed sheet is not struck\. File the sheet again with the right text\.$",
    ):
        services.strike(
            job=job, entry_id=filed.id, reason="wrong", by="ada", at=KEPT, confirmed="ada"
        )


def test_the_text_filed_again_after_another_is_a_revision_of_its_own(job):
    file_limits(job)
    file_limits(job, cast.LIMITS, at=KEPT + timedelta(minutes=5))
    file_limits(job, at=KEPT + timedelta(minutes=6))
    assert [one.revision for one in queries.revisions(job, "limits.toml")] == [1, 2, 3, 4]
    assert queries.files(job)["limits.toml"] == TIGHTER


def test_a_saved_folder_is_judged_as_of_a_day_as_the_stored_job_is(job, append, tmp_path):
    append(ohms("read-1", "1.2 kohm"))
    file_limits(job, at=KEPT + timedelta(days=2))
    write_folder(tmp_path, *queries.as_folder(job))
    saved = read_folder(tmp_path)
    for days in (-30, 1, 2, 3):
        moment = KEPT + timedelta(days=days)
        assert facts_at(saved, moment) == queries.facts(job, moment), days
    assert facts_at(saved, None) == queries.facts(job)
