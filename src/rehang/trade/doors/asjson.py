"""A judged job as plain values, the shape of ``rehang check --json`` and of the API."""

from __future__ import annotations

from typing import Any

from rehang.trade.job.again import asked_again
from rehang.trade.job.judging import JudgedJob
from rehang.trade.job.waits import waits_of
from rehang.trade.life.notes import item_notes, job_notes
from rehang.trade.life.oil_trend import oil_asks
from rehang.trade.verdicts.calls import Call
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.work.task_states import TaskWork
from rehang.trade.work.todo import can_do_now, held_back, left_half_done

__all__ = ["job_as_json"]


def job_as_json(judged: JudgedJob) -> dict[str, Any]:
    """Job, items with their calls, work, and blockers."""
    return {
        "job": judged.facts.job,
        "title": judged.facts.title,
        "judged_as_of": judged.now.isoformat() if judged.now else None,
        "rule": judged.facts.thresholds.words,
        "notes": job_notes(judged),
        "items": [_item(one) | {"notes": item_notes(one, judged)} for one in judged.items],
        "work": _work(judged),
        "blockers": [
            {"about": b.about, "sentence": b.sentence, "way_out": b.way_out}
            for b in judged.blockers
        ],
        "may_not_fly_until": [
            {"about": b.about, "sentence": b.sentence, "way_out": b.way_out}
            for b in judged.may_not_fly
        ],
        "asks_for_a_decision": [
            {"about": one.about, "sentence": one.sentence, "way_out": one.way_out}
            for one in oil_asks(judged)
        ],
        "notices": list(judged.notices),
    }


def _work(judged: JudgedJob) -> dict[str, Any]:
    work, facts = judged.work, judged.facts
    return {
        "tasks": [_task(one) for one in work.tasks.values()],
        "left_half_done": [
            {
                "task": one.task,
                "go_on_at": one.place,
                "sentence": one.sentence,
                "notes": list(one.notes),
            }
            for one in left_half_done(work, facts)
        ],
        "can_do_now": [
            {
                "task": one.task,
                "places": list(one.places),
                "minutes": one.minutes,
                "hands": one.hands,
            }
            for one in can_do_now(work, facts, judged.stock.in_hand)
        ],
        "asked_again": [
            {
                "items": list(one.items),
                "sentence": one.sentence,
                "minutes": one.minutes,
                "meters": list(one.meters),
            }
            for one in asked_again(judged)
        ],
        "waiting_on": [
            {
                "task": one.task,
                "sentence": one.sentence,
                "since": one.since.isoformat() if one.since else None,
                "who": list(one.who),
                "until": one.until.isoformat() if one.until else None,
            }
            for one in waits_of(judged)
        ],
        "held_back": [
            {"task": one.task, "reason": one.reason, "after": list(one.after)}
            for one in held_back(work, facts)
        ],
        "out": {what: number for what, number in work.out.items() if number},
    }


def _task(one: TaskWork) -> dict[str, Any]:
    return {
        "task": one.task.id,
        "title": one.task.title,
        "state": one.state,
        "waits_for": list(one.waits_for),
        "places": [
            {
                "place": place.name,
                "state": place.state,
                "done": place.done,
                "of": place.of,
                "missing": list(place.missing),
            }
            for place in one.places
        ],
    }


def _item(one: ItemVerdict) -> dict[str, Any]:
    return {
        "item": one.item,
        "place": one.place,
        "goes_to": one.goes_to,
        "verdict": one.verdict,
        "proposed": one.proposed,
        "decided_by": one.decided_by,
        "reasons": list(one.reasons),
        "next": one.next,
        "calls": [_call(call) for call in one.calls],
        "findings": [
            {
                "id": f.id,
                "word": f.word,
                "label": f.label,
                "severity": f.severity,
                "open": f.is_open,
                "resolved": f.resolved,
                "note": f.note,
            }
            for f in one.findings
        ],
    }


def _call(call: Call) -> dict[str, Any]:
    return {
        "check": call.check,
        "call": call.call,
        "p_within": None if call.p_within is None else round(call.p_within, 3),
        "reading": call.reading,
        "limit": call.limit,
        "limit_source": call.source,
        "meter": call.meter,
        "meter_standing": call.meter_standing,
        "band": call.band_words,
        "why": call.sentence,
        "called_by": call.called_by,
        "kept_as_keyed": call.kept_as_keyed,
        "entry": call.entry.id if call.entry else None,
        "on_file": [
            {
                "entry": other.entry.id if other.entry else None,
                "call": other.call,
                "reading": other.reading,
                "why": other.sentence,
            }
            for other in call.others
        ],
    }
