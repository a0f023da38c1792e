"""Leak areas: the air around the engine, the restrictor's unit, ends that are always told."""

from __future__ import annotations

import math
import re
from datetime import timedelta

import pytest

from rehang.calc.leakage import effective_area, leak_area_ratio
from rehang.sheets import demo_path
from rehang.sheets.folder import check_facts, parse_files, read_folder
from rehang.trade.job.judging import judge
from rehang.trade.terms.conversions import inches_of, station_pascals
from rehang.trade.terms.entries import new_entry
from rehang.trade.terms.errors import BadInput
from rehang.trade.verdicts.leaks import Leak, leak_notes, leaks_of, notes_on_tester

PSI = 6894.757


def last_leak(written, *, station="", orifice="0.040 in", engine=None, meter=None):
    """The leak of cylinder 1 after two more hot reads of it."""
    folder = read_folder(demo_path())
    files = dict(folder.files)
    for name, change in (("engine.toml", engine), ("meters.toml", meter)):
        if change:
            assert change[0] in files[name]
            files[name] = files[name].replace(*change)
    beside = {"state": "hot", "minutes": "10", "path": "none", "orifice": orifice}
    if station:
        beside["station"] = station
    entries = list(folder.entries)
    for number in (1, 2):
        entries.append(
            new_entry(
                "reading", at=entries[-1].at, by="marta", id=f"leak-{number}", item="cylinder:1",
                check="compression", meter="CT-1", written=written, **{"with": beside},
            )
        )  # fmt: skip
    job = judge(parse_files(files, "leaks"), entries)
    found = leaks_of(job.item("cylinder:1"), job.facts)
    return found[-1], " ".join(leak_notes(found))


def area_at(held, pascals):
    """Square millimetres by the flow balance itself, in air of that pressure."""
    ratio = leak_area_ratio(80 * PSI, held * PSI, pascals)
    return float(ratio * effective_area(0.040 * 0.0254)) * 1e6


def test_leak_area_is_taken_in_the_air_of_the_place():
    # ISO 2533, the standard atmosphere below 11 km: 101,325 (1 - 0.0065 h / 288.15)^5.25588 Pa.
    at_1240_ft = 101_325 * (1 - 0.0065 * 1240 * 0.3048 / 288.15) ** 5.25588
    leak, _ = last_leak("70/80 psi")
    assert leak.area_mm2 == pytest.approx(area_at(70, at_1240_ft), rel=1e-5)
    assert leak.area_mm2 > 1.003 * area_at(70, 101_325)


def test_a_station_pressure_written_with_the_reading_goes_before_the_elevation():
    leak, _ = last_leak("70/80 psi", station="900 hPa")
    assert leak.area_mm2 == pytest.approx(area_at(70, 90_000), rel=1e-9)


def test_no_elevation_on_file_is_the_sea():
    leak, _ = last_leak("70/80 psi", engine=("elevation_ft = 1240", ""))
    assert leak.area_mm2 == pytest.approx(area_at(70, 101_325), rel=1e-9)


@pytest.mark.parametrize("given", ["1.016 mm", "0.040 in", "0.04", ".040in", "1.016mm"])
def test_a_restrictor_keeps_its_unit(given):
    assert inches_of(given) == pytest.approx(0.040)


def test_a_meter_with_its_restrictor_in_millimetres_reads_the_same_leak():
    metric, _ = last_leak("70/80 psi", meter=('orifice = "0.040 in"', 'orifice = "1.016 mm"'))
    assert metric.area_mm2 == pytest.approx(last_leak("70/80 psi")[0].area_mm2)


@pytest.mark.parametrize("given", ["1.016", "40", "0.04 cm", "-0.040 in", "small", "0 in"])
def test_what_is_no_restrictor_is_refused(given):
    with pytest.raises(BadInput, match="no restrictor of a compression tester"):
        inches_of(given)


@pytest.mark.parametrize("given", ["29.92", "1013", "0 hPa", "3000 hPa", "nan inHg"])
def test_what_is_no_pressure_of_the_air_is_refused(given):
    with pytest.raises(BadInput, match="no pressure of the air at the place"):
        station_pascals(given)
    with pytest.raises(BadInput, match="no pressure of the air at the place"):
        last_leak("70/80 psi", station=given)


@pytest.mark.parametrize("written", ["80/80 psi", "79/80 psi", "2/80 psi", "1/80 psi", "40/80 psi"])
@pytest.mark.parametrize(
    "meter",
    [
        None,
        (
            'accuracy = "1 psi"\nresolution = "1 psi"\nhighest = "100 psi"',
            'resolution = "1 psi"\naccuracy = "0 psi"',
        ),
    ],
)
def test_the_ends_are_told_and_never_infinite_or_nothing(written, meter):
    leak, told = last_leak(written, meter=meter)
    assert "inf" not in told
    assert "±0.00" not in told
    assert not re.search(r"\bnan\b", told)
    assert leak.low_mm2 <= leak.area_mm2 <= leak.high_mm2
    assert leak.low_mm2 < leak.high_mm2
    assert not math.isnan(leak.high_mm2)


