"""What a book claims of days, hours and counts that the book itself does not bear out.

Each looks at what was written as true, and at what came after it: an inspection before its run, a
day of completion before the work was complete, an engine shut down for a reason that nobody looked
into, one document for more parts than came with it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.gate.powers import INSPECT, holders, shopkeepers
from rehang.trade.known.drafts import own_of
from rehang.trade.known.hours import HourCounts
from rehang.trade.known.state import JobState, item_name
from rehang.trade.run.proofs import claimed
from rehang.trade.run.runs import Runs
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.papers import Complied
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.terms.kinds.stock import Arrived
from rehang.trade.terms.kinds.torque import Torqued
from rehang.trade.terms.kinds.work import CountedIn, CountedOut, Done, Tallied
from rehang.trade.terms.wording import listed, lower_first, on_day
from rehang.trade.verdicts.item_blockers import Blocker
from rehang.trade.work.places import PlaceNow

__all__ = ["claims_not_borne_out", "shared_papers"]

# One ground run is over in an hour or two; more between two of them is a slip of the pen. Common
# practice, no source.
LONGEST_RUN_H = 5.0
# Two tenths of an hour: after so long a run at power a meter has moved. Common practice, no source.
METER_MOVES = timedelta(minutes=12)
_FIGURE = re.compile(r"[0-9][0-9,]*(?:\.[0-9]+)?")


def claims_not_borne_out(
    facts: JobFacts, state: JobState, runs: Runs, hours: HourCounts
) -> list[Blocker]:
    """Every such claim with its way out."""
    return [
        *_shut_down(runs),
        *_hours_of_runs(facts, runs),
        *_inspected(facts, state, runs),
        *_left_out(facts, state),
        *_put_in_by(facts),
        *_completed(state, runs),
        *_total_time(state, hours),
        *_counted_after(facts, state),
        *_timed_before_torque(state),
    ]


def _shut_down(runs: Runs) -> list[Blocker]:
    """The last run was cut off for a reason, and none after it was run to its end."""
    last = runs.last
    if last is None or last.ended is None or not last.why:
        return []
    return [
        Blocker(
            last.item,
            f"Run {last.name}, the last, was shut down: {last.why}.",
            "Write what was found and done, and run again to the end of the card.",
        )
    ]


def _hours_of_runs(facts: JobFacts, runs: Runs) -> list[Blocker]:
    """Runs whose engine hours do not tell of a ground run: not keyed, standing still, too far on."""
    table = facts.engine.get("hours")
    held = table.get("since_overhaul") if isinstance(table, Mapping) else None
    now = float(held) if isinstance(held, (int, float)) else None
    found = []
    last = next((run for run in reversed(runs.runs) if run.is_whole), None)
    for run in runs.runs:
        if run.ended is None:
            continue
        given = run.ended.fields.engine_hours
        if given is None:
            # Of an older run the hours are told by the one that follows.
            if run is last and now is not None:
                found.append(
                    Blocker(
                        run.item,
                        f"Run {run.name} ended with no engine hours keyed: what is due next would "
                        f"count from the {now:,.1f} h before it.",
                        "Strike the end of the run, and end it again with the hours the meter reads.",
                    )
                )
            continue
        if now is not None and given - now > LONGEST_RUN_H:
            found.append(
                Blocker(
                    run.item,
                    f"Run {run.name} ends at {given:,.1f} h since overhaul, {given - now:,.1f} h "
                    f"after the {now:,.1f} h before it: no ground run is that long.",
                    "Read the meter again; strike the end of the run and write it as it reads.",
                )
            )
        elif given == now and run.at_power and run.ended.at - run.began.at >= METER_MOVES:
            found.append(
                Blocker(
                    run.item,
                    f"Run {run.name} ends at {given:,.1f} h since overhaul, where the hours stood "
                    "before it: a meter that does not count, or one that nobody read.",
                    "Read the meter again; strike the end of the run and write it as it reads.",
                )
            )
        now = given
    return found


def _inspected(facts: JobFacts, state: JobState, runs: Runs) -> list[Blocker]:
    """An inspection is over when its run is: 14 CFR 43.15(c)(2) makes the run part of it."""
    titles = claimed(facts, state)
    if not titles:
        return []
    found = []
    if state.order and not holders(INSPECT, state.order[-1].at.date(), facts):
        found.append(
            Blocker(
                "record:inspection",
                f"{listed(titles)} is written as done, and nobody in the list of people has papers in date "
                "that let a person sign it (14 CFR 43.11(a)(4)).",
                "Write the certificate of whoever signs it; or strike it.",
            )
        )
    last = next((run.ended for run in reversed(runs.runs) if run.ended and run.has_figures), None)
    for one in facts.recurring.values():
        told = [
            e
            for e in state.live()
            # What breaks a rule of the gate is told by itself.
            if is_a(e, Complied) and e.fields.recurring == one.id and e.id not in state.faults
        ]
        if one.title not in titles or not told or last is None:
            continue
        done = told[-1]
        if done.at < last.at or date.fromisoformat(done.fields.on) < last.at.date():
            found.append(
                Blocker(
                    f"record:inspection:recurring:{one.id}",
                    f"{one.title} is written as done on {on_day(date.fromisoformat(done.fields.on))}"
                    f", before run {last.fields.run} ended on {on_day(last.at)}; the run is part of "
                    "it (14 CFR 43.15(c)(2)).",
                    "Write it as done again, after the run; or strike it with a reason.",
                )
            )
    return found


def _left_out(facts: JobFacts, state: JobState) -> list[Blocker]:
    """What an annual or 100-hour inspection looks at and this job does not."""
    titles = claimed(facts, state)
    if not titles:
        return []
    return [
        Blocker(
            "record:inspection",
            f"{listed(titles)} is written as done, and this job does not look at the "
            f"{lower_first(sheet.title)}, which it asks for ({sheet.inspection}).",
            f'Add "{sheet.item}" to What is inspected in the engine data and look at it; or strike '
            "the inspection.",
        )
        for sheet in facts.sheets.values()
        if sheet.inspection and sheet.item not in facts.inspect
    ]


def _put_in_by(facts: JobFacts) -> list[Blocker]:
    """Limits that somebody put in who does not keep the shop, and so may not."""
    keepers = {one.key for one in shopkeepers(facts)}
    put_in: dict[str, list[str]] = {}
    for one in facts.limits:
        if one.entered_by and one.entered_by not in keepers:
            put_in.setdefault(one.entered_by, []).append(f"{one.item} {one.check}")
    return [
        Blocker(
            "record:limits",
            f"{facts.person(by)} put in {'a limit' if len(what) == 1 else 'limits'} for "
            f"{listed(what)}, and does not keep the shop.",
            "Whoever keeps the shop reads each in its document and files it again.",
        )
        for by, what in put_in.items()
    ]


def _completed(state: JobState, runs: Runs) -> list[Blocker]:
    """A day of completion that a person wrote, against the last run and against the day itself."""
    ended = [run.ended.at.date() for run in runs.runs if run.ended and run.has_figures]
    found = []
    for what in ("maintenance", "inspection"):
        told = own_of(state, what).get("field-date")
        if told is None or told.id in state.faults:
            # A day that cannot be read is said by the gate.
            continue
        day = date.fromisoformat(told.fields.text.strip())
        why = ""
        if ended and day < max(ended):
            why = f"before the last ground run ended on {on_day(max(ended))}"
        elif day > told.at.date():
            why = "which was still to come when it was written"
        if why:
            found.append(
                Blocker(
                    f"record:{what}",
                    f"The day of completion is written as {on_day(day)}, {why}.",
                    "Write the day the work was complete on the record's page, or strike what was written.",
                )
            )
    return found


def _total_time(state: JobState, hours: HourCounts) -> list[Blocker]:
    """The aircraft's total time that a person wrote, below what is on file."""
    told, held = own_of(state, "inspection").get("field-total"), hours.on("airframe")
    if told is None or held is None:
        return []
    figure = _FIGURE.search(told.fields.text)
    # More than is on file may be right: the aircraft may have flown since the file was written.
    if figure is None or float(figure[0].replace(",", "")) >= held:
        return []
    return [
        Blocker(
            "record:inspection",
            f'The total time is written as "{told.fields.text}"; {held:,.1f} h are on file.',
            "Read the meter again, and write the total time on the record's page.",
        )
    ]


