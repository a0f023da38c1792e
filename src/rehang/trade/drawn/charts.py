"""Charts of one check over the engine's hours, as Vega-Lite specifications in plain values.

One :class:`Chart` holds what is to be seen; :func:`spec` makes of it the specification for a
:class:`Sheet`: a width, a size of type and a light. Pages and paper draw the same specification,
with other values of its parameters. Places of labels are worked out here, because nothing may
lie on top of anything else. Line styles differ by dash and status by shape, so a chart reads in
grey; what a colour is called is in :data:`PALETTES`, after the page's own tokens.
"""

from __future__ import annotations

from typing import Any

from rehang.trade.drawn.chart_box import box_of, column_edges, column_shares
from rehang.trade.drawn.chart_canvas import Canvas
from rehang.trade.drawn.chart_layers import layers_of
from rehang.trade.drawn.chart_looks import FONT, PALETTES
from rehang.trade.drawn.chart_values import (
    Chart,
    Sheet,
)
from rehang.trade.terms.errors import BadInput

__all__ = ["column_edges", "column_shares", "spec"]

SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"


def spec(chart: Chart, sheet: Sheet) -> dict[str, Any]:
    """The chart as one Vega-Lite specification for a sheet.

    Raises
    ------
    BadInput
        The chart has no reading, or there is no such light.
    """
    if sheet.mode not in PALETTES:
        raise BadInput(f'There is no light "{sheet.mode}" here. Use {", ".join(PALETTES)}.')
    box = box_of(chart, sheet)
    layers = layers_of(Canvas(chart, sheet, box))
    palette = PALETTES[sheet.mode]
    return {
        "$schema": SCHEMA,
        "description": chart.sentence,
        "width": round(box.width, 1),
        "height": round(box.height, 1),
        "padding": {
            "left": round(box.left, 1),
            "top": round(box.top, 1),
            "right": round(box.right_pad, 1),
            "bottom": round(box.bottom_pad, 1),
        },
        "autosize": {"type": "none"},
        "params": [
            {"name": token.replace("-", "_"), "value": colour} for token, colour in palette.items()
        ],
        "config": {
            "background": None,
            "view": {"stroke": None},
            "font": FONT,
            "text": {"fontSize": sheet.text},
            "customFormatTypes": False,
        },
        "layer": layers,
    }
