"""Verdicts for a terminal: what needs somebody as a table, or every reason as lines of text."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from rehang.cli.asked import wrapped
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.job.again import asked_again
from rehang.trade.job.judging import JudgedJob
from rehang.trade.job.waits import waits_of
from rehang.trade.life.notes import item_notes, job_notes
from rehang.trade.life.oil_trend import oil_asks
from rehang.trade.terms.wording import at_time, listed, lower_first, plural
from rehang.trade.verdicts.calls import Call
from rehang.trade.verdicts.hardness import hardness_by_gap
from rehang.trade.verdicts.item_blockers import Blocker
from rehang.trade.verdicts.item_verdict import VERDICTS, ItemVerdict
from rehang.trade.verdicts.reason_words import reason_in_brief
from rehang.trade.work.todo import can_do_now, held_back, left_half_done, people_words

__all__ = ["job_lines", "job_table", "shop_lines"]

_PROPOSALS = (
    "These are proposals. A named person decides, by the maker's current manual and local "
    "rules; general figures are never approved data."
)
# Columns of the parts of a line.
_WHAT = 27
_STYLES = {"REJECT": "bold red", "REWORK": "yellow", "NOT YET": "cyan", "KEEP": "green"}
_MARKS = {
    "WITHIN": "ok",
    "CLOSE CALL": "<!>",
    "OUT": "[X]",
    "NOT JUDGED": "(-)",
    "NOT YET": "[-]",
    "NOT READ": "[ ]",
    "VOID": "void",
}


def job_table(judged: JudgedJob) -> Group:
    """What needs somebody, a line each, the worst first, then how the rest stands; as wide as the terminal."""
    about = {one.about for one in judged.blockers}
    needs = [one for one in judged.items if one.item in about]
    rows: dict[tuple[str, str, str], list[ItemVerdict]] = {}
    for one in sorted(needs, key=lambda one: VERDICTS.index(one.verdict)):
        why = reason_in_brief(one.why[0]) if one.why else one.verdict
        # A plug has a line of its own; holes of which the same is asked share theirs.
        rows.setdefault((one.verdict, why, one.name if one.kind == "plug" else ""), []).append(one)
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), header_style="bold")
    table.add_column("What", max_width=_WHAT)
    table.add_column("Verdict", no_wrap=True)
    table.add_column("Why", ratio=1)
    for (verdict, why, _), of in rows.items():
        table.add_row(_together(of), Text(verdict, _STYLES[verdict]), why)
    shown: list[RenderableType] = [
        Text("\n".join(_head(judged))),
        Text(_standing(judged), _STYLES["REJECT" if judged.blockers else "KEEP"]),
    ]
    if needs:
        shown += ["", table]
    return Group(*shown, Text("\n".join(["", *_rest(judged), "", *_foot(judged)])))


def _together(of: list[ItemVerdict]) -> str:
    """Parts of one line: a plug by its hole and serial, others by their kind, said once."""
    kinds: dict[str, list[str]] = {}
    for one in of:
        kinds.setdefault(one.kind, []).append(one.name)
    if list(kinds) == ["plug"]:
        return f"{of[0].place or '--':<4}{of[0].name}"
    said = "; ".join(f"{kind} {', '.join(names)}" for kind, names in kinds.items())
    if len(said) <= _WHAT:
        return said
    return f"{of[0].kind} {of[0].name}" + (f" and {len(of) - 1} more" if of[1:] else "")


def _rest(judged: JudgedJob) -> list[str]:
    """What else keeps it from service, how many parts need nothing, and where the work stands."""
    items = {one.item for one in judged.items}
    others = Counter(one.group for one in judged.blockers if one.about not in items)
    lines = (
        [f"Other reasons: {'; '.join(f'{lower_first(what)} {n}' for what, n in others.items())}."]
        if others
        else []
    )
    about = {one.about for one in judged.blockers}
    for verdict, title in (("KEEP", "KEEP"), ("REJECT", "REJECT, replaced and written off")):
        done = [one for one in judged.items if one.verdict == verdict and one.item not in about]
        kinds = Counter(one.kind for one in done)
        if kinds:
            lines.append(f"{title}: {_counted({plural(k, n): n for k, n in kinds.items()})}.")
    work, facts = judged.work, judged.facts
    finished = sum(one.is_finished for one in work.tasks.values())
    lines.append(
        f"Work: {finished} of {len(work.tasks)} tasks finished, {len(left_half_done(work, facts))} left "
        f"half done, {len(can_do_now(work, facts, judged.stock.in_hand))} can be done now, "
        f"{len(waits_of(judged))} wait."
    )
    lines += [f"May not fly: {one.sentence}" for one in judged.may_not_fly]
    lines += [f"Asks for a decision: {one.sentence}" for one in oil_asks(judged)]
    lines.append(
        "With --all: every reason in full, the way out of each, the readings and the notes."
    )
    return lines


def _counted(numbers: Mapping[str, int]) -> str:
    return listed([f"{number} {what}" for what, number in numbers.items()])


def _head(judged: JudgedJob) -> list[str]:
    """The job, and when it is judged: what a reader must know before anything is read as judged."""
    lines = [judged.facts.title]
    lines += [f"Notice: {notice}" for notice in judged.notices]
    if judged.now is not None:
        lines.append(f"Judged as it stood on {at_time(judged.now)}.")
    elif judged.state.order:
        lines.append(f"Last entry {at_time(judged.state.order[-1].at)}.")
    return lines


def _foot(judged: JudgedJob) -> list[str]:
    invented = "Invented job: every name, serial, limit and document in it is made up."
    return [*([invented] if judged.facts.engine.get("invented") else []), _PROPOSALS]


def _standing(judged: JudgedJob) -> str:
    if judged.blockers:
        return f"May not be returned to service: {len(judged.blockers)} {plural('reason', len(judged.blockers))}."
    return "Nothing in this book blocks the return to service."


def job_lines(judged: JudgedJob) -> list[str]:
    """The whole job: what is odd about it, a block for each item, then what blocks the return to service."""
    lines = [part for one in _head(judged) for part in wrapped(one, "  ")]
    lines.append(f"Shop rule: {judged.facts.thresholds.words}.")
    for one in judged.items:
        lines += ["", *_item(one, judged)]
    lines += ["", *_work(judged), ""]
    for note in [*hardness_by_gap(judged.items, judged.facts), *job_notes(judged)]:
        lines += wrapped(note)
    lines += ["", _standing(judged), *_listed(judged.blockers)]
    for title, found in (
        ("Asks for a decision (it keeps nothing back):", oil_asks(judged)),
        ("May not fly until this is done (it keeps no entry on other work):", judged.may_not_fly),
    ):
        if found:
            lines += ["", title, *_listed(found)]
    return [*lines, "", *(part for one in _foot(judged) for part in wrapped(one))]


def _listed(found: Sequence[Blocker]) -> list[str]:
    """Each reason with its way out."""
    lines = []
    for one in found:
        lines += wrapped(f"- {one.sentence}", "  ")
        lines += wrapped(f"  way out: {one.way_out}", "    ")
    return lines


def _work(judged: JudgedJob) -> list[str]:
    """Where the work stands, in short: half done, possible now, waiting, held back."""
    work, facts = judged.work, judged.facts
    finished = sum(one.is_finished for one in work.tasks.values())
    lines = [f"Work: {finished} of {len(work.tasks)} tasks finished."]
    half = [(one.task, " ".join((one.sentence, *one.notes))) for one in left_half_done(work, facts)]
    now = []
    for one in can_do_now(work, facts, judged.stock.in_hand):
        places = f": {one.where}" if one.where else ""
        now.append(
            (one.task, f"{one.title}{places} ({one.minutes:.0f} min{people_words(one.hands)}).")
        )
    now += [("", one.sentence) for one in asked_again(judged)]
    waits = [(one.task, one.sentence) for one in waits_of(judged)]
    held = [(one.task, f"{one.title}: {one.reason}") for one in held_back(work, facts)]
    for title, found in (
        ("Left half done", half),
        ("Can be done now", now),
        ("Waiting", waits),
        ("Held back on purpose", held),
    ):
        if found:
            lines.append(f"  {title}:")
        for task, words in found:
            lines += wrapped(f"    {task:<4}{words}", "        ")
    return lines


def _item(one: ItemVerdict, judged: JudgedJob) -> list[str]:
    head = f"{one.place or '--':<4}{one.name if one.kind == 'plug' else f'{one.kind} {one.name}'}"
    lines = [f"{head:<18} {one.verdict}"]
    for reason in one.reasons:
        lines += wrapped(f"      {reason}", "      ")
    for note in item_notes(one, judged, hardness=False):
        lines += wrapped(f"      note: {note}", "            ")
    if one.next:
        lines += wrapped(f"      next: {one.next}", "            ")
    if one.calls:
        lines += wrapped("      " + "  ".join(_call(c) for c in one.calls), "      ")
    return lines


def _call(call: Call) -> str:
    reading = call.reading or "not read"
    kept = " k" if call.kept_as_keyed else ""
    return f"{call.label.lower()} {reading}{kept} {_MARKS[call.call]}"


def shop_lines(facts: JobFacts) -> list[str]:
    """What a shop's own book has on file, a line each."""
    held = (
        ("people", len(facts.people)),
        ("meters", len(facts.meters)),
        ("limits", len(facts.limits)),
        ("parts", len(facts.parts)),
        ("directives and inspections", len(facts.recurring)),
    )
    return [f"{facts.title}: the shop's own book.", *(f"  {what}: {count}" for what, count in held)]
