"""What can be looked for in a job, and which of it has the words that were asked for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import limit_words
from rehang.trade.job.judging import JudgedJob
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.lookalikes import as_it_looks
from rehang.trade.terms.wording import listed
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.work.names import item_label

__all__ = ["KINDS", "LONGEST", "Findable", "asked_words", "find", "findable"]

# In the order of a list of all that was found.
KINDS = ("item", "task", "document", "limit", "meter", "person", "due", "part", "engine")
# Longer than any serial, task or name; who pastes a page is told.
LONGEST = 60


@dataclass(frozen=True, slots=True)
class Findable:
    """One thing of a job.

    ``key`` is what it is called exactly (a serial, the letters of a task), ``target`` names its
    page within its kind. ``status`` is its verdict or state, empty where it has none. ``text`` is
    all that it is looked for by, ``called`` its key and its words, all folded.
    """

    kind: str
    key: str
    words: str
    detail: str
    target: str
    status: str
    text: str
    called: tuple[str, str]


def findable(judged: JudgedJob) -> tuple[Findable, ...]:
    """All that can be looked for in a job, kind by kind."""
    facts = judged.facts
    # The shop has no engine: no part of one, and no work on it.
    tasks = {} if facts.is_shop else judged.work.tasks
    return (
        *([] if facts.is_shop else _items(judged)),
        *(
            _one("task", name, f"{name} {one.task.title}", one.task.stage, name, one.state)
            for name, one in tasks.items()
        ),
        *_limits(facts),
        *_documents(facts),
        *(
            _one("meter", one.id, f"{one.id} {one.name}", one.kind, one.id)
            for one in facts.meters.values()
        ),
        *(
            _one("person", one.key, one.name, one.role, one.key, more=_numbers(one.papers))
            for one in facts.people.values()
        ),
        *(
            _one("due", one.id, one.title, one.sentence, one.id, more=f"{one.source} {one.kind}")
            for one in judged.due
        ),
        *(
            _one("part", one.id, f"{one.name}, {one.id}", one.supplier, one.id)
            for one in facts.parts.values()
        ),
        *([] if facts.is_shop else [_engine(facts)]),
    )


def asked_words(asked: str) -> list[str]:
    """The words that were asked for, folded.

    Raises
    ------
    BadInput
        Nothing was asked for, or more than a name.
    """
    words = _folded(asked).split()
    if not words:
        raise BadInput("Type a serial, a task, a name or any word.")
    if len(asked) > LONGEST:
        raise BadInput(
            f"That is {len(asked)} characters long. Type {LONGEST} at most: a serial, a task, a name."
        )
    return words


def find(rows: Iterable[Findable], words: list[str]) -> list[Findable]:
    """The things with every word somewhere in them: those called just that first."""
    found = [row for row in rows if all(word in row.text for word in words)]
    return sorted(found, key=lambda row: _rank(row, words))


def _rank(row: Findable, words: list[str]) -> int:
    (key, title), asked = row.called, " ".join(words)
    if asked in row.called:
        return 0
    if key.startswith(asked):
        return 1
    if title.startswith(asked):
        return 2
    return 3 if all(word in title for word in words) else 4


def _folded(text: str) -> str:
    return as_it_looks(text).casefold()


def _one(
    kind: str, key: str, words: str, detail: str, target: str, status: str = "", more: str = ""
) -> Findable:
    text = _folded(f"{key} {words} {detail} {more}")
    called = (_folded(key), _folded(words.strip()))
    return Findable(kind, key, words.strip(), detail.strip(), target, status, text, called)


def _items(judged: JudgedJob) -> Iterator[Findable]:
    serials: dict[str, str] = {}
    for place in judged.places:
        if place.item and place.serial:
            serials[place.item] = place.serial
    for one in judged.items:
        serial = serials.get(one.item, "")
        words = item_label(judged.facts, one.item)
        yield _one(
            "item",
            one.name,
            words,
            _where(one, serial),
            one.item,
            one.verdict,
            f"{one.kind} {serial}",
        )


def _where(one: ItemVerdict, serial: str) -> str:
    """Where an item is, or came out of, and its serial where it has another name."""
    place = one.place or one.state.came_out_of
    said = [f"hole {place}" if one.kind == "plug" and place else place]
    said.append(serial if serial != one.name else "")
    if one.state.disposed:
        said.append("put away")
    return ", ".join(part for part in said if part)


def _limits(facts: JobFacts) -> Iterator[Findable]:
    groups = {one.limit: one.title for one in facts.torque_groups.values()}
    for number, one in enumerate(facts.limits):
        sheet = facts.sheets.get(one.item)
        check = next((c for c in sheet.checks if c.name == one.check), None) if sheet else None
        part = f"{sheet.title}, " if sheet is not None and check is not None else ""
        label = check.label if check is not None else groups.get(one.check, one.check)
        wants = [value for value in one.wants.values() if value]
        words = f"{part}{label}: {', '.join([limit_words(one), *wants])}"
        detail = _source(one.document, one.revision, one.page)
        yield _one("limit", one.check, words, detail, str(number), more=f"{one.item} {one.note}")


def _documents(facts: JobFacts) -> Iterator[Findable]:
    counted: dict[tuple[str, str], int] = {}
    for one in facts.limits:
        if one.document.strip():
            key = (one.document.strip(), one.revision)
            counted[key] = counted.get(key, 0) + 1
    for (document, revision), number in counted.items():
        said = f"{number} limit{'' if number == 1 else 's'}"
        yield _one("document", document, _source(document, revision), said, document)


def _source(document: str, revision: str, page: str = "") -> str:
    if not document.strip():
        return "no document"
    rest = [f"rev {revision}" if revision else "", f"page {page}" if page else ""]
    return ", ".join(part for part in (document.strip(), *rest) if part)


def _numbers(papers: Iterable[object]) -> str:
    return " ".join(str(getattr(one, "number", "")) for one in papers)


def _engine(facts: JobFacts) -> Findable:
    table = facts.engine
    serial = str(table.get("serial", "") or facts.job)
    off = str(table.get("registration", "") or "")
    detail = listed([part for part in (facts.title, f"off {off}" if off else "") if part])
    more = " ".join((facts.job, *_texts(table)))
    return _one("engine", serial, f"Engine {serial}", detail, serial, more=more)


def _texts(value: object) -> Iterator[str]:
    """The texts of a table, wherever they stand: models, serials, the owner, the airframe."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for one in value.values():
            yield from _texts(one)
    elif isinstance(value, (list, tuple)):
        for one in value:
            yield from _texts(one)
