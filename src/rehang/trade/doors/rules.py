"""Rules about writing in the book. Each is written once; its sentence is what people read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from types import MappingProxyType

from rehang.trade.facts.job_facts import JobFacts, Person
from rehang.trade.gate.entry_gate import CLOCK_SLACK, check_not_ahead, is_ahead
from rehang.trade.gate.powers import check_says_enough
from rehang.trade.job.judging import JudgedJob, judge_state
from rehang.trade.known.cylinders_off import CYLINDER, opened
from rehang.trade.known.doubts import uses_in_doubt
from rehang.trade.known.drafts import check_drafted, check_what
from rehang.trade.known.state import STANDS, JobState, item_kind, item_name
from rehang.trade.papers.due import due_of
from rehang.trade.papers.signing import check_can_sign
from rehang.trade.release.run_start import no_start
from rehang.trade.run.runs import runs_of
from rehang.trade.telling.entry_text import draft_of
from rehang.trade.terms import strikes
from rehang.trade.terms.aside import set_aside
from rehang.trade.terms.bounds import check_bounds
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput, NotAllowed, Refused
from rehang.trade.terms.kinds.decisions import CallMade, Closed, Struck
from rehang.trade.terms.kinds.items import Assigned, Fitted, Removed
from rehang.trade.terms.kinds.papers import Drafted, Filed, RecordSigned
from rehang.trade.terms.kinds.readings import ReadingTaken, Seen
from rehang.trade.terms.kinds.runs import AboutRun, PLeadFound, RunBegan, RunStepDone
from rehang.trade.terms.kinds.shop import Unread
from rehang.trade.terms.kinds.stock import Used
from rehang.trade.terms.kinds.torque import Torqued
from rehang.trade.terms.kinds.work import (
    ClosedShort,
    Done,
    Flagged,
    FlagOff,
    SecondLookTaken,
    Started,
)
from rehang.trade.terms.wording import at_time, listed
from rehang.trade.verdicts.checks import WORKED_OUT
from rehang.trade.verdicts.folding import fold_job
from rehang.trade.verdicts.verdict import judge_items
from rehang.trade.work.progress import work_of
from rehang.trade.work.rotation import check_assigned
from rehang.trade.work.task_states import WORK_KINDS, JobWork, TaskWork
from rehang.trade.work.traces import place_named

__all__ = [
    "CLOCK_SLACK",
    "READS_ONLY",
    "can_write",
    "check_book",
    "check_can_append",
    "check_can_strike",
    "check_can_write",
    "check_clock",
    "check_none_lost",
    "check_typed",
    "judged_aside",
]

READS_ONLY = "reads"
_ABOUT_WORK = (*WORK_KINDS, Flagged, FlagOff, Used)
_NEED_THE_BOOK = (
    *_ABOUT_WORK,
    Struck,
    CallMade,
    Closed,
    RunBegan,
    RunStepDone,
    RecordSigned,
    Assigned,
)


def check_can_write(person: Person | None) -> None:
    """Whether someone may write in this job's book at all."""
    if person is None:
        raise NotAllowed("You are not in this job's list of people. Ask its owner to add you.")
    if person.role == READS_ONLY:
        raise NotAllowed(f"{person.name} reads this book and does not write in it.")


def can_write(person: Person | None) -> bool:
    """See :func:`check_can_write`."""
    try:
        check_can_write(person)
    except NotAllowed:
        return False
    return True


def check_can_strike(entry: Entry, state: JobState) -> None:
    """Whether an entry may be struck out. The entry stays in the book, struck."""
    declined = strikes.ever_declined(state.order)
    said = strikes.refusal(entry.id, entry, state.void_strikes, declined)
    if said:
        raise NotAllowed(said)
    if entry.id in state.struck:
        raise NotAllowed("This line is struck already.")


