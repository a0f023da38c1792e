"""Task sheets: the work of hanging an engine again, as data a mechanic may copy and change."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Annotated, Any, ClassVar

from pydantic import Field

from rehang.trade.declared.taken import Where, faults_in, inside, read, tables
from rehang.trade.declared.values import (
    LENIENT,
    STRICT,
    Flag,
    ListOf,
    NotInFile,
    Number,
    OneOf,
    Text,
    Whole,
    unfit,
)
from rehang.trade.facts.items import CheckSheet
from rehang.trade.facts.parts import Part
from rehang.trade.facts.task_takes import Tool, Use
from rehang.trade.facts.tasks_out import leave_out
from rehang.trade.terms.errors import BadInput

__all__ = [
    "Task",
    "TasksFile",
    "name_faults",
    "sheet_faults",
    "shop_faults",
    "tasks_from",
]

# What a task may be done for one by one; each is counted by the layout or by the items of a kind.
FOR_EACH = ("", "hole", "cylinder", "plug", "lead", "magneto", "hose")
# When the second person looks: at finished work, or at work that then goes on.
HOLD_WHEN = ("done", "started")
# Kinds of entry about an item that may show that work on it is done; reworks may too.
# "signed" is of a record: ``["maintenance", "signed"]``.
# "fitted" and "counted_out" are of the place: ``["plug", "fitted"]``, ``["blank", "counted_out"]``.
ACT_ENTRIES = (
    "removed",
    "seen",
    "sampled",
    "counted",
    "counted_out",
    "fitted",
    "disposed",
    "signed",
)


_TEXT = '"{key}" of {id} is {given}. Write it in quotes.'
_TEXTS = '"{key}" of {id} is a list of texts in quotes, as in ["A1", "A2"].'
_ANSWERS = '"answers" of {id} is a list of pairs, as in [["cylinder", "compression"]].'
_ACTS = '"acts" of {id} is a list of pairs, as in [["plug", "clean"]].'
_MINUTES = (
    "The minutes of {id} are {list}. Write least, likely and most, none below 0 and each at least "
    "the one before, as in [15, 25, 45]."
)


def _said(description: str = "", **more: Any) -> Text:
    return Text(description, mistyped=_TEXT, **more)


def _texts(description: str = "", item: str = "") -> ListOf:
    return ListOf(Text(item, mistyped=_TEXTS), description, mistyped=_TEXTS)


def _pairs(description: str, words: str) -> ListOf:
    pair = ListOf(Text(mistyped=words), least=2, most=2, wrong=words, mistyped=words)
    return ListOf(pair, description, mistyped=words)


def _least(least: int, description: str = "") -> Whole:
    words = f'"{{key}}" of {{id}} is {{given}}. Write a whole number of {least} or more.'
    return Whole(least, description=description, wrong=words, mistyped=words)


def _one_of(options: tuple[str, ...]) -> OneOf:
    words = '"{key}" of {id} is "{given}". Write one of {options}.'
    return OneOf(options, wrong=words, mistyped=words)


def _rising(minutes: list[float]) -> tuple[float, ...]:
    if not 0 <= minutes[0] <= minutes[1] <= minutes[2]:
        raise unfit()
    return tuple(minutes)


def _or_screw(text: str) -> str:
    return text or "screw"


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One piece of work.

    Where ``answers`` and ``acts`` are empty and there are no fasteners, a person says that a place
    is done. ``needs`` are tasks that have to be done before it; of ``late_after`` it is left so by
    choice, and ``late`` says why. ``order`` is its place in the sheet.
    """

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "A task"

    id: Annotated[str, Text(needed=True), Field(title="Task number")]
    title: Annotated[str, Text(), Field(title="Task")] = ""
    how: Annotated[str, _said("A line about the doing of it.")] = ""
    stage: Annotated[str, _said()] = ""
    needs: Annotated[
        tuple[str, ...],
        _texts("What has to be done before it.", "Id of a task."),
        Field(title="Has to be done first"),
    ] = ()
    kinds: Annotated[
        tuple[str, ...],
        _texts("Part of a job only where it looks at one of these kinds of item.", "Kind of item."),
        Field(title="Only with these kinds"),
    ] = ()
    for_each: Annotated[str, _one_of(FOR_EACH), Field(title="Done for each")] = ""
    when_off: Annotated[
        bool,
        Flag("Part of a job for the cylinders that came off in it, and for no other."),
        Field(title="For cylinders that came off"),
    ] = False
    only: Annotated[
        tuple[str, ...],
        _texts("Places that it is done at, where it is not done at all of them.", "A place."),
        Field(title="Only at"),
    ] = ()
    steps: Annotated[
        tuple[str, ...],
        _texts("What is done one after another.", "A step."),
        Field(title="Steps"),
    ] = ()
    fasteners: Annotated[
        int, _least(0, "How many each place has."), Field(title="Fasteners at each place")
    ] = 0
    fastener: Annotated[
        str,
        _said("What one is called, as in screw.", parse=_or_screw),
        Field(title="What one is called"),
    ] = "screw"
    answers: Annotated[
        tuple[tuple[str, str], ...],
        _pairs("Item kind and check whose answer shows that a place is done.", _ANSWERS),
        Field(title="Readings that show it done"),
    ] = ()
    acts: Annotated[
        tuple[tuple[str, str], ...],
        _pairs("Item kind and rework, or kind of line in the book, that shows it.", _ACTS),
        Field(title="Work that shows it done"),
    ] = ()
    minutes: Annotated[
        tuple[float, float, float],
        ListOf(
            Number(mistyped=_MINUTES),
            "Least, likely and most for one competent person.",
            least=3,
            most=3,
            into=_rising,
            wrong=_MINUTES,
            mistyped=_MINUTES,
        ),
        Field(title="Minutes: least, likely, most"),
    ] = (0.0, 0.0, 0.0)
    minutes_for: Annotated[
        int,
        _least(0, "How many places they are for; 0 for the whole task."),
        Field(title="Minutes are for so many places"),
    ] = 0
    hands: Annotated[int, _least(1)] = 1
    undone_by: Annotated[
        tuple[str, ...],
        _texts(
            "Kinds of part. One that comes out or goes in at a place undoes the place; any work on one "
            "asks for its second look again.",
            "Kind of item.",
        ),
        Field(title="Undone by work on"),
    ] = ()
    hold: Annotated[
        str,
        _said("What a second person looks at before work goes on."),
        Field(title="A second person looks at"),
    ] = ""
    hold_when: Annotated[str, _one_of(HOLD_WHEN), Field(title="They look when it is")] = "done"
    tools: Annotated[tuple[Tool, ...], ListOf(Tool), Field(alias="tool", title="Tools")] = ()
    uses: Annotated[tuple[Use, ...], ListOf(Use), Field(alias="use", title="Parts it uses")] = ()
    cautions: Annotated[tuple[str, ...], _texts()] = ()
    late: Annotated[
        str, _said("Why it is left late on purpose."), Field(title="Why it is left late")
    ] = ""
    late_after: Annotated[
        tuple[str, ...],
        _texts("What it waits for by that choice.", "Id of a task."),
        Field(title="Waits by choice for"),
    ] = ()
    after_hours: Annotated[
        float,
        Number(0, 10_000, "Hours on the clock once it is done."),
        Field(title="Hours on the clock after it"),
    ] = 0.0
    in_one_go: Annotated[bool, Flag("Not left overnight."), Field(title="Done in one go")] = False
    offered: Annotated[bool, Flag("Does not block."), Field(title="Only offered")] = False
    stand: Annotated[bool, Flag(), Field(title="Needs the stand")] = False
    hoist: Annotated[bool, Flag(), Field(title="Needs the hoist")] = False
    counts_in: Annotated[
        bool, Flag("Not done before every count is zero."), Field(title="Every count at zero first")
    ] = False
    run: Annotated[
        int,
        _least(0, "Which ground run it is: not done before so many are on file."),
        Field(title="Which ground run"),
    ] = 0
    clears_lock: Annotated[
        bool,
        Flag("Clears hydraulic lock; left out where the layout has none."),
        Field(title="Clears hydraulic lock"),
    ] = False
    source: Annotated[str, _said(), Field(title="Where it is from")] = ""
    leave_out: Annotated[
        bool, Flag("Take the shipped task out."), Field(title="Leave this task out")
    ] = False
    order: Annotated[int, NotInFile()] = 0

    @property
    def before(self) -> tuple[str, ...]:
        """Everything that has to be done before it, by need or by choice."""
        return (*self.needs, *(one for one in self.late_after if one not in self.needs))

    @property
    def is_record(self) -> bool:
        """Whether it is the record itself, which comes after all else and holds nothing up."""
        return any(act == "signed" for _, act in self.acts)

    def minutes_with(self, places: int) -> tuple[float, float, float]:
        """Least, likely and most for a job that has so many of its places."""
        share = places / self.minutes_for if self.minutes_for else 1.0
        least, likely, most = self.minutes
        return least * share, likely * share, most * share


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetHead:
    """``[sheet]`` of a task sheet: what it is called and where it is from."""

    __pydantic_config__ = LENIENT

    name: Annotated[str, Text()] = ""
    source: Annotated[str, Text(), Field(title="Where it is from")] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TasksFile:
    """``tasks.toml``."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "A task sheet"
    __words__: ClassVar[str] = "Tasks that are laid over the shipped ones."

    sheet: Annotated[SheetHead, Field(title="The task sheet")] = SheetHead()
    task: Annotated[tuple[Task, ...], ListOf(Task)] = ()


def tasks_from(
    raw: Mapping[str, Any],
    where: Where = lambda *keys: "",
    *,
    shipped: Mapping[str, Task] | None = None,
) -> dict[str, Task]:
    """The tasks of a sheet, laid over the shipped ones where they are given.

    A task with a known id replaces the shipped one whole; ``leave_out = true`` takes it out, and
    what needed it then needs what it needed.

    Raises
    ------
    BadInput
        The first thing that is wrong with it (:func:`sheet_faults` gives all).
    """
    found, faults = sheet_faults(raw, where, shipped=shipped)
    if faults:
        raise faults[0]
    return found


def sheet_faults(
    raw: Mapping[str, Any],
    where: Where = lambda *keys: "",
    *,
    shipped: Mapping[str, Task] | None = None,
) -> tuple[dict[str, Task], list[BadInput]]:
    """The tasks of a sheet that can be read, and all that is wrong with it."""
    found, faults = _read(raw, where, shipped or {})
    return found, faults + _contradictions(found, _places(raw, where))


def _places(raw: Mapping[str, Any], where: Where) -> Callable[[str, str], str]:
    """Where the file writes down a key of a task; the file's own place for a shipped task."""
    listed = raw.get("task", [])
    number_of = {
        str(one.get("id", "")): number
        for number, one in enumerate(listed if isinstance(listed, list) else [])
        if isinstance(one, dict)
    }

    def place(task: str, key: str) -> str:
        return where("task", number_of[task], key) if task in number_of else where()

    return place


