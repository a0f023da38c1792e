"""Values printed in JCGM 100:2008 (GUM). Nothing here comes from our own code.

The values are from memory.
"""

from __future__ import annotations

from pytest import approx

from rehang.calc.uncertainty import (
    rectangular_standard_uncertainty,
    resolution_standard_uncertainty,
)

# Clause 4.3: from what is stated to a standard uncertainty


def test_4_3_7_example_1_expansion_of_copper():
    # Printed: 0.40e-6 / sqrt(3) = 0.23e-6 per degree.
    assert rectangular_standard_uncertainty(0.40) == approx(0.23, abs=0.005)


def test_f_2_2_1_resolution_of_a_display():
    # Printed: u = 0.29 of the step.
    assert resolution_standard_uncertainty(1.0) == approx(0.29, abs=0.005)
