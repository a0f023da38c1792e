"""Tables of the draft of NCSLI RP-19: global false accepts, measured process and test both normal.

The limits are -1 and 1, the process is centred, its in-tolerance probability (ITP) fixes its
standard deviation, the test's is a quarter of that, and there is no guard band.
"""

from __future__ import annotations

import pytest
from scipy.special import ndtri

from rehang.calc.conformity import global_risks
from tests.published.checkvalues import printed

# PUB+LIB, all four. In per cent.
CASES = [
    pytest.param(0.60, printed("a19_60", "PUB+LIB"), id="ITP 60 %"),
    pytest.param(0.80, printed("a19_80", "PUB+LIB"), id="ITP 80 %"),
    pytest.param(0.95, printed("a19_95", "PUB+LIB"), id="ITP 95 %"),
    pytest.param(0.99, printed("a19_99", "PUB+LIB"), id="ITP 99 %"),
]


@pytest.mark.parametrize(("itp", "false_accepts_percent"), CASES)
def test_global_false_accepts(itp, false_accepts_percent):
    sd = 1 / ndtri((1 + itp) / 2)
    assert 100 * global_risks(0, sd, sd / 4, -1, 1, -1, 1).consumer == false_accepts_percent
