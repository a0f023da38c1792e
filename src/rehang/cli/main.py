"""The ``rehang`` command: judge a folder, keep it in the book, serve the bench, print.

Results go to stdout and talk to stderr. Exit 0 done, 1 refused with one sentence, 2 wrong
usage.
"""

from __future__ import annotations

import importlib
import json
import os
import sys
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, time
from pathlib import Path
from typing import Annotated, Any
from zoneinfo import ZoneInfo

from cyclopts import App, CycloptsError, Parameter
from rich.console import Console

from rehang import __version__
from rehang.book.opening import open_store
from rehang.book.outage import outage
from rehang.cli import backup, history, keep, pins, plan, record, serving, shortcut
from rehang.cli.archive import archive_job
from rehang.cli.asked import job_reader, width
from rehang.cli.sheet import copy_sheet, show_sheet
from rehang.cli.text import job_lines, job_table, shop_lines
from rehang.sheets import demo_path
from rehang.sheets.folder import (
    PENCIL,
    JobFolder,
    facts_at,
    put_pencil_by,
    read_folder,
    read_layout,
    seal_all,
    write_folder,
)
from rehang.trade.doors.asjson import job_as_json
from rehang.trade.doors.rules import check_typed
from rehang.trade.facts.layout import layout_remarks
from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.terms.errors import BadInput, Refused

__all__ = ["app", "main"]

app = App(
    name="rehang",
    version=__version__,
    help="Bench book for a removed piston aircraft engine: from readings to verdicts that stand up.",
)
app.register_install_completion_command(
    name="completion", help="Have bash, zsh or fish complete the commands when Tab is pressed."
)


def _say(text: str) -> None:
    print(text, file=sys.stderr)


def _moment(text: str, timezone: str) -> datetime:
    """A day means its last moment in the shop's time zone."""
    try:
        when = datetime.fromisoformat(text)
    except ValueError:
        raise BadInput(
            f'"{text}" is not a date. Write --now 2026-10-13 or --now 2026-10-13T12:00.'
        ) from None
    if len(text) == 10:
        when = datetime.combine(when.date(), time(23, 59, 59, 999999))
    return when if when.tzinfo else when.replace(tzinfo=ZoneInfo(timezone))


def _judge_folder(folder: JobFolder, now: str) -> JudgedJob:
    clock = _now()
    check_typed(folder.facts, folder.entries, folder.where, clock)
    moment = _moment(now, folder.facts.timezone_name) if now else None
    facts = facts_at(folder, moment)
    today = (moment or clock).astimezone(ZoneInfo(facts.timezone_name)).date()
    judged = judge(facts, folder.entries, moment, folder.where, today, clock)
    return replace(judged, notices=(*folder.notices, *judged.notices))


def _show(judged: JudgedJob, *, as_json: bool, whole: bool = False) -> None:
    if as_json:
        print(json.dumps(job_as_json(judged), ensure_ascii=False, indent=2))
    elif whole:
        print("\n".join(job_lines(judged)))
    else:
        Console(width=width(), highlight=False).print(job_table(judged))


@app.command
def check(
    what: str,
    /,
    *,
    all: Annotated[bool, Parameter(negative="")] = False,  # noqa: A002 - the option is called --all
    json: Annotated[bool, Parameter(negative="")] = False,
    now: str = "",
) -> int:
    """Judge a job: what needs somebody, a line each. A folder is judged with no database.

    Example: rehang check my-job --now 2026-10-13

    Parameters
    ----------
    what
        A job folder, or the name of a job in the book.
    all
        Every reason in full, the way out of each, the readings and the notes.
    json
        Print JSON for a machine.
    now
        Judge the book as it stood at the end of this day (or at this time); later entries are
        hidden.
    """
    if Path(what).exists():
        read = read_folder(Path(what))
        if read.facts.is_shop:
            check_typed(read.facts, read.entries, read.where, _now())
            print("\n".join(shop_lines(read.facts)))
            return 0
        judged = _judge_folder(read, now)
    else:
        judged = _judged(what, now)
    _show(judged, as_json=json, whole=all)
    return 0


@app.command
def seal(folder: Path, /) -> int:
    """Seal the entries that were typed by hand into the book's chain, and save the folder.

    Example: rehang seal my-job

    Parameters
    ----------
    folder
        A job folder; its pencil sheet, if any, becomes entries of the book.
    """
    read = read_folder(folder)
    _judge_folder(read, "")
    entries = seal_all(read.entries)
    put_pencil_by(folder)
    write_folder(folder, read.files, entries)
    # Stopped before this, the same lines are read again and are in the book already.
    (folder / PENCIL).unlink(missing_ok=True)
    print(f"{len(entries)} entries are sealed in {folder.name}.")
    return 0


