"""Tasks that are no part of a job: taken out of its sheet, by it, or by its layout."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rehang.trade.facts.tasks import Task

__all__ = ["for_layout", "leave_out", "unasked", "without"]


def leave_out(name: str, found: dict[str, Task]) -> None:
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


def without(tasks: Mapping[str, Task], names: Iterable[str]) -> dict[str, Task]:
    """The tasks but for those named; what needed one of them then needs what it needed."""
    found = dict(tasks)
    for name in names:
        if name in found:
            leave_out(name, found)
    return found


def for_layout(tasks: Mapping[str, Task], *, locks: bool) -> dict[str, Task]:
    """The tasks that a layout asks for: those that clear hydraulic lock only where oil locks it."""
    return unasked(tasks, {task.id for task in tasks.values() if task.clears_lock and not locks})


def unasked(tasks: Mapping[str, Task], gone: Collection[str]) -> dict[str, Task]:
    """The tasks but for those that were never part of this work.

    Unlike a task that a sheet leaves out, nothing takes the place of one.
    """
    return {
        task.id: replace(
            task,
            needs=tuple(need for need in task.needs if need not in gone),
            late_after=tuple(one for one in task.late_after if one not in gone),
        )
        for task in tasks.values()
        if task.id not in gone
    }
