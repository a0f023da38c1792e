"""Torque: wrong, unproved, on the wrong thing, too soon, or missing (DESIGN 4b, 4 and 5)."""

from __future__ import annotations

from typing import Any

from ..finished import Case, Finished

PLUG = "plug of hole 1T"
# The file's own words of the large wrench, for the cases that change it.
TW_6 = 'lowest = "100 in-lb"\nhighest = "750 in-lb"\npercent_of_reading = 4\n'


def _plug(job: Finished) -> dict[str, Any]:
    return job.last("torqued", what=PLUG)


def _set(job: Finished, **data: Any) -> None:
    one = _plug(job)
    one.update(data)
    for key in [k for k, v in one.items() if v is None]:
        del one[key]


def _drop_limit(job: Finished, check: str) -> None:
    text = job.files["limits.toml"]
    at = text.index(f'check = "{check}"')
    start = text.rindex("[[limit]]", 0, at)
    end = text.find("[[limit]]", at)
    job.files["limits.toml"] = text[:start] + (text[end:] if end > 0 else "")


def _before_the_look(group: str, task: str) -> Any:
    def change(job: Finished) -> None:
        looks = job.of("second_look", task=task)
        torqued = job.of("torqued", group=group)
        for look in looks:
            job.entries.remove(look)
        job.entries.insert(job.entries.index(torqued[-1]) + 1, looks[-1])
        looks[-1]["at"] = torqued[-1]["at"]

    return change


def _one_missing(job: Finished) -> None:
    gone = job.of("torqued", group="propeller", fasteners=[4])[-1]
    job.entries.remove(gone)


def _engine_mount_never_torqued(job: Finished) -> None:
    job.without("torqued", group="engine-mount")


def _engine_mount_never_looked_at(job: Finished) -> None:
    job.without("second_look", task="G7")


def _only_the_sixth(job: Finished) -> None:
    for number in range(1, 6):
        job.without("torqued", group="propeller", fasteners=[number])


def _no_card(job: Finished) -> None:
    job.files["torque.toml"] = '[[group]]\nid = "propeller"\nleave_out = true\n'
    job.without("torqued", group="propeller")


def _refitted(job: Finished) -> None:
    job.add(
        "fitted",
        after=_plug(job),
        minutes=0.2,
        item=job.last("fitted", place="1T")["item"],
        place="1T",
    )


def _reworked(job: Finished) -> None:
    job.add(
        "reworked",
        after=job.of("torqued", group="magneto")[-1],
        minutes=0.1,
        item="magneto:left",
        act="timed",
    )


def _on_the_ohmmeter(job: Finished) -> None:
    job.add(
        "torqued",
        item="meter:DM-2",
        what="ohmmeter",
        meter="TW-6",
        done=1,
        of=1,
        wanted="700 in-lb",
    )


def _words(job: Finished, old: str, new: str) -> None:
    job.replace("meters.toml", old, new, -1)


def _out_of_date(job: Finished) -> None:
    text = job.files["meters.toml"]
    at = text.index('id = "TW-6"')
    job.files["meters.toml"] = text[:at] + text[at:].replace('due = "2027-06"', 'due = "2026-10"')


def _found_out(job: Finished) -> None:
    job.add(
        "found_out",
        meter="TW-6",
        reason="12 % low at 300 in-lb, Bay Calibration",
        good="2026-10-01",
    )


def _out_and_closed_short(job: Finished) -> None:
    one = job.last("torqued", group="mount")
    one["wanted"] = "600 in-lb"
    job.add("closed_short", task="G1", reason="the bolts are tight")


def _look_struck(job: Finished) -> None:
    job.add("struck", entry=job.last("second_look", task="G7")["id"], reason="not seen after all")


def _begun_after_the_look(job: Finished) -> None:
    job.add("started", after=job.last("second_look", task="G7"), minutes=0.1, task="G7")


def _tester(job: Finished) -> None:
    job.replace(
        "meters.toml", f'kind = "torque wrench"\n{TW_6}resolution = "5 in-lb"', 'kind = "tester"'
    )


