"""Hoses on the engine whose age nothing judges, because no rule for their type is on file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rehang.trade.facts.ages import Dated
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import Limit, age_limit
from rehang.trade.known.fitting import hose_dates
from rehang.trade.known.state import JobState
from rehang.trade.terms.wording import listed, plural, written_day

__all__ = ["NoAgeRule", "without_age_rule"]


@dataclass(frozen=True, slots=True)
class NoAgeRule:
    """The hoses of one type that no rule judges.

    ``number`` is the place among the limits of one on file that names no source; -1 without one.
    """

    type: str
    hoses: tuple[Dated, ...]
    number: int

    @property
    def head(self) -> str:
        """How many of what type have no rule that counts."""
        number = len(self.hoses)
        rule = "no age rule on file" if self.number < 0 else "an age rule that names no source"
        has = "has" if number == 1 else "have"
        return f"{number} {self.type} {plural('hose', number)} {has} {rule}"

    @property
    def dates(self) -> tuple[str, ...]:
        """When each was made and fitted, as its tag says."""
        return tuple(_dates(one) for one in self.hoses)

    @property
    def sentence(self) -> str:
        """How many, of what type, and when each was made and fitted."""
        return f"{self.head}: {'; '.join(self.dates)}."


def _dates(one: Dated) -> str:
    told = [
        f"{words} {'on an unknown day' if day in ('', 'unknown') else written_day(day)}"
        for words, day in (("made", one.made), ("fitted", one.fitted))
    ]
    return f"{one.id}, {listed(told)}"


def without_age_rule(facts: JobFacts, state: JobState) -> tuple[NoAgeRule, ...]:
    """The hoses that are on the engine or go on it and have no age rule, type by type."""
    found: dict[str, list[Dated]] = {}
    for name in _names(facts, state):
        held = state.items.get(f"hose:{name}")
        gone = held is not None and (held.disposed is not None or held.replaced_by)
        hose = None if gone else hose_dates(name, facts, state)
        if hose is not None:
            found.setdefault(hose.type, []).append(hose)
    rules: Mapping[str, Limit | None] = {
        kind: age_limit(facts.limits, "hose", "age", kind) for kind in found
    }
    return tuple(
        NoAgeRule(kind, tuple(hoses), _number(rules[kind], facts.limits))
        for kind, hoses in found.items()
        if (rule := rules[kind]) is None or not rule.has_source
    )


def _number(limit: Limit | None, limits: Sequence[Limit]) -> int:
    return next((n for n, one in enumerate(limits) if one is limit), -1)


def _names(facts: JobFacts, state: JobState) -> tuple[str, ...]:
    """Every hose on file, and those that came in for one."""
    own = [one.name for one in state.items.values() if one.kind == "hose"]
    return tuple(dict.fromkeys((*facts.hoses, *own)))
