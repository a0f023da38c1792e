"""A job folder: read whole or not at all, written so that it reads back the same."""

from __future__ import annotations

import hashlib
import os
import re
import tomllib
from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from rehang.sheets import (
    check_sheets,
    layout,
    layouts,
    pencil,
    powers,
    run_rules,
    run_steps,
    shut_down,
    task_sheet,
    torque_groups,
)
from rehang.sheets.plain import file_text, slip_in
from rehang.trade.doors.rules import judged_aside
from rehang.trade.facts.engine import engine_from, hoses_from
from rehang.trade.facts.items import CheckSheet, sheet_from
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.layout import Layout, layout_faults, layout_from
from rehang.trade.facts.limits import limit_faults, limit_from
from rehang.trade.facts.meters import meter_from
from rehang.trade.facts.parts import parts_from
from rehang.trade.facts.people import Person, people_from
from rehang.trade.facts.recurring import recurring_from
from rehang.trade.facts.run_file import RunFile, check_steps, rules_of
from rehang.trade.facts.run_rules import RunRules
from rehang.trade.facts.runsteps import ShutDown, Step
from rehang.trade.facts.shop import check_opens
from rehang.trade.facts.taken import only, read, tables
from rehang.trade.facts.tasks import (
    Task,
    for_layout,
    name_faults,
    sheet_faults,
    shop_faults,
    tasks_from,
)
from rehang.trade.facts.torquegroups import TorqueGroup, groups_from
from rehang.trade.gate.who import lookers
from rehang.trade.known.photos import is_photo_name, item_words, photo_name, photos_in
from rehang.trade.terms.aside import kept_line, set_aside
from rehang.trade.terms.bounds import check_sizes, name_fault
from rehang.trade.terms.chain import GENESIS, chain_problems, seal
from rehang.trade.terms.ends import End, end_of
from rehang.trade.terms.entries import LONGEST_FILE, UNREAD, Entry, parse_line
from rehang.trade.terms.errors import BadInput
from rehang.trade.work.todo import meters_for

__all__ = [
    "BOOK",
    "CONTENTS",
    "FACT_FILES",
    "PENCIL",
    "PEOPLE",
    "PHOTOS",
    "REQUIRED",
    "JobFolder",
    "PhotoFiles",
    "book_text",
    "check_facts",
    "contents_problems",
    "contents_text",
    "facts_at",
    "parse_book",
    "parse_files",
    "photo_problems",
    "put_pencil_by",
    "read_folder",
    "read_layout",
    "read_task_sheet",
    "seal_all",
    "shipped_task_text",
    "texts_at",
    "write_folder",
]

BOOK = "book.jsonl"
CONTENTS = "contents.toml"
PENCIL = "tray.txt"
# The pencil sheet once its lines are entries; kept for whoever wants to see the hand of it.
SEALED_PENCIL = "tray.sealed.txt"
PHOTOS = "photos"
PEOPLE = "people.toml"
REQUIRED = ("engine.toml", PEOPLE, "limits.toml", "meters.toml")
FACT_FILES = (
    *REQUIRED,
    "layout.toml",
    "checks.toml",
    "tasks.toml",
    "stock.toml",
    "recurring.toml",
    "run.toml",
    "torque.toml",
)
_OF_THE_DAY = ("engine.toml", "limits.toml")


@dataclass(frozen=True, slots=True)
class JobFolder:
    """A job as its folder holds it. ``files`` are the texts as they stand, the book left out.

    ``photos`` are the photos that are there, by the names of their files.
    """

    name: str
    files: Mapping[str, str]
    entries: tuple[Entry, ...]
    facts: JobFacts
    where: Mapping[str, str]
    notices: tuple[str, ...]
    photos: Mapping[str, bytes] = field(default_factory=dict)


