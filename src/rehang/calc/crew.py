"""Who does what: people given to activities one after another, each free and in all the while,
and some activities kept to other people than others.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations

from rehang.calc import _hours as clock
from rehang.calc._hours import Hours, Run, Window
from rehang.calc.errors import OutOfRange
from rehang.calc.schedule import Project, find_cycle
from rehang.calc.units import Count, Moment

__all__ = ["Ask", "Crews", "crews"]


@dataclass(frozen=True, slots=True)
class Ask:
    """How many people an activity takes, and which it may take."""

    number: Count  # of people
    among: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Crews:
    """Who does what; `of` is empty and `over` None when somewhere nobody is left."""

    of: Mapping[str, tuple[str, ...]]
    over: Moment | None  # all can be over by then with these people


def crews(
    project: Project,
    starts: Mapping[str, Moment],
    asks: Mapping[str, Ask],
    people: Mapping[str, tuple[Window, ...]],
    apart: Iterable[tuple[str, str]] = (),
) -> Crews:
    r"""People for each activity, so that nobody is in two places and some pairs share nobody.

    .. math:: |C_i| = n_i, \qquad C_i \subseteq A_i, \qquad C_i \cap C_j = \emptyset\
              \text{ for } (i, j) \text{ apart}

    project: without its people: needs, calendars and other resources.
    starts: the order in which people are given: starts, or latest starts, of a plan that counts
        people and does not name them.
    asks: how many people each activity takes, and among whom. One that is not named takes nobody.
    people: the windows in which each is in.
    apart: pairs of activities that share nobody: a look, and the work it looks at.

    A pass and not a search: each activity takes the people with whom it is over first, and of
    those who are alike the ones who did its fellows already, then whoever did least so far. It
    leaves somebody for each activity that is kept apart from it and has nobody yet. A plan
    that is made with these people keeps all of this; another way to share the work may allow
    an earlier one. Whoever takes up a piece stays with it, also over a day away.

    Refused: a need, a pair or an ask that names something or somebody that is not there.

    Source: serial schedule generation, with a way chosen for each activity: as in R. Kolisch and A.
    Drexl, IIE Transactions 29(11), 1997, 987-999; from memory.
    No printed value: that the people are free, in and kept apart is looked at without the pass in
    ``tests/properties/test_calc_crew.py``.

    >>> from rehang.calc.schedule import Activity, Need
    >>> job = Project({"fit": Activity(2), "look": Activity(1, (Need("fit"),))})
    >>> both = ("ann", "bo")
    >>> crews(job, {"fit": 0, "look": 2}, {"fit": Ask(1, both), "look": Ask(1, both)},
    ...     {"ann": ((0, 9),), "bo": ((0, 9),)}, [("look", "fit")])
    Crews(of={'fit': ('ann',), 'look': ('bo',)}, over=3)
    """
    find_cycle(project.activities)
    pairs = list(apart)
    for name in {*asks, *starts, *(one for pair in pairs for one in pair)}:
        if name not in project.activities:
            raise OutOfRange(f"{name} is named, which is not among the activities.")
    for name, ask in asks.items():
        for one in ask.among:
            if one not in people:
                raise OutOfRange(f"{name} may take {one}, who is not among the people.")
    return _Pass(project, asks, people, pairs).over(starts)


class _Pass:
    """One pass over a project; lives only inside :func:`crews`."""

    def __init__(
        self,
        project: Project,
        asks: Mapping[str, Ask],
        people: Mapping[str, tuple[Window, ...]],
        apart: Iterable[tuple[str, str]],
    ) -> None:
        self.project = project
        self.asks = asks
        self.opened = {one: clock.hours(windows) for one, windows in people.items()}
        self.apart: dict[str, set[str]] = {name: set() for name in project.activities}
        for one, other in apart:
            self.apart[one].add(other)
            self.apart[other].add(one)
        # What there is one of is in one place at a time, like a person.
        single = {k for k, one in project.resources.items() if one.capacity == 1}
        self.things = {
            name: tuple(k for k, n in one.resources.items() if n and k in single)
            for name, one in project.activities.items()
        }
        self.busy: dict[str, list[Run]] = {one: [] for one in (*people, *single)}
        self.load = dict.fromkeys(people, 0)
        self.ends: dict[str, int] = {}
        self.crews: dict[str, tuple[str, ...]] = {}

    def over(self, starts: Mapping[str, int]) -> Crews:
        for name in sorted(starts, key=lambda one: (starts[one], one not in self.asks)):
            activity = self.project.activities[name]
            before = [self.ends[one.on] + one.lag for one in activity.needs if one.on in self.ends]
            ready = max([activity.release or 0, *before])
            ask = self.asks.get(name)
            team: tuple[str, ...] = ()
            if ask is None or not ask.number:
                run = self._run(name, (), ready)
            else:
                found = self._best(name, ask, ready)
                if found is None:
                    return Crews({}, None)
                team, run = found
                self.crews[name] = team
            if run is None:
                return Crews({}, None)
            self.ends[name] = run[1]
            for one in (*team, *self.things[name]):
                insort(self.busy[one], run)
            for one in team:
                self.load[one] += activity.duration
        return Crews(self.crews, max(self.ends.values(), default=0))

    def _best(self, name: str, ask: Ask, ready: int) -> tuple[tuple[str, ...], Run] | None:
        taken = {one for other in self.apart[name] for one in self.crews.get(other, ())}
        free = [one for one in ask.among if one not in taken and self.opened[one].total]
        fellows = {
            one
            for other in self.apart[name]
            for fellow in self.apart[other]
            for one in self.crews.get(fellow, ())
        }
        best: tuple[tuple[int, int, int, int], tuple[str, ...], Run] | None = None
        for team in combinations(free, ask.number):
            if not self._leaves_others(name, team):
                continue
            run = self._run(name, team, ready)
            if run is None:
                continue
            cost = (run[1], run[0], len(set(team) - fellows), sum(self.load[one] for one in team))
            if best is None or cost < best[0]:
                best = (cost, team, run)
        return None if best is None else best[1:]

    def _leaves_others(self, name: str, team: Collection[str]) -> bool:
        """Whether each that is kept apart and has nobody yet could still have its people."""
        for other in self.apart[name]:
            ask = self.asks.get(other)
            if other in self.crews or ask is None:
                continue
            gone = {*team, *(one for a in self.apart[other] for one in self.crews.get(a, ()))}
            left = [one for one in ask.among if one not in gone and self.opened[one].total]
            if len(left) < ask.number:
                return False
        return True

    def _run(self, name: str, team: Collection[str], ready: int) -> Run | None:
        """The first run from a moment on in which all of a team are in and free."""
        activity = self.project.activities[name]
        opened: Hours | None = None
        if activity.calendar is not None and activity.duration:
            opened = clock.hours(self.project.calendars[activity.calendar])
        for one in team:
            opened = clock.both(opened, self.opened[one])
        while True:
            run = clock.first_run(opened, ready, activity.duration, activity.splittable)
            if run is None:
                return None
            clashes = [
                end
                for one in (*team, *self.things[name])
                for start, end in self.busy[one]
                if start < run[1] and run[0] < end
            ]
            if not clashes:
                return run
            ready = max(clashes)
