"""Ground runs as lists of entries. What a drop means is common practice, no
source, but for AC 43.13-1B 8-2a and the FAA powerplant handbook's ignition checks."""

from __future__ import annotations

import dataclasses
from datetime import timedelta

import pytest

from rehang.sheets import run_steps
from rehang.sheets.folder import parse_files
from rehang.trade.doors.rules import check_can_append
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.gate.run_gate import lock_words, locked_at
from rehang.trade.job.judging import judge
from rehang.trade.run.mag_check import mag_check
from rehang.trade.run.runs import Runs, runs_of, stop_after
from rehang.trade.telling.sentences import entry_words
from rehang.trade.terms.entries import is_a, new_entry
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.terms.kinds.runs import AboutRun, PLeadFound
from rehang.trade.verdicts.folding import fold_job
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.verdicts.rpm import opposite
from rehang.trade.verdicts.verdict import judge_items

from .cast import FILES, LIMITS, METERS, SOURCE, START, Bench, facts

RUN_METERS = """
[[meter]]
id = "TACH"
kind = "plus or minus"
quantity = "speed"
accuracy = "2 rpm"
resolution = "1 rpm"
due = "2027-04"

[[meter]]
id = "OIL"
kind = "plus or minus"
quantity = "pressure"
accuracy = "3 psi"
resolution = "1 psi"
due = "2027-04"

[[meter]]
id = "TEMP"
kind = "plus or minus"
quantity = "temperature"
accuracy = "5 °F"
resolution = "1 °F"
due = "2027-04"

[[meter]]
id = "CLOCK"
kind = "plus or minus"
quantity = "time"
accuracy = "0.5 s"
resolution = "1 s"
due = "2027-04"
"""

RUN_LIMITS = "".join(
    f'[[limit]]\nitem = "run"\n{bounds}{SOURCE}\n'
    for bounds in (
        'check = "look"\nworst = 1\n',
        'check = "oil_rise"\nupper = "30 s"\n',
        'check = "oil_idle"\nlower = "25 psi"\n',
        'check = "oil_run"\nlower = "60 psi"\nupper = "90 psi"\n',
        'check = "oil_temp"\nlower = "100 F"\nupper = "245 F"\n',
        'check = "head_temp"\nupper = "500 F"\n',
        'check = "drop_left"\nupper = "150 rpm"\n',
        'check = "drop_right"\nupper = "150 rpm"\n',
        'check = "difference"\nupper = "50 rpm"\n',
        'check = "static"\nlower = "2250 rpm"\nupper = "2350 rpm"\n',
        'check = "idle"\nlower = "600 rpm"\nupper = "700 rpm"\n',
        'check = "rise"\nlower = "20 rpm"\nupper = "50 rpm"\n',
        'check = "carb_heat"\ngrade = "falls, then steady"\n',
        'check = "switch_off"\ngrade = "dies"\n',
        'check = "cut_off"\ngrade = "stops clean"\n',
    )
)

GOOD = {
    "oil_rise": ("9 s", "CLOCK", {}),
    "oil_temp": ("140 F", "TEMP", {}),
    "oil_idle": ("38 psi", "OIL", {}),
    "drop_right": ("1700/1620", "TACH", {"with": {"feel": "smooth"}}),
    "drop_left": ("1700/1630", "TACH", {"with": {"feel": "smooth"}}),
    "static": ("2290", "TACH", {"with": {"heading": "240"}}),
    "oil_run": ("75 psi", "OIL", {}),
    "head_temp": ("380 F", "TEMP", {}),
    "carb_heat": ("falls, then steady", "", {}),
    "idle": ("650", "TACH", {}),
    "switch_off": ("dies", "", {}),
    "rise": ("650/685", "TACH", {}),
    "cut_off": ("stops clean", "", {}),
}


def shop() -> JobFacts:
    return facts(limits=LIMITS + RUN_LIMITS, meters=METERS + RUN_METERS)


def run(
    name: str = "1", *, end: bool = True, bench: Bench | None = None, **changed: tuple
) -> Bench:
    """A good run, some readings changed; None leaves one out."""
    bench = bench or Bench()
    bench.write("run_began", run=name, **{"with": {"wind": "calm"}})
    for check, (written, meter, more) in {**GOOD, **changed}.items():
        if written is None:
            continue
        bench.write(
            "reading", item=f"run:{name}", check=check, written=written, meter=meter, **more
        )
    bench.write("seen", item=f"run:{name}", check="look", word="dry")
    if end:
        bench.write("run_ended", run=name, full_temperature=True)
    return bench


