"""Ground runs: the walk through one, what its readings say of the magnetos, what it leaves open."""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from rehang.trade.facts.items import CheckSheet
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import Limit, limit_for
from rehang.trade.facts.runsteps import Step
from rehang.trade.gate.run_gate import is_leak
from rehang.trade.known.state import Finding, JobState, item_name
from rehang.trade.run.air import DayAir, StaticWorth, check_conditions, day_air, static_worth
from rehang.trade.run.mag_check import MagCheck, is_no_drop, mag_check
from rehang.trade.run.proofs import Act, Figure, Proofs, is_later, proofs_of
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.runs import PLeadFound, RunBegan, RunEnded, RunStepDone
from rehang.trade.terms.wording import listed, lower_first, on_day, upper_first
from rehang.trade.verdicts.calls import NOT_SHOWN
from rehang.trade.verdicts.item_blockers import Blocker
from rehang.trade.verdicts.item_verdict import ItemVerdict

__all__ = [
    "PLead",
    "Run",
    "Runs",
    "air_of",
    "leak_closed",
    "runs_of",
    "stop_after",
    "worth_beside",
]

P_LEAD_STATES = ("off", "on", "proved dead")
_OTHER = {"left": "right", "right": "left"}


@dataclass(frozen=True, slots=True)
class PLead:
    """One magneto's grounding. ``live`` says why the propeller is live by it; empty when dead."""

    magneto: str
    state: str
    entry: Entry | None
    live: str


@dataclass(frozen=True, slots=True)
class Run:
    """One ground run. ``state`` is ``running`` or ``ended``; ``why`` is why it ended early.

    A run with no figure is no run (DESIGN 4b.6): ``has_figures`` says that it has one. It was
    ``at_power`` when its step at power is done or something of it was read.
    """

    name: str
    item: str
    began: Entry[RunBegan]
    ended: Entry[RunEnded] | None
    why: str
    steps: Mapping[str, Entry]
    conditions: Mapping[str, Any]
    verdict: ItemVerdict | None
    mags: MagCheck | None
    has_figures: bool = False
    at_power: bool = False

    @property
    def is_whole(self) -> bool:
        """Whether it is a run that work may count on: ended, with figures, and not cut off before power."""
        return bool(self.ended and self.has_figures and (self.at_power or not self.why))

    @property
    def state(self) -> str:
        return "ended" if self.ended else "running"

    def next_step(self, steps: Sequence[Step]) -> Step | None:
        """The first step that is not done."""
        if self.ended:
            return None
        return next((step for step in steps if step.id not in self.steps), None)


@dataclass(frozen=True, slots=True)
class Runs:
    """All runs of a job, and how the magnetos stand."""

    runs: tuple[Run, ...]
    p_leads: Mapping[str, PLead]
    blockers: tuple[Blocker, ...]
    proofs: Proofs = field(default_factory=Proofs)

    @property
    def now(self) -> Run | None:
        """The run that is on."""
        return next((run for run in self.runs if run.state == "running"), None)

    @property
    def last(self) -> Run | None:
        return self.runs[-1] if self.runs else None

    @property
    def live(self) -> tuple[str, ...]:
        """Why the propeller is live, a sentence for each magneto that is not proved dead."""
        return tuple(one.live for one in self.p_leads.values() if one.live)


