"""Odd things at the doors that take text and files: the first tries of ``make doors``, each time."""

import pytest

from bench.doors.__main__ import DOORS
from bench.doors.walk import Door, walk

# So many that a door's kinds of tries all come up and a second or two is enough. The doors of the
# site take a store of their own and stay with the command; the API has tests/book/test_api_fuzz.py.
TRIES = {
    "entries": 1_500, "lines": 1_500, "labels": 1_000, "facts": 40, "csv": 60, "xlsx": 30, "photos": 60,
    "label photos": 30, "flights": 30,
}  # fmt: skip


@pytest.mark.parametrize("name", TRIES)
def test_nothing_sent_at_a_door_breaks_it(name):
    door = next(door for door in DOORS if door.name == name)
    tally = walk(door, 1, TRIES[name])
    assert tally.crashes == {}
    assert tally.tries == TRIES[name] == tally.taken + tally.refused
    assert tally.taken, "Everything was refused: nothing was tried behind the door."
    assert tally.refused


def test_a_crash_and_a_refusal_without_a_word_are_counted():
    from rehang.trade.terms.errors import BadInput

    def acts(dice):
        yield "taken", lambda: True
        yield "broken", lambda: 1 // 0
        yield "broken again", lambda: 1 // 0
        yield "silent", lambda: _raise(BadInput(" "))

    tally = walk(Door("made up", "", 0, acts), 1, 10)
    assert (tally.tries, tally.taken, tally.refused) == (4, 1, 1)
    assert sorted((n, first) for n, first in tally.crashes.values()) == [
        (1, "'silent'"),
        (2, "'broken'"),
    ]


def _raise(problem):
    raise problem
