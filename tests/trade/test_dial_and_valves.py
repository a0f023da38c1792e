"""Crank, cam and valves: dial figures round a turn, the odd lobe out, reamed and read again."""

from __future__ import annotations

import pytest

from rehang.sheets import check_sheets, reasons, task_sheet
from rehang.trade.facts.meters import meter_from
from rehang.trade.facts.readings import read
from rehang.trade.job.judging import JudgedJob
from rehang.trade.terms.errors import BadInput
from rehang.trade.verdicts.round_turn import round_turn

from .one_off import FILES, OneOff, limit

RUNOUT = check_sheets()["crankshaft"].check("runout")
DIAL = meter_from(
    {"id": "DI", "kind": "plus or minus", "quantity": "length", "use": "dial", "accuracy": "0.0005 in"}
)  # fmt: skip
# A wave of 2 thou either way, highest at the third figure: worked by hand.
BENT = "0 1.4 2 1.4 0 -1.4 -2 -1.4"


@pytest.mark.parametrize(
    ("written", "dial", "value"),
    [
        (BENT, "", 40),
        (BENT, "stands still", 40),
        # Worked by hand: of 1.4 for 1.41421 a hundredth of a thou is left, a whole step up.
        (BENT, "carried round", 1),
        ("0 0 0 0 0 0 0 3", "stands still", 30),
        # The same in inches; a comma between is none, and a true minus is one.
        (".000 .0014 .002 .0014 0 \u2212.0014 \u2212.002 \u2212.0014 in", "stands still", 40),
        ("0 0 0 0 0 0 0 0", "carried round", 0),
    ],
)
def test_what_is_judged_is_how_far_the_figures_range(written, dial, value):
    given = {"dial": dial} if dial else {}
    assert read(RUNOUT, written, DIAL, conditions=given).value == value


def test_once_a_turn_stands_apart_from_what_is_left():
    turn = round_turn(read(RUNOUT, "0.5 1 2.5 1.5 1 -2 -1 -0.5", DIAL), RUNOUT)
    assert turn is not None and turn.points[2] == 2.5
    assert "It ranges over 4.5 thou." in turn.words and "the shaft's own" in turn.words
    carried = round_turn(read(RUNOUT, BENT, DIAL, conditions={"dial": "carried round"}), RUNOUT)
    assert carried is not None and carried.high_at == 90
    assert "Once a turn: 2.0 thou either way, highest at 90°" in carried.words
    assert "how it was set up" in carried.words
    assert round_turn(read(RUNOUT, "-"), RUNOUT) is None


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("0 1 2", 'Flange run-out takes 8 figures, a space between.*"0 1 2" has 3'),
        ("0 1 2 1 0 1 2 1 0", "has 9"),
        ("0 1 2 x 0 1 2 1", "is not a length"),
        ("0 1 2 1 0 1 2 1 psi", 'has the unit "psi"'),
    ],
)
def test_what_is_no_turn_of_the_dial_is_refused(written, said):
    with pytest.raises(BadInput, match=said):
        read(RUNOUT, written, DIAL)


def bench(*kinds: str, limits: str = "", why: str = "crank, cam or gears") -> OneOff:
    """The six as received, for a reason whose tasks are read on those kinds."""
    job = OneOff(until="as received")
    named = ", ".join(f'"{one}"' for one in kinds)
    job.files["engine.toml"] = f'purpose = "{why}"\n' + FILES["engine.toml"].replace(
        '"intake"]', f'"intake", {named}]'
    )
    # A job that was begun for a reason has it on file.
    job.files["reasons.toml"] = f'[[reason]]\nid = "{why}"\ntasks = {list(reasons()[why].tasks)}\n'
    job.files["limits.toml"] += limits
    return job


def called(judged: JudgedJob, item: str, check: str) -> str:
    call = judged.item(item).call(check)
    assert call is not None
    return call.call


