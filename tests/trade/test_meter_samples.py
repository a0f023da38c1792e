"""Every kind of meter, all its words in, against a count of 1,000,000 samples of what it states."""

import tomllib
from pathlib import Path

import pytest
import tomlkit

from bench.meters import CASES
from rehang.sheets import demo_path
from rehang.sheets.folder import parse_files, read_folder
from rehang.trade.facts.meters import METER_KINDS, band_of, meter_from
from rehang.trade.terms.errors import BadInput


@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_probability_agrees_with_a_million_samples(case):
    share, error = case.counted()
    # Four standard errors of the count: with 18 cases, a right one fails once in 900 seeds.
    assert case.ours() == pytest.approx(share, abs=4 * error)
    assert 0.5 < share < 0.999, "a case near 0 or 1 would tell nothing"


def test_every_kind_that_gives_a_number_is_sampled():
    # A torque wrench is a plus or minus in other words; a tester gives no number.
    assert {case.raw["kind"] for case in CASES} >= set(METER_KINDS) - {"tester", "torque wrench"}


def test_each_kind_that_gives_a_number_has_its_line_in_the_manual():
    page = Path("docs/explanation/calls-and-verdicts.md").read_text("utf-8")
    lines = {line.split("|")[1].strip() for line in page.splitlines() if line.startswith("| ")}
    assert {name for name, kind in METER_KINDS.items() if not kind.no_number} <= lines


def test_a_small_repeatability_changes_little():
    """A step of 0.963 for 0.989 stood here where the exact sum became a normal."""
    raw = {"id": "M", "kind": "plus or minus", "quantity": "resistance", "accuracy": "100 ohm"}
    raw |= {"resolution": "20 ohm"}
    exact = band_of(meter_from(raw), 4900).p_inside(None, 4995)
    small = band_of(meter_from(raw | {"repeatability": "1 ohm"}), 4900).p_inside(None, 4995)
    assert small == pytest.approx(exact, abs=1e-3)


@pytest.mark.parametrize("meter", ["DM-2", "AN-1"])
def test_a_meter_with_an_empty_list_of_ranges_is_refused_as_one_with_none(meter):
    files = dict(read_folder(demo_path()).files)
    held = tomllib.loads(files["meters.toml"])
    kind = next(one for one in held["meter"] if one["id"] == meter)
    kind["range"] = []
    with pytest.raises(BadInput, match=rf'A meter of kind "{kind["kind"]}" needs "range"; {meter}'):
        parse_files({**files, "meters.toml": tomlkit.dumps(held)})
