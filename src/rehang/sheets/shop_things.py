"""What passes between the shop's own files and the copy of them that a job has.

A thing is told from its fellows by the key of its kind, so it is one and the same in both. Limits and
what recurs are for models at the shop, and for its own engine in a job, where no model is named.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from rehang.sheets.new_job import BY_MODEL, OF_THE_SHOP, shop_copy
from rehang.sheets.things import THINGS, ThingKind, add, put, things_in

__all__ = ["OF_ONE_ENGINE", "Offer", "offers", "passed_on", "taken"]

Plain = dict[str, Any]
# When something was last done is of one engine, and not of its model.
OF_ONE_ENGINE = ("last_on", "last_hours")


@dataclass(frozen=True, slots=True)
class Offer:
    """One thing that the shop has and a job lacks, or has otherwise; ``mine`` is None where it lacks it."""

    kind: ThingKind
    key: str
    mine: Plain | None
    theirs: Plain

    @property
    def changes(self) -> list[tuple[str, Any, Any]]:
        """Each field that differs, with what the job and what the shop has; None on a side without it."""
        mine = self.mine or {}
        keys = dict.fromkeys([*mine, *self.theirs])
        return [
            (k, mine.get(k), self.theirs.get(k)) for k in keys if mine.get(k) != self.theirs.get(k)
        ]


def _kinds() -> Iterable[ThingKind]:
    return (kind for kind in THINGS.values() if kind.file in OF_THE_SHOP)


def _held(texts: Mapping[str, str], kind: ThingKind) -> dict[str, Plain]:
    return things_in(texts[kind.file], kind) if kind.file in texts else {}


def _of_the_shop(thing: Plain) -> Plain:
    return {key: value for key, value in thing.items() if key not in (*OF_ONE_ENGINE, "models")}


def offers(shop: Mapping[str, str], job: Mapping[str, str], model: str) -> list[Offer]:
    """What a job on an engine of that model could take of the shop's, file by file.

    ``shop`` and ``job`` are texts by the names of their files.
    """
    theirs = shop_copy(shop, model)
    found = []
    for kind in _kinds():
        mine = _held(job, kind)
        for key, thing in _held(theirs, kind).items():
            if key not in mine or _of_the_shop(mine[key]) != _of_the_shop(thing):
                found.append(Offer(kind, key, mine.get(key), thing))
    return found


def taken(job: Mapping[str, str], offered: Iterable[Offer]) -> dict[str, str]:
    """The job's files that change when it takes what is offered, with that put in."""
    new: dict[str, str] = {}
    for one in offered:
        text = new.get(one.kind.file, job.get(one.kind.file, ""))
        # When it was last done stays what this engine's own list says.
        kept = {key: value for key, value in (one.mine or {}).items() if key in OF_ONE_ENGINE}
        new[one.kind.file] = put(text, one.kind, one.key, {**one.theirs, **kept})
    return new


def passed_on(
    before: Mapping[str, str], after: Mapping[str, str], shop: Mapping[str, str], model: str
) -> dict[str, str]:
    """The shop's files that change when it takes over what has just been changed in a job.

    ``before`` and ``after`` are the job's texts. A thing that the shop has otherwise than the job had
    it stays as the shop has it: people settle that between them.
    """
    new: dict[str, str] = {}
    for kind in _kinds():
        if before.get(kind.file) == after.get(kind.file):
            continue
        by_model = kind.name == BY_MODEL.get(kind.file)
        if by_model and not model:
            continue
        was, own = _held(before, kind), _held(shop_copy(shop, model), kind)
        for key, thing in _held(after, kind).items():
            said = _of_the_shop(thing)
            known = own.get(key)
            agreed = known is None or (key in was and _of_the_shop(was[key]) == _of_the_shop(known))
            if (
                was.get(key) == thing
                or not agreed
                or (known is not None and _of_the_shop(known) == said)
            ):
                continue
            text = new.get(kind.file, shop.get(kind.file, ""))
            new[kind.file] = _put(text, kind, {**said, "models": [model]} if by_model else said)
    return new


def _put(text: str, kind: ThingKind, thing: Plain) -> str:
    key = kind.key_of(thing)
    if not kind.is_list:
        return put(text, kind, "", thing)
    return put(text, kind, key, thing) if key in things_in(text, kind) else add(text, kind, thing)
