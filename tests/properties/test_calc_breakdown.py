"""What holds for all inputs of `rehang.calc.breakdown`."""

from __future__ import annotations

from math import radians

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from rehang.calc.breakdown import (
    bench_against_cylinder,
    bench_pressure,
    cylinder_at_ignition,
    relative_density,
)

gaps = st.floats(2e-4, 1.5e-3)
temperatures = st.floats(250, 500)


cylinders = st.builds(
    cylinder_at_ignition,
    st.floats(6, 10),
    st.floats(radians(5), radians(40)),
    st.floats(4e4, 1.1e5),
    st.floats(250, 330),
    st.floats(0, radians(80)),
    st.floats(2.5, 6),
)


@given(cylinders, temperatures, st.floats(7e4, 1.05e5))
def test_bench_pressure_has_the_cylinders_density(air, temperature, ambient):
    gauge = bench_pressure(air.relative_density, ambient, temperature)
    assert relative_density(gauge + ambient, temperature) == approx(air.relative_density, rel=1e-12)
    # And the cylinder's own pressure and temperature have it too.
    assert relative_density(air.pressure, air.temperature) == approx(
        air.relative_density, rel=1e-12
    )


@given(st.floats(6, 10), st.floats(0.01, 0.6), st.floats(0.0, 1.0), st.floats(0.01, 0.4))
def test_earlier_spark_or_later_closing_is_thinner(ratio, advance, closes, step):
    here = cylinder_at_ignition(ratio, advance, 1e5, 293.15, closes)
    earlier = cylinder_at_ignition(ratio, advance + step, 1e5, 293.15, closes)
    later = cylinder_at_ignition(ratio, advance, 1e5, 293.15, closes + step)
    assert 1 < earlier.compression < here.compression <= ratio
    assert 1 < later.compression < here.compression


def test_top_and_bottom_centre_give_the_compression_ratio():
    air = cylinder_at_ignition([6.0, 8.5], 0.0, 1e5)
    assert air.compression == approx([6.0, 8.5], rel=1e-14)


@given(gaps, st.floats(2e5, 1e6), cylinders)
def test_voltages_differ_less_than_densities(gap, gauge, air):
    found = bench_against_cylinder(gap, gauge, 101325.0, air)
    dense, hard = found.times_denser, found.times_harder
    # V grows with less than the density and more than its root.
    low, high = sorted([dense, np.sqrt(dense)])
    assert low * (1 - 1e-12) <= hard <= high * (1 + 1e-12)
    same = bench_against_cylinder(gap, found.pressure_as_hard, 101325.0, air)
    assert same.times_harder == approx(1.0, rel=1e-12)
