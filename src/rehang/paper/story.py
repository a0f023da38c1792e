"""A part's story on paper: the chart, its table, the odds and all that happened, in black only."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from types import MappingProxyType

from rehang.paper.glyphs import printable
from rehang.paper.sheets import SIZES, set_in_type
from rehang.trade.drawn.chart_values import Chart, Sheet
from rehang.trade.drawn.charts import chart_svg
from rehang.trade.terms.errors import BadInput

__all__ = ["PaperCell", "PaperEvent", "StorySheet", "chart_sheet", "story_pdf"]

# Points between the margins of templates/common.typ.
_WIDTHS: Mapping[str, int] = MappingProxyType({"letter": 538, "a4": 521})


@dataclass(frozen=True, slots=True)
class PaperCell:
    """One cell of the table: its words, the mark of its call, and why it stands aside."""

    text: str
    mark: str = ""
    call: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True)
class PaperEvent:
    day: str
    words: str
    who: str
    struck: str


@dataclass(frozen=True, slots=True)
class StorySheet:
    """Everything on the sheet, ready to be set. ``rows`` are row heads and cells."""

    title: str
    sheet_id: str
    engine: str
    verdict: str
    mark: str
    reason: str
    heading: str
    says: Sequence[str]
    facts: Sequence[tuple[str, str]]
    chart_words: str
    shares: Sequence[float]
    rows: Sequence[tuple[str, Sequence[Sequence[PaperCell]]]]
    flights: Sequence[tuple[str, str, str]]
    events: Sequence[PaperEvent]


def chart_sheet(size: str) -> Sheet:
    """What the chart is drawn on between the margins of a paper size."""
    if size not in _WIDTHS:
        raise BadInput(f'There is no paper size "{size}" here. Use {" or ".join(SIZES)}.')
    return Sheet(_WIDTHS[size], 250, 12, "print", 66)


def story_pdf(sheet: StorySheet, chart: Chart | None, *, size: str, printed_at: datetime) -> bytes:
    """The story as a tagged PDF. ``printed_at`` is in the job's own time zone."""
    # A letter that the fonts do not have is set as its number, in a drawing too.
    drawing = printable(chart_svg(chart, chart_sheet(size))) if chart is not None else ""
    return set_in_type(
        "story.typ",
        asdict(sheet),
        size=size,
        at=printed_at,
        foot="A story is no record: it is not signed and returns nothing to service.",
        inputs={"drawing": drawing},
    )
