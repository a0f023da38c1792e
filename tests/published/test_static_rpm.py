"""Static speed and magneto drops. No document prints numbers for the whole of either.

The changes at 3,000, 5,000 and 8,000 ft are worked out
from a power-lapse factor that is from memory; ISO 2533 gives the air. What is worked by hand says
so.
"""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from pytest import approx
from scipy.constants import foot
from scipy.stats import norm

from rehang.calc.atmosphere import air_by_humidity, standard_air
from rehang.calc.errors import OutOfRange
from rehang.calc.power import (
    expected_static_speed,
    mag_drops,
    power_from_speed,
    power_share,
    shortfall,
    static_range,
    static_speed_ratio,
    two_headings,
)

SIGMA_3000 = standard_air(3000 * foot).sigma


def test_power_share_at_3000_feet():
    # Worked by hand: sigma 0.91513, times 1.132 is 1.03593, less 0.132.
    assert power_share(0.91513) == approx(0.90393, abs=5e-6)


@pytest.mark.parametrize(("feet", "change"), [(3000, -9), (5000, -16), (8000, -28)])
def test_change_of_2300_with_density_altitude(feet, change):
    sigma = standard_air(feet * foot).sigma
    assert 2300 * (static_speed_ratio(sigma) - 1) == approx(change, abs=0.5)
    assert expected_static_speed(2300, sigma).change == approx(change, abs=0.5)
    assert expected_static_speed(2300, sigma).speed == approx(2300 + change, abs=0.5)


def test_cube_law():
    # Worked by hand: 2,200/2,300 is 0.956522, its cube 0.875154.
    assert power_from_speed(2200, 2300) == approx(0.875154, abs=1e-6)


def test_100_short_at_3000_feet_is_not_the_air():
    found = shortfall(2200, 2300, SIGMA_3000, u_speed=2 / sqrt(3), u_sigma=0.002)
    assert found.short == 100.0
    assert found.by_air == approx(9, abs=0.5)
    assert found.left == approx(91, abs=0.5)
    assert found.low > 60
    assert found.notes[0] == "More is missing than the air and the tachometer explain."
    # Worked by hand: expected 2,290.6; 1 - (2,200/2,290.6)**3 = 0.1140.
    assert found.power_missing == approx(0.1140, abs=5e-4)
    # Not even on a panel tachometer that may be 25 off, nor at 8,000 ft.
    coarse = shortfall(2200, 2300, SIGMA_3000, u_speed=25 / sqrt(3), u_sigma=0.002)
    assert coarse.low > 0
    high = shortfall(2200, 2300, standard_air(8000 * foot).sigma, u_speed=25 / sqrt(3))
    assert high.low > 0


def test_40_short_is_told_from_the_air_by_a_good_tachometer_only():
    # Worked by hand: the air takes 9.4 of it; the power law's 0.005 of 2,300 is 11.5 and the
    # optical tachometer's 2/sqrt(3) 1.15, so 30.6 against 2 x 11.56; on the panel's 50/sqrt(3)
    # it is 30.6 against 2 x 31.1.
    optical = shortfall(2260, 2300, SIGMA_3000, u_speed=2 / sqrt(3))
    assert optical.left == approx(30.6, abs=0.1)
    assert optical.u_left == approx(11.56, abs=0.01)
    assert optical.low == approx(7.5, abs=0.1)
    panel = shortfall(2260, 2300, SIGMA_3000, u_speed=50 / sqrt(3))
    assert panel.u_left == approx(31.07, abs=0.01)
    assert panel.notes[0] == "The air and the tachometer can explain what is missing."


def test_nothing_short_is_said_so():
    found = shortfall([2310, 2295], 2300, 1.0, u_speed=2.0)
    assert found.notes[:2] == (
        "1 of 2: The air and the tachometer can explain what is missing.",
        "1 of 2: The speed is not below the reference: nothing is missing.",
    )
    assert found.by_air == approx(0.0, abs=1e-9)


def test_two_laws_of_power_part_by_what_the_model_is_given():
    # AC 23-8, appendix 1 (from memory): chart power goes with the root of the temperature at
    # one pressure, so the speed goes with its sixth root. On a dry day at sea level, 20 degrees
    # hotter than standard, the two laws part by 0.0145.
    hot = air_by_humidity(101325, 308.15, 0.0).sigma
    by_charts = (sqrt(288.15 / 308.15) / hot) ** (1 / 3)
    apart = by_charts - static_speed_ratio(hot)
    assert apart == approx(0.0145, abs=5e-4)
    # A rectangle of that width.
    model = {
        part.source: part.standard_uncertainty
        for part in expected_static_speed(1.0, hot).components
    }["power law"]
    assert apart / sqrt(12) <= model == 0.005


