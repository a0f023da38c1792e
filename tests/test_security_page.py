"""The page of security names tests that are there."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PAGE = (ROOT / "docs" / "reference" / "security.md").read_text("utf-8")


def test_each_test_that_is_named_is_there():
    named = set(re.findall(r"`(tests/[\w/]+\.py)::(test_\w+)`", PAGE))
    assert len(named) > 30
    missing = [
        f"{file}::{name}"
        for file, name in sorted(named)
        if not re.search(rf"(?m)^def {name}\(", (ROOT / file).read_text("utf-8"))
    ]
    assert missing == []


def test_each_item_says_whether_it_is_met_and_how():
    rows = re.findall(r"(?m)^\| (\d+\.\d+\.\d+[^|]*) \| ([^|]*) \| (.*) \|$", PAGE)
    assert len(rows) > 50
    for item, said, how in rows:
        assert said in ("met", "by the code", "not met", "does not apply"), item
        assert how.strip(), item
