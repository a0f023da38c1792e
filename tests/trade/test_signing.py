"""Records and signatures: 14 CFR 43.9(a), 43.11(a) and (b) for what each must hold."""

from __future__ import annotations

from datetime import UTC
from typing import Any

import pytest

from rehang.sheets.folder import seal_all
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.gate.entry_gate import check_entry
from rehang.trade.job.judging import judge
from rehang.trade.known.drafts import Draft, check_drafted
from rehang.trade.known.state import item_kind
from rehang.trade.papers.signing import check_can_sign, head_of, sha256_of, signed_of
from rehang.trade.telling.entry_sheet import draft_sheet
from rehang.trade.telling.entry_text import draft_of
from rehang.trade.terms.errors import BadInput, NotAllowed, Refused
from rehang.trade.terms.wording import upper_first, with_stop
from rehang.trade.verdicts.folding import fold_job
from rehang.trade.verdicts.item_blockers import Blocker

from .cast import ENGINE, Bench, facts

PEOPLE = """
[[person]]
key = "ada"
name = "Ada Quill"
role = "mechanic"
certificate = "CASE-7"
certificate_kind = "mechanic, inspection authorization"

[[person]]
key = "ben"
name = "Ben Roe"
role = "second look"
"""
MORE = 'engine = "Case"\nserial = "C-1"\nairframe_hours = 1200.0\nowner = "Dee"\n'


def shop() -> JobFacts:
    return facts(people=PEOPLE, engine=ENGINE + MORE)


def draft(bench: Bench, what: str = "maintenance") -> Draft:
    return draft_of(judge(shop(), bench.entries), what)


def signature(bench: Bench, what: str = "maintenance", **changed: Any) -> dict[str, Any]:
    text = draft(bench, what).text
    fields: dict[str, Any] = {
        "what": what,
        "text": text,
        "sha256": sha256_of(text),
        "name": "Ada Quill",
        "certificate": "CASE-7",
        "certificate_kind": "mechanic, inspection authorization",
    }
    return fields | changed


def dated(bench: Bench) -> Bench:
    for what in ("maintenance", "inspection", "discrepancies"):
        bench.write("drafted", what=f"{what}:field-date", text="2026-11-02")
    bench.write("drafted", what="inspection:field-type", text="Annual inspection, engine")
    bench.write("drafted", what="discrepancies:field-to", text="Dee")
    return bench


def try_to_sign(bench: Bench, blockers: tuple[Blocker, ...] = (), **changed: Any) -> None:
    known = shop()
    book = seal_all(bench.entries)
    fields = signature(bench, **changed)
    entry = bench.write("signed", **fields)
    bench.entries.pop()
    what = fields["what"]
    check_can_sign(
        entry,
        facts=known,
        book=book,
        blockers=blockers,
        draft=draft(bench, what),
        signed=signed_of(fold_job(known, bench.entries)),
    )


def test_draft_holds_what_43_9_asks_for_or_a_ruled_blank():
    fields = {one.name: one for one in draft(Bench().good()).fields}
    assert {one.rule for one in fields.values()} >= {
        "14 CFR 43.9(a)(2)",
        "14 CFR 43.9(a)(3)",
        "14 CFR 43.9(a)(4)",
    }
    text = draft(Bench().good()).text
    for label in ("Date", "Signature", "Certificate number", "Kind of certificate"):
        assert f"{label}: ________" in text


def test_draft_holds_what_43_11_asks_for_or_a_ruled_blank():
    one = draft(Bench().good(), "inspection")
    assert "Aircraft total time: 1,200.0 h" in one.text
    for label in ("Type and brief extent", "Date", "Signature", "Certificate number"):
        assert f"{label}: ________" in one.text
    assert [b.name for b in one.blank] == ["type", "date"]