def _coarse(job: Finished) -> None:
    job.replace(
        "meters.toml", TW_6, TW_6.replace("percent_of_reading = 4", "percent_of_reading = 8")
    )


def _close_call_called_out(job: Finished) -> None:
    _coarse(job)
    for one in job.of("torqued", meter="TW-6"):
        job.add("called", entry=one["id"], call="WITHIN", reason="its certificate says 1 %")
    job.of("called", entry=_plug(job)["id"])[-1]["call"] = "OUT"


def _words_of_another_task(job: Finished) -> None:
    entry = job.last("torqued", task="H5")
    del entry["group"]
    entry["task"] = "H4"


CASES = [
    Case("600 in-lb on a plug that takes 370 to 410", lambda j: _set(j, set_to="500 in-lb"), "600 in-lb arrived"),
    Case("600 in-lb with no adapter", lambda j: _set(j, set_to="600 in-lb", adapter=None), "370 to 410 in-lb is asked for"),
    Case("a torque too low", lambda j: _set(j, set_to="250 in-lb"), "torque is OUT. 300 in-lb arrived"),
    Case("390 set on a 10 + 2 adapter", lambda j: _set(j, set_to="390 in-lb"), "468 in-lb arrived"),
    Case("390 wanted on an adapter and no setting", lambda j: _set(j, set_to=None), "torqued with no value"),
    Case("a torque with no value", lambda j: _set(j, set_to=None, wanted=None), "torqued with no value"),
    Case("a torque of nothing", lambda j: _set(j, set_to="0 in-lb"), "is none"),
    Case("drag that takes part of the torque", lambda j: _set(j, drag="60 in-lb"), "330 in-lb arrived"),
    Case("an adapter that nearly cancels the lever",
         lambda j: _set(j, adapter={"arm_in": 10, "length_in": 20, "angle_deg": 119.99}), "leaves none of the lever"),
    Case("an adapter that reaches behind the hand",
         lambda j: _set(j, adapter={"arm_in": 10, "length_in": 20, "angle_deg": 180}), "leaves none of the lever"),
    Case("an adapter of no length at all", lambda j: _set(j, adapter={"arm_in": 0, "length_in": 2}), "above 0"),
    Case("mount bolts with no range on file", lambda j: _drop_limit(j, "mount_torque"), "no range on file"),
    Case("plugs with a range that names no document",
         lambda j: j.replace("limits.toml", 'upper = "410 in-lb"\ndocument = "TV4 manual (invented)"\n', 'upper = "410 in-lb"\n'),
         "the range on file names no source"),
    Case("a plug range of one figure",
         lambda j: j.replace("limits.toml", 'lower = "370 in-lb"\nupper = "410 in-lb"\n', 'lower = "390 in-lb"\nupper = "390 in-lb"\n'),
         "390 to 390 in-lb is no range"),
    Case("a wrench whose range begins above the setting",
         lambda j: j.replace("meters.toml", 'lowest = "100 in-lb"', 'lowest = "400 in-lb"'), "TW-6 goes from 400 to 750 in-lb"),
    Case("a wrench of another kind with no range on file",
         lambda j: j.replace("meters.toml", f'kind = "torque wrench"\n{TW_6}', 'kind = "plus or minus"\nquantity = "torque"\naccuracy = "5 in-lb"\n'),
         "without its range and accuracy"),
    Case("a group of no task that nobody torqued",
         lambda j: j.files.update({"torque.toml": '[[group]]\nid = "carb"\ntitle = "Carburettor nuts"\nlimit = "carb_torque"\nnumber = 4\nfastener = "nut"\n'}),
         "Carburettor nuts: none of 4 nuts torqued"),
    Case("a plug range with no upper end",
         lambda j: j.replace("limits.toml", 'lower = "370 in-lb"\nupper = "410 in-lb"\n', 'lower = "370 in-lb"\n'),
         "370 in-lb or more is no range"),
    Case("a plug range with no lower end",
         lambda j: j.replace("limits.toml", 'lower = "370 in-lb"\nupper = "410 in-lb"\n', 'upper = "410 in-lb"\n'),
         "410 in-lb or less is no range"),
    Case("a torque that is out and its task closed short", _out_and_closed_short, "torque is OUT. 600 in-lb arrived"),
    Case("the look before the torque struck", _look_struck, "after a second person has looked"),
    Case("the look before the torque given by who torqued", lambda j: j.last("second_look", task="G7").update(by="marta"),
         "after a second person has looked"),
    Case("engine-to-mount bolts begun again after their look", _begun_after_the_look, "after a second person has looked"),
    Case("900 in-lb with an ohmmeter", lambda j: _set(j, meter="DM-2", set_to="900 in-lb"), "DM-2 is not a torque wrench"),
    Case("700 in-lb on an ohmmeter", _on_the_ohmmeter, "has no torque card"),
    Case("a torque on a group that is not there", lambda j: _set(j, group="crankcase"), 'no torque card "crankcase"'),
    Case("a plug's torque on a cylinder", lambda j: _set(j, item="hose:HS1"), "has no torque card"),
    Case("a plug's torque at a hole that is not there", lambda j: _set(j, place="9T", item="hole:9T"), "torqued hole by hole"),
    Case("frame bolts torqued before the look", _before_the_look("mount", "G1"), "after a second person has looked"),
    Case("engine-to-mount bolts torqued before the look", _before_the_look("engine-mount", "G7"), "after a second person has looked"),
    Case("engine-to-mount bolts never torqued", _engine_mount_never_torqued, "Engine-to-mount bolts: 0 of 4 bolts torqued"),
    Case("engine-to-mount bolts never looked at", _engine_mount_never_looked_at, "the engine-to-mount bolts, before they are torqued"),
    Case("engine-to-mount bolts with no range on file", lambda j: _drop_limit(j, "engine_mount_torque"), "no range on file"),
    Case("passes written as 3 unasked", lambda j: _set(j, passes=3), "3 passes are written; the card asks for 1"),
    Case("fewer passes than asked", lambda j: j.last("torqued", group="propeller").update(passes=1), "3 are asked for"),
    Case("passes not written", lambda j: j.last("torqued", group="mount").pop("passes"), "passes are not written"),
    Case("one of six propeller bolts missing", _one_missing, "Propeller on"),
    Case("the sixth bolt alone", _only_the_sixth, "Propeller on"),
    Case("a sixth bolt of four", lambda j: j.last("torqued", group="mount").update(fasteners=[6], of=6), "the card has 4 bolts"),
    Case("one magneto clamp nut missing", lambda j: j.without("torqued", group="magneto", fasteners=[2], place="left"),
         "not torqued: nut 2 of magneto left"),
    Case("the drain plug never torqued", lambda j: j.without("torqued", group="drain"), "Oil drain plug: not torqued"),
    Case("exhaust nuts never torqued", lambda j: j.without("torqued", group="exhaust"), "none of 8 nuts torqued"),
    Case("a wrench out of date", _out_of_date, "TW-6 was past its calibration date"),
    Case("a wrench found out of tolerance", _found_out, "TW-6 was found out of tolerance"),
    Case("a wrench whose range ends below the setting", lambda j: _set(j, meter="TW-5"), "TW-5 goes from 20 to 100 in-lb"),
    Case("a wrench on file as a tester", _tester, "without its range and accuracy"),
    Case("a wrench too coarse to tell", _coarse, "so it cannot tell"),
    Case("a close call that a person called OUT", _close_call_called_out, "called OUT by Marta"),
    Case("a torque by words of another task", _words_of_another_task, "has no torque card"),
    Case("a task with fasteners and no card", _no_card, "has 6 bolts and no torque card"),
    Case("a plug put in again after its torque", _refitted, "after it was torqued"),
    Case("a plug put in again stands as not torqued", _refitted, "Plugs in, hole 1T: 0 of 1 plug torqued"),
    Case("a magneto timed again after its clamps", _reworked, "after it was torqued"),
]  # fmt: skip
