"""The runs and the meters, as a maintenance or an inspection entry tells them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rehang.trade.known.doubts import uses_in_doubt
from rehang.trade.known.drafts import LineRows
from rehang.trade.run.air import CONDITIONS
from rehang.trade.run.proofs import asked_of, claimed
from rehang.trade.run.runs import Run
from rehang.trade.telling.sentences import with_stop
from rehang.trade.terms.entries import is_a
from rehang.trade.terms.kinds.readings import Seen
from rehang.trade.terms.wording import listed, lower_first, on_day, upper_first, written_day

if TYPE_CHECKING:
    from rehang.trade.telling.entry_text import Drawer

__all__ = ["meters", "ran"]


def ran(of: Drawer) -> tuple[str, LineRows]:
    """The runs; a row is the run, a figure, what was read, and ``asked`` where 43.15(c)(2) asks."""
    ended = [_one_run(of, run) for run in of.runs.runs if run.ended]
    told = [text for text, _ in ended]
    if claimed(of.facts, of.judged.state):
        # What 14 CFR 43.15(c)(2) asks and this engine does not have.
        told += [said for _, _, said in asked_of(of.facts) if said]
    return " ".join(told), tuple(row for _, rows in ended for row in rows)


def _one_run(of: Drawer, run: Run) -> tuple[str, LineRows]:
    """One run with its day, its weather and every figure and look of it, those that count no more with why."""
    conditions = [
        (words, of.facts.person(str(run.conditions[key])))
        for key, words in CONDITIONS.items()
        if run.conditions.get(key)
    ]
    weather = ", ".join(" ".join(one) for one in conditions)
    name = f"Run {run.name}"
    head = f"{name} on {on_day(run.began.at)}" + (f" ({weather})" if weather else "")
    rows = [
        (name, what, said, "")
        for what, said in (("Day", on_day(run.began.at)), *conditions, ("Shut down", run.why))
        if said
    ]
    asked = {check for _, checks, _ in asked_of(of.facts) for check in checks}
    head += f", shut down: {run.why}" if run.why else ""
    told = []
    ended: dict[str, list[str]] = {}
    said: set[str] = set()
    for call in run.verdict.calls if run.verdict is not None else ():
        figure = of.runs.proofs.of(run.name, call.check)
        entry = call.entry
        if figure is None or entry is None or (is_a(entry, Seen) and entry.id in said):
            continue
        said.add(entry.id)
        void = f" ({lower_first(call.sentence).rstrip('.')})" if call.call == "VOID" else ""
        told.append(f"{call.label.lower()} {lower_first(call.record)}{void}")
        gone = ", not counted" if figure.ended_by is not None else void
        rows.append(
            (
                name,
                call.label,
                lower_first(call.record) + gone,
                "asked" if call.check in asked else "",
            )
        )
        if figure.ended_by is not None:
            ended.setdefault(figure.ended_by.sentence, []).append(call.label.lower())
    if not told:
        return f"{head}: nothing was read, so it proves nothing.", tuple(rows)
    more = [
        f" {upper_first(listed(ones))}: not counted any more, as {act}."
        for act, ones in ended.items()
    ]
    return with_stop(f"{head}: {', '.join(told)}") + "".join(more), tuple(rows)


def meters(of: Drawer) -> LineRows:
    used: dict[str, None] = {}
    for one in of.judged.items:
        for call in one.calls:
            if call.meter and call.call != "VOID":
                used[call.meter] = None
        for entry in one.state.torqued:
            used[entry.fields.meter] = None
    told = []
    state = of.judged.state
    used |= {name: None for name in state.found_out if uses_in_doubt(of.facts, state, name)}
    for name in used:
        meter = of.facts.meters[name]
        due = (
            f"calibration due {written_day(meter.due_text)}"
            if meter.due_text
            else "no calibration on record"
        )
        proved = of.judged.state.proved.get(name)
        if proved is not None:
            due += f"; as-found check of {on_day(proved.at)}: {proved.fields.reason}"
        told.append((f"{name} {meter.name}", f"{due}{_found_out(of, name)}"))
    return tuple(told)


def _found_out(of: Drawer, name: str) -> str:
    """That a meter was found out, and what became of each thing it was used on since."""
    said = ""
    uses = uses_in_doubt(of.facts, of.judged.state, name)
    for one in of.judged.state.found_out.get(name, ()):
        said += f"; found out of tolerance on {on_day(one.found_on)}: {one.as_found}"
        good = f" ({on_day(one.last_good)})" if one.last_good else " (no day on file)"
        ones = [
            f"{use.what} ({use.said or 'open'})" for use in uses if use.found.entry is one.entry
        ]
        if ones:
            said += f"; used since it was last known good{good} on {', '.join(ones)}"
    return said