def test_mean_of_two_headings():
    # Worked by hand: 25/sqrt(3) = 14.434 is shared; sqrt(100/12 + 16)/sqrt(2) = 3.4881 is not.
    found = two_headings(2290, 2250, accuracy=25, resolution=10, u_run=4)
    assert (found.speed, found.wind) == (2270.0, 20.0)
    assert found.standard_uncertainty == approx(14.849, abs=1e-3)
    assert found.u_wind == approx(3.4881, abs=1e-4)
    assert found.notes == ()


def test_too_much_wind_for_a_mean_is_said():
    assert two_headings(2360, 2200, accuracy=2).notes == (
        "The two headings are more than a twentieth of the speed apart, too far for a mean to "
        "free them of wind: run again in less of it.",
    )


def test_range_is_judged_as_printed_and_the_air_stands_beside():
    found = static_range(2245, 2250, 2350, SIGMA_3000, u_speed=5.0, u_sigma=0.002)
    # One standard uncertainty below: 15.87 %, by the normal table.
    assert found.p_inside == approx(0.1587, abs=5e-5)
    # Worked by hand: 2,245/0.99592 = 2,254.2; the law's 0.005 of it is 11.27, the speed's 5, the
    # air's 2,254.2 x 0.132/(3 x 0.9151**2 x 0.99592**2) x 0.002 = 0.239; over 0.99592.
    assert found.in_standard_air == approx(2254.2, abs=0.05)
    assert found.worth_of_air == approx(-9.2, abs=0.05)
    u = sqrt(11.27**2 + 5**2 + 0.239**2) / 0.99592
    assert found.u_in_standard_air == approx(u, abs=0.01)
    p = norm.cdf((2350 - 2254.2) / u) - norm.cdf((2250 - 2254.2) / u)
    assert found.p_inside_in_standard_air == approx(p, abs=2e-3)


def test_drops_on_one_tachometer():
    # Worked by hand: a step of 10 is 10/sqrt(12) a reading; two make 10/sqrt(6) = 4.0825,
    # four 10/sqrt(3) = 5.7735. What the tachometer is off by is not in it.
    found = mag_drops(1800, 1700, 1790, 1740, resolution=10)
    assert (found.left, found.right, found.difference) == (100.0, 50.0, 50.0)
    assert found.u_left == found.u_right == approx(4.0825, abs=1e-4)
    assert found.u_difference == approx(5.7735, abs=1e-4)
    assert found.notes == ()
    # 2 % of the speed leaves 2 % of the drop: 2/sqrt(3) beside it, and 1/sqrt(3) of the 50 apart.
    share = mag_drops(1800, 1700, 1790, 1740, resolution=10, proportional=0.02, u_settle=3)
    assert share.u_left == approx(sqrt(100 / 6 + 4 / 3 + 18), abs=1e-9)
    assert share.u_difference == approx(sqrt(100 / 3 + 1 / 3 + 36), abs=1e-9)


def test_no_drop_and_no_difference_are_said():
    assert mag_drops(1800, 1800, 1800, 1650, resolution=10).notes == (
        "The drop on the left magneto cannot be told from none on this tachometer.",
    )
    assert mag_drops(1800, 1690, 1800, 1795, resolution=10).notes == (
        "The drop on the right magneto cannot be told from none on this tachometer.",
    )
    assert mag_drops(1800, 1700, 1800, 1690, resolution=10).notes == (
        "The two drops cannot be told apart on this tachometer.",
    )


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (
            lambda: power_share(0.1),
            r"The density ratio must be from 0\.5 to 1\.4 for the power law: got 0\.1\.",
        ),
        (
            lambda: static_speed_ratio([1.0, np.nan]),
            r"The density ratio must be a finite number: got \[1, nan\]\.",
        ),
        (lambda: power_from_speed(0, 2300), r"The speed must be above 0: got 0\."),
        (
            lambda: expected_static_speed(-1, 1.0),
            r"The reference speed must be above 0: got -1\.",
        ),
        (
            lambda: shortfall(2200, 2300, 1.0, u_speed=-1),
            r"The uncertainty of the speed must be at least 0: got -1\.",
        ),
        (
            lambda: static_range(2300, 2350, 2250, 1.0, u_speed=2),
            r"The lower limit must not be above the upper limit: got 2350 and 2250\.",
        ),
        (
            lambda: static_range(2300, 2250, 2350, 1.0, u_speed=0),
            r"The uncertainty of the speed must be above 0: got 0\.",
        ),
        (
            lambda: two_headings(2300, 0, accuracy=2),
            r"The speed on the second heading must be above 0: got 0\.",
        ),
        (
            lambda: mag_drops(1800, 0, 1800, 1700, resolution=10),
            r"The speed on the left magneto must be above 0: got 0\.",
        ),
    ],
)
def test_what_cannot_be_answered_is_refused(call, sentence):
    with pytest.raises(OutOfRange, match=f"^{sentence}$"):
        call()
