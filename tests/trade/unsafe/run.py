"""Runs that prove nothing, and what they accuse."""

from __future__ import annotations

from typing import Any

from ..finished import Case, Change, Finished

LAST, FIRST = "run:2", "run:1"


def _read(job: Finished, check: str, item: str = LAST) -> dict[str, Any]:
    return job.last("reading", check=check, item=item)


def _no_drop(job: Finished) -> None:
    _read(job, "drop_left")["written"] = "1700/1700"


def _no_drop_on_right(job: Finished) -> None:
    _read(job, "drop_right")["written"] = "1700/1700"


def _no_drop_by_feel(job: Finished) -> None:
    _read(job, "drop_left")["with"] = {"feel": "no drop"}


def _three_rpm(job: Finished) -> None:
    for side in ("left", "right"):
        _read(job, f"drop_{side}")["written"] = "1700/1697"


def _rough(job: Finished) -> None:
    _read(job, "drop_left")["with"] = {"feel": "sudden, rough"}


def _dies(job: Finished) -> None:
    _read(job, "drop_left")["with"] = {"feel": "dies"}


def _rough_at_first(job: Finished) -> None:
    _read(job, "drop_left", FIRST)["with"] = {"feel": "sudden, rough"}
    job.without("reading", item="cylinder:3", check="compression", by="marta")


def _late_at_first(job: Finished) -> None:
    _read(job, "oil_rise", FIRST)["written"] = "47 s"


def _apart_at_first(job: Finished) -> None:
    _read(job, "drop_left", FIRST)["written"] = "1700/1570"


def _runs_on_at_first(job: Finished) -> None:
    _read(job, "switch_off", FIRST)["written"] = "runs on"


def _low_oil_at_first(job: Finished) -> None:
    _read(job, "oil_run", FIRST)["written"] = "40 psi"


def _slow_at_first(job: Finished) -> None:
    for one in job.of("reading", check="static", item=FIRST):
        one["written"] = "2150"


def _fuel_leak(job: Finished) -> None:
    seen = job.last("seen", item=LAST)
    seen.update(check="fuel_look", word="fuel_leak")
    job.add("closed", after=seen, finding=seen["id"], reason="nipped up")


def _fuel_leak_dry_at_idle(job: Finished) -> None:
    seen = job.last("seen", item=LAST)
    seen.update(check="fuel_look", word="fuel_leak")
    job.add("run_began", run="3")
    job.add("reading", item="run:3", check="idle", meter="OT-1", written="650")
    job.add("seen", item="run:3", check="look", word="dry")
    job.add("run_ended", run="3")


def _oil_leak_in_an_old_book(job: Finished) -> None:
    seen = job.last("seen", item=LAST)
    seen.update(check="look", word="oil_leak")
    job.add("closed", after=seen, finding=seen["id"], reason="wiped, it was old oil")


def _timed_again(job: Finished) -> None:
    job.add("reworked", item="magneto:left", act="timed")
    job.add("reading", item="magneto:left", check="timing", meter="TL-1", written="25 deg")


def _hose_scrapped(job: Finished) -> None:
    job.add("disposed", item="hose:HS1", how="mutilated")


def _fuel_hose_replaced(job: Finished) -> None:
    job.add("replaced", item="hose:HS9", place="HS1", **{"for": "HS1"})


def _oil_hose_fitted(job: Finished) -> None:
    job.add("fitted", item="hose:HS4", place="HS4")


def _hose_of_no_known_line(job: Finished) -> None:
    job.add("fitted", item="hose:HX", place="firewall")


def _plug_changed(job: Finished) -> None:
    job.add("fitted", item="plug:L0418", place="1T")


def _plug_torqued_by_its_hole(job: Finished) -> None:
    job.add("torqued", item="hole:2B", what="spark plug 2B", meter="TW-6", done=1, of=1)


def _lead_off_again(job: Finished) -> None:
    job.add("done", task="H4", place="2B")


def _compression_after_it(job: Finished) -> None:
    first = job.last("reading", item="cylinder:3", check="compression")
    again = {k: v for k, v in first.items() if k not in ("id", "at", "kind", "by")}
    job.add("reading", **again)


def _p_lead_off_and_on(job: Finished) -> None:
    job.add("p_lead", item="magneto:right", state="off")
    job.add("p_lead", item="magneto:right", state="on")
    job.add("p_lead", item="magneto:right", state="proved dead")


