"""The six-cylinder and the radial demo jobs (invented): whole, sealed, judged as they were made to be.

What is expected was set down when the jobs were made up, from the rules of calls and verdicts.
"""

import pytest

from rehang.sheets import DEMOS, demo_path
from rehang.sheets.folder import read_folder
from rehang.sheets.whole import folder_checked
from rehang.trade.job.judging import judge
from rehang.trade.terms.errors import BadInput

SIX = {
    "P604": "REWORK",  # gap 22 thou, where 19 is the most
    "P607": "REJECT",  # resistor open, read again on a clean contact
    "P609": "NOT YET",  # 4.97 kohm on a meter good to 60 ohm there
    "P612": "NOT YET",  # lead bridge, nothing read yet
}
RADIAL = {
    "R905": "REJECT",  # dropped
    "R906": "REWORK",  # gap 21 thou
    "R916": "REJECT",  # crack at 10x
    "R917": "NOT YET",
    "R918": "NOT YET",
}


def judged(job):
    folder = read_folder(demo_path(job))
    return judge(folder.facts, folder.entries)


@pytest.mark.parametrize("job", DEMOS)
def test_each_demo_is_sealed_as_it_was_saved_and_says_it_is_invented(job):
    folder = read_folder(demo_path(job))
    assert folder_checked(demo_path(job)).changed == []
    assert folder.notices == ()
    assert all(entry.is_sealed for entry in folder.entries)
    assert folder.facts.engine["invented"] is True
    assert all("(invented)" in limit.document for limit in folder.facts.limits)


@pytest.mark.parametrize(("job", "cases", "holes"), [("six", SIX, 12), ("radial", RADIAL, 18)])
def test_every_hole_has_its_plug_and_each_plug_its_verdict(job, cases, holes):
    found = judged(job)
    plugs = {one.name: one.verdict for one in found.items if one.kind == "plug"}
    assert len(plugs) == holes
    assert set(found.state.holes) == set(found.facts.layout.walk)
    assert plugs == {name: cases.get(name, "KEEP") for name in plugs}


def test_a_reading_through_the_small_orifice_is_void_for_the_large_bore():
    # AC 43.13-1B Chg 1, 8-14: 0.060 in for bores of 5.00 in and over.
    call = judged("six").item("cylinder:2").call("compression")
    assert call.call == "WITHIN"
    assert call.reading == "74/80 psi"
    void = [other for other in call.others if other.call == "VOID"]
    assert [other.sentence for other in void] == [
        "Void: taken through a 0.040 in orifice; a bore of 5.125 in asks for 0.060 in "
        "(AC 43.13-1B Chg 1, 8-14)."
    ]


def test_six_has_a_cylinder_out_and_odd_a_leaking_lead_a_late_hose_and_a_sooty_muffler():
    found = judged("six")
    five = found.item("cylinder:5")
    assert five.verdict == "REWORK"
    assert five.call("compression").call == "OUT"
    assert five.flag.startswith("17 psi below the median of the others (74)")
    assert found.item("lead:3B").verdict == "REJECT"
    assert found.item("hose:H63").verdict == "REJECT"
    assert found.item("exhaust:muffler").verdict == "REJECT"
    # Timing 23.4 degrees on a light good to half a degree, where 23 is the most.
    assert found.item("magneto:right").call("timing").call == "CLOSE CALL"


def test_oil_in_a_hole_that_drains_is_a_note_and_elsewhere_is_looked_into():
    found = judged("radial")
    drained = [f for f in found.item("plug:R907").findings if f.word == "oil_wet"]
    assert [f.severity for f in drained] == [1]
    opened = {
        name: [
            f.label for f in found.item(f"cylinder:{name}").state.open_findings if f.severity >= 2
        ]
        for name in (2, 5)
    }
    assert opened == {2: ["Plug R903 came out of 2F oil-wet"], 5: []}


def test_radial_is_held_against_the_master_of_its_own_day():
    nine = judged("radial").item("cylinder:9")
    assert nine.call("compression").call == "WITHIN"
    assert nine.call("compression").limit == "46 psi or more (master of the day)"
    assert nine.flag.startswith("16 psi below the median of the others (71.5)")


def test_an_unknown_demo_is_refused():
    with pytest.raises(
        BadInput, match=r'^There is no demo job "twelve"\. There are four, finished, six, radial\.$'
    ):
        demo_path("twelve")
