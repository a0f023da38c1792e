"""What holds for all inputs of `rehang.calc.leakage`, and its numbers by a second route."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx
from scipy.optimize import brentq

from rehang.calc.leakage import (
    Restrictor,
    calibrate_restrictor,
    equivalent_diameter,
    equivalent_reading,
    leak_area,
    leak_area_by_master,
    leak_area_ratio,
    master_floor,
    reading_from_area_ratio,
)

PSI = 6894.757293168

ambients = st.floats(50e3, 110e3)
# From where neither chokes to well above a tester's supply.
supplies = st.floats(1 * PSI, 200 * PSI)
shares = st.floats(0.001, 0.999)
ratios = st.floats(1e-3, 1e3)
gammas = st.floats(1.1, 1.67)
units = st.sampled_from([1e-5, 1e-3, 1 / PSI, 1e3])


def psi_by_definition(r, gamma):
    critical = (2 / (gamma + 1)) ** (gamma / (gamma - 1))
    r = max(r, critical)
    return np.sqrt(2 * gamma / (gamma - 1) * (r ** (2 / gamma) - r ** ((gamma + 1) / gamma)))


@given(supplies, shares, ambients, st.floats(0.8, 1.5), gammas)
def test_reading_and_area_are_each_others_way_back(supply, share, ambient, warm, gamma):
    reading = share * supply
    ratio = leak_area_ratio(supply, reading, ambient, warm, gamma)
    back = reading_from_area_ratio(ratio, supply, ambient, warm, gamma)
    assert back == approx(reading, rel=1e-9)


@given(ratios, supplies, ambients)
def test_reading_against_a_root_search(ratio, supply, ambient):
    def excess(reading):
        inside = reading + ambient
        return (supply + ambient) * psi_by_definition(inside / (supply + ambient), 1.4) - (
            ratio * inside * psi_by_definition(min(ambient / inside, 1.0), 1.4)
        )

    searched = brentq(excess, 0.0, supply, xtol=1e-9 * supply, rtol=1e-14)
    assert reading_from_area_ratio(ratio, supply, ambient) == approx(
        searched, rel=1e-6, abs=1e-8 * supply
    )


@given(ratios, st.floats(1.0001, 10), supplies, ambients)
def test_a_larger_leak_never_reads_more(ratio, times, supply, ambient):
    small = reading_from_area_ratio(ratio, supply, ambient)
    large = reading_from_area_ratio(ratio * times, supply, ambient)
    assert 0 <= large <= small * (1 + 1e-12) <= supply * (1 + 1e-12)


@given(supplies, shares, ambients, units)
def test_ratio_does_not_change_with_the_unit(supply, share, ambient, unit):
    reading = share * supply
    here = leak_area_ratio(supply, reading, ambient)
    there = leak_area_ratio(supply * unit, reading * unit, ambient * unit)
    assert there == approx(here, rel=1e-9)


@given(supplies, ambients)
def test_ends_are_known(supply, ambient):
    assert leak_area_ratio(supply, supply, ambient) == 0.0
    assert leak_area_ratio(supply, 0.0, ambient) == np.inf
    assert reading_from_area_ratio(0.0, supply, ambient) == supply
    assert reading_from_area_ratio(1e9, supply, ambient) < 1e-6 * supply


def test_many_at_once_is_each_alone():
    rng = np.random.default_rng(80)
    ratio = 10 ** rng.uniform(-3, 3, 200)
    supply = rng.uniform(2, 150, 200) * PSI
    ambient = rng.uniform(60e3, 105e3, 200)
    together = reading_from_area_ratio(ratio, supply, ambient)
    alone = [reading_from_area_ratio(*one) for one in zip(ratio, supply, ambient, strict=True)]
    assert together == approx(alone, rel=1e-12)
    assert reading_from_area_ratio(ratio.reshape(20, 10), 80 * PSI, 101325).shape == (20, 10)


@given(supplies, shares, ambients, st.floats(0.2, 5), supplies, ambients)
def test_equivalent_reading_comes_back(supply, share, ambient, times, other, other_ambient):
    there = equivalent_reading(
        supply, share * supply, ambient, 1e-6, other, other_ambient, times * 1e-6
    )
    # A leak that all but vanishes beside the other restrictor cannot come back from a float.
    if 1e-3 * other < there < 0.999 * other:
        back = equivalent_reading(other, there, other_ambient, times * 1e-6, supply, ambient, 1e-6)
        assert back == approx(share * supply, rel=1e-7)


@given(supplies, st.floats(0.01, 0.98), ambients, st.floats(0.6, 1.0))
def test_calibration_and_floor_are_each_others_way_back(supply, share, ambient, discharge):
    bore = 0.001016
    found = calibrate_restrictor(supply, share * supply, ambient, 1e-6, bore)
    assert isinstance(found, Restrictor)
    floor = master_floor(found.area, 1e-6, supply, ambient)
    assert floor.reading == approx(share * supply, rel=1e-9)
    assert found.area == approx(found.discharge * np.pi * bore**2 / 4, rel=1e-12)


# Uncertainty


@given(st.floats(10 * PSI, 150 * PSI), st.floats(0.02, 0.95), ambients)
def test_slopes_against_differences(supply, share, ambient):
    reading = share * supply
    found = leak_area(
        supply,
        reading,
        ambient,
        1e-6,
        u_supply=1.0,
        u_reading=1.0,
        u_ambient=1.0,
        u_restrictor_area=1e-8,
        u_temperature_ratio=0.01,
    )

    def moved(which, step):
        at = [supply, reading, ambient]
        at[which] += step
        return 1e-6 * leak_area_ratio(*at)

    slopes = []
    for which, size in enumerate((supply, reading, ambient)):
        step = 1e-5 * min(size, supply - reading, reading)
        slopes.append(abs(moved(which, step) - moved(which, -step)) / (2 * step))
    # The kink where one of the two begins to choke is smooth to first order only.
    got = [part.standard_uncertainty for part in found.components]
    assert got[:3] == approx(slopes, rel=2e-4, abs=1e-4 * max(slopes))
    assert got[3] == approx(0.01 * found.area, rel=1e-12)
    assert got[4] == approx(0.005 * found.area, rel=1e-12)
    assert found.standard_uncertainty == approx(np.linalg.norm(got), rel=1e-12)


@given(st.floats(10 * PSI, 150 * PSI), st.floats(0.02, 0.98), ambients, st.floats(0.01, 0.6))
def test_ends_hold_the_area_and_widen_with_the_uncertainty(supply, share, ambient, u):
    def at(u):
        return leak_area(supply, share * supply, ambient, 1e-6, u_supply=u, u_reading=u)

    narrow, wide = at(u * PSI), at(2 * u * PSI)
    assert 0 <= wide.low <= narrow.low <= narrow.area <= narrow.high <= wide.high
    assert wide.u_as_reading == approx(2 * narrow.u_as_reading, rel=1e-12)
    assert narrow.equivalent_diameter == approx(equivalent_diameter(narrow.area), rel=1e-15)


@pytest.mark.parametrize("reading", [70.0, 59.0, 30.0, 16.0])
@pytest.mark.parametrize("correlation", [0.0, 0.8])
def test_uncertainty_against_drawing_the_inputs(reading, correlation):
    rng = np.random.default_rng(59)
    n = 400_000
    u_s, u_c, u_pa, u_r = 0.3 * PSI, 0.3 * PSI, 300.0, 0.02e-6
    both = rng.multivariate_normal([0, 0], [[1, correlation], [correlation, 1]], n)
    ambient = 101325 + u_pa * rng.standard_normal(n)
    drawn = (1e-6 + u_r * rng.standard_normal(n)) * leak_area_ratio(
        80 * PSI + u_s * both[:, 0], reading * PSI + u_c * both[:, 1], ambient
    )
    found = leak_area(
        80 * PSI,
        reading * PSI,
        101325,
        1e-6,
        u_supply=u_s,
        u_reading=u_c,
        u_ambient=u_pa,
        u_restrictor_area=u_r,
        gauge_correlation=correlation,
    )
    # Half a per cent is four standard deviations of a standard deviation of 400,000; the rest
    # is what first order leaves out.
    assert np.std(drawn) == approx(found.standard_uncertainty, rel=0.01)
    inside = np.mean((drawn >= found.low) & (drawn <= found.high))
    assert inside == approx(0.9545, abs=0.005)


def test_by_master_against_drawing_the_inputs():
    rng = np.random.default_rng(43)
    n = 400_000
    shared, each, u_m = 0.5 * PSI, 0.25 * PSI, 0.01e-6
    off = shared * rng.standard_normal((2, n))
    anew = each * rng.standard_normal((4, n))
    at_leak = leak_area_ratio(80 * PSI + off[0] + anew[0], 59 * PSI + off[1] + anew[1], 101325)
    at_master = leak_area_ratio(80 * PSI + off[0] + anew[2], 43 * PSI + off[1] + anew[3], 101325)
    drawn = (1.2e-6 + u_m * rng.standard_normal(n)) * at_leak / at_master
    found = leak_area_by_master(
        80 * PSI,
        59 * PSI,
        43 * PSI,
        101325,
        1.2e-6,
        u_supply_shared=shared,
        u_reading_shared=shared,
        u_supply_each=each,
        u_reading_each=each,
        u_master_area=u_m,
    )
    assert np.std(drawn) == approx(found.standard_uncertainty, rel=0.01)
    assert np.mean(drawn) == approx(found.area, rel=0.005)


def test_by_master_is_the_restrictor_calibrated_and_used():
    # Two routes to one area; the restrictor drops out of one of them.
    restrictor = calibrate_restrictor(80 * PSI, 43 * PSI, 101325, 1.2e-6, 0.001016)
    used = leak_area(80 * PSI, [75 * PSI, 59 * PSI], 101325, restrictor.area)
    direct = leak_area_by_master(80 * PSI, [75 * PSI, 59 * PSI], 43 * PSI, 101325, 1.2e-6)
    assert direct.area == approx(used.area, rel=1e-14)


def test_scipy_is_loaded_only_where_neither_orifice_chokes():
    program = (
        "import sys\n"
        "from rehang.calc.leakage import reading_from_area_ratio\n"
        "reading_from_area_ratio(1.0, 550000.0, 101325.0)\n"
        "print([name for name in sys.modules if name.split('.')[0] == 'scipy'])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert done.stdout == "[]\n"