def test_every_sentence_may_be_written_anew_and_the_drawn_one_stays():
    bench = Bench().good()
    before = {line.id: line for line in draft(bench).lines}
    bench.write("drafted", what="maintenance:plugs-out", text="1T P1, in the tray.")
    bench.write(
        "drafted", what="maintenance:meters", text="left out", reason="Told on a sheet of its own."
    )
    bench.write("drafted", what="maintenance:more-1", text="Spoke to the owner.")
    after = {line.id: line for line in draft(bench).lines}
    assert after["plugs-out"].text == "1T P1, in the tray."
    assert after["plugs-out"].drawn == before["plugs-out"].drawn
    assert after["plugs-out"].by == "Ada Quill"
    assert after["meters"].text == (
        f"left out by Ada Quill (Told on a sheet of its own): {before['meters'].drawn}"
    )
    assert "Spoke to the owner." in draft(bench).text


@pytest.mark.parametrize(
    ("by", "reason", "sentence"),
    [
        ("ben", "Seen again and found good.", "to leave a sentence out of a record"),
        ("ada", "", "Write the reason"),
        ("ada", "ok", '"ok" is too little to stand on the record'),
    ],
)
def test_leaving_out_takes_a_decision_and_a_reason(by, reason, sentence):
    bench = Bench().good()
    told = {"what": "maintenance:meters", "text": "left out", "reason": reason}
    judged = judge(shop(), bench.entries)
    before = draft(bench).text
    entry = bench.write("drafted", by=by, **told)
    with pytest.raises(Refused, match=sentence):
        check_entry(entry, judged.state, judged.facts)
    # In a book from before the rule it stands as the book gives it.
    assert draft(bench).text == before


def test_an_open_item_in_other_words_is_still_read_as_the_book_gives_it():
    bench = Bench().good(but=["gap"])
    item = draft(bench, "discrepancies").lines[0]
    bench.write("drafted", what=f"discrepancies:{item.id}", text="Nothing to speak of.")
    told = f"Nothing to speak of. In the words of Ada Quill; the book: {item.drawn}"
    assert told in draft(bench, "discrepancies").text


def test_an_added_sentence_that_is_left_out_is_still_read():
    bench = Bench().good()
    bench.write("drafted", what="discrepancies:more-1", text="Crack in the mount.")
    bench.write(
        "drafted", what="discrepancies:more-1", text="left out", reason="Dye shows a mark alone."
    )
    assert (
        "Also: left out by Ada Quill (Dye shows a mark alone): Crack in the mount."
        in draft(bench, "discrepancies").text
    )


def test_a_line_left_out_is_in_nobodys_words():
    bench = Bench().good()
    bench.write("drafted", what="maintenance:more-1", text="All plugs blasted.")
    [own] = [one for one in draft(bench).lines if one.id == "more-1"]
    assert own.in_words_of == "Ada Quill"
    bench.write("drafted", what="maintenance:more-1", text="left out", reason="Said already.")
    judged = judge(shop(), bench.entries)
    [line] = [one for one in draft_of(judged, "maintenance").lines if one.id == "more-1"]
    assert line.in_words_of == ""
    at = bench.entries[-1].at
    sheet = draft_sheet(judged, draft_of(judged, "maintenance"), zone=UTC, printed_at=at)
    assert [one.own for one in sheet.lines if "Said already" in one.text] == [""]


def test_a_struck_slip_is_no_part_of_the_entry_and_the_book_keeps_it():
    bench = Bench().good(but=["gap"])
    slip = bench.read("gap", "23 thou", "WG")
    bench.read("gap", "17 thou", "WG")
    bench.write("struck", entry=slip.id, reason="keyed 23 for 17")
    told = draft(bench).text
    assert "Struck" not in told
    assert "23 thou" not in told
    assert "0.023" not in told
    assert "keyed 23 for 17" not in told
    assert slip.id in fold_job(shop(), bench.entries).struck


