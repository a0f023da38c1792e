"""Papers, what they let a person do on a day, and who stands by where they let nothing (DESIGN 4b, 1)."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rehang.trade.gate.oddities import oddities_of
from rehang.trade.gate.powers import (
    APPROVE,
    DECIDE,
    INSPECT,
    LOOK,
    POWERS,
    TORQUE,
    PowerNeed,
    check_settling,
    holders,
    papers_for,
    powers_of,
    why_no_power,
)
from rehang.trade.gate.who import lookers, workers
from rehang.trade.telling.entry_text import draft_of
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.terms.wording import is_blank
from rehang.trade.verdicts.folding import fold_job

from .cast import PEOPLE, Bench, facts
from .finished import Finished

DAY = date(2026, 11, 2)
PAPER = """
[[person.certificate]]
kind = "{kind}"
number = "{number}"
authority = "Case authority (invented)"
entered_on = {entered}
"""


def people(*papers: str, more: str = "") -> str:
    """Ann with those papers; ``more`` is put behind her name."""
    return f'[[person]]\nkey = "ada"\nname = "Ann"\n{more}' + "".join(papers)


def paper(kind: str, number: str = "C-1", entered: str = "2026-01-05", until: str = "") -> str:
    text = PAPER.format(kind=kind, number=number, entered=entered)
    return f"{text}valid_until = {until}\n" if until else text


def powers_on(day: date, text: str) -> frozenset[str]:
    known = facts(people=text)
    return powers_of(known.people["ada"], day, known)


def test_each_kind_gives_what_the_shipped_example_says():
    assert powers_on(DAY, people(paper("mechanic"))) == {DECIDE, APPROVE, TORQUE}
    assert powers_on(DAY, people(paper("Inspection  Authorization", until="2027-03-31"))) == {
        INSPECT
    }
    # It expires, so one whose last day nobody wrote shows nothing.
    assert powers_on(DAY, people(paper("inspection authorization"))) == frozenset()
    assert powers_on(DAY, people(paper("shop inspector"))) == {LOOK, TORQUE}
    assert powers_on(DAY, people(paper("student"))) == frozenset()
    assert powers_on(DAY, people(paper("pilot"))) == frozenset()
    assert powers_on(DAY, people()) == frozenset()


def test_the_shops_own_table_stands_instead_of_the_example():
    own = '\n[powers]\nlicensed = ["decide", "look"]\n'
    assert powers_on(DAY, people(paper("licensed")) + own) == {DECIDE, LOOK}
    assert powers_on(DAY, people(paper("mechanic")) + own) == frozenset()


def test_the_single_certificate_of_an_older_file_is_read_and_has_no_last_day():
    old = people(
        more='certificate = "X-1"\ncertificate_kind = "mechanic, inspection authorization"\n'
    )
    for day in (date(1990, 1, 1), DAY, date(2090, 1, 1)):
        assert powers_on(day, old) == {DECIDE, APPROVE, TORQUE, INSPECT}


@pytest.mark.parametrize("number", ["none", "None", "-", "?", " ", "\u200b"])
def test_a_certificate_that_is_none_gives_nothing(number):
    old = people(more=f'certificate = "{number}"\ncertificate_kind = "mechanic"\n')
    assert powers_on(DAY, old) == frozenset()
    with pytest.raises(
        BadInput, match=r'A certificate has its "number"\. Write it as on the paper'
    ):
        facts(people=people(paper("mechanic", number)))


def test_a_paper_counts_from_the_day_it_was_put_in_to_its_last_day_both_included():
    text = people(paper("mechanic", entered="2026-11-02", until="2026-11-04"))
    days = {day: bool(powers_on(date(2026, 11, day), text)) for day in range(1, 6)}
    assert days == {1: False, 2: True, 3: True, 4: True, 5: False}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (people(paper("mechanic").replace("entered_on", "put_in")), 'no "put_in"'),
        (people(paper("mechanic").partition("entered_on")[0]), 'has "entered_on", the day'),
        (
            people(paper("mechanic", until='"May"')),
            "it must be a day without quotes, as in 2026-10-05",
        ),
        (people(paper(" ")), 'A certificate has its "kind"'),
        (people(more="certificate = [1]\n"), '"certificate" is 1; it must be a table'),
        (people(paper("mechanic"), more='certificate_kind = "x"\n'), 'has its own "kind"'),
        (people() + '[powers]\nmechanic = ["fly"]\n', "They are a list of decide, look, approve"),
        (people() + '[powers]\nmechanic = "look"\n', '"mechanic" is "look"; it must be a list'),
    ],
)
def test_papers_that_cannot_be_read_are_one_sentence(text, said):
    with pytest.raises(BadInput, match=re.escape(said)):
        facts(people=text)


def test_who_reads_only_holds_no_power_whatever_their_papers():
    assert powers_on(DAY, people(paper("mechanic"), more='role = "reads"\n')) == frozenset()


def test_a_mark_for_second_looks_gives_that_power_and_keeps_hands_off():
    known = facts(people=PEOPLE + '\n[[person]]\nkey = "dee"\nname = "Dee"\nsecond_look = true\n')
    assert powers_of(known.people["dee"], DAY, known) == {LOOK}
    assert known.people["dee"] in lookers(known, DAY)
    assert known.people["dee"] not in workers(known)
    assert lookers(known, DAY) == holders(LOOK, DAY, known)


def test_a_mark_for_second_looks_goes_with_a_paper_in_date_where_there_are_papers():
    marked = people(paper("mechanic", until="2026-11-01"), more="second_look = true\n")
    days = {
        day: LOOK in powers_on(date(2026, month, day), marked) for month, day in ((11, 1), (11, 2))
    }
    assert days == {1: True, 2: False}


def test_the_sentence_names_who_has_it_and_why_a_paper_does_not_count():
    need = PowerNeed(DECIDE, "close a task short")
    late = people(paper("mechanic", "M-7", entered="2026-12-01"))
    assert why_no_power("ada", need, DAY, facts(people=late)) == (
        "Ann has no paper to close a task short on 2 Nov 2026: mechanic certificate M-7 was put on "
        "file on 1 Dec 2026 and counts from then. Nobody in the list of people has: enter there who may, "
        "with the certificate."
    )
    known = facts(people=PEOPLE + '\n[[person]]\nkey = "dee"\nname = "Dee"\n')
    assert why_no_power("dee", need, DAY, known) == (
        "Dee has no paper on file to close a task short. Ada and Ben have."
    )
    assert why_no_power("ada", need, DAY, known) == ""


DAYS = st.dates(date(2020, 1, 1), date(2035, 1, 1))


@given(DAYS, DAYS, DAYS)
def test_a_power_is_held_exactly_while_a_paper_counts(entered, until, day):
    text = people(paper("mechanic", entered=entered.isoformat(), until=until.isoformat()))
    known = facts(people=text)
    held = powers_of(known.people["ada"], day, known)
    assert bool(held) == (entered <= day <= until)
    for power in POWERS:
        assert (power in held) == bool(papers_for(known.people["ada"], power, day, known))


@given(st.text(alphabet=" \t\u00a0\u200b\u200d\ufeff\u2060\u2800\u3164\u00ad\ufe0f", max_size=20))
def test_what_nobody_can_see_is_blank(text):
    assert is_blank(text)
    assert not is_blank(f"{text}a")
    assert not is_blank(f"{text}中")


# Reasons


@pytest.mark.parametrize(
    ("reason", "enough"),
    [
        ("ok", False),
        ("ok ok ok ok ok", False),
        ("acceptable", False),
        ("is ok", False),
        ("... --- ...", False),
        ("nipped up", True),
        ("renewed, blue", True),
        ("47 in-lb is inside 45 to 55", True),
    ],
)
def test_a_reason_says_what_was_seen_and_done_in_more_than_a_word(reason, enough):
    bench = Bench().good()
    bench.write("disagreed", verdict="REJECT", reason=reason)
    assert (bench.judged().state.faults == {}) == enough


# Supervision


def torqued_by_tom(**fields: str) -> Finished:
    job = Finished()
    job.last("torqued", task="H5").update(by="tom", **fields)
    return job


def test_a_helper_torques_under_a_person_who_may_and_the_record_says_whose():
    job = torqued_by_tom(under="marta")
    assert job.reasons() == []
    told = next(f for f in draft_of(job.judged(), "maintenance").fields if f.name == "performer")
    tom = told.value.partition(";")[0] + told.value.partition(";")[2].partition(")")[0]
    assert "propeller on" in tom
    assert tom.endswith("supervised by Marta Oduya")


def test_any_line_may_say_under_whom_it_was_written():
    bench = Bench()
    bench.read("gap", "17 thou", "WG", by="ada", under="ben")
    assert bench.judged().state.faults == {}
    bench.read("gap", "17 thou", "WG", by="ada", under="cy")
    [said] = bench.judged().state.faults.values()
    assert said == "Cy has no paper on file to supervise work. Ada or Ben may."


KEPT = datetime(2026, 11, 20, 9, 0, tzinfo=UTC)


@pytest.mark.parametrize(("until", "refused"), [("2026-11-20", False), ("2026-11-19", True)])
def test_what_settles_takes_its_paper_on_the_day_the_book_had_it_too(until, refused):
    known = facts(people=people(paper("mechanic", until=until)))
    bench = Bench()
    dropped = bench.write("disagreed", verdict="KEEP", reason="it never left the tray")
    state = fold_job(known, bench.entries)
    late = replace(dropped, kept=KEPT, hash="x")
    check_settling(dropped, state, known)
    if not refused:
        check_settling(late, state, known)
        return
    with pytest.raises(
        NotAllowed, match=r"on 20 Nov 2026: mechanic certificate C-1 was good to 19 Nov 2026"
    ):
        check_settling(late, state, known)


def test_what_was_settled_on_a_day_before_the_book_had_it_is_said():
    bench = Bench()
    called = bench.write("disagreed", verdict="KEEP", reason="it never left the tray")
    assert oddities_of(fold_job(facts(), bench.entries)) == ()
    bench.entries[-1] = replace(called, kept=KEPT, hash="x")
    assert oddities_of(fold_job(facts(), bench.entries)) == (
        "Settled on a day before the book had it: disagreed of 2 Nov 2026, kept on 20 Nov 2026. "
        "The papers of both days were looked at.",
    )
