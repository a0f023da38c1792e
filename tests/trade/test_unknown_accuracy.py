"""A meter of which nobody knows what it is good to: on file, read with, and judging nothing."""

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import parse_files, read_folder
from rehang.trade.facts.meters import band_of, change_band, meter_from
from rehang.trade.job.judging import judge
from rehang.trade.terms.errors import BadInput

SAID = (
    "The accuracy of {} is not known. Write it down as its certificate or its maker's sheet says,"
)


def judged_with(name: str, *ids: str):
    """The demo judged with the accuracy of these meters not known; of all without a name."""
    folder = read_folder(demo_path(name))
    files = dict(folder.files)
    blocks = files["meters.toml"].split("[[meter]]\n")
    files["meters.toml"] = "[[meter]]\n".join(
        one.replace("\n", "\naccuracy_not_known = true\n", 1)
        if n and (not ids or one.partition('id = "')[2].partition('"')[0] in ids)
        else one
        for n, one in enumerate(blocks)
    )
    facts = parse_files(files, "unknown")
    return judge(facts, folder.entries)


@pytest.mark.parametrize("demo", ["four", "finished", "six", "radial"])
def test_nothing_that_was_measured_is_within_or_out_where_no_accuracy_is_known(demo):
    judged = judged_with(demo)
    measured = {
        (kind, check.name)
        for kind, sheet in judged.facts.sheets.items()
        for check in sheet.checks
        if check.kind == "measure" and check.method not in ("age", "counted")
    }
    found = [
        call
        for item in judged.items
        for call in item.calls
        if (item.kind, call.check) in measured and call.meter
    ]
    assert found
    assert {call.call for call in found} <= {"NOT READ", "NOT JUDGED", "VOID"}
    assert any(SAID.format(call.meter) in call.sentence for call in found)
    assert judged.blockers


def test_what_was_read_is_told_with_its_unit_and_counts_again_once_the_accuracy_is_on_file():
    before, without = judged_with("four", "none"), judged_with("four", "WG-1")
    good, kept = (one.item("plug:K0411").call("gap") for one in (before, without))
    assert good.call == "WITHIN"
    assert (kept.call, kept.value, kept.meter) == ("NOT READ", None, "WG-1")
    assert kept.reading == good.reading
    assert SAID.format("WG-1") in kept.sentence
    assert without.item("plug:K0411").verdict == "NOT YET"
    # A grade is no figure: what the tester is good to does not come into it.
    assert judged_with("four", "BT-1").item("plug:K0411").call("spark").call == "WITHIN"


def test_a_torque_by_a_wrench_of_unknown_accuracy_is_not_judged():
    judged = judged_with("finished")
    said = [b for b in judged.blockers if "the accuracy of TW-" in b.sentence]
    assert said
    assert all("Write it down as its certificate" in b.way_out for b in said)


def test_it_has_no_band_and_says_so():
    raw = {"id": "X", "kind": "digital", "quantity": "resistance", "accuracy_not_known": True}
    meter = meter_from(raw)
    assert meter.worth == "accuracy not known"
    for band in (band_of, change_band):
        with pytest.raises(BadInput, match="The accuracy of X is not known"):
            band(meter, 1000.0)
    with pytest.raises(BadInput, match='needs "range"'):
        meter_from({**raw, "accuracy_not_known": False})