def _counted_after(facts: JobFacts, state: JobState) -> list[Blocker]:
    """What was counted out or in after the tools and rags were said to be in."""
    tasks = {one.id: one for one in facts.tasks.values() if one.counts_in}
    found = []
    for name, task in tasks.items():
        done: Entry | None = None
        after: list[Entry[Tallied]] = []
        for entry in state.live():
            if is_a(entry, Done) and entry.fields.task == name:
                # Done again begins it again: what was counted before is in that count.
                done, after = entry, []
            elif done is not None and is_a(entry, CountedOut, CountedIn):
                after.append(entry)
        if done is not None and after:
            what = listed(list(dict.fromkeys(e.fields.what for e in after)))
            found.append(
                Blocker(
                    f"task:{name}",
                    f"{task.title} was done on {on_day(done.at)}, and {what} went out or came in "
                    "after it.",
                    "Count again, and write it as done again.",
                )
            )
    return found


def _timed_before_torque(state: JobState) -> list[Blocker]:
    """A magneto may turn as its clamps are tightened, so its timing is read after them.

    Common practice, no source.
    """
    timed: dict[str, Entry] = {}
    moved: dict[str, Entry] = {}
    for entry in state.live():
        if is_a(entry, ReadingTaken) and entry.fields.check == "timing":
            timed[entry.item] = entry
            moved.pop(entry.item, None)
        elif is_a(entry, Torqued) and entry.item in timed:
            moved[entry.item] = entry
    return [
        Blocker(
            item,
            f"The {item_name(item)} magneto was torqued on {on_day(entry.at)}, after its timing was "
            "read: it may have turned.",
            "Read its timing again.",
        )
        for item, entry in moved.items()
    ]


def shared_papers(state: JobState, places: Sequence[PlaceNow]) -> list[Blocker]:
    """A document that stands for more parts than arrived with it (DESIGN 4b, 3)."""
    came: dict[str, int] = {}
    for entry in state.live():
        if is_a(entry, Arrived) and (words := entry.fields.papers):
            came[words] = came.get(words, 0) + entry.fields.number
    found = []
    for words, number in came.items():
        on = [one for one in places if one.is_new and one.papers == words]
        if len(on) > number:
            found.append(
                Blocker(
                    f"place:{on[-1].key}",
                    f"{words} came with {number} and stands for {len(on)} parts: "
                    f"{listed([one.label for one in on])}.",
                    "Look at the documents again, and write each part's own.",
                )
            )
    return found
