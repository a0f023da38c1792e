"""What a job calls the people, parts, tasks and items that its entries name by their keys."""

from __future__ import annotations

from dataclasses import dataclass

from rehang.trade.facts.accessories import KINDS, accessory_words
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.state import item_kind, item_name
from rehang.trade.terms.wording import upper_first

__all__ = ["JobNames", "item_label"]


@dataclass(frozen=True, slots=True)
class JobNames:
    """The names that a job's facts have; the key itself where they have none."""

    facts: JobFacts

    def person(self, key: str) -> str:
        return self.facts.person(key)

    def part(self, name: str) -> str:
        return self.facts.part_name(name)

    def task(self, name: str, place: str) -> str:
        """A task by its title, and the place; its id where the sheet has it no more."""
        task = self.facts.tasks.get(name)
        title = task.title if task is not None else f"Task {name}"
        if not place:
            return title
        for_each = f"{task.for_each} " if task is not None and task.for_each else ""
        return f"{title}, {for_each}{place}"


def item_label(facts: JobFacts, item_id: str) -> str:
    """An item as people say it: ``Cylinder 3``, ``Plug K0411``, ``Oil filter``, ``Muffler``."""
    kind, name = item_kind(item_id), item_name(item_id)
    sheet = facts.sheets.get(kind)
    if kind == "plug":
        return f"Plug {name}"
    if kind in KINDS:
        return upper_first(accessory_words(kind, name))
    if sheet is None:
        return f"{kind.capitalize()} {name}"
    if sheet.one_for == "name" and name in sheet.names:
        return sheet.title if len(sheet.names) == 1 else f"{sheet.title}: {name}"
    return f"{sheet.title} {name}"
