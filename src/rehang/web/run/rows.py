"""Rows of the run card and of a run's page, ready to show."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from rehang.trade.facts.items import Check, Choice, Word
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import Limit, limit_for, limit_words
from rehang.trade.facts.runsteps import ShutDown, Step
from rehang.trade.gate.run_gate import lock_words
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.meter_choice import chosen_meter, meters_for_check
from rehang.trade.known.state import SAYS, Finding
from rehang.trade.release.run_start import no_start
from rehang.trade.run.air import CONDITIONS, DayAir, StaticWorth
from rehang.trade.run.mag_check import MagCheck, mag_check
from rehang.trade.run.runs import Run, air_of, stop_after, worth_beside
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.quantities import show
from rehang.trade.terms.wording import listed, lower_first, upper_first
from rehang.trade.verdicts import rpm
from rehang.trade.verdicts.calls import Call
from rehang.trade.verdicts.checks import WORKED_OUT
from rehang.web.shared.meters import MeterChoice, meter_choices, meter_standing
from rehang.web.shared.times import when_text

__all__ = [
    "Before",
    "Clock",
    "Drop",
    "PastRun",
    "ReadRow",
    "RunCard",
    "air_words",
    "before",
    "card",
    "check_row",
    "day_lines",
    "drops",
    "opened_by",
    "past",
    "people_words",
    "verdict_of",
]

KIND = "run"
# What the two speeds of a pair are called, by the method of the check.
_PAIRS = {
    "drop": ("On BOTH", "On {side}"),
    "rise": ("At idle", "At the most"),
}


@dataclass(frozen=True, slots=True)
class ReadRow:
    """One check of a step: how it is keyed, what was read, and what that comes to.

    ``form`` is ``number``, ``pair``, ``choice``, ``look`` or ``worked`` (nothing is keyed).
    ``is_open`` says that it waits to be keyed; ``ended`` why what was read no longer counts.
    """

    name: str
    label: str
    form: str
    unit: str
    pair: tuple[str, str]
    choices: tuple[Choice, ...]
    words: tuple[Word, ...]
    feels: tuple[str, ...]
    asks_heading: bool
    hint: str
    caution: str
    limit: str
    source: str
    required: bool
    call: Call | None
    mark: str
    read: str
    seen: str
    entry: str
    meters: tuple[MeterChoice, ...]
    meter_wrong: str
    is_open: bool
    heading: str = ""
    ended: str = ""


@dataclass(frozen=True, slots=True)
class Clock:
    """The clock of a step. Times are seconds; ``limit`` is None where none with a source is on file."""

    check: str
    elapsed: float
    limit: float | None
    began: str
    stop_by: str
    source: str
    words: str
    meter: str
    ticks: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class RunCard:
    """The run card at one step; ``step`` is None when every step is done."""

    run: Run
    item: str
    step: Step | None
    number: int
    of: int
    marks: tuple[str, ...]
    people: str
    reads: tuple[ReadRow, ...]
    missing: str
    clock: Clock | None
    next: str
    lines: tuple[str, ...]
    mags: MagCheck | None
    worth: StaticWorth | None
    air: str
    can_shut_down: bool
    shut_down: ShutDown
    last_step: str


def card(judged: JudgedJob, run: Run, now: datetime, again: str = "", meter: str = "") -> RunCard:
    """The card of the run that is on, at the step it is at.

    ``again`` is the check to key, and ``meter`` what it is read on (``meter|range``).
    """
    facts = judged.facts
    steps = facts.run_steps
    step = run.next_step(steps)
    number = steps.index(step) + 1 if step is not None else len(steps)
    reads: list[ReadRow] = []
    if step is not None:
        reads = [
            check_row(judged, run, facts.sheets[KIND].check(name), now.date(), again, meter)
            for name in step.checks
            if name != step.clock
        ]
    reads = _one_open(reads, again)
    following = steps[number] if step is not None and number < len(steps) else None
    asked = step.checks if step is not None else ()
    return RunCard(
        run=run,
        item=run.item,
        step=step,
        number=number,
        of=len(steps),
        marks=tuple(
            "done" if one.id in run.steps else "on" if one is step else "" for one in steps
        ),
        people=people_words(facts, run.conditions),
        reads=tuple(reads),
        missing=listed([row.label.lower() for row in reads if row.required and not row.read]),
        clock=_clock(judged, run, step, now) if step is not None and step.clock else None,
        next=f"{following.title}. {following.caution}".strip() if following else "",
        lines=_limit_lines(facts, step),
        mags=run.mags if any(name.startswith("drop_") for name in asked) else None,
        worth=worth_beside(facts, run) if "static" in asked else None,
        air=air_words(facts, run),
        # Before the first step is done nothing turns, and after the last but one it has stopped.
        can_shut_down=step is not None and 1 < number < len(steps),
        shut_down=facts.shut_down,
        last_step=next(
            (run.steps[one.id].id for one in reversed(steps) if one.id in run.steps), ""
        ),
    )


def _one_open(reads: list[ReadRow], again: str) -> list[ReadRow]:
    """One thing at a time: the one asked for again, else the first that is open."""
    wanted = next(
        (row.name for row in reads if row.name == again),
        next((row.name for row in reads if row.is_open), ""),
    )
    return [replace(row, is_open=row.name == wanted) for row in reads]


def check_row(
    judged: JudgedJob, run: Run, check: Check, today: date, again: str = "", meter: str = ""
) -> ReadRow:
    """One check of a run as the card or the run's page shows it."""
    facts = judged.facts
    call = run.verdict.call(check.name) if run.verdict else None
    limit = limit_for(facts.limits, KIND, check.name, "service")
    if limit is None and check.kind == "look":
        # A look of its own with no limit of its own is judged by that of the look as a whole.
        limit = limit_for(facts.limits, KIND, facts.sheets[KIND].look.name, "service")
    read = bool(call is not None and call.reading and call.call not in ("VOID",))
    figure = judged.runs.proofs.of(run.name, check.name)
    picked = meter if again == check.name else ""
    meters = tuple(meter_choices(judged, check, picked)) if check.kind == "measure" else ()
    one_heading = check.method == "headings" and read and _one_heading(judged, run, check)
    worked = check.method in WORKED_OUT
    side = check.name.rpartition("_")[2].upper()
    pair = _PAIRS.get(check.method, ("", ""))
    chosen = next((m.value.partition("|")[0] for m in meters if m.chosen), "")
    standing = meter_standing(judged, facts.meters[chosen], today) if chosen else ""
    return ReadRow(
        name=check.name,
        label=check.label,
        form=_form(check),
        unit=check.quantity.words if check.quantity else "",
        pair=(pair[0], pair[1].format(side=side)),
        choices=check.choices,
        words=facts.sheets[KIND].words_for(check) if check.kind == "look" else (),
        feels=check.asks.get("feel", ()),
        asks_heading="heading" in check.asks,
        hint=check.hint,
        caution=check.caution,
        limit=limit_words(limit) if limit else "no limit on file",
        source=limit.source_text if limit else "",
        required=check.required,
        call=call,
        mark=status_name(call.call) if call else "not-read",
        read=call.reading if call is not None and read else "",
        seen=call.sentence if call is not None and read else "",
        entry=call.entry.id if call is not None and call.entry is not None and read else "",
        meters=meters,
        meter_wrong=f"{chosen}: {standing.lower()}" if standing else "",
        is_open=not worked and (not read or one_heading or again == check.name),
        heading=_next_heading(judged, run, check) if "heading" in check.asks else "",
        ended=figure.why_not if figure is not None else "",
    )


