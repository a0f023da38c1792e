"""Holding what is stored against the chain, down to the byte.

Columns are read as the bytes that lie on the disk, not through the models: a model would mend
an odd spelling of a number or a time on the way, and stop at a byte that is no text.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from types import MappingProxyType
from typing import Any

from django.contrib.auth import get_user_model
from django.db import DatabaseError, connection
from django.db.models import Field, Model

from rehang.book import accesslog, checks, ends, models, photos, queries
from rehang.sheets.folder import PEOPLE, texts_at
from rehang.sheets.whole import Checked
from rehang.trade.terms.chain import GENESIS, seal_hash
from rehang.trade.terms.ends import End, end_problem
from rehang.trade.terms.entries import Entry, canonical, entry_from, parse_when, read_json
from rehang.trade.terms.errors import BadInput, Refused
from rehang.trade.terms.wording import listed
from rehang.trade.verdicts.folding import fold_job

__all__ = ["access_checked", "as_it_stands", "entry_problems", "job_checked", "store_checked"]

_ENTRY = ("id", "job", "seq", "entry_id", "kind", "item", "at", "kept_at", "by", "body", "prev", "hash")  # fmt: skip
_FILE = ("job", "name", "revision", "text", "sha256", "by", "at")
_READING = ("entry", "job", "item", "name", "check_name", "place", "at", "value", "state", "word", "meter", "struck")  # fmt: skip
_LINE = ("seq", "at", "by", "what", "about", "said", "prev", "hash")
_JOB = ("slug", "title", "put_away", "is_shop", "head_seq", "head_hash")

Row = tuple[object, ...]


def job_checked(job: models.Job, *outside: tuple[str, End | None]) -> Checked:
    """One job's record held against its chain, and all that is worked out from it against that.

    ``outside`` are ends of its book that were kept outside it, each with the place; the one beside
    the database when left out.
    """
    outside = outside or (_beside(job.slug),)
    entries, problems = _read_chain(job)
    number = len(entries)
    found = Checked([f"{job.slug}: {number:,} entries against their chain"], problems)
    if problems:
        # What is worked out from a changed book says nothing more.
        return found
    _ends_checked(job, entries, found, outside)
    problems = _worked_out_problems(job, entries)
    found.changed += problems
    found.looked.append(
        f"{job.slug}: its row, files, photos, people and readings index against the book"
    )
    return found


def _ends_checked(
    job: models.Job,
    entries: Sequence[Entry],
    found: Checked,
    outside: Sequence[tuple[str, End | None]],
) -> None:
    """The end of a book held against those that were kept outside it."""
    for where, end in outside:
        if end is None:
            found.untold.append(
                f"{job.slug}: Whether entries were cut off the end: {where} is not there or cannot "
                "be read. It is written with the next entry."
            )
        else:
            problem = end_problem(entries, end, where)
            found.changed += [f"{job.slug}: {problem}"] if problem else []
            found.looked.append(f"{job.slug}: its book up to entry {end.seq:,} against {where}")


def _beside(name: str) -> tuple[str, End | None]:
    return str(ends.folder() / name), ends.kept(name)


def _worked_out_problems(job: models.Job, entries: Sequence[Entry]) -> list[str]:
    problems: list[str] = []
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
        is_shop=facts.is_shop,
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


def store_checked(
    only: str = "", *, against: Mapping[str, End] = MappingProxyType({}), said_by: str = ""
) -> Checked:
    """The store, or one job of it with what decides who may sign in, held against what was kept.

    ``against`` are ends of books that were kept elsewhere, by job, ``said_by`` where.

    Raises
    ------
    BadInput
        There is no job of that name.
    """
    # Before anything is read of the database: the files lag behind it and never lead.
    beside = {name: _beside(name) for name in (*ends.names(), ends.ACCESS)}
    found = Checked()
    with _told(found, "The database"), as_it_stands():
        found.add(_store_checked(only, against, said_by, beside))
    return found


def _store_checked(
    only: str,
    against: Mapping[str, End],
    said_by: str,
    beside: Mapping[str, tuple[str, End | None]],
) -> Checked:
    found = Checked()
    with _told(found, "The database"):
        _file_checked(found)
        for table in checks.GUARDED:
            found.changed += checks.trigger_problems(connection, table)
        found.looked.append(f"the triggers of {len(checks.GUARDED)} tables against those made")
    chosen = _stored(models.Job, ("id",), *(("slug", only) if only else ()))
    if only and not chosen:
        queries.book(only)
    seen = set()
    for (key,) in chosen:
        with _told(found, f"Job {_text(key)}"):
            job = models.Job.objects.get(pk=str(key))
            seen.add(job.slug)
            outside = [beside.get(job.slug) or (str(ends.folder() / job.slug), None)]
            if job.slug in against:
                outside.append((said_by, against[job.slug]))
            found.add(job_checked(job, *outside))
    with _told(found, "The access log"):
        found.add(access_checked(*beside[ends.ACCESS]))
    if not chosen:
        found.untold.append("There is no job in the book.")
    if not only:
        with _told(found, "The database"):
            found.changed += _loose_rows()
        for name in sorted({*beside} - seen - {ends.ACCESS}):
            found.changed.append(f"{name}: {beside[name][0]} tells of a job that is not here.")
    found.changed += [
        f"{name}: {said_by} tells of a job that is not here."
        for name in against
        if name not in seen and name and not only
    ]
    return found


@contextmanager
def as_it_stands() -> Iterator[None]:
    """All that is read inside is of one moment, while others go on writing."""
    if connection.in_atomic_block:
        yield
        return
    how = "" if connection.vendor == "sqlite" else " ISOLATION LEVEL REPEATABLE READ READ ONLY"
    with connection.cursor() as cursor:
        # Not atomic(): on SQLite that takes the lock of a writer.
        cursor.execute(f"BEGIN{how}")
        try:
            yield
        finally:
            cursor.execute("ROLLBACK")


@contextmanager
def _told(found: Checked, place: str) -> Iterator[None]:
    """What the database cannot give is told and not stumbled over."""
    try:
        yield
    except DatabaseError as problem:
        said = f"{place}: The database cannot read it: {str(problem).splitlines()[0]}."
        damaged = any(word in said for word in ("malformed", "decode", "not a database"))
        (found.changed if damaged else found.untold).append(said)
    except (ValueError, TypeError, AttributeError, OverflowError) as problem:
        # The driver's and Django's converters stop so at what a column cannot hold.
        found.changed.append(f"{place}: A column holds what is no value of it: {problem}.")


def _file_checked(found: Checked) -> None:
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA integrity_check")
        told = [str(row[0]) for row in cursor.fetchall()]
    if told != ["ok"]:
        found.changed.append(
            f"The database file is damaged: {told[0]}. Go back to the last good copy of it."
        )
    found.looked.append("the database file against SQLite's own rules")


def _loose_rows() -> list[str]:
    problems = []
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


def access_checked(here: str = "", beside: End | None = None) -> Checked:
    """Who may sign in, and as whom, held against the access log, and that against its chain.

    ``beside`` is the end kept beside the database and ``here`` its place; read there if left out.
    """
    if not here:
        here, beside = _beside(ends.ACCESS)
    lines, problems = _read_log()
    found = Checked([f"the access log: {len(lines):,} lines against their chain"], problems)
    if problems:
        return found
    if beside is None and lines:
        found.untold.append(
            f"The access log: Whether lines were cut off its end: {here} is not there or cannot be "
            "read. It is written with the next line."
        )
    elif beside is not None and (
        beside.seq > len(lines) or lines[beside.seq - 1].hash != beside.hash
    ):
        found.changed.append(
            f"The access log ends at line {len(lines)}, and {here} says that it had another line "
            f"{beside.seq}: lines were cut off, or an older copy was put back."
        )
    given = accesslog.given_by(lines)
    held = {one.key: one for one in models.Member.objects.select_related("user")}
    for key, member in held.items():
        found.changed += _account_differences(member, given.accounts.get(key, {}))
    found.changed += [
        f'"{key}" has an account by the access log and has none here.'
        for key in sorted(set(given.accounts) - set(held))
    ]
    loose = get_user_model().objects.filter(member=None).count()
    if loose:
        found.changed.append(f"{loose:,} account(s) belong to nobody of the access log.")
    found.looked.append(f"{len(held):,} accounts against the access log")
    for job in models.Job.objects.all():
        files = models.JobFile.objects.filter(job=job, name=PEOPLE).order_by("-revision")
        filed = files.values_list("sha256", flat=True).first()
        if given.people.get(job.slug) != (filed, job.created_at.astimezone(UTC).isoformat()):
            found.changed.append(
                f"{job.slug}: Its people and papers, or the day it came, are not those of the access "
                "log."
            )
    return found


def _read_log() -> tuple[list[models.AccessLine], list[str]]:
    """The lines of the access log, and what is wrong with their chain."""
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
    end = (
        _stored(models.ChainEnd, ("seq", "hash"), "name", ends.ACCESS) or [(0, GENESIS.encode())]
    )[0]
    if not problems and end != (len(lines), prev.encode()):
        problems.append(
            f"The access log ends at line {len(lines)}, and was kept to line {_text(end[0])}."
        )
    return lines, problems


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
        raw, kept_text = read_json(body.decode("utf-8"), place), kept_at.decode("utf-8")
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