def runs(bench: Bench) -> Runs:
    known = shop()
    state = fold_job(known, bench.entries)
    items, _ = judge_items(known, state, START.date())
    return runs_of(known, state, items)


def verdict(bench: Bench, name: str = "1") -> ItemVerdict:
    known = shop()
    items, _ = judge_items(known, fold_job(known, bench.entries), START.date())
    return next(one for one in items if one.item == f"run:{name}")


def test_good_run_stands_and_leaves_nothing_open():
    found = runs(run())
    assert verdict(run()).verdict == "KEEP"
    assert found.blockers == ()
    assert found.live == ()
    assert found.last.mags.sentences == (
        "70 rpm on LEFT and 80 rpm on RIGHT, smooth: nothing is suspect.",
    )


def test_no_run_at_all_blocks_and_the_propeller_is_live():
    found = runs(Bench())
    assert [b.about for b in found.blockers] == ["run", "magneto:left", "magneto:right"]
    assert all("treat the propeller as live" in sentence for sentence in found.live)


@pytest.mark.parametrize("missing", sorted(GOOD))
def test_reading_that_was_not_logged_blocks_and_is_named(missing):
    bench = run(**{missing: (None, "", {})})
    [blocker] = [b for b in runs(bench).blockers if b.about == "run:1"]
    label = shop().sheets["run"].check(missing).label.lower()
    assert "Not logged" in blocker.sentence
    assert label in blocker.sentence


@pytest.mark.parametrize(
    ("check", "written", "call"),
    [
        ("oil_rise", "31 s", "OUT"),
        ("oil_rise", "30 s", "CLOSE CALL"),
        ("oil_idle", "20 psi", "OUT"),
        ("oil_run", "95 psi", "OUT"),
        ("static", "2190", "OUT"),
        ("static", "2251", "CLOSE CALL"),
        ("idle", "760", "OUT"),
        ("rise", "650/655", "OUT"),
        ("rise", "650/720", "OUT"),
        ("switch_off", "runs on", "OUT"),
        ("cut_off", "runs on", "OUT"),
    ],
)
def test_limit_missed_is_judged_like_any_other_reading(check, written, call):
    meter, more = GOOD[check][1:]
    one = verdict(run(**{check: (written, meter, more)}))
    assert one.call(check).call == call
    assert one.verdict != "KEEP"


def test_drop_on_one_tachometer_is_good_to_its_digit_and_not_its_accuracy():
    # 150 is the limit; the tachometer's own 2 rpm is in both readings and cancels (JCGM 100 F.1.2.3).
    smooth = {"with": {"feel": "smooth"}}

    def call(written: str, more: dict) -> str:
        return verdict(run(drop_right=(written, "TACH", more))).call("drop_right").call

    assert call("1700/1552", smooth) == "WITHIN"
    assert call("1700/1550", smooth) == "CLOSE CALL"
    assert call("1700/1548", smooth) == "OUT"
    # With no word of how it felt it is not right yet, and no less wrong.
    assert call("1700/1552", {}) == "NOT READ"
    assert call("1700/1548", {}) == "OUT"


@pytest.mark.parametrize(
    ("before", "call"),
    [(1600, "WITHIN"), (1599, "NOT READ"), (1800, "WITHIN")],
)
def test_drop_from_below_the_run_cards_speed_answers_no_limit(before, call):
    smooth = {"with": {"feel": "smooth"}}
    each = {
        f"drop_{side}": (f"{before}/{before - 80}", "TACH", smooth) for side in ("left", "right")
    }
    one = verdict(run(**each))
    assert {one.call(name).call for name in (*each, "difference")} == {call}
    # A drop that is too large is no less wrong for it.
    far = (f"{before}/{before - 200}", "TACH", smooth)
    assert verdict(run(drop_left=far)).call("drop_left").call == "OUT"


def test_difference_of_drops_is_worked_out_and_judged():
    one = verdict(run(drop_right=("1700/1580", "TACH", {}), drop_left=("1700/1640", "TACH", {})))
    difference = one.call("difference")
    assert (difference.value, difference.call) == (60, "OUT")
    assert "120 and 60 rpm" in difference.sentence
    half = verdict(run(drop_left=(None, "", {})))
    assert half.call("difference").call == "NOT READ"


