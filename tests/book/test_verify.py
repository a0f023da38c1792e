"""Verify finds every change of what is stored, and rebuild mends what may be mended."""

import random

import pytest
from django.db import connection

from rehang.book import models, queries, services, verifying
from rehang.trade.terms.errors import NotAllowed
from tests.book.shop import KEPT, entry, note, ohms

pytestmark = pytest.mark.django_db

ENTRY_COLUMNS = [field.column for field in models.Entry._meta.fields]


@pytest.fixture
def without_triggers(db):
    """Someone with the file and a database program in hand is not held by the triggers."""
    import importlib

    triggers = importlib.import_module("rehang.book.migrations.0002_book_append_only")
    editor = connection.schema_editor()
    for table, _, name, _ in triggers.TRIGGERS:
        on = "" if connection.vendor == "sqlite" else f" ON {table}"
        editor.execute(f"DROP TRIGGER {name}{on}")


@pytest.fixture
def written(job, append):
    append(
        ohms("read-1"),
        ohms("read-2", "ol", minute=1),
        entry("seen", "seen-1", item="plug:P1", place="1T", word="light_lead", check="look"),
        note("note-1", "Größe 18 mm, ½ Zoll – geprüft"),
        entry("struck", "strike-1", entry="read-1", reason="wrong plug"),
    )
    away = entry("put_away", "away-1", reason="sold")
    services.append(job=job, entries=[away], by="ada", at=KEPT, confirmed="ada")
    services.file_text(
        job=job, name="meters.toml", text=queries.files(job)["meters.toml"] + "\n# seen\n",
        by="ben", at=KEPT,
    )  # fmt: skip
    assert verifying.job_checked(job).changed == []
    return job


def sql(statement: str, *values: object) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)


def test_a_clean_store_has_nothing_to_say(written):
    assert verifying.job_checked(written).changed == []
    assert verifying.store_checked().changed == []


def test_a_changed_reading_is_named_by_its_place(written, without_triggers):
    sql("UPDATE book_entry SET body = REPLACE(body, '1.2 kohm', '1.3 kohm') WHERE entry_id = 'read-1'")  # fmt: skip
    place = next(e.seq for e in queries.entries(written) if e.id == "read-1")
    assert verifying.job_checked(written).changed == [
        f"case, entry {place}: The entry has been changed since it was kept (hash)."
    ]


def test_a_body_that_says_the_same_in_another_spelling_is_found(written, without_triggers):
    sql("UPDATE book_entry SET body = REPLACE(body, ',\"kind\"', ', \"kind\"') WHERE entry_id = 'note-1'")  # fmt: skip
    place = next(e.seq for e in queries.entries(written) if e.id == "note-1")
    assert verifying.job_checked(written).changed == [
        f"case, entry {place}: The entry has been changed since it was kept (body)."
    ]


def test_an_entry_taken_out_of_the_middle_or_off_the_end_is_found(written, without_triggers):
    last = written.head_seq
    sql("DELETE FROM book_entry WHERE job_id = %s AND seq = %s", written.pk, last)
    assert verifying.job_checked(written).changed == [
        f"case: The book ends at entry {last - 1}, and the job says it ends at {last}."
    ]
    sql("DELETE FROM book_entry WHERE job_id = %s AND entry_id = 'note-1'", written.pk)
    first = verifying.job_checked(written).changed[0]
    assert first.startswith("case, entry ")
    assert first.endswith("The entry has been changed since it was kept (id, seq, prev, hash).")


DERIVED = [
    ("UPDATE book_reading SET value = value + 1 WHERE value IS NOT NULL",
     "case: Rows of the readings index differ from what the book says (1 of 2 rows). Run: rehang rebuild"),
    ("UPDATE book_reading SET struck = NOT struck",
     "case: Rows of the readings index differ from what the book says (2 of 2 rows). Run: rehang rebuild"),
    ("DELETE FROM book_reading WHERE value IS NULL",
     "case: Rows of the readings index differ from what the book says (1 of 2 rows). Run: rehang rebuild"),
    ("UPDATE book_job SET title = 'Another engine'",
     "case: Columns of the job differ from what the book says (1 of 1 rows). Run: rehang rebuild"),
    ("UPDATE book_job SET put_away = NOT put_away",
     "case: Columns of the job differ from what the book says (1 of 1 rows). Run: rehang rebuild"),
]  # fmt: skip


@pytest.mark.parametrize(("statement", "sentence"), DERIVED)
def test_what_is_worked_out_from_the_book_is_found_changed_and_rebuilt(
    written, statement, sentence
):
    sql(statement)
    assert verifying.job_checked(written).changed == [sentence]
    lines = services.rebuild(by="ada", at=KEPT, job=written)
    assert lines == [f"case: {written.head_seq} entries, 2 readings in the index."]
    assert verifying.job_checked(written).changed == []