def _read(
    raw: Mapping[str, Any], where: Where, shipped: Mapping[str, Task]
) -> tuple[dict[str, Task], list[BadInput]]:
    found = dict(shipped)
    seen: set[str] = set()
    faults = [
        BadInput(fault.sentence, where(*fault.path))
        # Without the tasks: they are read one by one below, so that one fault hides no other.
        for fault in faults_in(TasksFile, {**raw, "task": []})
    ]
    order = max((task.order for task in found.values()), default=-1) + 1
    for number, one in enumerate(tables("task", raw, where)):
        place = inside(where, "task", number)
        try:
            name = str(one.get("id", ""))
            if name in seen:
                raise BadInput(f'There are two tasks "{name}". Give each its own id.', place("id"))
            seen.add(name)
            task = read(Task, one, place)
            if task.leave_out:
                if name not in found:
                    raise BadInput(
                        f'"{name}" is left out and is not a shipped task.', place("leave_out")
                    )
                leave_out(name, found)
                continue
            _check_task(task, one, place)
            # In the place of a shipped task it keeps that one's place in the sheet.
            task = replace(task, order=found[name].order if name in found else order)
            order = max(order, task.order + 1)
            found[name] = task
        except BadInput as fault:
            faults.append(fault)
    return found, faults


def _check_task(task: Task, raw: Mapping[str, Any], where: Where) -> None:
    """Refuse a task that lacks what goes with what it says."""
    if not task.title.strip():
        raise BadInput('A task needs "title".', where("title"))
    if "minutes" not in raw:
        raise BadInput(_MINUTES.format(id=task.id, list=[]), where("minutes"))
    if raw.get("hold_when") and not task.hold:
        raise BadInput(
            f"{task.id} has hold_when and no hold. Write what is looked at.", where("hold")
        )
    if task.when_off and task.for_each != "cylinder":
        raise BadInput(
            f'{task.id} is for cylinders that came off. Write for_each = "cylinder" with it.',
            where("when_off"),
        )
    if task.only and not task.for_each:
        raise BadInput(
            f"{task.id} is done only at {', '.join(task.only)}. Write what these are in "
            '"for_each", as in "cylinder".',
            where("only"),
        )
    for use in task.uses:
        if use.each and use.per:
            raise BadInput(
                f"What {task.id} uses of {use.part} is for each place and per {use.per} of the engine. "
                "Write one of each and per.",
                where("use"),
            )
    # Whoever finds it not done has to read that it is so on purpose.
    if task.late_after and not task.late:
        raise BadInput(
            f'{task.id} waits for {", ".join(task.late_after)} by choice. Write why in "late".',
            where("late_after"),
        )


