"""What the book forbids, the database refuses too, whoever asks it."""

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.models import ProtectedError

from rehang.book import models
from tests.book.shop import KEPT

pytestmark = pytest.mark.django_db

NEVER = "An entry is never changed. Strike it and write another."
NEVER_FILE = "A filed text is never changed. File another revision."


def refused(statement: str, *values: object) -> str:
    """The sentence with which the database refuses a statement."""
    with (
        pytest.raises(IntegrityError, match=r".") as refusal,
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(statement, values)
    return str(refusal.value).splitlines()[0]


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE book_entry SET body = body",
        "UPDATE book_entry SET kind = 'note' WHERE seq = 1",
        "DELETE FROM book_entry",
        "DELETE FROM book_entry WHERE seq = 1",
    ],
)
def test_an_entry_is_neither_changed_nor_taken_away(job, statement):
    assert refused(statement) == NEVER
    assert models.Entry.objects.filter(job=job).count() == job.head_seq


@pytest.mark.parametrize(
    "statement", ["UPDATE book_jobfile SET text = ''", "DELETE FROM book_jobfile"]
)
def test_a_filed_text_is_neither_changed_nor_taken_away(job, statement):
    assert refused(statement) == NEVER_FILE


def test_postgresql_does_not_empty_the_table_at_once(job):
    if connection.vendor != "postgresql":
        pytest.skip("Only PostgreSQL can empty a table past its row triggers.")
    with connection.cursor() as cursor:
        # Checks that wait for the end of the transaction would stand in its way first.
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
    assert refused("TRUNCATE book_entry CASCADE") == NEVER


def test_the_models_cannot_go_around_it(job):
    row = models.Entry.objects.get(job=job, seq=1)
    row.kind = "note"
    for act in (row.save, models.Entry.objects.filter(pk=row.pk).delete):
        with pytest.raises(IntegrityError, match="never changed"), transaction.atomic():  # fmt: skip
            act()


def copy(row: models.Entry, **changed: object) -> models.Entry:
    values = {f.attname: getattr(row, f.attname) for f in models.Entry._meta.fields}
    return models.Entry(**(values | changed))


@pytest.mark.parametrize(
    "changed",
    [
        pytest.param({"id": 1, "entry_id": "another"}, id="two at one place"),
        pytest.param({"id": 1, "seq": 99}, id="one id twice"),
        pytest.param({"seq": 99, "entry_id": "another"}, id="one key twice"),
        pytest.param({"id": 1, "seq": 0, "entry_id": "another"}, id="place 0"),
    ],
)
def test_an_entry_has_a_place_and_an_id_of_its_own(job, changed):
    row = models.Entry.objects.get(job=job, seq=1)
    with pytest.raises(IntegrityError, match=r"(?i)constraint"), transaction.atomic():
        copy(row, **changed).save(force_insert=True)


@pytest.mark.parametrize("revision", [1, 0])
def test_a_revision_is_filed_once_and_counts_from_one(job, revision):
    with pytest.raises(IntegrityError, match=r"(?i)constraint"), transaction.atomic():
        models.JobFile.objects.create(
            job=job, name="limits.toml", revision=revision, text="", sha256="", by="ada", at=KEPT
        )


def test_two_jobs_do_not_share_a_name_nor_two_people_a_key(job):
    with pytest.raises(IntegrityError, match=r"(?i)unique"), transaction.atomic():
        models.Job.objects.create(slug="case", title="", head_hash="", created_at=KEPT)
    ada = models.Member.objects.get(key="ada")
    with pytest.raises(IntegrityError, match=r"(?i)unique"), transaction.atomic():
        models.Member.objects.filter(key="ben").update(key=ada.key)


def test_a_job_with_a_book_and_a_person_with_a_key_are_not_deleted(job):
    with pytest.raises(ProtectedError, match="protected foreign keys"):
        job.delete()
    with pytest.raises(ProtectedError, match="protected foreign keys"):
        models.Member.objects.get(key="ada").user.delete()
