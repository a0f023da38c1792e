"""The first harmonic of dial readings round a turn: NIST/SEMATECH e-Handbook 2.3.4.4 (SEMATECH 2003).

The handbook prints the estimators and no worked figures, so numpy and scipy are the reference: a
general linear fit, a fit that searches, and a Fourier transform, which know nothing of these sums.
"""

from __future__ import annotations

from math import cos, pi, radians, sin, tau

import numpy as np
import pytest
from pytest import approx
from scipy.optimize import curve_fit

from rehang.calc.errors import OutOfRange
from rehang.calc.harmonic import first_harmonic

# Thousandths of an inch, made up: a bent flange, one that is dented as well, one that is oval.
BENT = [0.0, 1.5, 2.0, 1.5, 0.0, -1.5, -2.0, -1.5]
DENTED = [0.5, 1.0, 2.5, 1.5, 1.0, -2.0, -1.0, -0.5]
OVAL = [2.0, 0.0, -2.0, 0.0, 2.0, 0.0, -2.0, 0.0]
CASES = [BENT, DENTED, OVAL, [0.3] * 8, list(np.random.default_rng(17).normal(size=12))]


@pytest.mark.parametrize("readings", CASES)
def test_it_is_the_least_squares_fit_of_numpy(readings):
    found = first_harmonic(readings)
    turn = tau * np.arange(len(readings)) / len(readings)
    design = np.column_stack([np.ones_like(turn), np.cos(turn), np.sin(turn)])
    mean, a, b = np.linalg.lstsq(design, np.asarray(readings), rcond=None)[0]
    assert found.mean == approx(mean, abs=1e-12)
    assert found.amplitude * cos(found.high_at) == approx(a, abs=1e-12)
    assert found.amplitude * sin(found.high_at) == approx(b, abs=1e-12)
    assert found.left == approx(np.asarray(readings) - design @ [mean, a, b], abs=1e-12)


@pytest.mark.parametrize("readings", CASES)
def test_it_is_the_first_line_of_the_fourier_transform(readings):
    found = first_harmonic(readings)
    lines = np.fft.rfft(readings) / len(readings)
    assert found.mean == approx(lines[0].real, abs=1e-12)
    assert found.amplitude == approx(2 * abs(lines[1]), abs=1e-12)


def test_a_search_for_the_wave_ends_at_the_same_one():
    def wave(turn, mean, amplitude, high_at):
        return mean + amplitude * np.cos(turn - high_at)

    turn = tau * np.arange(8) / 8
    (mean, amplitude, high_at), _ = curve_fit(wave, turn, DENTED, p0=[0, 1, 1])
    found = first_harmonic(DENTED)
    assert (found.mean, found.amplitude, found.high_at) == approx((mean, amplitude, high_at))


def test_a_dial_set_out_of_centre_leaves_the_form_as_it_was():
    # Worked by hand: an oval of 2 either way twice a turn, set up 5 out of centre towards 40 degrees.
    set_up = [one + 5 * cos(tau * n / 8 - radians(40)) for n, one in enumerate(OVAL)]
    found = first_harmonic(set_up)
    assert found.amplitude == approx(5)
    assert found.high_at == approx(radians(40))
    assert found.left == approx(OVAL)
    assert (found.span > 10, found.left_span) == (True, approx(4))


def test_a_dial_that_never_moves_has_no_high_place():
    found = first_harmonic([0.0] * 8)
    assert (found.amplitude, found.high_at, found.span, found.left_span) == (0, 0, 0, 0)
    assert first_harmonic([1e6] * 8).high_at == 0
    assert first_harmonic([0, -1, 0, 1]).high_at == approx(1.5 * pi)


@pytest.mark.parametrize("readings", [[1, 2, 3], [], 1.0, [[1, 2, 3, 4]], [0, 1, float("nan"), 2]])
def test_what_is_no_turn_is_refused(readings):
    with pytest.raises(OutOfRange, match=r"readings at least|finite number"):
        first_harmonic(readings)
