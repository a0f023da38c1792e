"""The access log: a chain of its own over who may sign in, as whom and with what.

Its hash is SHA-256 of FIPS 180-4, checked here on the standard's own example and recomputed over
a line by hand, not by our own function.
"""

import hashlib
import importlib
import json
import shutil

import pytest
from django.apps import apps
from django.contrib.auth import get_user_model
from django.db import IntegrityError, connection, transaction

from rehang.book import accesslog, ends, models, pins, queries, services, verifying
from tests.book.shop import KEPT
from tests.pins import give_pins

pytestmark = pytest.mark.django_db


@pytest.fixture
def unguarded(job):
    """Someone with a database program in hand is not held by the triggers."""
    triggers = importlib.import_module("rehang.book.migrations.0004_access_log")
    triggers.take_away(apps, connection.schema_editor())
    return job


def sql(statement: str, *values: object) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)


def told() -> list[tuple[str, str, str]]:
    return list(models.AccessLine.objects.order_by("seq").values_list("what", "about", "by"))


def test_the_hash_is_that_of_the_standard():
    # FIPS 180-4 names the examples of its algorithms; SHA-256 of "abc" is the first (also RFC
    # 6234, 8.5, TEST1): typed from memory of both.
    abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert hashlib.sha256(b"abc").hexdigest() == abc


def test_who_joins_and_what_is_filed_and_set_makes_lines_in_one_chain(job):
    give_pins("ada")
    services.set_password(person="ada", password="seven green magnetos", by="ada", at=KEPT)
    joined = [("joined", key, "ada") for key in queries.facts(job).people]
    assert told() == [
        *joined,
        ("people_filed", "case", "ada"),
        ("pin_set", "ada", pins.TERMINAL),
        ("password_set", "ada", "ada"),
    ]
    before = "0" * 64
    for line in models.AccessLine.objects.order_by("seq"):
        body = json.dumps(
            {"about": line.about, "at": line.at, "by": line.by, "said": line.said,
             "seq": line.seq, "what": line.what},
            sort_keys=True, separators=(",", ":"), ensure_ascii=False,
        )  # fmt: skip
        assert line.prev == before
        assert line.hash == hashlib.sha256(f"{before}\n{body}".encode()).hexdigest()
        before = line.hash
    end = models.ChainEnd.objects.get(name="access_log")
    assert (end.seq, end.hash) == (len(told()), before)
    assert verifying.access_checked().changed == []


def test_the_same_list_filed_again_makes_no_line(job):
    before = told()
    text = queries.files(job)["meters.toml"] + "\n# seen\n"
    services.file_text(job=job, name="meters.toml", text=text, by="ada", at=KEPT)
    services.rebuild(by="ada", at=KEPT)
    assert told() == before


def test_no_secret_stands_in_the_log(job):
    give_pins("ada")
    member = models.Member.objects.get(key="ada")
    assert member.pin
    assert not any(member.pin in line.said for line in models.AccessLine.objects.all())


def test_a_line_is_written_only_with_what_it_tells_of(db):
    within = connection.in_atomic_block
    connection.in_atomic_block = False
    try:
        with pytest.raises(RuntimeError, match=r"use writing\(\)"):
            accesslog.write(what="signed_in", about="ada", by="ada", at=KEPT)
    finally:
        connection.in_atomic_block = within


def test_a_line_that_changes_no_account_leaves_what_is_given(job):
    with transaction.atomic():
        accesslog.write(what="sign_in_refused", about="nobody", by="", at=KEPT, address="::1")
    assert verifying.access_checked().changed == []
    assert models.AccessLine.objects.last().said == '{"address":"::1"}'