def _contradictions(tasks: Mapping[str, Task], place: Callable[[str, str], str]) -> list[BadInput]:
    """What a set of tasks says against itself: unknown needs, rounds, what can never be reached."""
    faults: list[BadInput] = []
    stuck: set[str] = set()
    for task in tasks.values():
        for need in task.before:
            key = "needs" if need in task.needs else "late_after"
            if need == task.id:
                faults.append(BadInput(f"{task.id} needs itself.", place(task.id, key)))
                stuck.add(task.id)
            elif need not in tasks:
                faults.append(
                    BadInput(
                        f'{task.id} needs "{need}", which is not a task of the sheet.',
                        place(task.id, key),
                    )
                )
                stuck.add(task.id)
    for loop in _rounds(tasks):
        chain = " needs ".join([*loop, loop[0]])
        faults.append(
            BadInput(
                f"The tasks go round: {chain}. Take one of these needs out.",
                place(loop[0], "needs"),
            )
        )
        stuck.update(loop)
    behind = _behind(stuck, tasks)
    if behind:
        faults.append(
            BadInput(
                f"{', '.join(behind)} can never be reached: what {_it(behind)} "
                f"for is {', '.join(name for name in tasks if name in stuck)}.",
                place(behind[0], "needs"),
            )
        )
    return faults


