"""Which meters can take which checks, and that none is taken until a person has chosen it."""

from __future__ import annotations

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import parse_files, read_folder
from rehang.sheets.pencil import entries_from
from rehang.trade.doors.rules import check_can_append
from rehang.trade.facts.readings import read
from rehang.trade.job.judging import judge
from rehang.trade.known.meter_choice import chosen_meter, meters_for_check, why_not
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import QUANTITIES, parse_amount
from rehang.web.shared.meters import meter_choices
from tests.trade.cast import Bench, facts


@pytest.fixture(scope="module")
def finished():
    folder = read_folder(demo_path("finished"))
    return judge(folder.facts, folder.entries)


@pytest.mark.parametrize(
    ("sheet", "check", "meters"),
    [
        ("plug", "look", []),
        ("plug", "gap", ["WG-1"]),
        ("plug", "resistance", ["DM-2", "AN-1"]),
        ("plug", "electrode", ["WC-1"]),
        ("cylinder", "compression", ["CT-1"]),
        ("cylinder", "tappet_intake", ["FG-1"]),
        ("magneto", "timing", ["TL-1"]),
        ("run", "oil_idle", ["OP-1"]),
        ("run", "fuel_pressure", ["FP-1"]),
        ("run", "head_temp", ["TH-1"]),
        ("run", "static", ["OT-1"]),
        ("run", "switch_off", []),
    ],
)
def test_a_check_is_offered_the_meters_that_are_for_it(finished, sheet, check, meters):
    one = finished.facts.sheets[sheet].check(check)
    found = meters_for_check(one, finished.facts, finished.state)
    assert [meter.id for meter in found] == meters


@pytest.mark.parametrize(
    ("sheet", "check", "meter", "why"),
    [
        ("run", "oil_run", "CT-1", "CT-1 is for compression; oil pressure at run-up takes a meter"),
        ("run", "fuel_pressure", "CT-1", "CT-1 is for compression; fuel pressure takes a meter"),
        ("run", "fuel_pressure", "OP-1", "OP-1 is for oil pressure; fuel pressure takes"),
        ("lead", "continuity", "BT-1", "BT-1 is for spark; continuity takes a meter for leads."),
        ("cylinder", "tappet_intake", "WG-1", "WG-1 is for gap; intake dry tappet takes"),
        ("plug", "gap", "FG-1", "FG-1 is for clearance; gap takes a meter for gap."),
        ("plug", "resistance", "CT-1", "CT-1 reads pressure; resistance is read as resistance."),
        ("plug", "spark", "DM-2", "DM-2 gives a number; spark is graded on a tester."),
        ("plug", "gap", "BT-1", "BT-1 reads no number; gap is read as length."),
    ],
)
def test_another_meter_is_refused_with_what_it_is_for(finished, sheet, check, meter, why):
    given = finished.facts
    found = why_not(given.meters[meter], given.sheets[sheet].check(check), given.meters)
    assert found.startswith(why)


def test_a_meter_that_says_nothing_takes_what_no_other_is_for():
    plain = facts()
    gap, spark = (plain.sheets["plug"].check(name) for name in ("gap", "spark"))
    # The cast's tester says nothing of itself and is the only one: it takes both.
    leads = plain.sheets["lead"].check("continuity")
    assert not why_not(plain.meters["BT"], spark, plain.meters)
    assert not why_not(plain.meters["BT"], leads, plain.meters)
    text = read_folder(demo_path()).files["meters.toml"]
    assert 'use = "leads"' in text
    from tests.trade.cast import METERS

    told = facts(meters=METERS + '\n[[meter]]\nid = "LT"\nkind = "tester"\nuse = "leads"\n')
    assert why_not(told.meters["BT"], leads, told.meters) == (
        "Continuity is read on LT, on file for leads; BT is not."
    )
    assert not why_not(told.meters["BT"], spark, told.meters)
    assert not why_not(told.meters["WG"], gap, told.meters)


