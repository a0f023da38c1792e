"""``rehang import`` and ``rehang export``: readings, meters and limits as CSV or XLSX."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from rehang.decode.apart import read_table
from rehang.decode.tables import MOST_BYTES, write_table
from rehang.sheets.facts_table import (
    FACT_TABLES,
    FactsPlan,
    facts_table,
    guess_facts,
    kind_of_table,
    plan_facts,
)
from rehang.sheets.folder import (
    BOOK,
    JobFolder,
    check_facts,
    parse_files,
    read_folder,
    write_folder,
)
from rehang.sheets.readings_table import (
    Column,
    Plan,
    Settings,
    guess,
    plan,
    readings_table,
    target_text,
)
from rehang.trade.doors.rules import check_can_write
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.job.judging import JudgedJob
from rehang.trade.terms.chain import GENESIS, seal
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.errors import BadInput, NotAllowed

__all__ = ["KINDS", "Asked", "export_table", "import_table"]

KINDS = ("readings", "meters", "limits")

Store = Callable[[], tuple[Any, Any]]


@dataclass(frozen=True, slots=True)
class Asked:
    """What was said on the command line beside the job and the file."""

    what: str = ""
    maps: Sequence[str] = ()
    on: Sequence[str] = ()
    psi: int | None = None
    read_at: str = ""
    by: str = ""
    bring_in: bool = False
    keep_unlikely: bool = False
    yes: bool = False
    dry_run: bool = False


@dataclass(frozen=True, slots=True)
class _Job:
    """A job, in a folder or in the book, and how something is kept in it."""

    name: str
    facts: JobFacts
    files: Mapping[str, str]
    book: tuple[Entry, ...]
    keep_entries: Callable[[Sequence[Entry], str, datetime], None]
    keep_text: Callable[[str, str, str, datetime], None]


def import_table(job: str, file: Path, asked: Asked, *, now: datetime, store: Store) -> int:
    """Bring a table in: show what its columns are taken for, then keep all of it or nothing."""
    opened = _open(job, store)
    local = now.astimezone(ZoneInfo(opened.facts.timezone_name)).replace(microsecond=0)
    by = asked.by or next(iter(opened.facts.people))
    if by not in opened.facts.people:
        raise BadInput(
            f'"{by}" is not in the list of people. Say who brings the table in: '
            f"{', '.join(opened.facts.people)}."
        )
    check_can_write(opened.facts.people[by])
    table = read_table(file.name, _bytes(file))
    what = asked.what or kind_of_table(table)
    if what not in KINDS:
        raise BadInput(f'"{what}" is not a kind of table. Write {", ".join(KINDS)}.')
    said = dict(_pair(one, "--map", "Ohms=resistance") for one in asked.maps)
    made: Plan | FactsPlan
    if what == "readings":
        columns = guess(table, opened.facts, said)
        _show_columns(file.name, what, columns)
        settings = Settings(
            by=by,
            at=local,
            read_at=_read_at(asked.read_at, opened.facts),
            meters=dict(_meter(one) for one in asked.on),
            at_psi=asked.psi,
            bring_in=asked.bring_in,
            keep_unlikely=asked.keep_unlikely,
        )
        made = plan(table, columns, opened.facts, opened.book, settings)
    else:
        columns = guess_facts(what, table, said)
        _show_columns(file.name, what, columns)
        text = opened.files[FACT_TABLES[what].file]
        torques = {one.title: one.limit for one in opened.facts.torque_groups.values()}
        made = plan_facts(
            what,
            table,
            columns,
            text,
            opened.facts.every_sheet,
            by=by,
            on=local.date(),
            torques=torques,
        )
    for notice in made.notices:
        print(notice, file=sys.stderr)
    for row in made.rows:
        print(
            f"{row.place}: {row.standing}: {row.says}" + (f". {row.reason}" if row.reason else "")
        )
    if made.bad:
        raise NotAllowed(
            f"{file.name}: {len(made.bad)} of {len(made.rows)} rows cannot be kept, so nothing is. "
            "Mend them and import it again."
        )
    if not made.can_be_kept:
        print(f"Nothing in {file.name} is new to {opened.name}.")
        return 0
    guessed = [column.heading for column in columns if column.how == "guessed"]
    if asked.dry_run:
        print(f"{_count(made, what)} would be kept in {opened.name}. Nothing has been.")
        return 0
    if guessed and not asked.yes:
        raise NotAllowed(
            f"What {_list(guessed)} {'holds' if len(guessed) == 1 else 'hold'} is guessed. If the "
            "list above is right, add --yes; if not, say it with --map. Nothing has been kept."
        )
    if isinstance(made, Plan):
        opened.keep_entries(made.entries, by, local)
    else:
        opened.keep_text(FACT_TABLES[what].file, made.text, by, local)
    print(f"{_count(made, what)} are in {opened.name}.")
    return 0


def export_table(
    job: str,
    what: str,
    file: Path,
    *,
    judged_folder: Callable[[JobFolder], JudgedJob],
    store: Store,
) -> int:
    """Write readings, meters or limits to a CSV or XLSX file."""
    if what not in KINDS:
        raise BadInput(f'"{what}" is not a kind of table. Write {", ".join(KINDS)}.')
    format_ = file.suffix.lower().removeprefix(".")
    if format_ not in ("csv", "xlsx"):
        raise BadInput(f'The file is to be named .csv or .xlsx, not "{file.name}".')
    if Path(job).is_dir():
        folder = read_folder(Path(job))
        texts = folder.files
        judged = judged_folder(folder)
    else:
        _, queries = store()
        held = queries.job(job)
        texts, judged = queries.files(held), queries.judged(held)
    if what == "readings":
        headings, rows = readings_table(judged)
    else:
        headings, rows = facts_table(what, texts[FACT_TABLES[what].file])
    file.write_bytes(write_table(format_, headings, rows, what))
    print(f"{file}: {len(rows)} rows of {what}.")
    return 0


def _open(job: str, store: Store) -> _Job:
    if Path(job).is_dir():
        return _open_folder(Path(job))
    services, queries = store()
    held = queries.job(job)

    def keep_entries(new: Sequence[Entry], by: str, at: datetime) -> None:
        # As a folder is loaded: a table may hold the readings of several people.
        files, book = queries.as_folder(held)
        folder = JobFolder(held.slug, files, (*book, *new), parse_files(files, held.slug), {}, ())
        services.load_folder(folder=folder, by=by, at=at)

    def keep_text(name: str, text: str, by: str, at: datetime) -> None:
        services.file_text(job=held, name=name, text=text, by=by, at=at)

    return _Job(
        held.slug,
        queries.facts(held),
        queries.files(held),
        queries.entries(held),
        keep_entries,
        keep_text,
    )


def _open_folder(path: Path) -> _Job:
    folder = read_folder(path)
    # What stands on the pencil sheet stays there; it is not written into the book by the way.
    book = [e for e in folder.entries if folder.where.get(e.id, BOOK).startswith(BOOK)]

    def keep_entries(new: Sequence[Entry], by: str, at: datetime) -> None:
        write_folder(path, folder.files, [*book, *_sealed_after(book, new, at)])

    def keep_text(name: str, text: str, by: str, at: datetime) -> None:
        files = {**folder.files, name: text}
        check_facts(parse_files(files, folder.name), [name])
        write_folder(path, files, book)

    return _Job(path.name, folder.facts, folder.files, folder.entries, keep_entries, keep_text)


def _sealed_after(book: Sequence[Entry], new: Sequence[Entry], at: datetime) -> list[Entry]:
    """New entries sealed where the book is; left to ``rehang seal`` where it is typed by hand."""
    if not all(entry.is_sealed for entry in book):
        return list(new)
    prev, seq = (book[-1].hash, book[-1].seq) if book else (GENESIS, 0)
    done = []
    for entry in new:
        sealed = seal(entry, seq=seq + 1, kept=at, prev=prev)
        prev, seq = sealed.hash, sealed.seq
        done.append(sealed)
    return done


def _bytes(file: Path) -> bytes:
    try:
        with file.open("rb") as opened:
            return opened.read(MOST_BYTES + 1)
    except OSError as problem:
        raise BadInput(f"{file} cannot be read: {problem.strerror}.") from None


def _pair(text: str, option: str, example: str) -> tuple[str, str]:
    # The last one: a heading may hold an equals sign, what it is taken for does not.
    name, equals, value = text.rpartition("=")
    if not equals or not name.strip():
        raise BadInput(f'{option} "{text}" has no "=" in it. Write it as in {option} {example}.')
    return " ".join(name.split()), value


def _meter(text: str) -> tuple[str, tuple[str, str]]:
    check, meter = _pair(text, "--on", "resistance=DM-2:20k")
    name, _, range_name = meter.partition(":")
    return check, (name, range_name)


def _read_at(text: str, facts: JobFacts) -> datetime | None:
    if not text:
        return None
    try:
        when = datetime.fromisoformat(text) if len(text) > 10 else None
    except ValueError:
        when = None
    if when is None:
        raise BadInput(f'"{text}" is not a date and time. Write --at 2026-10-13T10:30.')
    return when if when.tzinfo else when.replace(tzinfo=ZoneInfo(facts.timezone_name))


def _show_columns(name: str, what: str, columns: Sequence[Column]) -> None:
    print(f"{name} is read as {what}:", file=sys.stderr)
    for column in columns:
        heading = column.heading or "(no heading)"
        how = "" if column.how in ("exact", "left out") else f" ({column.how})"
        print(f"  {heading} = {target_text(column.target)}: {column.words}{how}", file=sys.stderr)


def _count(made: Plan | FactsPlan, what: str) -> str:
    if isinstance(made, Plan):
        number, again = made.count("new"), made.count("in the book")
        more = f" ({again} more are in the book already)" if again else ""
        return f"{number} {what}{more}"
    return f"{made.count('new')} new and {made.count('changed')} changed {what}"


def _list(words: Sequence[str]) -> str:
    quoted = [f'"{word}"' for word in words]
    return ", ".join(quoted[:-1]) + f" and {quoted[-1]}" if len(quoted) > 1 else quoted[0]
