"""What the terminal says: the first screen answers what needs somebody, and 80 columns hold it all."""

from __future__ import annotations

import re

import pytest

from rehang.cli.main import app
from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.job.judging import judge

DEMO = str(demo_path())


@pytest.fixture
def said(capsys, monkeypatch):
    """What a command prints into a pipe, 80 columns wide."""
    monkeypatch.setenv("COLUMNS", "80")

    def run(*arguments: str) -> str:
        assert app(arguments, result_action="return_value") == 0
        return capsys.readouterr().out

    return run


def test_first_screen_names_every_part_that_keeps_the_engine_from_service(said):
    first = said("check", DEMO, "--now", "2026-10-21").splitlines()[:24]
    folder = read_folder(demo_path())
    judged = judge(folder.facts, folder.entries)
    about = {one.about for one in judged.blockers}
    needs = [one for one in judged.items if one.item in about]
    assert len(needs) == 29
    for one in needs:
        if one.kind == "plug":
            assert any(
                re.match(rf"{one.place}  {one.name} +{one.verdict} ", line) for line in first
            )
    others = [re.split(" (?:REJECT|REWORK|NOT YET) ", line) for line in first[5:]]
    parts = [one[0] for one in others if one[1:] and not re.match(r"\d[TB]  ", one[0])]
    more = sum(int(found) for one in parts for found in re.findall(r"and (\d+) more", one))
    named = sum(1 + one.count(",") for one in parts) + more
    assert named == len(needs) - 6
    assert "May not be returned to service: 58 reasons." in first


def test_what_is_replaced_and_written_off_needs_nobody(said):
    whole = said("check", str(demo_path("finished")), "--now", "2026-11-12")
    assert "Nothing in this book blocks the return to service." in whole
    assert "What " not in whole
    assert "REJECT, replaced and written off: 4 plugs and 3 hoses." in whole


def test_the_spark_index_is_said_once_for_all_plugs(said):
    whole = said("check", DEMO, "--all")
    assert whole.count("An index for comparing") == 1
    assert "1B and 2B: on a gap of 17 thou" in " ".join(whole.split())
    assert whole.count("way out: ") > 50


@pytest.mark.parametrize(
    "command",
    [
        ("check", DEMO),
        ("check", DEMO, "--all"),
        ("plan", DEMO, "--now", "2026-10-21T08:00"),
        ("parts", DEMO),
        ("due", DEMO),
        ("rotation", DEMO, "--best"),
        ("record", str(demo_path("finished"))),
        ("record", str(demo_path("finished")), "--what", "inspection"),
        ("record", DEMO, "--what", "discrepancies"),
        ("forecast", str(demo_path("radial"))),
        ("story", DEMO, "K0411"),
        ("lives", DEMO),
    ],
    ids=" ".join,
)
def test_eighty_columns_hold_it_in_the_words_of_the_trade(said, command):
    for line in said(*command).splitlines():
        assert len(line) <= 80, line
        assert "\x1b" not in line
        # No id of the book: plug:K0411, tappet_intake.
        assert not re.search(r"\b[a-z]+:[A-Za-z0-9]|[a-z]_[a-z]", line), line


def test_prices_have_their_currency(said):
    assert "1 × Hose HS5, oil-pressure line, $96.00;" in said("parts", DEMO)


def test_neither_a_folder_nor_a_job_is_said_in_one_sentence(said):
    from rehang.trade.terms.errors import BadInput

    with pytest.raises(BadInput, match=r"^There is no folder nowhere/my-job here\.$"):
        said("check", "nowhere/my-job")