@pytest.mark.parametrize(
    ("one", "other", "are"),
    [
        ("240", "060", True),
        ("240", "090", True),
        ("240", "091", False),
        ("240", "", False),
        ("240", "north", False),
        ("north", "240", False),
    ],
)
def test_headings_are_opposite_within_thirty_degrees_and_only_in_figures(one, other, are):
    assert opposite(one, other) == are


def test_static_speed_is_the_mean_of_two_opposite_headings():
    bench = run(end=False)
    bench.write(
        "reading", item="run:1", check="static", written="2236", meter="TACH",
        **{"with": {"heading": "060"}},
    )  # fmt: skip
    static = verdict(bench).call("static")
    assert (static.value, static.call) == (2263, "WITHIN")
    assert "mean of 2,290 on 240° and 2,236 on 060°" in static.record


def test_two_headings_say_what_the_wind_is_worth_and_too_far_apart_are_no_mean():
    """Half the difference (worked by hand): 27 rpm; a twentieth of the speed is too far."""

    def static(*figures):
        bench = run(end=False)
        for written, heading in figures:
            bench.write(
                "reading", item="run:1", check="static", written=written,
                meter="TACH", **{"with": {"heading": heading}},
            )  # fmt: skip
        return verdict(bench).call("static")

    assert "the wind worth 27 rpm" in static(("2236", "060")).record
    assert "wind worth" not in static(("2290", "060")).record
    far = static(("2390", "240"), ("2140", "060"))
    assert (far.value, far.call) == (2265, "NOT READ")
    assert "run again in less of it" in far.sentence


def test_a_drop_that_rises_is_refused():
    with pytest.raises(BadInput, match=r"goes from 1600 to 1700 rpm"):
        runs(run(drop_left=("1600/1700", "TACH", {})))


MAGS = [
    ({"left": (0, "no drop", False), "right": (75, "smooth", False)}, "right", "P-lead"),
    ({"left": (70, "smooth", False), "right": (0, "no drop", False)}, "left", "P-lead"),
    ({"left": (300, "dies", True), "right": (75, "smooth", False)}, "left", "magneto"),
    (
        {"left": (260, "sudden, rough", True), "right": (75, "smooth", False)},
        "left",
        "plug or lead",
    ),
    ({"left": (190, "smooth", True), "right": (75, "smooth", False)}, "left", "timing"),
    ({"left": (190, "smooth", True), "right": (195, "smooth", True)}, "both", "timing"),
    ({"left": (90, "slow, gentle", False), "right": (80, "smooth", False)}, "", ""),
    ({"left": (60, "smooth", False), "right": (55, "smooth", False)}, "", ""),
]


@pytest.mark.parametrize(("drops", "accused", "part"), MAGS)
def test_what_a_drop_accuses(drops, accused, part):
    found = mag_check(drops, shop())
    assert (found.accused, found.part) == (accused, part)


@pytest.mark.parametrize(
    ("drops", "are_both"),
    [
        ({"left": (200, "smooth", True), "right": (180, "smooth", True)}, True),
        ({"left": (200, "smooth", True), "right": (80, "smooth", False)}, False),
        # What says more than its size does is heard first.
        ({"left": (200, "dies", True), "right": (180, "smooth", True)}, False),
    ],
)
def test_large_drops_on_both_are_said_of_both_and_nothing_else_is(drops, are_both):
    said = " ".join(mag_check(drops, shop()).sentences)
    assert ("on both" in said) == are_both


def test_no_drop_on_left_accuses_the_right_magnetos_lead_and_the_propeller_is_live():
    bench = run(
        drop_left=("1700/1700", "TACH", {"with": {"feel": "no drop"}}),
        switch_off=("runs on", "", {}),
    )
    found = runs(bench)
    assert found.last.mags.hot == "right"
    assert "P-lead" in found.last.mags.sentences[0]
    assert "the right magneto's P-lead" in found.last.mags.sentences[0]
    assert "The right magneto is HOT: the propeller is live. Tag it." in found.live
    assert any(b.about == "magneto:right" for b in found.blockers)


def test_rough_drop_names_the_holes_that_magneto_fires():
    found = mag_check({"right": (280, "sudden, rough", True)}, shop())
    assert "1B, 3B, 2T, 4T" in found.sentences[0]


