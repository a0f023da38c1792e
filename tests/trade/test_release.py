"""What keeps the demo from service, held to a list set down by hand; and the finished one, held by none."""

from __future__ import annotations

import dataclasses
from datetime import date, timedelta

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder, seal_all
from rehang.trade.doors.rules import check_can_append, check_clock
from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.papers.signing import head_of, sha256_of
from rehang.trade.release.blockers import GROUPS, grouped
from rehang.trade.run.proofs import claimed
from rehang.trade.telling.entry_text import draft_of
from rehang.trade.telling.open_items import open_items
from rehang.trade.terms.chain import GENESIS, seal
from rehang.trade.terms.entries import new_entry
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.verdicts.item_blockers import Blocker
from rehang.trade.work.traces import place_named

from .cast import ENGINE, START, Bench, facts
from .finished import Finished

TODAY = date(2026, 10, 21)
FINISHED_ON = date(2026, 11, 12)


@pytest.fixture(scope="module")
def demo() -> JudgedJob:
    folder = read_folder(demo_path())
    return judge(folder.facts, folder.entries, today=TODAY)


@pytest.fixture(scope="module")
def finished() -> JudgedJob:
    folder = read_folder(demo_path("finished"))
    return judge(folder.facts, folder.entries, today=FINISHED_ON)


def one_about(judged: JudgedJob, about: str, words: str) -> Blocker:
    found = [b for b in judged.blockers if b.about == about and words in b.sentence]
    assert found, f"{about}: {words}"
    return found[0]


# What the demo must show, set down by hand before the code, with words of each sentence.
MUST_SHOW = [
    *((f"task:{name}", "Part-done") for name in (
        "C6", "C7", "D1", "D2", "D3", "D4", "D5", "D6", "D7", "E1", "F1", "F2", "F3", "G1")),
    ("desiccant:dehydrator plugs", "Pink"),
    ("work", "not started"),
    *((item, "REJECT without a replacement") for item in (
        "plug:K0412", "plug:K0414", "plug:K0522", "hose:HS2", "hose:HS3", "hose:HS5")),
    *((item, "NOT YET") for item in ("plug:K0413", "plug:K0418")),
    ("cylinder:1", "dry tappet"),
    ("cylinder:3", "Off-centre pattern"),
    ("cylinder:4", "oil-wet"),
    *((f"lead:{hole}", "NOT YET") for hole in ("2B", "4T", "4B")),
    ("filter:oil", "NOT YET"),
    ("exhaust:muffler", "NOT YET"),
    ("plug:K0415", "REWORK"),
    ("meter:TW-3", "2 of 6"),
    ("meter:AN-1", "K0413"),
    ("look:G1", "no second look"),
    ("count:blanks", "Count-in is not zero"),
    ("count:dehydrator plugs", "Count-in is not zero"),
    ("run", "has not been run"),
    ("record:maintenance", "no date of completion"),
]  # fmt: skip


@pytest.mark.parametrize(("about", "words"), MUST_SHOW)
def test_demo_cannot_be_released_and_says_why_with_a_way_out(demo, about, words):
    assert one_about(demo, about, words).way_out.endswith((".", ")"))


@pytest.mark.parametrize(
    ("about", "words"),
    [("recurring:muffler", "the calendar governs"), ("recurring:annual", "overdue")],
)
def test_what_is_overdue_grounds_the_demo_and_blocks_no_entry_on_other_work(demo, about, words):
    one = next(b for b in demo.may_not_fly if b.about == about)
    assert words in one.sentence
    assert one.way_out.endswith((".", ")"))
    assert one.group == "May not fly until"
    assert about not in {b.about for b in demo.blockers}


def test_maintenance_entry_is_signed_while_the_annual_is_overdue_and_the_annual_is_not(finished):
    """A maintenance entry approves the work it describes (14 CFR 43.9); an inspection claims more."""
    book = [
        e
        for e in finished.state.order
        if not (e.kind == "complied" and e.fields.recurring == "annual")
    ]
    lapsed = judge(finished.facts, book, today=FINISHED_ON)
    assert lapsed.blockers == ()
    assert [one.about for one in lapsed.may_not_fly] == ["recurring:annual"]
    assert _append(lapsed, _signature(lapsed)).order[-1].kind == "signed"
    with pytest.raises(NotAllowed, match="Annual inspection is overdue"):
        _append(lapsed, _signature(lapsed, "inspection"))


