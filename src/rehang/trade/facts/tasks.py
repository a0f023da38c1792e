"""Task sheets: the work of hanging an engine again, as data a mechanic may copy and change."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from rehang.trade.facts.items import CheckSheet
from rehang.trade.facts.parts import Part
from rehang.trade.terms.errors import BadInput

__all__ = [
    "ACT_ENTRIES",
    "FOR_EACH",
    "HOLD_WHEN",
    "Task",
    "Tool",
    "Use",
    "for_layout",
    "name_faults",
    "sheet_faults",
    "shop_faults",
    "tasks_from",
]

Where = Callable[..., str]
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


@dataclass(frozen=True, slots=True)
class Tool:
    """A tool with its sizes; ``meter`` is the id of a meter on file, where it is one."""

    name: str
    size: str
    drive: str
    meter: str


@dataclass(frozen=True, slots=True)
class Use:
    """So many of a part; ``each`` of the task's places, or in all."""

    part: str
    number: int
    each: bool


@dataclass(frozen=True, slots=True)
class Task:
    """One piece of work; ``how`` is a line about the doing of it.

    ``needs`` are the tasks that have to be done before it. ``for_each`` names what it is done for
    one by one; ``fasteners`` how many each has. ``answers`` names the checks, as ``(item kind,
    check)``, whose answers show that a place is done, and ``acts`` the reworks or kinds of entry
    that do; where both are empty and there are no fasteners a person says so. ``minutes``
    are least, likely and most for one competent person, for ``minutes_for`` places where that is
    above 0 and for the whole task where it is 0 (:meth:`minutes_with`). ``hold`` is what a
    second person looks at before work goes on, once it is done or, by ``hold_when``, once it is
    started and before it is finished; ``late`` is why it is left late on purpose and
    ``late_after`` the tasks it waits for by that choice. ``after_hours`` runs on the clock once it
    is done (a cure). ``in_one_go`` work is not left overnight. ``offered`` work does not block.
    ``run`` is which ground run it is, 0 where it is none: it is not done before so many are on file.
    ``clears_lock`` work clears hydraulic lock: a layout that oil does not lock has no such task.
    ``stand`` and ``hoist`` say which of them it takes; ``counts_in`` work is not done before every
    count is back to zero.
    """

    id: str
    title: str
    how: str
    stage: str
    needs: tuple[str, ...]
    for_each: str
    fasteners: int
    fastener: str
    answers: tuple[tuple[str, str], ...]
    acts: tuple[tuple[str, str], ...]
    minutes: tuple[float, float, float]
    minutes_for: int
    hands: int
    hold: str
    hold_when: str
    tools: tuple[Tool, ...]
    uses: tuple[Use, ...]
    cautions: tuple[str, ...]
    late: str
    late_after: tuple[str, ...]
    after_hours: float
    in_one_go: bool
    offered: bool
    stand: bool
    hoist: bool
    counts_in: bool
    source: str
    order: int
    run: int = 0
    clears_lock: bool = False

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


_KEYS = {
    "id", "title", "how", "stage", "needs", "for_each", "fasteners", "fastener", "answers", "acts",
    "minutes", "minutes_for", "hands", "hold", "hold_when", "tool", "use", "cautions", "late", "late_after", "after_hours", "in_one_go",
    "offered", "stand", "hoist", "counts_in", "source", "leave_out", "run", "clears_lock",
}  # fmt: skip
_TOOL_KEYS = {"name", "size", "drive", "meter"}
_USE_KEYS = {"part", "number", "each"}


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
    faults: list[BadInput] = []
    seen: set[str] = set()
    for key in raw:
        if key not in ("sheet", "task"):
            faults.append(
                BadInput(f'A task sheet has no "{key}". It has sheet and task.', where(key))
            )
    listed = raw.get("task", [])
    if not isinstance(listed, list):
        return found, [*faults, BadInput("Write each task as [[task]].", where("task"))]
    order = max((task.order for task in found.values()), default=-1) + 1
    for number, one in enumerate(listed):

        def place(*keys: str | int, number: int = number) -> str:
            return where("task", number, *keys)

        try:
            name = str(one.get("id", ""))
            if name in seen:
                raise BadInput(f'There are two tasks "{name}". Give each its own id.', place("id"))
            seen.add(name)
            if one.get("leave_out"):
                if name not in found:
                    raise BadInput(
                        f'"{name}" is left out and is not a shipped task.', place("leave_out")
                    )
                _leave_out(name, found)
                continue
            task = _task(one, place, found[name].order if name in found else order)
            order = max(order, task.order + 1)
            found[name] = task
        except BadInput as fault:
            faults.append(fault)
    return found, faults