def _propeller_again(job: Finished) -> None:
    old = job.last("torqued", item="propeller:1")
    again = {k: v for k, v in old.items() if k not in ("id", "at", "kind", "by")}
    job.add("torqued", **again)


def _propeller_off(job: Finished) -> None:
    job.add("started", task="H5", note="off for the spinner")


def _intake_work(job: Finished) -> None:
    job.add("started", task="F4", note="air box off")
    job.add("seen", item="intake:air box", check="look", word="sound")


def _filter_again(job: Finished) -> None:
    old = job.last("torqued", item="filter:oil")
    again = {k: v for k, v in old.items() if k not in ("id", "at", "kind", "by")}
    job.add("torqued", **again)


def _lapped_after_it(job: Finished) -> None:
    job.add("reworked", item="cylinder:2", act="lapped")


def _exhaust_crack(job: Finished) -> None:
    job.add("fitted", item="exhaust:system", place="riser 3")


def _struck_figure(job: Finished) -> None:
    job.add("struck", entry=_read(job, "drop_left")["id"], reason="keyed wrong")
    job.add("struck", entry=_read(job, "drop_left", FIRST)["id"], reason="keyed wrong")


def _struck_falls_back_on_what_is_void(job: Finished) -> None:
    # The plugs were out for the compression between the runs, so run 1's drop no longer counts.
    job.add("struck", entry=_read(job, "drop_left")["id"], reason="keyed wrong")


def _no_figure_at_all(job: Finished) -> None:
    for run in (FIRST, LAST):
        job.without("reading", item=run)


def _last_run_ends_with_none(job: Finished) -> None:
    job.without("reading", item=LAST)


def _nothing_but_a_look(job: Finished) -> None:
    _no_figure_at_all(job)
    job.without("seen", item=FIRST)


def _second_run_ticked(job: Finished) -> None:
    _without_run(job, "2")


def _first_run_ticked(job: Finished) -> None:
    _without_run(job, "1")
    _without_run(job, "2")


def _second_run_never_ended(job: Finished) -> None:
    job.without("run_ended", run="2")


def _without_run(job: Finished, name: str) -> None:
    for kind in ("reading", "seen"):
        job.without(kind, item=f"run:{name}")
    for kind in ("run_began", "run_step", "run_ended"):
        job.without(kind, run=name)


def _no_fuel_pressure(job: Finished) -> None:
    for run in (FIRST, LAST):
        job.without("reading", item=run, check="fuel_pressure")


def _fuel_pressure(written: str) -> Change:
    """It is only offered where no inspection asks for it; what was read of it counts all the same."""

    def change(job: Finished) -> None:
        job.without("complied", recurring="annual")
        job.last("reading", item="run:2", check="fuel_pressure")["written"] = written

    return change


def _no_fuel_pressure_under_a_100_hour(job: Finished) -> None:
    _no_fuel_pressure(job)
    job.replace("recurring.toml", 'title = "Annual inspection"', 'title = "100-hour inspection"')


def _no_idle(job: Finished) -> None:
    for run in (FIRST, LAST):
        job.without("reading", item=run, check="idle")


def _no_head_temperature(job: Finished) -> None:
    for run in (FIRST, LAST):
        job.without("reading", item=run, check="head_temp")


def _hot_after_four_hours(job: Finished) -> None:
    for one in job.of("reading", item="cylinder:1", check="compression"):
        if one["with"]["state"] == "hot":
            one["with"] = {**one["with"], "minutes": "240"}


def _hot_without_minutes(job: Finished) -> None:
    for one in job.of("reading", item="cylinder:2", check="compression"):
        one["with"] = {k: v for k, v in one["with"].items() if k != "minutes"}


def _hot_by_word_and_cold_by_the_clock(job: Finished) -> None:
    for one in job.of("reading", item="cylinder:3", check="compression")[-2:]:
        one["at"] = one["at"].replace("T09:", "T10:").replace("T10:", "T11:")
        one["with"] = {**one["with"], "minutes": "5"}


def _timing_apart(job: Finished) -> None:
    job.last("reading", item="magneto:left", check="timing")["written"] = "24.5 deg"
    right = job.last("reading", item="magneto:right", check="timing")
    right["written"] = "25.5 deg"
    job.add(
        "reading",
        after=right,
        item="ignition:both magnetos",
        check="timing_difference",
        meter="TL-1",
        written="0 deg",
    )


def _no_hours(job: Finished) -> None:
    for one in job.of("run_ended"):
        del one["engine_hours"]


