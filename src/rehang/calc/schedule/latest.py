"""How late each activity of a plan may start."""

from __future__ import annotations

from collections.abc import Mapping

from rehang.calc.errors import OutOfRange
from rehang.calc.schedule._order import kept_runs, latest_in_order
from rehang.calc.schedule._work import is_whole
from rehang.calc.schedule.project import LONGEST, Project
from rehang.calc.units import Moment


def latest_starts(project: Project, starts: Mapping[str, Moment], by: Moment) -> dict[str, Moment]:
    r"""Latest start of each activity that still lets all be over by a moment.

    .. math:: s_i^\mathrm{latest} = \min\bigl(T,\ d_i,\ \min_j (s_j^\mathrm{latest} - l_{ij})
              \bigr) - p_i

    starts: of the plan, whose order is kept.

    One that is below the planned start says that the plan is over too late; one below 0, that it
    had to start before the beginning. With the order of the plan; another order may allow more.
    What each waits for is what it needs and whoever hands on what it uses. Calendars count
    backwards.

    Refused: starts that do not keep the project.

    Source: backward pass of the critical path method: J. Kelley and M. Walker, Eastern Joint
    Computer Conference, 1959, 160-173; from memory.
    No printed value: checked against the plan itself in
    ``tests/properties/test_calc_schedule.py``, by moving one activity to its latest start.

    >>> from rehang.calc.schedule import Activity, Need, Project, plan
    >>> job = Project({"a": Activity(2), "b": Activity(3, (Need("a"),)), "c": Activity(1)})
    >>> latest_starts(job, plan(job).starts, by=6)
    {'a': 1, 'b': 3, 'c': 5}
    """
    if not (is_whole(by) and 0 <= by <= LONGEST):
        raise OutOfRange(f"The moment must be a whole number from 0 to {LONGEST:,}: got {by}.")
    work, runs = kept_runs(project, starts)
    latest = latest_in_order(work, runs, by)
    number = {name: i for i, name in enumerate(work.names)}
    return {name: latest[number[name]][0] for name in project.activities}