def test_magneto_opening_is_offered_and_blocks_nothing(demo):
    assert "recurring:magneto-right" not in [b.about for b in demo.blockers]


def test_blockers_stand_under_their_headings_and_none_is_lost(demo):
    groups = grouped(demo.blockers)
    assert [one.title for one in groups] == [
        t for t in GROUPS if t in {b.group for b in demo.blockers}
    ]
    assert [b for one in groups for b in one.blockers] == list(demo.blockers)
    assert [b.about for b in groups[-1].blockers] == ["record:maintenance"]


def test_only_what_nobody_read_is_work_not_done_and_what_was_found_stays_a_discrepancy(demo):
    unread = {one.item for one in demo.items if one.is_unread}
    found = {
        one.item
        for one in demo.items
        if one.verdict != "KEEP"
        and (
            any(f.severity >= 2 for f in one.state.open_findings)
            or any(c.call in ("OUT", "CLOSE CALL", "NOT YET") for c in one.calls)
        )
    }
    assert unread and found and not unread & found
    discrepancies, work = open_items(demo)
    assert not any(one.is_unread for one in discrepancies)
    assert found - {one.about for one in discrepancies if ":" in one.about} <= {
        one.item for one in demo.items if one.verdict == "REJECT"
    }
    kinds = [one.about for one in work if one.about.startswith("unread:")]
    assert len(kinds) == len(set(kinds)) == len({item.partition(":")[0] for item in unread})


def test_finished_demo_is_held_by_nothing_and_only_the_record_is_left(finished):
    assert finished.blockers == ()
    left = {one.task.id for one in finished.work.tasks.values() if not one.is_finished}
    # The magnetos' opening is offered; the record comes last and waits for its signature.
    assert left == {"E2", "H9"}
    assert finished.work.tasks["H9"].places[0].missing == (
        "the signature on the maintenance entry",
    )


# The finished demo signed, by the rules that every entry goes through.


def _signature(judged: JudgedJob, what: str = "maintenance", by: str = "marta", **changed):
    text = draft_of(judged, what).text
    fields = {
        "what": what,
        "text": text,
        "sha256": sha256_of(text),
        "name": "Marta Oduya",
        "certificate": "DEMO-114-IA" if what == "inspection" else "DEMO-114",
        "certificate_kind": "inspection authorization" if what == "inspection" else "mechanic",
        "head": head_of(judged.state.order),
    } | changed
    at = judged.state.order[-1].at + timedelta(minutes=5)
    return new_entry("signed", at=at, by=by, **fields)


def _append(judged: JudgedJob, *entries):
    return check_can_append(entries, judged.state.order, judged.facts, state=judged.state)


def test_finished_demo_can_be_signed_and_that_is_the_end_of_the_work(finished):
    entry = _signature(finished)
    after = judge(finished.facts, [*finished.state.order, entry], today=FINISHED_ON)
    assert _append(finished, entry).order[-1].kind == "signed"
    assert after.work.tasks["H9"].state == "DONE"
    assert after.blockers == ()
    assert after.signed[0].stands
    # Each of the others may be signed beside it; what is signed says nothing new of the engine.
    inspection = _signature(after, "inspection")
    assert check_can_append([inspection], after.state.order, after.facts).order[-1] == inspection


def test_record_asks_for_its_signature_again_once_something_has_changed(finished):
    entry = _signature(finished)
    at = entry.at + timedelta(minutes=5)
    seen = new_entry("seen", at=at, by="ilse", item="hose:HS1", check="look", word="sound")
    later = judge(finished.facts, [*finished.state.order, entry, seen], today=FINISHED_ON)
    assert [e.id for e in later.signed[0].after] == [seen.id]
    assert later.work.tasks["H9"].state == "NOT STARTED"
    note = new_entry("note", at=at, by="ilse", text="Swept the floor.")
    quiet = judge(finished.facts, [*finished.state.order, entry, note], today=FINISHED_ON)
    assert quiet.signed[0].stands


