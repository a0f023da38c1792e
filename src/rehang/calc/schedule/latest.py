"""How late each activity of a plan may start."""

from __future__ import annotations

from collections.abc import Mapping

from rehang.calc.errors import OutOfRange
from rehang.calc.schedule._order import kept_runs, latest_in_order
from rehang.calc.schedule._work import is_whole
from rehang.calc.schedule.project import LONGEST, Project


def latest_starts(project: Project, starts: Mapping[str, int], by: int) -> dict[str, int]:
    r"""Latest start of each activity that still lets all be over by a moment.

    .. math:: s_i^\mathrm{latest} = \min\bigl(T,\ d_i,\ \min_j (s_j^\mathrm{latest} - l_{ij})
              \bigr) - p_i

    Parameters
    ----------
    project : Project
        What was planned [one time unit throughout].
    starts : dict of str to int
        Starts of the plan, whose order is kept [time unit].
    by : int
        Moment by which all should be over [time unit].

    Returns
    -------
    dict of str to int
        Latest starts [time unit]. One that is below the planned start says that the plan is
        over too late; one below 0, that it had to start before the beginning.

    Raises
    ------
    OutOfRange
        The plan does not keep the project; the moment is not a whole number from 0 up.

    Notes
    -----
    With the order of the plan; another order may allow more. What each waits for is what it
    needs and whoever hands on what it uses. Calendars count backwards.

    References
    ----------
    Backward pass of the critical path method: J. Kelley and M. Walker, Eastern Joint Computer
    Conference, 1959, 160-173; from memory.
    No printed value: checked against the plan itself in
    ``tests/properties/test_calc_schedule.py``, by moving one activity to its latest start.

    Examples
    --------
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
