"""Rows of a part's story: its tag, the chart with its table, where it flew, what happened."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from rehang.paper.story import PaperCell, PaperEvent, StorySheet
from rehang.trade.drawn.chart_values import Chart, Sheet
from rehang.trade.drawn.charts import column_shares
from rehang.trade.drawn.item_charts import chart_of_check
from rehang.trade.drawn.story_charts import HoursColumn, columns_of, series_words
from rehang.trade.facts.layout import Layout
from rehang.trade.job.judging import JudgedJob
from rehang.trade.life.alarms import Alarm
from rehang.trade.life.fans import fan_words
from rehang.trade.life.forecast import (
    SET_ANEW,
    Forecasts,
    Outlook,
)
from rehang.trade.life.keep_or_renew import keep_or_renew
from rehang.trade.life.story_values import HOURS_PER_QUART, OIL, PartStory, Point, Series
from rehang.trade.life.watch import watch
from rehang.trade.papers.due import due_of
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.wording import listed, on_day
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.work.names import item_label
from rehang.web.shared.mode import type_size

__all__ = [
    "Dots",
    "StoryEvent",
    "StoryTable",
    "StoryTag",
    "alarm_words",
    "dots",
    "due_words",
    "event_rows",
    "flight_rows",
    "heading",
    "outlook_words",
    "sheets",
    "story_chart",
    "story_sheet",
    "story_tag",
    "table_of",
]

# Widths in pixels that a chart is drawn at: a phone, a phone on its side, a tablet, a laptop.
# The page shows the widest that fits, made larger where there is room, so that no letter on it
# is ever smaller than it was drawn.
WIDTHS = (
    ("narrow", 284, 430), ("phone", 342, 430), ("side", 560, 400), ("tablet", 756, 390),
    ("laptop", 942, 396),
)  # fmt: skip
_HEAD = 108
# What goes before the odds, by the verdict that asks for it.
_FIRST = {"NOT YET": "Decide first.", "REWORK": "Rework it first."}


@dataclass(frozen=True, slots=True)
class Dots:
    """A tray in small with one hole lit."""

    hole: str
    width: int
    height: int
    boxes: tuple[tuple[int, int, bool], ...]


def dots(layout: Layout, hole: str) -> Dots | None:
    """The tray with a hole lit; None for a word that is no hole."""
    if hole not in layout.walk:
        return None
    boxes = tuple(
        (x * 9, y * 9, name == hole)
        for y, line in enumerate(layout.tray)
        for x, name in enumerate(line)
    )
    widest = max(len(line) for line in layout.tray)
    return Dots(hole, widest * 9, len(layout.tray) * 9, boxes)


# The tag


@dataclass(frozen=True, slots=True)
class Fact:
    """One line of the tag: what, its words, a hole drawn, the mark of a call."""

    label: str
    text: str
    dots: Dots | None = None
    mark: str = ""
    call: str = ""


@dataclass(frozen=True, slots=True)
class StoryTag:
    """The tag on the part: what it is, where it was and goes, its checks, its verdict."""

    name: str
    title: str
    facts: tuple[Fact, ...]
    verdict: str
    mark: str
    reason: str
    replaces: str
    replaced_by: str


def story_tag(told: PartStory, judged: JudgedJob) -> StoryTag:
    """The tag of a story; an item that is not judged has no stamp."""
    verdict = told.verdict
    layout = judged.facts.layout
    facts: list[Fact] = []
    if verdict is not None:
        came, goes = verdict.state.came_out_of, verdict.goes_to
        if came:
            facts.append(Fact("Came out of", came, dots(layout, came)))
        if goes:
            next_hole = "Slot's next hole" if verdict.verdict == "REJECT" else "Goes next to"
            facts.append(Fact(next_hole, goes, dots(layout, goes)))
    if told.hours is not None:
        facts.append(Fact("Hours", f"{told.hours:,} since new"))
    for call in verdict.calls if verdict is not None else ():
        facts.append(
            Fact(
                call.label,
                call.reading or call.call.lower(),
                None,
                status_name(call.call),
                call.call.lower(),
            )
        )
    if verdict is None:
        facts += [Fact(one.label, one.points[-1].text) for one in told.series if one.points]
    label = item_label(judged.facts, told.item)
    short = told.name if told.kind == "plug" else label
    return StoryTag(
        name="Oil" if told.item == OIL else short,
        title=told.title if told.kind != "plug" else label.partition(" ")[0],
        facts=tuple(facts),
        verdict=verdict.verdict if verdict is not None else "",
        mark=status_name(verdict.verdict) if verdict is not None else "",
        reason=verdict.reasons[0] if verdict is not None and verdict.reasons else "",
        replaces=told.replaces,
        replaced_by=told.replaced_by,
    )


# Checks and their chart


def sheets(mode: str) -> tuple[tuple[str, Sheet], ...]:
    """What a page draws a chart on, by the name of its width, with the type of its light."""
    text = type_size(mode)
    return tuple(
        (name, Sheet(width, height, text, "page", _HEAD if name == "laptop" else 0))
        for name, width, height in WIDTHS
    )


# The table under the chart


@dataclass(frozen=True, slots=True)
class CellLine:
    """One reading in a cell: its words, its mark, and why it stands aside or is void."""

    text: str
    mark: str = ""
    call: str = ""
    why: str = ""
    struck: bool = False


@dataclass(frozen=True, slots=True)
class TableCell:
    lines: tuple[CellLine, ...]
    dots: Dots | None = None


@dataclass(frozen=True, slots=True)
class TableRow:
    label: str
    cells: tuple[TableCell, ...]


@dataclass(frozen=True, slots=True)
class StoryTable:
    """The chart in figures: a column for each opening, the next one last.

    ``shares`` are the columns' widths in per cent, the row heads first, where the columns stand
    under the chart's own openings; empty where they do not. ``source`` is whose the limit is.
    """

    caption: str
    rows: tuple[TableRow, ...]
    shares: tuple[float, ...]
    source: str

    @property
    def turned(self) -> tuple[tuple[tuple[str, TableCell], ...], ...]:
        """The same with a row for each opening, each cell behind its heading."""
        columns = [[(row.label, cell) for cell in row.cells] for row in self.rows]
        return tuple(zip(*columns, strict=True))


def _plain(text: str) -> TableCell:
    return TableCell((CellLine(text),))


def table_of(
    chart: Chart,
    told: PartStory,
    check: str,
    judged: JudgedJob,
    outlook: Outlook | None,
    sheet: Sheet,
) -> StoryTable:
    """The table of a chart: the check itself, when, at what hours, where, on which meter."""
    shares = column_shares(chart, sheet)
    caption = f"{chart.title} of {chart.name} at each opening"
    source = "; ".join(f"{one.words}: {one.source}" for one in chart.limits if one.source)
    series = told.of(check)
    if series is None:
        ages = tuple(
            TableCell((CellLine(f"{m.text} years", m.call, m.call.replace("-", " ")),))
            for m in chart.marks
        )
        dates = tuple(_plain(m.on) for m in chart.marks)
        return StoryTable(caption, (TableRow("Age", ages), TableRow("Date", dates)), shares, source)
    columns = columns_of(series)
    layout = judged.facts.layout
    has_next = chart.next_hours is not None and outlook is not None
    head = series.label if series.check == HOURS_PER_QUART else series.unit
    rows = [TableRow(head, tuple(TableCell(_lines(c, series)) for c in columns))]
    rows.append(TableRow("Date", tuple(_plain(on_day(c.on)) for c in columns)))
    rows.append(
        TableRow(
            "Hours",
            tuple(
                _plain(f"{c.engine_hours:,.1f}" if c.engine_hours is not None else "")
                for c in columns
            ),
        )
    )
    if any(c.place in layout.walk for c in columns):
        cells = tuple(
            TableCell(
                (CellLine("new" if _is_new(c) else c.place),),
                None if _is_new(c) else dots(layout, c.place),
            )
            for c in columns
        )
        rows.append(TableRow("Flew", cells))
    beside = _beside(told, check)
    if beside is not None:
        rows.append(_beside_row(beside, columns))
    if any(p.meter for c in columns for p in c.points):
        rows.append(TableRow("Meter", tuple(_plain(listed(_meters(c))) for c in columns)))
    if has_next:
        assert outlook is not None
        rows = [
            TableRow(row.label, (*row.cells, cell))
            for row, cell in zip(
                rows, _next_cells(rows, outlook, told, columns, layout), strict=True
            )
        ]
    return StoryTable(caption, tuple(rows), shares, source)


def _beside_row(beside: Series, columns: Sequence[HoursColumn]) -> TableRow:
    """What another check read at the same openings."""
    held = {c.engine_hours: c for c in columns_of(beside)}
    cells = tuple(
        TableCell(_lines(held[c.engine_hours], beside, short=True))
        if c.engine_hours in held
        else _plain("")
        for c in columns
    )
    return TableRow(f"{beside.label}, {beside.unit}", cells)


def _is_new(column: HoursColumn) -> bool:
    return any(p.breaks == "new" for p in column.points)


def _beside(told: PartStory, check: str) -> Series | None:
    """The gap stands beside the resistance: both are read at each opening."""
    return told.of("gap") if check == "resistance" else None


def _meters(column: HoursColumn) -> list[str]:
    return list(dict.fromkeys(p.meter for p in column.points if p.meter))


def _lines(column: HoursColumn, series: Series, *, short: bool = False) -> tuple[CellLine, ...]:
    """The readings of one opening; found and set in one line, all others each on its own.

    The unit stands in the row's head. ``short`` leaves out calls and reasons.
    """
    made: list[CellLine] = []
    before: Point | None = None
    for point in column.points:
        text = point.text.removesuffix(f" {series.unit}")
        if point.left and made and before is not None and not (before.void or before.struck):
            made[-1] = replace(made[-1], text=f"{made[-1].text} to {text}")
            continue
        judged_here = not point.earlier and not point.left and not short and not point.aside
        call = "VOID" if point.void else point.call if judged_here else ""
        set_here = point.left and point.breaks != "new"
        made.append(
            CellLine(
                text=f"set to {text}" if set_here else text,
                mark=status_name(call) if call and call != "NOT READ" else "",
                call=call.lower(),
                why="" if short else point.void or point.aside or point.struck,
                struck=bool(point.struck),
            )
        )
        before = point
    return tuple(made)


def _next_cells(
    rows: Sequence[TableRow],
    outlook: Outlook,
    told: PartStory,
    columns: Sequence[HoursColumn],
    layout: Layout,
) -> list[TableCell]:
    """The next opening's column: what is expected, and where the part goes."""
    last = next((c.engine_hours for c in reversed(columns) if c.engine_hours is not None), None)
    goes = told.verdict.goes_to if told.verdict is not None else ""
    series = told.of(outlook.check)
    unit = series.unit if series is not None else ""
    found = []
    for row in rows:
        match row.label:
            case "Date":
                found.append(_plain("next opening"))
            case "Hours":
                found.append(
                    _plain(f"{last + outlook.opening.hours:,.0f}" if last is not None else "")
                )
            case "Flew":
                found.append(TableCell((CellLine(goes),), dots(layout, goes)))
            case _ if row is rows[0]:
                span = outlook.span_text.replace(f" {unit}", "")
                found.append(
                    TableCell(
                        (CellLine(span, why="by its trend" if outlook.no_odds else "8 in 10"),)
                    )
                )
            case _:
                found.append(_plain(""))
    return found


