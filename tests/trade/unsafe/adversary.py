"""Changes that an experienced hand tried on the finished demo, each of another kind."""

from __future__ import annotations

from typing import Any

from ..finished import Case, Change, Finished


def _adds(kind: str, **data: Any) -> Change:
    return lambda job: job.add(kind, **data) and None


def _moved_before(job: Finished, entry: dict[str, Any], other: dict[str, Any]) -> None:
    """The entry stands before another one, at its time."""
    job.entries.remove(entry)
    entry["at"] = other["at"]
    job.entries.insert(job.entries.index(other), entry)


def _ended(**fields: Any) -> Change:
    return lambda job: job.last("run_ended", run="2").update(fields)


def _third_run_shut_down(job: Finished) -> None:
    job.add("run_began", run="3")
    job.add("run_step", run="3", step="start")
    job.add("run_ended", run="3", why="rough or loud")


def _idle_after_the_annual(job: Finished) -> None:
    job.add("run_began", run="3")
    job.add("run_step", run="3", step="start")
    job.add("reading", item="run:3", check="idle", meter="OT-1", written="650")
    job.add("run_ended", run="3", engine_hours=925.9)


def _annual_before_the_run(job: Finished) -> None:
    _moved_before(job, job.last("complied", recurring="annual"), job.of("run_began", run="1")[0])


def _without_inspector(job: Finished) -> None:
    text = job.files["people.toml"]
    start = text.index('[[person.certificate]]\nkind = "inspection authorization"')
    job.files["people.toml"] = text[:start] + text[text.index("[[person]]", start) :]


def _rag_at_the_run(job: Finished) -> None:
    out = job.last("second_look", task="H6")
    job.add("counted_out", after=out, minutes=0.1, what="rags", number=1)
    job.add("counted_in", what="rags", number=1)


def _count_before_the_rags(job: Finished) -> None:
    _moved_before(job, job.last("done", task="H6"), job.last("counted_in", what="rags"))


def _papers_of_the_plugs_on(kind: str, **fields: Any) -> Change:
    return lambda job: job.last(kind, **fields).update(reference="KS-44187")


def _timed_before_the_clamps(job: Finished) -> None:
    timing = job.last("reading", check="timing", item="magneto:left")
    _moved_before(job, timing, job.of("torqued", group="magneto", place="left")[0])


def _struck(kind: str, **fields: Any) -> Change:
    return lambda job: (
        job.add("struck", entry=job.last(kind, **fields)["id"], reason="not so, see the note")
        and None
    )


def _found_out(meter: str) -> Change:
    return _adds("found_out", meter=meter, off="6 % low", reason="as found at the laboratory")


