"""What one part says of another, and metal that is counted: none of it goes away with the part."""

from __future__ import annotations

from ..finished import Case, Change, Finished


def _came_out(word: str, **more: object) -> Change:
    """L0412, which is rejected and replaced all the same, came out of 1B as that word says."""

    def change(job: Finished) -> None:
        entry = job.of("seen", item="plug:L0412")[0]
        entry.pop("severity", None)
        entry |= {"word": word, **more}

    return change


def _closed_without_a_look(word: str) -> Change:
    def change(job: Finished) -> None:
        _came_out(word)(job)
        # After the last look into cylinder 1 nobody looked again.
        seen = job.of("seen", item="plug:L0412")[0]
        job.without("seen", item="cylinder:1")
        # The one before it came out says nothing of what came out.
        earlier = job.entries[job.entries.index(seen) - 1]
        job.add("seen", after=earlier, minutes=0.5, item="cylinder:1", check="look", word="even")
        job.add("closed", finding=f"{seen['id']}:cylinder", reason="ok")

    return change


def _closed_by_the_look_that_found_it(job: Finished) -> None:
    """The look into the cylinder is of the very moment at which the plug was seen."""
    _closed_without_a_look("blistered")(job)
    seen = job.of("seen", item="plug:L0412")[0]
    job.last("seen", item="cylinder:1")["at"] = seen["at"]
    entries = job.entries
    look = job.last("seen", item="cylinder:1")
    entries.remove(look)
    entries.insert(entries.index(seen) + 1, look)


def _found_somewhere_blank(job: Finished) -> None:
    _closed_without_a_look("missing")(job)
    job.last("closed")["found"] = "  "


def _missing_told_as_a_crack(job: Finished) -> None:
    _came_out("crack", note="nose chip missing, not found")(job)


def _blistered_made_light(job: Finished) -> None:
    job.of("seen", item="plug:L0412")[0] |= {"word": "blistered", "severity": 0}


def _counted(**figures: object) -> Change:
    def change(job: Finished) -> None:
        entry = job.last("counted", item="filter:oil")
        entry.update(figures)
        for name in [one for one, value in figures.items() if value is None]:
            del entry[name]

    return change


def _many_pieces_few_glints(job: Finished) -> None:
    _counted(pieces=220, magnetic=160, largest_mm=4)(job)
    seen = job.of("seen", item="filter:oil")
    for one in seen:
        one["word"] = "glints"
        one.pop("severity", None)


def _nothing_seen_and_counted(job: Finished) -> None:
    for one in job.of("seen", item="filter:oil"):
        one["word"] = "clean"
        one.pop("severity", None)


def _magnetic_seen_and_none_counted(job: Finished) -> None:
    _counted(magnetic=0)(job)


def _metal_in_the_screen_uncounted(job: Finished) -> None:
    seen = job.of("seen", item="screen:suction")[0]
    seen |= {"word": "metal", "severity": 2}
    for finding in (seen["id"], f"{seen['id']}:engine"):
        job.add("closed", finding=finding, reason="gasket foil")


def _no_decision(job: Finished) -> None:
    count = job.last("counted", item="filter:oil")
    job.without("called", entry=count["id"])


def _counted_down(job: Finished) -> None:
    """A second, lower count does not take back the first."""
    _no_decision(job)
    count = job.last("counted", item="filter:oil")
    lower = job.add("counted", after=count, item="filter:oil", pieces=1, magnetic=0, largest_mm=0.1)
    job.add("called", after=lower, entry=lower["id"], call="WITHIN", reason="one glint, agreed")


def _with_limit(job: Finished) -> None:
    _no_decision(job)
    job.files["limits.toml"] += (
        '\n[[limit]]\nitem = "filter"\ncheck = "magnetic"\nupper = "0 pieces"\n'
        'document = "TV4 manual (invented)"\nrevision = "6"\npage = "4-3"\n'
        'entered_by = "marta"\nentered_on = 2026-10-05\n'
    )