def test_list_of_discrepancies_is_the_list_of_blockers_but_for_the_record_itself():
    bench = Bench()
    judged = judge(shop(), bench.entries)
    lines = draft_of(judged, "discrepancies").lines
    assert lines
    told = [b for b in judged.blockers if not b.about.startswith("record:")]
    # Two lists: what is not right or not shown to be, then the work that is not done. What nobody has
    # read yet is work that is not done, a line for each kind.
    unread = [b for b in told if b.is_unread]
    told = [b for b in told if not b.is_unread]
    lines_unread = {item_kind(b.about): None for b in unread}
    first = [n for n, line in enumerate(lines) if line.id.startswith("unread-")]
    assert [lines[n].id for n in first] == [f"unread-{kind}" for kind in lines_unread]
    for n, kind in zip(first, lines_unread, strict=True):
        number = len({b.about for b in unread if item_kind(b.about) == kind})
        assert f", {number} still to be read or looked at: " in lines[n].drawn
        assert lines[n].title.startswith("Work not done ")
    lines = [line for n, line in enumerate(lines) if n not in first]
    work = [b for b in told if b.about in ("work", "run") or b.about.startswith("task:")]
    told = [b for b in told if b not in work] + work
    assert [line.title for line in lines] == [
        f"{'Work not done' if b in work else 'Discrepancy'} "
        f"{work.index(b) + len(first) + 1 if b in work else n + 1}"
        for n, b in enumerate(told)
    ]
    # An owner does not know the tasks by their numbers.
    [tasks] = [n for n, b in enumerate(told) if b.about == "work"]
    assert lines[tasks].drawn.startswith("45 tasks are not started: Engine and records identified;")
    assert [line.drawn for n, line in enumerate(lines) if n != tasks] == [
        with_stop(upper_first(b.sentence)) for n, b in enumerate(told) if n != tasks
    ]


def test_signed_text_never_changes_and_says_what_came_after():
    bench = dated(Bench().good())
    bench.write("signed", **signature(bench))
    [one] = signed_of(fold_job(shop(), bench.entries))
    assert one.stands
    assert (one.name, one.certificate, one.kind) == (
        "Ada Quill",
        "CASE-7",
        "mechanic, inspection authorization",
    )
    text = one.text
    bench.read("gap", "18 thou", "WG")
    [later] = signed_of(fold_job(shop(), bench.entries))
    assert not later.stands
    assert later.text == text
    assert [e.kind for e in later.after] == ["reading"]


def test_what_strikes_a_note_is_as_quiet_as_it_and_what_strikes_a_strike_is_not():
    bench = dated(Bench().good())
    bench.write("signed", **signature(bench))
    note = bench.write("note", text="Coffee.")
    bench.write("struck", entry=note.id, reason="no matter")
    [one] = signed_of(fold_job(shop(), bench.entries))
    assert one.stands
    # A strike of itself strikes nothing, so it may be struck: the book is no longer what was read.
    itself = f"case-{len(bench.entries):03}"
    bench.write("struck", entry=itself, reason="a slip of the pen")
    bench.write("struck", entry=itself, reason="it strikes nothing")
    [one] = signed_of(fold_job(shop(), bench.entries))
    assert [e.kind for e in one.after] == ["struck"]


def test_entry_struck_after_signing_is_kept_and_the_record_no_longer_stands():
    bench = Bench().good(but=["gap"])
    gap = bench.read("gap", "17 thou", "WG")
    dated(bench)
    bench.write("signed", **signature(bench))
    bench.write("struck", entry=gap.id, reason="that was 1B's")
    [one] = signed_of(fold_job(shop(), bench.entries))
    assert [e.kind for e in one.after] == ["struck"]
    assert "17 thou" not in draft(bench).text