def _form(check: Check) -> str:
    if check.kind == "look":
        return "look"
    if check.kind == "grade":
        return "choice"
    if check.method in WORKED_OUT:
        return "worked"
    return "pair" if check.method in _PAIRS else "number"


def _one_heading(judged: JudgedJob, run: Run, check: Check) -> bool:
    """Whether the speed still waits for its reading on the opposite heading."""
    item = judged.state.items.get(run.item)
    found = rpm.headings(item.of(check.name), judged.facts.meters) if item else None
    return found is not None and not found.words.startswith("mean")


def _next_heading(judged: JudgedJob, run: Run, check: Check) -> str:
    """The heading to read on: that of the start, then the opposite one."""
    item = judged.state.items.get(run.item)
    taken = [one for one in item.of(check.name) if one.counts] if item else []
    last = taken[-1].reading.conditions.get("heading", "") if taken else ""
    if last.isdigit():
        return f"{(int(last) + 180) % 360:03d}"
    return str(run.conditions.get("heading", "")).removesuffix("°")


def _limit_lines(facts: JobFacts, step: Step | None) -> tuple[str, ...]:
    """What must be met at a step, a sentence for each limit with a source."""
    if step is None or not step.clock:
        return ()
    limit = limit_for(facts.limits, KIND, step.clock, "service")
    found = []
    if limit is not None and limit.has_source and limit.upper is not None:
        quantity = facts.sheets[KIND].check(step.clock).quantity
        assert quantity is not None
        found.append(f"Must show within {show(limit.upper, quantity)} of the start.")
    idle = limit_for(facts.limits, KIND, "oil_idle", "service")
    if idle is not None and idle.has_source:
        found.append(f"{limit_words(idle)} at idle.".capitalize())
    return tuple(found)


