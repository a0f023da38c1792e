"""Ground runs: the walk through one, what its readings say of the magnetos, what it leaves open."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from rehang.trade.air import DayAir, StaticWorth, check_conditions, day_air, static_worth
from rehang.trade.entries import Entry
from rehang.trade.errors import BadInput
from rehang.trade.facts import JobFacts
from rehang.trade.items import CheckSheet
from rehang.trade.limits import Limit, limit_for
from rehang.trade.quantities import QUANTITIES, show
from rehang.trade.runsteps import Step
from rehang.trade.state import JobState, item_name
from rehang.trade.verdict import Blocker, ItemVerdict

__all__ = [
    "RUN_KINDS",
    "MagCheck",
    "PLead",
    "Run",
    "Runs",
    "air_of",
    "mag_check",
    "runs_of",
    "stop_after",
    "worth_beside",
]

P_LEAD_STATES = ("off", "on", "proved dead")
# The kinds of entry that speak of a run.
RUN_KINDS = ("run_began", "run_step", "run_ended", "p_lead")
_OTHER = {"left": "right", "right": "left"}


@dataclass(frozen=True, slots=True)
class PLead:
    """One magneto's grounding. ``live`` says why the propeller is live by it; empty when dead."""

    magneto: str
    state: str
    entry: Entry | None
    live: str


@dataclass(frozen=True, slots=True)
class MagCheck:
    """A magneto check read: the sentences, the first the one that matters, and who is accused.

    ``accused`` names a magneto ("right") and ``part`` what of it ("P-lead", "plug or lead",
    "timing"); both empty when nothing is wrong.
    """

    sentences: tuple[str, ...]
    accused: str
    part: str
    hot: str


@dataclass(frozen=True, slots=True)
class Run:
    """One ground run. ``state`` is ``running`` or ``ended``; ``why`` is why it ended early."""

    name: str
    item: str
    began: Entry
    ended: Entry | None
    why: str
    steps: Mapping[str, Entry]
    conditions: Mapping[str, Any]
    verdict: ItemVerdict | None
    mags: MagCheck | None

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
    began: dict[str, Entry] = {}
    ended: dict[str, Entry] = {}
    steps: dict[str, dict[str, Entry]] = {}
    leads: dict[str, Entry] = {}
    known = {step.id for step in facts.run_steps}
    for entry in state.live():
        match entry.kind:
            case "run_began":
                name = entry.data["run"]
                on = next((one for one in began if one not in ended), None)
                if on is not None:
                    raise BadInput(f"Run {on} is still on. End it before run {name} begins.")
                before = next(reversed(ended.values()), None)
                if before is not None and before.get("why") and not entry.get("note").strip():
                    raise BadInput(
                        f"Run {before.data['run']} was shut down ({before.get('why')}). Write what "
                        f"was found and done before run {name} begins.",
                        "note",
                    )
                check_conditions(entry.get("with", {}))
                day_air(facts, entry.get("with", {}))
                began[name], steps[name] = entry, {}
            case "run_step" | "run_ended":
                name = entry.data["run"]
                if name not in began:
                    raise BadInput(f"Run {name} has not begun. Begin it first.")
                if name in ended:
                    raise BadInput(f"Run {name} has ended. Begin another run.")
                if entry.kind == "run_ended":
                    ended[name] = entry
                elif entry.data["step"] not in known:
                    raise BadInput(
                        f'"{entry.data["step"]}" is not a step of the run. '
                        f"The steps are {', '.join(s.id for s in facts.run_steps)}."
                    )
                else:
                    steps[name][entry.data["step"]] = entry
            case "p_lead":
                _check_p_lead(entry, facts)
                leads[item_name(entry.item)] = entry
    runs = tuple(
        Run(
            name=name,
            item=f"run:{name}",
            began=entry,
            ended=ended.get(name),
            why=ended[name].get("why") if name in ended else "",
            steps=steps[name],
            conditions=entry.get("with", {}),
            verdict=judged.get(f"run:{name}"),
            mags=_mags(judged.get(f"run:{name}"), facts),
        )
        for name, entry in began.items()
    )
    p_leads = _p_leads(facts, leads, runs)
    return Runs(runs, p_leads, tuple(_blockers(facts, runs, p_leads)))


