"""``rehang sheet``: what is wrong with a task sheet, or a copy of the shipped one."""

from __future__ import annotations

from pathlib import Path

from rehang.sheets.folder import read_task_sheet, shipped_task_text
from rehang.trade.facts.tasks import Task
from rehang.trade.terms.errors import BadInput

__all__ = ["copy_sheet", "show_sheet"]


def show_sheet(file: Path, job: Path | None) -> int:
    """Print the tasks of a sheet in their order, or all that is wrong with it."""
    tasks, faults, remarks = read_task_sheet(file, job)
    for fault in faults:
        print(fault)
    if faults:
        things = "thing" if len(faults) == 1 else "things"
        print(f"{file}: {len(faults)} {things} to put right.")
        return 1
    print("\n".join(_line(task) for task in tasks.values()))
    for remark in remarks:
        print(f"Worth a look: {remark}")
    print(f"{file}: {len(tasks)} tasks, in order.")
    return 0


def copy_sheet(to: Path) -> int:
    """Write the shipped sheet where someone can change it."""
    if to.exists():
        raise BadInput(f"{to} is there already. Give another name, or move it away.")
    to.write_text(shipped_task_text(), "utf-8")
    print(f"{to} is a copy of the shipped task sheet.")
    return 0


def _line(task: Task) -> str:
    said = [f"{task.minutes[1]:g} min"]
    if task.for_each:
        said.append(f"each {task.for_each}")
    if task.needs:
        said.append(f"after {', '.join(task.needs)}")
    if task.late_after:
        said.append(f"held back until {', '.join(task.late_after)}")
    if task.hands > 1:
        said.append(f"{task.hands} people")
    if task.hold:
        said.append(f"second look at {task.hold}")
    if task.offered:
        said.append("offered")
    return f"{task.id:<4}{task.title}: {'; '.join(said)}"