def test_p_lead_taken_off_again_makes_the_propeller_live_again():
    bench = run()
    assert runs(bench).live == ()
    bench.write("p_lead", item="magneto:left", state="off", how="switch changed")
    assert ["left" in one for one in runs(bench).live] == [True]
    bench.write(
        "p_lead", item="magneto:left", state="proved dead", how="ohmmeter at the switch, OFF"
    )
    assert runs(bench).live == ()


@pytest.mark.parametrize(
    ("second", "live"),
    [
        # Shut down before its own switch-off check; or the check found it.
        ({"drop_left": ("1700/1700", "TACH", {"with": {"feel": "no drop"}})}, ["right HOT"]),
        ({"switch_off": ("runs on", "", {})}, ["left may be HOT", "right may be HOT"]),
    ],
)
def test_what_was_proved_dead_once_is_live_when_a_later_run_finds_it_so(second, live):
    bench = run()
    assert runs(bench).live == ()
    run("2", bench=bench, **{"switch_off": (None, "", {})} | second)
    found = runs(bench)
    assert len(found.live) == len(live)
    for said, words in zip(found.live, live, strict=True):
        magneto, _, state = words.partition(" ")
        assert f"the {magneto} magneto" in said.lower()
        assert state in said
    assert {f"magneto:{words.split()[0]}" for words in live} <= {b.about for b in found.blockers}
    bench.write("p_lead", item="magneto:left", state="proved dead", how="ohmmeter, OFF")
    bench.write("p_lead", item="magneto:right", state="proved dead", how="ohmmeter, OFF")
    assert runs(bench).live == ()


def test_leak_is_closed_by_a_dry_look_at_power_and_by_nothing_written():
    bench = run()
    leak = bench.write("seen", item="run:1", check="oil_look", word="oil_leak")
    assert "Oil leak at run 1 is open." in [b.sentence for b in runs(bench).blockers]
    closing = new_entry(
        "closed", at=START, by="ada", id="case-nipped", finding=leak.id, reason="nipped up"
    )
    with pytest.raises(NotAllowed, match="Oil leak at run 1 is closed by a dry look after a later"):
        check_can_append([closing], bench.entries, shop())
    # In an older book the words stay, settle nothing, and stand among what blocks.
    old = Bench()
    old.entries = [*bench.entries]
    old.write("closed", finding=leak.id, reason="nipped up")
    run("2", bench=old, static=(None, "", {}), oil_run=(None, "", {}), head_temp=(None, "", {}))
    assert any(b.sentence == "Oil leak at run 1 is open." for b in runs(old).blockers)
    assert any("closed by a dry look" in b.sentence for b in judge(shop(), old.entries).blockers)
    run("2", bench=bench)
    assert runs(bench).blockers == ()


def test_figure_that_was_out_accuses_until_it_is_worked_on_and_a_later_run_is_right():
    bench = run(oil_run=("95 psi", "OIL", {}))
    run("2", bench=bench)
    assert runs(bench).blockers == ()

    def accused() -> list[str]:
        return [
            b.sentence
            for b in judge(shop(), bench.entries).blockers
            if "Suspect and still open" in b.sentence
        ]

    assert ["95 psi at run 1" in one for one in accused()] == [True]
    bench.write("reworked", item="engine:oil system", act="relief valve set")
    assert len(accused()) == 1
    run("3", bench=bench)
    assert accused() == []


def test_accusation_is_closed_by_a_decision_with_its_reason():
    bench = run(oil_rise=("47 s", "CLOCK", {}))
    run("2", bench=bench)
    judged = judge(shop(), bench.entries)
    [finding] = judged.item("engine:oil system").findings
    assert (finding.severity, finding.is_open) == (2, True)
    bench.write("closed", finding=finding.id, reason="oil at 20 F, thick; 9 s when warm")
    judged = judge(shop(), bench.entries)
    assert judged.item("engine:oil system").findings[0].resolved.endswith("9 s when warm")
    assert not any("Suspect and still open" in b.sentence for b in judged.blockers)


