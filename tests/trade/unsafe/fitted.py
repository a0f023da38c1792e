"""What is fitted: a place without its one part, a part without a past, papers that say nothing."""

from __future__ import annotations

from typing import Any

from ..finished import Case, Finished


def _in(job: Finished, hole: str) -> dict[str, Any]:
    """The entry that put the plug into a hole last."""
    return job.last("fitted", place=hole)


def _drop(job: Finished, entry: dict[str, Any]) -> None:
    job.entries = [one for one in job.entries if one["id"] != entry["id"]]


def _mutilated(job: Finished) -> None:
    _in(job, "1T")["item"] = "plug:L0412"


def _reject_kept(job: Finished) -> None:
    # L0411 breaks after it went in, and stays in its hole.
    job.add("seen", after=job.last("run_ended"), item="plug:L0411", word="crack", severity=3)


def _never_seen(job: Finished) -> None:
    _in(job, "1T")["item"] = "plug:K9999"


def _no_serial(job: Finished) -> None:
    _in(job, "1T")["item"] = "plug:unknown"


def _two_holes(job: Finished) -> None:
    _in(job, "3B")["item"] = "plug:L0418"


def _two_in_a_hole(job: Finished) -> None:
    _in(job, "3B")["place"] = "1B"


def _one_for_two(job: Finished) -> None:
    old = job.last("replaced", **{"for": "L0413"})
    job.entries = [
        one for one in job.entries if "plug:N0704" not in (one.get("item"), one.get("about"))
    ]
    job.entries.insert(next(n for n, one in enumerate(job.entries) if one["at"] > old["at"]), old)
    old["item"] = "plug:N0703"


def _one_for_two_and_a_plug(job: Finished) -> None:
    # The fourth new plug is there, and the third is named for its reject too.
    old = job.last("replaced", **{"for": "L0413"})
    job.add("replaced", after=old, minutes=0.1, item="plug:N0703", place="4B", **{"for": "L0413"})


def _empty_hole(job: Finished) -> None:
    _drop(job, _in(job, "2B"))


def _not_put_back(job: Finished) -> None:
    # Out for the compression after run 1, and never written in again.
    _drop(job, _in(job, "3T"))


def _struck(job: Finished) -> None:
    job.add("struck", entry=_in(job, "2B")["id"], reason="wrong hole")


def _never_arrived(job: Finished) -> None:
    job.without("arrived", part="plug")


def _two_arrived(job: Finished) -> None:
    job.last("arrived", part="plug")["number"] = 2


def _arrived_later(job: Finished) -> None:
    late = job.last("arrived", part="plug")
    _drop(job, late)
    job.entries.append(late | {"at": "2026-11-12T12:30:00-06:00"})


def _no_document(job: Finished) -> None:
    came = job.last("arrived", part="plug")
    del came["form"], came["reference"]


def _no_number(job: Finished) -> None:
    came = job.last("arrived", part="plug")
    del came["reference"]
    came["release"] = "release note on file"


def _shelf_plug_without(job: Finished) -> None:
    job.without("papers", about="plug:N0704")


def _blank_document(job: Finished) -> None:
    papers = job.last("papers", about="plug:N0704")
    papers["form"], papers["reference"] = "  ", "\u00a0"


def _no_gaskets(job: Finished) -> None:
    job.without("used", part="gasket-plug")


def _twice_the_gaskets(job: Finished) -> None:
    for one in job.of("used", part="gasket-plug", task="H3"):
        one["number"] = 2


def _no_gasket_on_refit(job: Finished) -> None:
    _drop(job, job.last("used", part="gasket-plug"))


def _no_oil(job: Finished) -> None:
    job.without("used", part="oil-qt", task="H1")


def _below_zero(job: Finished) -> None:
    job.last("used", part="safety-wire")["number"] = 9


def _old_hose(job: Finished) -> None:
    for kind in ("replaced", "fitted"):
        job.last(kind, item="hose:HS6")["made"] = "2014-03"


def _old_hose_where_fitted(job: Finished) -> None:
    job.last("fitted", item="hose:HS6")["made"] = "2014-03"


def _hose_without_date(job: Finished) -> None:
    for kind in ("replaced", "fitted"):
        del job.last(kind, item="hose:HS6")["made"]


def _old_hose_back_on(job: Finished) -> None:
    job.last("fitted", item="hose:HS6")["item"] = "hose:HS2"


def _hose_off(job: Finished) -> None:
    job.add("removed", item="hose:HS4", place="HS4")