class PhotoFiles(Mapping[str, bytes]):
    """The photos of a book that lie in a folder, by name; each is read when it is asked for."""

    def __init__(self, folder: Path, book: Iterable[Entry]) -> None:
        names = dict.fromkeys(str(entry.data["photo"]) for entry in photos_in(book))
        self._paths = {
            name: folder / name
            for name in names
            if is_photo_name(name) and (folder / name).is_file()
        }

    def __getitem__(self, name: str) -> bytes:
        return self._paths[name].read_bytes()

    def __iter__(self) -> Iterator[str]:
        return iter(self._paths)

    def __len__(self) -> int:
        return len(self._paths)

    def __contains__(self, name: object) -> bool:
        return name in self._paths


@lru_cache(maxsize=64)
def _lines(text: str) -> tuple[str, ...]:
    return tuple(text.splitlines())


@lru_cache(maxsize=128)
def _headers(text: str, key: str) -> tuple[int, ...]:
    """The lines of ``[[key]]``, from 0: every entry of a list asks for its own."""
    header = re.compile(rf"\s*\[\[\s*{re.escape(key)}\s*\]\]")
    return tuple(number for number, line in enumerate(_lines(text)) if header.match(line))


def _line_of(text: str, path: Sequence[str | int]) -> int:
    """The line of a key: ``("limit", 2, "lower")`` is ``lower`` in the third ``[[limit]]``.

    TOML parsers do not keep lines, so the header is counted and the key looked for below it.
    """
    lines = _lines(text)
    start = 0
    keys = list(path)
    if len(keys) >= 2 and isinstance(keys[1], int):
        headers = _headers(text, str(keys[0]))
        if keys[1] < len(headers):
            start = headers[keys[1]]
        keys = keys[2:]
    elif keys and isinstance(keys[0], str) and len(keys) > 1:
        for number, line in enumerate(lines):
            if re.match(rf"\s*\[\s*{re.escape(str(keys[0]))}\s*\]", line):
                start = number
                break
        keys = keys[1:]
    if keys:
        key = re.compile(rf'\s*"?{re.escape(str(keys[-1]))}"?\s*=')
        for number in range(start, len(lines)):
            if number > start and re.match(r"\s*\[\[", lines[number]):
                break
            if key.match(lines[number]):
                return number + 1
    return start + 1


def _where(name: str, text: str, *prefix: str | int) -> Callable[..., str]:
    def place(*keys: str | int) -> str:
        return f"{name}, line {_line_of(text, [*prefix, *keys])}"

    return place


def _toml(name: str, text: str) -> dict[str, Any]:
    """A file as plain values."""
    if len(text) > LONGEST_FILE:
        raise BadInput(
            f"The file has {len(text):,} characters; it may have {LONGEST_FILE:,}.", name
        )
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        found = re.search(r"at line (\d+)", str(problem))
        line = int(found[1]) if found else max(1, len(text.splitlines()))
        reason = re.sub(r"\s*\(at .*\)$", "", str(problem))
        raise BadInput(
            slip_in((text.splitlines() or [""])[line - 1])
            or f"This is not readable as TOML: {reason}. "
            "If the file was cut off while it was copied, copy it again.",
            f"{name}, line {line}",
        ) from None
    except (ValueError, RecursionError):
        # A number of thousands of digits, or brackets without end.
        raise _endless(name, text) from None
    if _has_endless_number(raw):
        raise _endless(name, text)
    return raw


def _has_endless_number(given: object) -> bool:
    """Whether a whole number in it is past all counting, which no reader then has to bear."""
    if isinstance(given, (Mapping, list)):
        inner = given.values() if isinstance(given, Mapping) else given
        return any(_has_endless_number(one) for one in inner)
    return isinstance(given, int) and abs(given) > 2**53


def _endless(name: str, text: str) -> BadInput:
    """The refusal of what no reader bears, with the line of the longest run of it."""
    runs = re.finditer(r"[0-9_]{16,}|[\[{][\[{\s]*", text)
    longest = max(runs, key=lambda run: len(run[0]), default=None)
    place = f", line {text.count(chr(10), 0, longest.start()) + 1}" if longest else ""
    return BadInput(
        "A number or brackets here are beyond all reading. Write it again.", name + place
    )