def runs_of(facts: JobFacts, state: JobState, items: Sequence[ItemVerdict]) -> Runs:
    """The runs of a job.

    Raises
    ------
    BadInput
        An entry speaks of a run that has not begun, has ended, or of a step or magneto that is
        not known; or a run begins while another is on.
    """
    judged = {one.item: one for one in items}
    began: dict[str, Entry[RunBegan]] = {}
    ended: dict[str, Entry[RunEnded]] = {}
    steps: dict[str, dict[str, Entry]] = {}
    leads: dict[str, Entry[PLeadFound]] = {}
    known = {step.id for step in facts.run_steps}
    for entry in state.live():
        if is_a(entry, RunBegan):
            name = entry.fields.run
            on = next((one for one in began if one not in ended), None)
            if on is not None:
                raise BadInput(f"Run {on} is still on. End it before run {name} begins.")
            before = next(reversed(ended.values()), None)
            # Shut down for a reason, it is not started again before somebody has looked.
            if before is not None and before.fields.why and not entry.fields.note.strip():
                raise BadInput(
                    f"Run {before.fields.run} was shut down ({before.fields.why}). Write what "
                    f"was found and done before run {name} begins.",
                    "note",
                )
            check_conditions(entry.fields.with_)
            day_air(facts, entry.fields.with_)
            began[name], steps[name] = entry, {}
        elif is_a(entry, RunStepDone):
            name, step = entry.fields.run, entry.fields.step
            _check_is_on(name, began, ended)
            if step not in known:
                raise BadInput(
                    f'"{step}" is not a step of the run. '
                    f"The steps are {', '.join(s.id for s in facts.run_steps)}."
                )
            steps[name][step] = entry
        elif is_a(entry, RunEnded):
            _check_is_on(entry.fields.run, began, ended)
            ended[entry.fields.run] = entry
        elif is_a(entry, PLeadFound):
            _check_p_lead(entry, facts)
            leads[item_name(entry.item)] = entry
    runs = tuple(
        Run(
            name=name,
            item=f"run:{name}",
            began=entry,
            ended=ended.get(name),
            why=ended[name].fields.why if name in ended else "",
            steps=steps[name],
            conditions=entry.fields.with_,
            verdict=judged.get(f"run:{name}"),
            mags=_mags(judged.get(f"run:{name}"), facts),
            has_figures=_has_figures(f"run:{name}", state),
            at_power=_at_power(f"run:{name}", steps[name], state, facts),
        )
        for name, entry in began.items()
    )
    p_leads = _p_leads(facts, leads, runs)
    proofs = Proofs()
    if items:
        # A run that is still on proves nothing yet.
        proofs = proofs_of(facts, state, [(run.name, run.verdict) for run in runs if run.ended])
    return Runs(runs, p_leads, tuple(_blockers(facts, runs, p_leads, proofs)), proofs)


def _check_is_on(name: str, began: Container[str], ended: Container[str]) -> None:
    if name not in began:
        raise BadInput(f"Run {name} has not begun. Begin it first.")
    if name in ended:
        raise BadInput(f"Run {name} has ended. Begin another run.")


def _has_figures(item: str, state: JobState) -> bool:
    held = state.items.get(item)
    return held is not None and any(
        one.counts and (one.reading.value is not None or one.reading.word) for one in held.readings
    )


def _at_power(item: str, steps: Mapping[str, Entry], state: JobState, facts: JobFacts) -> bool:
    """Whether the engine was at power: the step is done, or something was read that is read there."""
    power = [step for step in facts.run_steps if step.power]
    if any(step.id in steps for step in power):
        return True
    held = state.items.get(item)
    asked = {check for step in power for check in step.checks}
    return held is not None and any(
        one.counts and one.reading.check in asked and one.reading.value is not None
        for one in held.readings
    )


def _check_p_lead(entry: Entry[PLeadFound], facts: JobFacts) -> None:
    magneto = item_name(entry.item)
    if magneto not in facts.layout.ignition:
        raise BadInput(
            f'"{entry.item}" is not a magneto of this engine. '
            f"They are {', '.join(f'magneto:{name}' for name in facts.layout.ignition)}."
        )
    if entry.fields.state not in P_LEAD_STATES:
        raise BadInput(
            f"A P-lead is {', '.join(P_LEAD_STATES[:-1])} or {P_LEAD_STATES[-1]}, "
            f'not "{entry.fields.state}".'
        )


def _p_leads(
    facts: JobFacts, leads: Mapping[str, Entry[PLeadFound]], runs: Sequence[Run]
) -> dict[str, PLead]:
    """Each magneto: live until it is proved dead after its P-lead was last off.

    An engine that came off its airframe came off its P-leads too. What was seen since a magneto
    was last proved dead counts: a check passed once proves nothing after one that was not.
    """
    found = {}
    for magneto in facts.layout.ignition:
        handled = leads.get(magneto)
        entry: Entry | None = handled
        state = handled.fields.state if handled else "off"
        seen = [*_switch_offs(runs), *_no_drops(runs, magneto)]
        if handled is not None:
            seen.append((handled, state))
        seen.sort(key=lambda one: (one[0].at, one[0].seq))
        if seen:
            # The last, but for a magneto that was found hot and not proved dead since: it is.
            proofs = [n for n, (_, what) in enumerate(seen) if what == "proved dead"]
            since = seen[proofs[-1] + 1 :] if proofs else seen
            entry, state = next((one for one in since if one[1] == "hot"), seen[-1])
        found[magneto] = PLead(magneto, state, entry, _live(magneto, state, entry))
    return found