# Words


def outlook_words(
    outlook: Outlook | None, verdict: ItemVerdict | None, found: Forecasts, judged: JudgedJob
) -> list[str]:
    """The odds, after the verdict: they never stand in its place.

    Then why the drawn forecast starts elsewhere than at the last reading, and what is not counted.
    """
    if outlook is None:
        return []
    said = [outlook.sentence] if outlook.sentence else []
    if said and verdict is not None and verdict.verdict != "KEEP":
        said[0] = f"{_FIRST.get(verdict.verdict, verdict.verdict + ' comes first.')} {said[0]}"
    why = fan_words(found, judged, outlook.item, outlook.check)
    if why:
        said.append(why)
    if outlook.standing == "forecast" and outlook.chance_inside is not None:
        anew = outlook.item != OIL and not outlook.ends_it
        said += [SET_ANEW] if anew else []
    return said


@dataclass(frozen=True, slots=True)
class StoryEvent:
    """One thing that happened. ``job`` is the name of another job than the page's."""

    day: str
    words: str
    who: str
    struck: str
    job: str


def event_rows(told: PartStory, here: str) -> list[StoryEvent]:
    """All that happened, the newest first; what was struck stays and is shown struck."""
    return [
        StoryEvent(
            day=on_day(one.on),
            words=one.words,
            who=one.by,
            struck=one.struck,
            job=one.job if one.job != here else "",
        )
        for one in reversed(told.events)
    ]


