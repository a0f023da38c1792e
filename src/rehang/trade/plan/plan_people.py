"""Who does what in a shop where the same people do the work and look at it.

People marked for second looks keep their hands off the work, and counting is then enough. Where
everyone may do both, a look is only as good as the person who is free when it falls due: the work
is shared out by name first, and the plan is made with each person as a thing of which there is one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from rehang.calc.crew import Ask, crews
from rehang.calc.schedule import Project, Resource
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.gate.who import is_in
from rehang.trade.plan.plan_pieces import Pieces

__all__ = ["crew_of", "with_crew"]


def crew_of(
    cut: Pieces, counted: Project, orders: Iterable[Mapping[str, int]], facts: JobFacts
) -> Mapping[str, tuple[str, ...]]:
    """The people of each piece by key, of several orders to share out in the one over first.

    Nobody looks at a task of which they do any piece. Empty where no such way was found.
    """
    planned = counted.activities
    asks = {}
    apart = []
    for key in planned:
        piece = cut.pieces[key]
        if piece.kind == "look":
            asks[key] = Ask(1, piece.lookers)
            apart += [
                (key, other)
                for other in planned
                if cut.pieces[other].task == piece.task and cut.pieces[other].kind != "look"
            ]
        elif piece.hands:
            asks[key] = Ask(piece.hands, cut.hands)
    bare, windows = _nameless(counted), _windows(cut, counted, facts)
    ways = [crews(bare, starts, asks, windows, apart) for starts in orders]
    found = [(way.over, way.of) for way in ways if way.over is not None]
    return min(found, key=lambda one: one[0])[1] if found else {}


def with_crew(
    cut: Pieces, counted: Project, crew: Mapping[str, tuple[str, ...]], facts: JobFacts
) -> Project:
    """The same project with people by name in place of hands that are counted."""
    bare = _nameless(counted)
    windows = _windows(cut, counted, facts)
    used = {one for team in crew.values() for one in team}
    return Project(
        {
            key: replace(
                one,
                resources={**one.resources, **{_named(who): 1 for who in crew.get(key, ())}},
            )
            for key, one in bare.activities.items()
        },
        {**bare.resources, **{_named(one): Resource(1, windows[one]) for one in sorted(used)}},
        bare.calendars,
    )


def _named(key: str) -> str:
    return f"who:{key}"


def _nameless(counted: Project) -> Project:
    """The project with nobody in it: stand, hoist, hours and needs alone."""

    def counts(name: str) -> bool:
        return name == "hands" or name.startswith("look:")

    return Project(
        {
            key: replace(one, resources={k: n for k, n in one.resources.items() if not counts(k)})
            for key, one in counted.activities.items()
        },
        {k: one for k, one in counted.resources.items() if not counts(k)},
        counted.calendars,
    )


def _windows(
    cut: Pieces, counted: Project, facts: JobFacts
) -> dict[str, tuple[tuple[int, int], ...]]:
    """The shop's hours of the days that each person is in."""
    keys = {*cut.hands, *(one for piece in cut.pieces.values() for one in piece.lookers)}
    return {
        key: tuple(
            window
            for window in counted.calendars["shop"]
            if is_in(facts.people[key], facts.shop, cut.at(window[0]).date())
        )
        for key in sorted(keys)
    }