def check_can_append(
    new: Sequence[Entry],
    book: Sequence[Entry],
    facts: JobFacts,
    *,
    at: datetime | None = None,
    state: JobState | None = None,
    where: Mapping[str, str] = MappingProxyType({}),
) -> JobState:
    """Fold the book with new entries at its end, or refuse them all with one sentence.

    Returns the state with them in it. An entry whose id is in the book already with the same
    content is let through; it will not be kept twice. ``state`` is the fold of ``book`` by these
    facts, where it is at hand; ``where`` the place of each entry in a file, for the sentence.
    """
    if state is None:
        state = fold_job(facts, book)
    fresh = [entry for entry in new if entry.id not in state.entries]
    folded: tuple[int, JobState] = (0, state)
    for number, entry in enumerate(fresh):
        try:
            check_can_write(facts.people.get(entry.by))
            check_not_ahead(entry.at, at)
            _check_alone(entry, facts)
            if isinstance(entry.fields, _NEED_THE_BOOK):
                whole = [*book, *fresh[:number]]
                if folded[0] != number:
                    folded = number, fold_job(facts, whole, where=where)
                _check_by_book(entry, folded[1], whole, facts)
        except Refused as refusal:
            if entry.id in where:
                raise BadInput(refusal.sentence, where[entry.id]) from None
            raise
    fresh_ids = {entry.id for entry in fresh}
    after = fold_job(facts, [*book, *new], where=where, clock=at, refuse=fresh_ids)
    check_none_lost(state, after)
    if any(is_a(entry, AboutRun, PLeadFound, Struck) for entry in new):
        # What speaks of a run that has not begun, or of a step that is not one, is refused here.
        runs_of(facts, after, ())
    if any(isinstance(entry.fields, (AboutRun, PLeadFound, Struck, Filed)) for entry in new):
        # Hours that run backwards.
        due_of(facts, after, None)
    return after


def check_none_lost(before: JobState, after: JobState) -> None:
    """Whether every line of a book that could be shown still can.

    Raises
    ------
    BadInput
        The sentence of the first that no longer can.
    """
    for one, refusal in after.aside.items():
        if one not in before.aside and one in before.entries:
            raise refusal


def check_typed(
    facts: JobFacts,
    entries: Sequence[Entry],
    where: Mapping[str, str],
    clock: datetime | None = None,
) -> None:
    """Hold what was typed by hand in a folder to the rules of every other door (DESIGN 4b, 14).

    Sealed entries stay, with what they break among the blockers.

    Raises
    ------
    BadInput
        With file and line, for the first entry without a seal that breaks a rule.
    """
    typed = [entry for entry in entries if not entry.is_sealed]
    if typed:
        book = [entry for entry in entries if entry.is_sealed]
        check_can_append(typed, book, facts, at=clock, where=where)


def _check_alone(entry: Entry, facts: JobFacts) -> None:
    """What takes the entry and the facts."""
    if is_a(entry, Drafted):
        # Before the bounds: its sentence names the field of the form.
        check_drafted(entry)
    check_bounds(entry)
    if is_a(entry, ReadingTaken):
        _check_is_keyed(entry, facts)


# The order of work is asked for at a door and not again of a sealed book: a task sheet that was
# changed since, or work that is written down late, would put whole old books at fault.
def _check_by_book(entry: Entry, before: JobState, book: Sequence[Entry], facts: JobFacts) -> None:
    """What takes the whole book before the entry: what it speaks of, and what stands open."""
    if is_a(entry, Struck):
        target = before.entry(entry.fields.entry)
        check_can_strike(target, before)
        if is_a(target, Removed):
            _check_not_read(target, before)
            _check_not_measured(target, before, facts)
        if target.by != entry.by:
            # Whoever wrote it reads why on their board.
            check_says_enough(entry.fields.reason)
    elif is_a(entry, CallMade):
        _check_can_call(entry, before)
    elif is_a(entry, Closed) and entry.fields.finding.startswith(STANDS):
        _check_stands(entry, before, facts)
    elif is_a(entry, RunBegan, RunStepDone) and _starts(entry, facts):
        _check_can_start(entry, before, facts)
    elif is_a(entry, RecordSigned):
        _check_sign(entry, before, book, facts)
    elif is_a(entry, Assigned):
        facts = opened(facts, before)
        items, _ = judge_items(facts, before, entry.at.date())
        check_assigned(entry, before, facts, items)
    elif isinstance(entry.fields, _ABOUT_WORK):
        _check_work(entry, before, facts)


def check_book(facts: JobFacts, state: JobState) -> None:
    """Whether a whole book can be judged: its runs, its hours, what it complied with.

    Raises
    ------
    BadInput
        One sentence for the first entry that cannot be.
    """
    runs_of(facts, state, ())
    due_of(facts, state, None)


def judged_aside(
    facts: JobFacts, book: Sequence[Entry], today: date | None, clock: datetime | None = None
) -> tuple[tuple[Entry, ...], JudgedJob]:
    """A book and how it is judged, with each line set aside without which it can be.

    Raises
    ------
    BadInput
        No line of it is at fault.
    """

    def judge_first(number: int) -> JudgedJob | BadInput:
        try:
            return judge_state(facts, fold_job(facts, live[:number], clock=clock), today=today)
        except BadInput as refusal:
            return refusal

    found = list(book)
    while True:
        try:
            judged = judge_state(facts, fold_job(facts, found, clock=clock), today=today)
        except BadInput as problem:
            refusal = problem
        else:
            return tuple(found), judged
        struck, _ = strikes.strikes_in(found)
        live = [entry for entry in found if entry.id not in struck]
        good, bad = 0, len(live)
        while bad - good > 1:
            middle = (good + bad) // 2
            if isinstance(judge_first(middle), BadInput):
                bad = middle
            else:
                good = middle
        why = judge_first(bad)
        if not isinstance(why, BadInput) or not live or is_a(live[bad - 1], Unread):
            raise refusal
        at = found.index(live[bad - 1])
        found[at] = set_aside(found[at], why.sentence)