def _live(magneto: str, state: str, entry: Entry | None) -> str:
    """Why the propeller is live by a magneto; empty where that is proved dead."""
    match state:
        case "proved dead":
            return ""
        case "hot":
            return f"The {magneto} magneto is HOT: the propeller is live. Tag it."
        case "runs on":
            return (
                f"It ran on with the switch off, so the {magneto} magneto may be HOT: the propeller "
                "is live. Tag it."
            )
    if entry is not None:
        return f"The {magneto} magneto is not proved dead: treat the propeller as live."
    return (
        f"The {magneto} magneto's P-lead came off with the engine and it is not proved dead since: "
        "treat the propeller as live."
    )


def _switch_offs(runs: Sequence[Run]) -> list[tuple[Entry, str]]:
    """What each run's switch-off check says of both magnetos."""
    said = {"WITHIN": "proved dead", "OUT": "runs on"}
    found = []
    for run in runs:
        call = run.verdict.call("switch_off") if run.verdict else None
        if call is not None and call.entry is not None and call.call not in ("NOT READ", "VOID"):
            found.append((call.entry, said.get(call.call, "not proved")))
    return found


def _no_drops(runs: Sequence[Run], magneto: str) -> list[tuple[Entry, str]]:
    """The readings of the other side that found no drop, so that this magneto fired on."""
    found: list[tuple[Entry, str]] = []
    for run in runs:
        side = _OTHER.get(magneto, "")
        call = run.verdict.call(f"drop_{side}") if side and run.verdict else None
        if call is not None and call.taken is not None and call.value is not None:
            feel = str(call.taken.fields.with_.get("feel", ""))
            if is_no_drop(call.value, feel):
                found.append((call.taken, "hot"))
    return found


def stop_after(facts: JobFacts) -> tuple[float | None, Limit | None]:
    """Seconds after the start by which oil pressure has to show, by the limit on file."""
    limit = limit_for(facts.limits, "run", "oil_rise", "service")
    if limit is None or not limit.has_source or limit.upper is None:
        return None, limit
    # Seconds are kept in tenths.
    return limit.upper / 10, limit


def air_of(facts: JobFacts, run: Run) -> DayAir | str:
    """The air of a run, or a sentence that says what is missing to know it."""
    try:
        return day_air(facts, run.conditions)
    except BadInput as reason:
        # The place's own elevation may have been changed since the run.
        return f"What the air is worth is not known. {reason.sentence}"


def worth_beside(facts: JobFacts, run: Run) -> StaticWorth | None:
    """What the air is worth beside the run's static speed; None where that was not read."""
    call = run.verdict.call("static") if run.verdict else None
    return static_worth(call, air_of(facts, run)) if call is not None else None


def _mags(verdict: ItemVerdict | None, facts: JobFacts) -> MagCheck | None:
    if verdict is None:
        return None
    drops: dict[str, tuple[int, str, bool]] = {}
    for side in ("left", "right"):
        call = verdict.call(f"drop_{side}")
        if call is None or call.value is None or call.taken is None:
            continue
        feel = str(call.taken.fields.with_.get("feel", ""))
        drops[side] = (call.value, feel, call.call == "OUT")
    if not drops:
        return None
    difference = verdict.call("difference")
    split = difference is not None and difference.call == "OUT"
    return mag_check(drops, facts, split=split)


def leak_closed(finding: Finding, runs: Sequence[Run], facts: JobFacts) -> str:
    """The later run at power whose look found a leak dry, in words; empty while there is none."""
    about = facts.sheets["run"].words[finding.word].about
    starts = {step.id for step in facts.run_steps if step.starts}
    for run in runs:
        call = run.verdict.call(about) if run.verdict else None
        if call is None or call.entry is None or not is_later(run.began, finding.entry):
            continue
        if any(is_later(run.steps[one], call.entry) for one in starts & set(run.steps)):
            continue  # nobody has seen it run yet
        # DESIGN 4b, 6: closed by a later dry look under power alone.
        if run.ended and run.at_power and call.call == "WITHIN":
            return f"dry at run {run.name}, at power, on {on_day(call.entry.at)}"
    return ""