@app.command
def load(
    folder: Path,
    /,
    *,
    by: str = "",
    dry_run: Annotated[bool, Parameter(negative="")] = False,
    yes: Annotated[bool, Parameter(negative="")] = False,
) -> int:
    """Load a job folder into the book, whole or not at all. Entries in the book are never lost.

    Example: rehang load my-job --by marta --dry-run

    Parameters
    ----------
    folder
        A job folder.
    by
        Key of the person who loads it; the first of people.toml when left out.
    dry_run
        Say what would change in the book, and change nothing.
    yes
        Facts that the folder leaves out, or takes back to an earlier text, are meant to go.
    """
    read = read_folder(folder)
    services, queries = _book()
    for line in queries.load_changes(read).lines:
        print(line)
    if dry_run:
        check_typed(read.facts, read.entries, read.where, _now())
        print("Nothing has been loaded.")
        return 0
    by = by or next(iter(read.facts.people))
    job = services.load_folder(folder=read, by=by, at=_now(), agreed=yes)
    print(f"{job.slug}: {len(read.entries)} entries are in the book.")
    return 0


@app.command
def demo(*, job: str = "four", json: Annotated[bool, Parameter(negative="")] = False) -> int:
    """Load a demo job (invented) into the book and print its verdicts.

    Example: rehang demo --job six

    Parameters
    ----------
    job
        four (four cylinders, the whole engine), finished (the same, ready to be signed), six (six
        cylinders) or radial (nine).
    json
        Print JSON for a machine.
    """
    read = read_folder(demo_path(job))
    services, queries = _book()
    if read.name not in [one.slug for one in queries.jobs(put_away=None)]:
        services.load_folder(folder=read, by=next(iter(read.facts.people)), at=_now())
        _say(f"{read.name} is in the book.")
    else:
        _say(f"{read.name} is in the book already; it is left as it is.")
    pins.say_demo_pins(queries.job(read.name), by=next(iter(read.facts.people)), at=_now())
    _show(queries.judged(queries.job(read.name)), as_json=json)
    return 0


@app.command
def layout(what: str, /, *, svg: Path | None = None) -> int:
    """Draw an engine layout, or say everything that is wrong with it. Exit 1 when something is.

    Example: rehang layout my-job/layout.toml --svg layout.svg

    Parameters
    ----------
    what
        A layout file, or the name of a shipped layout.
    svg
        File to draw it into.
    """
    found, faults = read_layout(what)
    for fault in faults:
        print(fault)
    if found is None:
        print(f"{what}: {len(faults)} {'thing' if len(faults) == 1 else 'things'} to put right.")
        return 1
    from rehang.trade.drawn.layouts import layout_svg, layout_text

    print("\n".join(layout_text(found)))
    for remark in layout_remarks(found):
        print(f"Worth a look: {remark}")
    if svg is not None:
        svg.write_text(layout_svg(found), "utf-8")
        print(f"{svg} is drawn.")
    return 0


@app.command
def sheet(
    file: Path | None = None,
    /,
    *,
    job: Path | None = None,
    copy: Path | None = None,
) -> int:
    """Read a task sheet and say everything that is wrong with it. Exit 1 when something is.

    Example: rehang sheet tasks.toml --job my-job

    Parameters
    ----------
    file
        A task sheet, or a job folder.
    job
        A job folder whose people, parts and meters the sheet is held against.
    copy
        File to write a copy of the shipped task sheet to.
    """
    if (file is None) == (copy is None):
        raise BadInput("Give a task sheet to read, or --copy and a file to write the shipped one.")
    if copy is not None:
        return copy_sheet(copy)
    assert file is not None
    return show_sheet(file, job)


@app.command
def archive(what: str, folder: Path, /) -> int:
    """Write a job as one folder that opens without Rehang, with a list of sums.

    Example: rehang archive my-job kept/my-job-2026

    Parameters
    ----------
    what
        A job folder, or the name of a job in the book.
    folder
        Folder to write; it must not be there yet.
    """
    return archive_job(what, folder, at=_now(), store=_book)


@app.command
def rebuild(job: str = "", /) -> int:
    """Make the readings index again from the entries.

    Example: rehang rebuild

    Parameters
    ----------
    job
        Name of a job; every job when left out.
    """
    services, queries = _book()
    chosen = queries.book(job) if job else None
    for line in services.rebuild(job=chosen, by="rehang", at=_now()):
        print(line)
    return 0


@app.command(name="print")
def print_(
    what: str,
    /,
    *,
    out: Path = Path("tray-record.pdf"),
    size: str = "letter",
    blank: Annotated[bool, Parameter(negative="")] = False,
    now: str = "",
) -> int:
    """Print the tray record (draft, unsigned) or a blank tray sheet as PDF.

    Example: rehang print my-job --size a4 --out record.pdf

    Parameters
    ----------
    what
        A job folder, or the name of a job in the book.
    out
        File to write.
    size
        letter or a4.
    blank
        Print the blank tray sheet to pencil in.
    now
        Print the book as it stood at the end of this day (or at this time).
    """
    if size not in ("letter", "a4"):
        raise BadInput(f'"{size}" is not a paper size. Write letter or a4.')
    if Path(what).is_dir():
        folder = read_folder(Path(what))
        judged, photos = _judge_folder(folder, now), folder.photos
    else:
        _, queries = _book()
        job = queries.job(what)
        moment = _moment(now, queries.facts(job).timezone_name) if now else None
        judged, photos = queries.judged(job, now=moment), queries.photos(job)
    paper = importlib.import_module("rehang.paper")
    printed_at = _now().astimezone(ZoneInfo(judged.facts.timezone_name))
    if blank:
        pdf = paper.blank_sheet_pdf(judged.facts, judged.state, size=size, printed_at=printed_at)
    else:
        pdf = paper.tray_record_pdf(judged, size=size, printed_at=printed_at, photos=photos)
    out.write_bytes(pdf)
    print(f"{out} ({len(pdf):,} bytes)")
    return 0