def _check_sign(
    entry: Entry[RecordSigned], before: JobState, book: Sequence[Entry], facts: JobFacts
) -> None:
    judged = judge_state(facts, before, today=entry.at.date())
    what = check_what(entry.fields.what)
    check_can_sign(
        entry,
        facts=facts,
        book=book,
        blockers=judged.against(what),
        draft=draft_of(judged, what),
        signed=judged.signed,
    )


def check_clock(at: datetime, book: Sequence[Entry], new: Sequence[Entry] = ()) -> None:
    """Whether the clock that entries are kept by has been set back behind the book.

    An old happening may be written later; its keeping may not be dated before what was kept. An
    entry that was kept under a wrong clock is struck, and then counts no more.
    """
    struck = {e.fields.entry for e in (*book, *new) if is_a(e, Struck)}
    last = next((e for e in reversed(book) if e.id not in struck), None)
    if last is not None and last.kept is not None and is_ahead(last.kept, at):
        raise NotAllowed(
            f"The clock here says {at_time(at)}, and the last line "
            f"was kept at {at_time(last.kept)}. Set the clock of the "
            "machine that keeps the book right, then write this again. If the clock is right, "
            f"strike line {last.seq} with a reason: its time is wrong."
        )


def _check_is_keyed(entry: Entry[ReadingTaken], facts: JobFacts) -> None:
    """Whether a reading is one that is keyed. What is worked out from others is not.

    Only doors ask: one that is in an older book stays on file and does not count.
    """
    sheet = facts.sheets.get(item_kind(entry.item))
    check = next((c for c in sheet.checks if c.name == entry.fields.check), None) if sheet else None
    if check is not None and check.method in WORKED_OUT:
        raise NotAllowed(
            f"{check.label} is worked out from the readings that it is made of. Key those."
        )


def _starts(entry: Entry, facts: JobFacts) -> bool:
    """Whether an entry begins a run or starts its engine."""
    starts = {step.id for step in facts.run_steps if step.starts}
    return is_a(entry, RunBegan) or (is_a(entry, RunStepDone) and entry.fields.step in starts)


def _check_can_start(entry: Entry, before: JobState, facts: JobFacts) -> None:
    facts = opened(facts, before)
    items, _ = judge_items(facts, before, entry.at.date())
    why = no_start(facts, before, work_of(facts, before, items, entry.at.date()), entry.at)
    if why:
        raise NotAllowed(" ".join(why))


def _check_work(entry: Entry, before: JobState, facts: JobFacts) -> None:
    facts = opened(facts, before)
    items, _ = judge_items(facts, before, entry.at.date())
    _check_work_entry(entry, work_of(facts, before, items, entry.at.date()), facts, before)


def _check_can_call(entry: Entry[CallMade], state: JobState) -> None:
    target = state.entry(entry.fields.entry)
    if target.id in state.struck:
        raise NotAllowed("That reading is struck, so there is nothing to call.")


def _check_not_read(target: Entry[Removed], state: JobState) -> None:
    """A plug that was read or looked at since it came out stays out of its hole: what was read needs it."""
    held = state.items.get(target.item)
    if item_kind(target.item) != "plug" or held is None or held.removed is not target:
        return
    number = len(
        {e.id for e in state.live() if is_a(e, ReadingTaken, Seen) and e.item == target.item}
    )
    if number:
        raise NotAllowed(
            f"{held.name} was read or looked at {number} {'time' if number == 1 else 'times'} since it "
            f"came out of {target.place}. Strike those on its page first, then this."
        )


def _check_not_measured(target: Entry[Removed], state: JobState, facts: JobFacts) -> None:
    """A cylinder that was measured or put on since it came off did come off: what it asks for stays."""
    if item_kind(target.item) != CYLINDER:
        return
    name = item_name(target.item)
    own = {f"{kind}:{name}" for kind, one in facts.sheets.items() if one.when_off}
    live = state.live()
    since = live[next((n for n, one in enumerate(live) if one.id == target.id), len(live)) + 1 :]
    done = [
        one
        for one in since
        if (is_a(one, Fitted) and one.item == target.item)
        or (is_a(one, ReadingTaken, Seen) and one.item in own)
    ]
    if done:
        raise NotAllowed(
            f"Cylinder {name} was measured or put on {len(done)} "
            f"{'time' if len(done) == 1 else 'times'} since it came off. Strike those first, then this."
        )


