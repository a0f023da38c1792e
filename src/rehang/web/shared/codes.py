"""The text of a square code in a photo that was sent with a form."""

from __future__ import annotations

from typing import Any

from rehang.decode.apart import read_codes
from rehang.decode.pictures import MOST_BYTES
from rehang.trade.terms.errors import BadInput

__all__ = ["code_in"]


def code_in(given: Any) -> str:
    """The text of the code in an uploaded photo; of several codes one of our own labels.

    Raises
    ------
    BadInput
        The photo is too large, is none, or has no code in it.
    """
    if given.size is None or given.size > MOST_BYTES:
        raise BadInput(f"The photo has {given.size or 0:,} bytes; at most {MOST_BYTES:,} are read.")
    found = read_codes(given.read())
    if not found:
        raise BadInput(
            "No code was found in the photo. Fill the picture with the label, in even light."
        )
    return next((text for text in found if text.startswith("rehang:")), found[0])
