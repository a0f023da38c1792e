"""The maintenance entry, the inspection entry and the discrepancy list, drafted from the book.

What each must hold: 14 CFR 43.9(a) for maintenance, 43.11(a) for inspections, 43.11(b) for the
list of discrepancies. The mechanic's own rules govern. A draft is a list of sentences, each with
what it was drawn from; the person may write any of them anew, and the drawn one stays beside it.
Nothing here is signed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import date

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.gate.powers import APPROVE, holders
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.drafts import (
    WHATS,
    Draft,
    LineRows,
    RecordField,
    RecordLine,
    check_what,
    own_of,
    words_before,
)
from rehang.trade.known.state import item_kind
from rehang.trade.known.why_off import documents_read, reasons_of, teardown_of
from rehang.trade.papers.due import CLOCK_WORDS, Due, hours_of
from rehang.trade.release.blockers import completed_on
from rehang.trade.telling import entry_carried, entry_parts, entry_runs
from rehang.trade.telling.entry_bench import measured_by_name, off_and_on
from rehang.trade.telling.measured import (
    compressions,
    oil_and_filter,
    plugs_tested,
    promised,
    tappets,
    timing,
)
from rehang.trade.telling.open_items import LISTS, open_items
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

__all__ = ["draft_of"]

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
    for line in drawn:
        entry = own.get(line.id)
        if entry is not None:
            line = replace(
                line,
                own=entry.fields.text,
                by=judged.facts.person(entry.by),
                reason=entry.fields.reason,
            )
        lines.append(line)
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


def _told(rows: Iterable[tuple[str, ...]], say: Callable[..., str], between: str = "; ") -> str:
    """A sentence of rows, each as ``say`` says its values."""
    said = between.join(say(*row) for row in rows)
    return with_stop(said) if said else ""


def _in_brackets(what: str, about: str) -> str:
    return f"{what} ({about})" if about else what


def _after_colon(what: str, about: str) -> str:
    return f"{what}: {about}" if about else what


def _spaced(*values: str) -> str:
    return " ".join(values)


def _commas(*values: str) -> str:
    return ", ".join(values)


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

    def maintenance(self) -> list[RecordLine]:
        made = [*self._parts(), *self._measured(), *self._done()]
        return [one for one in made if one.drawn]

    def _parts(self) -> list[RecordLine]:
        return [
            self._one("engine", "Engine", self._engine(), "engine data"),
            self._one("data", "Data used", self._documents(), "limits"),
            self._rows(
                "plugs-out", "Spark plugs out", entry_parts.plugs_out(self), "removals",
                _spaced, ", ",
            ),
            self._rows(
                "plugs-in", "Spark plugs in", entry_parts.plugs_in(self), "fittings", _spaced, ", "
            ),
            self._rows(
                "off", "Parts off", entry_parts.off(self), "verdicts and dispositions", _in_brackets
            ),
            self._rows(
                "on", "Parts on", entry_parts.on(self), "fittings and parts used", _in_brackets
            ),
        ]  # fmt: skip

    def _measured(self) -> list[RecordLine]:
        tested, of_plugs = plugs_tested(self.judged)
        clearances, of_tappets = tappets(self.judged)
        return [
            self._one("plugs", "Plugs as tested", tested, "readings on the plugs", of_plugs),
            *(
                self._one(name, title, text, "readings on the cylinders", rows)
                for name, title, text, rows in compressions(self.judged)
            ),
            self._one(
                "tappets", "Dry tappets", clearances, "readings on the cylinders", of_tappets
            ),
            self._rows("cylinders-off", "Off and on", off_and_on(self.judged), "work on cylinders", _after_colon),
            self._rows("bench", "Measured", measured_by_name(self.judged), "readings", _after_colon),
            self._rows(
                "timing", "Timing", timing(self.judged), "readings on the magnetos",
                lambda what, read, meter: f"{what} {read}" + (f" on {meter}" if meter else ""),
            ),
            *(
                self._rows(name, title, rows(self.judged), "readings", _after_colon)
                for name, title, rows in entry_carried.LINES
            ),
            self._rows(
                "oil", "Oil and filter", oil_and_filter(self.judged), "samples and counts",
                _after_colon,
            ),
            self._rows(
                "torque", "Torque", entry_parts.torque(self), "torques",
                lambda what, value, how: f"{what}: {value}, {how}",
            ),
        ]  # fmt: skip

    def _done(self) -> list[RecordLine]:
        ran, of_runs = entry_runs.ran(self)
        return [
            self._rows(
                "reworked", "Reworked", entry_parts.reworked(self), "reworks", _after_colon
            ),
            self._rows("work", "Work done", self._work(), "tasks", str),
            self._rows("extra", "Extra work", entry_parts.found_done(self), "work found", str),
            self._rows(
                "short", "Closed short", self._short(), "tasks closed short",
                lambda what, when, why: f"{what} closed short {when}: {why}",
            ),
            self._rows(
                "findings", "Findings", self._findings(), "findings and how each was closed",
                lambda where, found, on, end: f"{where}: {found} ({on}), {end}",
            ),
            self._rows(
                "called", "Called by a person", self._called(), "close calls",
                lambda what, read, called: f"{what} {read} called {called}",
            ),
            self._one("why", "Came off for", self._why_off(), "engine data and decisions"),
            self._one("promised", "To be looked at again", promised(self.judged), "promises"),
            self._rows("looks", "Second looks", self._looks(), "second looks", _commas),
            self._rows(
                "directives", "Directives", self._directives(), "work on directives",
                _directive_words,
            ),
            self._one("run", "Ground run", ran, "readings of the runs", of_runs),
            self._rows("meters", "Meters", entry_runs.meters(self), "meters", _commas),
        ]  # fmt: skip

    def inspection(self) -> list[RecordLine]:
        ran, of_runs = entry_runs.ran(self)
        made = [
            self._one("engine", "Engine", self._engine(), "engine data"),
            self._one("extent", "Type and extent", self._extent(), "directives and inspections"),
            self._one("data", "Data used", self._documents(), "limits"),
            self._rows(
                "directives",
                "Directives",
                self._directives(),
                "work on directives",
                _directive_words,
            ),
            self._one("run", "Ground run", ran, "readings of the runs", of_runs),
        ]
        return [one for one in made if one.drawn]

    def discrepancies(self) -> list[RecordLine]:
        found: list[RecordLine] = []
        used: dict[str, int] = {}
        for title, ones in zip(LISTS, open_items(self.judged), strict=True):
            for number, one in enumerate(ones, start=1):
                # Named by what it is about, so that a person's words stay with it as others go.
                name = re.sub(r"[^A-Za-z0-9]+", "-", one.about).strip("-")
                used[name] = used.get(name, 0) + 1
                found.append(
                    self._one(
                        name if used[name] == 1 else f"{name}-{used[name]}",
                        f"{title} {number}",
                        with_stop(upper_first(one.sentence)),
                        f"what stands against it; its way out: {lower_first(one.way_out)}",
                    )
                )
        return found

    @staticmethod
    def _one(name: str, title: str, text: str, source: str, rows: LineRows = ()) -> RecordLine:
        return RecordLine(name, title, text, "", "", source, rows=rows)

    def _rows(
        self,
        name: str,
        title: str,
        rows: LineRows,
        source: str,
        say: Callable[..., str],
        between: str = "; ",
    ) -> RecordLine:
        """A sentence that is made of its rows."""
        return self._one(name, title, _told(rows, say, between), source, rows)

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

    def _work(self) -> LineRows:
        done = self.judged.work.tasks.values()
        return tuple((one.task.title,) for one in done if one.state == "DONE")

    def _short(self) -> LineRows:
        return tuple(
            (
                self._task(e.fields.task),
                f"on {on_day(e.at)} by {self.facts.person(e.by)}",
                e.fields.reason.strip().rstrip("."),
            )
            for e in self.live
            if is_a(e, ClosedShort)
        )

    def _task(self, name: str) -> str:
        known = self.facts.tasks.get(name)
        return known.title if known else name

    def _findings(self) -> LineRows:
        told = []
        for one in self.judged.items:
            for finding in one.findings:
                if finding.severity < 2:
                    continue
                end = self._named(finding.resolved) or (
                    "part rejected" if one.verdict == "REJECT" else "open"
                )
                told.append((item_as_said(one.item), finding.label, on_day(finding.entry.at), end))
        return tuple(told)

    def _named(self, text: str) -> str:
        """What the fold of the book wrote with keys, with the names of the people."""
        for key, person in self.facts.people.items():
            text = text.replace(f" by {key}: ", f" by {person.name}: ")
        return text

    def _called(self) -> LineRows:
        return tuple(
            (
                f"{item_as_said(one.item)} {call.label.lower()}",
                call.record,
                f"{call.call} by {call.called_by}",
            )
            for one in self.judged.items
            for call in one.calls
            if call.called_by
        )

    def _looks(self) -> LineRows:
        return tuple(
            (self._task(entry.fields.task), self.facts.person(entry.by), on_day(entry.at))
            for entry in self.live
            if is_a(entry, SecondLookTaken)
        )

    def _directives(self) -> LineRows:
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
                (f"{one.title} ({one.source})", written_day(entry.fields.on), one.method, next_due)
            )
        return tuple(told)

    def _why_off(self) -> str:
        """What it came off for, what was read for it, and what was decided on the teardown."""
        state = self.judged.state
        reasons = reasons_of(self.facts, state)
        read, decided = documents_read(state), teardown_of(state)
        told = [listed([one.id for one in reasons])] if reasons else []
        told += [f"{name}, read {on_day(e.at)}: {e.fields.revision}" for name, e in read.items()]
        if decided is not None:
            told.append(
                f"{decided.fields.outcome} by {decided.fields.document}, decided "
                f"{on_day(decided.at)} by {self.facts.person(decided.by)}: {decided.fields.reason}"
            )
        return with_stop(upper_first("; ".join(told))) if told else ""

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


def _directive_words(what: str, on: str, method: str, next_due: str) -> str:
    how = f", method: {method}" if method else ""
    again = f"next due {next_due}" if next_due else "nothing is due again"
    return f"{what} complied with on {on}{how}; {again}"


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
