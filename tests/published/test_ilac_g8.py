"""Values printed in ILAC-G8:09/2019, 4.2.1 and Table 1."""

from __future__ import annotations

from rehang.calc.conformity import specific_risk_at_limit
from tests.published.checkvalues import printed


def test_guard_band_of_the_whole_expanded_uncertainty():
    # PUB+LIB: printed as "PFA < 2.5 %".
    risk = specific_risk_at_limit(guard_factor=1, coverage_factor=2)
    assert risk == printed("a18", "PUB+LIB")
    assert risk < 0.025


def test_simple_acceptance():
    # PUB+LIB: printed as 50 %.
    assert specific_risk_at_limit(guard_factor=0, coverage_factor=2) == printed("a18s", "PUB+LIB")