@pytest.mark.parametrize("feet", ["nan", "inf", "-2000", "90000", '"high"'])
def test_an_elevation_of_no_place_is_refused(feet):
    files = dict(read_folder(demo_path()).files)
    files["engine.toml"] = files["engine.toml"].replace(
        "elevation_ft = 1240", f"elevation_ft = {feet}"
    )
    with pytest.raises(BadInput, match=r'^engine.toml, line \d+: "elevation_ft" is '):
        check_facts(parse_files(files, "leaks"))


def leak(on, held, bore_in):
    """A hot reading at 80 psi, at sea level; its area is not what is asked here."""
    return Leak(
        on=on, state="hot", held=held, supply=80, loss=(80 - held) / 0.8, area_mm2=1.0, low_mm2=0.9,
        high_mm2=1.1, path="none", bore_in=bore_in, ambient=14.696 * PSI,
    )  # fmt: skip


def test_a_reading_through_another_restrictor_is_told_as_the_last_tester_would_read_it():
    """CHECKVALUES b: 60 on the 0.060 in restrictor is 0.002993 in2, which reads 25.06 on 0.040 in."""
    there = 94.696 / (0.002993 / 0.00125664) - 14.696
    said = " ".join(leak_notes([leak("2024-05-01", 60, 0.060), leak("2026-05-01", 70, 0.040)]))
    assert f"60/80 of 2024 (through 0.060 in) {there:.0f}/80" in said
    assert "a limit is for what was read" in said


def test_one_restrictor_in_two_units_is_one():
    said = " ".join(
        leak_notes([leak("2024-05-01", 60, 1.016 / 25.4), leak("2026-05-01", 70, 0.040)])
    )
    assert "restrictor of the last reading" not in said


def with_masters(*readings, master_mm2, held="70/80 psi"):
    """The demo at sea level with master readings of CT-1, a day apart; the last day's leak with it."""
    folder = read_folder(demo_path())
    files = dict(folder.files)
    files["engine.toml"] = files["engine.toml"].replace("elevation_ft = 1240", "")
    files["meters.toml"] = files["meters.toml"].replace(
        'orifice = "0.040 in"', f'orifice = "0.040 in"\nmaster_mm2 = {master_mm2}'
    )
    entries = [one for one in folder.entries if one.kind != "master"]
    for number, written in enumerate(readings):
        at = entries[-1].at + timedelta(days=1)
        entries.append(
            new_entry(
                "master", at=at, by="marta", id=f"master-{number}", meter="CT-1", written=written
            )
        )
    beside = {"state": "hot", "minutes": "10", "path": "none", "orifice": "0.040 in"}
    for number in (1, 2):
        entries.append(
            new_entry(
                "reading", at=entries[-1].at, by="marta", id=f"leak-{number}", item="cylinder:1",
                check="compression", meter="CT-1", written=held, **{"with": beside},
            )
        )  # fmt: skip
    return judge(parse_files(files, "leaks"), entries)


def test_a_leak_that_reads_as_the_master_did_that_day_is_the_master_s_own_area():
    job = with_masters("43 psi", master_mm2=1.2, held="43/80 psi")
    last = leaks_of(job.item("cylinder:1"), job.facts, job.state)[-1]
    assert last.absolute.area_mm2 == pytest.approx(1.2, rel=1e-12)
    assert last.absolute.low_mm2 < 1.2 < last.absolute.high_mm2
    said = " ".join(leak_notes(leaks_of(job.item("cylinder:1"), job.facts, job.state)))
    assert "By its master orifice of 1.20 mm², which read 43 that day, the leak is 1.20 mm²" in said


def test_no_master_area_on_file_gives_no_absolute_area():
    leak, said = last_leak("70/80 psi")
    assert leak.absolute is None
    assert "absolute, whatever" not in said


def test_a_master_tells_how_the_restrictor_passes_and_whether_the_tester_changed():
    """CHECKVALUES b20_1: equal areas read 61.767 of 80; twice the restrictor's area reads 32.65."""
    perfect = math.pi / 4 * (0.040 * 25.4) ** 2
    job = with_masters("62 psi", "62 psi", master_mm2=0.85 * perfect)
    meter = job.facts.meters["CT-1"]
    said = notes_on_tester(meter, job.facts, job.state)
    passes = float(re.search(r"restrictor passes (\d\.\d\d)", said[0])[1])
    assert passes == pytest.approx(0.85, abs=0.015)
    assert said[1].startswith("It has not changed")
    worn = with_masters("62 psi", "50 psi", master_mm2=0.85 * perfect)
    assert notes_on_tester(worn.facts.meters["CT-1"], worn.facts, worn.state)[1].startswith(
        "The tester has changed: on "
    )
    odd = with_masters("62 psi", master_mm2=1.3 * perfect)
    assert "look at the master" in " ".join(notes_on_tester(meter_of(odd), odd.facts, odd.state))


def meter_of(job):
    return job.facts.meters["CT-1"]
