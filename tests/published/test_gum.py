"""Values printed in JCGM 100:2008 (GUM). Nothing here comes from our own code.

The input tables of H.1, H.2 and H.3 are typed in from memory; they reproduce the printed
results. Values that are not in ``data/checkvalues.csv`` are from memory too.
"""

from __future__ import annotations

import numpy as np
import pytest
from pytest import approx

from rehang.calc.errors import OutOfRange
from rehang.calc.uncertainty import (
    arcsine_standard_uncertainty,
    combined_standard_uncertainty,
    correlations_from,
    coverage_factor,
    effective_dof,
    fit_line,
    line_at,
    mean_of,
    means_of,
    normal_standard_uncertainty,
    propagate_covariance,
    rectangular_standard_uncertainty,
    resolution_standard_uncertainty,
    second_order_standard_uncertainty,
    trapezoid_standard_uncertainty,
    triangular_standard_uncertainty,
)
from tests.published.checkvalues import printed

# Clause 4.3: from what is stated to a standard uncertainty


def test_4_3_3_example_mass_standard():
    # Printed: 240 ug at three standard deviations is 80 ug.
    assert normal_standard_uncertainty(240.0, 3) == approx(80.0, abs=0.5)


def test_4_3_7_example_1_expansion_of_copper():
    # Printed: 0.40e-6 / sqrt(3) = 0.23e-6 per degree.
    assert rectangular_standard_uncertainty(0.40) == approx(0.23, abs=0.005)


def test_f_2_2_1_resolution_of_a_display():
    # Printed: u = 0.29 of the step.
    assert resolution_standard_uncertainty(1.0) == approx(0.29, abs=0.005)


@pytest.mark.parametrize(
    ("a", "d"), [(58.4, 10.0), (1.0, 2.0), (0.5, 30.0), (1.0, 0.0), (0.0, 1.0)]
)
def test_4_3_9_equation_9a_trapezoid(a, d):
    # Equation (9a): u**2 = A**2 (1 + beta**2) / 6, A the outer half width, beta the share
    # that is flat. A rectangle of half width a and one of full width d make that trapezoid.
    outer = a + d / 2
    beta = abs(a - d / 2) / outer
    assert trapezoid_standard_uncertainty(a, d) == approx(
        outer * np.sqrt((1 + beta**2) / 6), rel=1e-14
    )


def test_4_3_9_equation_9b_triangle_is_a_trapezoid_without_a_top():
    # Half width 1/2 and step 1 give a triangle of half width 1.
    assert triangular_standard_uncertainty(1.0) == approx(
        trapezoid_standard_uncertainty(0.5, 1.0), rel=1e-14
    )


# Clause G.4: effective degrees of freedom

CASES = [
    # G.4.1 EXAMPLE: printed to one decimal, so half a unit of that decimal.
    pytest.param([0.25, 0.57, 0.82], [9, 4, 14], approx(19.0, abs=0.05), id="G.4.1"),
    # H.1.6: the Guide rounds u_c**2 to 1002 nm2 on the way, so 0.1 and not 0.05.
    pytest.param([25, 9.7, 2.9, 16.6], [18, 25.6, 50, 2], approx(16.7, abs=0.1), id="H.1.6"),
]


@pytest.mark.parametrize(("u_components", "dof", "from_the_guide"), CASES)
def test_effective_dof(u_components, dof, from_the_guide):
    assert effective_dof(u_components, dof) == from_the_guide


def test_effective_dof_is_infinite_when_every_component_is_known_exactly():
    assert effective_dof([1.0, 0.0], [np.inf, 3]) == np.inf


# H.1: end gauge. Lengths in nm, temperatures in kelvin (differences).

L_S, D = 50_000_623.0, 215.0
ALPHA_S, THETA, D_ALPHA, D_THETA = 11.5e-6, -0.1, 0.0, 0.0
INPUTS_H1 = ["l_s", "d seen", "d chance", "d system", "d alpha", "d theta", "alpha_s", "theta"]


def h1_uncertainties():
    return np.array(
        [
            normal_standard_uncertainty(75.0, 3),
            5.8,
            3.9,
            6.7,
            rectangular_standard_uncertainty(1e-6),
            rectangular_standard_uncertainty(0.05),
            rectangular_standard_uncertainty(2e-6),
            np.hypot(0.2, arcsine_standard_uncertainty(0.5)),
        ]
    )


def h1_sensitivities():
    return np.array(
        [
            1.0 - (D_ALPHA * THETA + ALPHA_S * D_THETA),
            1.0,
            1.0,
            1.0,
            -L_S * THETA,
            -L_S * ALPHA_S,
            -L_S * D_THETA,
            -L_S * D_ALPHA,
        ]
    )


H1_DOF = [18, 24, 5, 8, 50, 2, np.inf, np.inf]


def h1_u_c():
    return combined_standard_uncertainty(h1_sensitivities(), h1_uncertainties())


