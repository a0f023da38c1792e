"""Work found: priced, put before the owner, answered, done; what was declined stays on the list."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from rehang.trade.gate.entry_gate import fault_of
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.extras import extra_of, extras_of
from rehang.trade.papers.warranties import warranties_due
from rehang.trade.telling.entry_text import draft_of
from rehang.trade.telling.sentences import entry_words
from rehang.trade.terms.entries import new_entry
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.money import money_from, money_said

from .finished import Finished

SEAL = {
    "what": "Replace the governor's oil seal",
    "reason": "Oil runs down the pad, a drop in ten seconds.",
    "airworthiness": True,
    "parts": [{"part": "gasket-drain", "number": 2, "each": "4.10"}, {"part": "seal", "number": 1}],
    "hours": "2.5",
    "rate": "95.10",
    "outside": [{"what": "Seal pressed in", "price": "60.00"}],
    "currency": "$",
}
HOW = {"how": "by phone"}


class Asked(Finished):
    """The finished demo with one piece of work found, as far as it goes."""

    def __init__(self, *steps: str, **told: object) -> None:
        super().__init__()
        self._at = -1
        self.id = self.add("work_found", **SEAL | told)["id"]
        for step in steps:
            getattr(self, step)()

    def judged(self) -> JudgedJob:
        """As the book stands, once for as many entries."""
        if self._at != len(self.entries):
            self._at, self._judged = len(self.entries), super().judged()
        return self._judged

    def sent(self) -> None:
        self.add("extra_sent", extras=[self.id], to="R. Ames", **HOW)

    def accepted(self) -> None:
        self.add("owner_answered", extra=self.id, answer="accepted", name="R. Ames", **HOW)

    def declined(self) -> str:
        told = {"extra": self.id, "answer": "declined", "name": "R. Ames", **HOW}
        return str(self.add("owner_answered", **told)["id"])

    def done(self, by: str = "marta") -> None:
        said = "New seal in, dry after a run of ten minutes."
        self.add("extra_closed", by=by, extra=self.id, outcome="done", reason=said)

    def strike(self, what: str) -> None:
        self.add("struck", entry=what, reason="It was written on the wrong engine.")

    def open(self) -> list[tuple[str, str]]:
        return [
            (one.group, one.sentence)
            for one in self.judged().blockers
            if one.about.startswith("extra:")
        ]

    def listed(self) -> str:
        return " ".join(one.text for one in draft_of(self.judged(), "discrepancies").lines)

    def fault(self, kind: str, by: str = "marta", **told: object) -> str:
        """What the gate says of an entry at the end of the book."""
        judged = self.judged()
        entry = new_entry(kind, at=judged.state.order[-1].at, by=by, **told)
        return fault_of(entry, judged.state, judged.facts)


def test_a_price_is_added_up_in_decimals():
    judged = Asked().judged()
    (one,) = extras_of(judged.facts, judged.state)
    # 2 x 4.10 + 2.5 x 95.10 + 60.00, by hand; the seal has no price.
    assert one.estimate.total == (Decimal("305.95"), 1)
    assert [line.total for line in one.estimate.lines] == [
        Decimal("8.20"), None, Decimal("237.750"), Decimal("60.00"),
    ]  # fmt: skip
    assert all(isinstance(line.each, Decimal | None) for line in one.estimate.lines)


# In binary fractions 1.1 + 2.2 is no 3.3, and 0.125 rounds to either side.
@pytest.mark.parametrize(
    ("text", "said"),
    [("1240.5", "€1,240.50"), ("0.1", "€0.10"), ("1,000", "€1,000.00"), (" 7 ", "€7.00")],
)
def test_money_is_read_and_said(text, said):
    assert money_said(money_from(text, "It"), "€") == said


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("12,50", "has a comma that is not a thousands mark"),
        ("12.505", "Write two decimals at most."),
        ("-3", "Write 0 to 10,000,000."),
        ("20000000", "Write 0 to 10,000,000."),
        ("free", '"free" is not a number'),
        ("NaN", '"NaN" is not a number'),
        ("1e3", '"1e3" is not a number'),
    ],
)
def test_what_is_no_money_is_refused(text, said):
    with pytest.raises(BadInput, match=said):
        money_from(text, "The price")


EXTRA = "Work that the owner has not agreed to"


@pytest.mark.parametrize(
    ("steps", "group", "said"),
    [
        ((), EXTRA, "the owner has not been asked"),
        (("sent",), EXTRA, "the owner has not answered"),
        (("sent", "declined"), EXTRA, "declined by R. Ames on 12 Nov 2026"),
        (
            ("sent", "accepted"),
            "Work not finished",
            "accepted by R. Ames on 12 Nov 2026 and not done",
        ),
    ],
)
def test_until_it_is_done_it_blocks_and_is_on_the_list(steps, group, said):
    job = Asked(*steps)
    ((under, sentence),) = job.open()
    assert under == group and said in sentence, sentence
    assert sentence in job.listed()
    # Ahead of all that somebody in the shop mends by themselves.
    assert group != EXTRA or job.judged().blockers[0].group == EXTRA


def test_done_lifts_it_and_stands_on_the_maintenance_entry():
    job = Asked("sent", "accepted", "done")
    assert not job.open()
    line = next(one for one in draft_of(job.judged(), "maintenance").lines if one.id == "extra")
    assert line.text == (
        "Replace the governor's oil seal: Oil runs down the pad, a drop in ten seconds; New seal in, "
        "dry after a run of ten minutes."
    )


def test_what_airworthiness_does_not_hang_on_blocks_nothing():
    for steps in ((), ("sent", "declined"), ("sent", "accepted")):
        assert not Asked(*steps, airworthiness=False).open()


def test_what_was_declined_never_goes_silently():
    job = Asked("sent")
    no = job.declined()
    refusal = "the owner declined it, so it stays on the list of discrepancies"
    assert refusal in job.fault("struck", entry=job.id, reason="It was found on another engine.")
    # Nor once the answer is struck: then it is as if nobody had answered, and it still blocks.
    job.strike(no)
    job.strike(job.id)
    assert any("the owner has not answered" in one for _, one in job.open())
    # Nor by a helper; whoever has papers closes it, and the reason stands in the book.
    told = {
        "extra": job.id,
        "outcome": "taken back",
        "reason": "The drop was spilt fuel, wiped dry.",
    }
    assert "no paper on file to close work" in job.fault("extra_closed", by="tom", **told)
    job.add("extra_closed", **told)
    assert [one for one in job.open() if job.id in one] == []
    judged = job.judged()
    one = extra_of(judged.facts, judged.state, job.id)
    assert one is not None and one.standing == "TAKEN BACK"


def test_what_nobody_declined_may_be_struck():
    job = Asked("sent")
    job.strike(job.id)
    assert not job.open()


def test_a_change_of_mind_is_a_second_answer():
    job = Asked("sent", "declined", "accepted")
    assert "accepted by R. Ames" in job.open()[0][1]


# kind, fields over those of a good one, and what the gate says.
REFUSED = [
    ("work_found", SEAL | {"hours": "", "parts": [], "outside": []}, "Write what it takes"),
    ("work_found", SEAL | {"hours": "2,5"}, "has a comma"),
    ("work_found", SEAL | {"hours": "0"}, "0 h cannot be"),
    ("work_found", SEAL | {"hours": "02.5"}, "The book keeps them as"),
    ("work_found", SEAL | {"rate": "95.1"}, 'The book keeps it as in "48.50".'),
    ("work_found", SEAL | {"rate": "95.1050"}, "Write two decimals at most."),
    ("work_found", SEAL | {"parts": [{"part": "seal", "number": 1, "each": 4.1}]}, "as text"),
    ("work_found", SEAL | {"parts": [{"part": "seal", "number": 0}]}, "0 of seal cannot be"),
    ("work_found", SEAL | {"parts": [{"part": "seal", "number": True}]}, "cannot be"),
    ("work_found", SEAL | {"parts": ["seal"]}, "A line of parts has part and number"),
    ("work_found", SEAL | {"parts": [{"part": " ", "number": 1}]}, "does not say what it is"),
    ("work_found", SEAL | {"outside": [{"price": "3.00"}]}, "A line of outside has what"),
    ("work_found", SEAL | {"item": "plug:NONE"}, 'no item "plug:NONE"'),
    ("work_found", SEAL | {"what": " "}, "Write what is to be done."),
    ("work_found", SEAL | {"reason": "\u2003"}, "Write why: what was seen, and where."),
    ("extra_sent", {"extras": [], "to": "R. Ames", **HOW}, "Pick what is put before the owner."),
    ("extra_sent", {"extras": ["none-1"], "to": "R. Ames", **HOW}, 'no work found "none-1"'),
    ("extra_sent", {"extras": ["it"], **HOW}, "Write the owner's name, or pick a person"),
    ("extra_sent", {"extras": ["it"], "to": "A", "person": "tom", **HOW}, "one of them"),
    ("extra_sent", {"extras": ["it"], "person": "nil", **HOW}, "is not in the list of people"),
    ("extra_sent", {"extras": ["it"], "to": "R. Ames", "how": "by bird"}, "no way that it was asked"),
    ("owner_answered", {"extra": "it", "answer": "perhaps", "name": "A", **HOW}, "is no answer"),
    ("owner_answered", {"extra": "it", "answer": "accepted", **HOW}, "Write the owner's name"),
    (
        "owner_answered",
        {"extra": "it", "answer": "accepted", "person": "tom", **HOW},
        "Tom Ferrick answers with their own PIN",
    ),
    ("extra_spent", {"extra": "it", "hours": "1"}, "the owner has not accepted it"),
    ("used", {"extra": "it", "part": "oil-filter", "number": 1}, "the owner has not accepted it"),
    ("extra_closed", {"extra": "it", "outcome": "done", "reason": "All done."}, "has not accepted"),
    ("extra_closed", {"extra": "it", "outcome": "gone", "reason": "All done."}, "does not close it"),
    ("extra_closed", {"extra": "it", "outcome": "taken back", "reason": "ok"}, "too little"),
    ("warranty", {"of": "Seal", "given_by": "Maker"}, "Write the day it ends, the hours, or both."),
    ("warranty", {"of": "Seal", "given_by": "Maker", "until": "2026-01"}, "31 Jan 2026 is past"),
    ("warranty", {"of": "Seal", "given_by": "Maker", "hours": 1.0}, "is not ahead of the engine's"),
    ("warranty", {"of": "Seal", "given_by": " ", "hours": 9000.0}, "Write who gives the warranty."),
]  # fmt: skip


@pytest.fixture(scope="module")
def waiting() -> Asked:
    return Asked("sent")


@pytest.mark.parametrize(("kind", "told", "said"), REFUSED)
def test_what_the_gate_refuses(waiting, kind, told, said):
    if kind == "used":
        told = told | {"part": next(iter(waiting.judged().facts.parts))}
    named = {
        k: waiting.id if v == "it" else [waiting.id] if v == ["it"] else v for k, v in told.items()
    }
    assert said in waiting.fault(kind, **named)


def test_an_answer_before_the_question_is_none():
    job = Asked("accepted")
    assert any(
        "nobody has put it before the owner" in one.sentence for one in job.judged().blockers
    )
    assert "has not been asked" in job.open()[0][1]


def test_what_is_closed_stays_closed():
    job = Asked("sent", "accepted", "done")
    told = {"extra": job.id, "answer": "declined", "name": "R. Ames", **HOW}
    assert "Write it as new work found." in job.fault("owner_answered", **told)


def test_a_person_of_the_list_answers_for_themself():
    job = Asked("sent")
    told = {"extra": job.id, "answer": "accepted", "person": "tom", **HOW}
    assert not job.fault("owner_answered", by="tom", **told)
    job.add("owner_answered", by="tom", **told)
    assert "accepted by Tom Ferrick" in job.open()[0][1]


@pytest.mark.parametrize("hours", ["0.1", "1", "2.5"])
def test_any_hours_above_none_are_taken(hours):
    told = SEAL | {"hours": hours}
    assert not Asked().fault("work_found", **told)


def test_estimate_against_actual():
    job = Asked("sent", "accepted")
    part = next(name for name, one in job.judged().facts.parts.items() if one.price is not None)
    price = Decimal(str(job.judged().facts.parts[part].price))
    job.add("extra_spent", extra=job.id, hours="1.5")
    job.add("extra_spent", extra=job.id, hours="0.4")
    job.add("extra_spent", extra=job.id, cost="12.30", what="Seal from the hardware store")
    job.add("arrived", part=part, number=3, form="Form R1", reference="77")
    job.add("used", extra=job.id, part=part, number=2)
    judged = job.judged()
    one = extra_of(judged.facts, judged.state, job.id)
    assert one is not None and one.actual.hours == Decimal("1.9")
    # 1.9 h x 95.10 is 180.69, by hand.
    assert one.actual.total == (Decimal("180.69") + Decimal("12.30") + 2 * price, 0)


def test_a_warranty_is_among_what_comes_due_and_holds_up_nothing():
    job = Finished()
    before = len(job.judged().blockers)
    job.add("warranty", of="Governor seal", given_by="Bay Seals (invented)", until="2027-11")
    job.add("warranty", of="Its labour", given_by="the shop", hours=9000.0, until="2026-11-12")
    judged = job.judged()
    assert len(judged.blockers) == before
    seal, labour = warranties_due(judged.facts, judged.state, date(2026, 11, 13))
    assert [one.id for one in judged.due[-2:]] == [seal.id, labour.id]
    assert seal.sentence == (
        "Governor seal: the warranty of Bay Seals (invented) ends, to 30 Nov 2027."
    )
    assert (seal.overdue, seal.blocks, seal.days_left) == (False, False, 382)
    # The last day is still good, and the day after it has ended by the day alone.
    assert "the warranty of the shop has ended, to 12 Nov 2026 or at 9,000.0 h" in labour.sentence
    assert "1 day past" in labour.by_date and "left" in labour.by_hours


@pytest.mark.parametrize(
    ("kind", "told", "said"),
    [
        ("work_found", SEAL, "Work found: Replace the governor's oil seal, unairworthy until"),
        ("extra_sent", {"extras": ["it-1"], "to": "R. Ames", **HOW}, "1 piece of work found put"),
        (
            "owner_answered",
            {"extra": "it-1", "answer": "declined", "name": "R. Ames", **HOW},
            "Work found: declined by R. Ames, by phone.",
        ),
        (
            "extra_spent",
            {"extra": "it-1", "hours": "2", "cost": "3.00", "what": "Wire"},
            "Spent on work found: 2 h and Wire, 3.00.",
        ),
        (
            "extra_closed",
            {"extra": "it-1", "outcome": "done", "reason": "Dry again"},
            "Work found: done. Dry again.",
        ),
        (
            "warranty",
            {"of": "Seal", "given_by": "Maker", "until": "2027-11", "hours": 900.0},
            "Warranty on seal by Maker, to 30 Nov 2027 or at 900.0 h since overhaul.",
        ),
    ],
)
def test_each_kind_is_said(kind, told, said):
    judged = Finished().judged()
    entry = new_entry(kind, at=judged.state.order[-1].at, by="marta", **told)
    assert entry_words(entry, judged).startswith(said)