def _metal(word: str, item: str = "filter:oil") -> Change:
    def change(job: Finished) -> None:
        entry = job.of("seen", item=item)[0]
        entry |= {"word": word, "severity": 3}
        # A new filter or screen in its place clears the old one and says nothing of the engine.
        kind = item.partition(":")[0]
        job.add("disposed", item=item, how="mutilated")
        job.add("replaced", item=f"{kind}:fresh", place="oil", **{"for": item.partition(":")[2]})
        job.add("seen", item=f"{kind}:fresh", check="look", word="clean")

    return change


def _crack_of_no_sheet(job: Finished) -> None:
    job.add("seen", item="bracket:1", word="crack", severity=3)


def _resistor_reads(plug: str, written: str = "0.3 kohm") -> Change:
    return lambda job: job.last("reading", check="resistance", item=plug).update(written=written)


def _read_lower_after_it_was_settled(job: Finished) -> None:
    first = job.last("reading", check="resistance", item="plug:L0411")
    first["written"] = "0.33 kohm"
    closed = job.add(
        "closed",
        after=first,
        minutes=0,
        finding="odd-one-out:plug:L0411",
        reason="another make, its own sheet says so",
    )
    again = {k: v for k, v in first.items() if k not in ("id", "at", "kind", "by")}
    job.add("reading", after=closed, minutes=0.1, **(again | {"written": "0.2 kohm"}))


CASES = [
    Case("a resistor far below its fellows", _resistor_reads("plug:L0411"), "far below its"),
    Case("a new plug's resistor far below", _resistor_reads("plug:N0701"), "far below its fellows"),
    Case(
        "a resistor read lower once it was settled",
        _read_lower_after_it_was_settled,
        "Resistance 0.20 kΩ is far below its fellows",
    ),
    Case("a crack in a part that no sheet is of", _crack_of_no_sheet, "bracket 1 is a REJECT"),
    Case("white and blistered, new plug in", _came_out("blistered"), "cylinder 1 is NOT YET"),
    Case("copper run-out, new plug in", _came_out("copper"), "cylinder 1 is NOT YET"),
    Case("nose bent or struck, new plug in", _came_out("struck"), "cylinder 1 is NOT YET"),
    Case("piece missing, new plug in", _came_out("missing"), "cylinder 1 is a REJECT"),
    Case("a missing chip told as a crack", _missing_told_as_a_crack, 'the word "missing"'),
    Case("blistered at severity 0", _blistered_made_light, "goes with severity 3"),
    *(
        Case(f"{word} closed with ok and no look", _closed_without_a_look(word), "look")
        for word in ("blistered", "copper", "struck", "missing")
    ),
    Case(
        "blistered closed by the look that found it",
        _closed_by_the_look_that_found_it,
        "after it was",
    ),
    Case("missing piece found nowhere in words", _found_somewhere_blank, '"found" of an entry'),
    Case("220 pieces, few glints", _many_pieces_few_glints, "160 magnetic"),
    Case("pieces counted and nothing seen", _nothing_seen_and_counted, "called nothing seen"),
    Case("magnetic slivers and none counted", _magnetic_seen_and_none_counted, "0 magnetic"),
    Case(
        "metal in the screen and not counted",
        _metal_in_the_screen_uncounted,
        "Still to be taken: pieces",
    ),
    Case("magnetic pieces, no limit and no decision", _no_decision, "no limit on file"),
    Case("a lower count after a higher", _counted_down, "no limit on file"),
    Case("magnetic pieces over the maker's limit", _with_limit, "0 pieces or less"),
    Case("pieces counted and their size not", _counted(largest_mm=None), "Largest piece"),
    Case("magnetic slivers, new filter in", _metal("magnetic"), "engine inside"),
    Case("silver metal, new filter in", _metal("silver"), "engine inside"),
    Case("bronze, new filter in", _metal("bronze"), "engine inside"),
    Case("metal in the screen", _metal("metal", "screen:suction"), "engine inside"),
]
