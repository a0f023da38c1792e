"""Wear metal in oil: the rows of area j in ``data/checkvalues.csv``, and five drains by hand.

No published worked example with top-ups was found. Rows marked LIB have no printed number:
independent programs agree, which catches a slip in the code and not a wrong model. The five
drains are invented; their corrected figures were worked by arithmetic apart from this
code. A solver of the differential equation is the second route.
"""

from __future__ import annotations

import numpy as np
import pytest
from pytest import approx
from scipy.integrate import solve_ivp

from rehang.calc.oil import (
    TopUp,
    below_detection,
    carried_over,
    follow_oil,
    makeup_concentration,
    makeup_rate,
    topup_rate,
    undiluted_upper_bound,
)
from tests.published.checkvalues import printed

QUARTS = [TopUp(hours, 1.0) for hours in (10.0, 20.0, 30.0, 40.0)]


def test_steady_makeup():
    assert makeup_concentration(2.5e-3, 0.25, 10, 50) == printed("j01", "LIB")
    assert makeup_rate(0.00713495203, 0.25, 10, 50) == approx(2.5e-3, rel=1e-8)


def test_falling_level_and_top_ups():
    assert follow_oil(1, 0.1, 8, 50, QUARTS).concentration == printed("j04", "LIB")


def test_residual_oil():
    assert carried_over(80, 0.15) == printed("j09", "PUB")


# Five drains, 8 quarts at the fill and at the drain, clean oil at the fill; the oil added has
# the last top-up in it. Worked by arithmetic apart from this code, to one decimal, for 50 hours.

HOURS = np.array([48.0, 46.0, 53.0, 44.0, 51.0])
ADDED = np.array([4.0, 4.0, 5.0, 5.0, 7.0])
FE = np.array([32.0, 34.0, 41.0, 46.0, 55.0])
NI = np.array([3.0, 4.0, 7.0, 11.0, 17.0])
FILL = 8.0


def tenths(*values):
    return approx(list(values), abs=0.05 + 1e-9)


def test_five_drains_simple_upper_bound():
    # Worked by arithmetic apart from this code, as whole numbers.
    whole = approx([50, 55, 63, 85, 101], abs=0.5)
    assert undiluted_upper_bound(FE, ADDED, FILL, HOURS) == whole
    assert undiluted_upper_bound(NI, ADDED, FILL, HOURS) == approx([5, 7, 11, 20, 31], abs=0.5)
    # Worked by hand: 32 x 12/8 x 50/48 = 50.
    assert undiluted_upper_bound(32, 4, 8, 48) == 50.0


# The second route: a solver of the differential equation, with no closed form in it.


def solved(rate, use, volume, hours, topups, start, makeup=0.0):
    """Metal in the engine, by its inflow and outflow, through the top-ups."""
    metal, level, now = start * volume, volume, 0.0
    for step in (*topups, TopUp(hours, 0.0)):
        if step.hours > now:

            def change(t, m, now=now, level=level):
                return rate - use * m / (level + (makeup - use) * (t - now))

            span = (now, step.hours)
            path = solve_ivp(change, span, [metal], rtol=1e-11, atol=1e-12, method="DOP853")
            metal = path.y[0, -1]
        level += (makeup - use) * (step.hours - now) + step.volume
        now = step.hours
    return metal / level


UNEVEN = [TopUp(7.5, 1.5), TopUp(21.0, 0.5), TopUp(38.0, 2.0), TopUp(50.0, 1.0)]


@pytest.mark.parametrize("topups", [[], QUARTS, UNEVEN], ids=["none", "quarts", "uneven"])
def test_top_ups_against_a_solver(topups):
    story = follow_oil(1.3, 0.09, 8, 50, topups, start=2.5)
    assert story.concentration == approx(solved(1.3, 0.09, 8, 50, topups, 2.5), rel=1e-9)
    assert topup_rate(story.concentration, 0.09, 8, 50, topups, 2.5) == approx(1.3, rel=1e-12)


def test_steady_makeup_against_a_solver():
    found = makeup_concentration(1.3, 0.09, 8, 50, start=2.5)
    assert found == approx(solved(1.3, 0.09, 8, 50, [], 2.5, makeup=0.09), rel=1e-9)
    assert makeup_rate(found, 0.09, 8, 50, start=2.5) == approx(1.3, rel=1e-12)


def test_the_balance_closes():
    story = follow_oil(1.3, 0.09, 8, 50, UNEVEN, start=2.5)
    held = story.concentration * story.volume - 2.5 * 8
    assert story.generated == approx(1.3 * 50, rel=1e-14)
    assert held + story.lost == approx(story.generated, rel=1e-12)


# Uncertainty. JCGM 100:2008, 4.3.7 and 5.1.2, equation (10).


def test_below_detection_by_hand():
    # JCGM 100:2008, 4.3.7: from 0 to 2, so 1 and 2/sqrt(12).
    assert below_detection(2) == (1.0, approx(2 / np.sqrt(12), rel=1e-14))
