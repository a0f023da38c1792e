"""Voltage at which air gives way between two electrodes, by gap and gas density.

Pressures are absolute unless a name says gauge. What comes out is for a steady voltage across
an even field in clean air: an index to compare one gap, pressure or engine with another, not
the voltage of a worn plug in a running cylinder.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rehang.calc import _inputs as check
from rehang.calc._air import AIR_GAMMA, AIR_GAS_CONSTANT
from rehang.calc._inputs import FloatArray, FloatOrArray
from rehang.calc.errors import OutOfRange

# 760 torr and 20 degrees: the textbook writes 293 for 273 + 20.
REFERENCE_PRESSURE = 101325.0
REFERENCE_TEMPERATURE = 293.15

# F1: V = 24.22 x + 6.08 sqrt(x) in kV, x in cm; here in V and m.
F1_LINEAR = 24.22e5
F1_ROOT = 6.08e4
# The textbook uses it from 0.1 to 20 cm of x. Below 0.01 cm it is 8 % off F2 and on the way to
# the minimum of the curve, which it does not have; our choice of where to stop, no source.
F1_PRINTED = (1e-3, 0.2)
F1_ANSWERED = (1e-4, 0.2)
# F1 agrees with measured sphere gaps within 6 % over these.
F1_MEASURED = (10e3, 30e3)


# Above about 100 kV/cm metal electrodes begin to give way sooner than the law says. From memory.
STRONG_FIELD = 1e7

EVEN_FIELD_NOTE = (
    "For a steady voltage across an even field: use it to compare, not as the voltage of a real "
    "plug."
)


@dataclass(frozen=True, slots=True)
class Breakdown:
    """Breakdown voltage and how far it may be trusted."""

    voltage: FloatOrArray  # [V]
    gap_at_reference: FloatOrArray  # relative density times gap [m]
    slope: FloatOrArray  # change of voltage with the gap at this density [V/m]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CylinderGas:
    """Air in a cylinder at a crank angle, under stated assumptions."""

    relative_density: FloatOrArray  # over that of air at 101,325 Pa and 20 degrees C [-]
    density: FloatOrArray  # [kg/m3]
    pressure: FloatOrArray  # [Pa]
    temperature: FloatOrArray  # [K]
    compression: FloatOrArray  # volume when the intake closes over volume at ignition [-]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BenchAgainstCylinder:
    """A bench tester's pressure beside the cylinder at ignition."""

    bench: Breakdown  # at the bench pressure [V]
    cylinder: Breakdown  # at the density in the cylinder [V]
    times_harder: FloatOrArray  # bench over cylinder voltage at the same gap [-]
    times_denser: FloatOrArray  # bench over cylinder density [-]
    pressure_as_hard: FloatOrArray  # bench gauge pressure of the cylinder's density [Pa]
    notes: tuple[str, ...]


# Density


def relative_density(
    pressure: ArrayLike,
    temperature: ArrayLike,
    reference_pressure: ArrayLike = REFERENCE_PRESSURE,
    reference_temperature: ArrayLike = REFERENCE_TEMPERATURE,
) -> FloatOrArray:
    r"""Density of air over its density at the reference pressure and temperature.

    .. math:: \delta = \frac{p}{p_0} \frac{T_0}{T}

    Parameters
    ----------
    pressure : array_like
        Absolute pressure [Pa].
    temperature : array_like
        Absolute temperature [K].
    reference_pressure : array_like
        Absolute pressure of the reference [Pa].
    reference_temperature : array_like
        Absolute temperature of the reference [K].

    Returns
    -------
    float or ndarray
        Relative density [-].

    Raises
    ------
    OutOfRange
        An input is not above 0.

    Notes
    -----
    Ideal gas. Other tables take 25 degrees for the reference: say so when comparing.

    References
    ----------
    High-voltage textbooks, air density factor 3.92 b / (273 + t), b in cm of mercury and 25
    degrees for its reference (example 4.1, p. 144 of the one checked).
    Checked in ``tests/published/test_breakdown.py``: 75 cm and 35 degrees.

    Examples
    --------
    >>> round(relative_density(859748, 293.15), 3)
    8.485
    """
    p = check.above_zero("The absolute pressure", pressure)
    t = check.above_zero("The absolute temperature", temperature)
    p0 = check.above_zero("The reference pressure", reference_pressure)
    t0 = check.above_zero("The reference temperature", reference_temperature)
    return check.plain(np.asarray(p / p0 * t0 / t))