def parse_files(files: Mapping[str, str], name: str = "") -> JobFacts:
    """The facts of a job from the texts of its files.

    Raises
    ------
    BadInput
        A file is missing, or something in one cannot be read; with file and line.
    """
    for required in REQUIRED:
        if required not in files:
            raise BadInput(
                f"The folder has no {required}. A job folder has {', '.join(REQUIRED)} and {BOOK}. "
                "If it was half copied, copy it again.",
                name,
            )
    engine = _toml("engine.toml", files["engine.toml"])
    at = _where("engine.toml", files["engine.toml"])
    known, said = engine_from(engine, at)
    faults = {"engine.toml": said}
    try:
        ZoneInfo(known.timezone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise BadInput(
            f'"{known.timezone[:60]}" is not a time zone. Write one as in America/Chicago or UTC.',
            at("timezone"),
        ) from None
    if "layout.toml" in files:
        own = files["layout.toml"]
        the_layout = layout_from(_toml("layout.toml", own), _where("layout.toml", own))
    else:
        the_layout = layout(known.layout, at("layout"))
    sheets = dict(check_sheets())
    if "checks.toml" in files:
        own, place = files["checks.toml"], _where("checks.toml", files["checks.toml"])
        sheet = sheet_from(_toml("checks.toml", own), place)
        sheets[sheet.item] = sheet
    for kind in known.inspect:
        if kind not in sheets:
            raise BadInput(
                f'There is no check sheet for "{kind}". There are sheets for {", ".join(sheets)}.',
                at("inspect"),
            )
    hoses = hoses_from(known, at)
    own = files[PEOPLE]
    people, own_powers = people_from(_toml(PEOPLE, own), _where(PEOPLE, own))
    if not people:
        raise BadInput('It names nobody. Add a [[person]] with "key" and "name".', PEOPLE)
    own, place = files["limits.toml"], _where("limits.toml", files["limits.toml"])
    raw = _toml("limits.toml", own)
    only(raw, ("limit",), "limits.toml", place)
    limits = tuple(
        limit_from(one, sheets, _where("limits.toml", own, "limit", number))
        for number, one in enumerate(tables("limit", raw, place))
    )
    for number, one in enumerate(limits):
        if one.entered_by and one.entered_by not in people:
            raise BadInput(
                f'"{one.entered_by}" is not in people.toml.',
                _where("limits.toml", files["limits.toml"], "limit", number)("entered_by"),
            )
    meters = {}
    own = files["meters.toml"]
    raw, at_file = _toml("meters.toml", own), _where("meters.toml", own)
    only(raw, ("meter",), "meters.toml", at_file)
    for number, one_meter in enumerate(tables("meter", raw, at_file)):
        place = _where("meters.toml", own, "meter", number)
        meter = meter_from(one_meter, place)
        if meter.id in meters:
            raise BadInput(f'There are two meters "{meter.id}". Give each its own id.', place("id"))
        meters[meter.id] = meter
    check_opens(known.shop_hours, _where("engine.toml", files["engine.toml"], "shop_hours"))
    torques = _torque_groups(files)
    steps, rules, ending = _run(files, sheets["run"])
    faults["limits.toml"] = [
        f"{_where('limits.toml', files['limits.toml'], 'limit', number)(key)}: {said}"
        for number, key, said in limit_faults(limits, sheets, {g.limit for g in torques.values()})
    ]
    faults["meters.toml"] = [name_fault(one) for one in meters if name_fault(one)]
    faults["people.toml"] = [name_fault(one) for one in people if name_fault(one)]
    return JobFacts(
        faults=MappingProxyType({name: tuple(said) for name, said in faults.items() if said}),
        job=known.job,
        title=engine.get("title", known.job),
        engine=MappingProxyType(engine),
        layout=the_layout,
        sheets=MappingProxyType(sheets),
        limits=limits,
        meters=MappingProxyType(meters),
        people=MappingProxyType(people),
        thresholds=known.thresholds,
        timezone_name=known.timezone,
        inspect=known.inspect,
        hoses=MappingProxyType(hoses),
        tasks=MappingProxyType(for_layout(_tasks(files), locks=bool(the_layout.locks))),
        parts=MappingProxyType(_held(files, "stock.toml", parts_from)),
        recurring=MappingProxyType(_held(files, "recurring.toml", recurring_from)),
        run_steps=steps,
        run_rules=rules,
        shut_down=ending,
        torque_groups=MappingProxyType(torques),
        powers=powers() if own_powers is None else own_powers,
        shop=known.shop_hours,
    )


def check_facts(facts: JobFacts, names: Container[str] = FACT_FILES) -> None:
    """The gate of a job's files: refuse those ``names`` in which something breaks a rule.

    A page, a table, ``check``, ``load`` and ``seal`` pass it with what is new. A text that was filed
    before a rule was known stays, and what it breaks stands among the blockers (DESIGN 4b, 14).

    Raises
    ------
    BadInput
        With file and line, for the first thing that breaks a rule.
    """
    for name, said in facts.faults.items():
        if name in names:
            raise BadInput(said[0])


T = TypeVar("T")


def _held(
    files: Mapping[str, str], name: str, taken: Callable[[Mapping[str, Any], Any], dict[str, T]]
) -> dict[str, T]:
    """What a file holds, by id; nothing where the job has no such file."""
    if name not in files:
        return {}
    return taken(_toml(name, files[name]), _where(name, files[name]))


def _tasks(files: Mapping[str, str]) -> dict[str, Task]:
    """The shipped tasks with the job's own laid over them."""
    shipped = dict(task_sheet())
    if "tasks.toml" not in files:
        return shipped
    text = files["tasks.toml"]
    return tasks_from(_toml("tasks.toml", text), _where("tasks.toml", text), shipped=shipped)


def _run(
    files: Mapping[str, str], sheet: CheckSheet
) -> tuple[tuple[Step, ...], RunRules, ShutDown]:
    """The walk through a run, what is asked of it and how it is shut down; as shipped where left out."""
    if "run.toml" not in files:
        return run_steps(), run_rules(), shut_down()
    text = files["run.toml"]
    where = _where("run.toml", text)
    file = read(RunFile, _toml("run.toml", text), where)
    if file.step is not None:
        check_steps(file.step, sheet, where)
    rules = rules_of(file, sheet, where, run_rules())
    return file.step or run_steps(), rules, file.shut_down or shut_down()


def _torque_groups(files: Mapping[str, str]) -> dict[str, TorqueGroup]:
    """The shipped groups of fasteners with the job's own laid over them."""
    shipped = dict(torque_groups())
    if "torque.toml" not in files:
        return shipped
    text = files["torque.toml"]
    where = _where("torque.toml", text)
    found = groups_from(_toml("torque.toml", text), where, shipped)
    # A group of a task that nobody knows would be asked for by nothing.
    known = {*task_sheet(), *_tasks(files)}
    for group in found.values():
        if group.task and group.task not in known:
            raise BadInput(
                f'Torque group "{group.id}" is of task "{group.task}", which is not in the task '
                "sheet.",
                where(),
            )
    return found


def parse_book(text: str, people: Mapping[str, Person]) -> tuple[list[Entry], dict[str, str]]:
    """The entries of ``book.jsonl`` and the place of each id in it."""
    entries: list[Entry] = []
    where: dict[str, str] = {}
    seen: dict[str, Entry] = {}
    if text and not text.endswith("\n"):
        last = len(text.splitlines())
        _torn(text.splitlines()[-1], f"{BOOK}, line {last}")
    for number, line in enumerate(text.split("\n"), start=1):
        if not line.strip():
            continue
        place = f"{BOOK}, line {number}"
        entry = _kept_or_typed(line, place)
        if entry.by not in people and entry.kind != UNREAD:
            raise BadInput(f'"{entry.by}" is not in people.toml.', place)
        if entry.id in seen:
            if seen[entry.id].content() != entry.content():
                raise BadInput(
                    f"The id {entry.id} already stands at {where[entry.id]} with other content. "
                    "Give this entry an id of its own.",
                    place,
                )
            continue
        seen[entry.id] = entry
        entries.append(entry)
        where[entry.id] = place
    sealed = [e for e in entries if e.is_sealed]
    if sealed:
        if entries[: len(sealed)] != sealed:
            raise BadInput(
                "An entry without a seal stands before a sealed one. "
                "Put what was typed by hand at the end.",
                where[next(e.id for e in entries if not e.is_sealed)],
            )
        problems = chain_problems(sealed)
        if problems:
            raise BadInput(
                problems[0].partition(": ")[2] + " The book's chain does not match from here on.",
                problems[0].partition(": ")[0],
            )
    return entries, where


def _kept_or_typed(line: str, place: str) -> Entry:
    """A line of a book; one that was kept as it is and cannot be shown is set aside, not refused."""
    try:
        entry = parse_line(line, place)
    except BadInput:
        kept = kept_line(line)
        if kept is None:
            raise
        return kept
    if entry.is_sealed:
        try:
            check_sizes(entry)
        except BadInput as refusal:
            return set_aside(entry, refusal.sentence)
    return entry


def _torn(line: str, place: str) -> None:
    """A last line without its line end is taken when it is whole, refused when it is torn."""
    try:
        parse_line(line, place)
    except BadInput:
        raise BadInput(
            "The last line is torn: it was cut off while it was written or copied. Nothing has "
            "been loaded. Copy the book again, or take the torn line off the end.",
            place,
        ) from None


def read_folder(path: Path) -> JobFolder:
    """A job folder, whole or not at all.

    Raises
    ------
    BadInput
        With file and line, for the first thing that cannot be read.
    """
    if not path.is_dir():
        raise BadInput(f"{path} is not a folder. Give the folder of a job.")
    files = _texts(path)
    notices = _check_contents(path, files)
    book = files.pop(BOOK, None)
    if book is None:
        raise BadInput(
            f"The folder has no {BOOK}. If it was half copied, copy it again; "
            "for a new job make an empty one.",
            path.name,
        )
    contents = {name: files[name] for name in FACT_FILES if name in files}
    facts = parse_files(contents, path.name)
    entries, where = parse_book(book, facts.people)
    filed = {e.data["file"]: e.data["sha256"] for e in entries if e.kind == "filed"}
    changed = [name for name in contents if filed.get(name) != _sha(contents[name])]
    check_facts(facts, changed)
    facts = replace(facts, as_filed=not changed)
    if not changed:
        kept = [one for one in entries if one.is_sealed]
        # What is typed is refused with its line instead.
        with suppress(BadInput):
            entries[: len(kept)] = judged_aside(facts, kept, None)[0]
    notices += _filed_notices(contents, entries, facts)
    photos = PhotoFiles(path / PHOTOS, entries)
    notices += photo_problems(entries, photos, where=where)
    if PENCIL in files:
        penciled, places = pencil.entries_from(files[PENCIL], facts, entries)
        known = {e.id for e in entries}
        entries += [e for e in penciled if e.id not in known]
        where |= places
    return JobFolder(
        name=facts.job,
        files=MappingProxyType(contents),
        entries=tuple(entries),
        facts=facts,
        where=MappingProxyType(where),
        notices=tuple(notices),
        photos=photos,
    )


def read_layout(what: str) -> tuple[Layout | None, list[BadInput]]:
    """A layout from its file, or a shipped one by name, and all that is wrong with it."""
    path = Path(what)
    if not path.is_file():
        if what in layouts():
            return layouts()[what], []
        raise BadInput(
            f"{what} is no file and no shipped layout. The shipped ones are {', '.join(layouts())}."
        )
    text = file_text(path)
    raw = _toml(path.name, text)
    where = _where(path.name, text)
    faults = layout_faults(raw, where)
    return (None, faults) if faults else (layout_from(raw, where), [])


def shipped_task_text() -> str:
    """The shipped task sheet as it is written, to be copied and changed."""
    return (Path(__file__).parent / "tasks.toml").read_text("utf-8")


def read_task_sheet(
    path: Path, job: Path | None = None
) -> tuple[dict[str, Task], list[BadInput], list[str]]:
    """A task sheet laid over the shipped one: its tasks, all that is wrong, what is worth a look.

    ``path`` may be a job folder, whose own sheet and shop are then meant. With a job the sheet is
    held against its people, parts and meters too: what the file itself asks for in vain is wrong,
    what the shipped tasks ask for is worth a look.
    """
    if path.is_dir():
        path, job = path / "tasks.toml", path
        text = file_text(path) if path.exists() else ""
    elif path.is_file():
        text = file_text(path)
    else:
        raise BadInput(f"{path} is no file and no job folder. Give a task sheet.")
    raw, where = _toml(path.name, text), _where(path.name, text)
    shipped = task_sheet()
    tasks, faults = sheet_faults(raw, where, shipped=shipped)
    sheets = check_sheets()
    remarks: list[str] = []
    if job is not None:
        files = {name: one for name, one in _texts(job).items() if name in FACT_FILES}
        files.pop("tasks.toml", None)
        facts = parse_files(files, job.name)
        sheets = facts.sheets
        own = {name: task for name, task in tasks.items() if task != shipped.get(name)}
        for chosen in (own, {n: t for n, t in tasks.items() if n not in own}):
            found = shop_faults(
                chosen,
                writers=sum(one.role != "reads" for one in facts.people.values()),
                lookers=len(lookers(facts, None)),
                parts=facts.parts,
                has_meter=lambda words: bool(meters_for(words, facts.meters)),
                raw=raw,
                where=where,
            )
            if chosen is own:
                faults += found
            else:
                remarks = [fault.sentence for fault in found]
    return tasks, faults + name_faults(tasks, sheets, raw, where), remarks


def facts_at(folder: JobFolder, moment: datetime | None) -> JobFacts:
    """The facts as they were filed at a moment; as they stand where nothing was filed."""
    if moment is None:
        return folder.facts
    files = texts_at(folder.entries, moment, folder.files)
    if files == dict(folder.files):
        return folder.facts
    return replace(parse_files(files, folder.name), as_filed=folder.facts.as_filed)


def texts_at(
    entries: Iterable[Entry],
    moment: datetime | None = None,
    files: Mapping[str, str] = MappingProxyType({}),
) -> dict[str, str]:
    """The texts that hold at a moment, by what a book has filed and the files beside it.

    Limits and the shop's rule are those of that day, or the first ones filed where the day lies
    before. Meters, people and sheets stay the newest: a reading that was written in later may
    name a meter that the older list does not know.
    """
    filed: dict[str, str] = {}
    for entry in entries:
        if entry.kind != "filed":
            continue
        name = entry.data["file"]
        if moment is not None and name in _OF_THE_DAY and name in filed and entry.at > moment:
            continue
        filed[name] = entry.data["text"]
    held = {**filed, **files} | {name: filed[name] for name in _OF_THE_DAY if name in filed}
    return {name: held[name] for name in FACT_FILES if name in held}


def _texts(path: Path) -> dict[str, str]:
    # A link that leads nowhere is there too: what it stood for is missing.
    return {
        name: file_text(path / name)
        for name in (*FACT_FILES, BOOK, PENCIL, CONTENTS)
        if (path / name).exists() or (path / name).is_symlink()
    }


def _filed_notices(
    files: Mapping[str, str], entries: Sequence[Entry], facts: JobFacts
) -> list[str]:
    last: dict[str, Entry] = {e.data["file"]: e for e in entries if e.kind == "filed"}
    gone = [
        f"{name} is filed in the book and is not in the folder."
        for name in last
        if name in FACT_FILES and name not in files
    ]
    return gone + [
        f"{name} has been changed since {facts.person(entry.by)} filed it on "
        f"{entry.at.date().isoformat()}. Load the folder to file it again."
        for name, entry in last.items()
        if name in files and _sha(files[name]) != entry.data["sha256"]
    ]


def photo_problems(
    entries: Iterable[Entry],
    photos: Mapping[str, bytes],
    *,
    where: Mapping[str, str] | None = None,
) -> list[str]:
    """Photos that a book speaks of and that are missing or changed, a sentence each."""
    problems = []
    for entry in photos_in(entries):
        name = str(entry.data["photo"])
        place = (where or {}).get(entry.id, "") or (f"entry {entry.seq}" if entry.seq else entry.id)
        said = f"{place}: The photo of {item_words(entry.item)}, {PHOTOS}/{name},"
        if name not in photos:
            problems.append(f"{said} is missing. Copy it from where the book came from.")
        elif hashlib.sha256(photos[name]).hexdigest() != entry.data["sha256"]:
            problems.append(f"{said} has been changed since it was kept. Go back to a good copy.")
    return problems


def _sha(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def _check_contents(path: Path, files: dict[str, str]) -> list[str]:
    """Hold the folder against its list of contents, when it has one."""
    text = files.pop(CONTENTS, None)
    if text is None:
        return []
    raw = _toml(CONTENTS, text)
    notices = []
    listed_files = raw.get("file", [])
    if not isinstance(listed_files, list):
        raise BadInput("The list of contents is no list. Copy it again.", CONTENTS)
    for number, one in enumerate(listed_files):
        place = _where(CONTENTS, text, "file", number)
        one = one if isinstance(one, dict) else {}
        name, size = one.get("name"), one.get("bytes")
        if (
            not isinstance(name, str)
            or not isinstance(size, int)
            or not re.fullmatch(rf"({PHOTOS}/)?[\w.-]{{1,100}}", name)
        ):
            raise BadInput("This is not a line of the list of contents. Copy it again.", place())
        file = path / name
        if _is_said_by_the_book(file, name):
            continue
        if not file.is_file():
            raise BadInput(
                f"{name} is listed and is not in the folder: it was half copied. Copy it again.",
                place("name"),
            )
        have = file.stat().st_size
        if name == BOOK and have < size:
            raise BadInput(
                f"{name} has {have:,} bytes and had {size:,} when the folder was saved: "
                "it was half copied. Copy it again.",
                place("bytes"),
            )
        if hashlib.sha256(file.read_bytes()).hexdigest() != one.get("sha256"):
            notices.append(f"{name} has been changed since the folder was saved.")
    return notices


def contents_problems(path: Path) -> tuple[list[str], set[str]]:
    """What of a folder is not as its list of contents says, a sentence each, and the names listed.

    No sentence when every file, the list among them, is as it was saved.
    """
    try:
        text = (path / CONTENTS).read_bytes().decode("utf-8")
        raw = _toml(CONTENTS, text)
    except UnicodeDecodeError:
        return [f"{CONTENTS}: There is a byte here that is not UTF-8 text."], set()
    except BadInput as problem:
        return [str(problem)], set()
    problems: list[str] = []
    held: dict[str, bytes] = {}
    said_by_the_book: set[str] = set()
    listed_files = raw.get("file", [])
    for one in listed_files if isinstance(listed_files, list) else []:
        name = str(one.get("name", "")) if isinstance(one, dict) else ""
        file = path / name
        if not name or "/" in name.removeprefix(f"{PHOTOS}/") or name in (".", "..", "photos/.."):
            problems.append(f'{CONTENTS}: "{name}" is not the name of a file of this folder.')
        elif _is_said_by_the_book(file, name):
            said_by_the_book.add(name)
        elif not file.is_file():
            problems.append(f"{name} is listed and is not in the folder.")
        else:
            held[name] = file.read_bytes()
            if _sum(held[name]) != one.get("sha256"):
                problems.append(f"{name} has been changed since the folder was saved.")
    # Older lists do not say where the book ends.
    ends = (_end_in(held.get(BOOK, b"")), None)
    if not (problems or said_by_the_book) and text not in [
        contents_text(held, end) for end in ends
    ]:
        problems.append(f"{CONTENTS} is not written as it was when the folder was saved.")
    return problems, {*held, *said_by_the_book}


def _end_in(book: bytes) -> End | None:
    """The end of a book as its text has it, whether or not its chain holds."""
    for line in reversed(book.split(b"\n")):
        try:
            entry = parse_line(line.decode("utf-8"))
        except (UnicodeDecodeError, BadInput):
            continue
        if entry.is_sealed:
            return End(entry.seq, entry.hash)
    return None


def _is_said_by_the_book(file: Path, name: str) -> bool:
    """A missing or changed photo: the book names its sum, and says better what it was of.

    A job is judged without its photos, so the folder is not refused for want of one.
    """
    folder, _, photo = name.partition("/")
    if folder != PHOTOS or not is_photo_name(photo):
        return False
    return not file.is_file() or photo_name(_sum(file.read_bytes())) != photo


def _sum(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def seal_all(entries: Sequence[Entry]) -> list[Entry]:
    """Every entry sealed into one chain, in order; sealed ones are kept as they are."""
    prev, seq = GENESIS, 0
    done = []
    for entry in entries:
        if not entry.is_sealed:
            entry = seal(entry, seq=seq + 1, kept=entry.at, prev=prev)
        prev, seq = entry.hash, entry.seq
        done.append(entry)
    return done


def book_text(entries: Iterable[Entry]) -> str:
    """The text of ``book.jsonl``."""
    return "".join(f"{entry.line()}\n" for entry in entries)


def put_pencil_by(path: Path) -> None:
    """Lay a copy of the pencil sheet by, before its lines are sealed."""
    if (path / PENCIL).exists():
        _replace(path / SEALED_PENCIL, (path / PENCIL).read_bytes())


def write_folder(
    path: Path,
    files: Mapping[str, str],
    entries: Sequence[Entry],
    photos: Mapping[str, bytes] | None = None,
) -> None:
    """Write a job folder; each file lands whole or not at all, the list of contents last.

    ``photos`` are written as far as the book speaks of them, before the book does. Those that
    lie in the folder already are left there.
    """
    path.mkdir(parents=True, exist_ok=True)
    there = PhotoFiles(path / PHOTOS, entries)
    held: dict[str, bytes] = {}
    for name in dict.fromkeys(str(entry.data["photo"]) for entry in photos_in(entries)):
        if not is_photo_name(name):
            raise BadInput(f'"{name}" is not the name of a photo. Add the photo again.')
        if photos is not None and name in photos:
            data = photos[name]
            (path / PHOTOS).mkdir(exist_ok=True)
            if name not in there or there[name] != data:
                _replace(path / PHOTOS / name, data)
        elif name in there:
            data = there[name]
        else:
            continue
        held[f"{PHOTOS}/{name}"] = data
    texts = {name: text.encode() for name, text in {**files, BOOK: book_text(entries)}.items()}
    for name, data in texts.items():
        _replace(path / name, data)
    if (path / SEALED_PENCIL).is_file():
        held[SEALED_PENCIL] = (path / SEALED_PENCIL).read_bytes()
    _replace(path / CONTENTS, contents_text(texts | held, end_of(entries)).encode())


def contents_text(files: Mapping[str, bytes], end: End | None) -> str:
    """The list of contents of a job folder: each file's size and SHA-256, and where the book ends."""
    made = ["# What was in this folder when it was saved. Rehang holds the folder against it.\n"]
    if end is not None:
        made.append(f'\n[book]\nlast_entry = {end.seq}\nhash = "{end.hash}"\n')
    made += [
        f'\n[[file]]\nname = "{name}"\nbytes = {len(data)}\nsha256 = "{_sum(data)}"\n'
        for name, data in files.items()
    ]
    return "".join(made)


def _replace(path: Path, data: bytes) -> None:
    beside = path.with_name(f".{path.name}.new")
    with beside.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)