@pytest.mark.parametrize(
    ("written", "call"), [("0 1 1.5 1 0 -1 -1.5 -1", "WITHIN"), ("0 3 4 3 0 -3 -4 -3", "OUT")]
)
def test_the_flange_is_called_by_the_shops_limit(written, call):
    job = bench("crankshaft", limits=limit("crankshaft", "runout", 'upper = "0.005 in"'))
    job.write("reading", item="crankshaft:flange", check="runout", written=written, meter="DI-1")
    judged = job.judged()
    assert called(judged, "crankshaft:flange", "runout") == call
    found = judged.item("crankshaft:flange").call("runout")
    assert found is not None and "Once a turn" in found.sentence
    # OUT, it is a reject: nothing that is done in the shop makes a flange straight.
    assert judged.item("crankshaft:flange").verdict == ("REJECT" if call == "OUT" else "NOT YET")


def test_without_a_limit_it_is_measured_and_not_judged():
    job = bench("crankshaft")
    job.write("reading", item="crankshaft:flange", check="runout", written=BENT, meter="DI-1")
    assert called(job.judged(), "crankshaft:flange", "runout") == "NOT JUDGED"
    assert any("run-out is measured and not judged" in one for one in job.reasons())


def test_a_lobe_below_its_fellows_asks_for_a_decision_whatever_its_limit():
    limits = "".join(limit("cam", f"lift_{v}", 'lower = "0.200 in"') for v in ("intake", "exhaust"))
    job = bench("cam", limits=limits + limit("cam", "look", "worst = 1"))
    for one in map(str, range(1, 7)):
        job.write("seen", item=f"cam:{one}", check="look", word="bright")
        for valve, lift in (("intake", "0.266"), ("exhaust", "0.271")):
            low = "0.252" if (one, valve) == ("4", "exhaust") else lift
            job.write(
                "reading",
                item=f"cam:{one}",
                check=f"lift_{valve}",
                written=f"{low} in",
                meter="DI-1",
            )
    verdicts = {one.name: one for one in job.judged().items if one.kind == "cam"}
    assert {name: one.verdict for name, one in verdicts.items()} == {
        **dict.fromkeys("12356", "KEEP"), "4": "NOT YET",
    }  # fmt: skip
    assert "below" in verdicts["4"].because


def test_wobble_is_read_reamed_and_read_again():
    bounds = 'lower = "0.004 in"\nupper = "0.020 in"'
    limits = "".join(limit("valve", f"wobble_{v}", bounds) for v in ("intake", "exhaust"))
    job = bench(
        "valve", limits=limits + limit("valve", "look", "worst = 1"), why="valves and guides"
    )

    def wobble(valve: str, thou: int) -> None:
        job.write(
            "reading", item="valve:3", check=f"wobble_{valve}", written=f"{thou} thou", meter="DI-1"
        )

    job.write("seen", item="valve:3", check="look", word="even")
    wobble("intake", 11)
    wobble("exhaust", 2)
    assert job.judged().item("valve:3").verdict == "REWORK"
    # Read again without work it stays out.
    wobble("exhaust", 9)
    assert job.judged().item("valve:3").verdict == "REWORK"
    job.write("reworked", item="valve:3", act="reamed_exhaust")
    judged = job.judged()
    assert called(judged, "valve:3", "wobble_exhaust") == "VOID"
    assert called(judged, "valve:3", "wobble_intake") == "WITHIN"
    wobble("exhaust", 9)
    job.write("seen", item="valve:3", check="look", word="even")
    assert job.judged().item("valve:3").verdict == "KEEP"
    # With the cylinder off, its valves are read anew.
    job.write("removed", item="cylinder:3", place="3")
    assert called(job.judged(), "valve:3", "wobble_intake") == "VOID"


def test_kinds_that_a_job_names_come_with_the_reason_that_opens_their_work():
    sheets, tasks = check_sheets(), task_sheet()
    named = {kind for kind, one in sheets.items() if one.by_name}
    assert named == {"valve", "crankshaft", "cam", "gear", "spline"}
    opened = {task for one in reasons().values() for task in one.tasks}
    asked = {kind for name in opened for kind, _ in tasks[name].answers}
    assert named <= asked
    assert not {"V1", "V2", "K1", "K2", "K3"} & set(OneOff().judged().facts.tasks)
    assert {"V1", "V2"} <= set(bench("valve", why="valves and guides").judged().facts.tasks)


def test_the_rope_has_its_steps_and_its_cautions():
    one = task_sheet()["V1"]
    assert "rope" in " ".join(one.steps) and len(one.steps) > 4
    assert any("propeller moves as the rope gives" in said for said in one.cautions)
    assert one.source == "common practice, no source"