def test_strike_of_an_entry_after_signing_is_kept_and_needs_a_new_record(finished):
    entry = _signature(finished)
    target = next(e for e in reversed(finished.state.order) if e.kind == "reading")
    strike = new_entry("struck", at=entry.at, by="marta", entry=target.id, reason="wrong run")
    book = [*finished.state.order, entry]
    check_can_append([strike], book, finished.facts)
    later = judge(finished.facts, [*book, strike], today=FINISHED_ON)
    assert not later.signed[0].stands
    assert later.signed[0].text == entry.data["text"]
    with pytest.raises(NotAllowed, match=r"A signature is not struck out\. Write what changed"):
        check_can_append(
            [new_entry("struck", at=entry.at, by="marta", entry=entry.id, reason="slip")],
            book,
            finished.facts,
        )


REFUSED = [
    ("by", {"by": "ilse"}, r"Ilse Karr has no paper on file to sign the maintenance entry"),
    ("name", {"name": "Ilse Karr"}, r'The signature says "Ilse Karr"; Marta Oduya signs'),
    ("head", {"head": "0" * 64}, r"The book moved on while you read"),
    ("text", {"text": "All is well.", "sha256": sha256_of("All is well.")}, r"not the record as"),
    ("empty list", {"what": "discrepancies"}, r"The list of discrepancies is empty"),
]


@pytest.mark.parametrize(("name", "changed", "sentence"), REFUSED, ids=[r[0] for r in REFUSED])
def test_signature_that_cannot_stand_is_refused_when_it_is_written(
    finished, name, changed, sentence
):
    what = changed.get("what", "maintenance")
    rest = {k: v for k, v in changed.items() if k != "what"}
    with pytest.raises((BadInput, NotAllowed), match=sentence):
        _append(finished, _signature(finished, what, **rest))


def test_demo_is_not_signed_while_it_is_held_and_the_list_for_its_owner_is(demo):
    with pytest.raises(NotAllowed, match=rf"{len(demo.blockers)} things still block"):
        _append(demo, _signature(demo))
    # What is overdue is counted in days, so the list is signed on the day that it was read.
    at = demo.state.order[-1].at + timedelta(minutes=1)
    today = at.date()
    date_of = new_entry(
        "drafted", at=at, by="marta", what="discrepancies:field-date", text="2026-10-21"
    )
    dated = judge(demo.facts, [*demo.state.order, date_of], today=today)
    entry = _signature(dated, "discrepancies")
    signed = judge(demo.facts, [*dated.state.order, entry], today=today)
    assert _append(dated, entry).order[-1] == entry
    held = one_about(signed, "record:discrepancies", "has not been given to the owner")
    assert "43.11(b)" in held.way_out
    given = new_entry("given", at=entry.at, by="marta", what="discrepancies", to="Dev Lanning")
    handed = judge(demo.facts, [*signed.state.order, given], today=today)
    assert "record:discrepancies" not in [b.about for b in handed.blockers]


def _signed_in(job: Finished, what: str, **more: str) -> None:
    text = f"The {what} as signed."
    paper = ("DEMO-114-IA", "inspection authorization")
    if what == "discrepancies":
        paper = ("DEMO-114", "mechanic")
    job.add(
        "signed",
        what=what,
        text=text,
        sha256=sha256_of(text),
        name="Marta Oduya",
        certificate=paper[0],
        certificate_kind=paper[1],
        **more,
    )


def _owed(job: Finished) -> list[str]:
    return [b.sentence for b in job.judged().blockers if b.about == "record:discrepancies"]


def test_inspection_signed_as_unairworthy_owes_a_signed_list_that_is_handed_over():
    job = Finished()
    _signed_in(job, "inspection", statement="unairworthy")
    (said,) = _owed(job)
    assert "was signed as unairworthy on 12 Nov 2026 and no list of discrepancies is signed" in said
    # A paper handed over before there was a list, or another paper after, is not that list.
    job.add("given", what="maintenance", to="Dev Lanning")
    assert len(_owed(job)) == 1
    _signed_in(job, "discrepancies")
    (said,) = _owed(job)
    assert "The list of discrepancies signed on 12 Nov 2026 has not been given" in said
    job.add("given", what="discrepancies", to="Dev Lanning")
    assert _owed(job) == []
    # Signed once more, it is handed over once more.
    _signed_in(job, "discrepancies")
    assert len(_owed(job)) == 1