# Breakdown voltage


def root_form(gap: ArrayLike, pressure: ArrayLike, temperature: ArrayLike) -> Breakdown:
    r"""Breakdown voltage of air in an even field, form F1: a line and a root.

    .. math:: V = 24.22\, x + 6.08 \sqrt{x}\ \mathrm{kV},
              \qquad x = \frac{293\, p\, d}{760\, T}\ \mathrm{cm}

    Parameters
    ----------
    gap : array_like
        Distance of the electrodes [m].
    pressure : array_like
        Absolute pressure [Pa].
    temperature : array_like
        Absolute temperature [K]; 293 in the formula is 273 + 20, here 293.15.

    Returns
    -------
    Breakdown
        Voltage [V], slope with the gap [V/m], relative density times gap [m], notes.

    Raises
    ------
    OutOfRange
        An input is not above 0; relative density times gap is outside 0.1 mm to 20 cm.

    Notes
    -----
    Weak below 1 mm of relative density times gap, outside 10 to 30 kV (inside, it is within
    6 % of measured sphere gaps) and above 10 MV/m: the result's notes say which.

    References
    ----------
    High-voltage textbooks: E. Kuffel and others, High Voltage Engineering; Naidu and Kamaraju,
    High Voltage Engineering, example 2.3.
    Checked in ``tests/published/test_breakdown.py``: two textbook examples, and the sphere-gap
    table of the AIEE.

    Examples
    --------
    >>> found = root_form(0.016 * 0.0254, 124.696 * 6894.757, 293.15)
    >>> round(found.voltage), round(found.slope * 25.4e-6)
    (11922, 634)
    """
    d = check.above_zero("The gap", gap)
    delta = np.asarray(relative_density(pressure, temperature))
    x = np.asarray(delta * d)
    least, most = F1_ANSWERED
    if not ((x >= least) & (x <= most)).all():
        raise OutOfRange(
            "Relative density times gap must be from 0.1 mm to 20 cm for this form: "
            f"got {check.shown(x * 1000)} mm."
        )
    volts = F1_LINEAR * x + F1_ROOT * np.sqrt(x)
    slope = delta * (F1_LINEAR + F1_ROOT / (2.0 * np.sqrt(x)))
    low, high = F1_MEASURED
    return Breakdown(
        voltage=check.plain(np.asarray(volts)),
        gap_at_reference=check.plain(x),
        slope=check.plain(np.asarray(slope)),
        notes=(
            EVEN_FIELD_NOTE,
            *_notes(
                (
                    x < F1_PRINTED[0],
                    "Relative density times gap is below 1 mm, where the formula's source stops.",
                ),
                (
                    (volts < low) | (volts > high),
                    "Outside 10 to 30 kV, where the formula was held against measured gaps.",
                ),
                _strong_field(volts, d),
            ),
        ),
    )


# The cylinder at ignition, and the bench


