"""One orifice: the tables of NACA Report 1135 and TN 1592, API 520, two textbook examples.

The rows are in ``data/checkvalues.csv``; nothing here comes from our own code.
"""

from __future__ import annotations

import numpy as np
import pytest
from pytest import approx

from rehang.calc.errors import OutOfRange
from rehang.calc.leakage import (
    critical_pressure_ratio,
    flow_function,
    mass_flow,
    orifice_area,
)
from tests.published.checkvalues import printed


def test_naca_1135_critical_pressure_ratio():
    assert critical_pressure_ratio() == printed("b01", "PUB+LIB")


def test_choked_flow_function():
    # LIB: independent programs agree; catches a slip in the code, not a wrong model.
    assert flow_function(0.3) == printed("b02", "LIB")
    assert flow_function(0.0) == printed("b02", "LIB")
    # By arithmetic: sqrt(gamma) (2/(gamma + 1))^((gamma + 1)/(2 (gamma - 1))).
    assert flow_function(0.5) == approx(np.sqrt(1.4) * (2 / 2.4) ** 3, rel=1e-14)


def test_textbook_choked_constant_in_si():
    # 0.0404 in the textbook, which takes 287.05 for the gas constant.
    per_second = mass_flow(1.0, 1.0, 0.2, 1.0, gas_constant=287.05)
    assert per_second == printed("b03", "PUB+LIB")


def ratio_to_throat(mach):
    """A/A* of the tables for air, from the flow functions at the throat and at this Mach."""
    pressure_ratio = (1 + 0.2 * mach**2) ** -3.5
    return flow_function(0.0) / flow_function(pressure_ratio)


def test_naca_1135_area_ratios_at_mach():
    assert ratio_to_throat(0.1) == printed("b04_0.1", "PUB+LIB")
    assert ratio_to_throat(0.5) == printed("b04_0.5", "PUB+LIB")
    assert ratio_to_throat(0.6) == printed("b04_0.6", "PUB+LIB")
    assert ratio_to_throat(0.9) == printed("b04_0.9", "PUB+LIB")


def test_api_520_gas_in_critical_flow():
    # The standard writes 0.03948 for 3.6/sqrt(8314.46), with kPa, kg/h and mm2, and puts the
    # compressibility beside the temperature: this is the gas constant that it amounts to.
    # Its coefficient of 0.975 is the default of the program that gives the row.
    gas_constant = (3.6 / 0.03948) ** 2 * 0.90 / 51.0
    area = orifice_area(24270 / 3600, 670e3, 101325, 348.0, gas_constant, gamma=1.11) / 0.975
    assert area == printed("b30", "PUB+LIB")
    # With the gas constant itself the rounding of 0.03948 shows, and no more than that.
    exact = orifice_area(24270 / 3600, 670e3, 101325, 348.0, 8314.46 * 0.90 / 51.0, 1.11) / 0.975
    assert exact == approx(area, rel=5e-6 / 0.03948)


def test_textbook_converging_nozzle():
    # Example 12-4: air at 1 MPa, 600 degrees and 150 m/s comes to rest first; k = 1.4,
    # cp = 1.005 kJ/(kg K), R = 0.287.
    rest = 873.0 + 150.0**2 / (2 * 1005.0)
    pressure = 1e6 * (rest / 873.0) ** 3.5
    assert mass_flow(50e-4, pressure, 0.4e6, rest, 287.0) == printed("b31", "PUB(inputs)+LIB")


def test_area_is_the_way_back():
    flow = mass_flow(1e-6, [6e5, 2e5, 1.01e5], 1e5, 300.0)
    assert orifice_area(flow, [6e5, 2e5, 1.01e5], 1e5, 300.0) == approx([1e-6] * 3, rel=1e-13)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        pytest.param(
            lambda: flow_function(1.2),
            r"The pressure ratio must be from 0 to 1: got 1\.2\.",
            id="ratio above 1",
        ),
        pytest.param(
            lambda: critical_pressure_ratio(1.0),
            r"The ratio of specific heats must be above 1: got 1\.",
            id="gamma of 1",
        ),
        pytest.param(
            lambda: mass_flow(1e-6, 1e5, 2e5, 293),
            r"The downstream pressure must not be above the upstream one: "
            r"got 200000 Pa after 100000 Pa\.",
            id="backwards",
        ),
        pytest.param(
            lambda: orifice_area(1e-3, 1e5, 1e5, 293),
            r"The downstream pressure must be below the upstream one for anything to flow",
            id="no flow",
        ),
        pytest.param(
            lambda: mass_flow(1e-6, 2e5, 1e5, -20),
            r"The absolute temperature must be above 0: got -20\.",
            id="degrees",
        ),
    ],
)
def test_refused(call, sentence):
    with pytest.raises(OutOfRange, match=sentence):
        call()