def _check_stands(entry: Entry[Closed], state: JobState, facts: JobFacts) -> None:
    """Whether what an entry lets stand is open by a meter that was found out."""
    wanted = entry.fields.finding
    uses = (use for meter in state.found_out for use in uses_in_doubt(facts, state, meter))
    if not any(use.is_open and use.key == wanted for use in uses):
        raise NotAllowed(
            "What this lets stand is not open: it was done again, let stand already, or its meter "
            "was not found out. Look at the meter's page."
        )


def _check_work_entry(entry: Entry, work: JobWork, facts: JobFacts, state: JobState) -> None:
    """Whether an entry about work may be written now, or a sentence saying why not.

    ``work`` is the work before the entry.
    """
    if is_a(entry, FlagOff):
        if not any(
            flag.what.casefold() == entry.fields.what.casefold()
            and flag.place.casefold() == entry.place.casefold()
            for flag in work.flags
        ):
            raise NotAllowed(f"There is no {entry.fields.what} on {entry.place} to take off.")
        return
    name = entry.task
    if not name:
        return
    if name not in work.tasks:
        raise NotAllowed(
            f'There is no task "{name}" in this job\'s task sheet. Its tasks are '
            f"{', '.join(work.tasks)}."
        )
    if not isinstance(entry.fields, WORK_KINDS):
        return
    one = work.tasks[name]
    place = _check_place(entry, one, facts, state)
    match entry.fields:
        case Started() | Done() | Torqued():
            _check_needs(entry.kind, one, place, facts)
        case ClosedShort():
            target = one.place(place) if place and one.place(place) else None
            if (target.state if target else one.state) == "DONE":
                raise NotAllowed(f"{_named(one, place)} is done; there is nothing to close short.")
        case SecondLookTaken():
            _check_look(entry, one, facts)
    if is_a(entry, Done):
        _check_done(one, place, work)


def _check_place(entry: Entry, one: TaskWork, facts: JobFacts, state: JobState) -> str:
    names = [place.name for place in one.places]
    if names == [""]:
        return ""
    if not entry.place:
        if is_a(entry, Torqued):
            raise NotAllowed(
                f"{one.task.id} is done {one.task.for_each} by {one.task.for_each}. Write which: "
                f"{', '.join(names)}."
            )
        return ""
    found = place_named(one.task, entry.place, facts, state)
    if found is None:
        raise NotAllowed(
            f'"{entry.place}" is not a place of {one.task.id}. Its places are {", ".join(names)}.'
        )
    return found


def _check_needs(kind: str, one: TaskWork, place: str, facts: JobFacts) -> None:
    open_now = {p.name for p in one.unfinished}
    wanted = {place} & open_now if place else open_now
    if wanted <= set(one.ready) or (kind == "started" and wanted & set(one.ready)):
        return
    missing = [f"{need} ({facts.tasks[need].title})" for need in one.waits_for]
    raise NotAllowed(
        f"{_named(one, place)} waits for {listed(missing)}, which "
        f"{'is' if len(missing) == 1 else 'are'} not done. Do that first, or close it short with "
        "a reason."
    )


def _check_done(one: TaskWork, place: str, work: JobWork) -> None:
    """Work that readings and torques show is not said to be done."""
    targets = [p for p in one.places if not place or p.name == place]
    for target in targets:
        if target.missing:
            raise NotAllowed(
                f"{_named(one, target.name)} is done when it is written: "
                f"{listed(target.missing)}. Write that, or close it short with a reason."
            )
    if one.task.counts_in and any(work.out.values()):
        out = [f"{number} {what}" for what, number in work.out.items() if number]
        raise NotAllowed(f"Still out: {listed(out)}. {one.task.id} is done when that is zero.")


def _check_look(entry: Entry, one: TaskWork, facts: JobFacts) -> None:
    task = one.task
    if one.look is None:
        raise NotAllowed(f"{task.id} asks for no second look.")
    allowed = ("HELD", "DONE") if task.hold_when == "done" else ("HELD", "DONE", "STARTED")
    if one.state not in allowed:
        stage = "done" if task.hold_when == "done" else "started"
        raise NotAllowed(f"{task.id} is {one.state}; its second look comes once it is {stage}.")
    who = facts.person(entry.by)
    if entry.by in one.look.doers:
        raise NotAllowed(f"{who} worked on {task.id}. A second look is another person's.")


def _named(one: TaskWork, place: str) -> str:
    found = one.place(place) if place else None
    return f"{one.task.id}, {found.label}," if found and found.label else one.task.id