def test_plug_that_came_out_for_other_work_mends_nothing_of_what_its_magneto_is_accused_of():
    bench = Bench()
    bench.write("fitted", item="plug:P1", place="1T")
    run(bench=bench, drop_left=("1700/1630", "TACH", {"with": {"feel": "sudden, rough"}}))
    bench.write("removed", item="plug:P1", place="1T")
    bench.write("fitted", item="plug:P1", place="1T")
    run("2", bench=bench)
    judged = judge(shop(), bench.entries)
    assert any("sudden, rough" in b.sentence for b in judged.blockers if b.about == "magneto:left")
    # A new plug in its place is work on it; one on the other magneto would not be.
    bench.write("fitted", item="plug:K2", place="1B")
    run("3", bench=bench)
    assert any("sudden, rough" in b.sentence for b in judge(shop(), bench.entries).blockers)
    bench.write("fitted", item="plug:K3", place="1T")
    run("4", bench=bench)
    assert not any("sudden, rough" in b.sentence for b in judge(shop(), bench.entries).blockers)


def test_run_that_was_only_looked_at_stands_for_nothing():
    bench = Bench()
    bench.write("run_began", run="1")
    bench.write("seen", item="run:1", check="look", word="dry")
    bench.write("run_ended", run="1")
    assert verdict(bench).verdict == "NOT YET"
    assert runs(bench).runs[0].is_whole is False


def test_start_that_was_shut_down_before_power_is_not_the_first_ground_run():
    bench = Bench()
    bench.write("run_began", run="1")
    bench.write("reading", item="run:1", check="oil_rise", written="40 s", meter="CLOCK")
    bench.write("run_ended", run="1", why="no oil pressure")
    bench.write("done", task="H7")
    work = judge(shop(), bench.entries).work.tasks["H7"]
    assert work.state == "STARTED"
    assert work.places[0].missing == ("ground run 1, ended and with its figures (0 on file)",)
    bench.write("run_began", run="2", note="line bled")
    bench.write("reading", item="run:2", check="static", written="2290", meter="TACH")
    bench.write("run_ended", run="2", why="leak")
    assert judge(shop(), bench.entries).work.tasks["H7"].state == "DONE"


def test_figure_of_run_1_that_still_counts_is_not_asked_of_run_2():
    bench = run()
    run("2", bench=bench, idle=(None, "", {}), carb_heat=(None, "", {}))
    assert runs(bench).blockers == ()
    assert runs(bench).proofs.standing["idle"].run == "1"


def test_work_ends_what_depends_on_it_and_nothing_else():
    bench = run()
    bench.write("p_lead", item="magneto:left", state="on")
    bench.write("p_lead", item="magneto:left", state="proved dead")
    [blocker] = runs(bench).blockers
    assert blocker.sentence.startswith("The left magneto had its P-lead handled on ")
    assert "drop on right, drop on left, difference of the drops and switch-off" in blocker.sentence
    again = {name: (None, "", {}) for name in GOOD}
    kept = {name: GOOD[name] for name in ("drop_right", "drop_left", "switch_off")}
    run("2", bench=bench, **(again | kept))
    assert runs(bench).blockers == ()


def test_part_that_was_out_of_the_job_before_is_no_work_on_the_engine():
    bench = Bench()
    bench.write("replaced", item="plug:K2", place="1T", **{"for": "P1"})
    run(bench=bench)
    bench.write("disposed", item="plug:P1", how="mutilated")
    assert runs(bench).blockers == ()


def test_stop_rule_comes_from_the_limit_with_its_source():
    seconds, limit = stop_after(shop())
    assert seconds == 30
    assert limit.document == "Case manual (invented)"
    assert stop_after(facts())[0] is None


@pytest.mark.parametrize(
    ("kind", "fields", "sentence"),
    [
        ("run_step", {"run": "9", "step": "oil"}, r"Run 9 has not begun"),
        ("run_step", {"run": "1", "step": "oil"}, r"Run 1 has ended"),
        ("run_ended", {"run": "1"}, r"Run 1 has ended"),
        ("run_began", {"run": "1"}, r"has begun already"),
        ("p_lead", {"item": "magneto:middle", "state": "on"}, r"is not a magneto of this engine"),
        ("p_lead", {"item": "magneto:left", "state": "loose"}, r'not "loose"'),
        (
            "reading",
            {"item": "run:7", "check": "idle", "written": "650", "meter": "TACH"},
            r"Run 7 has not begun",
        ),
    ],
)
def test_what_cannot_be_is_one_clear_sentence(kind, fields, sentence):
    bench = run()
    bench.write(kind, **fields)
    with pytest.raises(BadInput, match=sentence):
        runs(bench)