def _blockers(
    facts: JobFacts, runs: Sequence[Run], p_leads: Mapping[str, PLead], proofs: Proofs
) -> list[Blocker]:
    done = [run for run in runs if run.ended]
    found: list[Blocker] = []
    if not done:
        found.append(
            Blocker(
                "run",
                "The engine has not been run on the ground.",
                "Run it by the run card: 14 CFR 43.15(c)(2) asks for it before approval.",
            )
        )
    elif not any(run.has_figures for run in done):
        found.append(
            Blocker(
                done[-1].item,
                f"Run {done[-1].name} has no figure, and a run with no figure is no run.",
                "Run it again and read every check of the run card.",
            )
        )
    else:
        found += _not_shown(facts, done[-1], proofs)
    for run in done:
        found += _open_findings(run, done, facts)
    on = next((run for run in runs if run.state == "running"), None)
    if on is not None:
        found.append(Blocker(on.item, f"Run {on.name} is not ended.", "End it on its card."))
    for one in p_leads.values():
        if one.live:
            found.append(
                Blocker(
                    f"magneto:{one.magneto}",
                    one.live,
                    "Prove it dead: the switch-off check of a run, or the P-lead's own check.",
                )
            )
    return found


def _not_shown(facts: JobFacts, last: Run, proofs: Proofs) -> list[Blocker]:
    """Every figure that the run card asks for, or that was read, and that no run shows to be right."""
    sheet: CheckSheet = facts.sheets["run"]
    missing: list[str] = []
    missed: list[str] = []
    ended: dict[str, tuple[Act, list[Figure]]] = {}
    for check in sheet.checks:
        figure = proofs.standing.get(check.name)
        if not check.required and (
            figure is None or figure.ended_by is not None or figure.call.call in NOT_SHOWN
        ):
            continue  # it is offered, and nothing asks for it
        if figure is None or figure.call.call == "VOID":
            missing.append(check.label.lower())
        elif figure.ended_by is not None:
            act = figure.ended_by
            ended.setdefault(act.entry.id, (act, []))[1].append(figure)
        elif check.kind == "look" and figure.call.call in ("NOT READ", "OUT"):
            continue  # what it found stands open, and is said for itself
        elif figure.call.call == "NOT READ":
            said = lower_first(figure.call.sentence).rstrip(".")
            missing.append(f"{check.label.lower()} ({said})")
        elif figure.call.call != "WITHIN":
            missed.append(_missed(figure, last))
    found = [
        Blocker(
            f"run:{figures[-1].run}",
            f"{upper_first(act.sentence)}, after run {figures[-1].run}: "
            f"{listed([one.label.lower() for one in figures])} of it no longer "
            f"count{'s' if len(figures) == 1 else ''}.",
            "Run again and read that again.",
        )
        for act, figures in ended.values()
    ]
    if missed or missing:
        why = []
        if missed:
            why.append(f"Missed: {', '.join(missed)}.")
        if missing:
            why.append(f"Not logged: {', '.join(missing)}.")
        out = last.mags.sentences[0] if last.mags and last.mags.accused else ""
        if not out:
            out = "Run it again."
            if last.verdict and last.verdict.next and last.verdict.verdict != "REJECT":
                out = last.verdict.next  # a run is no part, so none is tagged
        found.append(Blocker(last.item, f"Run {last.name} does not stand. {' '.join(why)}", out))
    return found


def _missed(figure: Figure, last: Run) -> str:
    of = f" of run {figure.run}" if figure.run != last.name else ""
    call = figure.call
    if call.call == "NOT YET":
        # What a look found says what it is by itself.
        return f"{call.label.lower()}{of}: {lower_first(call.reading)} is open"
    said = f"{call.label.lower()} {call.reading}{of}"
    return (
        said
        if call.call == "OUT"
        else f"{said}, {call.call}: {lower_first(call.sentence).rstrip('.')}"
    )


def _open_findings(run: Run, done: Sequence[Run], facts: JobFacts) -> list[Blocker]:
    found = []
    for finding in run.verdict.findings if run.verdict else ():
        if finding.severity < 2:
            continue
        if is_leak(finding, facts):
            if leak_closed(finding, done, facts):
                continue
            way_out = "Mend it, run again at power and look: a dry look after that closes it."
        elif finding.is_open:
            way_out = "Close it with what was done, then look again at the next run."
        else:
            continue
        found.append(Blocker(run.item, f"{finding.label} at run {run.name} is open.", way_out))
    return found
