"""What will need opening on every engine of the shop: what recurs, what has an age, what wears out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from uuid import NAMESPACE_URL, uuid5

from icalendar import Calendar, Event

from rehang.paper.calendar import ical_text
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import item_kind
from rehang.trade.life.forecast import SET_ANEW, Forecasts, Outlook
from rehang.trade.papers.due import flying_rate
from rehang.trade.terms.entries import is_a
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.items import Fitted
from rehang.trade.terms.wording import on_day
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.work.names import item_label

__all__ = [
    "HEADINGS",
    "WINDOWS",
    "EngineLine",
    "FleetRow",
    "calendar_of",
    "engine_lines",
    "engine_words",
    "export_rows",
    "fleet_rows",
    "within",
]

DAYS_A_YEAR = 365.25
# Hours a year where no rate is on file: it orders what is due, and is shown as no date.
NO_RATE = 100.0
# By name: hours, days, and what the button says. What is past is in every window.
WINDOWS: dict[str, tuple[float | None, int | None, str]] = {
    "25h": (25.0, None, "25 HOURS"),
    "50h": (50.0, None, "50 HOURS"),
    "100h": (100.0, None, "100 HOURS"),
    "90d": (None, 90, "90 DAYS"),
    "all": (None, None, "ALL"),
}
HEADINGS = (
    "Engine", "Job", "What", "Why it comes up", "Hours left", "Due on", "Days left", "Overdue",
    "One chance in 20 by (h)", "Even odds by (h)", "Who says",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class FleetRow:
    """One thing that comes up on one engine.

    ``hours_left`` and ``days_left`` are below 0 once it is past and None where that side does not
    apply. ``even_hours`` is when a forecast is as likely out as in. ``reckoned`` says that the day
    was reckoned from the hours at the engine's flying rate.
    """

    engine: str
    job: str
    id: str
    item: str
    what: str
    why: str
    hours_left: float | None
    due_on: date | None
    days_left: int | None
    overdue: bool
    early_hours: float | None
    even_hours: float | None
    source: str
    kind: str
    reckoned: bool = False

    @property
    def hours_text(self) -> str:
        if self.hours_left is None:
            return ""
        if self.hours_left < 0:
            return f"{-self.hours_left:,.1f} h over"
        if self.kind == "forecast" and self.hours_left < 0.05:
            return "now"
        return f"{self.hours_left:,.1f} h"

    @property
    def date_text(self) -> str:
        if self.due_on is None:
            return ""
        about = "about " if self.reckoned else ""
        return f"{about}{on_day(self.due_on)}"

    @property
    def days_text(self) -> str:
        if self.days_left is None:
            return ""
        if self.days_left < 0:
            return f"{-self.days_left} days over"
        return f"{self.days_left} days"

    @property
    def when_text(self) -> str:
        """How far off it is: what is past alone where a side is past, else both sides."""
        sides = [
            (text, left)
            for text, left in (
                (self.hours_text, self.hours_left),
                (self.days_text, self.days_left),
            )
            if left is not None
        ]
        past = [text for text, left in sides if left < 0]
        nothing = "overdue" if self.overdue else "no date"
        return ", ".join(past or [text for text, _ in sides]) or nothing

    @property
    def even_text(self) -> str:
        """When a forecast is as likely out as in; empty where that is far off or is none."""
        if self.even_hours is None:
            return ""
        return (
            f"even odds by {self.even_hours:,.0f} h" if self.even_hours >= 0.5 else "even odds now"
        )


@dataclass(frozen=True, slots=True)
class LineRow:
    """One thing on an engine's line of time: where it stands and how far a forecast reaches.

    Per cent of the line's width, as the drawing wants them; empty where nothing says when.
    """

    row: FleetRow
    at: str
    until: str


@dataclass(frozen=True, slots=True)
class EngineLine:
    """What comes up on one engine, along one line of time."""

    engine: str
    job: str
    rate: str
    ticks: tuple[tuple[str, str], ...]
    rows: tuple[LineRow, ...]


# Left of it stands what is past, in per cent of the line.
_NOW = 8.0


def engine_lines(
    engines: Sequence[tuple[JudgedJob, Forecasts]], rows: Sequence[FleetRow], window: str
) -> list[EngineLine]:
    """The rows by engine, the engine with the soonest first, each on a line from now on.

    The line runs in flying hours; a date is laid on it at the engine's rate, or at 100 hours a year
    where none is on file, which the line says.
    """
    found = []
    rates = {judged.facts.job: flying_rate(judged.facts) for judged, _ in engines}
    for job in dict.fromkeys(row.job for row in rows):
        mine = [row for row in rows if row.job == job]
        rate = rates[job] or NO_RATE
        far = _far(mine, rate, window)
        said = f"{rate:g} h a year" + ("" if rates[job] else ", as none is on file")
        found.append(
            EngineLine(
                mine[0].engine,
                job,
                f"Dates laid beside hours at {said}.",
                tuple((_at(far * part, far), f"{far * part:,.0f} h") for part in (0.5, 1.0)),
                tuple(_line_row(row, rate, far) for row in mine),
            )
        )
    return found


def _hours_off(row: FleetRow, rate: float) -> float | None:
    sides = [row.hours_left] if row.hours_left is not None else []
    if row.days_left is not None:
        sides.append(row.days_left / DAYS_A_YEAR * rate)
    return min(sides, default=None)


def _far(rows: Sequence[FleetRow], rate: float, window: str) -> float:
    """How many hours the line reaches: those of the window, else to the furthest of the rows."""
    hours, days, _ = WINDOWS[window]
    if hours is not None:
        return hours
    if days is not None:
        return days / DAYS_A_YEAR * rate
    return max((_hours_off(row, rate) or 0.0 for row in rows), default=0.0) or NO_RATE


def _at(hours: float, far: float) -> str:
    share = min(max(hours / far, 0.0), 1.0)
    return f"{_NOW + share * (98.0 - _NOW):.1f}%"


def _line_row(row: FleetRow, rate: float, far: float) -> LineRow:
    off = _hours_off(row, rate)
    if row.overdue or (off is not None and off < 0):
        return LineRow(row, f"{_NOW / 2:.1f}%", "")
    if off is None:
        return LineRow(row, "", "")
    return LineRow(row, _at(off, far), _at(row.even_hours, far) if row.even_hours else "")


def fleet_rows(engines: Sequence[tuple[JudgedJob, Forecasts]]) -> list[FleetRow]:
    """Everything that comes up on these engines, the soonest first, as of the day each is judged on.

    Hours and days are laid side by side at the engine's own flying rate, or at 100 hours a year
    where none is on file: that orders the rows and is not shown as a date.
    """
    keyed: list[tuple[tuple[bool, float], FleetRow]] = []
    for judged, found in engines:
        today = judged.today
        if today is None:
            # A book with no entry yet: there is no day to reckon from.
            continue
        rate = flying_rate(judged.facts)
        rows = [*_recurring(judged), *_ages(judged, today), *_worn(judged, found)]
        keyed += [(_order(row, rate), _dated(row, rate, today)) for row in rows]
    return [row for _, row in sorted(keyed, key=lambda pair: pair[0])]


def _order(row: FleetRow, rate: float | None) -> tuple[bool, float]:
    days = [float(row.days_left)] if row.days_left is not None else []
    if row.hours_left is not None:
        days.append(row.hours_left / (rate or NO_RATE) * DAYS_A_YEAR)
    return (not row.overdue, min(days, default=1e9))


def _dated(row: FleetRow, rate: float | None, today: date) -> FleetRow:
    """The day that hours come to, where no day of its own governs and the rate is on file."""
    if row.due_on is not None or row.hours_left is None or row.hours_left < 0 or rate is None:
        return row
    days = int(row.hours_left / rate * DAYS_A_YEAR)
    return replace(row, due_on=today + timedelta(days=days), days_left=days, reckoned=True)


def engine_words(judged: JudgedJob) -> str:
    """An engine by its serial, and what it is off."""
    table = judged.facts.engine
    serial = str(table.get("serial", "") or judged.facts.job)
    off = str(table.get("registration", "") or "")
    return f"{serial}, off {off}" if off else serial


def _recurring(judged: JudgedJob) -> list[FleetRow]:
    return [
        FleetRow(
            engine=engine_words(judged),
            job=judged.facts.job,
            id=f"recurring:{one.id}",
            item=one.item,
            what=one.title,
            why=one.sentence,
            hours_left=one.hours_left,
            due_on=one.due_on,
            days_left=one.days_left,
            overdue=one.overdue,
            early_hours=None,
            even_hours=None,
            source=one.source,
            kind="recurring",
        )
        for one in judged.due
    ]


def _ages(judged: JudgedJob, today: date) -> list[FleetRow]:
    """Hoses with a day that they are due on, and those whose age cannot be shown."""
    found = []
    for one in judged.items:
        call = one.call("age")
        if call is None or call.call == "NOT JUDGED" or _is_gone(one):
            continue
        due = call.due
        if due is None and call.call != "OUT":
            continue
        found.append(
            FleetRow(
                engine=engine_words(judged),
                job=judged.facts.job,
                id=one.item,
                item=one.item,
                what=item_label(judged.facts, one.item),
                why=call.sentence,
                hours_left=None,
                due_on=due,
                days_left=(due - today).days if due is not None else None,
                overdue=call.call == "OUT",
                early_hours=None,
                even_hours=None,
                source=call.source.partition(", put in by")[0],
                kind="age",
            )
        )
    return found


def _is_gone(one: ItemVerdict) -> bool:
    """Whether a part is out of the engine for good: only what is in place comes due."""
    return one.state.disposed is not None or bool(one.state.replaced_by)


def _worn(judged: JudgedJob, found: Forecasts) -> list[FleetRow]:
    """For each part that stays: the check that is soonest likely to end it.

    What is set anew at each service ends no part, and is one row for all the parts of a kind.
    """
    rows = []
    anew: dict[tuple[str, str], list[Outlook]] = {}
    for one in judged.items:
        if one.verdict == "REJECT" or _is_gone(one):
            # It is replaced at this service, so what it would have come to does not come up.
            continue
        known = [
            o for o in found.of(one.item) if o.standing == "forecast" and o.hours_5 is not None
        ]
        for outlook in known:
            if not outlook.ends_it:
                anew.setdefault((one.kind, outlook.check), []).append(outlook)
        ends = [o for o in known if o.ends_it]
        if ends:
            rows.append(_worn_row(judged, [_soonest(ends)]))
    return rows + [_worn_row(judged, alike) for alike in anew.values()]


def _soonest(known: Sequence[Outlook]) -> Outlook:
    return min(known, key=lambda o: o.hours_5 or 0.0)


def _comes_up(judged: JudgedJob, alike: Sequence[Outlook]) -> float | None:
    """At how many hours a wearing check comes up: at one chance in 20, as a rule.

    What was set anew and went back in at this service is not due at once although its first chance
    is small: it comes up when it is as likely out as in.
    """
    soonest = _soonest(alike)
    fitted = {e.item for e in judged.state.live() if is_a(e, Fitted)}
    calls = [judged.item(one.item).call(one.check) for one in alike]
    just_set = all(one.item in fitted for one in alike) and all(
        call is not None and call.call == "WITHIN" for call in calls
    )
    if soonest.ends_it or not just_set:
        return soonest.hours_5
    return min((one.hours_50 for one in alike if one.hours_50 is not None), default=None)


def _worn_row(judged: JudgedJob, alike: Sequence[Outlook]) -> FleetRow:
    """One check of one part, or of several parts of a kind, told by the soonest of them."""
    soonest = _soonest(alike)
    item = soonest.item
    first = item_label(judged.facts, item)
    what, why = first, soonest.sentence
    if len(alike) > 1:
        what, why = f"{len(alike)} {item_kind(item)}s", f"{first} is the first. {why}"
    return FleetRow(
        engine=engine_words(judged),
        job=judged.facts.job,
        id=f"{item}:{soonest.check}" if soonest.ends_it else f"{item_kind(item)}:{soonest.check}",
        item=item,
        what=f"{what}, {soonest.label.lower()}",
        why=why if soonest.ends_it else f"{why} {SET_ANEW}",
        hours_left=_comes_up(judged, alike),
        due_on=None,
        days_left=None,
        overdue=False,
        early_hours=soonest.hours_5,
        even_hours=soonest.hours_50,
        source=soonest.limit_source.partition(", put in by")[0],
        kind="forecast",
    )


def within(rows: Sequence[FleetRow], window: str) -> list[FleetRow]:
    """The rows that come up within a window of :data:`WINDOWS`.

    Raises
    ------
    BadInput
        There is no such window.
    """
    if window not in WINDOWS:
        raise BadInput(f'There is no window "{window}". Use {", ".join(WINDOWS)}.')
    hours, days, _ = WINDOWS[window]
    if hours is None and days is None:
        return list(rows)
    return [
        row
        for row in rows
        if row.overdue
        or (hours is not None and row.hours_left is not None and row.hours_left <= hours)
        or (days is not None and row.days_left is not None and row.days_left <= days)
    ]


def export_rows(rows: Sequence[FleetRow]) -> list[tuple[str, ...]]:
    """The rows under :data:`HEADINGS`, every cell text."""
    return [
        (
            row.engine,
            row.job,
            row.what,
            row.why,
            "" if row.hours_left is None or row.hours_left < 0 else f"{row.hours_left:.1f}",
            "" if row.due_on is None else row.due_on.isoformat(),
            "" if row.days_left is None or row.days_left < 0 else str(row.days_left),
            _overdue(row),
            "" if row.early_hours is None else f"{row.early_hours:.0f}",
            "" if row.even_hours is None else f"{row.even_hours:.0f}",
            row.source,
        )
        for row in rows
    ]


def _overdue(row: FleetRow) -> str:
    """How far past it is; a number below nothing would be taken for a formula."""
    if not row.overdue:
        return "no"
    sides = [
        text
        for text, side in ((row.hours_text, row.hours_left), (row.days_text, row.days_left))
        if side is not None and side < 0
    ]
    return ", ".join(sides).replace(" over", "") or "yes"


def calendar_of(rows: Sequence[FleetRow], made_at: datetime) -> bytes:
    """What has a day, as whole-day events of an iCalendar file (RFC 5545).

    An event keeps its id when the file is made again, so a calendar moves it and does not double
    it. What is due by hours alone, with no flying rate on file, has no day and is left out.
    """
    calendar = Calendar()
    calendar.add("prodid", "-//Rehang//What comes due//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", "Engines: what comes due")
    for row in rows:
        if row.due_on is None:
            continue
        event = Event()
        event.add("uid", f"{uuid5(NAMESPACE_URL, f'rehang:{row.job}:{row.id}')}@rehang")
        event.add("dtstamp", made_at)
        event.add("dtstart", row.due_on)
        event.add("dtend", row.due_on + timedelta(days=1))
        event.add("summary", ical_text(f"{row.engine}: {row.what}"))
        said = [row.why, f"Source: {row.source}." if row.source else ""]
        if row.reckoned:
            said.append("The day is reckoned from the hours left at the engine's flying rate.")
        event.add("description", ical_text(" ".join(one for one in said if one)))
        event.add("transp", "TRANSPARENT")
        calendar.add_component(event)
    made: bytes = calendar.to_ical()
    return made