def test_the_people_of_a_job_are_rebuilt(written):
    written.people.clear()
    assert verifying.job_checked(written).changed == [
        "case: The people of the job are not those of people.toml. Run: rehang rebuild"
    ]
    services.rebuild(by="ada", at=KEPT)
    assert verifying.job_checked(written).changed == []


def test_a_changed_file_text_is_found(written, without_triggers):
    sql("UPDATE book_jobfile SET text = REPLACE(text, '20 kohm', '30 kohm') WHERE name = 'meters.toml'")  # fmt: skip
    assert verifying.job_checked(written).changed == [
        "case: Files on record differ from what the book says (2 of 5 rows). "
        "The texts in the book are whole; go back to a good copy of the database."
    ]


def test_a_changed_book_is_not_rebuilt_from(written, without_triggers):
    sql("UPDATE book_entry SET hash = prev WHERE entry_id = 'note-1'")
    with pytest.raises(NotAllowed, match=r"^case: case, entry \d+: .*Nothing has been rebuilt"):
        services.rebuild(by="ada", at=KEPT)


def test_triggers_that_are_gone_or_off_or_others_are_found(written, without_triggers):
    told = verifying.store_checked().changed
    assert told == [
        f"The trigger {name} is missing: {what} could be changed unseen."
        for name, what in (
            ("book_entry_is_never_changed", "entries"),
            ("book_entry_is_never_taken_away", "entries"),
            ("book_jobfile_is_never_changed", "filed texts"),
            ("book_jobfile_is_never_taken_away", "filed texts"),
        )
    ]
    name = "book_accessline_is_never_changed"
    if connection.vendor == "sqlite":
        sql(f"DROP TRIGGER {name}")
        sql(f"CREATE TRIGGER {name} BEFORE UPDATE ON book_accessline BEGIN SELECT 1; END")
    else:
        sql(f"ALTER TABLE book_accessline DISABLE TRIGGER {name}")
    assert verifying.store_checked().changed == [
        *told,
        f"The trigger {name} is not the one that was made: lines of the access log could be changed "
        "unseen.",
    ]


def test_rows_of_no_job_are_found(written, without_triggers):
    sql("UPDATE book_entry SET job_id = 999 WHERE entry_id = 'note-1'")
    assert "1 row(s) of kind entry belong to no job." in verifying.store_checked().changed
    sql("UPDATE book_entry SET job_id = %s WHERE entry_id = 'note-1'", written.pk)
    assert "1 row(s) of kind entry belong to no job." not in verifying.store_checked().changed


def test_a_thousand_changed_bytes_are_a_thousand_found(written, without_triggers):
    """One byte at a time, any column of any row, as a database program would change it.

    A change that the database itself does not take (two entries of one id) is drawn again.
    """
    if connection.vendor != "sqlite":
        pytest.skip("Bytes are changed in SQLite's own file format.")
    dice = random.Random(20261102)  # noqa: S311  (a draw, not a secret)
    with connection.cursor() as cursor:
        cursor.execute("SELECT id FROM book_entry WHERE job_id = %s", [written.pk])
        rows = [row[0] for row in cursor.fetchall()]
    found = tried = 0
    touched = set()
    while tried < 1_000:
        row, column = dice.choice(rows), dice.choice(ENTRY_COLUMNS)
        old, undo = _change_one_byte(row, column, dice)
        if old is None:
            continue
        tried += 1
        touched.add(column)
        if verifying.job_checked(written).changed:
            found += 1
        undo()
    assert verifying.job_checked(written).changed == []
    assert touched == set(ENTRY_COLUMNS)
    assert (tried, found) == (1_000, 1_000)


def _change_one_byte(row: int, column: str, dice: random.Random):
    """Change one byte of a stored value; gives the old value and a way back, or None."""
    from django.db import IntegrityError, transaction

    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT typeof({column}), CAST({column} AS BLOB) FROM book_entry WHERE id = %s",  # noqa: S608
            [row],
        )
        kind, raw = cursor.fetchone()
    old: object
    if kind == "integer":
        old = int(raw)
        new: object = old ^ (dice.randrange(1, 256) << (8 * dice.randrange(7)))
        how = "%s"
    else:
        old = bytes(raw)
        if not old:
            return None, None
        place = dice.randrange(len(old))
        changed = (old[place] + dice.randrange(1, 256)) % 256
        new = old[:place] + bytes([changed]) + old[place + 1 :]
        how = "CAST(%s AS TEXT)"
    at = new if column == "id" else row
    try:
        with transaction.atomic():
            sql(f"UPDATE book_entry SET {column} = {how} WHERE id = %s", new, row)  # noqa: S608
    except IntegrityError:
        return None, None

    def undo() -> None:
        sql(f"UPDATE book_entry SET {column} = {how} WHERE id = %s", old, at)  # noqa: S608

    return old, undo
