"""Parts tags and labels, set in type. Black only: the colour is that of the stock."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

import typst

from rehang.paper.codes import code_svg
from rehang.paper.sheets import FONTS, SIZES, TEMPLATES, cleaned
from rehang.trade.errors import BadInput
from rehang.trade.tags import Tag

__all__ = ["labels_pdf", "tags_pdf"]


def tags_pdf(tags: Sequence[Tag], *, made_out_by: str, size: str, printed_at: datetime) -> bytes:
    """Tags with a stub each, three to a page. ``made_out_by`` prints; the signature stays a rule."""
    rows = [asdict(one) | {"drawing": code_svg(one.code)} for one in tags]
    return _set("tags.typ", {"tags": rows, "who": made_out_by}, "Parts tags", size, printed_at)


def labels_pdf(tags: Sequence[Tag], *, size: str, printed_at: datetime) -> bytes:
    """Small labels with a code that opens the part's story, to be cut out."""
    rows = [asdict(one) | {"drawing": code_svg(one.code)} for one in tags]
    return _set("labels.typ", {"labels": rows}, "Part labels", size, printed_at)


def _set(
    template: str, sheet: Mapping[str, Any], title: str, size: str, printed_at: datetime
) -> bytes:
    if size not in SIZES:
        raise BadInput(f'There is no paper size "{size}" here. Use {" or ".join(SIZES)}.')
    data = {
        "paper": SIZES[size],
        "title": title,
        "made": {
            name: getattr(printed_at, name)
            for name in ("year", "month", "day", "hour", "minute", "second")
        },
        "sheet": cleaned(sheet),
    }
    made = typst.compile(
        TEMPLATES / template,
        root=TEMPLATES,
        font_paths=[FONTS],
        ignore_system_fonts=True,
        sys_inputs={"data": json.dumps(data, ensure_ascii=False)},
        format="pdf",
        pdf_standards=["ua-1"],
        timestamp=printed_at.astimezone(UTC).replace(microsecond=0),
    )
    assert isinstance(made, bytes)
    return made