def _hose_never_written_on(job: Finished) -> None:
    job.without("fitted", item="hose:HS7")


def _papers_arrived_after(job: Finished) -> None:
    # What arrives now is not what went in before.
    came = job.last("arrived", part="plug")
    job.entries.remove(came)
    job.add("arrived", part="plug", number=3, form=came["form"], reference=came["reference"])


def _hose_unknown(job: Finished) -> None:
    job.last("fitted", item="hose:HS6")["item"] = "hose:HS99"


def _hose_seen_and_out_of_no_place(job: Finished) -> None:
    # A look at a hose in the hand makes it an item, and none of this engine.
    _hose_unknown(job)
    entry = job.last("fitted", item="hose:HS99")
    before = job.entries[job.entries.index(entry) - 1]
    job.add("seen", after=before, minutes=0, item="hose:HS99", check="look", word="sound")


def _filter_without_batch(job: Finished) -> None:
    del job.last("fitted", item="filter:new")["batch"]


def _filter_without_document(job: Finished) -> None:
    one = job.last("fitted", item="filter:new")
    del one["form"], one["reference"]


def _no_filter(job: Finished) -> None:
    job.without("fitted", item="filter:new")


def _filter_closed_short(job: Finished) -> None:
    fitted = job.last("fitted", item="filter:new")
    job.add("closed_short", after=fitted, minutes=0.1, task="G4", reason="done tomorrow")
    _drop(job, fitted)
    job.without("torqued", task="G4")


def _magneto_swapped(job: Finished) -> None:
    job.add("fitted", item="magneto:left", place="left", serial="9999")


def _magneto_without_serial(job: Finished) -> None:
    job.add("fitted", item="magneto:left", place="left")


def _magneto_gone(job: Finished) -> None:
    job.add("removed", item="magneto:right", place="right")


def _same_magneto_twice(job: Finished) -> None:
    job.add("fitted", item="magneto:left", place="left", serial="OM-R s/n 6208")


def _propeller_of_nobody(job: Finished) -> None:
    job.add("fitted", item="propeller:1", place="propeller", serial="P-1")


def _lead_scrapped(job: Finished) -> None:
    job.add("disposed", item="lead:2B", how="mutilated")
    job.add("replaced", item="lead:2B-new", place="2B", **{"for": "2B"})


def _no_gap(job: Finished) -> None:
    job.without("reading", item="plug:N0701", check="gap")


def _gap_never_set(job: Finished) -> None:
    # L0415 came in at 23 thou; the re-gap and what was read after it are gone.
    job.without("reworked", item="plug:L0415", act="regap")
    job.without("reading", item="plug:L0415", written="17 thou")


def _no_such_place(job: Finished) -> None:
    _in(job, "1T")["place"] = "9T"


def _torque_before_refit(job: Finished) -> None:
    _drop(job, job.last("torqued", place="2T", task="H3"))


def _look_before_refit(job: Finished) -> None:
    _drop(job, job.last("second_look", task="H3"))


def _hose_after_the_look(job: Finished) -> None:
    # Off and on again after the second person had seen the fuel lines.
    job.add("removed", item="hose:HS4", place="HS4")
    job.add("fitted", item="hose:HS4", place="HS4")


def _blanks_never_counted(job: Finished) -> None:
    for what in ("blanks", "dehydrator plugs"):
        for kind in ("counted_out", "counted_in"):
            job.without(kind, what=what)
    job.add("done", after=job.last("removed", item="plug:L0418"), task="C7")


def _one_hole_without_blank(job: Finished) -> None:
    for one in job.of("counted_out", place="1B, 2B, 3B, 4B"):
        one["place"], one["number"] = "1B, 2B, 3B", 3
    for one in job.of("counted_in", note="bottom holes"):
        one["number"] = 3


def _propeller(*, back: str | None = None) -> Any:
    """The propeller that engine.toml names by its serial is taken off when all is done."""

    def change(job: Finished) -> None:
        job.replace("engine.toml", "serial =", 'propeller = "PR-77"\nserial =')
        job.add("removed", item="propeller:own", place="propeller")
        if back is not None:
            job.add("fitted", item="propeller:own", place="propeller", serial=back)

    return change


def _annealed_twice(job: Finished) -> None:
    for one in job.of("fitted", item="plug:L0418"):
        one["gasket"] = "annealed"
    job.entries = [
        one
        for one in job.entries
        if not (one["kind"] == "used" and one.get("task") == "H3" and one.get("place") == "1T")
    ]