def _hours_stand_still(job: Finished) -> None:
    for one in job.of("run_ended"):
        one["engine_hours"] = 924.8


def _one_heading(wind: str) -> Change:
    """The last run's static speed is read on 240 alone."""

    def change(job: Finished) -> None:
        job.without("reading", item=LAST, check="static", written="2274")
        _read(job, "static")["with"] = {"heading": "240"}
        began = job.last("run_began")
        began["with"] = {k: v for k, v in began["with"].items() if k != "wind"}
        if wind:
            began["with"]["wind"] = wind

    return change


def _same_heading_twice(job: Finished) -> None:
    for one in job.of("reading", item=LAST, check="static"):
        one["with"] = {"heading": "240", "wind": "240 at 6"}


def _drop_without_feel(job: Finished) -> None:
    for side in ("left", "right"):
        del _read(job, f"drop_{side}")["with"]


def _drops_from(written: str, file: str = "", old: str = "", new: str = "") -> Change:
    """Both drops of the last run are taken so, with a line of a file changed."""

    def change(job: Finished) -> None:
        for side in ("left", "right"):
            _read(job, f"drop_{side}")["written"] = written
        if file:
            job.replace(file, old, new, 3)

    return change


def _says(check: str, written: str) -> Change:
    """What the last run read of a check is this."""
    return lambda job: _read(job, check).update(written=written)