def test_step_that_is_not_known_and_run_beside_a_run():
    bench = run(end=False)
    bench.write("run_step", run="1", step="fly")
    with pytest.raises(BadInput, match=r'"fly" is not a step'):
        runs(bench)
    bench = run(end=False)
    bench.write("run_began", run="2")
    with pytest.raises(BadInput, match=r"Run 1 is still on"):
        runs(bench)


def test_every_required_check_has_its_step_and_the_walk_says_where_it_is():
    bench = run(end=False)
    for step in ("before", "start", "oil"):
        bench.write("run_step", run="1", step=step)
    assert runs(bench).now.next_step(run_steps()).id == "first-look"


def test_run_that_was_shut_down_is_answered_before_the_next():
    bench = run(end=False)
    bench.write("run_ended", run="1", why="no oil pressure")
    bench.write("run_began", run="2")
    with pytest.raises(BadInput, match=r"Run 1 was shut down \(no oil pressure\)"):
        runs(bench)
    bench.entries.pop()
    bench.write("run_began", run="2", note="line bled, primed again")
    assert runs(bench).now.name == "2"


def test_conditions_that_cannot_be_read_are_refused_with_the_run():
    bench = Bench()
    bench.write("run_began", run="1", **{"with": {"oat": "20"}})
    with pytest.raises(BadInput, match="says neither F nor C"):
        runs(bench)


def test_what_a_run_came_to_is_part_of_the_judged_job_and_blocks_it():
    bench = run(drop_left=("1700/1700", "TACH", {"with": {"feel": "no drop"}}))
    judged = judge(shop(), bench.entries)
    assert judged.runs.last.mags.accused == "right"
    about = [one.about for one in judged.blockers]
    assert "run:1" in about
    assert about.count("run:1") == 1


def test_something_loose_is_of_the_look_at_all_of_it_and_a_leak_of_its_own():
    bench = run(end=False)
    bench.write("seen", item="run:1", check="look", word="loose")
    one = verdict(bench)
    assert (one.call("look").call, one.call("oil_look").call) == ("NOT YET", "WITHIN")
    bench.write("seen", item="run:1", check="oil_look", word="oil_leak")
    assert verdict(bench).call("oil_look").call == "NOT YET"
    assert verdict(bench).call("fuel_look").call == "WITHIN"


def test_nothing_starts_while_anything_is_still_out():
    bench = Bench()
    bench.write("counted_out", what="blanks", number=2)
    begin = new_entry("run_began", at=START, by="ada", id="case-begin", run="1")
    with pytest.raises(NotAllowed, match="Still out: 2 blanks"):
        check_can_append([begin], bench.entries, shop())
    bench.write("counted_in", what="blanks", number=2)
    check_can_append([begin], bench.entries, shop())


WRENCH = (
    '[[meter]]\nid = "TW"\nkind = "torque wrench"\nlowest = "100 in-lb"\nhighest = "750 in-lb"\n'
    'percent_of_reading = 2\ndue = "2027-10"\n'
)


def test_nothing_starts_while_the_propeller_waits_for_its_second_look():
    known = facts(limits=LIMITS + RUN_LIMITS, meters=METERS + RUN_METERS + WRENCH)
    bench = Bench()
    bench.write("closed_short", task="H4", reason="not in this case")
    for number in range(1, 7):
        bench.write(
            "torqued", item="propeller:1", what="propeller bolts", meter="TW", of=6, task="H5",
            fasteners=[number], wanted="570 in-lb", passes=3,
        )  # fmt: skip
    begin = new_entry("run_began", at=START, by="ada", id="case-begin", run="1")
    with pytest.raises(
        NotAllowed, match=r"No start: propeller on \(H5\) waits for its second look"
    ):
        check_can_append(
            [dataclasses.replace(begin, at=bench.entries[-1].at)], bench.entries, known
        )


@pytest.mark.parametrize(
    ("came_off", "starts"), [("", True), ("2026-11-02", False), ("2026-11-03", True)]
)
def test_an_engine_off_its_airframe_does_not_start_before_its_propeller_is_on(came_off, starts):
    off = f"removed_on = {came_off}\n" if came_off else ""
    known = facts(engine=FILES["engine.toml"] + off, limits=LIMITS + RUN_LIMITS, meters=METERS)
    begin = new_entry("run_began", at=START, by="ada", id="case-begin", run="1")
    if starts:
        check_can_append([begin], [], known)
        return
    with pytest.raises(NotAllowed, match=r"No start: propeller on \(H5\) is not done\."):
        check_can_append([begin], [], known)


