"""The plan of what is left: when the engine hangs and when it is ready, and what that rests on.

A plan is never kept in the book. It is worked out from the job as it stands, when asked: pieces of
work and second looks with their hours and parts (:mod:`rehang.trade.plan.plan_pieces`), put in order by
the scheduling core, which also says how good the order is. Times are the shop's own clock.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

import numpy as np

from rehang.trade.job.judging import JudgedJob
from rehang.trade.job.waits import waits_of
from rehang.trade.plan.plan_pieces import PlanAsked
from rehang.trade.plan.plan_values import Option, Plan
from rehang.trade.plan.plan_words import decisions_of, gap_words, meter_notes, plan_sentence
from rehang.trade.plan.planner import RUNS, Planner, wanted_in
from rehang.trade.work.todo import can_do_now

__all__ = ["plan_as_json", "plan_of", "planned_data"]


# ---------------------------------------------------------------- entries


def planned_data(plan: Plan) -> dict[str, Any]:
    """What an entry of kind ``planned`` says of a plan: it is promised, and kept where it can be."""
    data: dict[str, Any] = {
        "starts": {row.key: row.start.isoformat(timespec="minutes") for row in plan.rows}
    }
    if plan.finish is not None:
        data["finish"] = plan.finish.isoformat(timespec="minutes")
    return data


# ---------------------------------------------------------------- the plan


def plan_of(
    judged: JudgedJob,
    now: datetime,
    *,
    rng: np.random.Generator | None = None,
    order_on: date | None = None,
    never_order: bool = False,
    wanted: date | None = None,
    runs: int = RUNS,
    compare: bool = True,
) -> Plan:
    """The plan of what is left of a job, from ``now`` in the shop's own zone.

    Parts that are short are taken to be ordered on ``order_on`` (the day of ``now`` when left
    out), or never. ``rng`` is the chance of the simulation, seeded from the book so that the same
    book gives the same plan; without it nothing is simulated. ``wanted`` is a day to be ready by; the last one in the book when left out. ``compare``
    also plans the other ways: ordered later, not at all, and what waits for a decision.
    """
    origin = now.replace(second=0, microsecond=0, tzinfo=None)
    day = order_on or origin.date()
    asked = PlanAsked(None if never_order else day)
    planner = Planner(judged, origin)
    solved = planner.solve(asked)
    options: tuple[Option, ...] = ()
    decisions = decisions_of(judged)
    if compare:
        options = planner.options(solved, day, never_order=never_order)
        decisions = tuple(planner.with_options(one, solved, asked) for one in decisions)
    by = wanted or wanted_in(judged)
    told = planner.wanted(solved, by) if by is not None else None
    rows = planner.rows(solved)
    p50, p80 = planner.chances(solved, rng, runs)
    notes = [
        *meter_notes(judged, rows),
        *solved.cut.notes,
        *(solved.found.notes if solved.found else ()),
    ]
    if solved.found is not None and not solved.found.proved and solved.finish is not None:
        notes.append(gap_words(solved))
    return Plan(
        made_at=origin,
        rows=rows,
        days=planner.days(solved, rows),
        hang=solved.hang,
        finish=solved.finish,
        bound=solved.at(solved.found.bound) if solved.found else None,
        gap=solved.found.gap if solved.found and solved.found.makespan is not None else 0.0,
        proved=solved.found.proved if solved.found else True,
        p50=p50,
        p80=p80,
        ordered_on=asked.order_on,
        order_by=planner.order_by(solved, told),
        options=options,
        decisions=decisions,
        wanted=told,
        can_do_now=can_do_now(judged.work, judged.facts, judged.stock.in_hand),
        waiting_on=waits_of(judged),
        impossible=solved.why,
        notes=tuple(dict.fromkeys(notes)),
        sentence=plan_sentence(judged, solved, p80, origin.date()),
        how_good=gap_words(solved),
        minutes_left=sum(row.minutes for row in rows),
    )


# ---------------------------------------------------------------- as plain values


def plan_as_json(plan: Plan) -> dict[str, Any]:
    """A plan as plain values, the shape of ``rehang plan --json``."""
    return {
        "made_at": _iso(plan.made_at),
        "sentence": plan.sentence,
        "hang": _iso(plan.hang),
        "finish": _iso(plan.finish),
        "bound": _iso(plan.bound),
        "gap": plan.gap,
        "proved": plan.proved,
        "p50": _iso(plan.p50),
        "p80": _iso(plan.p80),
        "ordered_on": plan.ordered_on.isoformat() if plan.ordered_on else None,
        "impossible": list(plan.impossible),
        "notes": list(plan.notes),
        "rows": [
            {
                "key": row.key,
                "task": row.task,
                "kind": row.kind,
                "title": row.title,
                "places": list(row.places),
                "start": _iso(row.start),
                "end": _iso(row.end),
                "minutes": row.minutes,
                "hands": row.hands,
                "who": list(row.who),
                "critical": row.critical,
                "slack_minutes": row.slack_minutes,
                "waits": list(row.waits),
            }
            for row in plan.rows
        ],
        "order_by": [
            {
                "part": one.part,
                "number": one.number,
                "order_by": one.order_by.isoformat(),
                "keeps": one.keeps.isoformat(),
            }
            for one in plan.order_by
        ],
        "options": [_option_json(one) for one in plan.options],
        "decisions": [
            {
                "item": one.item,
                "sentence": one.sentence,
                "options": [_option_json(option) for option in one.options],
            }
            for one in plan.decisions
        ],
        "wanted": None
        if plan.wanted is None
        else {
            "on": plan.wanted.on.isoformat(),
            "possible": plan.wanted.possible,
            "sentence": plan.wanted.sentence,
        },
        "can_do_now": [
            {
                "task": one.task,
                "places": list(one.places),
                "minutes": one.minutes,
                "hands": one.hands,
            }
            for one in plan.can_do_now
        ],
        "waiting_on": [one.sentence for one in plan.waiting_on],
    }


def _iso(when: datetime | None) -> str | None:
    return when.isoformat(timespec="minutes") if when is not None else None


def _option_json(one: Option) -> dict[str, Any]:
    return {
        "name": one.name,
        "hang": _iso(one.hang),
        "finish": _iso(one.finish),
        "cost": one.cost,
        "sentence": one.sentence,
    }
