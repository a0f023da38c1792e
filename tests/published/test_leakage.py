"""Restrictor and leak in series: the rows of area b in ``data/checkvalues.csv``, AC 43.13-1B 8-14.

Rows marked LIB have no printed number: independent programs agree on them, which catches a
slip in the code and not a wrong model. What is worked by hand says so beside it.
"""

from __future__ import annotations

import numpy as np
import pytest
from pytest import approx

from rehang.calc.errors import OutOfRange
from rehang.calc.leakage import (
    calibrate_restrictor,
    effective_area,
    equivalent_diameter,
    equivalent_reading,
    leak_area,
    leak_area_by_master,
    leak_area_ratio,
    master_floor,
    reading_from_area_ratio,
)
from tests.published.checkvalues import printed

PSI = 6894.757293168
INCH = 0.0254
SUPPLY = 80 * PSI
AMBIENT = 14.696 * PSI


def square_inches(bore_in, reading_psi):
    """Leak area on a restrictor of this bore with a coefficient of 1."""
    restrictor = effective_area(bore_in * INCH)
    found = leak_area(SUPPLY, reading_psi * PSI, AMBIENT, restrictor)
    return found.area / INCH**2


def test_leak_area_on_a_restrictor_of_0_040_in():
    assert square_inches(0.040, 75) == printed("b10_040_75", "LIB")
    assert square_inches(0.040, 70) == printed("b10_040_70", "LIB")
    assert square_inches(0.040, 60) == printed("b10_040_60", "LIB")
    assert square_inches(0.040, 40) == printed("b10_040_40", "LIB")
    assert square_inches(0.040, 30) == printed("b10_040_30", "LIB")
    assert square_inches(0.040, 20) == printed("b10_040_20", "LIB")
    assert square_inches(0.040, 10) == printed("b10_040_10", "LIB")


def test_leak_area_on_a_restrictor_of_0_060_in():
    assert square_inches(0.060, 75) == printed("b10_060_75", "LIB")
    assert square_inches(0.060, 65) == printed("b10_060_65", "LIB")
    assert square_inches(0.060, 60) == printed("b10_060_60", "LIB")
    assert square_inches(0.060, 50) == printed("b10_060_50", "LIB")
    assert square_inches(0.060, 30) == printed("b10_060_30", "LIB")
    assert square_inches(0.060, 20) == printed("b10_060_20", "LIB")
    assert square_inches(0.060, 10) == printed("b10_060_10", "LIB")


def psi_read(area_ratio):
    return reading_from_area_ratio(area_ratio, SUPPLY, AMBIENT) / PSI


def test_reading_from_the_ratio_of_areas():
    assert psi_read(0.25) == printed("b20_0.25", "LIB")
    assert psi_read(0.5) == printed("b20_0.5", "LIB")
    assert psi_read(1) == printed("b20_1", "LIB")
    assert psi_read(2) == printed("b20_2", "LIB")
    assert psi_read(3) == printed("b20_3", "LIB")
    assert psi_read(6) == printed("b20_6", "LIB")


def test_both_choked_is_a_plain_quotient():
    # Worked by hand: both pass all they can, so the absolute pressures are as the areas.
    # (80 + 14.696)/3 - 14.696 = 16.869333.
    assert psi_read(3) == approx((80 + 14.696) / 3 - 14.696, abs=1e-9)


def test_ambient_moves_the_area_by_about_one_percent_in_3000_ft():
    # ISO 2533: 101,325 Pa at sea level, 90,812 Pa at 3,000 ft. About 1 % is from
    # memory, and holds of readings from 60 psi up.
    low = leak_area_ratio(SUPPLY, np.array([75, 60]) * PSI, 101325.0)
    high = leak_area_ratio(SUPPLY, np.array([75, 60]) * PSI, 90812.0)
    assert high / low == approx([1.01, 1.01], abs=0.002)
    # Worked by hand at 20 psi, where both choke: 93.171/33.171 over 94.696/34.696 is 1.0291.
    low = leak_area_ratio(SUPPLY, 20 * PSI, 101325.0)
    assert leak_area_ratio(SUPPLY, 20 * PSI, 90812.0) / low == approx(1.0291, abs=1e-4)


def test_restrictors_by_bore_and_back():
    # Worked by hand: pi/4 x 0.040^2 = 0.00125664 and pi/4 x 0.060^2 = 0.00282743 in2.
    areas = effective_area(np.array([0.040, 0.060]) * INCH) / INCH**2
    assert areas == approx([0.00125664, 0.00282743], abs=5e-9)
    assert effective_area(0.001, 0.8) == approx(0.8 * np.pi / 4 * 1e-6, rel=1e-14)
    assert equivalent_diameter(areas) == approx([0.040, 0.060], rel=1e-14)
    assert equivalent_diameter(effective_area(0.001, 0.8), 0.8) == approx(0.001, rel=1e-14)
    assert equivalent_diameter(np.inf) == np.inf


