"""Parts tags and labels, set in type. Black only: the colour is that of the stock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime

from rehang.paper.codes import code_svg
from rehang.paper.sheets import set_in_type
from rehang.trade.telling.tags import Tag

__all__ = ["labels_pdf", "tags_pdf"]


def tags_pdf(tags: Sequence[Tag], *, made_out_by: str, size: str, printed_at: datetime) -> bytes:
    """Tags with a stub each, three to a page. ``made_out_by`` prints; the signature stays a rule."""
    rows = [asdict(one) | {"drawing": code_svg(one.code)} for one in tags]
    return set_in_type(
        "tags.typ",
        {"tags": rows, "who": made_out_by},
        size=size,
        at=printed_at,
        title="Parts tags",
    )


def labels_pdf(tags: Sequence[Tag], *, size: str, printed_at: datetime) -> bytes:
    """Small labels with a code that opens the part's story, to be cut out."""
    rows = [asdict(one) | {"drawing": code_svg(one.code)} for one in tags]
    return set_in_type(
        "labels.typ", {"labels": rows}, size=size, at=printed_at, title="Part labels"
    )