@dataclass(frozen=True, slots=True)
class FlightRow:
    place: str
    dots: Dots | None
    when: str
    hours: str


def flight_rows(told: PartStory, layout: Layout) -> list[FlightRow]:
    """Where it flew, the newest first."""
    return [
        FlightRow(
            place=one.place,
            dots=dots(layout, one.place),
            when=f"{on_day(one.since)} to {on_day(one.until)}"
            if one.since
            else f"to {on_day(one.until)}",
            hours=f"{one.hours:g} h" if one.hours is not None else "hours not on file",
        )
        for one in reversed(told.flights)
    ]


def story_chart(
    told: PartStory, check: str, judged: JudgedJob, found: Forecasts | None, mode: str
) -> tuple[Chart, StoryTable]:
    """Chart and table of one check, ready to be drawn."""
    chart = chart_of_check(told, check, judged, found)
    outlook = next(iter(found.of(told.item, check)), None) if found is not None else None
    widest = sheets(mode)[-1][1]
    return chart, table_of(chart, told, check, judged, outlook, widest)


def heading(told: PartStory, check: str, chart: Chart) -> str:
    """What the series says, above its chart; which fellow went the same way before it opened."""
    series = told.of(check)
    if series is None:
        return chart.sentence
    words = series_words(series)
    if chart.other is not None:
        return f"{words.partition(':')[0]}, the way {chart.other.name} went before it opened."
    return words