def _annealed_twice_in_a_hole(job: Finished) -> None:
    # Plug L0417 lies under the second one: the gasket that lay at 1T goes in once more.
    _annealed_twice(job)
    first = job.of("fitted", item="plug:L0418")[0]
    first["item"] = "plug:L0417"
    job.last("fitted", item="plug:L0417", place="1B")["item"] = "plug:L0418"
    job.last("removed", item="plug:L0418", place="1T")["item"] = "plug:L0417"


def _annealed_and_counted_new(job: Finished) -> None:
    # The count comes out right: the other hole's new gasket is not written.
    _in(job, "1B")["gasket"] = "annealed"
    _drop(job, job.last("used", part="gasket-plug", task="H3", place="4B"))


def _new_part(kind: str, name: str, place: str) -> Any:
    """Another part under the same name, with papers, and nothing of it read."""

    def change(job: Finished) -> None:
        item = f"{kind}:{name}"
        out = job.add("removed", after=job.last("done", task="G2"), item=item, place=place)
        papers = {"form": "Release form R1", "reference": "X-1"}
        job.add("fitted", after=out, item=item, place=place, serial="NEW-9", **papers)

    return change


def _hoses_crossed(job: Finished) -> None:
    one, other = job.last("fitted", item="hose:HS1"), job.last("fitted", item="hose:HS4")
    one["place"], other["place"] = other["place"], one["place"]


def _old_filters_batch(job: Finished) -> None:
    job.add(
        "removed",
        after=job.last("done", task="B4"),
        minutes=0.1,
        item="filter:oil",
        place="oil filter",
        batch="F-2608-3",
    )


def _filter_off_and_on(job: Finished) -> None:
    new = job.last("fitted", item="filter:new")
    job.add("removed", item="filter:new", place="oil filter")
    again = {k: v for k, v in new.items() if k not in ("id", "at", "kind", "by")}
    job.add("fitted", **again | {"item": "filter:another"})


def _reads_nothing(written: str) -> Any:
    return lambda job: job.last("reading", item="plug:L0411", check="resistance").update(
        written=written
    )


