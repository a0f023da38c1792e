"""Charts of one check over the engine's hours, drawn as SVG.

One :class:`Chart` holds what is to be seen; :func:`chart_svg` draws it on a :class:`Sheet`: a
width, a size of type, and whether it is for a page or for paper. Both are the same drawing; on a
page each colour is a class that the page's style sheet fills in. Places of labels are worked out
here, because nothing may lie on top of anything else. Line styles differ by dash and status by
shape, so a chart reads in grey.
"""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from itertools import groupby
from zlib import crc32

from rehang.trade.drawn.chart_box import Box, box_of, column_edges, column_shares
from rehang.trade.drawn.chart_canvas import Canvas, Label, Shape, Stroke
from rehang.trade.drawn.chart_layers import draw_layers
from rehang.trade.drawn.chart_looks import Look, printed
from rehang.trade.drawn.chart_values import Chart, Sheet
from rehang.trade.drawn.svg import short

__all__ = ["chart_svg", "column_edges", "column_shares", "drawn_of"]

_ANCHORS = {"left": "start", "center": "middle", "right": "end"}
# From the middle of a line of figures down to where they stand; half the height of a digit.
_STANDS = 0.36


def drawn_of(chart: Chart, sheet: Sheet) -> Canvas:
    """The chart on a sheet: every stroke, mark and word in its place.

    Raises
    ------
    BadInput
        The chart has no reading.
    """
    on = Canvas(chart, sheet, box_of(chart, sheet))
    draw_layers(on)
    return on


def chart_svg(chart: Chart, sheet: Sheet) -> str:
    """The chart as an SVG element, named by its sentence, each part marked.

    Raises
    ------
    BadInput
        The chart has no reading.
    """
    on = drawn_of(chart, sheet)
    hatch = f"hatch-{crc32(f'{chart.name} {chart.title} {sheet}'.encode()):08x}"
    paint = _Paint(hatch, on_page=sheet.mode == "page")
    parts = [
        *(
            paint.group(part, [paint.piece(one, on.s) for one in held])
            for part, held in groupby(on.drawn, key=lambda one: one.part)
        ),
        *(
            paint.group(part, [paint.words(one, on) for one in held])
            for part, held in groupby(on.labels, key=lambda one: one.part)
        ),
    ]
    return _sheet(sheet, on.box, chart.sentence, [paint.hatching(on), *parts])


def _sheet(sheet: Sheet, box: Box, words: str, parts: Iterable[str]) -> str:
    face = "" if sheet.mode == "page" else ' font-family="Noto Sans"'
    size = f'width="{sheet.width}" height="{sheet.height}"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {sheet.width} {sheet.height}" '
        f'{size} role="img" aria-label="{escape(words)}" class="chart-drawing"{face}>'
        f'<g transform="translate({short(box.left)} {short(box.top)})">{"".join(parts)}</g></svg>'
    )


class _Paint:
    """Pieces of a chart as SVG, coloured for a page or for paper."""

    def __init__(self, hatch: str, *, on_page: bool) -> None:
        self.hatch = hatch
        self.on_page = on_page

    def inks(self, fill: str, stroke: str) -> str:
        """The attributes that colour a piece; a stroke that is not filled says so."""
        held = {"fill": fill, "stroke": stroke}
        if self.on_page:
            kinds = " ".join(f"{way}-{token}" for way, token in held.items() if token)
            return f' class="{kinds}"' + ("" if fill else ' fill="none"')
        colours = [(way, printed(token)) for way, token in held.items() if token]
        if not fill:
            colours.append(("fill", "none"))
        return "".join(f' {way}="{colour}"' for way, colour in colours)

    def group(self, part: str, pieces: Iterable[str]) -> str:
        named = f' data-part="{part}"' if part else ""
        return f"<g{named}>{''.join(pieces)}</g>"

    def piece(self, one: Stroke | Shape, scale: float) -> str:
        return self.stroke(one) if isinstance(one, Stroke) else self.shape(one, scale)

    def stroke(self, one: Stroke) -> str:
        way = "L".join(f"{short(x)} {short(y)}" for x, y in one.places)
        path = f'd="M{way}{"Z" if one.fill else ""}"'
        line = f' stroke-width="{short(one.width)}"' if one.stroke else ""
        if one.dash:
            line += f' stroke-dasharray="{" ".join(short(d) for d in one.dash)}"'
        drawn = f"<path {path}{self.inks(one.fill, one.stroke)}{line}/>"
        return drawn + f'<path {path} fill="url(#{self.hatch})"/>' if one.is_hatched else drawn

    def shape(self, one: Shape, scale: float) -> str:
        named = f' data-key="{escape(one.key)}"' if one.key else ""
        said = f"<title>{escape(one.words)}</title>" if one.key else ""
        x, y = one.place
        looks = "".join(self._look(look, scale) for look in one.looks)
        return f'<g transform="translate({short(x)} {short(y)})"{named}>{said}{looks}</g>'

    def _look(self, look: Look, scale: float) -> str:
        # The shape is drawn in a box from -1 to 1, and its line grows with it.
        half = look.across * scale / 2
        line = ""
        if look.stroke:
            line = f' stroke-width="{look.width * 2 / look.across:.3f}" stroke-linecap="round"'
        if look.dash:
            dashes = " ".join(f"{d * 2 / look.across:.3f}" for d in look.dash)
            line += f' stroke-dasharray="{dashes}"'
        inks = self.inks(look.fill, look.stroke)
        return f'<path d="{look.shape}" transform="scale({half:.2f})"{inks}{line}/>'

    def words(self, label: Label, on: Canvas) -> str:
        """Words cased in paper, so that lines pass behind them."""
        size = on.text * label.size
        return (
            f'<text x="{short(label.x)}" y="{short(label.y + _STANDS * size)}" '
            f'text-anchor="{_ANCHORS[label.align]}" font-size="{short(size)}" '
            f'font-weight="{label.weight}"{self.inks(label.role, "paper")} '
            f'stroke-width="{short(5 * on.s)}" stroke-linejoin="round" paint-order="stroke">'
            f"{escape(label.text, quote=False)}</text>"
        )

    def hatching(self, on: Canvas) -> str:
        """The pattern that is laid over the close-call band, where there is one."""
        if not any(isinstance(one, Stroke) and one.is_hatched for one in on.drawn):
            return ""
        step = 6 * on.s
        return (
            f'<defs><pattern id="{self.hatch}" width="{short(step)}" height="{short(step)}" '
            'patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
            f'<path d="M{short(step / 2)} 0V{short(step)}"{self.inks("", "ink")} '
            f'stroke-width="{short(1.6 * on.s)}"/></pattern></defs>'
        )
