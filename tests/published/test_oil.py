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

from rehang.calc.errors import OutOfRange
from rehang.calc.oil import (
    TopUp,
    below_detection,
    carried_over,
    cycled_concentration,
    diluted,
    equilibrium_concentration,
    even_topup_rate,
    falling_concentration,
    follow_oil,
    hours_per_volume,
    hours_to_share,
    makeup_concentration,
    makeup_rate,
    topup_rate,
    undiluted_upper_bound,
    wear_rate,
)
from tests.published.checkvalues import printed

QUARTS = [TopUp(hours, 1.0) for hours in (10.0, 20.0, 30.0, 40.0)]


def test_steady_makeup():
    assert makeup_concentration(2.5e-3, 0.25, 10, 50) == printed("j01", "LIB")
    assert makeup_rate(0.00713495203, 0.25, 10, 50) == approx(2.5e-3, rel=1e-8)


def test_equilibrium():
    assert equilibrium_concentration(1, 0.1) == printed("j02", "PUB(form)+LIB")
    assert hours_to_share(0.95, 0.25, 10) == printed("j03", "LIB")
    assert makeup_concentration(1, 0.1, 8, 1e6) == printed("j02", "PUB(form)+LIB")


def test_falling_level_and_top_ups():
    assert follow_oil(1, 0.1, 8, 50, QUARTS).concentration == printed("j04", "LIB")


def test_first_top_up():
    before = falling_concentration(0, 1, 0.1, 8, 7)
    assert diluted(before, 7, 1) == printed("j06", "LIB")
    first = follow_oil(1, 0.1, 8, 50, QUARTS).points[0]
    assert (first.hours, first.volume, first.before) == (10.0, 8.0, approx(before, rel=1e-14))
    assert first.after == printed("j06", "LIB")


def test_equal_rounds():
    assert cycled_concentration(1, 1 / 8, 10) == printed("j08", "LIB")
    # Worked by hand: the recursion itself, from residual oil.
    c = 5.0
    for _ in range(10):
        c = (c + 1.0) * (7 / 8)
    assert cycled_concentration(1, 1 / 8, 10, start=5.0) == approx(c, rel=1e-13)


def test_residual_oil():
    assert carried_over(80, 0.15) == printed("j09", "PUB")


# Five drains, 8 quarts at the fill and at the drain, clean oil at the fill; the oil added has
# the last top-up in it. Worked by arithmetic apart from this code, to one decimal, for 50 hours.

HOURS = np.array([48.0, 46.0, 53.0, 44.0, 51.0])
ADDED = np.array([4.0, 4.0, 5.0, 5.0, 7.0])
FE = np.array([32.0, 34.0, 41.0, 46.0, 55.0])
NI = np.array([3.0, 4.0, 7.0, 11.0, 17.0])
CR = np.array([4.0, 4.0, 5.0, 6.0, 8.0])
FILL = 8.0


def tenths(*values):
    return approx(list(values), abs=0.05 + 1e-9)


@pytest.mark.parametrize(
    ("found", "corrected"),
    [
        pytest.param(FE, tenths(42.4, 47.0, 52.0, 70.3, 80.9), id="Fe"),
        pytest.param(NI, tenths(4.0, 5.5, 8.9, 16.8, 25.0), id="Ni"),
        pytest.param(CR, tenths(5.3, 5.5, 6.3, 9.2, 11.8), id="Cr"),
    ],
)
def test_five_drains_with_steady_makeup(found, corrected):
    rate = makeup_rate(found, ADDED / HOURS, FILL, HOURS)
    assert rate * 50 / FILL == corrected
    assert wear_rate(found, HOURS, ADDED, FILL).rise * 50 == corrected


@pytest.mark.parametrize(
    ("found", "corrected"),
    [
        pytest.param(FE, tenths(43.1, 47.8, 53.1, 71.8, 83.1), id="Fe"),
        pytest.param(NI, tenths(4.0, 5.6, 9.1, 17.2, 25.7), id="Ni"),
    ],
)
def test_five_drains_a_quart_at_a_time(found, corrected):
    # Each quart when one is missing, the last at the drain and mixed into the sample.
    assert even_topup_rate(found, ADDED, FILL, HOURS) * 50 / FILL == corrected


def test_five_drains_simple_upper_bound():
    # Worked by arithmetic apart from this code, as whole numbers.
    whole = approx([50, 55, 63, 85, 101], abs=0.5)
    assert undiluted_upper_bound(FE, ADDED, FILL, HOURS) == whole
    assert undiluted_upper_bound(NI, ADDED, FILL, HOURS) == approx([5, 7, 11, 20, 31], abs=0.5)
    # Worked by hand: 32 x 12/8 x 50/48 = 50.
    assert undiluted_upper_bound(32, 4, 8, 48) == 50.0


def test_five_drains_hours_per_quart():
    assert hours_per_volume(HOURS, ADDED) == tenths(12.0, 11.5, 10.6, 8.8, 7.3)
    # Worked by hand: down a quart at the end, 48/5; and none used at all.
    assert hours_per_volume([48, 48], [4, 0], [1, 0]) == approx([9.6, np.inf])


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


