"""A count of metal against a limit on file: at the limit it is within, one piece more is out."""

from __future__ import annotations

import pytest

from .finished import Finished

LIMIT = (
    '\n[[limit]]\nitem = "filter"\ncheck = "{check}"\n{bounds}\n'
    'document = "TV4 manual (invented)"\nrevision = "6"\npage = "4-3"\n'
    'entered_by = "marta"\nentered_on = 2026-10-05\n'
)


def _call(check: str, limit: str, **figures: float) -> str:
    job = Finished()
    count = job.last("counted", item="filter:oil")
    job.without("called", entry=count["id"])
    count |= figures
    job.files["limits.toml"] += limit
    call = job.judged().item("filter:oil").call(check)
    assert call is not None
    return call.call


# The demo's last count: 9 pieces, 2 of them magnetic, the largest 0.4 mm.
@pytest.mark.parametrize(
    ("check", "bounds", "call"),
    [
        ("magnetic", 'upper = "2 pieces"', "WITHIN"),
        ("magnetic", 'upper = "1 pieces"', "OUT"),
        ("pieces", 'upper = "9 pieces"', "WITHIN"),
        ("pieces", 'upper = "8 pieces"', "OUT"),
        ("pieces", 'lower = "9 pieces"', "WITHIN"),
        ("pieces", 'lower = "10 pieces"', "OUT"),
        ("largest", 'upper = "0.4 mm"', "WITHIN"),
        ("largest", 'upper = "0.39 mm"', "OUT"),
    ],
)
def test_count_is_held_against_the_limit_on_file(check, bounds, call):
    assert _call(check, LIMIT.format(check=check, bounds=bounds)) == call


def test_filter_with_more_than_its_limit_is_no_keep():
    job = Finished()
    job.files["limits.toml"] += LIMIT.format(check="magnetic", bounds='upper = "1 pieces"')
    filter_ = job.judged().item("filter:oil")
    assert filter_.verdict == "NOT YET"
    assert "Magnetic pieces 2" in filter_.reasons[0]


def test_count_of_none_is_within_and_one_with_no_sourced_limit_is_not_judged():
    sourceless = LIMIT.format(check="magnetic", bounds='upper = "2 pieces"').partition("doc")[0]
    assert _call("magnetic", "", magnetic=0) == "WITHIN"
    assert _call("magnetic", "", magnetic=1) == "NOT JUDGED"
    assert _call("magnetic", sourceless, magnetic=1) == "NOT JUDGED"


@pytest.mark.parametrize(("pieces", "call"), [(0, "WITHIN"), (1, "NOT READ")])
def test_the_largest_of_no_piece_is_none_and_of_one_it_is_to_be_measured(pieces, call):
    job = Finished()
    count = job.last("counted", item="filter:oil")
    job.without("called", entry=count["id"])
    del count["largest_mm"]
    count |= {"pieces": pieces, "magnetic": 0}
    found = job.judged().item("filter:oil").call("largest")
    assert found is not None and found.call == call
