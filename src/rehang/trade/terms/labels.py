"""What is printed small on a part: the text of its code, and back again."""

from __future__ import annotations

import hashlib
import re

from rehang.trade.terms.errors import BadInput

__all__ = ["label_text", "read_label"]

_LABEL = re.compile(r"rehang:1:([a-z0-9][a-z0-9-]{0,59}):([a-z]+:[^:\n]{1,80}):([0-9a-f]{4})")


def label_text(job: str, item: str) -> str:
    """The text of the code on a part's label: the job, the item and four check digits.

    It names no address, so that it outlives every server.

    >>> label_text("tv4-2207-2026", "plug:K0411")
    'rehang:1:tv4-2207-2026:plug:K0411:1df6'
    """
    stem = f"rehang:1:{job}:{item}"
    return f"{stem}:{_digits(stem)}"


def read_label(text: str) -> tuple[str, str]:
    """The job and the item that a code names.

    Raises
    ------
    BadInput
        The code is not one of ours, or a letter of it was misread.
    """
    found = _LABEL.fullmatch(text.strip())
    if found is None:
        shown = text.strip()[:40]
        raise BadInput(
            f'"{shown}" is not a label of this bench book. It may be a maker\'s own code: look for '
            "the small square one beside it."
        )
    job, item, digits = found.groups()
    if _digits(f"rehang:1:{job}:{item}") != digits:
        raise BadInput("A letter of this label was misread. Wipe it and read it again.")
    return job, item


def _digits(stem: str) -> str:
    # Half a character, which no text holds, is misread like any other.
    # Four hex digits: of labels that are misread one in 65,536 passes.
    return hashlib.sha256(stem.encode(errors="backslashreplace")).hexdigest()[:4]
