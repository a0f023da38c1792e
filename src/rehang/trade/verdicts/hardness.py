"""How hard a bench spark test is beside the cylinder at ignition: an index, in plain words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import radians

from rehang.calc import breakdown
from rehang.calc.errors import OutOfRange
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.terms.conversions import IN_HG, INCH, PSI, STANDARD_AIR
from rehang.trade.terms.wording import listed, lower_first
from rehang.trade.verdicts.item_verdict import ItemVerdict

__all__ = ["Hardness", "hardness_by_gap", "hardness_of", "hardness_words"]

# Full throttle near the ground: the assumption beside which the bench is held.
MANIFOLD_IN_HG = 29.0
_TENTHS_OF_A_THOU = INCH / 10_000


@dataclass(frozen=True, slots=True)
class Hardness:
    """A bench pressure on a gap beside the cylinder of this engine.

    ``times`` is bench over cylinder breakdown voltage, ``denser`` their densities, ``as_hard_psi`` the bench gauge pressure
    of the cylinder's density, ``kv`` the even-field voltage on the bench, ``volts_per_thou``
    what one thousandth more gap costs there.
    """

    psi: int
    gap: int
    ratio: float
    advance_deg: float
    times: float
    denser: float
    as_hard_psi: float
    kv: float
    volts_per_thou: float


def hardness_of(one: ItemVerdict, facts: JobFacts) -> Hardness | None:
    """For a plug whose spark and gap have been taken, on an engine whose ratio is on file."""
    spark, gap = one.call("spark"), one.call("gap")
    ratio = facts.engine.get("compression_ratio")
    advance = facts.engine.get("spark_advance_deg")
    if spark is None or gap is None or gap.value is None or spark.taken is None:
        return None
    psi = spark.taken.fields.at_psi
    if not isinstance(ratio, (int, float)) or not isinstance(advance, (int, float)) or not psi:
        return None
    try:
        cylinder = breakdown.cylinder_at_ignition(
            float(ratio), radians(float(advance)), MANIFOLD_IN_HG * IN_HG
        )
        found = breakdown.bench_against_cylinder(
            gap.value * _TENTHS_OF_A_THOU, psi * PSI, STANDARD_AIR, cylinder
        )
    except OutOfRange:
        # No gap of a plug: its own call says so, and an index of it says nothing more.
        return None
    return Hardness(
        psi=int(psi),
        gap=gap.value,
        ratio=float(ratio),
        advance_deg=float(advance),
        times=float(found.times_harder),
        denser=float(found.times_denser),
        as_hard_psi=float(found.pressure_as_hard) / PSI,
        kv=float(found.bench.voltage) / 1000,
        volts_per_thou=float(found.bench.slope) * INCH / 1000,
    )


def hardness_words(found: Hardness) -> str:
    """The index in one sentence, its assumptions in the next."""
    return f"{_by_density(found)} {_on_gap(found)} {_assumed(found)}"


def hardness_by_gap(items: Iterable[ItemVerdict], facts: JobFacts) -> list[str]:
    """The same of many plugs: what holds for all of them once, and a sentence for each gap."""
    of: dict[str, dict[str, list[str]]] = {}
    for one in items:
        found = hardness_of(one, facts)
        if found is not None:
            gaps = of.setdefault(f"{_by_density(found)} {_assumed(found)}", {})
            gaps.setdefault(_on_gap(found), []).append(one.place or one.name)
    return [
        " ".join((said, *(f"{listed(places)}: {lower_first(on)}" for on, places in gaps.items())))
        for said, gaps in of.items()
    ]


def _by_density(found: Hardness) -> str:
    return (
        f"{found.psi} psi is about {found.denser:.1f} times harder than the cylinder when the plug "
        f"fires, by density; {found.as_hard_psi:.0f} psi would be as hard."
    )


def _on_gap(found: Hardness) -> str:
    return (
        f"On a gap of {found.gap / 10:g} thou it asks for {found.times:.1f} times the voltage. "
        f"Each thou of gap costs about {found.volts_per_thou:.0f} V."
    )


def _assumed(found: Hardness) -> str:
    return (
        f"An index for comparing, not an absolute: even field, still air, ratio {found.ratio:g}, "
        f"{found.advance_deg:g}° before top, {MANIFOLD_IN_HG:g} inHg."
    )
