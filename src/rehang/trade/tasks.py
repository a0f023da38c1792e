"""Task sheets: the work of hanging an engine again, as data a mechanic may copy and change."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from rehang.trade.errors import BadInput

__all__ = ["FOR_EACH", "Task", "Tool", "Use", "task_faults", "tasks_from"]

Where = Callable[..., str]
# What a task may be done for one by one; each is counted by the layout or by the items of a kind.
FOR_EACH = ("", "hole", "cylinder", "plug", "lead", "magneto", "hose")


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
    """One piece of work.

    ``needs`` are the tasks that have to be done before it. ``for_each`` names what it is done for
    one by one; ``fasteners`` how many each has. ``answers`` names the check, as ``(item kind,
    check)``, whose answer shows that a place is done; empty where a person says so. ``minutes``
    are least, likely and most for one competent person, all places together. ``hold`` is what a
    second person looks at before work goes on; ``late`` is why it is left late on purpose and
    ``late_after`` the tasks it waits for by that choice. ``after_hours`` runs on the clock once it
    is done (a cure). ``in_one_go`` work is not left overnight. ``offered`` work does not block.
    ``stand`` and ``hoist`` say which of them it takes; ``counts_in`` work is not done before every
    count is back to zero.
    """

    id: str
    title: str
    stage: str
    needs: tuple[str, ...]
    for_each: str
    fasteners: int
    fastener: str
    answers: tuple[tuple[str, str], ...]
    minutes: tuple[float, float, float]
    hands: int
    hold: str
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

    @property
    def before(self) -> tuple[str, ...]:
        """Everything that has to be done before it, by need or by choice."""
        return (*self.needs, *(one for one in self.late_after if one not in self.needs))


_KEYS = {
    "id", "title", "stage", "needs", "for_each", "fasteners", "fastener", "answers", "minutes",
    "hands", "hold", "tool", "use", "cautions", "late", "late_after", "after_hours", "in_one_go",
    "offered", "stand", "hoist", "counts_in", "source", "leave_out",
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

    A task with a known id replaces the shipped one whole; ``leave_out = true`` takes it out.

    Raises
    ------
    BadInput
        The first thing that is wrong with it (:func:`task_faults` gives all).
    """
    found, faults = _read(raw, where, shipped or {})
    faults += task_faults(found, where)
    if faults:
        raise faults[0]
    return found


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
    for number, one in enumerate(raw.get("task", [])):

        def place(*keys: str | int, number: int = number) -> str:
            return where("task", number, *keys)

        try:
            if one.get("id") in seen:
                raise BadInput(
                    f'There are two tasks "{one["id"]}". Give each its own id.', place("id")
                )
            if one.get("leave_out"):
                found.pop(str(one.get("id", "")), None)
            else:
                task = _task(one, place, len(found) if one.get("id") not in found else None, found)
                found[task.id] = task
            seen.add(str(one.get("id", "")))
        except BadInput as fault:
            faults.append(fault)
    return found, faults


def _task(
    raw: Mapping[str, Any], where: Where, order: int | None, known: Mapping[str, Task]
) -> Task:
    for key in raw:
        if key not in _KEYS:
            raise BadInput(f'A task has no "{key}". It has {", ".join(sorted(_KEYS))}.', where(key))
    for key in ("id", "title"):
        if not isinstance(raw.get(key), str) or not raw[key].strip():
            raise BadInput(f'A task needs "{key}".', where(key))
    name = raw["id"]
    minutes = raw.get("minutes", [])
    if (
        not isinstance(minutes, list)
        or len(minutes) != 3
        or any(isinstance(m, bool) or not isinstance(m, (int, float)) for m in minutes)
        or not 0 <= minutes[0] <= minutes[1] <= minutes[2]
    ):
        raise BadInput(
            f"The minutes of {name} are {minutes}. Write least, likely and most, as in [15, 25, 45].",
            where("minutes"),
        )
    hands = raw.get("hands", 1)
    if not isinstance(hands, int) or isinstance(hands, bool) or hands < 1:
        raise BadInput(f"{name} needs {hands} people. Write 1 or more.", where("hands"))
    for_each = raw.get("for_each", "")
    if for_each not in FOR_EACH:
        raise BadInput(
            f'{name} is for each "{for_each}". Write one of {", ".join(FOR_EACH[1:])}.',
            where("for_each"),
        )
    tools = []
    for one in raw.get("tool", []):
        if set(one) - _TOOL_KEYS or not one.get("name"):
            raise BadInput(
                f"A tool of {name} needs a name and may have size, drive and meter.", where("tool")
            )
        tools.append(
            Tool(one["name"], one.get("size", ""), one.get("drive", ""), one.get("meter", ""))
        )
    uses = []
    for one in raw.get("use", []):
        number = one.get("number", 1)
        if set(one) - _USE_KEYS or not one.get("part") or not isinstance(number, int) or number < 1:
            raise BadInput(
                f"What {name} uses needs a part and a number of 1 or more, and may have each.",
                where("use"),
            )
        uses.append(Use(one["part"], number, bool(one.get("each", False))))
    return Task(
        id=name,
        title=raw["title"],
        stage=str(raw.get("stage", "")),
        needs=tuple(raw.get("needs", ())),
        for_each=for_each,
        fasteners=int(raw.get("fasteners", 0)),
        fastener=str(raw.get("fastener", "screw")),
        answers=tuple((pair[0], pair[1]) for pair in raw.get("answers", ())),
        minutes=(float(minutes[0]), float(minutes[1]), float(minutes[2])),
        hands=hands,
        hold=str(raw.get("hold", "")),
        tools=tuple(tools),
        uses=tuple(uses),
        cautions=tuple(raw.get("cautions", ())),
        late=str(raw.get("late", "")),
        late_after=tuple(raw.get("late_after", ())),
        after_hours=float(raw.get("after_hours", 0)),
        in_one_go=bool(raw.get("in_one_go", False)),
        offered=bool(raw.get("offered", False)),
        stand=bool(raw.get("stand", False)),
        hoist=bool(raw.get("hoist", False)),
        counts_in=bool(raw.get("counts_in", False)),
        source=str(raw.get("source", "")),
        order=order if order is not None else known[name].order,
    )


def task_faults(tasks: Mapping[str, Task], where: Where = lambda *keys: "") -> list[BadInput]:
    """All that contradicts itself in a set of tasks: unknown needs, rounds of needs."""
    faults: list[BadInput] = []
    for task in tasks.values():
        for need in task.before:
            if need == task.id:
                faults.append(BadInput(f"{task.id} needs itself.", where()))
            elif need not in tasks:
                faults.append(
                    BadInput(
                        f'{task.id} needs "{need}", which is not a task of the sheet.', where()
                    )
                )
    loop = _round(tasks)
    if loop:
        chain = " needs ".join([*loop, loop[0]])
        faults.append(
            BadInput(f"The tasks go round: {chain}. Take one of these needs out.", where())
        )
    return faults


def _round(tasks: Mapping[str, Task]) -> list[str]:
    """The first round of needs, each needing the one after it; empty when there is none."""
    done: set[str] = set()

    def walk(name: str, path: list[str]) -> list[str]:
        if name in path:
            return path[path.index(name) :]
        if name in done or name not in tasks:
            return []
        for need in tasks[name].before:
            loop = walk(need, [*path, name])
            if loop:
                return loop
        done.add(name)
        return []

    return _first(walk(name, []) for name in tasks)


def _first(loops: Iterable[list[str]]) -> list[str]:
    return next((loop for loop in loops if loop), [])