def _it(names: list[str]) -> str:
    return "it waits" if len(names) == 1 else "they wait"


def _rounds(tasks: Mapping[str, Task]) -> list[list[str]]:
    """Rounds of needs, each task needing the one after it; each task is in one of them at most."""
    done: set[str] = set()
    loops: list[list[str]] = []
    for start in tasks:
        # Each step of the walk with the needs it has still to follow.
        path: list[str] = []
        left: list[list[str]] = []

        # Bound as they are now: at the next start the names mean other lists.
        def step(name: str, path: list[str] = path, left: list[list[str]] = left) -> None:
            path.append(name)
            left.append([n for n in tasks[name].before if n in tasks and n != name])

        if start not in done:
            step(start)
        while path:
            if not left[-1]:
                done.add(path.pop())
                left.pop()
                continue
            need = left[-1].pop(0)
            if need in path:
                loops.append(path[path.index(need) :])
                done.update(loops[-1])
            elif need not in done:
                step(need)
    return loops


def _behind(stuck: set[str], tasks: Mapping[str, Task]) -> list[str]:
    """The tasks that need a stuck one, one after another."""
    reached = set(stuck)
    while True:
        more = {
            task.id
            for task in tasks.values()
            if task.id not in reached and reached & set(task.before)
        }
        if not more:
            return [name for name in tasks if name in reached and name not in stuck]
        reached |= more