def _clock(judged: JudgedJob, run: Run, step: Step, now: datetime) -> Clock:
    """The clock of a step runs from the step before it: the start."""
    facts = judged.facts
    steps = facts.run_steps
    place = steps.index(step)
    from_entry = run.steps.get(steps[place - 1].id, run.began) if place else run.began
    seconds, limit = stop_after(facts)
    zone = ZoneInfo(facts.timezone_name)
    check = facts.sheets[KIND].check(step.clock)
    began = from_entry.at.astimezone(zone)
    # The card is itself the clock in hand: there is one to choose only where several are on file.
    clocks = meters_for_check(check, facts, judged.state)
    meter = chosen_meter(check, facts, judged.state)[0]
    if not meter and len(clocks) == 1:
        meter = clocks[0].id
    return Clock(
        check=step.clock,
        elapsed=max(0.0, (now - from_entry.at).total_seconds()),
        limit=seconds,
        began=f"{began:%H:%M:%S}",
        stop_by=f"{began + timedelta(seconds=seconds):%H:%M:%S}" if seconds is not None else "",
        source=limit.source_text if limit is not None and limit.has_source else "",
        words="" if seconds is not None else _no_limit(check, limit),
        meter=meter,
        ticks=tuple(range(min(60, int(seconds)))) if seconds is not None else (),
    )


def _no_limit(check: Check, limit: Limit | None) -> str:
    why = "No limit is on file" if limit is None else "The limit on file names no source"
    return f"{why}, so the clock only counts. {check.hint}"


def air_words(facts: JobFacts, run: Run) -> str:
    """The air of a run, or what is missing to know it."""
    found = air_of(facts, run)
    return found.sentence if isinstance(found, DayAir) else found


def people_words(facts: JobFacts, conditions: Mapping[str, object]) -> str:
    """``Marta: engine. Tom: fire watch.``; only those who were written down."""
    said = []
    for key, part in (("runs", "engine"), ("watches", "fire watch")):
        if conditions.get(key):
            said.append(f"{facts.person(str(conditions[key])).split(' ')[0]}: {part}.")
    return " ".join(said)


# Before a run, and after it


def opened_by(judged: JudgedJob, run: Run) -> tuple[Finding, ...]:
    """The findings that a run opened on what it accuses, those that are open first."""
    own = {run.began.id} | {
        call.entry.id
        for call in (run.verdict.calls if run.verdict else ())
        if call.entry is not None
    }
    found = [
        finding
        for one in judged.items
        for finding in one.findings
        if finding.id.startswith(SAYS) and finding.entry.id in own
    ]
    return tuple(sorted(found, key=lambda one: not one.is_open))


@dataclass(frozen=True, slots=True)
class PastRun:
    """One run in the list: what it came to and why it ended."""

    name: str
    when: str
    state: str
    mark: str
    word: str
    why: str


@dataclass(frozen=True, slots=True)
class Before:
    """What stands before a start. ``no_start`` are sentences that keep it from being started."""

    name: str
    no_start: tuple[str, ...]
    lock: str
    was_shut_down: str
    cautions: tuple[str, ...]
    people: tuple[tuple[str, str], ...]
    elevation: str
    meters: tuple[str, ...]
    lacks: tuple[tuple[str, str], ...]
    unlimited: tuple[str, ...]


def before(judged: JudgedJob, person: str, now: datetime) -> Before:
    """The page before a run: what is asked once, and what stands in the way."""
    facts = judged.facts
    last = judged.runs.last
    field = facts.engine.get("elevation_ft")
    return Before(
        name=str(len(judged.runs.runs) + 1),
        no_start=no_start(facts, judged.state, judged.work, now),
        lock=lock_words(facts),
        was_shut_down=f"Run {last.name} was shut down: {last.why}." if last and last.why else "",
        cautions=facts.sheets[KIND].cautions,
        people=tuple((key, one.name) for key, one in facts.people.items() if key != person),
        elevation=f"{field:g} ft" if isinstance(field, (int, float)) else "",
        meters=_lapsed(judged, now.date()),
        lacks=_lacks(judged),
        unlimited=tuple(
            check.name
            for check in facts.sheets[KIND].checks
            if check.required and limit_for(facts.limits, KIND, check.name, "service") is None
        ),
    )


