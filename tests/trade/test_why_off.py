"""Why an engine came off: what that opens, and the teardown that only a decision answers."""

from __future__ import annotations

import pytest

from rehang.sheets import reasons, task_sheet
from rehang.sheets.folder import check_facts, parse_files
from rehang.trade.gate.entry_gate import fault_of
from rehang.trade.known.why_off import reasons_of
from rehang.trade.telling.entry_text import draft_of
from rehang.trade.terms.entries import new_entry
from rehang.trade.terms.errors import BadInput

from .finished import Finished

STRIKE = "propeller strike or sudden stop"
ENGINE, PROPELLER = reasons()[STRIKE].documents


def struck(*, also: str = STRIKE) -> Finished:
    job = Finished()
    job.files["engine.toml"] = f'also_for = ["{also}"]\n' + job.files["engine.toml"]
    return job


def about(job: Finished, name: str) -> list[str]:
    return [one.sentence for one in job.judged().blockers if one.about.startswith(name)]


def read_both(job: Finished) -> None:
    for name in (ENGINE, PROPELLER):
        job.add("read_document", document=name, revision="SB-12 rev 3 (invented)")


def decide(job: Finished, outcome: str, **more: str) -> None:
    job.add(
        "teardown",
        outcome=outcome,
        **{"document": "Invented SB-12", "reason": "The blade tip is bent back.", **more},
    )


def test_a_strike_opens_its_tasks_and_documents_and_asks_for_the_teardown():
    job = struck()
    assert {"R2", "R3"} <= set(job.judged().facts.tasks)
    assert "R4" not in job.judged().facts.tasks
    assert "flange run-out after the strike" in about(job, "work")[0]
    assert about(job, "why:")[-1] == (
        "Propeller strike or sudden stop: whether the engine is torn down is not decided."
    )
    assert len(about(job, "why:")) == 3
    read_both(job)
    assert len(about(job, "why:")) == 1


def test_a_job_without_a_reason_is_as_it_was():
    assert not about(Finished(), "why:")
    assert not set(Finished().judged().facts.tasks) & {f"R{n}" for n in range(1, 8)}
    # What a job of before says that it was for opens nothing in it.
    job = Finished()
    job.files["engine.toml"] = f'purpose = "{STRIKE}"\n' + job.files["engine.toml"]
    assert not about(job, "why:")


def test_torn_down_stays_open_until_it_is_written_as_done():
    job = struck()
    read_both(job)
    decide(job, "tear down")
    assert "is not written as done" in about(job, "why:")[0]
    decide(job, "torn down", document="Work order 88 (invented)")
    assert not about(job, "why:")


@pytest.mark.parametrize(
    ("by", "more", "said"),
    [
        ("tom", {}, "Tom Ferrick has no paper on file to decide whether an engine is torn down"),
        ("marta", {"document": "  "}, "Write by which document"),
        ("marta", {"reason": "ok"}, "too little to stand on the record"),
        ("marta", {"outcome": "closed short"}, "is no decision on a teardown"),
    ],
)
def test_what_does_not_decide_it(by, more, said):
    job = struck()
    told = {"outcome": "no teardown", "document": "SB-12", "reason": "The tip is bent back."}
    job.add("teardown", by=by, **told | more)
    assert about(job, "why:teardown"), "what the gate refuses settles nothing"
    assert any(said in one.sentence for one in job.judged().blockers)


def test_a_reason_that_is_taken_out_of_the_file_again_is_still_asked_for():
    job = struck()
    job.add("filed", file="engine.toml", sha256="0" * 64, text=job.files["engine.toml"])
    job.files["engine.toml"] = Finished().files["engine.toml"]
    judged = job.judged()
    assert STRIKE in [one.id for one in reasons_of(judged.facts, judged.state)]
    assert about(job, "why:teardown")


def test_a_shop_sets_its_own_and_cannot_take_the_teardown_off_a_strike():
    job = struck()
    job.files["reasons.toml"] = f'[[reason]]\nid = "{STRIKE}"\ndocuments = ["Our card 7"]\n'
    assert len(about(job, "why:Our card 7")) == 1
    assert about(job, "why:teardown")
    assert "R2" not in job.judged().facts.tasks


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[[reason]]\nid = "hail"\ntasks = ["Z9"]\n', '"hail" names task "Z9"'),
        ('[[reason]]\nid = "hail"\nkinds = ["wing"]\n', '"hail" names kind of item "wing"'),
        ('[[reason]]\nid = "hail"\n[[reason]]\nid = "hail"\n', 'There are two "hail"'),
    ],
)
def test_what_a_reason_may_not_say(text, said):
    files = {**Finished().files, "reasons.toml": text}
    with pytest.raises(BadInput, match=said):
        check_facts(parse_files(files))
    with pytest.raises(BadInput, match='"hail" is no reason on file'):
        check_facts(parse_files(struck(also="hail").files))


def test_a_document_that_nobody_asked_for_is_not_read():
    judged = struck().judged()
    last = judged.state.order[-1]
    entry = new_entry("read_document", at=last.at, by="marta", document="The news", revision="1")
    assert "is none of the documents" in fault_of(entry, judged.state, judged.facts)


def test_the_record_says_why_it_came_off_and_what_was_decided():
    job = struck()
    read_both(job)
    decide(job, "no teardown")
    line = next(one for one in draft_of(job.judged(), "maintenance").lines if one.id == "why")
    assert line.drawn.startswith(f"Propeller strike or sudden stop; {ENGINE}, read ")
    assert "no teardown by Invented SB-12, decided " in line.drawn


def test_every_shipped_reason_says_where_it_is_from_and_names_what_there_is():
    for one in reasons().values():
        assert one.source == "common practice, no source"
        assert {*one.tasks, *one.left_out} <= set(task_sheet())