def cylinder_at_ignition(
    compression_ratio: ArrayLike,
    spark_advance: ArrayLike,
    manifold_pressure: ArrayLike,
    manifold_temperature: ArrayLike = REFERENCE_TEMPERATURE,
    intake_closes: ArrayLike = 0.0,
    rod_ratio: ArrayLike = 3.5,
    gamma: ArrayLike = AIR_GAMMA,
) -> CylinderGas:
    r"""Air in the cylinder when the plug fires.

    .. math:: \frac{V(\theta)}{V_c} = 1 + \frac{r_c - 1}{2} \left( 1 + \lambda - \cos\theta
              - \sqrt{\lambda^2 - \sin^2\theta} \right), \qquad
              \rho = \rho_\mathrm{manifold} \frac{V_\mathrm{closes}}{V_\mathrm{ignition}}

    Parameters
    ----------
    compression_ratio : array_like
        Volume at bottom centre over volume at top centre [-].
    spark_advance : array_like
        Crank angle before top centre at ignition [rad].
    manifold_pressure : array_like
        Absolute pressure in the manifold [Pa].
    manifold_temperature : array_like
        Absolute temperature in the manifold [K].
    intake_closes : array_like
        Crank angle after bottom centre at which the intake closes [rad]; 0 holds all that
        the cylinder can.
    rod_ratio : array_like
        Length of the connecting rod over the crank's throw [-].
    gamma : array_like
        Ratio of specific heats in compression [-]; moves pressure and temperature, not density.

    Returns
    -------
    CylinderGas
        Relative density [-], density [kg/m3], pressure [Pa], temperature [K], compression [-].

    Raises
    ------
    OutOfRange
        The compression ratio, the rod ratio or gamma is not above 1; a pressure or temperature
        is not above 0; ignition is not before the piston's top and after the intake closes.

    Notes
    -----
    Assumes that the cylinder holds air at the manifold's state when the intake closes: no
    exhaust left over, no heating by the walls, no fuel vapour, no loss in the valve, and full
    volume of what is behind the piston then. The first three make a real charge thinner.

    References
    ----------
    Slider-crank geometry and the isentropic law; common practice, no source.
    Checked in ``tests/published/test_breakdown.py``: two compression ratios, by `bench_pressure`.

    Examples
    --------
    >>> from math import radians
    >>> air = cylinder_at_ignition(7.0, radians(25), 29 * 3386.389)
    >>> round(air.relative_density, 2), round(air.temperature)
    (5.0, 565)
    """
    ratio = _above_one("The compression ratio", compression_ratio)
    advance = check.at_least_zero("The spark advance", spark_advance)
    closes = check.at_least_zero("The closing of the intake after bottom centre", intake_closes)
    rod = _above_one("The rod ratio", rod_ratio)
    g = _above_one("The ratio of specific heats", gamma)
    p = check.above_zero("The manifold pressure", manifold_pressure)
    t = check.above_zero("The manifold temperature", manifold_temperature)
    if not (advance + closes < np.pi).all():
        raise OutOfRange(
            "The plug must fire after the intake closes, both within one stroke: got "
            f"{check.shown(np.degrees(advance))} degrees before top centre and closing at "
            f"{check.shown(np.degrees(closes))} degrees after bottom centre."
        )
    squeeze = _volume(np.pi - closes, ratio, rod) / _volume(advance, ratio, rod)
    delta = np.asarray(relative_density(p, t)) * squeeze
    reference = REFERENCE_PRESSURE / (AIR_GAS_CONSTANT * REFERENCE_TEMPERATURE)
    at = f"{check.shown(np.degrees(closes))} degrees after bottom centre"
    return CylinderGas(
        relative_density=check.plain(np.asarray(delta)),
        density=check.plain(np.asarray(delta * reference)),
        pressure=check.plain(np.asarray(p * squeeze**g)),
        temperature=check.plain(np.asarray(t * squeeze ** (g - 1.0))),
        compression=check.plain(np.asarray(squeeze)),
        notes=(
            f"Assumed: the cylinder holds air at the manifold's pressure and temperature when the "
            f"intake closes, {at}; no exhaust left over, no heating, no fuel vapour; rod "
            f"{check.shown(rod)} times the throw.",
        ),
    )


def bench_pressure(
    density: ArrayLike,
    ambient: ArrayLike,
    bench_temperature: ArrayLike = REFERENCE_TEMPERATURE,
) -> FloatOrArray:
    r"""Gauge pressure at which a bench tester's air has a given relative density.

    .. math:: p_\mathrm{gauge} = \delta\, p_0 \frac{T}{T_0} - p_a

    Parameters
    ----------
    density : array_like
        Relative density to match, over air at 101,325 Pa and 20 degrees C [-].
    ambient : array_like
        Absolute pressure of the room [Pa].
    bench_temperature : array_like
        Absolute temperature of the air in the tester [K].

    Returns
    -------
    float or ndarray
        Pressure above ambient [Pa]; below 0 when the room is already denser.

    Raises
    ------
    OutOfRange
        An input is not above 0.

    Notes
    -----
    The same density at the same gap is the same breakdown voltage: Paschen's law.

    References
    ----------
    Ideal-gas law; no source of its own.
    Checked in ``tests/published/test_breakdown.py``: 58.7 and 69.0 psi.

    Examples
    --------
    >>> round(bench_pressure(8.485, 101325) / 6894.757)
    110
    """
    delta = check.above_zero("The relative density", density)
    pa = check.above_zero("The ambient pressure", ambient)
    t = check.above_zero("The temperature at the bench", bench_temperature)
    return check.plain(np.asarray(delta * REFERENCE_PRESSURE * t / REFERENCE_TEMPERATURE - pa))


