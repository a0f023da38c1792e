"""Holding what is stored against the chain, down to the byte.

Columns are read as the bytes that lie on the disk, not through the models: a model would mend
an odd spelling of a number or a time on the way, and stop at a byte that is no text.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

from django.contrib.auth import get_user_model
from django.db import DatabaseError, connection
from django.db.models import Field, Model

from rehang.book import accesslog, models, photos, queries
from rehang.sheets.folder import PEOPLE, texts_at
from rehang.trade.entries import GENESIS, Entry, canonical, entry_from, parse_when, seal_hash
from rehang.trade.errors import BadInput, Refused
from rehang.trade.verdict import fold_job
from rehang.trade.wording import listed

__all__ = ["access_problems", "entry_problems", "job_problems", "store_problems"]

_ENTRY = ("id", "job", "seq", "entry_id", "kind", "item", "at", "kept_at", "by", "body", "prev", "hash")  # fmt: skip
_FILE = ("job", "name", "revision", "text", "sha256", "by", "at")
_READING = ("entry", "job", "item", "name", "check_name", "place", "at", "value", "state", "word", "meter", "struck")  # fmt: skip
_LINE = ("seq", "at", "by", "what", "about", "said", "prev", "hash")
_JOB = ("slug", "title", "put_away", "head_seq", "head_hash")

Row = tuple[object, ...]


def job_problems(job: models.Job) -> list[str]:
    """Everything about one job's record that is not as it was kept, a sentence each."""
    entries, problems = _read_chain(job)
    if problems:
        # What is worked out from a changed book says nothing more.
        return problems
    try:
        facts = queries.facts_of(texts_at(entries), job.slug)
        folded = fold_job(facts, entries)
        index = queries.index_rows(job.pk, folded, facts)
    except Refused as refusal:
        return [f"{job.slug}: The book cannot be read by its own sheets. {refusal}"]
    filed = [
        models.JobFile(
            job=job,
            name=f.name,
            revision=f.revision,
            text=f.text,
            sha256=f.sha256,
            by=f.by,
            at=f.at,
        )
        for f in queries.filed_in(entries)
    ]
    for one in filed:
        if hashlib.sha256(one.text.encode()).hexdigest() != one.sha256:
            problems.append(f"{job.slug}: {one} does not have the sum that was filed with it.")
    problems += photos.problems(entries, job.slug)
    head = entries[-1] if entries else None
    wanted = models.Job(
        pk=job.pk,
        slug=facts.job,
        title=facts.title,
        put_away=folded.put_away,
        head_seq=head.seq if head else 0,
        head_hash=head.hash if head else GENESIS,
    )
    problems += _differences(job, "Columns of the job", models.Job, _JOB, "id", [wanted])
    problems += _differences(job, "Files on record", models.JobFile, _FILE, "job_id", filed)
    problems += _differences(
        job, "Rows of the readings index", models.Reading, _READING, "job_id", index
    )
    members = set(models.Member.objects.filter(jobs=job).values_list("key", "name"))
    if members != {(one.key, one.name) for one in facts.people.values()}:
        problems.append(
            f"{job.slug}: The people of the job are not those of people.toml. Run: rehang rebuild"
        )
    return problems


def entry_problems(job: models.Job) -> list[str]:
    """The same for the entries and their chain alone."""
    return _read_chain(job)[1]


def store_problems() -> list[str]:
    """Everything in the store that is not as it was kept."""
    problems = []
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA integrity_check")
            found = [str(row[0]) for row in cursor.fetchall()]
        if found != ["ok"]:
            problems.append(
                f"The database file is damaged: {found[0]}. Go back to the last good copy of it."
            )
    for job in queries.jobs(put_away=None):
        try:
            problems += job_problems(job)
        except DatabaseError as problem:
            problems.append(f"{job.slug}: The database cannot read the record: {problem}.")
    problems += access_problems()
    for model, name in (
        (models.Entry, "entry"),
        (models.Reading, "reading"),
        (models.JobFile, "file"),
    ):
        table = connection.ops.quote_name(model._meta.db_table)
        jobs = connection.ops.quote_name(models.Job._meta.db_table)
        with connection.cursor() as cursor:
            # Table names only, from the models themselves.
            cursor.execute(
                f"SELECT COUNT(*) FROM {table} WHERE job_id NOT IN (SELECT id FROM {jobs})"  # noqa: S608
            )
            number = cursor.fetchone()[0]
        if number:
            problems.append(f"{number:,} row(s) of kind {name} belong to no job.")
    return problems


