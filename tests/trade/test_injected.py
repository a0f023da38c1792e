"""Magnetos inside, fuel and accessories: a job that releases, and each change of it that must not."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.job.judging import judge
from rehang.trade.telling.entry_text import draft_of
from rehang.trade.terms.errors import BadInput
from rehang.trade.work.handed_on import engine_left
from tests.trade.cast import ENGINE as FOUR
from tests.trade.cast import facts
from tests.trade.injected import ENGINE, FUEL, INSIDE, Injected, reads, timed

PROPELLER = {"item": "propeller:propeller", "place": "propeller"}


def test_an_injected_six_goes_from_receiving_to_a_record_that_says_all_of_it():
    judged = Injected().judged()
    assert [one.sentence for one in judged.blockers] == []
    states = {name: one.state for name, one in judged.work.tasks.items() if name != "H9"}
    assert set(states.values()) == {"DONE"}, states
    text = draft_of(judged, "maintenance").text
    for told in (
        "Timing: Left magneto 25.0 ° on TL-1; right magneto 25.0 ° on TL-1; difference 0.0 °",
        "Magnetos inside: Left magneto: internal timing, at the marks 11.0 ° on MB-1",
        "coil, primary 0.75 Ω on OW-1",
        "condenser 0.35 µF on CM-1",
        "Injector 3: looked at, sound, from the mean of all 1.5 % (100 mL, under the mean of 6, 101.5 mL)",
        "Vacuum pump: s/n VP-2209 with 470.0 h",
        "Propeller: s/n PR-5120, taken off 2 Nov 2026, put in 2 Nov 2026",
        "track, one blade against another 0.040 in on PT-1",
        "pressure lost in the time 0.2 psi on LP-1",
    ):
        assert told in text, told
    assert "arburettor" not in text


# What is changed, and what then must be said.
Change = Callable[[], Injected]
UNSAFE: dict[str, tuple[Change, str]] = {
    "a magneto opened and not timed again": (
        lambda: Injected("timed", "look at the timing"),
        "left is NOT YET",
    ),
    "opened again after it was timed": (
        lambda: _more(lambda w: w("reworked", item="magneto:right", act="opened")),
        "drop on left, difference of the drops and switch-off at idle of it no longer count",
    ),
    "opened again, read inside and not timed": (
        lambda: _more(lambda w: _opened_and_read(w, "right")),
        "right is NOT YET",
    ),
    "impulse coupling off, lag not read": (
        lambda: Injected(
            impulse_coupling=lambda w: w("reworked", item="magneto:left", act="impulse_off")
        ),
        "impulse coupling, lag",
    ),
    "one thing inside not read": (
        lambda: Injected(magnetos_opened=_opened_without("condenser")),
        "condenser",
    ),
    "the two magnetos timed apart": (
        lambda: Injected(timed=lambda w: timed(w, "25.6 deg", "23.9 deg")),
        "ignition both magnetos is",
    ),
    "one injector apart from its fellows": (
        lambda: _flowed(102, 101, 100, 103, 101, 80),
        "injector 6 is REWORK",
    ),
    "the odd one out, though the limit allows it": (
        lambda: _flowed(100, 100, 100, 100, 100, 96),
        "Grubbs' G 2.041 is above 1.887",
    ),
    "one injector not run": (
        lambda: _flowed(102, 101, 100, 103, 101),
        "injector 6 is NOT YET: Still to be taken: from the mean of all",
    ),
    "one cleaned, and only that one run again": (
        lambda: _more(
            lambda w: (
                w("reworked", item="injector:3", act="cleaned"),
                w("seen", item="injector:3", check="look", word="sound"),
                w("reading", item="injector:3", check="flow", written="101 mL", meter="VS-1"),
            )
        ),
        "injector 1 is NOT YET: Still to be taken: from the mean of all",
    ),
    "propeller on, its track not read": (lambda: Injected("track"), "track"),
    "propeller off and on after its track was read": (
        lambda: _more(
            lambda w: (
                w("removed", **PROPELLER),
                w("fitted", **PROPELLER, serial="PR-5120"),
            )
        ),
        "propeller is NOT YET",
    ),
    "pump pressure not read": (
        lambda: Injected(fuel=_without("fuel-pump:fuel-pump")),
        "fuel pump is NOT YET",
    ),
    "wet under power": (
        lambda: _more(
            lambda w: w("reading", item="run:2", check="fuel_power", written="wet or smelt")
        ),
        "wet or smelt",
    ),
}


def _more(step: Callable[..., object]) -> Injected:
    job = Injected()
    step(job.write)
    return job


def _opened_and_read(write: Callable[..., object], name: str) -> None:
    write("reworked", item=f"magneto:{name}", act="opened")
    reads(write, INSIDE, f"magneto:{name}")


def _opened_without(check: str) -> Callable[..., object]:
    def step(write: Callable[..., object]) -> None:
        for name in ("left", "right"):
            write("reworked", item=f"magneto:{name}", act="opened")
            reads(write, tuple(one for one in INSIDE if one[1] != check), f"magneto:{name}")

    return step


def _without(item: str) -> Callable[..., object]:
    return lambda w: reads(w, tuple(one for one in FUEL if one[0] != item))


def _flowed(*figures: int) -> Injected:
    def step(write: Callable[..., object]) -> None:
        for number in range(1, 7):
            item = f"injector:{number}"
            write("seen", item=item, check="look", word="sound")
            write("reading", item=item, check="line", written="tight, clear of edges")
        for number, figure in enumerate(figures, 1):
            write(
                "reading", item=f"injector:{number}", check="flow", written=f"{figure} mL",
                meter="VS-1",
            )  # fmt: skip

    return Injected(injectors=step)


@pytest.mark.parametrize("case", UNSAFE)
def test_one_thing_changed_keeps_it_from_service(case):
    change, said = UNSAFE[case]
    reasons = change().reasons()
    assert any(said.casefold() in one.casefold() for one in reasons), reasons


def test_a_named_person_settles_the_odd_one_with_a_reason():
    job = _flowed(100, 100, 100, 100, 100, 96)
    assert job.reasons()
    job.write(
        "closed", finding="odd-one-out:injector:6", reason="nozzle flowed alone, within its sheet"
    )
    assert job.reasons() == []


HEAT = ("run", "carb_heat")


@pytest.mark.parametrize(
    ("fuel_system", "heat", "power", "kinds"),
    [
        ("", True, False, ()),
        ("carburettor", True, True, ("fuel", "induction")),
        ("injection", False, True, ("fuel", "induction", "injector")),
    ],
)
def test_an_engine_is_asked_for_what_meters_its_fuel(fuel_system, heat, power, kinds):
    said = f'fuel_system = "{fuel_system}"\n' if fuel_system else ""
    these = facts(engine=f'{FOUR}inspect = ["intake", "control"]\n{said}')
    required = {one.name for one in these.sheets["run"].checks if one.required}
    assert ("carb_heat" in required, "fuel_power" in required) == (heat, power)
    assert ("carb_heat" in {n for step in these.run_steps for n in step.checks}) is heat
    assert these.inspect == ("intake", "control", *kinds)
    [names] = these.sheets["control"].names
    assert ("carburettor heat" in names) is heat


def test_what_meters_the_fuel_is_one_of_two_or_not_known():
    with pytest.raises(BadInput, match=r"engine.toml, line 6: .*steam.*carburettor.*injection"):
        facts(engine=f'{FOUR}fuel_system = "steam"\n')


ACCESSORY = '[[accessory]]\nkind = "vacuum-pump"\n'


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ('[[accessory]]\nkind = "magneto"\n', "is no kind of accessory"),
        (ACCESSORY * 2, "two accessories vacuum pump"),
        (f"{ACCESSORY}due_hours = 500\n", "due at 500 h by no document"),
        ('propeller = "P1"\n[[accessory]]\nkind = "propeller"\nserial = "P2"\n', "P1 and P2"),
        ('[[accessory]]\nkind = "propeller"\nname = "left"\n', "has one propeller"),
    ],
)
def test_an_accessory_that_cannot_be_is_refused(given, said):
    with pytest.raises(BadInput, match=said):
        facts(engine=FOUR + given)


@pytest.mark.parametrize(
    ("hours", "engine_hours", "left", "unknown"),
    [
        # 30 h left when the engine had 924.8; the runs took it to 925.2.
        ("470.0", "924.8", 29.6, False),
        ("499.9", "924.8", -0.3, False),
        # Without the engine's hours with them nothing can be counted.
        ("470.0", "", None, True),
    ],
)
def test_an_accessory_comes_due_by_its_own_hours(hours, engine_hours, left, unknown):
    job = Injected()
    beside = f"engine_hours = {engine_hours}\n" if engine_hours else ""
    job.files["engine.toml"] = ENGINE.replace(
        "hours = 470.0\nengine_hours = 924.8\n", f"hours = {hours}\n{beside}"
    )
    judged = job.judged()
    [due] = [one for one in judged.due if one.id == "vacuum-pump:vacuum-pump"]
    assert (due.hours_left, bool(due.unknown)) == (left, unknown)
    # It keeps the aircraft down, and no entry on other work.
    assert bool(judged.may_not_fly) is (unknown or left < 0)


def test_another_pump_has_no_hours_until_they_are_written():
    job = Injected()
    place = {"item": "vacuum-pump:vacuum-pump", "place": "vacuum-pump"}
    job.write("removed", **place)
    job.write("fitted", **place, serial="VP-9000", form="8130-3", reference="1-77")
    judged = job.judged()
    [due] = [one for one in judged.due if one.id == place["item"]]
    assert "VP-9000" in due.title and due.unknown
    told = draft_of(judged, "maintenance").text
    assert (
        "Parts off: Vacuum pump VP-2209." in told
        and "Vacuum pump (s/n VP-9000, 8130-3 no. 1-77)" in told
    )
    [left] = [
        o
        for o in engine_left(judged.facts, judged.state)["accessory"]
        if o["kind"] == "vacuum-pump"
    ]
    assert left["serial"] == "VP-9000" and "hours" not in left and left["due_hours"] == 500.0


@pytest.mark.parametrize("name", ["four", "finished", "six", "radial"])
def test_a_job_of_before_is_asked_for_nothing_new(name):
    folder = read_folder(demo_path(name))
    these = folder.facts
    new = {"F6", "F7", "F8", "G8", "H10"}
    assert not new & these.tasks.keys()
    assert not any(one.is_of_engine for one in these.sheets.values())
    judged = judge(these, folder.entries)
    assert not [
        c
        for one in judged.items
        for c in one.calls
        if c.check in ("e_gap", "fuel_power") and c.call == "NOT READ" and one.kind != "run"
    ]
    if name == "finished":
        assert judged.blockers == ()


def test_a_run_sheet_of_the_shops_own_goes_on_without_what_is_asked_since():
    own = (
        '[sheet]\nitem = "run"\none_for = "run"\n'
        '[[check]]\nname = "look"\nlabel = "Look"\nletter = "l"\nkind = "look"\n'
        '[[check]]\nname = "idle"\nlabel = "Idle"\nletter = "i"\nkind = "measure"\nquantity = "speed"\n'
    )
    these = facts(checks=own, engine=f'{FOUR}fuel_system = "injection"\n')
    assert {name for step in these.run_steps for name in step.checks} == {"look", "idle"}
