"""Each unsafe thing done alone to the finished demo keeps it from service, in words that say why.

The cases lie by topic in ``tests/trade/unsafe``; the finished demo itself has no reason left.
"""

from __future__ import annotations

import importlib
import pkgutil

import pytest

from . import unsafe
from .finished import Case, Finished

CASES: list[Case] = [
    case
    for module in pkgutil.iter_modules(unsafe.__path__)
    for case in importlib.import_module(f"{unsafe.__name__}.{module.name}").CASES
]


def test_finished_demo_has_no_reason_left():
    assert Finished().reasons() == []


@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_unsafe_change_blocks(case):
    changed = Finished()
    case.change(changed)
    said = changed.reasons()
    assert any(case.says in one for one in said), said or "Nothing in this book blocks."


def test_every_case_has_a_name_of_its_own():
    names = [case.name for case in CASES]
    assert len(names) == len(set(names))