def access_problems() -> list[str]:
    """Everything about who may sign in, and as whom, that is not as the access log gives it."""
    problems: list[str] = []
    lines: list[models.AccessLine] = []
    prev = GENESIS
    for seq, row in enumerate(_stored(models.AccessLine, _LINE), start=1):
        place = f"The access log, line {seq}"
        try:
            held = {
                name: one.decode() if isinstance(one, bytes) else one
                for name, one in zip(_LINE, row, strict=True)
            }
            line = models.AccessLine(**held)
            accesslog.given_by([line])
            true_hash = accesslog.line_hash(line)
        except (ValueError, TypeError, KeyError, AttributeError):
            problems.append(f"{place}: The line is no longer text that can be read.")
            prev = _text(row[-1])
            continue
        should = {"seq": seq, "prev": prev, "hash": true_hash}
        odd = [name for name, value in should.items() if held[name] != value]
        if odd:
            problems.append(
                f"{place}: The line has been changed since it was kept ({', '.join(odd)})."
            )
        prev = line.hash
        lines.append(line)
    if problems:
        return problems
    end = (_stored(models.ChainEnd, ("seq", "hash"), "name", accesslog.CHAIN) or [(0, b"")])[0]
    if end != (len(lines), prev.encode()):
        return [f"The access log ends at line {len(lines)}, and was kept to line {_text(end[0])}."]
    given = accesslog.given_by(lines)
    held_by = {}
    for member in models.Member.objects.select_related("user"):
        held_by[member.key] = member
        problems += _account_differences(member, given.accounts.get(member.key, {}))
    problems += [
        f'"{key}" has an account by the access log and has none here.'
        for key in sorted(set(given.accounts) - set(held_by))
    ]
    loose = get_user_model().objects.filter(member=None).count()
    if loose:
        problems.append(f"{loose:,} account(s) belong to nobody of the access log.")
    for job in queries.jobs(put_away=None):
        filed = [one.sha256 for one in queries.filed_in(queries.entries(job)) if one.name == PEOPLE]
        if filed and given.people.get(job.slug) != filed[-1]:
            problems.append(
                f"{job.slug}: The people and papers of the book are not those that the access log "
                "says were filed."
            )
    return problems


_SAID_OF = {
    "name": "the name",
    "account": "the account behind the name",
    "login": "the sign-in name",
    "active": "whether the account is open",
    "staff": "the mark of staff",
    "superuser": "the mark of a superuser",
    "password": "the password",
    "code": "the one-time code",
    "pin": "the PIN",
}


def _account_differences(member: models.Member, given: Mapping[str, Any]) -> Iterator[str]:
    held = accesslog.account_of(member)
    odd = [_SAID_OF[name] for name in accesslog.ACCOUNT if held[name] != given.get(name)]
    if not given:
        yield f'"{member.key}" has an account that the access log does not give.'
    elif odd:
        yield (
            f'"{member.key}": {listed(odd)} '
            f"{'is' if len(odd) == 1 else 'are'} not what the access log gives."
        )


def _read_chain(job: models.Job) -> tuple[list[Entry], list[str]]:
    """The entries of a job as far as they can be read, and what is wrong with them."""
    problems: list[str] = []
    entries: list[Entry] = []
    prev = GENESIS
    rows = _stored(models.Entry, _ENTRY, "job_id", job.pk)
    for seq, row in enumerate(rows, start=1):
        place = f"{job.slug}, entry {seq}"
        stored = dict(zip(_ENTRY, row, strict=True))
        try:
            entry, kept = _entry_in(stored, place)
        except BadInput as refusal:
            problems.append(str(refusal))
            prev = _text(stored["hash"])
            continue
        should: dict[str, object] = {
            "id": models.entry_key(job.pk, seq),
            "job": job.pk,
            "seq": seq,
            "entry_id": entry.id.encode(),
            "kind": entry.kind.encode(),
            "item": entry.item.encode(),
            "at": str(entry.content()["at"]).encode(),
            "kept_at": kept.isoformat().encode(),
            "by": entry.by.encode(),
            "body": canonical(entry.content()).encode(),
            "prev": prev.encode(),
            "hash": seal_hash(entry, seq=seq, kept=kept, prev=prev).encode(),
        }
        odd = [name for name, value in should.items() if stored[name] != value]
        if odd:
            problems.append(
                f"{place}: The entry has been changed since it was kept ({', '.join(odd)})."
            )
        prev = _text(stored["hash"])
        entries.append(_sealed(entry, seq, kept, _text(stored["prev"]), prev))
    if not problems:
        head = _stored(models.Job, ("head_seq", "head_hash"), "id", job.pk)[0]
        if head != (len(entries), prev.encode()):
            problems.append(
                f"{job.slug}: The book ends at entry {len(entries)}, "
                f"and the job says it ends at {_text(head[0])}."
            )
    return entries, problems


