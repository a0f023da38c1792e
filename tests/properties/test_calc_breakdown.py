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
    log_form,
    paschen_minimum,
    relative_density,
    root_form,
    townsend_constant,
)

gaps = st.floats(2e-4, 1.5e-3)
pressures = st.floats(1e5, 2e6)
temperatures = st.floats(250, 500)
forms = st.sampled_from([root_form, log_form])


@given(forms, gaps, pressures, temperatures, st.floats(0.5, 1.0))
def test_only_density_times_gap_counts(form, gap, pressure, temperature, times):
    here = form(gap, pressure, temperature).voltage
    assert form(gap * times, pressure / times, temperature).voltage == approx(here, rel=1e-12)
    assert form(gap, pressure * times, temperature * times).voltage == approx(here, rel=1e-12)


@given(forms, gaps, pressures, temperatures)
def test_slope_is_that_of_the_voltage(form, gap, pressure, temperature):
    step = 1e-5 * gap
    rise = (
        form(gap + step, pressure, temperature).voltage
        - form(gap - step, pressure, temperature).voltage
    )
    pd = relative_density(pressure, temperature) * gap * 101325 / 10
    # The second form has a small step where its two pieces meet.
    if form is root_form or not 99.9 < pd < 100.1:
        assert form(gap, pressure, temperature).slope == approx(rise / (2 * step), rel=1e-7)


@given(forms, gaps, pressures, st.floats(1.001, 1.5))
def test_a_wider_gap_takes_more_and_denser_air_takes_more(form, gap, pressure, times):
    here = form(gap, pressure, 293.15).voltage
    assert form(gap * times, pressure, 293.15).voltage > here
    assert form(gap, pressure * times, 293.15).voltage > here


@given(gaps, pressures)
def test_the_two_forms_are_never_far_apart(gap, pressure):
    # 8 % at the thin end of what both answer for, under 3 % from 0.4 mm of open air up to 60 kV;
    # above that, beyond what any plug is asked for, they part slowly.
    one, other = root_form(gap, pressure, 293.15), log_form(gap, pressure, 293.15)
    assert other.voltage == approx(one.voltage, rel=0.08)
    if one.gap_at_reference > 4e-4 and one.voltage < 60_000:
        assert other.voltage == approx(one.voltage, rel=0.03)


@given(forms, gaps, pressures)
def test_nothing_gives_way_below_the_least_of_air(form, gap, pressure):
    least = paschen_minimum(15 / 1.3332, 365 / 1.3332, 0.01)
    assert form(gap, pressure, 293.15).voltage > least.voltage
    assert townsend_constant(15 / 1.3332, 0.01) + np.log(least.pressure_gap) == approx(1.0)


def test_many_at_once_is_each_alone():
    gap = np.linspace(2e-4, 9e-4, 12).reshape(3, 4)
    for form in (root_form, log_form):
        together = form(gap, 9e5, 293.15)
        assert together.voltage.shape == (3, 4)
        alone = [form(float(one), 9e5, 293.15).voltage for one in gap.ravel()]
        assert together.voltage.ravel() == approx(alone, rel=1e-15)


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