def _leave_out(name: str, found: dict[str, Task]) -> None:
    """Take a task out; what needed it then needs what it needed."""
    gone = found.pop(name)

    def without(needs: tuple[str, ...], instead: tuple[str, ...]) -> tuple[str, ...]:
        if name not in needs:
            return needs
        return tuple(dict.fromkeys([*(n for n in needs if n != name), *instead]))

    for task in list(found.values()):
        if name in task.before:
            found[task.id] = replace(
                task,
                needs=without(task.needs, gone.needs),
                late_after=without(task.late_after, gone.late_after),
            )


def for_layout(tasks: Mapping[str, Task], *, locks: bool) -> dict[str, Task]:
    """The tasks that a layout asks for: those that clear hydraulic lock only where oil locks it.

    Unlike a task that a sheet leaves out, nothing takes its place: it was never part of this work.
    """
    gone = {task.id for task in tasks.values() if task.clears_lock and not locks}
    return {
        task.id: replace(
            task,
            needs=tuple(need for need in task.needs if need not in gone),
            late_after=tuple(one for one in task.late_after if one not in gone),
        )
        for task in tasks.values()
        if task.id not in gone
    }


def _task(raw: Mapping[str, Any], where: Where, order: int) -> Task:
    for key in raw:
        if key not in _KEYS:
            raise BadInput(f'A task has no "{key}". It has {", ".join(sorted(_KEYS))}.', where(key))
    for key in ("id", "title"):
        if not isinstance(raw.get(key), str) or not raw[key].strip():
            raise BadInput(f'A task needs "{key}".', where(key))
    name = raw["id"]
    for key, word in (("hands", 1), ("fasteners", 0), ("minutes_for", 0), ("run", 0)):
        given = raw.get(key, word)
        if not isinstance(given, int) or isinstance(given, bool) or given < word:
            raise BadInput(
                f'"{key}" of {name} is {given}. Write a whole number of {word} or more.', where(key)
            )
    for key, words in (("for_each", FOR_EACH), ("hold_when", HOLD_WHEN)):
        given = raw.get(key, words[0])
        if given not in words:
            raise BadInput(
                f'"{key}" of {name} is "{given}". Write one of {", ".join(w for w in words if w)}.',
                where(key),
            )
    after_hours = raw.get("after_hours", 0)
    if not _is_number(after_hours) or after_hours < 0:
        raise BadInput(
            f'"after_hours" of {name} is {after_hours}. Write 0 or more.', where("after_hours")
        )
    if raw.get("hold_when") and not raw.get("hold"):
        raise BadInput(f"{name} has hold_when and no hold. Write what is looked at.", where("hold"))
    if raw.get("late_after") and not raw.get("late"):
        raise BadInput(
            f'{name} waits for {", ".join(raw["late_after"])} by choice. Write why in "late".',
            where("late_after"),
        )
    return Task(
        id=name,
        title=raw["title"],
        how=_text(raw, "how", where),
        stage=_text(raw, "stage", where),
        needs=_texts(raw, "needs", where),
        for_each=raw.get("for_each", ""),
        fasteners=raw.get("fasteners", 0),
        fastener=_text(raw, "fastener", where) or "screw",
        answers=_pairs(raw, "answers", where),
        acts=_pairs(raw, "acts", where),
        minutes=_minutes(raw, where),
        minutes_for=raw.get("minutes_for", 0),
        hands=raw.get("hands", 1),
        hold=_text(raw, "hold", where),
        hold_when=raw.get("hold_when", HOLD_WHEN[0]),
        tools=_tools(raw, where),
        uses=_uses(raw, where),
        cautions=_texts(raw, "cautions", where),
        late=_text(raw, "late", where),
        late_after=_texts(raw, "late_after", where),
        after_hours=float(after_hours),
        in_one_go=bool(raw.get("in_one_go", False)),
        offered=bool(raw.get("offered", False)),
        stand=bool(raw.get("stand", False)),
        hoist=bool(raw.get("hoist", False)),
        counts_in=bool(raw.get("counts_in", False)),
        source=_text(raw, "source", where),
        order=order,
        run=raw.get("run", 0),
        clears_lock=bool(raw.get("clears_lock", False)),
    )


