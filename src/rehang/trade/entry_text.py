"""The maintenance entry, the inspection entry and the discrepancy list, drafted from the book.

What each must hold: 14 CFR 43.9(a) for maintenance, 43.11(a) for inspections, 43.11(b) for the
list of discrepancies. The mechanic's own rules govern. A draft is a list of sentences, each with
what it was drawn from; the person may write any of them anew, and the drawn one stays beside it.
Nothing here is signed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from rehang.trade.due import Due, due_of, hours_of
from rehang.trade.entries import Entry, last_day
from rehang.trade.errors import BadInput
from rehang.trade.facts import JobFacts
from rehang.trade.judging import JudgedJob
from rehang.trade.runs import Run, runs_of
from rehang.trade.state import item_kind, item_name
from rehang.trade.telling import entry_words, item_as_said, with_stop
from rehang.trade.verdict import ItemVerdict

__all__ = ["WHATS", "Draft", "Field", "Line", "check_drafted", "draft_of"]

# What may be drafted and signed, and its title.
WHATS: Mapping[str, str] = {
    "maintenance": "Maintenance entry",
    "inspection": "Inspection entry",
    "discrepancies": "List of discrepancies",
}
LEFT_OUT = "left out"
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


@dataclass(frozen=True, slots=True)
class Line:
    """One sentence of a draft.

    ``drawn`` is what the book gives, ``own`` what the person wrote in its place, ``by`` whom.
    ``from_what`` says what it was drawn from; ``struck`` that it tells of a struck entry.
    """

    id: str
    title: str
    drawn: str
    own: str
    by: str
    from_what: str
    struck: bool = False

    @property
    def text(self) -> str:
        """The sentence as it stands; empty when the person left it out."""
        if self.own == LEFT_OUT:
            return ""
        return self.own or self.drawn


@dataclass(frozen=True, slots=True)
class Field:
    """One thing that a rule asks for. An empty ``value`` prints as a ruled blank.

    ``filled_at_signing`` are those that only the person who signs can fill.
    """

    name: str
    label: str
    value: str
    rule: str
    required: bool
    filled_at_signing: bool = False


@dataclass(frozen=True, slots=True)
class Draft:
    """A draft of one record."""

    what: str
    title: str
    lines: tuple[Line, ...]
    fields: tuple[Field, ...]
    statement: str

    @property
    def text(self) -> str:
        """The whole text that would be signed: sentences, then fields, then the statement."""
        told = [f"{line.title}: {line.text}" for line in self.lines if line.text]
        named = [f"{one.label}: {one.value or '________'}" for one in self.fields]
        return "\n".join([self.title, *told, *named, *([self.statement] if self.statement else [])])

    @property
    def blank(self) -> tuple[Field, ...]:
        """Fields a rule asks for that are empty and that signing does not fill."""
        return tuple(
            one
            for one in self.fields
            if one.required and not one.value and not one.filled_at_signing
        )


def check_drafted(entry: Entry) -> None:
    """Whether a ``drafted`` entry names a record: ``maintenance:plugs-in`` or ``inspection``."""
    what = str(entry.data["what"]).partition(":")[0]
    if what not in WHATS:
        raise BadInput(f'"{what}" is not a record. The records are {", ".join(WHATS)}.')


def draft_of(judged: JudgedJob, what: str) -> Draft:
    """The draft of one record as the book stands.

    Raises
    ------
    BadInput
        ``what`` is not a record.
    """
    if what not in WHATS:
        raise BadInput(f'"{what}" is not a record. The records are {", ".join(WHATS)}.')
    own = _own(judged, what)
    drawer = _Drawer(judged)
    drawn = {
        "maintenance": drawer.maintenance,
        "inspection": drawer.inspection,
        "discrepancies": drawer.discrepancies,
    }[what]()
    lines = []
    for name, title, text, source, struck in drawn:
        entry = own.get(name)
        lines.append(
            Line(
                id=name,
                title=title,
                drawn=text,
                own=str(entry.data["text"]) if entry else "",
                by=judged.facts.person(entry.by) if entry else "",
                from_what=source,
                struck=struck,
            )
        )
    for name, entry in own.items():
        if name.startswith("more-"):
            lines.append(
                Line(name, "Also", "", str(entry.data["text"]), judged.facts.person(entry.by), "")
            )
    fields = tuple(
        Field(
            one.name,
            one.label,
            str(own[f"field-{one.name}"].data["text"]) if f"field-{one.name}" in own else one.value,
            one.rule,
            one.required,
            one.filled_at_signing,
        )
        for one in drawer.fields(what)
    )
    return Draft(what, WHATS[what], tuple(lines), fields, drawer.statement(what))


def _own(judged: JudgedJob, what: str) -> dict[str, Entry]:
    """What people wrote in place of a drawn sentence, the last of each."""
    found: dict[str, Entry] = {}
    for entry in judged.state.live():
        if entry.kind == "drafted":
            record, _, name = str(entry.data["what"]).partition(":")
            if record == what and name:
                found[name] = entry
    return found


Drawn = tuple[str, str, str, str, bool]


class _Drawer:
    """Draws sentences from one judged job; lives only inside :func:`draft_of`."""

    def __init__(self, judged: JudgedJob) -> None:
        self.judged = judged
        self.facts: JobFacts = judged.facts
        self.live = judged.state.live()
        self.runs = runs_of(judged.facts, judged.state, judged.items)
        self.hours = hours_of(judged.facts, judged.state)
        self.due = due_of(judged.facts, judged.state, judged.today)

    # Records

    def maintenance(self) -> list[Drawn]:
        made = [
            self._one("engine", "Engine", self._engine(), "engine.toml"),
            self._one("data", "Data used", self._documents(), "limits.toml"),
            self._one("plugs-out", "Spark plugs out", self._plugs_out(), "entries of removal"),
            self._one("plugs-in", "Spark plugs in", self._plugs_in(), "entries of fitting"),
            self._one("off", "Parts off", self._off(), "verdicts and dispositions"),
            self._one("on", "Parts on", self._on(), "entries of fitting and use"),
            self._one(
                "compression", "Compression", self._compression(), "readings on the cylinders"
            ),
            self._one("oil", "Oil and filter", self._oil(), "samples and counts"),
            self._one("torque", "Torque", self._torque(), "entries of torque"),
            self._one("work", "Work done", self._work(), "tasks"),
            self._one("short", "Closed short", self._short(), "tasks closed short"),
            self._one("findings", "Findings", self._findings(), "findings and how each was closed"),
            self._one("called", "Called by a person", self._called(), "close calls"),
            self._one("looks", "Second looks", self._looks(), "entries of second looks"),
            self._one("directives", "Directives", self._directives(), "entries of compliance"),
            self._one("run", "Ground run", self._run(), "readings of the runs"),
            self._one("meters", "Meters", self._meters(), "meters.toml"),
        ]
        found = [one for one in made if one[2]]
        return found + self._struck()

    def inspection(self) -> list[Drawn]:
        made = [
            self._one("engine", "Engine", self._engine(), "engine.toml"),
            self._one("extent", "Type and extent", self._extent(), "recurring.toml"),
            self._one("data", "Data used", self._documents(), "limits.toml"),
            self._one("directives", "Directives", self._directives(), "entries of compliance"),
            self._one("run", "Ground run", self._run(), "readings of the runs"),
        ]
        return [one for one in made if one[2]]

    def discrepancies(self) -> list[Drawn]:
        found: list[Drawn] = []
        for number, one in enumerate(self.judged.blockers, start=1):
            found.append(
                (
                    f"item-{number}",
                    f"{number}",
                    one.sentence,
                    f"way out: {with_stop(one.way_out)}",
                    False,
                )
            )
        return found

    @staticmethod
    def _one(name: str, title: str, text: str, source: str) -> Drawn:
        return name, title, text, source, False

    # Fields and statement

    def fields(self, what: str) -> list[Field]:
        engine = self.facts.engine
        airframe = self.hours.on("airframe")
        on = self._completed()
        common = [
            Field(
                "engine", "Engine",
                " ".join(str(engine.get(k, "")) for k in ("engine", "serial") if engine.get(k)),
                "common practice", False,
            ),
            Field("date", "Date", on, "14 CFR 43.9(a)(2)", True),
        ]  # fmt: skip
        rule = "14 CFR 43.9(a)(4)" if what == "maintenance" else "14 CFR 43.11(a)(3)"
        who = [
            Field("signature", "Signature", "", rule, True, True),
            Field("certificate", "Certificate number", "", rule, True, True),
            Field("kind", "Kind of certificate", "", rule, True, True),
        ]
        if what == "maintenance":
            return [
                *common,
                Field(
                    "performer",
                    "Work performed by, if not the person who approves",
                    ", ".join(self._helpers()),
                    "14 CFR 43.9(a)(3)",
                    False,
                ),
                Field(
                    "total",
                    "Airframe total time",
                    _hours(airframe),
                    "hours are not asked for",
                    False,
                ),
                *who,
            ]
        if what == "inspection":
            return [
                Field("type", "Type and brief extent", self._extent(), "14 CFR 43.11(a)(1)", True),
                Field("date", "Date", on, "14 CFR 43.11(a)(2)", True),
                Field("total", "Aircraft total time", _hours(airframe), "14 CFR 43.11(a)(2)", True),
                *who,
            ]
        return [
            *common,
            Field("to", "Given to", self._given(), "14 CFR 43.11(b)", True),
            *who,
        ]

    def statement(self, what: str) -> str:
        if what == "maintenance":
            return "The signature approves only the work described here (14 CFR 43.9(a))."
        if what == "inspection":
            if self.judged.blockers:
                return UNAIRWORTHY.format(on=self._completed() or "________")
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
            text += f". Off the airframe on {removed.isoformat()}"
        hung = self._done_on("G2")
        if hung:
            text += f", hung again on {hung}"
        return with_stop(text)

    def _done_on(self, task: str) -> str:
        done = [e for e in self.live if e.kind == "done" and e.get("task") == task]
        return done[-1].at.date().isoformat() if done else ""

    def _completed(self) -> str:
        ended = [run.ended.at for run in self.runs.runs if run.ended]
        return max(ended).date().isoformat() if ended else ""

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
            + (f", page{'s' if len(held) > 1 else ''} {', '.join(sorted(held))}" if held else "")
            for document, held in pages.items()
        ]
        return with_stop("; ".join(told)) if told else ""

    def _plugs_out(self) -> str:
        out = [
            f"{hole} {item_name(one.id)}"
            for hole in self.facts.layout.walk
            for one in self.judged.state.items.values()
            if one.kind == "plug" and one.came_out_of == hole
        ]
        return with_stop(", ".join(out)) if out else ""

    def _fitted(self) -> dict[str, Entry]:
        """What was last fitted at each place."""
        return {f"{item_kind(e.item)}:{e.place}": e for e in self.live if e.kind == "fitted"}

    def _plugs_in(self) -> str:
        fitted = self._fitted()
        told = [
            f"{hole} {item_name(fitted[f'plug:{hole}'].item)}"
            for hole in self.facts.layout.walk
            if f"plug:{hole}" in fitted
        ]
        return with_stop(", ".join(told)) if told else ""

    def _off(self) -> str:
        told = []
        for one in self.judged.items:
            if one.verdict != "REJECT":
                continue
            gone = one.state.disposed
            became = f"; {gone.data['how']}" if gone else ""
            told.append(f"{item_as_said(one.item)} ({_short_reason(one)}{became})")
        return with_stop("; ".join(told)) if told else ""

    def _on(self) -> str:
        told = []
        for entry in self._fitted().values():
            if item_kind(entry.item) == "plug":
                continue
            extra = [str(entry.get(k)) for k in ("part", "serial") if entry.get(k)]
            if entry.get("release"):
                extra.append(f"release {entry.get('release')}")
            told.append(item_as_said(entry.item) + (f" ({', '.join(extra)})" if extra else ""))
        used: dict[str, int] = {}
        for entry in self.live:
            if entry.kind == "used":
                used[entry.data["part"]] = used.get(entry.data["part"], 0) + entry.data["number"]
        for part, number in used.items():
            known = self.facts.parts.get(part)
            told.append(f"{number} {known.name if known else part}")
        return with_stop("; ".join(told)) if told else ""

    def _compression(self) -> str:
        told = []
        for one in self.judged.items:
            if one.kind != "cylinder":
                continue
            call = one.call("compression")
            if call is None or call.entry is None:
                continue
            held = call.entry.get("with", {})
            how = ", ".join(
                str(held[k])
                for k in ("state", "path", "path_note")
                if held.get(k) and held[k] != "none"
            )
            worse = [
                c.record
                for c in call.others
                if c.call != "VOID"
                and c.entry is not None
                and c.entry.at.date() == call.entry.at.date()
                and c.entry.get("with", {}).get("state") == held.get("state")
            ]
            told.append(
                f"cylinder {one.name} {call.record}"
                + (f" ({how})" if how else "")
                + (f", other read {worse[-1]}" if worse else "")
            )
        orifices = {
            str(e.get("with", {}).get("orifice"))
            for e in self.live
            if e.kind == "reading"
            and e.get("check") == "compression"
            and e.get("with", {}).get("orifice")
        }
        tail = f"; orifice {', '.join(sorted(orifices))}" if orifices else ""
        return with_stop("; ".join(told) + tail) if told else ""

    def _oil(self) -> str:
        told = []
        for one in self.judged.state.items.values():
            stay = [e for e in one.samples if self._this_stay(str(e.data["on"]))]
            if stay:
                found = ", ".join(f"{k} {v}" for k, v in stay[-1].data["ppm"].items())
                told.append(f"sample of {stay[-1].data['on']}, ppm: {found}")
            counts = [
                e
                for e in one.counts
                if self._this_stay(str(e.get("on") or e.at.date().isoformat()))
            ]
            if counts:
                last = counts[-1]
                told.append(
                    f"{one.kind} {one.name}: {last.data['pieces']} pieces, {last.data['magnetic']} magnetic"
                )
        return with_stop("; ".join(told)) if told else ""

    def _this_stay(self, on: str) -> bool:
        began = self.facts.engine.get("last_run_on") or self.facts.engine.get("removed_on")
        return not isinstance(began, date) or last_day(on) >= began

    def _torque(self) -> str:
        told = []
        for item in self.judged.state.items.values():
            for entry in item.torqued:
                if entry.id in self.judged.state.struck or entry.data["done"] != entry.data["of"]:
                    continue
                value = entry.get("wanted") or entry.get("written")
                told.append(
                    f"{entry.data['what']}"
                    + (f" {value}" if value else "")
                    + f", {entry.data['meter']}"
                )
        return with_stop("; ".join(dict.fromkeys(told))) if told else ""

    def _work(self) -> str:
        done = [one.task.title for one in self.judged.work.tasks.values() if one.state == "DONE"]
        return with_stop("; ".join(done)) if done else ""

    def _short(self) -> str:
        told = [
            f"{e.data['task']} closed short on {e.at.date().isoformat()} by "
            f"{self.facts.person(e.by)}: {e.data['reason']}"
            for e in self.live
            if e.kind == "closed_short"
        ]
        return with_stop("; ".join(told)) if told else ""

    def _findings(self) -> str:
        told = []
        for one in self.judged.items:
            for finding in one.findings:
                if finding.severity < 2:
                    continue
                end = finding.resolved or ("part rejected" if one.verdict == "REJECT" else "open")
                told.append(
                    f"{item_as_said(one.item)}: {finding.label} ({finding.entry.at.date().isoformat()}), {end}"
                )
        return with_stop("; ".join(told)) if told else ""

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
            if entry.kind == "second_look":
                task = self.facts.tasks.get(entry.data["task"])
                title = task.title if task else entry.data["task"]
                told.append(
                    f"{title}, {self.facts.person(entry.by)}, {entry.at.date().isoformat()}"
                )
        return with_stop("; ".join(told)) if told else ""

    def _directives(self) -> str:
        told = []
        due: dict[str, Due] = {one.id: one for one in self.due}
        for entry in self.live:
            if entry.kind != "complied":
                continue
            one = due[entry.data["recurring"]]
            next_due = " or ".join(w for w in (one.by_hours, one.by_date) if w != "none entered")
            told.append(
                f"{one.title} ({one.source}) complied with on {entry.data['on']} by {one.method}; "
                f"next due {next_due}"
            )
        return with_stop("; ".join(told)) if told else ""

    def _run(self) -> str:
        told = [self._one_run(run) for run in self.runs.runs if run.ended and run.verdict]
        return " ".join(told)

    def _one_run(self, run: Run) -> str:
        assert run.verdict is not None
        weather = ", ".join(f"{k.replace('_', ' ')} {v}" for k, v in run.conditions.items())
        figures = [
            f"{call.label.lower()} {call.record}"
            for call in run.verdict.calls
            if call.call not in ("NOT READ", "VOID")
        ]
        on = run.began.at.date().isoformat()
        head = f"Run {run.name} on {on}" + (f" ({weather})" if weather else "")
        return with_stop(f"{head}: {', '.join(figures)}")

    def _meters(self) -> str:
        used: dict[str, None] = {}
        for one in self.judged.items:
            for call in one.calls:
                if call.meter and call.call != "VOID":
                    used[call.meter] = None
            for entry in one.state.torqued:
                used[entry.data["meter"]] = None
        told = []
        for name in used:
            meter = self.facts.meters[name]
            due = (
                f"calibration due {meter.due_text}"
                if meter.due_text
                else "no calibration on record"
            )
            told.append(f"{name} {meter.name}, {due}")
        return with_stop("; ".join(told)) if told else ""

    def _struck(self) -> list[Drawn]:
        found: list[Drawn] = []
        for number, (target, by) in enumerate(self.judged.state.struck.items(), start=1):
            entry = self.judged.state.entries[target]
            if entry.kind == "drafted":
                continue
            reason = str(by.data["reason"]).strip().rstrip(".")
            text = (
                f"{entry_words(entry, self.judged)} Struck by {self.facts.person(by.by)}: {reason}."
            )
            found.append((f"struck-{number}", "Struck", text, f"entry {entry.seq or target}", True))
        return found

    def _helpers(self) -> list[str]:
        """Who worked besides the one whose certificate is on file."""
        doers = dict.fromkeys(
            e.by
            for e in self.live
            if e.kind in ("reading", "seen", "done", "torqued", "fitted", "reworked")
        )
        return [
            self.facts.person(key)
            for key in doers
            if key in self.facts.people and not self.facts.people[key].certificate
        ]

    def _extent(self) -> str:
        complied = {e.data["recurring"] for e in self.live if e.kind == "complied"}
        told = [
            f"{one.title}" + (f": {one.method}" if one.method else "")
            for one in self.facts.recurring.values()
            if one.kind == "inspection" and one.id in complied
        ]
        return with_stop("; ".join(told)) if told else ""

    def _given(self) -> str:
        given = [e for e in self.live if e.kind == "given" and e.data["what"] == "discrepancies"]
        return (
            f"{given[-1].data['to']}, {given[-1].get('on') or given[-1].at.date().isoformat()}"
            if given
            else ""
        )


def _short_reason(one: ItemVerdict) -> str:
    first = one.reasons[0] if one.reasons else one.verdict
    return first.split(". ")[0].rstrip(".")


def _hours(value: float | None) -> str:
    return "" if value is None else f"{value:,.1f} h"