def _entry_in(stored: dict[str, object], place: str) -> tuple[Entry, datetime]:
    try:
        body, kept_at = stored["body"], stored["kept_at"]
        if not (isinstance(body, bytes) and isinstance(kept_at, bytes)):
            raise ValueError
        raw, kept_text = json.loads(body.decode("utf-8")), kept_at.decode("utf-8")
    except ValueError:
        raise BadInput("The entry is no longer text that can be read.", place) from None
    if not isinstance(raw, dict):
        raise BadInput("The entry has been changed since it was kept (body).", place)
    if set(raw) & {"seq", "kept", "prev", "hash", "v"}:
        raise BadInput("The entry has been changed since it was kept (body).", place)
    return entry_from(raw, place), parse_when(kept_text, "kept", place)


def _sealed(entry: Entry, seq: int, kept: datetime, prev: str, hash_: str) -> Entry:
    return Entry(entry.id, entry.kind, entry.at, entry.by, entry.data, seq, kept, prev, hash_)


def _differences(
    job: models.Job, what: str, model: type[Model], names: Sequence[str], of: str,
    wanted: Sequence[Model],
) -> Iterator[str]:  # fmt: skip
    """One sentence when the rows of a table are not those that the book calls for."""
    should = Counter(
        tuple(_plain(field.get_db_prep_save(getattr(one, field.attname), connection))
              for field in _fields(model, names))
        for one in wanted
    )  # fmt: skip
    stored = Counter(_stored(model, names, of, job.pk))
    odd = max((stored - should).total(), (should - stored).total())
    if odd:
        # A filed text is never written over, so a changed one cannot be put right in place.
        mend = (
            "The texts in the book are whole; go back to a good copy of the database."
            if model is models.JobFile
            else "Run: rehang rebuild"
        )
        yield (
            f"{job.slug}: {what} differ from what the book says "
            f"({odd:,} of {should.total():,} rows). {mend}"
        )


def _fields(model: type[Model], names: Sequence[str]) -> list[Field[Any, Any]]:
    found = [model._meta.get_field(name) for name in names]
    return [field for field in found if isinstance(field, Field)]


def _stored(
    model: type[Model], names: Sequence[str], of: str = "", value: int | str = ""
) -> list[Row]:
    """Rows as they lie in the table: whole numbers, bytes of text, or None; all, or ``of`` a value."""

    def quote(name: str | None) -> str:
        return connection.ops.quote_name(str(name))

    table, fields = quote(model._meta.db_table), _fields(model, names)
    key = quote(model._meta.pk.column)
    sqlite = connection.vendor == "sqlite"
    columns = ", ".join(
        f"typeof({column}), CAST({column} AS BLOB)" if sqlite else column
        for column in (quote(field.column) for field in fields)
    )
    with connection.cursor() as cursor:
        # Names of tables and columns only, from the models themselves.
        where = f"WHERE {quote(of)} = %s" if of else ""
        cursor.execute(
            f"SELECT {columns} FROM {table} {where} ORDER BY {key}",  # noqa: S608
            [value] if of else [],
        )
        rows = cursor.fetchall()
    if not sqlite:
        return [tuple(_plain(one) for one in row) for row in rows]
    return [tuple(_of_sqlite(row[n], row[n + 1]) for n in range(0, len(row), 2)) for row in rows]


def _of_sqlite(kind: str, raw: bytes | None) -> object:
    if kind == "null" or raw is None:
        return None
    if kind == "integer":
        return int(raw)
    # A number that has become text, or text that has become a blob, is not what was kept.
    return bytes(raw) if kind == "text" else (kind, bytes(raw))


def _plain(value: object) -> object:
    """A value as ``_stored`` gives it."""
    if isinstance(value, bool):
        return int(value)
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat().encode()
    return value.encode() if isinstance(value, str) else value


def _text(value: object) -> str:
    """For a sentence, or to go on along a chain that has been found changed."""
    return value.decode("utf-8", "replace") if isinstance(value, bytes) else str(value)
