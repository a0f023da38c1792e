"""The facts of a job from the texts of its files, and which texts hold at a moment."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Mapping
from datetime import datetime
from functools import lru_cache
from types import MappingProxyType
from typing import Any, TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from rehang.sheets import (
    check_sheets,
    layout,
    powers,
    reasons,
    run_rules,
    run_steps,
    shut_down,
    task_sheet,
    torque_groups,
)
from rehang.sheets.book_text import BOOK
from rehang.sheets.engine_has import engine_has
from rehang.sheets.toml_text import read_toml, where_in
from rehang.trade.declared.taken import Where, read
from rehang.trade.facts.engine import Engine, engine_from, hoses_from
from rehang.trade.facts.items import CheckSheet, sheet_from
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.layout import Layout, layout_from
from rehang.trade.facts.limits import Limit, limit_faults, limits_from
from rehang.trade.facts.meters import meters_from
from rehang.trade.facts.parts import parts_from
from rehang.trade.facts.people import Person, people_from, same_person_faults
from rehang.trade.facts.reasons import Reason, not_opened, reasons_from
from rehang.trade.facts.recurring import recurring_from
from rehang.trade.facts.run_file import RunFile, check_steps, rules_of
from rehang.trade.facts.run_rules import RunRules
from rehang.trade.facts.runsteps import ShutDown, Step
from rehang.trade.facts.shop import check_opens
from rehang.trade.facts.shop_file import NO_LAYOUT, shop_from
from rehang.trade.facts.task_takes import counted_for
from rehang.trade.facts.tasks import Task, tasks_from
from rehang.trade.facts.tasks_out import for_layout
from rehang.trade.facts.torquegroups import TorqueGroup, groups_from
from rehang.trade.terms.bounds import name_fault
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.papers import Filed

__all__ = [
    "FACT_FILES",
    "PEOPLE",
    "REQUIRED",
    "SHOP",
    "check_facts",
    "head_of",
    "is_whole",
    "parse_files",
    "texts_at",
]

PEOPLE = "people.toml"
SHOP = "shop.toml"
REQUIRED = ("engine.toml", PEOPLE, "limits.toml", "meters.toml")
FACT_FILES = (
    *REQUIRED,
    SHOP,
    "layout.toml",
    "checks.toml",
    "tasks.toml",
    "stock.toml",
    "recurring.toml",
    "reasons.toml",
    "run.toml",
    "torque.toml",
)
_OF_THE_DAY = ("engine.toml", "limits.toml")
# What a book of the shop has no use for.
_OF_AN_ENGINE = ("engine.toml", "layout.toml")


def parse_files(files: Mapping[str, str], name: str = "") -> JobFacts:
    """The facts of a job, or of the shop, from the texts of its files.

    Raises
    ------
    BadInput
        A file is missing, or something in one cannot be read; with file and line.
    """
    return _parsed(tuple(files.items()), name)


@lru_cache(maxsize=16)
def _parsed(texts: tuple[tuple[str, str], ...], name: str) -> JobFacts:
    """A folder is read, held against the book and filed by the same texts: they are parsed once."""
    files = dict(texts)
    head = head_of(files)
    _check_all_there(files, name)
    raw, at = _file(files, head)
    engine, engine_faults = (shop_from(raw, at), []) if head == SHOP else engine_from(raw, at)
    _check_zone(engine.timezone, at("timezone"))
    the_layout = _layout(files, head, engine, at)
    sheets = _sheets(files, engine, at)
    hoses = hoses_from(engine, at)
    people, own_powers = people_from(*_file(files, PEOPLE))
    limits_raw, at_limit = _file(files, "limits.toml")
    limits = limits_from(limits_raw, sheets, at_limit, people)
    meters = meters_from(*_file(files, "meters.toml"))
    check_opens(engine.shop_hours, where_in(head, files[head], "shop_hours"))
    torques = _torque_groups(files)
    every_task, why = _tasks(files), _reasons(files)
    given = _came_off_for(files, engine, why)
    # A shop's own sheet has the tasks of every reason.
    unopened = [] if head == SHOP else not_opened(why, given, reasons())
    steps, rules, ending = _run(files, sheets["run"])
    has = engine_has(engine, at, sheets, every_task, is_shop=head == SHOP)
    used, tasks, steps, rules = has.asked(the_layout, (*engine.left_out, *unopened), steps, rules)
    of_job = None if head == SHOP else engine
    faults = {
        head: engine_faults + _unknown_tasks(engine, files) + _unknown_reasons(engine, why),
        "reasons.toml": _reason_faults(why, every_task, sheets),
        "limits.toml": _limit_faults(limits, sheets, torques, of_job, at_limit),
        "meters.toml": [name_fault(one) for one in meters if name_fault(one)],
        PEOPLE: _people_faults(people),
    }
    return JobFacts(
        faults=MappingProxyType({name: tuple(said) for name, said in faults.items() if said}),
        job=engine.job,
        title=raw.get("title", engine.title or engine.job),
        is_shop=head == SHOP,
        engine=MappingProxyType(raw),
        layout=the_layout,
        sheets=MappingProxyType(used),
        other_sheets=has.other_sheets,
        limits=limits,
        meters=MappingProxyType(meters),
        people=MappingProxyType(people),
        thresholds=engine.thresholds,
        timezone_name=engine.timezone,
        inspect=has.inspect,
        accessories=has.accessories,
        hoses=MappingProxyType(hoses),
        tasks=MappingProxyType(_tasks_of(tasks, the_layout, is_shop=head == SHOP)),
        left_out=MappingProxyType(_named(every_task, engine.left_out)),
        parts=MappingProxyType(_held(files, "stock.toml", parts_from)),
        recurring=has.with_due(_held(files, "recurring.toml", recurring_from)),
        reasons=MappingProxyType(why),
        came_off_for=given,
        run_steps=steps,
        run_rules=rules,
        shut_down=ending,
        torque_groups=MappingProxyType(torques),
        powers=powers() if own_powers is None else own_powers,
        shop=engine.shop_hours,
    )


def _came_off_for(
    files: Mapping[str, str], engine: Engine, why: Mapping[str, Reason]
) -> tuple[str, ...]:
    # A job from before there were reasons goes on as it began: what it is for opens nothing.
    purpose = engine.purpose if "reasons.toml" in files else ""
    return tuple(one for one in (purpose, *engine.also_for) if one in why)


def _tasks_of(tasks: Mapping[str, Task], layout: Layout, *, is_shop: bool) -> dict[str, Task]:
    # The shop's own book has no engine to count by, and keeps what the sheet says.
    found = for_layout(tasks, locks=bool(layout.locks))
    return found if is_shop else counted_for(found, layout)


def _named(tasks: Mapping[str, Task], names: Iterable[str]) -> dict[str, Task]:
    return {name: tasks[name] for name in names if name in tasks}


def _limit_faults(
    limits: tuple[Limit, ...],
    sheets: Mapping[str, CheckSheet],
    torques: Mapping[str, TorqueGroup],
    engine: Engine | None,
    at_limit: Where,
) -> list[str]:
    carded = {group.limit for group in torques.values()}
    model = engine.engine if engine is not None else None
    return [
        f"{at_limit('limit', number, key)}: {said}"
        for number, key, said in limit_faults(limits, sheets, carded, model)
    ]


def _people_faults(people: Mapping[str, Person]) -> list[str]:
    names = [name_fault(one) for one in people if name_fault(one)]
    return [*names, *(f"{PEOPLE}: {said}" for said in same_person_faults(people))]


def _layout(files: Mapping[str, str], head: str, engine: Engine, at: Where) -> Layout:
    if head == SHOP:
        return NO_LAYOUT
    if "layout.toml" in files:
        return layout_from(*_file(files, "layout.toml"))
    return layout(engine.layout, at("layout"))


def head_of(files: Container[str]) -> str:
    """The file that says whose book it is: a job's, or the shop's."""
    return SHOP if SHOP in files else "engine.toml"


def is_whole(files: Container[str]) -> bool:
    """Whether no file is missing that a job or a shop must have."""
    return all(one in files for one in (head_of(files), *REQUIRED[1:]))


def _check_all_there(files: Mapping[str, str], folder: str) -> None:
    if SHOP in files:
        for odd in _OF_AN_ENGINE:
            if odd in files:
                raise BadInput(
                    f"The folder has {SHOP} and {odd}: it is a shop's or a job's, not both. Take "
                    "one of them out.",
                    folder,
                )
    for required in (head_of(files), *REQUIRED[1:]):
        if required not in files:
            raise BadInput(
                f"The folder has no {required}. A job folder has {', '.join(REQUIRED)} and {BOOK}. "
                "If it was half copied, copy it again.",
                folder,
            )


def _file(files: Mapping[str, str], name: str) -> tuple[dict[str, Any], Where]:
    """A file as plain values, and what says of a key which line it stands in."""
    return read_toml(name, files[name]), where_in(name, files[name])


def _check_zone(zone: str, where: str) -> None:
    try:
        ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise BadInput(
            f'"{zone[:60]}" is not a time zone. Write one as in America/Chicago or UTC.', where
        ) from None


def _sheets(files: Mapping[str, str], engine: Engine, at: Where) -> dict[str, CheckSheet]:
    """The shipped check sheets with the job's own in its place."""
    sheets = dict(check_sheets())
    if "checks.toml" in files:
        own = sheet_from(*_file(files, "checks.toml"))
        sheets[own.item] = own
    for kind in engine.inspect:
        if kind not in sheets:
            raise BadInput(
                f'There is no check sheet for "{kind}". There are sheets for {", ".join(sheets)}.',
                at("inspect"),
            )
    return sheets


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
    return taken(*_file(files, name))