RADIAL = FILES["engine.toml"].replace("opposed-4", "radial-9") + 'inspect = ["cylinder"]\n'


TESTER = """
[[meter]]
id = "CT"
kind = "plus or minus"
quantity = "pressure"
accuracy = "1 psi"
resolution = "1 psi"
due = "2027-04"
"""


def radial() -> JobFacts:
    files = {**FILES, "engine.toml": RADIAL, "meters.toml": METERS + TESTER}
    return parse_files(files, "case")


def shed() -> Bench:
    """A radial engine's bench."""
    return Bench(place="1F")


def test_engine_that_oil_locks_is_not_started_before_it_is_cleared_that_day():
    bench = shed()
    begin = new_entry("run_began", at=START, by="ada", id="case-begin", run="1")
    with pytest.raises(NotAllowed, match=r"plugs out of 4F, 5F, 6F and 7F, turn the shaft by hand"):
        check_can_append([begin], bench.entries, radial())
    bench.write("done", task="C8")
    check_can_append([dataclasses.replace(begin, at=bench.entries[-1].at)], bench.entries, radial())
    day_after = dataclasses.replace(begin, at=bench.entries[-1].at + timedelta(days=1))
    with pytest.raises(NotAllowed, match="Hydraulic lock"):
        check_can_append([day_after], bench.entries, radial())


def test_lock_that_was_cleared_before_the_last_run_is_cleared_again_once_the_engine_stood():
    bench, known = shed(), radial()
    bench.write("done", task="C8")
    bench.write("run_began", run="1")
    stopped = bench.write("run_ended", run="1", engine_hours=600.1).at
    state = fold_job(known, bench.entries)
    assert state.faults == {}
    stands = timedelta(minutes=known.run_rules.standing_minutes)
    assert locked_at(stopped + stands, state, known, same_day=True) == ""
    later = stopped + stands + timedelta(minutes=1)
    assert locked_at(later, state, known, same_day=True) == lock_words(known) != ""
    assert locked_at(later, state, known, same_day=False) == lock_words(known)
    again = dataclasses.replace(bench.write("done", task="C8"), at=later)
    state = fold_job(known, [*bench.entries[:-1], again])
    assert locked_at(later, state, known, same_day=True) == ""


def test_start_against_oil_in_an_older_book_is_a_finding_on_the_rods():
    bench = shed()
    bench.write("run_began", run="1")
    said = [b.sentence for b in judge(radial(), bench.entries).blockers]
    assert any("hydraulic lock was not cleared that day" in one for one in said)


def test_reading_on_the_bench_turns_no_shaft():
    bench = shed()
    gap = bench.read("gap", "17 thou", "WG")
    assert gap.id not in fold_job(radial(), bench.entries).faults


def test_reading_that_turns_the_shaft_waits_for_hydraulic_lock():
    bench = shed()
    cold = bench.write(
        "reading", item="cylinder:4", check="compression", written="70/80 psi", meter="CT",
        **{"with": {"state": "cold, on stand"}},
    )  # fmt: skip
    faults = fold_job(radial(), bench.entries).faults
    assert "Hydraulic lock" in faults[cold.id]
    # Hot from its run it has not stood, so nothing has drained down.
    warm = dataclasses.replace(cold, data={**cold.data, "with": {"state": "hot", "minutes": "12"}})
    assert fold_job(radial(), [warm]).faults == {}


def test_layout_that_oil_does_not_lock_has_no_such_task():
    assert "C8" in radial().tasks
    assert "C8" not in shop().tasks
    assert not any("C8" in task.needs for task in shop().tasks.values())


