"""When to do what: activities, what each needs first, what it uses, and when that is there.

Times are whole numbers in one time unit of the caller's choice (a minute, say), counted from
a moment of the caller's choice, which is 0. Nothing starts before 0. A name is a key and no
more. The problem is the resource-constrained project scheduling problem with calendars; it is
handed to CP-SAT, and a plain pass that places one activity after another gives a first plan,
a length that no plan exceeds, and a plan when time is short.

How time runs
    An activity is open where its calendar and all resources it uses are open. One that can be
    split begins in open time, is interrupted by closing and carries on at the next opening,
    and keeps what it uses until it ends. One that cannot be split lies within one window. One
    without calendar, and without resources that have windows, runs on the clock, and so does
    every lag. One of no duration needs nothing to be open and uses nothing.

project: what is planned, in one time unit throughout.
starts, ends: of each activity, by its name.
by: moment by which all should be over.
"""

from rehang.calc.schedule.checking import Broken, violations
from rehang.calc.schedule.finish import Finish, ThreePoint, simulate
from rehang.calc.schedule.latest import latest_starts
from rehang.calc.schedule.planning import Plan, Status, plan
from rehang.calc.schedule.project import Activity, Kind, Need, Project, Resource, Wish, find_cycle

__all__ = [
    "Activity",
    "Broken",
    "Finish",
    "Kind",
    "Need",
    "Plan",
    "Project",
    "Resource",
    "Status",
    "ThreePoint",
    "Wish",
    "find_cycle",
    "latest_starts",
    "plan",
    "simulate",
    "violations",
]
