"""The tables.

The entry table is the record, and the access log that of who may sign in as whom. Every other table
but the people's passwords and PINs is worked out from the entries and can be written again by
``services.rebuild``. Only services and queries import this.
"""

from __future__ import annotations

import hashlib

from django.conf import settings
from django.contrib.sessions.base_session import AbstractBaseSession
from django.db import models

__all__ = [
    "AccessLine", "ChainEnd", "Entry", "Job", "JobFile", "Member", "Reading", "Visit", "entry_key",
]  # fmt: skip

# A book of more than 16 million entries is no engine's.
_SEQ_BITS = 24


def entry_key(job_id: int, seq: int) -> int:
    """The primary key of an entry: job and place in its chain in one number.

    The rows of one book so lie side by side on disk, and ``verify`` can tell a changed key.
    """
    return (job_id << _SEQ_BITS) | seq


class Member(models.Model):
    """Someone who signs in. ``key`` is the person's key in the people files of the jobs.

    ``pin`` is hashed like a password, and so is ``code``, with which they set a PIN or password of
    their own once, until ``code_until``. ``pin_shown`` is the PIN of a person of a demo, for the
    pages to say; nobody else has one, and it goes when they set their own.
    """

    user = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="member"
    )
    key = models.CharField(max_length=60, unique=True)
    name = models.CharField(max_length=200)
    pin = models.CharField(max_length=128, blank=True, default="")
    pin_shown = models.CharField(max_length=6, blank=True, default="")
    code = models.CharField(max_length=128, blank=True, default="")
    code_until = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return self.name


class Visit(AbstractBaseSession):
    """One session, and whose it is; of who is not signed in, nobody's."""

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, null=True)
    device = models.CharField(max_length=60, blank=True, default="")
    address = models.CharField(max_length=45, blank=True, default="")
    began_at = models.DateTimeField(null=True)
    seen_at = models.DateTimeField(null=True)

    @classmethod
    def get_session_store_class(cls) -> type:
        from rehang.book.visits import SessionStore

        return SessionStore

    @property
    def public_key(self) -> str:
        """What a page may name this visit by: who reads it cannot take the visit over."""
        return hashlib.sha256(str(self.session_key).encode()).hexdigest()[:16]


class Job(models.Model):
    """One job's place in the store: its name, the head of its chain, and caches of its book.

    ``is_shop`` marks the one that is no job: the book of the shop itself.
    """

    slug = models.SlugField(max_length=60, unique=True)
    title = models.CharField(max_length=300)
    put_away = models.BooleanField(default=False)
    is_shop = models.BooleanField(default=False)
    head_seq = models.PositiveIntegerField(default=0)
    head_hash = models.CharField(max_length=64)
    created_at = models.DateTimeField()
    people = models.ManyToManyField(Member, related_name="jobs")

    def __str__(self) -> str:
        return self.slug


class JobFile(models.Model):
    """One revision of a file of a job, as its ``filed`` entry carries it. Only ever added to."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="files")
    name = models.CharField(max_length=40)
    revision = models.PositiveIntegerField()
    text = models.TextField()
    sha256 = models.CharField(max_length=64)
    by = models.CharField(max_length=60)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["job", "name", "revision"],
                name="book_file_one_text_per_revision",
                violation_error_message="This revision of the file is on record already.",
            ),
            models.CheckConstraint(
                condition=models.Q(revision__gte=1), name="book_file_revisions_count_from_1"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} revision {self.revision}"


class Entry(models.Model):
    """One entry of a book. Triggers of the database refuse to change it or take it away.

    ``body`` is the person's content in its canonical spelling. Times stay as they were
    written, offset and all, because the chain is over those very characters.
    """

    id = models.BigIntegerField(primary_key=True)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="entries", db_index=False)
    seq = models.PositiveIntegerField()
    entry_id = models.CharField(max_length=80)
    kind = models.CharField(max_length=40)
    item = models.CharField(max_length=120)
    at = models.CharField(max_length=40)
    kept_at = models.CharField(max_length=40)
    by = models.CharField(max_length=60)
    body = models.TextField()
    prev = models.CharField(max_length=64)
    hash = models.CharField(max_length=64)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["job", "seq"],
                name="book_entry_one_entry_per_place",
                violation_error_message="There is an entry at this place of the book already.",
            ),
            models.UniqueConstraint(
                fields=["job", "entry_id"],
                name="book_entry_id_stands_once",
                violation_error_message="There is an entry with this id in the book already.",
            ),
            models.CheckConstraint(
                condition=models.Q(seq__gte=1), name="book_entry_places_count_from_1"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.seq} {self.kind}"


class Reading(models.Model):
    """Index of the readings of all books, kept in the same transaction as their entries.

    ``value`` is in base steps of the quantity of the check, for sorting; what was written
    stays in the entry.
    """

    entry = models.OneToOneField(
        Entry, on_delete=models.PROTECT, primary_key=True, related_name="reading"
    )
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="readings")
    item = models.CharField(max_length=120)
    name = models.CharField(max_length=120)
    # Not "check": every model has a method of that name.
    check_name = models.CharField(max_length=60)
    place = models.CharField(max_length=20)
    at = models.DateTimeField()
    value = models.BigIntegerField(null=True)
    state = models.CharField(max_length=20)
    word = models.CharField(max_length=60)
    meter = models.CharField(max_length=60)
    struck = models.BooleanField(default=False)

    class Meta:
        indexes = [
            models.Index(fields=["item", "check_name", "at"], name="book_reading_of_item"),
            models.Index(fields=["meter", "at"], name="book_reading_on_meter"),
        ]

    def __str__(self) -> str:
        return f"{self.item} {self.check_name}"


class ChainEnd(models.Model):
    """Where a chain that is no job's ends, held outside it: a cut tail shows."""

    name = models.CharField(max_length=20, primary_key=True)
    seq = models.PositiveBigIntegerField(default=0)
    hash = models.CharField(max_length=64)

    def __str__(self) -> str:
        return f"{self.name} {self.seq}"


class AccessLine(models.Model):
    """One line of the access log (:mod:`rehang.book.accesslog`). Only ever added to.

    ``said`` is canonical JSON, and ``at`` stays as it was written: the chain is over the characters.
    """

    seq = models.PositiveBigIntegerField(primary_key=True)
    at = models.CharField(max_length=40)
    by = models.CharField(max_length=60)
    what = models.CharField(max_length=40)
    about = models.CharField(max_length=150)
    said = models.TextField()
    prev = models.CharField(max_length=64)
    hash = models.CharField(max_length=64)

    def __str__(self) -> str:
        return f"{self.seq} {self.what} {self.about}"
