"""What there is to plan: activities, what each needs first, what it uses, when that is there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from rehang.calc._hours import Window
from rehang.calc.errors import OutOfRange
from rehang.calc.units import Count, Moment, Span

Kind = Literal["deadline", "release", "pinned", "calendar", "resource"]
# Solvers count in 64-bit integers, and sums of times must fit: about 30 years of seconds.
LONGEST = 10**9


@dataclass(frozen=True, slots=True)
class Need:
    """Something that must be over first."""

    on: str
    lag: Span = 0  # between its end and our start, on the clock


@dataclass(frozen=True, slots=True)
class Activity:
    """Something to do, and all that ties it down.

    `release` is the moment before which it cannot start; None: it is never released.
    `pinned` is a moment at which it starts, or, where that is closed, the first one after it
    that is open: for what is under way, with the duration that is left.
    `promised` is a start that was said before: keep close to it where the finish allows.
    `lean` is a weight: above 0 the earlier the better, below 0 the later the better, 0 takes
    the earliest place that is left when all others have theirs.
    """

    duration: Span
    needs: tuple[Need, ...] = ()
    resources: Mapping[str, Count] = field(default_factory=dict)
    release: Moment | None = 0
    deadline: Moment | None = None
    calendar: str | None = None
    splittable: bool = False
    pinned: Moment | None = None
    promised: Moment | None = None
    lean: int = 0


@dataclass(frozen=True, slots=True)
class Resource:
    """Something of which there is only so much.

    `windows` are when it is there at all; None is always. `taken` are stretches for which part
    of it is away: start, end, amount.
    """

    capacity: Count
    windows: tuple[Window, ...] | None = None
    taken: tuple[tuple[Moment, Moment, Count], ...] = ()


@dataclass(frozen=True, slots=True)
class Project:
    """All there is to plan. A calendar is the windows in which it is open."""

    activities: Mapping[str, Activity]
    resources: Mapping[str, Resource] = field(default_factory=dict)
    calendars: Mapping[str, tuple[Window, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Wish:
    """One thing that was asked for and could be asked for differently.

    `name` is the activity's for a deadline, a release and a pinned start, else the calendar's
    or the resource's.
    """

    kind: Kind
    name: str


def find_cycle(activities: Mapping[str, Activity]) -> tuple[str, ...]:
    r"""Names that need each other in a circle, in the order in which they wait.

    .. math:: a_1 \to a_2 \to \dots \to a_1, \qquad \to\ \text{needs}

    Each needs the one after it, and the last the first; empty without a circle. Where there are
    several, the first one met in the order given.

    Refused: a need of something that is not there.

    Source: depth-first search: R. Tarjan, SIAM Journal on Computing 1(2), 1972, 146-160; from
    memory.
    No printed value: a circle is checked by following it.

    >>> find_cycle({"a": Activity(1, (Need("b"),)), "b": Activity(1, (Need("a"),))})
    ('a', 'b')
    """
    done: set[str] = set()
    for root in activities:
        path: list[str] = []
        # Names on the path, and those of their needs that are still to be looked at.
        waiting = [(root, iter(_needed(activities, root)))] if root not in done else []
        on_path = {root}
        path = [root]
        while waiting:
            name, needs = waiting[-1]
            following = next(needs, None)
            if following is None:
                waiting.pop()
                done.add(path.pop())
                on_path.discard(name)
            elif following in on_path:
                return tuple(path[path.index(following) :])
            elif following not in done:
                waiting.append((following, iter(_needed(activities, following))))
                on_path.add(following)
                path.append(following)
    return ()


def _needed(activities: Mapping[str, Activity], name: str) -> list[str]:
    for need in activities[name].needs:
        if need.on not in activities:
            raise OutOfRange(f"{name} needs {need.on}, which is not among the activities.")
    return [need.on for need in activities[name].needs]