def _check_p_lead(entry: Entry, facts: JobFacts) -> None:
    magneto = item_name(entry.item)
    if magneto not in facts.layout.ignition:
        raise BadInput(
            f'"{entry.item}" is not a magneto of this engine. '
            f"They are {', '.join(f'magneto:{name}' for name in facts.layout.ignition)}."
        )
    if entry.data["state"] not in P_LEAD_STATES:
        raise BadInput(
            f"A P-lead is {', '.join(P_LEAD_STATES[:-1])} or {P_LEAD_STATES[-1]}, "
            f'not "{entry.data["state"]}".'
        )


def _p_leads(facts: JobFacts, leads: Mapping[str, Entry], runs: Sequence[Run]) -> dict[str, PLead]:
    """Each magneto: live until it is proved dead after its P-lead was last off.

    An engine that came off its airframe came off its P-leads too. What was seen since a magneto
    was last proved dead counts: a check passed once proves nothing after one that was not.
    """
    found = {}
    for magneto in facts.layout.ignition:
        entry = leads.get(magneto)
        state = str(entry.data["state"]) if entry else "off"
        seen = [*_switch_offs(runs), *_no_drops(runs, magneto)]
        if entry is not None:
            seen.append((entry, state))
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
    found = []
    for run in runs:
        side = _OTHER.get(magneto, "")
        call = run.verdict.call(f"drop_{side}") if side and run.verdict else None
        if call is not None and call.entry is not None and call.value is not None:
            feel = str(call.entry.get("with", {}).get("feel", ""))
            if _is_no_drop(call.value, feel):
                found.append((call.entry, "hot"))
    return found


def _is_no_drop(drop: int, feel: str) -> bool:
    return feel == "no drop" or drop == 0


def stop_after(facts: JobFacts) -> tuple[float | None, Limit | None]:
    """Seconds after the start by which oil pressure has to show, by the limit on file."""
    limit = limit_for(facts.limits, "run", "oil_rise", "service")
    if limit is None or not limit.has_source or limit.upper is None:
        return None, limit
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
        if call is None or call.value is None or call.entry is None:
            continue
        feel = str(call.entry.get("with", {}).get("feel", ""))
        drops[side] = (call.value, feel, call.call == "OUT")
    if not drops:
        return None
    difference = verdict.call("difference")
    split = difference is not None and difference.call == "OUT"
    return mag_check(drops, facts, split=split)