def _is_number(given: object) -> bool:
    return isinstance(given, (int, float)) and not isinstance(given, bool)


def _text(raw: Mapping[str, Any], key: str, where: Where) -> str:
    given = raw.get(key, "")
    if not isinstance(given, str):
        raise BadInput(f'"{key}" of {raw["id"]} is {given}. Write it in quotes.', where(key))
    return given


def _texts(raw: Mapping[str, Any], key: str, where: Where) -> tuple[str, ...]:
    given = raw.get(key, [])
    if not isinstance(given, list) or not all(isinstance(one, str) for one in given):
        raise BadInput(
            f'"{key}" of {raw["id"]} is a list of texts in quotes, as in ["A1", "A2"].', where(key)
        )
    return tuple(given)


def _pairs(raw: Mapping[str, Any], key: str, where: Where) -> tuple[tuple[str, str], ...]:
    given = raw.get(key, [])
    if not isinstance(given, list) or not all(
        isinstance(pair, list) and len(pair) == 2 and all(isinstance(one, str) for one in pair)
        for pair in given
    ):
        example = '["cylinder", "compression"]' if key == "answers" else '["plug", "clean"]'
        raise BadInput(f'"{key}" of {raw["id"]} is a list of pairs, as in [{example}].', where(key))
    return tuple((pair[0], pair[1]) for pair in given)


def _minutes(raw: Mapping[str, Any], where: Where) -> tuple[float, float, float]:
    given = raw.get("minutes", [])
    if (
        not isinstance(given, list)
        or len(given) != 3
        or not all(_is_number(one) for one in given)
        or not 0 <= given[0] <= given[1] <= given[2]
    ):
        raise BadInput(
            f"The minutes of {raw['id']} are {given}. Write least, likely and most, none below 0 "
            "and each at least the one before, as in [15, 25, 45].",
            where("minutes"),
        )
    return float(given[0]), float(given[1]), float(given[2])


def _tools(raw: Mapping[str, Any], where: Where) -> tuple[Tool, ...]:
    tools = []
    for one in raw.get("tool", []):
        if not isinstance(one, dict) or set(one) - _TOOL_KEYS or not one.get("name"):
            raise BadInput(
                f"A tool of {raw['id']} needs a name and may have size, drive and meter.",
                where("tool"),
            )
        tools.append(
            Tool(one["name"], one.get("size", ""), one.get("drive", ""), one.get("meter", ""))
        )
    return tuple(tools)


def _uses(raw: Mapping[str, Any], where: Where) -> tuple[Use, ...]:
    uses = []
    for one in raw.get("use", []):
        number = one.get("number", 1) if isinstance(one, dict) else 0
        if (
            not isinstance(one, dict)
            or set(one) - _USE_KEYS
            or not one.get("part")
            or not isinstance(number, int)
            or isinstance(number, bool)
            or number < 1
        ):
            raise BadInput(
                f"What {raw['id']} uses needs a part and a number of 1 or more, and may have each.",
                where("use"),
            )
        uses.append(Use(one["part"], number, bool(one.get("each", False))))
    return tuple(uses)


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
                        f'{task.id} uses "{use.part}", which is not in stock.toml.',
                        place(task.id, "use"),
                    )
                )
        for tool in task.tools:
            if tool.meter and not has_meter(tool.meter):
                faults.append(
                    BadInput(
                        f'{task.id} asks for a meter "{tool.meter}", and none in meters.toml '
                        "answers to that name.",
                        place(task.id, "tool"),
                    )
                )
    return faults