CASES = [
    # Runs.
    Case("the last run shut down for a leak", _ended(why="leak"), "the last, was shut down: leak"),
    Case(
        "a third run shut down after a good one", _third_run_shut_down, "shut down: rough or loud"
    ),
    Case(
        "hours that jump by 50 at a run", _ended(engine_hours=975.7), "no ground run is that long"
    ),
    Case(
        "hours that jump by 10 at a run", _ended(engine_hours=935.7), "no ground run is that long"
    ),
    Case("hours that run backwards", _ended(engine_hours=900), "Hours do not run backwards"),
    Case("a third run that nobody ended", _adds("run_began", run="3"), "Run 3 is not ended"),
    # The inspection and its days.
    Case(
        "annual done two days before its run",
        lambda job: job.last("complied", recurring="annual").update(on="2026-11-10"),
        "before run 2 ended on 12 Nov 2026",
    ),
    Case("annual written before its run", _annual_before_the_run, "the run is part of it"),
    Case("run again after the annual", _idle_after_the_annual, "before run 3 ended"),
    Case(
        "annual done and nobody may sign it",
        _without_inspector,
        "nobody in the list of people has papers",
    ),
    Case(
        "annual done with an authorization out of date",
        lambda job: job.replace("people.toml", "2027-03-31", "2026-11-11"),
        "nobody in the list of people has papers",
    ),
    Case(
        "annual done with an authorization of no last day",
        lambda job: job.replace("people.toml", "valid_until = 2027-03-31\n", ""),
        "nobody in the list of people has papers",
    ),
    Case(
        "completed before the last run",
        _adds("drafted", what="maintenance:field-date", text="2026-11-10"),
        "before the last ground run ended",
    ),
    Case(
        "completed on a day to come",
        _adds("drafted", what="maintenance:field-date", text="2027-11-10"),
        "still to come",
    ),
    Case(
        "inspection completed before the last run",
        _adds("drafted", what="inspection:field-date", text="2026-11-10"),
        "before the last ground run ended",
    ),
    Case(
        "total time below what is on file",
        _adds("drafted", what="inspection:field-total", text="1,200 h"),
        "are on file",
    ),
    Case(
        "completed on a day that is none",
        _adds("drafted", what="maintenance:field-date", text="about May"),
        "is not a day",
    ),
    # Counts.
    Case("a rag out at the run", _rag_at_the_run, "went out or came in after it"),
    Case("counted in before the rags were", _count_before_the_rags, "went out or came in after it"),
    # Looks, torque and timing in their order.
    Case(
        "a look dated before its hoses went on",
        lambda job: job.last("second_look", task="G3").update(at="2026-10-12T08:00:00-05:00"),
        "The second look is dated 12 Oct 2026",
    ),
    Case(
        "a torque dated before its plug went in",
        lambda job: job.last("torqued", place="2B").update(at="2026-11-10T10:30:00-06:00"),
        "The torque is dated 10 Nov 2026, 10:30",
    ),
    Case("timed before its clamps were torqued", _timed_before_the_clamps, "it may have turned"),
    # Papers and parts.
    Case(
        "the plugs' document on the filter",
        _papers_of_the_plugs_on("fitted", item="filter:new"),
        "came with 3 and stands for 4 parts",
    ),
    Case(
        "the plugs' document on the plug from the shelf",
        _papers_of_the_plugs_on("papers", about="plug:N0704"),
        "came with 3 and stands for 4 parts",
    ),
    Case(
        "the opened filter put on again",
        lambda job: job.last("fitted", item="filter:new").update(item="filter:oil"),
        "does not go on again",
    ),
    Case("papers struck", _struck("papers", about="plug:N0704"), "no release document on file"),
    Case("an arrival struck", _struck("arrived", part="plug"), "more Plug KS-R went in than"),
    Case("a timing struck", _struck("reading", check="timing", item="magneto:left"), "left"),
    Case(
        "a bolt's torque struck", _struck("torqued", group="engine-mount"), "Engine-to-mount bolts"
    ),
    # Meters found out when all is done.
    *(
        Case(f"{meter} found out when all is done", _found_out(meter), f"{meter} was found out")
        for meter in ("TW-6", "TW-5", "DM-2", "OP-1")
    ),
    Case(
        "a calibration put in after it all",
        lambda job: job.replace(
            "meters.toml", 'due = "2027-01"', 'due = "2027-01"\nentered_on = 2026-11-20'
        ),
        "DM-2 has no calibration on record",
    ),
    # What only doors were held to.
    Case(
        "fewer than none arrived",
        _adds("arrived", part="gasket-plug", number=-3),
        "-3 of Copper plug gasket cannot be",
    ),
    Case("a part that is none", _adds("used", part="nothing", number=1), 'no part "nothing"'),
    Case("a sentence of no record", _adds("drafted", what="logbook:x", text="y"), "not a record"),
    Case(
        "a plan that nobody can read",
        _adds("planned", starts={"H1": "soon"}),
        'The start of H1 is "soon"',
    ),
    Case("a day wanted that is none", _adds("wanted", on="soon"), '"soon" is not a date'),
    # Parts that come to grief when all is done.
    Case("a plug dropped in its hole", _adds("dropped", item="plug:L0418"), "L0418"),
    Case("a plug overheated", _adds("overheated", item="plug:L0411"), "L0411"),
    Case("a hose whose past is unknown", _adds("unknown_history", item="hose:HS1"), "HS1"),
    Case(
        "a gap set again and not read",
        _adds("reworked", item="plug:L0411", act="regap"),
        "L0411",
    ),
    Case("a cylinder taken off", _adds("removed", item="cylinder:2", place="2"), "cylinder 2"),
    Case("a lead taken off", _adds("removed", item="lead:2B", place="2B"), "lead 2B"),
    Case(
        "a streamer put on again", _adds("flagged", what="red streamer", place="pitot"), "streamer"
    ),
]
