"""What was measured, in the sentences of a record: each with its day, its meter and what counts."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.drafts import LineRows
from rehang.trade.known.promises import promises_of
from rehang.trade.known.state import ItemState, Taken
from rehang.trade.telling.sentences import bottle_words, item_as_said
from rehang.trade.telling.sheet_parts import in_columns
from rehang.trade.terms.entries import is_a
from rehang.trade.terms.kinds.items import Fitted
from rehang.trade.terms.kinds.oil import PiecesCounted
from rehang.trade.terms.quantities import QUANTITIES, show_record
from rehang.trade.terms.wording import listed, lower_first, on_day, with_stop, written_day
from rehang.trade.verdicts.calls import Call
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.verdicts.metal import counts_of_stay, is_of_stay

__all__ = ["compressions", "oil_and_filter", "plugs_tested", "promised", "tappets", "timing"]


def plugs_tested(judged: JudgedJob) -> tuple[str, LineRows]:
    """The plug in each hole with what counts of its checks, in walk order.

    Its rows are hole, serial, check and what was read, the checks in the order of the tray record.
    """
    fitted = {
        e.place: e.item
        for e in judged.state.live()
        if is_a(e, Fitted) and e.item.startswith("plug:")
    }
    verdicts = {one.item: one for one in judged.items}
    told = []
    rows: list[tuple[str, ...]] = []
    for hole in judged.facts.layout.walk:
        one = verdicts.get(fitted.get(hole, ""))
        if one is None:
            continue
        sheet = judged.facts.sheets[one.kind]
        read = [call for call in one.calls if call.call not in ("NOT READ", "VOID")]
        figures = [
            f"{lower_first(call.label)}{':' if call.check == sheet.look.name else ''} {_figure(call)}"
            for call in read
        ]
        told.append(f"{hole} {one.name}: {', '.join(figures) or 'nothing read'}")
        order = [check.name for check in in_columns(sheet)]
        rows += [
            (hole, one.name, call.label, _figure(call))
            for call in sorted(read, key=lambda call: order.index(call.check))
        ]
    return (with_stop("; ".join(told)) if told else ""), tuple(rows)


def _figure(call: Call) -> str:
    psi = call.taken.fields.at_psi if call.taken is not None else None
    at = f" at {psi} psi" if psi is not None else ""
    return f"{lower_first(call.record)}{at}"


def compressions(judged: JudgedJob) -> list[tuple[str, str, str, LineRows]]:
    """A sentence for each day on which cylinders were read: name, title, text, and its rows.

    A row is the cylinder, the day and state, and what counts; how it was read are rows of no cylinder.
    """
    days: dict[tuple[date, str, str], list[tuple[ItemState, list[Taken]]]] = {}
    for item in judged.state.items.values():
        if item.kind != "cylinder":
            continue
        read: dict[tuple[date, str, str], list[Taken]] = {}
        for taken in item.of("compression"):
            if taken.reading.value is not None:
                state = taken.reading.conditions.get("state", "")
                read.setdefault((taken.entry.at.date(), state, taken.reading.meter), []).append(
                    taken
                )
        for key, ones in read.items():
            days.setdefault(key, []).append((item, ones))
    made = []
    for number, ((day, state, meter), cylinders) in enumerate(sorted(days.items(), key=_first_at)):
        name = "compression" if number == 0 else f"compression-{number + 1}"
        text, rows = _one_day(judged, day, state, meter, cylinders)
        made.append((name, f"Compression, {on_day(day)}", text, rows))
    return made


def _first_at(
    pair: tuple[tuple[date, str, str], Sequence[tuple[ItemState, Sequence[Taken]]]],
) -> datetime:
    return min(taken.entry.at for _, ones in pair[1] for taken in ones)


def _one_day(
    judged: JudgedJob,
    day: date,
    state: str,
    meter: str,
    cylinders: Sequence[tuple[ItemState, Sequence[Taken]]],
) -> tuple[str, LineRows]:
    orifices = {
        orifice
        for _, ones in cylinders
        for taken in ones
        if (orifice := taken.reading.conditions.get("orifice"))
    }
    master = judged.state.master(meter, day)
    how = {
        "tester": meter,
        "orifice": listed(sorted(orifices)) if orifices else "",
        "master": show_record(master[1], QUANTITIES["pressure"]) if master else "",
    }
    head = [
        state or "hot or cold not written down",
        *(f"{name} {one}" for name, one in how.items() if one),
    ]
    if not meter:
        head.insert(1, "no tester written down")
    by_name = sorted(cylinders, key=lambda one: one[0].name)
    told = [(item.name, *_cylinder(ones)) for item, ones in by_name]
    column = f"{on_day(day)}, {head[0]}"
    said = "; ".join(f"cylinder {name} {best} psi ({words})" for name, best, words in told)
    return with_stop(f"{', '.join(head)}: {said}"), (
        *((name, column, best, words) for name, best, words in told),
        *((name, column, one) for name, one in how.items() if one),
    )


def _cylinder(ones: Sequence[Taken]) -> tuple[str, str]:
    """The read that counts, which is the better one, and all that were read."""
    live = [taken for taken in ones if not taken.void] or list(ones)
    best = max(live, key=lambda taken: taken.reading.value or 0)
    held = best.reading.conditions
    values = [str(taken.reading.value) for taken in live]
    said = [
        f"{listed(values)} read" if len(values) > 1 else "one read",
        f"{held['minutes']} min after shutdown" if held.get("minutes") else "",
        held["path"] if held.get("path", "none") != "none" else "",
        held.get("path_note", ""),
        best.void,
    ]
    words = ", ".join(one for one in said if one)
    return f"{best.reading.value}/{best.reading.supply or 80}", words


def _of(judged: JudgedJob, kind: str) -> list[ItemVerdict]:
    return [one for one in judged.items if one.kind == kind]


def _read(one: ItemVerdict, check: str) -> str:
    call = one.call(check)
    if call is None or call.entry is None or call.call in ("NOT READ", "VOID"):
        return ""
    return call.record


def tappets(judged: JudgedJob) -> tuple[str, LineRows]:
    """Dry tappet clearances, cylinder by cylinder."""
    told, rows = [], []
    for one in _of(judged, "cylinder"):
        sides = [
            (side, read) for side in ("intake", "exhaust") if (read := _read(one, f"tappet_{side}"))
        ]
        if sides:
            told.append(f"cylinder {one.name} {', '.join(' '.join(side) for side in sides)}")
        rows += [(one.name, f"dry tappet, {side}", read) for side, read in sides]
    return (with_stop("; ".join(told)) if told else ""), tuple(rows)


def timing(judged: JudgedJob) -> LineRows:
    """Each magneto's timing and the difference between them, with the meter."""
    told: list[tuple[str, str, str]] = []
    for one in (*_of(judged, "magneto"), *_of(judged, "ignition")):
        for check in ("timing", "timing_difference"):
            call, read = one.call(check), _read(one, check)
            if call is not None and read:
                name = f"{one.name} magneto" if one.kind == "magneto" else "difference"
                told.append((name, read, call.meter))
    return tuple(told)