def test_h_1_length():
    length = L_S + D - L_S * (D_ALPHA * THETA + ALPHA_S * D_THETA)
    assert length == printed("a01", "PUB+LIB")


def test_h_1_3_4_temperature_of_the_bed():
    # Printed: the swing of 0.5 gives 0.35; with the mean's 0.2 it is 0.41.
    assert arcsine_standard_uncertainty(0.5) == approx(0.35, abs=0.005)
    assert h1_uncertainties()[7] == approx(0.41, abs=0.005)


def test_h_1_5_combined_standard_uncertainty():
    assert h1_u_c() == printed("a02", "PUB+LIB")


def test_h_1_5_combined_standard_uncertainty_unrounded():
    # LIB: independent programs agree; nothing is printed to these digits.
    assert h1_u_c() == printed("a02x", "LIB")


def test_h_1_6_effective_dof():
    # MEM+LIB: the Guide truncates it to 16.
    nu = effective_dof(np.abs(h1_sensitivities() * h1_uncertainties()), H1_DOF)
    assert nu == printed("a03", "MEM+LIB")
    assert int(nu) == 16


def test_h_1_6_expanded_uncertainty():
    # MEM+LIB: t_99(16) = 2.92 times the printed, rounded 32 nm.
    k = coverage_factor(0.99, dof=16)
    assert k == approx(2.92, abs=0.005)
    assert k * 32 == printed("a04", "MEM+LIB")


def test_h_1_7_second_order_terms():
    # Printed: 11.7 nm and 1.7 nm, and 34 nm with them.
    u = h1_uncertainties()
    curvatures = np.zeros((8, 8))
    for i, j, value in [
        (4, 7, -L_S),
        (5, 6, -L_S),
        (0, 4, -THETA),
        (0, 5, -ALPHA_S),
        (0, 6, -D_THETA),
        (0, 7, -D_ALPHA),
    ]:
        curvatures[i, j] = curvatures[j, i] = value
    assert L_S * u[4] * u[7] == approx(11.7, abs=0.05)
    assert L_S * u[5] * u[6] == approx(1.7, abs=0.05)
    u_c = second_order_standard_uncertainty(h1_sensitivities(), curvatures, u)
    assert u_c == approx(34, abs=0.5)


# H.2: resistance and reactance, measured together. Table H.2: V, mA, rad.