CASES = [
    Case(
        "oil pressure after no time", _says("oil_rise", "0 s"), "0 s: it is outside what is usual"
    ),
    Case("a head as cold as the day", _says("head_temp", "60 F"), "60 °F: it is outside what is"),
    Case(
        "both drops from 1,000 rpm",
        _drops_from("1000/930"),
        "taken from 1,000 rpm; the limit asks for it from 1,700 rpm",
    ),
    Case(
        "both drops from 1,000 rpm, and a limit with no speed",
        _drops_from("1000/930", "limits.toml", "at_rpm = 1700\n", ""),
        "the limit names no speed and the run card asks for it from 1,700 rpm",
    ),
    Case(
        "both drops from less than a limit of the maker's own",
        _drops_from("1700/1630", "limits.toml", "at_rpm = 1700", "at_rpm = 2000"),
        "taken from 1,700 rpm; the limit asks for it from 2,000 rpm",
    ),
    Case("both drops with no speed", _drops_from("70 rpm"), "the speed it was taken from is not"),
    Case("no engine hours keyed at either run", _no_hours, "ended with no engine hours keyed"),
    Case(
        "no engine hours keyed at the last run",
        lambda job: job.last("run_ended").pop("engine_hours"),
        "would count from the 925.2 h before it",
    ),
    Case("hours that stand still across both runs", _hours_stand_still, "where the hours stood"),
    Case(
        "hours that stand still across the last run",
        lambda job: job.last("run_ended").update(engine_hours=925.2),
        "where the hours stood",
    ),
    Case("static speed on one heading in a wind", _one_heading("250 at 7"), "the wind 250 at 7"),
    Case("static speed on one heading, no wind written", _one_heading(""), "no wind is on file"),
    Case("static speed twice on the one heading", _same_heading_twice, "one heading only"),
    Case(
        "drops taken from two speeds",
        lambda job: _read(job, "drop_left").update(written="1000/930"),
        "one drop was taken from 1,700 and one from 1,000 rpm",
    ),
    Case("drops with no word of how they felt", _drop_without_feel, "how the drop felt"),
    Case("no drop on LEFT at the last run", _no_drop, "No drop on LEFT"),
    Case("no drop on RIGHT at the last run", _no_drop_on_right, "No drop on RIGHT"),
    Case("no drop by its word, whatever was keyed", _no_drop_by_feel, "No drop on LEFT"),
    Case("3 rpm on both", _three_rpm, "3 rpm on LEFT is less than a drop is here"),
    Case("70 rpm, sudden and rough", _rough, "A sudden, rough drop of 70 rpm on LEFT"),
    Case("LEFT dies, keyed with 70 rpm", _dies, "It dies on LEFT"),
    Case(
        "rough at run 1, smooth at run 2, nothing done", _rough_at_first, "Run 1: A sudden, rough"
    ),
    Case("oil pressure at 47 s on run 1, good at run 2", _late_at_first, "47 s at run 1"),
    Case("drops apart at run 1, good at run 2", _apart_at_first, "The drops are too far apart"),
    Case("ran on at switch-off of run 1, died at run 2", _runs_on_at_first, "runs on at run 1"),
    Case("oil pressure low at run 1, good at run 2", _low_oil_at_first, "40 psi at run 1"),
    Case("static speed low at run 1, good at run 2", _slow_at_first, "at run 1, where"),
    Case("fuel leak closed 'nipped up' with no new run", _fuel_leak, "Fuel leak at run 2 is open."),
    Case("fuel leak looked at dry after idle alone", _fuel_leak_dry_at_idle, "Fuel leak at run 2"),
    Case("oil leak closed in words", _oil_leak_in_an_old_book, "is closed by a dry look"),
    Case("magneto re-timed after the run", _timed_again, "The left magneto was timed again"),
    Case(
        "fuel hose scrapped after the run", _hose_scrapped, "fuel leak look of it no longer count"
    ),
    Case("fuel hose replaced after the run", _fuel_hose_replaced, "fuel leak look of it no longer"),
    Case("oil cooler hose fitted after the run", _oil_hose_fitted, "oil leak look"),
    Case("hose of no known line after the run", _hose_of_no_known_line, "Hose HX was fitted"),
    Case("plug changed after the run", _plug_changed, "Plug L0418 was fitted"),
    Case("plug torqued again after the run", _plug_torqued_by_its_hole, "Hole 2B was torqued"),
    Case("lead off and on after the run", _lead_off_again, "Leads on at 2B was worked on"),
    Case("compression taken after the run", _compression_after_it, "with a plug out"),
    Case("P-lead off and on after the run", _p_lead_off_and_on, "had its P-lead handled"),
    Case("propeller torqued again after the run", _propeller_again, "static speed, full throttle"),
    Case("propeller off and on after the run", _propeller_off, "Propeller on was worked on"),
    Case("intake work after the run", _intake_work, "Intake was worked on"),
    Case("filter torqued again after the run", _filter_again, "oil pressure shows after"),
    Case(
        "a valve lapped after the run",
        _lapped_after_it,
        "hottest cylinder head and static speed, full throttle of it no longer count",
    ),
    Case("exhaust fitted after the run", _exhaust_crack, "exhaust and intake leak look"),
    Case("a struck figure, in both runs", _struck_figure, "Not logged: drop on left"),
    Case("a struck figure, run 1's void", _struck_falls_back_on_what_is_void, "drop on left"),
    Case("runs with no figure at all", _no_figure_at_all, "a run with no figure is no run"),
    Case("runs with a look and no figure", _nothing_but_a_look, "a run with no figure is no run"),
    Case(
        "last run ended with no reading", _last_run_ends_with_none, "ground run 2, ended and with"
    ),
    Case(
        "second run ticked with no second run", _second_run_ticked, "ground run 2, ended and with"
    ),
    Case("runs ticked with no run", _first_run_ticked, "The engine has not been run"),
    Case("second run never ended", _second_run_never_ended, "Run 2 is not ended."),
    Case(
        "fuel pressure a close call, no inspection",
        _fuel_pressure("2 psi"),
        "fuel pressure 2 psi, CLOSE CALL",
    ),
    Case("fuel pressure out, no inspection", _fuel_pressure("14 psi"), "fuel pressure 14 psi"),
    Case(
        "fuel pressure never read under an annual", _no_fuel_pressure, "fuel pressure is not read"
    ),
    Case(
        "fuel pressure never read under a 100-hour",
        _no_fuel_pressure_under_a_100_hour,
        "14 CFR 43.15(c)(2)(iii)",
    ),
    Case("idle never read under an annual", _no_idle, "idle speed is not read"),
    Case("head temperature never read", _no_head_temperature, "hottest cylinder head is not read"),
    Case("hot compression after 240 minutes", _hot_after_four_hours, "240 minutes after shut-down"),
    Case(
        "hot compression after a run that stayed cool",
        lambda job: job.of("run_ended", run="1")[0].update(full_temperature=False),
        "a run that did not reach full temperature",
    ),
    Case(
        "a master that sets no floor",
        lambda job: job.last("master").update(written="5 psi"),
        "read 5 psi on 12 Nov 2026, and a sound tester shows 25 or more",
    ),
    Case(
        "hot compression with no minutes", _hot_without_minutes, "with no minutes since shut-down"
    ),
    Case(
        "hot by its word and cold by the clock",
        _hot_by_word_and_cold_by_the_clock,
        "minutes after shut-down, and hot is 30",
    ),
    Case("timing 24.5 and 25.5, difference keyed 0", _timing_apart, "24.5 ° and 25.5 °"),
]
