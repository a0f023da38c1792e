"""Ground runs as lists of entries. What a drop means is a table of the trade (common practice, no
source, but for AC 43.13-1B 8-2a and the FAA powerplant handbook's ignition checks)."""

from __future__ import annotations

import pytest

from rehang.sheets import run_steps
from rehang.sheets.folder import parse_files
from rehang.trade.entries import new_entry
from rehang.trade.errors import BadInput, NotAllowed
from rehang.trade.facts import JobFacts
from rehang.trade.judging import judge
from rehang.trade.rules import check_can_append
from rehang.trade.runs import RUN_KINDS, Runs, mag_check, runs_of, stop_after
from rehang.trade.telling import entry_words
from rehang.trade.verdict import ItemVerdict, fold_job, judge_items

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
    bench.write("run_began", run=name, **{"with": {"wind": "230 at 6"}})
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
        "70 rpm on LEFT and 80 rpm on RIGHT, smooth: nothing is accused.",
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
    assert verdict(run(drop_right=("1700/1552", "TACH", {}))).call("drop_right").call == "WITHIN"
    assert (
        verdict(run(drop_right=("1700/1550", "TACH", {}))).call("drop_right").call == "CLOSE CALL"
    )
    assert verdict(run(drop_right=("1700/1548", "TACH", {}))).call("drop_right").call == "OUT"


def test_difference_of_drops_is_worked_out_and_judged():
    one = verdict(run(drop_right=("1700/1580", "TACH", {}), drop_left=("1700/1640", "TACH", {})))
    difference = one.call("difference")
    assert (difference.value, difference.call) == (60, "OUT")
    assert "120 and 60 rpm" in difference.sentence
    half = verdict(run(drop_left=(None, "", {})))
    assert half.call("difference").call == "NOT READ"


def test_static_speed_is_the_mean_of_two_opposite_headings():
    bench = run(end=False)
    bench.write(
        "reading", item="run:1", check="static", written="2236", meter="TACH",
        **{"with": {"heading": "060"}},
    )  # fmt: skip
    static = verdict(bench).call("static")
    assert (static.value, static.call) == (2263, "WITHIN")
    assert "mean of 2,290 on 240° and 2,236 on 060°" in static.record


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


def test_second_run_stands_in_for_the_first_and_open_findings_stay():
    bench = run(oil_run=("95 psi", "OIL", {}))
    bench.write("seen", item="run:1", check="look", word="oil_leak")
    assert runs(bench).blockers
    run("2", bench=bench)
    [blocker] = runs(bench).blockers
    assert blocker.sentence == "Oil leak at run 1 is open."
    leak = next(e for e in bench.entries if e.kind == "seen" and e.get("word") == "oil_leak")
    bench.write("closed", finding=leak.id, reason="cooler hose nipped up, dry at run 2")
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


def test_nothing_starts_while_anything_is_still_out():
    bench = Bench()
    bench.write("counted_out", what="blanks", number=2)
    begin = new_entry("run_began", at=START, by="ada", id="case-begin", run="1")
    with pytest.raises(NotAllowed, match="Still out: 2 blanks"):
        check_can_append([begin], bench.entries, shop())
    bench.write("counted_in", what="blanks", number=2)
    check_can_append([begin], bench.entries, shop())


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
    said = [entry_words(e, judged) for e in bench.entries if e.kind in (*RUN_KINDS,)]
    assert said == [
        "Run 1 began: wind 230 at 6.",
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