def name_faults(
    tasks: Mapping[str, Task],
    sheets: Mapping[str, CheckSheet],
    raw: Mapping[str, Any],
    where: Where,
) -> list[BadInput]:
    """Item kinds, checks and acts that a sheet names and that no check sheet has."""
    place = _places(raw, where)
    faults = []
    for task in tasks.values():
        for kind, check in task.answers:
            known = [one.name for one in sheets[kind].checks] if kind in sheets else []
            if check not in known:
                faults.append(
                    BadInput(
                        f'{task.id} is answered by "{check}" of "{kind}". '
                        + (
                            f"The checks of a {kind} are {', '.join(known)}."
                            if known
                            else f"There are check sheets for {', '.join(sheets)}."
                        ),
                        place(task.id, "answers"),
                    )
                )
        for kind, act in task.acts:
            reworks = list(sheets[kind].reworks) if kind in sheets else []
            if act not in (*ACT_ENTRIES, *reworks):
                faults.append(
                    BadInput(
                        f'{task.id} is shown by "{act}" of "{kind}". Write one of '
                        f"{', '.join([*ACT_ENTRIES, *reworks])}.",
                        place(task.id, "acts"),
                    )
                )
    return faults


def shop_faults(
    tasks: Mapping[str, Task],
    *,
    writers: int,
    lookers: int,
    parts: Mapping[str, Part],
    has_meter: Callable[[str], bool],
    raw: Mapping[str, Any],
    where: Where,
) -> list[BadInput]:
    """What a sheet asks for that the shop of a job does not have: people, parts, meters.

    ``writers`` is how many write in the book and ``lookers`` how many of them may give a second
    look. Parts are looked for only where the job has a list of them.
    """
    place = _places(raw, where)
    faults = []
    for task in tasks.values():
        if task.hands > writers:
            faults.append(
                BadInput(
                    f"{task.id} takes {task.hands} people, and {writers} write in this book.",
                    place(task.id, "hands"),
                )
            )
        # Whoever does the work does not look at it: one looker alone may have done it.
        if task.hold and (writers < 2 or not lookers):
            faults.append(
                BadInput(
                    f"{task.id} asks for a second look and nobody can give it: "
                    f"{writers} {'person writes' if writers == 1 else 'people write'} in this "
                    f"book and {lookers} may look.",
                    place(task.id, "hold"),
                )
            )
        for use in task.uses if parts else ():
            if use.part not in parts:
                faults.append(
                    BadInput(
                        f'{task.id} uses "{use.part}", which is not in the parts list.',
                        place(task.id, "use"),
                    )
                )
        for tool in task.tools:
            if tool.meter and not has_meter(tool.meter):
                faults.append(
                    BadInput(
                        f'{task.id} asks for a meter "{tool.meter}", and none on file '
                        "answers to that name.",
                        place(task.id, "tool"),
                    )
                )
    return faults
