"""The maintenance entry, the inspection entry and the discrepancy list, drafted from the book.

What each must hold: 14 CFR 43.9(a) for maintenance, 43.11(a) for inspections, 43.11(b) for the
list of discrepancies. The mechanic's own rules govern. A draft is a list of sentences, each with
what it was drawn from; the person may write any of them anew, and the drawn one stays beside it.
Nothing here is signed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.gate.powers import APPROVE, holders
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.doubts import uses_in_doubt
from rehang.trade.known.drafts import (
    WHATS,
    Draft,
    RecordField,
    RecordLine,
    check_what,
    own_of,
    words_before,
)
from rehang.trade.known.state import item_kind
from rehang.trade.papers.due import CLOCK_WORDS, Due, hours_of
from rehang.trade.release.blockers import NOT_DONE, RECORD, completed_on
from rehang.trade.run.air import CONDITIONS
from rehang.trade.run.proofs import asked_of, claimed
from rehang.trade.run.runs import Run
from rehang.trade.telling import entry_parts
from rehang.trade.telling.measured import (
    compressions,
    oil_and_filter,
    plugs_tested,
    promised,
    tappets,
    timing,
)
from rehang.trade.telling.sentences import item_as_said, with_stop
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.fields import Fields
from rehang.trade.terms.kinds.items import Fitted, Removed, Replaced, Reworked
from rehang.trade.terms.kinds.oil import PiecesCounted
from rehang.trade.terms.kinds.papers import Complied, PaperHanded
from rehang.trade.terms.kinds.readings import ReadingTaken, Seen
from rehang.trade.terms.kinds.torque import Torqued
from rehang.trade.terms.kinds.work import ClosedShort, Done, SecondLookTaken, Started
from rehang.trade.terms.wording import listed, lower_first, on_day, plural, upper_first, written_day
from rehang.trade.verdicts.item_blockers import Blocker

__all__ = ["LISTS", "draft_of", "open_items"]

# 14 CFR 43.11(a)(4) and (5) give the wording "or a similarly worded statement": from memory.
AIRWORTHY = (
    "I certify that this engine has been inspected in accordance with the inspection named above "
    "and was determined to be in airworthy condition."
)
UNAIRWORTHY = (
    "I certify that this engine has been inspected in accordance with the inspection named above "
    "and a list of discrepancies and unairworthy items dated {on} has been provided for the owner "
    "or operator."
)


# The two lists for the owner: what is not airworthy or not shown to be, and what is not done yet.
LISTS = ("Discrepancy", "Work not done")


def open_items(judged: JudgedJob) -> tuple[tuple[Blocker, ...], tuple[Blocker, ...]]:
    """What is unairworthy, open or overdue (14 CFR 43.11(b)), and apart from it work not done."""
    kept = [one for one in judged.blockers if one.group != RECORD]
    work = [one for one in kept if one.group in NOT_DONE or one.about == "run"]
    return (*(one for one in kept if one not in work), *judged.may_not_fly), tuple(work)


def draft_of(judged: JudgedJob, what: str) -> Draft:
    """The draft of one record as the book stands.

    Raises
    ------
    BadInput
        ``what`` is not a record.
    """
    check_what(what)
    own = own_of(judged.state, what)
    drawer = Drawer(judged)
    drawn = {
        "maintenance": drawer.maintenance,
        "inspection": drawer.inspection,
        "discrepancies": drawer.discrepancies,
    }[what]()
    lines = []
    for name, title, text, source in drawn:
        entry = own.get(name)
        lines.append(
            RecordLine(
                id=name,
                title=title,
                drawn=text,
                own=entry.fields.text if entry else "",
                by=judged.facts.person(entry.by) if entry else "",
                from_what=source,
                reason=entry.fields.reason if entry else "",
            )
        )
    for name, entry in own.items():
        if name.startswith("more-"):
            lines.append(
                RecordLine(
                    name,
                    "Also",
                    "",
                    entry.fields.text,
                    judged.facts.person(entry.by),
                    "",
                    reason=entry.fields.reason,
                    before=words_before(judged.state, entry),
                )
            )
    fields = tuple(
        RecordField(
            one.name,
            one.label,
            str(own[f"field-{one.name}"].fields.text) if f"field-{one.name}" in own else one.value,
            one.rule,
            one.required,
            one.filled_at_signing,
        )
        for one in drawer.fields(what)
    )
    on = next((one.value for one in fields if one.name == "date"), "")
    return Draft(what, WHATS[what], tuple(lines), fields, drawer.statement(what, on))


Drawn = tuple[str, str, str, str]


class Drawer:
    """Draws sentences from one judged job; lives only inside :func:`draft_of`."""

    def __init__(self, judged: JudgedJob) -> None:
        self.judged = judged
        self.facts: JobFacts = judged.facts
        self.live = judged.state.live()
        self.runs = judged.runs
        self.hours = hours_of(judged.facts, judged.state)
        self.due = judged.due

    # Records

    def maintenance(self) -> list[Drawn]:
        made = [
            self._one("engine", "Engine", self._engine(), "engine data"),
            self._one("data", "Data used", self._documents(), "limits"),
            self._one("plugs-out", "Spark plugs out", entry_parts.plugs_out(self), "removals"),
            self._one("plugs-in", "Spark plugs in", entry_parts.plugs_in(self), "fittings"),
            self._one("off", "Parts off", entry_parts.off(self), "verdicts and dispositions"),
            self._one("on", "Parts on", entry_parts.on(self), "fittings and parts used"),
            self._one(
                "plugs", "Plugs as tested", plugs_tested(self.judged), "readings on the plugs"
            ),
            *(
                self._one(name, title, text, "readings on the cylinders")
                for name, title, text in compressions(self.judged)
            ),
            self._one("tappets", "Dry tappets", tappets(self.judged), "readings on the cylinders"),
            self._one("timing", "Timing", timing(self.judged), "readings on the magnetos"),
            self._one("oil", "Oil and filter", oil_and_filter(self.judged), "samples and counts"),
            self._one("torque", "Torque", entry_parts.torque(self), "torques"),
            self._one("reworked", "Reworked", entry_parts.reworked(self), "reworks"),
            self._one("work", "Work done", self._work(), "tasks"),
            self._one("short", "Closed short", self._short(), "tasks closed short"),
            self._one("findings", "Findings", self._findings(), "findings and how each was closed"),
            self._one("called", "Called by a person", self._called(), "close calls"),
            self._one("promised", "To be looked at again", promised(self.judged), "promises"),
            self._one("looks", "Second looks", self._looks(), "second looks"),
            self._one("directives", "Directives", self._directives(), "work on directives"),
            self._one("run", "Ground run", self._run(), "readings of the runs"),
            self._one("meters", "Meters", self._meters(), "meters"),
        ]
        return [one for one in made if one[2]]

    def inspection(self) -> list[Drawn]:
        made = [
            self._one("engine", "Engine", self._engine(), "engine data"),
            self._one("extent", "Type and extent", self._extent(), "directives and inspections"),
            self._one("data", "Data used", self._documents(), "limits"),
            self._one("directives", "Directives", self._directives(), "work on directives"),
            self._one("run", "Ground run", self._run(), "readings of the runs"),
        ]
        return [one for one in made if one[2]]

    def discrepancies(self) -> list[Drawn]:
        found: list[Drawn] = []
        used: dict[str, int] = {}
        for title, ones in zip(LISTS, open_items(self.judged), strict=True):
            for number, one in enumerate(ones, start=1):
                # Named by what it is about, so that a person's words stay with it as others go.
                name = re.sub(r"[^A-Za-z0-9]+", "-", one.about).strip("-")
                used[name] = used.get(name, 0) + 1
                found.append(
                    (
                        name if used[name] == 1 else f"{name}-{used[name]}",
                        f"{title} {number}",
                        with_stop(upper_first(one.sentence)),
                        f"way out: {with_stop(one.way_out)}",
                    )
                )
        return found

    @staticmethod
    def _one(name: str, title: str, text: str, source: str) -> Drawn:
        return name, title, text, source

    # Fields and statement

    def fields(self, what: str) -> list[RecordField]:
        engine = self.facts.engine
        airframe = self.hours.on("airframe")
        on = completed_on(self.runs)
        common = [
            RecordField(
                "engine", "Engine",
                " ".join(str(engine.get(k, "")) for k in ("engine", "serial") if engine.get(k)),
                "common practice", False,
            ),
            # A list of discrepancies is signed and dated by 43.11(b).
            RecordField(
                "date", "Date", on,
                "14 CFR 43.11(b)" if what == "discrepancies" else "14 CFR 43.9(a)(2)", True,
            ),
        ]  # fmt: skip
        rule = {"maintenance": "14 CFR 43.9(a)(4)", "inspection": "14 CFR 43.11(a)(3)"}.get(
            what, "14 CFR 43.11(b)"
        )
        who = [
            RecordField("signature", "Signature", "", rule, True, True),
            RecordField("certificate", "Certificate number", "", rule, True, True),
            RecordField("kind", "Kind of certificate", "", rule, True, True),
        ]
        if what == "maintenance":
            return [
                *common,
                RecordField(
                    "performer",
                    "Work performed by, if not the person who approves",
                    self._performers(),
                    "14 CFR 43.9(a)(3)",
                    False,
                ),
                RecordField(
                    "total",
                    "Airframe total time",
                    _hours(airframe),
                    "common practice",
                    False,
                ),
                *who,
            ]
        if what == "inspection":
            return [
                RecordField(
                    "type", "Type and brief extent", self._extent(), "14 CFR 43.11(a)(1)", True
                ),
                RecordField("date", "Date", on, "14 CFR 43.11(a)(2)", True),
                RecordField(
                    "total", "Aircraft total time", _hours(airframe), "14 CFR 43.11(a)(2)", True
                ),
                *who,
            ]
        return [
            *common,
            RecordField(
                "to", "For the owner or operator", self._for_whom(), "14 CFR 43.11(b)", True
            ),
            *who,
        ]

    def statement(self, what: str, on: str) -> str:
        if what == "maintenance":
            return "The signature approves only the work described here (14 CFR 43.9(a))."
        if what == "inspection":
            if self.judged.against(what):
                return UNAIRWORTHY.format(on=on or "________")
            return AIRWORTHY
        return "These items keep the engine from return to service as of the date above."

    # Sentences

    def _engine(self) -> str:
        engine = self.facts.engine
        parts = [
            str(engine.get("engine", "")),
            f"s/n {engine['serial']}" if engine.get("serial") else "",
        ]
        text = " ".join(p for p in parts if p)
        if engine.get("airframe") or engine.get("registration"):
            off = " ".join(str(engine[k]) for k in ("airframe", "registration") if engine.get(k))
            text += f", {off}"
        hours = [
            f"{self.hours.on(clock):,.1f} h {words}"
            for clock, words in (("since_new", "since new"), ("since_overhaul", "since overhaul"))
            if self.hours.on(clock) is not None
        ]
        if hours:
            text += f"; {', '.join(hours)}"
        removed = engine.get("removed_on")
        if isinstance(removed, date):
            text += f". Off the airframe on {on_day(removed)}"
        hung = self._done_on("G2")
        if hung:
            text += f", hung again on {hung}"
        return with_stop(text)

    def _done_on(self, task: str) -> str:
        done = [e for e in self.live if is_a(e, Done) and e.fields.task == task]
        return on_day(done[-1].at) if done else ""

    def _documents(self) -> str:
        pages: dict[str, list[str]] = {}
        for one in self.judged.items:
            for call in one.calls:
                limit = call.limit_data
                if limit is None or not limit.has_source or call.entry is None:
                    continue
                held = pages.setdefault(f"{limit.document}, rev {limit.revision}", [])
                if limit.page and limit.page not in held:
                    held.append(limit.page)
        told = [
            f"{document}"
            + (
                f", page{'s' if len(held) > 1 else ''} {', '.join(sorted(held, key=_page_order))}"
                if held
                else ""
            )
            for document, held in pages.items()
        ]
        return with_stop("; ".join(told)) if told else ""

    def _work(self) -> str:
        done = [one.task.title for one in self.judged.work.tasks.values() if one.state == "DONE"]
        return with_stop("; ".join(done)) if done else ""

    def _short(self) -> str:
        told = [
            f"{self._task(e.fields.task)} closed short on {on_day(e.at)} by "
            f"{self.facts.person(e.by)}: {e.fields.reason.strip().rstrip('.')}"
            for e in self.live
            if is_a(e, ClosedShort)
        ]
        return with_stop("; ".join(told)) if told else ""

    def _task(self, name: str) -> str:
        known = self.facts.tasks.get(name)
        return known.title if known else name

    def _findings(self) -> str:
        told = []
        for one in self.judged.items:
            for finding in one.findings:
                if finding.severity < 2:
                    continue
                end = self._named(finding.resolved) or (
                    "part rejected" if one.verdict == "REJECT" else "open"
                )
                told.append(
                    f"{item_as_said(one.item)}: {finding.label} ({on_day(finding.entry.at)}), {end}"
                )
        return with_stop("; ".join(told)) if told else ""

    def _named(self, text: str) -> str:
        """What the fold of the book wrote with keys, with the names of the people."""
        for key, person in self.facts.people.items():
            text = text.replace(f" by {key}: ", f" by {person.name}: ")
        return text

    def _called(self) -> str:
        told = [
            f"{item_as_said(one.item)} {call.label.lower()} {call.record} called {call.call} by {call.called_by}"
            for one in self.judged.items
            for call in one.calls
            if call.called_by
        ]
        return with_stop("; ".join(told)) if told else ""

    def _looks(self) -> str:
        told = []
        for entry in self.live:
            if is_a(entry, SecondLookTaken):
                told.append(
                    f"{self._task(entry.fields.task)}, {self.facts.person(entry.by)}, {on_day(entry.at)}"
                )
        return with_stop("; ".join(told)) if told else ""

    def _directives(self) -> str:
        told = []
        due: dict[str, Due] = {one.id: one for one in self.due}
        for entry in self.live:
            if not is_a(entry, Complied) or entry.fields.recurring not in due:
                continue
            one = due[entry.fields.recurring]
            # When it is next due, and no count of what is left: a record says the same each day.
            sides = [
                f"{one.due_hours:,.1f} h {CLOCK_WORDS[self.facts.recurring[one.id].clock]}"
                if one.due_hours is not None
                else "",
                on_day(one.due_on) if one.due_on is not None else "",
            ]
            next_due = " or ".join(side for side in sides if side)
            told.append(
                f"{one.title} ({one.source}) complied with on {written_day(entry.fields.on)}"
                + (f", method: {one.method}" if one.method else "")
                + (f"; next due {next_due}" if next_due else "; nothing is due again")
            )
        return with_stop("; ".join(told)) if told else ""

    def _run(self) -> str:
        told = [self._one_run(run) for run in self.runs.runs if run.ended]
        if claimed(self.facts, self.judged.state):
            # What 14 CFR 43.15(c)(2) asks and this engine does not have.
            told += [said for _, _, said in asked_of(self.facts) if said]
        return " ".join(told)

    def _one_run(self, run: Run) -> str:
        """One run with its day, its weather and every figure and look of it, those that count no more with why."""
        weather = ", ".join(
            f"{words} {self.facts.person(str(run.conditions[key]))}"
            for key, words in CONDITIONS.items()
            if run.conditions.get(key)
        )
        head = f"Run {run.name} on {on_day(run.began.at)}" + (f" ({weather})" if weather else "")
        head += f", shut down: {run.why}" if run.why else ""
        told = []
        ended: dict[str, list[str]] = {}
        said: set[str] = set()
        for call in run.verdict.calls if run.verdict is not None else ():
            figure = self.runs.proofs.of(run.name, call.check)
            entry = call.entry
            if figure is None or entry is None or (is_a(entry, Seen) and entry.id in said):
                continue
            said.add(entry.id)
            void = f" ({lower_first(call.sentence).rstrip('.')})" if call.call == "VOID" else ""
            told.append(f"{call.label.lower()} {lower_first(call.record)}{void}")
            if figure.ended_by is not None:
                ended.setdefault(figure.ended_by.sentence, []).append(call.label.lower())
        if not told:
            return f"{head}: nothing was read, so it proves nothing."
        more = [
            f" {upper_first(listed(ones))}: not counted any more, as {act}."
            for act, ones in ended.items()
        ]
        return with_stop(f"{head}: {', '.join(told)}") + "".join(more)

    def _meters(self) -> str:
        used: dict[str, None] = {}
        for one in self.judged.items:
            for call in one.calls:
                if call.meter and call.call != "VOID":
                    used[call.meter] = None
            for entry in one.state.torqued:
                used[entry.fields.meter] = None
        told = []
        state = self.judged.state
        used |= {name: None for name in state.found_out if uses_in_doubt(self.facts, state, name)}
        for name in used:
            meter = self.facts.meters[name]
            due = (
                f"calibration due {written_day(meter.due_text)}"
                if meter.due_text
                else "no calibration on record"
            )
            proved = self.judged.state.proved.get(name)
            if proved is not None:
                due += f"; as-found check of {on_day(proved.at)}: {proved.fields.reason}"
            told.append(f"{name} {meter.name}, {due}{self._found_out(name)}")
        return with_stop("; ".join(told)) if told else ""

    def _found_out(self, name: str) -> str:
        """That a meter was found out, and what became of each thing it was used on since."""
        said = ""
        uses = uses_in_doubt(self.facts, self.judged.state, name)
        for one in self.judged.state.found_out.get(name, ()):
            said += f"; found out of tolerance on {on_day(one.found_on)}: {one.as_found}"
            good = f" ({on_day(one.last_good)})" if one.last_good else " (no day on file)"
            ones = [
                f"{use.what} ({use.said or 'open'})" for use in uses if use.found.entry is one.entry
            ]
            if ones:
                said += f"; used since it was last known good{good} on {', '.join(ones)}"
        return said

    def _performers(self) -> str:
        """Everyone who did the work, with or without papers, and for what (14 CFR 43.9(a)(3)).

        Where one person alone may sign, they are "the person who approves" and are left out.
        """
        did: dict[str, dict[str, None]] = {}
        under: dict[str, dict[str, None]] = {}
        for entry in self.live:
            if entry.fields.under and self._work_of(entry):
                under.setdefault(entry.by, {})[self.facts.person(entry.fields.under)] = None
            for key in (entry.by, *map(str, entry.fields.with_ if is_a(entry, Done) else ())):
                for what in self._work_of(entry):
                    did.setdefault(key, {})[what] = None
        may = holders(APPROVE, self.live[-1].at.date(), self.facts) if self.live else []
        if len(may) == 1:
            did.pop(may[0].key, None)
        return "; ".join(
            f"{self.facts.person(key)} ({listed(list(what))}"
            + (f"; supervised by {listed(list(under[key]))})" if key in under else ")")
            for key, what in did.items()
        )

    def _work_of(self, entry: Entry) -> tuple[str, ...]:
        """What an entry says that a person did, as the record names it; nothing where it is no work."""
        kind = item_kind(entry.item)
        match entry.fields:
            case Started() | Done() | Torqued() if entry.fields.task:
                return (lower_first(self._task(entry.fields.task)),)
            case Torqued():
                return (f"torque of {entry.fields.what}",)
            case Removed() | Fitted() | Replaced() | Reworked():
                return (f"{plural(kind, 2)} {_DID[type(entry.fields)]}",)
            case ReadingTaken() | Seen() | PiecesCounted():
                return (f"readings and looks of {plural(kind, 2)}",)
        return ()

    def _extent(self) -> str:
        complied = {e.fields.recurring for e in self.live if is_a(e, Complied)}
        told = [
            f"{one.title}" + (f": {one.method}" if one.method else "")
            for one in self.facts.recurring.values()
            if one.kind == "inspection" and one.id in complied
        ]
        return with_stop("; ".join(told)) if told else ""

    def _for_whom(self) -> str:
        given = [e for e in self.live if is_a(e, PaperHanded) and e.fields.what == "discrepancies"]
        if given:
            on = written_day(given[-1].fields.on) or on_day(given[-1].at)
            return f"{given[-1].fields.to}, given on {on}"
        return str(self.facts.engine.get("owner", ""))


# Acts on parts, as the list of who did what says them.
_DID: Mapping[type[Fields], str] = {
    Removed: "out",
    Fitted: "in",
    Replaced: "renewed",
    Reworked: "worked on",
}


def _page_order(page: str) -> list[tuple[int, str]]:
    """Pages as a manual has them: 7-8 before 10-2."""
    return [(int(one) if one.isdigit() else 0, one) for one in re.split(r"[-. ]", page)]


def _hours(value: float | None) -> str:
    return "" if value is None else f"{value:,.1f} h"
