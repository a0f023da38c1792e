"""A layout or a task sheet of one's own, with all that is wrong in it."""

from __future__ import annotations

from pathlib import Path

from rehang.sheets import check_sheets, layouts, task_sheet
from rehang.sheets.job_files import FACT_FILES, parse_files
from rehang.sheets.plain import file_text, texts_in
from rehang.sheets.toml_text import read_toml, where_in
from rehang.trade.facts.layout import Layout, layout_faults, layout_from
from rehang.trade.facts.tasks import Task, name_faults, sheet_faults, shop_faults
from rehang.trade.gate.who import lookers
from rehang.trade.terms.errors import BadInput
from rehang.trade.work.todo import meters_for

__all__ = ["read_layout", "read_task_sheet", "shipped_task_text"]


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
    raw = read_toml(path.name, text)
    where = where_in(path.name, text)
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
    raw, where = read_toml(path.name, text), where_in(path.name, text)
    shipped = task_sheet()
    tasks, faults = sheet_faults(raw, where, shipped=shipped)
    sheets = check_sheets()
    remarks: list[str] = []
    if job is not None:
        files = texts_in(job, [name for name in FACT_FILES if name != "tasks.toml"])
        facts = parse_files(files, job.name)
        sheets = facts.every_sheet
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
