"""What the pad's script is told, so that it asks nothing twice."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.limits import limit_for
from rehang.trade.job.judging import JudgedJob
from rehang.trade.terms.wording import written_day
from rehang.web.tray.meters import Chosen, MeterOffer, meter_offers
from rehang.web.tray.scale import scale_of
from rehang.web.tray.words import ENDED_WORDS, PLUG, masked_at, plug_limit, short_label, unit_shown

__all__ = [
    "pad_data",
    "tray_state",
    "unjudged_checks",
]


# What the pad's script is given


def pad_data(judged: JudgedJob, chosen: Mapping[str, Chosen], *, again: str = "") -> dict[str, Any]:
    """Everything the pad needs to key a whole set with no further question to the server."""
    facts = judged.facts
    sheet = facts.sheets[PLUG]
    return {
        "walk": list(facts.layout.walk),
        "checks": [_pad_check(judged, c, sheet) for c in sheet.checks],
        "chosen": {
            name: {"meter": c.meter, "range": c.range, "psi": c.psi} for name, c in chosen.items()
        },
        "again": again,
    }


def unjudged_checks(judged: JudgedJob) -> dict[str, int]:
    """The checks of the plugs that no limit judges, each with the place of one that has no source; -1."""
    limits = judged.facts.limits
    found = {}
    for check in judged.facts.sheets[PLUG].checks:
        limit = limit_for(limits, PLUG, check.name, "service")
        if check.kind != "look" and not check.judged_by and not (limit and limit.has_source):
            found[check.name] = next((n for n, one in enumerate(limits) if one is limit), -1)
    return found


def _pad_check(judged: JudgedJob, check: Check, sheet: CheckSheet) -> dict[str, Any]:
    facts = judged.facts
    limit = limit_for(facts.limits, PLUG, check.name, "service")
    scale = scale_of(plug_limit(judged, check), check.quantity)
    words = check.kind == "look"
    data: dict[str, Any] = {
        "name": check.name,
        "label": check.label,
        "short": short_label(check),
        "kind": check.kind,
        "choices": [{"word": c.word} for c in check.choices],
        "words": [
            {"name": w.name, "label": w.name.replace("_", " "), "severities": list(w.severities)}
            for w in (sheet.look_words if words else ())
        ],
        "twoFigures": check.two_figures,
        "believable": list(check.believable) if check.believable else None,
        "factor": check.unlikely_factor,
        "scale": {"low": scale.low, "high": scale.high} if scale else None,
        "psi": limit.at_psi if check.kind == "grade" and limit is not None else None,
        "meters": [_pad_meter(o, check) for o in meter_offers(check, judged)],
        "show": None,
        "record": None,
    }
    q = check.quantity
    if q is not None:
        data["show"] = {
            "steps": float(q.units[q.keyed]),
            "decimals": q.keyed_decimals,
            "trim": q.name in ("length", "angle", "oil"),
            "unit": unit_shown(q.keyed),
        }
        data["record"] = {
            "steps": float(q.units[q.record]),
            "decimals": q.record_decimals,
            "unit": unit_shown(q.record),
            "fine": 4 if q.name == "length" else 0,
        }
    return data


def _pad_meter(offer: MeterOffer, check: Check) -> dict[str, Any]:
    meter, one = offer.meter, offer.one
    due = f"due {written_day(meter.due_text)}" if meter.due_text else "no calibration on record"
    data: dict[str, Any] = {
        "id": meter.id,
        "range": offer.range_name,
        "name": meter.name,
        "worth": meter.worth,
        "due": due,
        "unit": "",
        "keyed": "",
        "steps": 1,
        "times": 1,
        "top": None,
        "point": False,
        "ol": False,
    }
    if check.quantity is None:
        return data
    keyed = meter.keyed or check.quantity.keyed
    steps = check.quantity.units[keyed]
    finest = one.count if one is not None and one.count else meter.resolution or meter.step
    analog = meter.kind == "analog ohmmeter"
    data |= {
        "unit": unit_shown(keyed),
        "keyed": keyed,
        "steps": float(steps),
        "times": float(one.factor) if one is not None else 1.0,
        "top": one.top if one is not None else None,
        "point": analog or not finest or finest < float(steps),
        "ol": bool(meter.ranges),
    }
    return data


def tray_state(judged: JudgedJob, *, again: str = "") -> dict[str, Any]:
    """What is on file, for the pad: items, and each check's value, text and call by hole."""
    facts = judged.facts
    sheet = facts.sheets[PLUG]
    masked = masked_at(judged, again)
    holes: dict[str, Any] = {}
    for hole in facts.layout.walk:
        held = judged.at(hole)
        if held is None:
            holes[hole] = {"item": "", "name": "", "ended": "", "checks": {}}
            continue
        checks: dict[str, dict[str, Any]] = {}
        for check in sheet.checks:
            call = held.call(check.name)
            assert call is not None
            if (hole, check.name) == masked:
                checks[check.name] = {
                    "read": False,
                    "value": None,
                    "text": "",
                    "call": "",
                    "entry": "",
                }
                continue
            checks[check.name] = {
                "read": call.entry is not None and call.call != "VOID",
                "value": call.value if call.call != "VOID" else None,
                "text": call.reading,
                "call": call.call,
                "entry": call.entry.id if call.entry is not None else "",
            }
        holes[hole] = {
            "item": held.item,
            "name": held.name,
            "ended": ENDED_WORDS[held.state.ended[-1].kind] if held.state.ended else "",
            "checks": checks,
        }
    return {"holes": holes}
