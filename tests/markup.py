"""The markup of a page for tests that look for a tag in it, however the template breaks its lines."""

import re
from typing import Any


def markup(answer: Any) -> str:
    """White space as one space, and none between two tags or before a tag's end."""
    text = re.sub(r"\s+", " ", answer.content.decode())
    return re.sub(r" (?=/?>)", "", text.replace("> <", "><"))