def test_one_leak_on_two_testers():
    # From the rows: the leak that reads 60 on the 0.060 in restrictor is 0.002993 in2, 2.3817
    # of the 0.040 in one, which then stands between the rows for 2 and 3: both orifices choke
    # there, so (80 + 14.696)/2.38175 - 14.696 = 25.0629.
    small, large = effective_area(0.040 * INCH), effective_area(0.060 * INCH)
    there = equivalent_reading(SUPPLY, 60 * PSI, AMBIENT, large, SUPPLY, AMBIENT, small) / PSI
    assert there == approx(94.696 / (0.002993 / 0.00125664) - 14.696, abs=2e-4)
    back = equivalent_reading(SUPPLY, there * PSI, AMBIENT, small, SUPPLY, AMBIENT, large) / PSI
    assert back == approx(60, abs=1e-10)


def test_master_orifice_gives_the_restrictor_away():
    # From row b20_1: equal areas read 61.767074.
    area = effective_area(0.040 * INCH, 0.85)
    found = calibrate_restrictor(SUPPLY, 61.767074 * PSI, AMBIENT, area, 0.040 * INCH)
    assert found.area == approx(area, rel=1e-7)
    assert found.discharge == approx(0.85, rel=1e-7)
    assert found.notes == ()


def test_impossible_restrictor_is_answered_with_a_note():
    area = effective_area(0.040 * INCH)
    found = calibrate_restrictor(SUPPLY, 61.767074 * PSI, AMBIENT, 1.2 * area, 0.040 * INCH)
    assert found.discharge == approx(1.2, rel=1e-7)
    assert found.notes == (
        "A discharge coefficient outside 0.6 to 1 is not that of a sound orifice: look at the "
        "master, the nominal bore and the two gauges.",
    )


def test_floor_of_the_day():
    # From rows b20_2 and b20_1, the same number by another door.
    area = effective_area(0.040 * INCH)
    floor = master_floor(area, np.array([1, 2]) * area, SUPPLY, AMBIENT)
    assert floor.reading / PSI == approx([61.767074, 32.652], abs=1e-6)
    # Both choked: p = (A_r/A_m) ps - pa, so by hand u = u_s/2 from the supply, and with
    # ambient in both p_s and p_a, 1/2 - 1 of its own.
    floor = master_floor(area, 2 * area, SUPPLY, AMBIENT, u_supply=1000.0, u_ambient=200.0)
    assert floor.standard_uncertainty == approx(np.hypot(500.0, 100.0), rel=1e-12)


# Uncertainty, worked by hand where both orifices choke: A = A_r ps/pc, to first order
# u(A)/A = root of (u_s/ps)^2 + (u_c/pc)^2 + (u_r/A_r)^2, JCGM 100:2008, equations (10), (13).


def test_uncertainty_where_both_choke():
    restrictor = effective_area(0.040 * INCH)
    found = leak_area(
        SUPPLY,
        20 * PSI,
        AMBIENT,
        restrictor,
        u_supply=0.5 * PSI,
        u_reading=0.4 * PSI,
        u_ambient=0.1 * PSI,
        u_restrictor_area=0.05 * restrictor,
        temperature_ratio=1.0,
        u_temperature_ratio=0.04,
    )
    shares = [
        0.5 / 94.696,
        0.4 / 34.696,
        0.1 * (1 / 34.696 - 1 / 94.696),
        0.05,
        0.04 / 2,
    ]
    assert [part.standard_uncertainty / found.area for part in found.components] == approx(
        shares, rel=1e-12
    )
    assert found.standard_uncertainty / found.area == approx(np.linalg.norm(shares), rel=1e-12)
    # As a change of the reading: the same share of the absolute pressure.
    assert found.u_as_reading / PSI == approx(34.696 * np.linalg.norm(shares), rel=1e-12)
    assert found.notes == ()


def test_gauges_that_are_off_together():
    # Worked by hand: r = 1, so the two shares subtract: 0.5/94.696 - 0.5/34.696.
    found = leak_area(
        SUPPLY,
        20 * PSI,
        AMBIENT,
        1e-6,
        u_supply=0.5 * PSI,
        u_reading=0.5 * PSI,
        gauge_correlation=1.0,
    )
    assert found.standard_uncertainty / found.area == approx(0.5 / 34.696 - 0.5 / 94.696, rel=1e-12)


def test_by_master_what_the_gauges_are_off_by_drops_out_at_equal_readings():
    found = leak_area_by_master(
        SUPPLY,
        43 * PSI,
        43 * PSI,
        AMBIENT,
        1.2e-6,
        u_supply_shared=PSI,
        u_reading_shared=PSI,
        u_ambient=PSI,
        u_master_area=0.012e-6,
    )
    assert found.area == approx(1.2e-6, rel=1e-14)
    assert found.standard_uncertainty == approx(0.012e-6, rel=1e-12)


