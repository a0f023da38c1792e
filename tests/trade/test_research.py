"""Directives: once and for good, ended by an action, not for this engine, at an event, researched."""

from __future__ import annotations

import pytest

from rehang.sheets.folder import parse_files
from rehang.trade.terms.errors import BadInput

from .finished import Finished

DIRECTIVE = """
[[recurring]]
id = "inv-1"
title = "Invented directive 1"
kind = "directive"
document = "Invented INV-1"
revision = "B"
"""


def job_with(lines: str) -> Finished:
    job = Finished()
    job.files["recurring.toml"] += DIRECTIVE + lines
    return job


def due(job: Finished):
    return next(one for one in job.judged().due if one.id == "inv-1")


def done(job: Finished, **more: object) -> None:
    job.add(
        "complied",
        recurring="inv-1",
        on="2026-11-12",
        document="Invented INV-1",
        revision="B",
        **more,
    )


def test_one_that_is_done_once_is_due_until_it_is_done():
    job = job_with("once = true\nby_day = 2026-10-01\n")
    assert due(job).overdue and due(job).by_date.startswith("1 Oct 2026, overdue")
    assert any(one.about == "recurring:inv-1" for one in job.judged().may_not_fly)
    done(job)
    assert not due(job).overdue
    assert due(job).sentence == "Invented directive 1 was done once, on 12 Nov 2026, for good."
    done(job)
    assert any("It is not done again." in one.sentence for one in job.judged().blockers)


def test_one_that_is_done_once_is_due_by_hours_too():
    # The finished demo's engine has 925.9 h since overhaul.
    assert due(job_with("once = true\nat_hours = 900\n")).overdue
    assert not due(job_with("once = true\nat_hours = 960\n")).overdue


def test_a_terminating_action_ends_what_recurs():
    job = job_with("every_months = 1\nlast_on = 2026-01-10\n")
    assert due(job).overdue
    done(job, ends=True)
    assert due(job).sentence == (
        "Invented directive 1 was ended on 12 Nov 2026 by Invented INV-1: it recurs no more."
    )
    assert due(job).due_on is None and not job.judged().may_not_fly


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ('not_for = "The pump of INV-1 is not fitted"\n', "does not apply: The pump of INV-1 is"),
        (
            'every_months = 1\nserials = ["A-1", "A-2"]\n',
            "is for serial A-1 or A-2; this engine is",
        ),
        ('event = "next overhaul"\n', "falls due at: next overhaul."),
    ],
)
def test_what_is_not_due_says_why(lines, said):
    job = job_with(lines)
    assert said in due(job).sentence
    assert not due(job).overdue and not job.judged().may_not_fly


def test_one_for_this_serial_is_due():
    serial = Finished().judged().facts.engine["serial"]
    assert due(
        job_with(f'every_months = 1\nlast_on = 2026-01-10\nserials = ["{serial}"]\n')
    ).overdue


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ("once = true\nevery_months = 12\n", "is done once and has an interval"),
        ("every_months = 12\nat_hours = 900\n", "which are of what is done once"),
        ("", "has no interval"),
    ],
)
def test_what_a_directive_may_not_say(lines, said):
    with pytest.raises(BadInput, match=said):
        parse_files(job_with(lines).files)


def test_an_annual_asks_that_directives_were_researched_within_the_shops_days():
    def research(job: Finished) -> list[str]:
        return [one.sentence for one in job.judged().blockers if one.about == "record:research"]

    assert not research(Finished()), "a shop that sets no days is asked for nothing"
    job = Finished()
    job.replace("engine.toml", "[shop_hours]", "[shop_hours]\nresearch_days = 30")
    assert "have not been researched in this job" in research(job)[0]
    first = job.entries[0]
    job.add("researched", after=first, against="Invented list of 1 Oct 2026")
    assert "have not been researched since" in research(job)[0]
    job.add("researched", against="Invented list of 12 Nov 2026")
    assert not research(job)
    # Without an annual there is nothing to research them for.
    job = Finished()
    job.replace("engine.toml", "[shop_hours]", "[shop_hours]\nresearch_days = 30")
    job.without("complied", recurring="annual")
    assert not research(job)


def test_a_helper_does_not_say_that_they_are_researched():
    job = Finished()
    job.add("researched", by="tom", against="Invented list of 12 Nov 2026")
    assert any("Tom Ferrick has no paper" in one.sentence for one in job.judged().blockers)
