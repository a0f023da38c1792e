"""The fold of a job's book by its facts, and the items a job has by them."""

from __future__ import annotations

from collections.abc import Container, Hashable, Iterable, Mapping, Sequence
from datetime import datetime

from rehang.trade.facts.items import Check
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.gate.entry_gate import check_entry, fault_of, is_ahead
from rehang.trade.known.fold import fold
from rehang.trade.known.state import JobState, Taken
from rehang.trade.terms.chain import GENESIS
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.errors import BadInput, Refused
from rehang.trade.verdicts import compression

__all__ = ["expected_items", "fold_job"]


# Verdicts


def expected_items(facts: JobFacts) -> tuple[str, ...]:
    """The items a job has by its facts, those that come out one by one left aside."""
    found: list[str] = []
    for kind in facts.inspect:
        sheet = facts.sheets[kind]
        if not facts.has_for(sheet):
            continue
        names: Sequence[str] = ()
        match sheet.one_for:
            case "cylinder":
                every = [str(c) for c in facts.layout.cylinders]
                names = facts.off if sheet.when_off else every
            case "hole":
                names = facts.layout.walk
            case "magneto":
                names = list(facts.layout.ignition)
            case "hose":
                names = list(facts.hoses)
            case "accessory":
                names = [
                    one.item.partition(":")[2]
                    for one in facts.accessories.values()
                    if one.kind == kind and not one.left_alone
                ]
            case "name":
                names = sheet.names
        found += [f"{kind}:{name}" for name in names]
    return tuple(found)


def _chained(entries: Iterable[Entry]) -> frozenset[str]:
    """The entries, from the first, that stand on one another by their marks."""
    on, ids = GENESIS, []
    for one in entries:
        if not one.hash or one.prev != on:
            break
        on = one.hash
        ids.append(one.id)
    return frozenset(ids)


def _found(facts: JobFacts, by: Hashable) -> dict[str, str]:
    """What is known of the faults of a book; of one that was struck from since, nothing."""
    held = facts.faults_found.get(by)
    if held is None:
        held = {}
        facts.faults_found.clear()
        facts.faults_found[by] = held
    return held


def fold_job(
    facts: JobFacts,
    entries: Iterable[Entry],
    now: datetime | None = None,
    where: Mapping[str, str] | None = None,
    *,
    clock: datetime | None = None,
    refuse: Container[str] = (),
) -> JobState:
    """The fold of a job's book by its facts (see :func:`rehang.trade.known.fold.fold`).

    ``clock`` is the machine's: what is dated later breaks a rule. Entries whose ids are in
    ``refuse`` are refused by the rule that they break; any other stays in the book at fault.
    """

    def voids(check: Check, taken: Taken) -> str:
        # DESIGN 4a, 3: through the wrong orifice it stays on file and counts as not read.
        if check.method == "compression":
            return compression.wrong_orifice(taken, facts.meters, facts.bore_in)
        return ""

    entries = list(entries)
    ahead = frozenset(one.id for one in entries if clock is not None and is_ahead(one.at, clock))
    found: dict[str, str] | None = None
    chained = _chained(entries) if now is None else frozenset()

    def fault(entry: Entry, state: JobState) -> str:
        nonlocal found
        if entry.id in refuse:
            return refused(entry, state)
        # The mark of an entry is that of the whole book before it, so what it breaks there is found
        # out once; a strike reaches back, and what is dated ahead settles nothing meanwhile.
        if entry.id not in chained:
            return fault_of(entry, state, facts, clock)
        if found is None:
            found = _found(facts, (frozenset(state.struck), ahead))
        if entry.hash not in found:
            found[entry.hash] = fault_of(entry, state, facts, clock)
        return found[entry.hash]

    def refused(entry: Entry, state: JobState) -> str:
        try:
            check_entry(entry, state, facts, clock)
        except Refused as refusal:
            if where and entry.id in where:
                raise BadInput(refusal.sentence, where[entry.id]) from None
            raise
        return ""

    return fold(
        entries,
        layout=facts.layout,
        sheets=facts.sheets,
        meters=facts.meters,
        now=now,
        where=where,
        expected=expected_items(facts),
        voids=voids,
        fault=fault,
        stays=lambda entry: facts.as_filed and entry.is_sealed and entry.id not in refuse,
        named=facts.person,
    )