CASES = [
    Case("a copper gasket annealed a second time", _annealed_twice, "a gasket is annealed once"),
    Case(
        "a hole's gasket annealed under another plug",
        _annealed_twice_in_a_hole,
        "The gasket that went in with L0417 at 1T",
    ),
    Case(
        "a gasket annealed and counted new",
        _annealed_and_counted_new,
        "a new Copper plug gasket is written as used at 1B",
    ),
    Case("another cylinder and nothing read of it", _new_part("cylinder", "2", "2"), "before it."),
    Case("another lead and nothing read of it", _new_part("lead", "2B", "2B"), "before it."),
    Case("another magneto and nothing read", _new_part("magneto", "left", "left"), "before it."),
    Case("two hoses crossed", _hoses_crossed, "HS1 belongs in the place of hose HS1"),
    Case("the old filter's batch on the new one", _old_filters_batch, "does not go on again"),
    Case("a filter that ran put on again", _filter_off_and_on, "does not go on again"),
    Case("a plug that reads 0 ohm", _reads_nothing("0.00 kohm"), "so it is short"),
    Case("a plug that may be short", _reads_nothing("0.02 kohm"), "cannot be told from a short"),
    Case(
        "two quarts of oil in a sump of eight",
        lambda job: job.last("used", part="oil-qt", task="H1").update(number=2),
        "Oil in: 2 × Oil written as used, and the task asks for 8",
    ),
    Case(
        "two exhaust gaskets of four",
        lambda job: job.last("used", part="gasket-exhaust").update(number=2),
        "Exhaust: 2 × Exhaust gasket written as used",
    ),
    Case("propeller taken off and not put on", _propeller(), "No propeller is in"),
    Case("propeller of another engine put on", _propeller(back="PR-88"), "it never arrived"),
    Case("propeller put on without a serial", _propeller(back=""), "without a serial or batch"),
    Case("a mutilated reject at 1T", _mutilated, "L0412, in 1T, is a REJECT (mutilated)"),
    Case("a plug that cracks in its hole", _reject_kept, "L0411, in 3B, is a REJECT"),
    Case("a serial never seen", _never_seen, "K9999 was never seen in this job"),
    Case("a plug whose serial is not known", _no_serial, "was fitted without a serial"),
    Case("one serial in two holes", _two_holes, "L0418 is in 3B. Take it out there first"),
    Case("two plugs in one hole", _two_in_a_hole, "L0417 is in 1B. Take it out first"),
    Case("one new plug for two rejects", _one_for_two, "one new part replaces one reject"),
    Case(
        "a new plug named for a second reject", _one_for_two_and_a_plug, "is in for L0522 already"
    ),
    Case("a hole with no plug", _empty_hole, "No plug is in 2B."),
    Case("a plug taken out for a test and not put back", _not_put_back, "No plug is in 3T."),
    Case("the putting in of a plug struck", _struck, "No plug is in 2B."),
    Case("a new plug that never arrived", _never_arrived, "3 more Plug KS-R went in than"),
    Case("a new plug more than arrived", _two_arrived, "1 more Plug KS-R went in than"),
    Case(
        "new plugs that arrived after they went in", _arrived_later, "more Plug KS-R went in than"
    ),
    Case("new plugs with no release document", _no_document, "has no release document on file"),
    Case("a release note without a number", _no_number, "has no release document on file"),
    Case("the plug from the shelf without papers", _shelf_plug_without, "has no release document"),
    Case("a release document of blanks", _blank_document, '"form" of an entry'),
    Case("no gaskets for eight plugs", _no_gaskets, "Copper plug gasket for Plugs in (H3)"),
    Case("two gaskets under each plug", _twice_the_gaskets, "Copper plug gasket written as used"),
    Case("no gasket when it went in again", _no_gasket_on_refit, "15 × Copper plug gasket written"),
    Case("no oil written", _no_oil, "Oil for Oil in (H1)"),
    Case("a count below zero", _below_zero, "more Safety wire went in than were on the shelf"),
    Case("a replacement hose made in 2014", _old_hose, "older when it went in than the 5 years"),
    Case(
        "a hose made in 2014 by the tag it went in with",
        _old_hose_where_fitted,
        "made 2014-03 and fitted",
    ),
    Case(
        "a replacement hose without a date", _hose_without_date, "when HS6 was made is not written"
    ),
    Case("a scrapped hose put on again", _old_hose_back_on, "HS2 was mutilated on 6 Nov 2026"),
    Case("a hose taken off and not put on", _hose_off, "No hose is in the place of hose HS4."),
    Case(
        "a hose that nobody wrote on", _hose_never_written_on, "No hose is in the place of hose HS3"
    ),
    Case(
        "plugs whose papers arrived after they went in",
        _papers_arrived_after,
        "has no release document on file",
    ),
    Case("a hose never seen", _hose_unknown, "HS99 was never seen in this job"),
    Case(
        "a hose looked at that came out of no place",
        _hose_seen_and_out_of_no_place,
        "HS99 was never seen in this job",
    ),
    Case("a filter with no batch", _filter_without_batch, "without a serial or batch"),
    Case(
        "a filter with no document", _filter_without_document, "new in the place of the oil filter"
    ),
    Case("no filter at all", _no_filter, "New oil filter"),
    Case(
        "the filter's task closed short without a filter", _filter_closed_short, "No filter is in"
    ),
    Case(
        "a magneto swapped for an unknown serial", _magneto_swapped, "it is no part of this engine"
    ),
    Case("a magneto put on without a serial", _magneto_without_serial, "without a serial or batch"),
    Case(
        "a magneto taken off and not put on", _magneto_gone, "No magneto is in the right magneto's"
    ),
    Case("the right magneto on both sides", _same_magneto_twice, "OM-R s/n 6208"),
    Case("a propeller from nowhere", _propeller_of_nobody, "it is no part of this engine"),
    Case("a lead scrapped and none put on", _lead_scrapped, "No lead is in the place of lead 2B."),
    Case("a plug with no gap read", _no_gap, "N0701, in 3T, has no KEEP of its own: NOT YET"),
    Case("a plug whose gap was never set", _gap_never_set, "L0415, in 2B, has no KEEP of its own"),
    Case("a plug in a hole that is none", _no_such_place, '"9T" is no place of a plug'),
    Case("a plug in again and not torqued", _torque_before_refit, "Plugs in"),
    Case("plugs in again after the second look", _look_before_refit, "no second look yet at plug"),
    Case(
        "a hose on again after the look",
        _hose_after_the_look,
        "no second look yet at the fuel lines",
    ),
    Case("blanks never counted", _blanks_never_counted, "Blanks in the plug holes"),
    Case("one hole without a blank", _one_hole_without_blank, "Blanks in the plug holes"),
]