@app.command(name="import")
def import_(
    job: str,
    file: Path,
    /,
    *,
    what: str = "",
    map: Annotated[list[str] | None, Parameter(negative="")] = None,  # noqa: A002 - the option is called --map
    on: Annotated[list[str] | None, Parameter(negative="")] = None,
    psi: int | None = None,
    at: str = "",
    by: str = "",
    bring_in: Annotated[bool, Parameter(negative="")] = False,
    keep_unlikely: Annotated[bool, Parameter(negative="")] = False,
    yes: Annotated[bool, Parameter(negative="")] = False,
    dry_run: Annotated[bool, Parameter(negative="")] = False,
) -> int:
    """Bring readings, meters or limits in from a CSV or XLSX file: all of it, or nothing.

    What each column is taken for is shown first. The same table brought in twice is kept once.

    Example: rehang import my-job tray.xlsx --map Ohms=resistance --on resistance=DM-2:20k --dry-run

    Parameters
    ----------
    job
        A job folder, or the name of a job in the book.
    file
        The table.
    what
        readings, meters or limits; told by the headings when left out.
    map
        What a column is, as in Serial=item, "Gap (thou)=gap in thou" or Price=- to leave it out.
    on
        Meter and range of a check whose rows name none, as in resistance=DM-2:20k.
    psi
        Pressure of spark tests whose rows give none.
    at
        When the rows were read that say no time; now when left out.
    by
        Key of the person who read the rows that name nobody; the first of people.toml when left
        out.
    bring_in
        Write plugs that have not come into the job as out of the hole of their row.
    keep_unlikely
        Keep numbers that look like slips as they stand.
    yes
        What was guessed of the columns is right.
    dry_run
        Say what would be kept, and keep nothing.
    """
    from rehang.cli.tables import Asked, import_table

    asked = Asked(
        what=what,
        maps=map or (),
        on=on or (),
        psi=psi,
        read_at=at,
        by=by,
        bring_in=bring_in,
        keep_unlikely=keep_unlikely,
        yes=yes,
        dry_run=dry_run,
    )
    return import_table(job, file, asked, now=_now(), store=_book)


@app.command
def export(job: str, what: str, file: Path, /) -> int:
    """Write readings, meters or limits to a CSV or XLSX file.

    Example: rehang export my-job readings readings.xlsx

    Parameters
    ----------
    job
        A job folder, or the name of a job in the book.
    what
        readings, meters or limits.
    file
        File to write; its name ends in .csv or .xlsx.
    """
    from rehang.cli.tables import export_table

    return export_table(
        job, what, file, judged_folder=lambda folder: _judge_folder(folder, ""), store=_book
    )


_judged = job_reader(
    lambda path, now: _judge_folder(read_folder(path), now), lambda: _book(), _moment
)
history.register(app, judged=_judged)
plan.register(
    app,
    judged=_judged,
    moment=lambda now, timezone: _moment(now, timezone) if now else _now(),
)
record.register(
    app,
    judged=_judged,
    moment=lambda now, timezone: _moment(now, timezone) if now else _now(),
)
keep.register(app, store=lambda: _book(), now=lambda: _now())


backup.register(app, store=lambda: _book(), now=lambda: _now())


serving.register(app, store=lambda: _book())


pins.register(app, store=lambda: _book(), now=lambda: _now())


shortcut.register(app)


def _now() -> datetime:
    return datetime.now(UTC)


def _book() -> tuple[Any, Any]:
    """The book, its tables made when they are not there yet."""
    open_store()
    return (
        importlib.import_module("rehang.book.services"),
        importlib.import_module("rehang.book.queries"),
    )


def _reader_is_gone() -> None:
    """Leave without a word: whoever reads the output has read enough, as ``head`` does."""
    # What is still to be written goes nowhere, or Python complains of it while it leaves.
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    sys.exit(0)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command and leave with its exit code; with nothing asked for, open the bench."""
    if arguments is None and len(sys.argv) == 1:
        arguments = ["bench"]
    try:
        code = app(arguments, exit_on_error=False, print_error=True, result_action="return_value")
    except Refused as refused:
        _say(str(refused))
        sys.exit(1)
    except CycloptsError:
        sys.exit(2)
    except BrokenPipeError:
        _reader_is_gone()
    except Exception as problem:
        said = outage(problem)
        if not said:
            raise
        _say(said)
        sys.exit(1)
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        _reader_is_gone()
    sys.exit(code if isinstance(code, int) else 0)