REFUSED = [
    ({"name": ""}, BadInput, r'needs "name"|no name'),
    ({"name": "Ben Roe"}, NotAllowed, r'The signature says "Ben Roe"; Ada Quill signs'),
    ({"certificate": ""}, NotAllowed, r"carries mechanic, inspection authorization certificate, which is not one of Ada Quill"),
    ({"certificate": "CASE-8"}, NotAllowed, r"carries mechanic, inspection authorization CASE-8 certificate, which is not"),
    ({"certificate_kind": " "}, NotAllowed, r'"certificate_kind" of an entry of kind "signed" is empty'),
    ({"sha256": "0" * 64}, BadInput, r"not the one its sum was made of"),
    ({"what": "logbook"}, BadInput, r"is not a record"),
    ({"typed": "seal"}, BadInput, r'"seal" confirms nothing'),
    ({"text": "All good.", "sha256": sha256_of("All good.")}, NotAllowed, r"not the record as it stands"),
]  # fmt: skip


@pytest.mark.parametrize(("changed", "kind", "sentence"), REFUSED)
def test_signature_that_cannot_stand_is_refused(changed, kind, sentence):
    bench = dated(Bench().good())
    text = changed.get("text")
    what = "maintenance"
    fields = signature(bench, what) | changed
    with pytest.raises(kind, match=sentence):
        _sign(bench, fields)
    assert text is None or text not in draft(bench).text


def _sign(bench: Bench, fields: dict[str, Any], blockers: tuple[Blocker, ...] = ()) -> None:
    known = shop()
    book = seal_all(bench.entries)
    entry = bench.write("signed", **fields)
    bench.entries.pop()
    check_entry(entry, fold_job(known, bench.entries), known)
    what = (
        fields["what"]
        if fields["what"] in ("maintenance", "inspection", "discrepancies")
        else "maintenance"
    )
    check_can_sign(
        entry,
        facts=known,
        book=book,
        blockers=blockers,
        draft=draft(bench, what),
        signed=signed_of(fold_job(known, bench.entries)),
    )


def test_good_signature_is_let_through_with_the_head_that_was_read():
    bench = dated(Bench().good())
    head = head_of(seal_all(bench.entries))
    try_to_sign(bench, head=head)
    assert len(head) == 64


def test_two_people_who_sign_at_once_the_second_is_told_to_read_again():
    bench = dated(Bench().good())
    head = head_of(seal_all(bench.entries))
    bench.write("note", by="ben", text="Found a rag.")
    with pytest.raises(NotAllowed, match=r"moved on while you read: 1 line by Ben Roe"):
        try_to_sign(bench, head=head)


def test_approval_is_refused_while_something_blocks_and_says_what():
    bench = dated(Bench().good())
    rag = Blocker("count:rags", "Count-in is not zero: 1 rags are out.", "Take it out.")
    with pytest.raises(NotAllowed, match=r"1 thing still blocks.*rags are out"):
        try_to_sign(bench, (rag,))
    # A list of discrepancies is what is signed then (14 CFR 43.11(b)).
    _sign(bench, signature(bench, "discrepancies"), (rag,))
    _sign(bench, signature(bench, "inspection") | {"statement": "unairworthy"}, (rag,))


def test_field_that_a_rule_asks_for_is_not_left_empty():
    with pytest.raises(NotAllowed, match=r"date is empty\. 14 CFR 43\.9\(a\)\(2\) asks for it"):
        try_to_sign(Bench().good())


def test_same_record_is_not_signed_twice_while_it_stands():
    bench = dated(Bench().good())
    bench.write("signed", **signature(bench))
    with pytest.raises(
        NotAllowed, match=r"was signed by Ada Quill on 2 Nov 2026 and nothing has changed"
    ):
        try_to_sign(bench)


def test_draft_of_no_record_is_refused():
    bench = Bench()
    with pytest.raises(Refused, match=r"The records are"):
        draft(bench, "logbook")
    with pytest.raises(BadInput, match=r"The records are"):
        check_drafted(bench.write("drafted", what="logbook:x", text="y"))