def _measured(judged: JudgedJob) -> list[Check]:
    """The checks of a run that a meter reads."""
    return [
        check
        for check in judged.facts.sheets[KIND].checks
        if check.kind == "measure" and check.required and _form(check) != "worked"
    ]


def _lacks(judged: JudgedJob) -> tuple[tuple[str, str], ...]:
    """What no meter on file reads: a check that the meter is looked for, and all that it would read."""
    found: dict[str, list[Check]] = {}
    for check in _measured(judged):
        if not meter_choices(judged, check):
            found.setdefault(check.use, []).append(check)
    return tuple(
        (ones[0].name, upper_first(listed([lower_first(one.label) for one in ones])))
        for ones in found.values()
    )


def _lapsed(judged: JudgedJob, today: date) -> tuple[str, ...]:
    """Meters a run would be read on that are not in date."""
    said = []
    for check in _measured(judged):
        chosen = next((c for c in meter_choices(judged, check) if c.chosen), None)
        name = chosen.value.partition("|")[0] if chosen is not None else ""
        if not name:
            # Nobody has chosen one yet; the card asks.
            continue
        standing = meter_standing(judged, judged.facts.meters[name], today)
        if standing:
            said.append(f"{name} is {standing.lower()}.")
    return tuple(dict.fromkeys(said))


def past(judged: JudgedJob) -> tuple[PastRun, ...]:
    """Every run that has been, the last first."""
    zone = ZoneInfo(judged.facts.timezone_name)
    rows = []
    for run in reversed(judged.runs.runs):
        word, mark = verdict_of(judged, run)
        rows.append(
            PastRun(
                name=run.name,
                when=when_text(run.began.at, zone),
                state=run.state,
                mark=mark,
                word=word,
                why=run.why,
            )
        )
    return tuple(rows)


# What a run comes to, as people say it of a run.
_STANDS = {"KEEP": "STANDS", "REJECT": "DOES NOT STAND"}


def verdict_of(judged: JudgedJob, run: Run) -> tuple[str, str]:
    """What a run comes to, and its mark; what was worked on since ends it (DESIGN 4b, 6)."""
    verdict = run.verdict.verdict if run.verdict else "NOT YET"
    figures = judged.runs.proofs.by_run.get(run.name, {}).values()
    if verdict == "KEEP" and any(not one.counts for one in figures):
        return "WORKED ON SINCE", status_name("NOT YET")
    return _STANDS.get(verdict, verdict), status_name(verdict)


def day_lines(facts: JobFacts, run: Run) -> tuple[tuple[str, str], ...]:
    """What was written down at the start of a run."""
    found = []
    for key, words in CONDITIONS.items():
        given = run.conditions.get(key)
        if given:
            said = facts.person(str(given)) if key in ("runs", "watches") else str(given)
            found.append((words[:1].upper() + words[1:], said))
    return tuple(found)


# What a drop says


@dataclass(frozen=True, slots=True)
class Drop:
    """One line of the table of drops: what is seen, and what it says."""

    title: str
    sentence: str


# Speeds that stand for a drop in the table; a large one is over most makers' limits.
_LARGE, _SMALL = 250, 80
_SEEN = (
    ("No drop on {side}", 0, "no drop", False),
    ("It dies on {side}", _LARGE, "dies", True),
    ("Sudden and rough on {side}", _LARGE, "sudden, rough", True),
    ("Large and smooth on {side} alone", _LARGE, "smooth", True),
    ("A slow, gentle fall on {side}", _SMALL, "slow, gentle", False),
)


def drops(facts: JobFacts) -> tuple[Drop, ...]:
    """What each kind of drop accuses, on either side of the switch."""
    found = []
    for title, drop, feel, out in _SEEN:
        for side in ("left", "right"):
            if side not in facts.layout.ignition:
                continue
            read = mag_check({side: (drop, feel, out)}, facts)
            found.append(Drop(title.format(side=side.upper()), read.sentences[0]))
    return tuple(found)
