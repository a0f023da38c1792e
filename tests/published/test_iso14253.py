"""Values printed in ISO 14253-1:2017, the default probability of 95 %."""

from __future__ import annotations

from rehang.calc.conformity import p_inside_normal


def test_a_reading_at_that_guard_band_conforms_with_95_percent():
    p = p_inside_normal(100.0 - 1.6448536 * 2.0, 2.0, float("-inf"), 100.0)
    assert abs(p - 0.95) < 1e-7
