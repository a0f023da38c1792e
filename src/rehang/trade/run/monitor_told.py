"""What a monitor's tables say, and what they ask of a person. They accuse nobody by themselves.

A question stands until somebody answers it in words; it keeps nothing back.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.monitor_columns import EXHAUST, HEAD
from rehang.trade.known.state import MONITOR, JobState
from rehang.trade.run.monitor_found import CLOSE_S, RISE_F
from rehang.trade.terms.entries import Entry, of_kind
from rehang.trade.terms.kinds.decisions import CallMade, Closed
from rehang.trade.terms.kinds.monitor import MonitorRead
from rehang.trade.terms.wording import listed, on_day, plural, upper_first
from rehang.trade.verdicts.item_blockers import Blocker

__all__ = [
    "Asked",
    "CheckSeen",
    "asked_of",
    "checks_seen",
    "clock_words",
    "monitor_asks",
    "monitors_of",
    "spread_words",
    "told_of",
]

_KINDS = ((EXHAUST, "exhaust"), (HEAD, "head"))


@dataclass(frozen=True, slots=True)
class Asked:
    """One question: to look at a cylinder, why, and who answered it with what words."""

    key: str
    cylinder: str
    sentences: tuple[str, ...]
    answer: str
    at_s: float | None

    @property
    def is_open(self) -> bool:
        return not self.answer

    @property
    def words(self) -> str:
        return f"Look at cylinder {self.cylinder}: {' '.join(self.sentences)}"


@dataclass(frozen=True, slots=True)
class CheckSeen:
    """One magneto check as the exhausts show it; ``cold`` are the cylinders that did not rise."""

    at_s: float
    words: str
    cold: tuple[str, ...]


def monitors_of(state: JobState) -> list[Entry[MonitorRead]]:
    """The monitor's tables that stand, in the order of the book."""
    return of_kind(state.live(), MonitorRead)


def clock_words(seconds: float) -> str:
    """A time from the first row.

    >>> clock_words(42), clock_words(3725)
    ('0:42', '1:02:05')
    """
    whole = round(seconds)
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def checks_seen(told: MonitorRead) -> tuple[CheckSeen, ...]:
    """The magneto checks of a table. Which magneto was off, no temperature says."""
    return tuple(_check(one) for one in told.found.get("checks", ()))


def _check(one: Mapping[str, Any]) -> CheckSeen:
    rises = {str(name): float(rise) for name, rise in one["rises"].items()}
    cold = tuple(name for name, rise in rises.items() if rise < RISE_F)
    when = f"At {clock_words(one['from_s'])} for {one['for_s']:.0f} s, {-one['rpm']:.0f} rpm down"
    warm = [rise for rise in rises.values() if rise >= RISE_F]
    by = f"{min(warm):.0f} to {max(warm):.0f} °F" if warm else "nothing"
    if not cold:
        words = f"{when}: every exhaust rose, by {by}. Each cylinder fired on the one magneto."
    else:
        told = listed([f"{name} ({rises[name]:+.0f} °F)" for name in cold])
        words = f"{when}: the exhaust of {told} did not rise, the others' by {by}."
    return CheckSeen(float(one["from_s"]), words, cold)


def told_of(told: MonitorRead) -> tuple[str, ...]:
    """What a table says of the whole engine, a sentence each."""
    found = told.found
    said = [
        f"{clock_words(found['span_s'])} of it, {clock_words(found.get('running_s', 0))} running, a row "
        f"each {found.get('every_s', 0):g} s."
    ]
    said += [spread_words(kind, words, found) for kind, words in _KINDS if found.get(kind)]
    checks = checks_seen(told)
    if found.get(EXHAUST) and not checks:
        said.append(
            "No magneto check is seen: its rows are too far apart."
            if found.get("every_s", 0) > CLOSE_S
            else "No magneto check is seen in it."
        )
    said += [one.words for one in checks]
    missing = found.get("missing") or {}
    if missing:
        number = sum(missing.values())
        said.append(f"{number:,} {plural('reading', number)} missing, left out of everything.")
    return tuple(one for one in said if one)


def spread_words(kind: str, words: str, found: Mapping[str, Any]) -> str:
    """How far apart the cylinders were, and when most."""
    spread = (found.get(kind) or {}).get("spread")
    if not spread:
        return ""
    return (
        f"{upper_first(words)} spread {spread['usual']} °F as a rule, {spread['most']} °F at most, at "
        f"{clock_words(spread['at_s'])}."
    )


def asked_of(entry: Entry[MonitorRead], state: JobState, facts: JobFacts) -> tuple[Asked, ...]:
    """The questions of one table, a cylinder each."""
    found = entry.fields.found
    said: dict[str, list[tuple[float | None, str]]] = {}
    for kind, words in _KINDS:
        for cylinder, when, sentence in _of_kind(found.get(kind) or {}, words):
            said.setdefault(cylinder, []).append((when, sentence))
    for one in checks_seen(entry.fields):
        for cylinder in one.cold:
            said.setdefault(cylinder, []).append(
                (
                    one.at_s,
                    f"its exhaust did not rise on one magneto at {clock_words(one.at_s)}; a plug or "
                    "lead of that magneto (common practice, no source).",
                )
            )
    cylinders = [str(one) for one in facts.layout.cylinders]
    return tuple(
        Asked(
            key=f"{MONITOR}{entry.id}:{cylinder}",
            cylinder=cylinder,
            sentences=tuple(sentence for _, sentence in said[cylinder]),
            answer=_answer(state.settled.get(f"{MONITOR}{entry.id}:{cylinder}"), facts),
            at_s=next((when for when, _ in said[cylinder] if when is not None), None),
        )
        for cylinder in cylinders
        if cylinder in said
    )


def _of_kind(found: Mapping[str, Any], words: str) -> Iterator[tuple[str, float | None, str]]:
    for one in found.get("odd", ()):
        way = "above" if one["by"] > 0 else "below"
        yield (
            str(one["cylinder"]),
            float(one["from_s"]),
            f"its {words} went {abs(one['by'])} °F {way} its own usual against the others, at "
            f"{clock_words(one['from_s'])} for {one['for_s']:.0f} s.",
        )
    for one in found.get("apart", ()):
        way = "above" if one["by"] > 0 else "below"
        yield (
            str(one["cylinder"]),
            None,
            f"its {words} stands {abs(one['by'])} °F {way} the others throughout; where its probe sits "
            "tells in that too.",
        )


def _answer(closed: Entry[Closed | CallMade] | None, facts: JobFacts) -> str:
    if closed is None:
        return ""
    return f"{facts.person(closed.by)}, {on_day(closed.at)}: {closed.fields.reason.strip()}"


def monitor_asks(facts: JobFacts, state: JobState) -> Sequence[Blocker]:
    """The open questions, as what asks a person and keeps nothing back."""
    return [
        Blocker(
            one.key,
            f"Engine monitor, {entry.fields.of}. {one.words}",
            "Look, and answer it on the monitor's page.",
        )
        for entry in monitors_of(state)
        for one in asked_of(entry, state, facts)
        if one.is_open
    ]
