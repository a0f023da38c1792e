"""The server is killed in the middle of writing; what it had answered for is there afterwards."""

import pytest

from bench import kills
from tests.started import ForkedServer


@pytest.mark.slow
def test_six_kills_lose_nothing_that_was_answered_for():
    tally, problems = kills.run(6, seed=20261102, served=ForkedServer)
    assert (tally.kills, tally.lost, problems) == (6, [], [])
    # Otherwise the kills fell between the posts and showed nothing.
    assert tally.kills_while_sending >= 3
    assert tally.sent_again >= 3
    assert len(tally.acknowledged) > 6
    assert kills.words(tally, problems) == (
        f"6 kills, {len(tally.acknowledged):,} acknowledged, 0 lost, verify whole"
    )


def test_a_lost_entry_would_be_counted():
    class Book:
        """A board whose book has one of two entries, and that one at another place."""

        def get(self, path):
            return {"entries": [{"id": "kept-1", "seq": 2, "hash": "b"}], "more": False}

    tally = kills.Tally(
        acknowledged={
            "kept-1": ("job", 1, "a"),
            "gone-1": ("job", 3, "c"),
            "else-1": ("other", 1, "d"),
        }
    )
    kills._hold_against_the_book(Book(), "job", tally)
    assert tally.lost == ["kept-1", "gone-1"]
    assert "2 lost" in kills.words(tally, [])