def test_engine_fed_by_gravity_is_asked_for_what_applies():
    annual = """
[[recurring]]
id = "annual"
title = "Annual inspection"
kind = "inspection"
every_months = 12
last_on = 2025-10-01
"""
    bench = run()
    bench.write("complied", recurring="annual", on="2026-11-02")

    def asked(fed: str) -> list[str]:
        engine = FILES["engine.toml"].replace("\nlayout", f'\nfuel = "{fed}"\nlayout', 1)
        files = {**FILES, "engine.toml": engine, "recurring.toml": annual}
        files |= {"limits.toml": LIMITS + RUN_LIMITS, "meters.toml": METERS + RUN_METERS}
        judged = judge(parse_files(files, "case"), bench.entries)
        return [b.sentence for b in judged.blockers if "43.15(c)(2)" in b.sentence]

    assert asked("pump") == [
        "Annual inspection asks the ground run for fuel pressure (14 CFR 43.15(c)(2)(iii)): fuel "
        "pressure is not read."
    ]
    assert asked("gravity") == []
    with pytest.raises(BadInput, match='"fuel" is "wood"'):
        asked("wood")


def test_difference_is_not_keyed_at_any_door():
    keyed = new_entry(
        "reading", at=START, by="ada", id="case-keyed", item="run:1", check="difference",
        written="0", meter="TACH",
    )  # fmt: skip
    with pytest.raises(NotAllowed, match="Difference of the drops is worked out from the readings"):
        check_can_append([keyed], run(end=False).entries, shop())


def test_step_of_no_run_is_refused_before_it_is_kept():
    step = new_entry("run_step", at=START, by="ada", id="case-step", run="1", step="oil")
    with pytest.raises(BadInput, match="Run 1 has not begun"):
        check_can_append([step], Bench().entries, shop())


def test_each_entry_of_a_run_is_one_sentence():
    bench = run(end=False)
    bench.write("run_step", run="1", step="oil")
    bench.write("run_ended", run="1", full_temperature=True, engine_hours=1142.6)
    bench.write("p_lead", item="magneto:left", state="off", how="switch changed")
    judged = judge(shop(), bench.entries)
    said = [entry_words(e, judged) for e in bench.entries if is_a(e, AboutRun, PLeadFound)]
    assert said == [
        "Run 1 began: wind calm.",
        "Run 1: oil pressure, done.",
        "Run 1 ended at 1,142.6 h, at full temperature.",
        "Left magneto's P-lead is off (switch changed).",
    ]


def test_order_to_shut_down_is_the_sheets_own():
    assert shop().shut_down.order[0] == "Mixture to cut-off"
    own = parse_files({**FILES, "run.toml": OWN_RUN}, "case")
    assert own.shut_down.order == ("Fuel off",)
    alone = parse_files({**FILES, "run.toml": OWN_RUN.partition("[[step]]")[0]}, "case")
    assert alone.shut_down.order == ("Fuel off",)
    assert alone.run_steps == run_steps()
    with pytest.raises(BadInput, match='"shut_down" needs "order"'):
        parse_files({**FILES, "run.toml": OWN_RUN.replace("order", "whys")}, "case")


CHECKS = [check.name for check in shop().sheets["run"].checks]
OWN_RUN = (
    '[shut_down]\norder = ["Fuel off"]\n'
    '[[step]]\nid = "all"\ntitle = "All"\nsay = "All of it."\ndone = "DONE"\n'
    f"checks = {CHECKS!r}\n"
)


def test_figure_that_is_only_offered_counts_once_it_was_read():
    bounds = f'[[limit]]\nitem = "run"\ncheck = "fuel_pressure"\nlower = "20 psi"\n{SOURCE}\n'
    known = facts(limits=LIMITS + RUN_LIMITS + bounds, meters=METERS + RUN_METERS)

    def came_to(written: str | None, known: JobFacts = known) -> tuple[str, list[str]]:
        bench = run(fuel_pressure=(written, "OIL", {}))
        state = fold_job(known, bench.entries)
        items, _ = judge_items(known, state, START.date())
        found = runs_of(known, state, items)
        assert found.runs[0].verdict is not None
        said = [b.sentence for b in found.blockers if b.about == "run:1"]
        return found.runs[0].verdict.verdict, said

    assert came_to(None) == ("KEEP", [])
    assert came_to("40 psi", shop()) == ("KEEP", [])  # with no limit on file: NOT JUDGED
    assert came_to("40 psi") == ("KEEP", [])
    verdict, (said,) = came_to("20 psi")
    assert verdict == "NOT YET"
    assert "Run 1 does not stand. Missed: fuel pressure 20 psi, CLOSE CALL" in said


def test_way_out_of_a_run_that_missed_a_figure_is_to_run_again():
    [blocker] = runs(run(oil_run=("40 psi", "OIL", {}))).blockers
    assert (blocker.about, blocker.way_out) == ("run:1", "Run it again.")