def mag_check(
    drops: Mapping[str, tuple[int, str, bool]], facts: JobFacts, *, split: bool = False
) -> MagCheck:
    """What the drops say: ``side -> (drop in rpm, how it felt, over the limit)``.

    Selecting LEFT runs the left magneto and grounds the right, so no drop on LEFT accuses the
    right one. The table is common practice, no source, but for the cold-cylinder check (AC
    43.13-1B, 8-2a) and the order of the switch (FAA powerplant handbook, ignition checks).
    """
    said: list[tuple[int, str, str, str]] = []
    hot = ""
    over = [side for side, (_, _, out) in drops.items() if out]
    for side, (drop, feel, out) in drops.items():
        holes = ", ".join(facts.layout.ignition.get(side, ()))
        select = side.upper()
        if _is_no_drop(drop, feel):
            hot = _OTHER[side]
            said.append(
                (
                    0,
                    _OTHER[side],
                    "P-lead",
                    f"No drop on {select} accuses the {_OTHER[side]} magneto: {select} runs the "
                    f"{side} one and should ground the {_OTHER[side]} one, which fires on. Look at "
                    f"the {_OTHER[side]} magneto's P-lead and the switch; the propeller is live, tag "
                    "it. If they are sound, the timing is too early.",
                )
            )
        elif feel == "dies":
            said.append(
                (
                    1,
                    side,
                    "magneto",
                    f"It dies on {select}: the {side} magneto is dead or grounded.",
                )
            )
        elif feel == "sudden, rough":
            said.append(
                (
                    2,
                    side,
                    "plug or lead",
                    f"A sudden, rough drop of {drop} rpm on {select}: a dead plug or lead among "
                    f"{holes}. Find the cold cylinder, then swap the plug: the fault moves with a "
                    "plug and stays with a lead or the magneto.",
                )
            )
        elif out and len(over) == 1 and feel != "slow, gentle":
            said.append(
                (
                    3,
                    side,
                    "timing",
                    f"A large, smooth drop of {drop} rpm on {select} alone: the {side} magneto is "
                    "late, or its internal timing is out.",
                )
            )
        elif feel == "slow, gentle":
            said.append(
                (
                    4,
                    side if out else "",
                    "timing" if out else "",
                    f"A slow, gentle fall of {drop} rpm on {select}: timing, mixture or valve "
                    "clearance.",
                )
            )
    if len(over) == 2 and not any(rank < 3 for rank, *_ in said):
        said.append(
            (
                3,
                "both",
                "timing",
                "Large, smooth drops on both: timing late, mixture too rich, or a weak engine.",
            )
        )
    if split and not any(rank < 4 for rank, *_ in said):
        said.append(
            (3, "", "timing or plug", "The drops are too far apart: timing split, or one bad plug.")
        )
    if not said:
        values = " and ".join(
            f"{show(drop, QUANTITIES['speed'])} on {side.upper()}"
            for side, (drop, _, _) in drops.items()
        )
        more = "" if len(drops) == 2 else " The other side is still to be read."
        return MagCheck((f"{values}, smooth: nothing is accused.{more}",), "", "", "")
    said.sort(key=lambda one: one[0])
    first = said[0]
    return MagCheck(tuple(sentence for *_, sentence in said), first[1], first[2], hot)


def _blockers(facts: JobFacts, runs: Sequence[Run], p_leads: Mapping[str, PLead]) -> list[Blocker]:
    sheet: CheckSheet | None = facts.sheets.get("run")
    found: list[Blocker] = []
    done = [run for run in runs if run.ended]
    if not done:
        found.append(
            Blocker(
                "run",
                "The engine has not been run on the ground.",
                "Run it by the run card: 14 CFR 43.15(c)(2) asks for it before approval.",
            )
        )
    else:
        last = done[-1]
        if last.verdict is None:
            found.append(
                Blocker(
                    last.item,
                    f"Run {last.name} has no readings.",
                    "Read every check of the run card.",
                )
            )
        elif last.verdict.verdict != "KEEP":
            missing = [
                call.label.lower()
                for call in last.verdict.calls
                if call.call in ("NOT READ", "VOID")
                and sheet is not None
                and sheet.check(call.check).required
            ]
            out = [
                f"{call.label.lower()} {call.reading}"
                for call in last.verdict.calls
                if call.call == "OUT"
            ]
            why = [last.verdict.reasons[0]]
            if out:
                why = [f"Missed: {', '.join(out)}."]
            if missing:
                why.append(f"Not logged: {', '.join(missing)}.")
            found.append(
                Blocker(
                    last.item,
                    f"Run {last.name} does not stand. {' '.join(why)}",
                    last.mags.sentences[0]
                    if last.mags and last.mags.accused
                    else last.verdict.next,
                )
            )
    for run in done[:-1]:
        for finding in run.verdict.findings if run.verdict else ():
            if finding.is_open and finding.severity >= 2:
                found.append(
                    Blocker(
                        run.item,
                        f"{finding.label} at run {run.name} is open.",
                        "Close it with what was done, then look again at the next run.",
                    )
                )
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
