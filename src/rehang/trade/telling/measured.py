"""What was measured, in the sentences of a record: each with its day, its meter and what counts."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.drafts import LineRows
from rehang.trade.known.promises import promises_of
from rehang.trade.known.state import ItemState, Taken
from rehang.trade.telling.sentences import bottle_words, item_as_said
from rehang.trade.telling.sheet_parts import columns_of
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

    Its rows are hole, serial, column and what was read, in the columns of the tray record.
    """
    fitted = {
        e.place: e.item
        for e in judged.state.live()
        if is_a(e, Fitted) and e.item.startswith("plug:")
    }
    verdicts = {one.item: one for one in judged.items}
    told = []
    rows: list[tuple[str, ...]] = []
    tested = {
        hole: verdicts[fitted[hole]]
        for hole in judged.facts.layout.walk
        if fitted.get(hole) in verdicts
    }
    calls = [call for one in tested.values() for call in one.calls]
    for hole, one in tested.items():
        sheet = judged.facts.sheets[one.kind]
        read = [call for call in one.calls if call.call not in ("NOT READ", "VOID")]
        figures = [
            f"{lower_first(call.label)}{':' if call.check == sheet.look.name else ''} "
            f"{lower_first(call.record)}{_pressure(call)}"
            for call in read
        ]
        told.append(f"{hole} {one.name}: {', '.join(figures) or 'nothing read'}")
        # A unit, or a pressure that all share, stands in the head of its column.
        rows += [
            (
                hole,
                one.name,
                column.label,
                f"{call.record}{_pressure(call)}".removesuffix(f" {column.unit}"),
            )
            for column in columns_of(sheet, calls)
            for call in read
            if call.check == column.check
        ]
    return (with_stop("; ".join(told)) if told else ""), tuple(rows)


def _pressure(call: Call) -> str:
    psi = call.taken.fields.at_psi if call.taken is not None else None
    return f" at {psi} psi" if psi is not None else ""


def compressions(judged: JudgedJob) -> list[tuple[str, str, str, LineRows]]:
    """A sentence for each day on which cylinders were read: name, title, text, and its rows.

    A row is the cylinder, the day and state, what counts, and what is to be known of it; how it was
    read are rows of no cylinder.
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
    said = "; ".join(
        f"cylinder {name} {best} psi ({', '.join(one for one in (read, more) if one)})"
        for name, best, read, more in told
    )
    return with_stop(f"{', '.join(head)}: {said}"), (
        *((name, column, best, more) for name, best, _, more in told),
        *((name, column, one) for name, one in how.items() if one),
    )


def _cylinder(ones: Sequence[Taken]) -> tuple[str, str, str]:
    """The read that counts, which is the better one, all that were read, and what is to be known."""
    live = [taken for taken in ones if not taken.void] or list(ones)
    best = max(live, key=lambda taken: taken.reading.value or 0)
    held = best.reading.conditions
    values = [str(taken.reading.value) for taken in live]
    read = f"{listed(values)} read" if len(values) > 1 else "one read"
    if held.get("minutes"):
        read += f", {held['minutes']} min after shutdown"
    more = [
        held["path"] if held.get("path", "none") != "none" else "",
        held.get("path_note", ""),
        best.void,
    ]
    best_words = f"{best.reading.value}/{best.reading.supply or 80}"
    return best_words, read, ", ".join(one for one in more if one)


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
