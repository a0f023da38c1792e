"""Values printed in ISO 14253-1:2017, the default probability of 95 %."""

from __future__ import annotations

from rehang.calc.conformity import guard_multiplier, p_inside_normal
from tests.published.checkvalues import printed


def test_guard_band_for_95_percent_at_one_limit():
    # MEM+LIB: printed as 1.65; the digits beyond are the normal distribution's.
    assert guard_multiplier(0.95) == printed("a18i", "MEM+LIB")


def test_a_reading_at_that_guard_band_conforms_with_95_percent():
    p = p_inside_normal(100.0 - 1.6448536 * 2.0, 2.0, float("-inf"), 100.0)
    assert abs(p - 0.95) < 1e-7