def alarm_words(alarms: Sequence[Alarm], item: str) -> list[str]:
    """The warnings about one item."""
    return [one.sentence for one in alarms if one.item == item]


def due_words(judged: JudgedJob, item: str) -> list[str]:
    """What recurs on one item: what is left of it, by hours and by date, and who says so."""
    return [
        f"{one.sentence} By hours: {one.by_hours}. By date: {one.by_date}. {one.source}."
        for one in due_of(judged.facts, judged.state, judged.today)
        if one.item == item
    ]


# On paper


def story_sheet(
    told: PartStory,
    judged: JudgedJob,
    found: Forecasts,
    check: str,
    heading: str,
    table: StoryTable | None,
) -> StorySheet:
    """The story as the printed sheet takes it."""
    tag = story_tag(told, judged)
    outlook = next(iter(found.of(told.item, check)), None) if check else None
    says = outlook_words(outlook, told.verdict, found, judged)
    if outlook is not None:
        says += outlook.assumptions
    if told.verdict is not None:
        choice = keep_or_renew(judged, found, told.item)
        says += filter(None, [choice.sentence, choice.reckoned, *choice.hints])
    says += alarm_words(watch(judged, found), told.item)
    if table is not None and table.source:
        says.append(f"{table.source}.")
    rows = table.rows if table is not None else ()
    return StorySheet(
        title=f"The story of {tag.name}",
        sheet_id=f"{told.job} {told.name}",
        engine=told.title,
        verdict=tag.verdict,
        mark=tag.mark,
        reason=tag.reason,
        heading=heading,
        says=says,
        facts=[(fact.label, fact.text) for fact in tag.facts],
        chart_words=heading,
        shares=table.shares if table is not None else (),
        rows=[
            (row.label, [[_on_paper(line) for line in cell.lines] for cell in row.cells])
            for row in rows
        ],
        flights=[
            (one.place, one.hours, one.when) for one in flight_rows(told, judged.facts.layout)
        ],
        events=[
            PaperEvent(one.day, one.words, one.who, one.struck)
            for one in event_rows(told, judged.facts.job)
        ],
    )


def _on_paper(line: CellLine) -> PaperCell:
    why = f"struck: {line.why}" if line.struck else line.why
    return PaperCell(line.text, line.mark, line.call, why)