def bench_against_cylinder(
    gap: ArrayLike,
    bench_gauge: ArrayLike,
    ambient: ArrayLike,
    cylinder: CylinderGas,
    bench_temperature: ArrayLike = REFERENCE_TEMPERATURE,
) -> BenchAgainstCylinder:
    r"""How much harder a bench tester's pressure is on a gap than the cylinder at ignition.

    .. math:: \frac{V(\delta_\mathrm{bench}\, d)}{V(\delta_\mathrm{cylinder}\, d)}

    Parameters
    ----------
    gap : array_like
        Distance of the electrodes [m].
    bench_gauge : array_like
        Pressure in the tester, by gauge [Pa above ambient].
    ambient : array_like
        Absolute pressure of the room [Pa].
    cylinder : CylinderGas
        Air in the cylinder, from `cylinder_at_ignition`; its relative density is used [-].
    bench_temperature : array_like
        Absolute temperature of the air in the tester [K].

    Returns
    -------
    BenchAgainstCylinder
        Both voltages [V], their ratio and the densities' [-], the pressure as hard [Pa].

    Raises
    ------
    OutOfRange
        As `root_form`; the bench pressure is below 0.

    Notes
    -----
    Both voltages by `root_form`: what it leaves out of real electrodes is left out of both, so
    the ratio is steadier than either. The density ratio is always the larger of the two.

    References
    ----------
    Paschen's law with `root_form`.
    No printed value: the parts are printed; put together in
    ``tests/published/test_breakdown.py``.

    Examples
    --------
    >>> from math import radians
    >>> air = cylinder_at_ignition(7.0, radians(25), 29 * 3386.389)
    >>> found = bench_against_cylinder(0.018 * 0.0254, 100 * 6894.757, 101325, air)
    >>> round(found.times_denser, 2), round(found.times_harder, 2)
    (1.56, 1.45)
    >>> round(found.pressure_as_hard / 6894.757, 1)
    58.7
    """
    gauge = check.at_least_zero("The pressure in the tester", bench_gauge)
    pa = check.above_zero("The ambient pressure", ambient)
    delta = np.asarray(relative_density(gauge + pa, bench_temperature))
    inside = np.asarray(cylinder.relative_density)
    at_bench = root_form(gap, gauge + pa, bench_temperature)
    # Only the density enters, so any pressure and temperature that make it will do.
    in_cylinder = root_form(gap, inside * REFERENCE_PRESSURE, REFERENCE_TEMPERATURE)
    both = np.asarray(at_bench.voltage) / np.asarray(in_cylinder.voltage)
    return BenchAgainstCylinder(
        bench=at_bench,
        cylinder=in_cylinder,
        times_harder=check.plain(np.asarray(both)),
        times_denser=check.plain(np.asarray(delta / inside)),
        pressure_as_hard=bench_pressure(inside, pa, bench_temperature),
        notes=tuple(dict.fromkeys((*cylinder.notes, *at_bench.notes, *in_cylinder.notes))),
    )


def _volume(angle: ArrayLike, ratio: FloatArray, rod: FloatArray) -> FloatArray:
    """Volume over the clearance volume, by crank angle from top centre."""
    angle = np.asarray(angle)
    travel = 1.0 + rod - np.cos(angle) - np.sqrt(rod**2 - np.sin(angle) ** 2)
    return np.asarray(1.0 + (ratio - 1.0) / 2.0 * travel)


def _above_one(name: str, value: ArrayLike) -> FloatArray:
    array = check.finite(name, value)
    if not (array > 1).all():
        raise OutOfRange(f"{name} must be above 1: got {check.shown(array)}.")
    return array


def _strong_field(volts: FloatArray, gap: FloatArray) -> tuple[np.ndarray, str]:
    return (
        np.asarray(volts / gap > STRONG_FIELD),
        "The field is above 10 MV/m, where real electrodes give way sooner than this says.",
    )


def _notes(*cases: tuple[np.ndarray, str]) -> tuple[str, ...]:
    return tuple(sentence for met, sentence in cases if np.asarray(met).any())
