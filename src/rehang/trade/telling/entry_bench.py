"""What a record says of cylinders off and on, and of valves, crank, cam and gears: figure by figure."""

from __future__ import annotations

from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.cylinders_off import CYLINDER, on_again
from rehang.trade.terms.wording import lower_first, on_day
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.work.names import item_label

__all__ = ["measured_by_name", "off_and_on"]

Rows = tuple[tuple[str, str], ...]


def off_and_on(judged: JudgedJob) -> Rows:
    """Each cylinder that came off: when and why, which one went on, and what was read of it."""
    return tuple((f"Cylinder {name}", _off_words(judged, name)) for name in judged.facts.off)


def _off_words(judged: JudgedJob, name: str) -> str:
    removed = judged.state.items[f"{CYLINDER}:{name}"].removed
    assert removed is not None
    note = removed.fields.note.strip().rstrip(".")
    said = [f"off {on_day(removed.at)}" + (f" ({note})" if note else "")]
    on = on_again(judged.state, name)
    if on is not None:
        serial = on.fields.serial or on.fields.batch
        said.append(f"on {on_day(on.at)}" + (f", s/n {serial}" if serial else ""))
    said += [
        figures
        for one in judged.items
        if (sheet := judged.facts.sheets.get(one.kind)) is not None
        and sheet.when_off
        and one.name == name
        and (figures := _figures(one))
    ]
    return "; ".join(said)


def measured_by_name(judged: JudgedJob) -> Rows:
    """What was read of the kinds that a job looks at where it names them."""
    return tuple(
        (item_label(judged.facts, one.item), figures)
        for one in judged.items
        if one.kind in judged.facts.sheets and judged.facts.sheets[one.kind].by_name
        if (figures := _figures(one))
    )


def _figures(one: ItemVerdict) -> str:
    return ", ".join(
        f"{lower_first(call.label)} {call.record}"
        for call in one.calls
        if call.entry is not None and call.call not in ("NOT READ", "VOID")
    )