def test_list_handed_over_before_the_inspection_of_that_day_was_signed_counts():
    job = Finished()
    _signed_in(job, "discrepancies")
    job.add("given", what="discrepancies", to="Dev Lanning")
    _signed_in(job, "inspection", statement="unairworthy")
    assert _owed(job) == []


def test_inspection_signed_as_airworthy_owes_no_list():
    job = Finished()
    _signed_in(job, "inspection", statement="airworthy")
    assert _owed(job) == []


def test_inspection_that_is_not_said_to_be_done_asks_nothing_of_the_record():
    job = Finished()
    job.without("complied", recurring="annual")
    job.replace("engine.toml", "airframe_hours = 3590.4\n", "")
    judged = job.judged()
    assert claimed(judged.facts, judged.state) == []
    assert "record:inspection" not in [b.about for b in judged.blockers]
    done = Finished()
    done.replace("engine.toml", "airframe_hours = 3590.4\n", "")
    judged = done.judged()
    assert claimed(judged.facts, judged.state) == ["Annual inspection"]
    assert "record:inspection" in [b.about for b in judged.blockers]


def test_demo_of_another_person_is_what_a_second_look_is(finished):
    """The doer's own look is refused; the finished demo has Ilse's at each hold."""
    looks = [e for e in finished.state.live() if e.kind == "second_look"]
    assert {e.by for e in looks} == {"ilse"}
    # She is in on Tuesdays and Thursdays.
    assert {e.at.weekday() for e in looks} == {1, 3}
    waits = [t.task.id for t in finished.work.tasks.values() if t.look and t.look.waits]
    assert waits == []


# What is missing from the record and from the parts.

MORE = 'serial = "C-1"\nairframe_hours = 1200.0\n'
CERTIFIED = """
[[person]]
key = "ada"
name = "Ada"
certificate = "CASE-7"
certificate_kind = "mechanic"
"""


def abouts(judged: JudgedJob) -> list[str]:
    return [b.about for b in judged.blockers]


def test_missing_serials_and_certificates_block():
    bare = Bench().good().judged(facts(people=CERTIFIED.replace("mechanic", "student")))
    assert {"record:serial", "record:certificate"} <= set(abouts(bare))
    full = Bench().good().judged(facts(engine=ENGINE + MORE, people=CERTIFIED))
    assert not {"record:serial", "record:certificate"} & set(abouts(full))
    bench = Bench().good()
    bench.write("fitted", item="magneto:left", place="left", part="magneto-left")
    assert "magneto:left" in abouts(bench.judged(facts(engine=ENGINE + MORE, people=CERTIFIED)))


def test_inspection_without_total_time_blocks():
    annual = """
[[recurring]]
id = "annual"
title = "Annual inspection"
kind = "inspection"
every_months = 12
last_on = 2025-10-01
"""
    bench = Bench().good()
    bench.write("complied", recurring="annual", on="2026-11-02")
    no_time = facts(engine=ENGINE + 'serial = "C-1"\n', recurring=annual)
    assert any("43.11(a)(2)" in one.sentence for one in bench.judged(no_time).blockers)
    timed = bench.judged(facts(engine=ENGINE + MORE, recurring=annual))
    assert not any("43.11(a)(2)" in one.sentence for one in timed.blockers)


def test_signed_text_that_was_changed_is_said_and_does_not_stand():
    bench = Bench().good()
    entry = bench.write(
        "signed",
        what="maintenance",
        text="Old words.",
        sha256=sha256_of("Old words."),
        name="Ada",
        certificate="CASE-7",
        certificate_kind="mechanic",
    )
    bench.entries[-1] = dataclasses.replace(entry, data={**entry.data, "text": "New words."})
    judged = bench.judged(facts(engine=ENGINE + MORE, people=CERTIFIED))
    assert not judged.signed[0].stands
    assert (
        "not the one its sum was made of" in one_about(judged, "record:maintenance", "sum").sentence
    )


# Bad input: each one clear sentence, and nothing is kept.