def _tasks(files: Mapping[str, str]) -> dict[str, Task]:
    """The shipped tasks with the job's own laid over them."""
    shipped = dict(task_sheet())
    if "tasks.toml" not in files:
        return shipped
    return tasks_from(*_file(files, "tasks.toml"), shipped=shipped)


def _unknown_tasks(engine: Engine, files: Mapping[str, str]) -> list[str]:
    """What is left out and is no task, of the shipped sheet or of the job's own."""
    own = read_toml("tasks.toml", files["tasks.toml"]) if "tasks.toml" in files else {}
    known = {*task_sheet(), *(str(one.get("id")) for one in own.get("task", []))}
    return [
        f'"{one}" is left out and is no task of this job. Write its number, as in C4.'
        for one in engine.left_out
        if one not in known
    ]


def _reasons(files: Mapping[str, str]) -> dict[str, Reason]:
    """The shipped reasons to come off with the job's own laid over them."""
    if "reasons.toml" not in files:
        return dict(reasons())
    return reasons_from(*_file(files, "reasons.toml"), reasons())


def _unknown_reasons(engine: Engine, known: Mapping[str, Reason]) -> list[str]:
    return [
        f'"{one}" is no reason on file to come off. There are {", ".join(known)}.'
        for one in engine.also_for
        if one not in known
    ]