def test_quarts_of_five_drains_against_a_solver():
    for found, hours, added in zip(FE, HOURS, ADDED, strict=True):
        rate = even_topup_rate(found, added, FILL, hours)
        steps = [TopUp(hours * (n + 1) / added, 1.0) for n in range(int(added))]
        assert solved(rate, added / hours, FILL, hours, steps, 0.0) == approx(found, rel=1e-9)
        assert topup_rate(found, added / hours, FILL, hours, steps) == approx(rate, rel=1e-12)


def test_the_balance_closes():
    story = follow_oil(1.3, 0.09, 8, 50, UNEVEN, start=2.5)
    held = story.concentration * story.volume - 2.5 * 8
    assert story.generated == approx(1.3 * 50, rel=1e-14)
    assert held + story.lost == approx(story.generated, rel=1e-12)


# Uncertainty. JCGM 100:2008, 4.3.7 and 5.1.2, equation (10).


def test_rate_takes_the_laboratory_as_a_hard_limit():
    # Worked by hand: 15 % with no coverage factor is 15/sqrt(3) % of the rate, no residual oil.
    found = wear_rate(FE, HOURS, ADDED, FILL, lab_fraction=0.15)
    assert found.u_rise / found.rise == approx([0.15 / np.sqrt(3)] * 5, rel=1e-12)
    assert found.standard_uncertainty / found.rate == approx([0.15 / np.sqrt(3)] * 5, rel=1e-12)
    assert found.notes == ()


def test_rate_without_top_ups_by_hand():
    # C/T = (40 - 8)/50, and to first order in the oil added half of u_A/V more.
    found = wear_rate(
        40, 50, 0, 8, u_concentration=2.0, u_added=0.5, u_volume=0.25, start=8, u_start=1.0
    )
    assert found.rise == approx(0.64, rel=1e-14)
    parts = {part.source: part.standard_uncertainty for part in found.components}
    # Residual oil of 8 that is not flushed out as was thought: 8/50 for each fill of oil added.
    assert parts == approx(
        {
            "laboratory": 0.0,
            "figure": 2.0 / 50,
            "oil added": (0.64 / 2 + 8 / 50) * 0.5 / 8,
            "fill": 0.0,
            "residual oil": 1.0 / 50,
        },
        rel=1e-12,
        abs=1e-15,
    )
    assert found.u_rise == approx(np.linalg.norm(list(parts.values())), rel=1e-12)
    # In the rate the fill counts in full: G = 0.64 V.
    assert found.standard_uncertainty == approx(np.hypot(8 * found.u_rise, 0.64 * 0.25), rel=1e-12)


def test_residual_oil_above_what_was_found_is_noted():
    found = wear_rate(5, 50, 0, 8, start=9)
    assert found.rise < 0
    assert found.notes == (
        "Residual oil alone would show more than was found: no rate can be given.",
    )


def test_below_detection_by_hand():
    # JCGM 100:2008, 4.3.7: from 0 to 2, so 1 and 2/sqrt(12).
    assert below_detection(2) == (1.0, approx(2 / np.sqrt(12), rel=1e-14))


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        pytest.param(
            lambda: follow_oil(1, 0.1, 8, 50, [TopUp(20, 1), TopUp(10, 1)]),
            r"Top-ups must be in the order they were made: got 10 h after 20 h\.",
            id="hours going backwards",
        ),
        pytest.param(
            lambda: follow_oil(1, 0.1, 8, 50, [TopUp(60, 1)]),
            r"A top-up must not be after the sample: got 60 h, the sample at 50 h\.",
            id="after the sample",
        ),
        pytest.param(
            lambda: follow_oil(1, 0.1, 8, 100),
            r"At this use the engine would be out of oil by 80 h: got 0\.1 an hour and 8 in it",
            id="run dry",
        ),
        pytest.param(
            lambda: even_topup_rate(32, 4.5, 8, 48),
            r"The oil added must be a whole number of top-ups; list uneven ones one by one: "
            r"got 4\.5 in top-ups of 1\.",
            id="half a quart",
        ),
        pytest.param(
            lambda: even_topup_rate(32, 8, 8, 48, size=8),
            r"A top-up must be less than all the oil in the engine: got a share of 1\.",
            id="a whole fill",
        ),
        pytest.param(
            lambda: falling_concentration(0, 1, 0.1, 7, 8),
            r"The level must fall between top-ups: got 7 at the start and 8 at the end\.",
            id="level rising",
        ),
        pytest.param(
            lambda: makeup_rate(32, 0.1, 8, -48),
            r"The running time must be above 0: got -48\.",
            id="time below 0",
        ),
        pytest.param(
            lambda: hours_to_share(1, 0.1, 8),
            r"The share of the equilibrium must be below 1: got 1\.",
            id="all of it",
        ),
        pytest.param(
            lambda: carried_over(80, 15),
            r"The share of old oil must be from 0 to 1 \(15 % is 0\.15\): got 15\.",
            id="per cent",
        ),
        pytest.param(
            lambda: hours_per_volume(48, 1, -2),
            r"The level cannot have risen by more oil than was added: got -1 used\.",
            id="oil from nowhere",
        ),
    ],
)
def test_refused(call, sentence):
    with pytest.raises(OutOfRange, match=sentence):
        call()
