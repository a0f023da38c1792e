"""Readings that tell less than they seem to, and meters that cannot take what stands on them."""

from __future__ import annotations

from ..finished import Case, Finished

# The plug whose resistance a needle could not settle; the digital meter did.
PLUG = "plug:L0413"


def _only_on_needle(job: Finished, written: str, range_name: str) -> None:
    """The plug's resistance is read once, on the needle meter, and on nothing else."""
    last = job.last("reading", item=PLUG, check="resistance")
    job.entries = [
        one
        for one in job.entries
        if one is last
        or not (
            one["kind"] == "reading"
            and one.get("item") == PLUG
            and one.get("check") == "resistance"
        )
    ]
    last.update(meter="AN-1", range=range_name, written=written)


def _needle_near_rest(job: Finished) -> None:
    job.replace("meters.toml", "percent_of_arc = 3", "percent_of_arc = 10")
    job.replace("meters.toml", 'mid_scale = "200 ohm"', 'mid_scale = "20 ohm"')
    job.replace("limits.toml", 'upper = "5000 ohm"', 'upper = "4500 ohm"')
    _only_on_needle(job, "480 ohm", "x10")


def _needle_near_rest_reading_inside(job: Finished) -> None:
    job.replace("meters.toml", "percent_of_arc = 3", "percent_of_arc = 10")
    job.replace("meters.toml", 'mid_scale = "200 ohm"', 'mid_scale = "20 ohm"')
    _only_on_needle(job, "400 ohm", "x10")


def _needle_at_rest_on_low_range(job: Finished) -> None:
    _only_on_needle(job, "OL", "x1")


def _on_another_meter(check: str, meter: str, **changed: str) -> Case:
    def change(job: Finished) -> None:
        job.last("reading", check=check).update(meter=meter, **changed)

    return Case(f"{check} read on {meter}", change, f"{meter} is for")


def _compression_on_oil_gauge(job: Finished) -> None:
    for one in job.of("reading", check="compression"):
        one["meter"] = "OP-1"


def _under_the_floor(job: Finished) -> None:
    for one in job.of("reading", check="compression", item="cylinder:3"):
        if one["at"].startswith("2026-11-12"):
            one["written"] = "40/80 psi"


def _repeatability(job: Finished) -> None:
    """A compression gauge that does not repeat itself cannot pass a cylinder near its floor."""
    job.replace(
        "meters.toml",
        'orifice = "0.040 in"',
        'orifice = "0.040 in"\nrepeatability = "4 psi"',
    )
    for one in job.of("reading", check="compression", item="cylinder:3"):
        if one["at"].startswith("2026-11-12"):
            one["written"] = "45/80 psi"


def _certificate_with_coarse_steps(job: Finished) -> None:
    """U of a certificate alone would pass 4,950 ohm; the display's step of 200 ohm does not."""
    at = job.files["meters.toml"].index('id = "AN-1"')
    start = job.files["meters.toml"].index('id = "DM-2"')
    job.files["meters.toml"] = (
        job.files["meters.toml"][:start]
        + 'id = "DM-2"\nkind = "certificate"\nquantity = "resistance"\nkeyed = "kohm"\n'
        + 'expanded = "20 ohm"\ncoverage = 2\nresolution = "200 ohm"\ndue = "2027-01"\n\n'
        + "[[meter]]\n"
        + job.files["meters.toml"][at:]
    )
    for one in job.of("reading", meter="DM-2"):
        one.pop("range", None)
    last = job.last("reading", item=PLUG, check="resistance")
    last["written"] = "4.95 kohm"


CASES = [
    Case("4.80 kohm on a needle near its rest", _needle_near_rest, "the reading itself is outside"),
    Case(
        "4.00 kohm on a needle near its rest",
        _needle_near_rest_reading_inside,
        "an open circuit stands there too",
    ),
    Case("OL on the needle's low range", _needle_at_rest_on_low_range, "Use its ×100 range."),
    _on_another_meter("oil_run", "CT-1"),
    _on_another_meter("oil_idle", "CT-1"),
    _on_another_meter("continuity", "BT-1"),
    _on_another_meter("spark", "LT-1"),
    _on_another_meter("tappet_intake", "WG-1"),
    _on_another_meter("gap", "FG-1"),
    *(
        Case(
            f"a second compression read of {second} beside 76",
            lambda job, second=second: job.last(
                "reading", item="cylinder:3", check="compression"
            ).update(written=f"{second}/80 psi"),
            "psi apart: find out why, and read it until two in a row agree",
        )
        for second in (0, 15, 61)
    ),
    Case(
        "a cylinder that holds nothing cold, after its hot read",
        lambda job: job.last("reading", item="cylinder:1", check="compression").update(
            written="0/80 psi"
        ),
        "came after the 75/80 psi that answers and has lost more than 25 %",
    ),
    Case("compression read on the oil gauge", _compression_on_oil_gauge, "OP-1 is for oil"),
    Case("a reading under its master floor", _under_the_floor, "the master read"),
    Case("a gauge that does not repeat itself", _repeatability, "is a close call"),
    Case(
        "a certificate that forgets the display's step",
        _certificate_with_coarse_steps,
        "Resistance 4.95 kΩ is a close call",
    ),
]