def _reason_faults(
    why: Mapping[str, Reason], tasks: Mapping[str, Task], sheets: Mapping[str, CheckSheet]
) -> list[str]:
    """What reasons name and is nowhere: a task, or a kind of item."""
    return [
        f'"{name}" names {what} "{one}", which is not on file.'
        for name, reason in why.items()
        for what, ones, known in (
            ("task", (*reason.tasks, *reason.left_out), {*tasks, *task_sheet()}),
            ("kind of item", reason.kinds, sheets),
        )
        for one in ones
        if one not in known
    ]


def _run(
    files: Mapping[str, str], sheet: CheckSheet
) -> tuple[tuple[Step, ...], RunRules, ShutDown]:
    """The walk through a run, what is asked of it and how it is shut down; as shipped where left out."""
    if "run.toml" not in files:
        return run_steps(), run_rules(), shut_down()
    raw, where = _file(files, "run.toml")
    file = read(RunFile, raw, where)
    if file.step is not None:
        check_steps(file.step, sheet, where)
    rules = rules_of(file, sheet, where, run_rules())
    return file.step or run_steps(), rules, file.shut_down or shut_down()


def _torque_groups(files: Mapping[str, str]) -> dict[str, TorqueGroup]:
    """The shipped groups of fasteners with the job's own laid over them."""
    shipped = dict(torque_groups())
    if "torque.toml" not in files:
        return shipped
    raw, where = _file(files, "torque.toml")
    found = groups_from(raw, where, shipped)
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
        if not is_a(entry, Filed):
            continue
        name = entry.fields.file
        if moment is not None and name in _OF_THE_DAY and name in filed and entry.at > moment:
            continue
        filed[name] = entry.fields.text
    held = {**filed, **files} | {name: filed[name] for name in _OF_THE_DAY if name in filed}
    return {name: held[name] for name in FACT_FILES if name in held}