def test_by_master_where_all_choke():
    # Worked by hand: A = A_m pm/pc in absolute pressures; a shared 0.5 psi counts with
    # 1/37.696 - 1/34.696, one met anew with each; the supply's accuracy not at all.
    found = leak_area_by_master(
        SUPPLY,
        20 * PSI,
        23 * PSI,
        AMBIENT,
        1.2e-6,
        u_supply_shared=PSI,
        u_reading_shared=0.5 * PSI,
        u_supply_each=0.2 * PSI,
        u_reading_each=0.3 * PSI,
    )
    assert found.area == approx(1.2e-6 * 37.696 / 34.696, rel=1e-12)
    shares = {
        "supply gauge": 0.0,
        "reading gauge": 0.5 * (1 / 34.696 - 1 / 37.696),
        "supply, set again": 0.2 / 94.696,
        "supply at the master": 0.2 / 94.696,
        "reading, resolution and repeat": 0.3 / 34.696,
        "reading of the master": 0.3 / 37.696,
        "ambient pressure": 0.0,
        "master orifice": 0.0,
    }
    got = {part.source: part.standard_uncertainty / found.area for part in found.components}
    assert got == approx(shares, rel=1e-12, abs=1e-15)
    assert found.standard_uncertainty / found.area == approx(
        np.linalg.norm(list(shares.values())), rel=1e-12
    )


def test_next_to_the_supply_the_ends_say_more_than_the_uncertainty():
    found = leak_area(SUPPLY, 80 * PSI, AMBIENT, 1e-6, u_supply=PSI / 2, u_reading=PSI / 2)
    assert (found.area, found.low) == (0.0, 0.0)
    assert found.standard_uncertainty == np.inf
    # Worked by hand: next to the supply only the difference of the gauges counts, so two
    # standard uncertainties are 2 x 0.5 sqrt(2) psi of reading.
    reading = (80 - np.sqrt(2)) * PSI
    assert found.high == approx(1e-6 * leak_area_ratio(SUPPLY, reading, AMBIENT), rel=1e-12)
    assert found.notes == (
        "The standard uncertainty is more than a fifth of the area: read the area from its low "
        "to its high end, not as a value and a plus or minus.",
    )


def test_reading_of_nothing_has_a_low_end():
    found = leak_area(SUPPLY, [59 * PSI, 0.0], AMBIENT, 1e-6, u_reading=PSI / 2)
    assert list(np.isinf(found.area)) == [False, True]
    # Worked by hand: the gauge alone, twice 0.5 psi up.
    assert found.low[1] == approx(1e-6 * leak_area_ratio(SUPPLY, PSI, AMBIENT), rel=1e-6)
    assert found.high[1] == np.inf
    assert found.notes == (
        "1 of 2: A reading of 0 says only that the leak is larger than the low end.",
    )


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        pytest.param(
            lambda: leak_area_ratio(80, 84, 15),
            r"The reading must not be above the supply: got a reading of 84 and a supply of 80\.",
            id="above supply",
        ),
        pytest.param(
            lambda: leak_area_ratio(80, -1, 15),
            r"The reading above ambient must be at least 0: got -1\.",
            id="below ambient",
        ),
        pytest.param(
            lambda: reading_from_area_ratio(1, 0, 15),
            r"The supply above ambient must be above 0: got 0\.",
            id="no supply",
        ),
        pytest.param(
            lambda: reading_from_area_ratio(np.inf, 80, 15),
            r"The ratio of areas must be a finite number: got inf\.",
            id="no end",
        ),
        pytest.param(
            lambda: equivalent_reading(80, 0, 15, 1, 80, 15, 2),
            r"A reading of 0 says only that the leak is large",
            id="no equal",
        ),
        pytest.param(
            lambda: calibrate_restrictor(80, 80, 15, 1, 1),
            r"The master's reading must be above 0 and below the supply",
            id="master shows the supply",
        ),
        pytest.param(
            lambda: leak_area(80, 60, 15, 1, gauge_correlation=2.0),
            r"The correlation of the gauges must be from -1 to 1: got 2\.",
            id="correlation",
        ),
        pytest.param(
            lambda: leak_area(80, 60, 15, 1, u_supply=-1),
            r"The uncertainty of the supply must be at least 0: got -1\.",
            id="uncertainty below 0",
        ),
        pytest.param(
            lambda: equivalent_diameter(-1),
            r"The area must be at least 0: got -1\.",
            id="area below 0",
        ),
    ],
)
def test_refused(call, sentence):
    with pytest.raises(OutOfRange, match=sentence):
        call()