def test_use_is_text():
    from tests.trade.cast import METERS

    with pytest.raises(BadInput, match='"use" is 3; it must be text'):
        facts(meters=METERS + '\n[[meter]]\nid = "LT"\nkind = "tester"\nuse = 3\n')


def test_none_is_chosen_until_a_person_has():
    bench = Bench()
    gap = facts().sheets["plug"].check("gap")
    job = bench.judged()
    assert chosen_meter(gap, job.facts, job.state) == ("", "")
    first = meter_choices(job, gap)[0]
    assert (first.value, first.label, first.chosen) == ("", "Choose the meter", True)
    bench.read("gap", "17 thou", "WG")
    job = bench.judged()
    assert chosen_meter(gap, job.facts, job.state) == ("WG", "")
    assert [(one.value, one.chosen) for one in meter_choices(job, gap)] == [("WG|", True)]


def test_the_last_meter_and_range_of_a_check_are_kept():
    bench = Bench()
    ohms = facts().sheets["plug"].check("resistance")
    bench.read("resistance", "1.2 kohm", "DM", range="20k")
    bench.read("resistance", "480 ohm", "AN", range="x10")
    job = bench.judged()
    assert chosen_meter(ohms, job.facts, job.state) == ("AN", "x10")
    assert chosen_meter(facts().sheets["plug"].check("gap"), job.facts, job.state) == ("", "")


def test_a_meter_found_out_is_not_kept():
    bench = Bench()
    bench.read("gap", "17 thou", "WG")
    bench.write("found_out", meter="WG", reason="Bay Calibration")
    job = bench.judged()
    assert chosen_meter(facts().sheets["plug"].check("gap"), job.facts, job.state) == ("", "")


def test_the_gate_refuses_at_the_door_and_marks_what_was_let_in(finished):
    from rehang.trade.terms.entries import new_entry

    folder = read_folder(demo_path("finished"))
    new = new_entry(
        "reading", at=folder.entries[-1].at, by="marta", id="door", item="run:2", check="oil_run",
        written="70 psi", meter="CT-1",
    )  # fmt: skip
    with pytest.raises(BadInput, match="CT-1 is for compression; oil pressure at run-up takes"):
        check_can_append([new], folder.entries, folder.facts)
    marked = judge(folder.facts, [*folder.entries, new])
    assert "CT-1 is for compression" in marked.state.faults["door"]


def test_a_master_on_a_gauge_that_is_no_tester_is_refused():
    from rehang.trade.terms.entries import new_entry

    folder = read_folder(demo_path("finished"))
    new = new_entry(
        "master", at=folder.entries[-1].at, by="marta", id="floor", meter="OP-1", written="43 psi"
    )
    with pytest.raises(BadInput, match="OP-1 is for oil pressure; compression takes a meter"):
        check_can_append([new], folder.entries, folder.facts)


def test_the_pencil_sheet_on_another_meter_is_refused():
    folder = read_folder(demo_path())
    sheet = "on 2026-10-20\nby marta\nmeter FG-1\ng 3b=18\n"
    entries, _ = entries_from(sheet, folder.facts, folder.entries)
    with pytest.raises(BadInput, match="FG-1 is for clearance; gap takes a meter for gap"):
        check_can_append(entries, folder.entries, folder.facts)


@pytest.mark.parametrize("text", ["\N{MINUS SIGN}5", "\N{MINUS SIGN}5 F", "-5"])
def test_a_true_minus_sign_is_a_minus_sign(text):
    assert parse_amount(text, QUANTITIES["temperature"]) == -5
    with pytest.raises(BadInput, match="is below zero"):
        read(facts().sheets["plug"].check("gap"), "\N{MINUS SIGN}18", facts().meters["WG"])


def test_a_job_without_use_reads_as_before():
    """A folder from before meters said what they are for: only kinds and quantities tell."""
    folder = read_folder(demo_path("six"))
    files = dict(folder.files)
    lines = files["meters.toml"].splitlines(keepends=True)
    files["meters.toml"] = "".join(line for line in lines if not line.startswith("use ="))
    job = judge(parse_files(files, "six"), folder.entries)
    assert not job.state.faults