def oil_and_filter(judged: JudgedJob) -> LineRows:
    """The last sample of this stay, or that its figures are awaited, and what was counted."""
    told: list[tuple[str, str]] = []
    for one in judged.state.items.values():
        stay = [e for e in one.samples if is_of_stay(e, judged.facts)]
        if stay:
            found = ", ".join(f"{k} {v}" for k, v in stay[-1].fields.ppm.items())
            told.append((f"sample of {written_day(stay[-1].fields.on)}, ppm", found))
        told += [
            (f"sample {bottle_words(e.fields)}", "the laboratory's figures are awaited")
            for e in one.bottles
            if is_of_stay(e, judged.facts)
        ]
        counts = counts_of_stay(one, judged.facts)
        if counts:
            what = "oil filter" if one.id == "filter:oil" else item_as_said(one.id)
            told.append((what, _count_words(counts[-1].fields)))
    return tuple(told)


def _count_words(told: PiecesCounted) -> str:
    largest = f", the largest {told.largest_mm:g} mm" if told.largest_mm else ""
    return f"{told.pieces} pieces, {told.magnetic} magnetic{largest}"


def promised(judged: JudgedJob) -> str:
    """What is to be looked at again, with its hours or its day."""
    return " ".join(entry.fields.words for entry in promises_of(judged.state))