ACCOUNTS = [
    ("UPDATE book_member SET user_id = (SELECT MAX(id) FROM auth_user) WHERE key = 'ada'",
     '"ada": the account behind the name, the sign-in name and the password are not what the access log gives.'),
    ("UPDATE auth_user SET is_active = NOT is_active WHERE username = 'ada'",
     '"ada": whether the account is open is not what the access log gives.'),
    ("UPDATE auth_user SET is_staff = NOT is_staff WHERE username = 'ada'",
     '"ada": the mark of staff is not what the access log gives.'),
    ("UPDATE auth_user SET is_superuser = NOT is_superuser WHERE username = 'ada'",
     '"ada": the mark of a superuser is not what the access log gives.'),
    ("UPDATE auth_user SET password = 'pbkdf2' WHERE username = 'ada'",
     '"ada": the password is not what the access log gives.'),
    ("UPDATE book_member SET pin = 'x' WHERE key = 'ada'",
     '"ada": the PIN is not what the access log gives.'),
    ("UPDATE book_member SET pin_shown = '1' WHERE key = 'ada'",
     '"ada": the PIN is not what the access log gives.'),
    ("UPDATE book_member SET name = 'Ada B' WHERE key = 'ada'",
     '"ada": the name is not what the access log gives.'),
    ("UPDATE book_member SET key = 'adam' WHERE key = 'ada'",
     '"adam" has an account that the access log does not give.'),
]  # fmt: skip


@pytest.mark.parametrize(("statement", "sentence"), ACCOUNTS)
def test_an_account_changed_past_the_program_is_found(job, statement, sentence):
    get_user_model().objects.create_user(username="mallory")
    assert sentence not in verifying.access_checked().changed
    sql(statement)
    assert sentence in verifying.access_checked().changed


def test_an_account_of_nobody_is_found(job):
    get_user_model().objects.create_user(username="mallory")
    assert verifying.access_checked().changed == [
        "1 account(s) belong to nobody of the access log."
    ]


def test_a_list_of_people_that_was_not_filed_so_is_found(unguarded):
    last = models.AccessLine.objects.filter(what="people_filed").last()
    sql("UPDATE book_chainend SET seq = %s, hash = %s", last.seq - 1, last.prev)
    sql("DELETE FROM book_accessline WHERE seq = %s", last.seq)
    shutil.rmtree(ends.folder())
    assert verifying.access_checked().changed == [
        "case: Its people and papers, or the day it came, are not those of the access log."
    ]


def test_a_changed_line_and_a_cut_tail_are_found(unguarded):
    number = models.AccessLine.objects.count()
    sql("DELETE FROM book_accessline WHERE seq = %s", number)
    assert verifying.access_checked().changed == [
        f"The access log ends at line {number - 1}, and was kept to line {number}."
    ]
    sql("UPDATE book_accessline SET said = REPLACE(said, 'false', 'true') WHERE seq = 1")
    assert verifying.access_checked().changed == [
        "The access log, line 1: The line has been changed since it was kept (hash)."
    ]


def test_bytes_that_are_no_text_are_told(unguarded):
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL keeps nothing but text in a column of text.")
    sql("UPDATE book_accessline SET said = CAST(x'ff7b' AS TEXT) WHERE seq = 2")
    assert verifying.access_checked().changed == [
        "The access log, line 2: The line is no longer text that can be read."
    ]


@pytest.mark.parametrize(
    "statement", ["UPDATE book_accessline SET said = ''", "DELETE FROM book_accessline"]
)
def test_the_database_refuses_to_change_a_line(job, statement):
    with (
        pytest.raises(IntegrityError, match=r"A line of the access log is never changed\."),
        transaction.atomic(),
    ):
        sql(statement)


def test_a_store_from_before_the_log_begins_one(unguarded):
    """What an upgrade writes of the accounts and lists it finds is what this program would."""
    give_pins("ada")
    sql("DELETE FROM book_accessline")
    sql("DELETE FROM book_chainend")
    shutil.rmtree(ends.folder())
    begins = importlib.import_module("rehang.book.migrations.0005_access_log_begins")
    begins.begin(apps, connection.schema_editor())
    assert {what for what, _, _ in told()} == {"found", "people_filed"}
    assert verifying.access_checked().changed == []
    with transaction.atomic():
        accesslog.write(what="signed_in", about="ada", by="ada", at=KEPT)
    assert verifying.access_checked().changed == []