def test_clock_set_back_is_one_sentence():
    note = new_entry("note", at=START, by="ada", text="kept")
    kept = [seal(note, seq=1, kept=START, prev=GENESIS)]
    with pytest.raises(NotAllowed, match=r"The clock here says .* Set the clock of the machine"):
        check_clock(START - timedelta(minutes=3), kept)
    check_clock(START - timedelta(minutes=2), kept)
    check_clock(START, [])


def test_book_kept_under_a_wrong_clock_carries_on_once_that_entry_is_struck():
    ahead = new_entry("note", at=START + timedelta(hours=5), by="ada", text="typed ahead")
    kept = [seal(ahead, seq=1, kept=ahead.at, prev=GENESIS)]
    strike = new_entry("struck", at=START, by="ada", entry=ahead.id, reason="the hour is wrong")
    with pytest.raises(NotAllowed, match="strike line 1 with a reason"):
        check_clock(START, kept)
    check_clock(START, kept, [strike])
    check_clock(START, [*kept, seal(strike, seq=2, kept=START, prev=kept[0].hash)])


def test_hours_less_than_last_time_is_one_sentence(finished):
    at = finished.state.order[-1].at + timedelta(minutes=5)
    low = new_entry(
        "complied", at=at, by="marta", recurring="muffler", on="2026-11-12", hours=880.0
    )
    with pytest.raises(BadInput, match=r"Hours do not run backwards: read the meter again"):
        _append(finished, low)


def test_sentence_of_no_record_and_date_that_is_not_a_day_are_refused(finished):
    at = finished.state.order[-1].at + timedelta(minutes=5)
    for what, text, words in (
        ("logbook:x", "y", r"is not a record"),
        ("maintenance:field-date", "about October", r"is not a day\. Write it whole"),
        ("maintenance:more-1", "  ", r"Write the sentence, or leave it out"),
    ):
        with pytest.raises(BadInput, match=words):
            _append(finished, new_entry("drafted", at=at, by="marta", what=what, text=text))


def test_recurring_file_may_not_lose_what_was_complied_with(finished):
    entries = seal_all(list(finished.state.order))
    lost = dataclasses.replace(finished.facts, recurring={})
    filed = new_entry(
        "filed", at=entries[-1].at, by="marta", file="recurring.toml", sha256="0" * 64, text="x"
    )
    # It is let in and named: what was complied with stands for nothing until it is on file again.
    said = judge(lost, [*entries, filed], today=FINISHED_ON).blockers
    assert any(
        '"muffler" is none of the directives and inspections' in one.sentence for one in said
    )


# Places and the record among the tasks.


def test_hose_that_was_replaced_is_one_place_of_its_task_by_its_stand_in(finished):
    task = finished.work.tasks["G3"]
    assert [one.name for one in task.places] == ["HS1", "HS6", "HS7", "HS4", "HS8"]
    # Whoever names the old one means the one that is on that line now.
    assert place_named(task.task, "HS3", finished.facts, finished.state) == "HS7"


def test_what_was_done_to_a_hose_says_nothing_of_the_one_that_came_after(finished):
    book = list(finished.state.order)
    came = next(n for n, e in enumerate(book) if e.kind == "replaced" and e.item == "hose:HS6")
    old = new_entry("fitted", at=book[came].at, by="marta", item="hose:HS2", place="HS2")
    off = new_entry("removed", at=book[came].at, by="marta", item="hose:HS2", place="HS2")
    without = [e for e in book if not (e.kind == "fitted" and e.item == "hose:HS6")]
    came = next(n for n, e in enumerate(without) if e.kind == "disposed" and e.item == "hose:HS2")
    judged = judge(finished.facts, [*without[:came], old, off, *without[came:]], today=FINISHED_ON)
    [place] = [p for p in judged.work.tasks["G3"].places if p.name == "HS6"]
    assert place.state == "NOT STARTED"
    assert old not in (place.first, place.last)


def test_look_at_the_outside_of_a_magneto_begins_no_opening_of_it(demo):
    at = demo.state.order[-1].at + timedelta(minutes=1)
    seen = new_entry("seen", at=at, by="marta", item="magneto:left", check="look", word="sound")
    judged = judge(demo.facts, [*demo.state.order, seen], today=TODAY)
    assert judged.work.tasks["E2"].state == "NOT STARTED"