TABLE_H2 = np.array(
    [
        [5.007, 4.994, 5.005, 4.990, 4.999],
        [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3],
        [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
    ]
)


def h2():
    """R, X and Z, and their covariances."""
    means = means_of(TABLE_H2)
    v, i, phi = means.values
    r, x, z = v / i * np.cos(phi), v / i * np.sin(phi), v / i
    jacobian = [[r / v, -r / i, -x], [x / v, -x / i, r], [z / v, -z / i, 0.0]]
    return np.array([r, x, z]), propagate_covariance(jacobian, means.covariance)


@pytest.mark.parametrize(
    ("row", "mean", "u", "places"),
    [(0, 4.9990, 0.0032, 1e-4), (1, 19.6610e-3, 0.0095e-3, 1e-7), (2, 1.04446, 0.00075, 1e-5)],
)
def test_h_2_means_of_table_h2(row, mean, u, places):
    result = mean_of(TABLE_H2[row])
    assert result.value == approx(mean, rel=0, abs=places / 2)
    assert result.standard_uncertainty == approx(u, rel=0, abs=places / 2)
    assert result.dof == 4


def test_h_2_correlations_of_table_h2():
    r = correlations_from(means_of(TABLE_H2).covariance)
    assert r[0, 1] == approx(-0.36, abs=0.005)
    assert r[0, 2] == approx(0.86, abs=0.005)
    assert r[1, 2] == approx(-0.65, abs=0.005)


def test_h_2_resistance():
    values, covariance = h2()
    assert values[0] == printed("a05", "PUB+LIB")
    assert np.sqrt(covariance[0, 0]) == printed("a05u", "PUB+LIB")


def test_h_2_reactance():
    values, covariance = h2()
    assert values[1] == printed("a06", "PUB+LIB")
    assert np.sqrt(covariance[1, 1]) == printed("a06u", "PUB+LIB")


def test_h_2_impedance():
    values, covariance = h2()
    assert values[2] == printed("a07", "PUB+LIB")
    assert np.sqrt(covariance[2, 2]) == printed("a07u", "PUB+LIB")


def test_h_2_correlations_of_the_results():
    # MEM+LIB, all three.
    r = correlations_from(h2()[1])
    assert r[0, 1] == printed("a08", "MEM+LIB")
    assert r[0, 2] == printed("a08b", "MEM+LIB")
    assert r[1, 2] == printed("a08c", "MEM+LIB")


def test_h_2_impedance_the_other_way_correlated_inputs_to_one_result():
    # Equations (13) and (16) for one result must give what the matrices gave.
    means = means_of(TABLE_H2)
    v, i, _ = means.values
    u = combined_standard_uncertainty(
        [1 / i, -v / i**2, 0.0],
        np.sqrt(np.diag(means.covariance)),
        correlations_from(means.covariance),
    )
    assert u == printed("a07u", "PUB+LIB")


# H.3: calibration of a thermometer. Table H.6: reading and correction, in degrees.

TABLE_H6_T = [
    21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511,
]  # fmt: skip
TABLE_H6_B = [
    -0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160,
]  # fmt: skip


@pytest.fixture(scope="module")
def thermometer():
    return fit_line(TABLE_H6_T, TABLE_H6_B, x_reference=20.0)


def test_h_3_3_intercept(thermometer):
    # MEM+LIB, as the rest of H.3.
    assert thermometer.intercept == printed("a09", "MEM+LIB")
    assert thermometer.u_intercept == printed("a09u", "MEM+LIB")


def test_h_3_3_slope(thermometer):
    assert thermometer.slope == printed("a10", "MEM+LIB")
    assert thermometer.u_slope == printed("a10u", "MEM+LIB")


def test_h_3_3_correlation_and_scatter(thermometer):
    assert thermometer.correlation == printed("a10r", "MEM+LIB")
    assert thermometer.residual_sd == printed("a10s", "MEM+LIB")
    assert thermometer.dof == 9


def test_h_3_4_correction_at_30_degrees(thermometer):
    value, u = line_at(thermometer, 30.0)
    assert value == printed("a11", "MEM+LIB")
    assert u == printed("a11u", "MEM+LIB")


def test_h_3_4_equation_h15_with_the_correlation_is_the_same_number(thermometer):
    x = np.array([-40.0, 20.0, 24.0, 30.0, 500.0])
    step = x - 20.0
    variance = (
        thermometer.u_intercept**2
        + step**2 * thermometer.u_slope**2
        + 2 * step * thermometer.u_intercept * thermometer.u_slope * thermometer.correlation
    )
    assert line_at(thermometer, x)[1] == approx(np.sqrt(variance), rel=1e-9)


# What is refused


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        pytest.param(
            lambda: effective_dof([1.0], [1.0, 2.0]),
            r"Give one dof for each component: got 1 components and 2 dof\.",
            id="one dof each",
        ),
        pytest.param(
            lambda: effective_dof([0.0], [1.0]),
            r"Uncertainties must be finite, at least 0 and not all 0: got \[0\.0\]\.",
            id="all zero",
        ),
        pytest.param(
            lambda: effective_dof([1.0], [0.0]),
            r"Degrees of freedom must be above 0: got \[0\.0\]\.",
            id="dof zero",
        ),
        pytest.param(
            lambda: combined_standard_uncertainty([1, 1], [1, 1], [[1, 2], [2, 1]]),
            r"These correlations cannot all hold at once",
            id="correlation of 2",
        ),
        pytest.param(
            lambda: combined_standard_uncertainty([1, 1], [1, 1], [[1, 0], [0.5, 1]]),
            r"Correlations must be symmetric with 1 on the diagonal",
            id="lopsided correlations",
        ),
        pytest.param(
            lambda: combined_standard_uncertainty([1], [1, 1]),
            r"Give one sensitivity for each uncertainty",
            id="lengths differ",
        ),
        pytest.param(
            lambda: second_order_standard_uncertainty([1.0], [[0.0]], [1.0], [[-5.0]]),
            r"Second-order terms must leave a variance of at least 0",
            id="series of no use",
        ),
        pytest.param(
            lambda: propagate_covariance([[1.0]], [[-1.0]]),
            r"Variances must be at least 0",
            id="variance below zero",
        ),
        pytest.param(
            lambda: coverage_factor(95, 10),
            r"The coverage must be between 0 and 1: got 95\.",
            id="coverage in per cent",
        ),
        pytest.param(
            lambda: mean_of([1.0]), r"Give two or more observations: got 1\.", id="one observation"
        ),
        pytest.param(
            lambda: means_of([1.0, 2.0]),
            r"Give a row for each quantity and two or more columns",
            id="a row is no table",
        ),
        pytest.param(
            lambda: fit_line([1.0, 1.0, 1.0], [1.0, 2.0, 3.0]),
            r"The x must not all be the same: got 1 for each\.",
            id="all x the same",
        ),
        pytest.param(
            lambda: fit_line([1.0, 2.0], [1.0, 2.0]), r"Give three or more points", id="two points"
        ),
        pytest.param(
            lambda: rectangular_standard_uncertainty(-1.0),
            r"The half width must be at least 0: got -1\.",
            id="half width below zero",
        ),
        pytest.param(
            lambda: normal_standard_uncertainty(1.0, 0.0),
            r"The coverage factor must be above 0: got 0\.",
            id="factor zero",
        ),
    ],
)
def test_what_cannot_be_answered_is_refused(call, sentence):
    with pytest.raises(OutOfRange, match=sentence):
        call()
