"""Simulated shops: folders that Rehang itself reads, judges and verifies, the same for a seed."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest

from rehang.cli.main import main
from rehang.sheets.folder import read_folder
from rehang.sheets.simulate import Plan, simulate, write_shops
from rehang.sheets.whole import folder_checked
from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.terms.errors import BadInput

PLAN = Plan(seed=4, shops=2, engines=1, services=3, faults=0.4, slips=0.2)


@pytest.fixture(scope="module")
def written(tmp_path_factory) -> list[Path]:
    return write_shops(tmp_path_factory.mktemp("simulated") / "out", PLAN)


def test_every_folder_is_read_judged_and_verified_clean(written):
    assert len(written) == 6
    for path in written:
        folder = read_folder(path)
        assert folder.notices == ()
        judged = judge(folder.facts, folder.entries, where=folder.where)
        assert len(judged.items) >= 12
        assert folder_checked(path).changed == []
        assert folder.facts.engine["invented"] is True


def test_shops_have_wear_faults_slips_and_replacements(written):
    entries = [entry for path in written for entry in read_folder(path).entries]
    kinds = {entry.kind for entry in entries}
    assert {"earlier", "removed", "reading", "struck", "replaced", "disposed", "sampled"} <= kinds
    items = [e for path in written for e in _judged(path).items]
    assert {"KEEP", "REJECT", "NOT YET"} <= {one.verdict for one in items if one.kind == "plug"}
    assert any(call.call == "NOT READ" for one in items if one.kind == "plug" for call in one.calls)


def test_plugs_rotate_and_their_hours_grow(written):
    first, second = (_judged(path) for path in written[:2])
    stayed = set(first.state.items) & set(second.state.items)
    plugs = [i for i in stayed if i.startswith("plug:") and second.state.items[i].removed]
    assert plugs
    for item in plugs:
        before, after = first.state.items[item], second.state.items[item]
        if before.removed is None:
            continue
        assert after.came_out_of == first.facts.layout.next_hole(before.came_out_of)
        assert (after.hours or 0) > (before.hours or 0)


def _judged(path: Path) -> JudgedJob:
    folder = read_folder(path)
    return judge(folder.facts, folder.entries, where=folder.where)


def test_same_seed_is_the_same_bytes_and_another_is_not():
    def digest(seed: int) -> str:
        jobs = list(simulate(Plan(seed=seed, engines=1, services=2)))
        text = "".join(
            f"{j.name}{sorted(j.files.items())}{[e.line() for e in j.entries]}" for j in jobs
        )
        return hashlib.sha256(text.encode()).hexdigest()

    assert digest(11) == digest(11)
    assert digest(11) != digest(12)


@pytest.mark.parametrize(
    ("plan", "sentence"),
    [
        (Plan(engines=0), "0 engines cannot be simulated. Give 1 to 1000."),
        (Plan(services=99), "99 services cannot be simulated. Give 1 to 40."),
        (Plan(faults=1.5), "A share of 1.5 for faults cannot be. Give 0 to 1."),
        (Plan(seed=-1), "The seed is -1. Give a whole number of 0 or more."),
    ],
)
def test_plan_that_cannot_be_is_refused(plan, sentence):
    with pytest.raises(BadInput, match=f"^{sentence}$".replace(".", r"\.")):
        simulate(plan)


def test_folder_with_something_in_it_is_left_alone(tmp_path):
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(BadInput, match=r"is not an empty folder\. Give the name of a new one\.$"):
        write_shops(tmp_path, PLAN)
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


# The commands


@pytest.fixture
def rehang(capsys):
    def run(*arguments: object) -> tuple[object, str, str]:
        with pytest.raises(SystemExit, match=r"^\d$") as left:
            main([str(a) for a in arguments])
        out = capsys.readouterr()
        return left.value.code, out.out, out.err

    return run


def test_command_writes_folders_that_check_and_verify(tmp_path, rehang):
    out = tmp_path / "out"
    asked = ("simulate", out, "--engines", 1, "--services", 2, "--seed", 5)
    code, said, _ = rehang(*asked, "--dry-run")
    assert (code, out.exists(), len(said.splitlines())) == (0, False, 2)
    assert rehang(*asked)[:2] == (0, f"2 job folders are written in {out}.\n")
    for folder in sorted(out.iterdir()):
        assert rehang("check", folder)[0] == 0
        code, said, _ = rehang("verify", folder)
        assert (code, said.splitlines()[-1]) == (0, f"{folder}: whole.")
    assert rehang(*asked)[0] == 1


def test_story_command_tells_a_part_over_several_folders(written, rehang):
    older, newer = written[0], written[1]
    item = next(
        one.name
        for one in _judged(newer).items
        if one.kind == "plug" and one.item in _judged(older).state.items and one.state.removed
    )
    code, said, _ = rehang("story", newer, item, "--with", older)
    assert code == 0
    assert f"In {older.name}, {newer.name}." in said
    assert "Where it flew" in said
    code, _, err = rehang("story", newer, "plug:NONE")
    assert (code, err) == (1, 'There is no item "plug:NONE" in this job.\n')


def test_forecast_command_gives_odds_choices_and_warnings(written, rehang):
    code, said, _ = rehang("forecast", written[2], "--json")
    assert code == 0
    found = json.loads(said)
    assert set(found) == {"opening", "outlooks", "keep_or_renew", "warnings"}
    forecast = [one for one in found["outlooks"] if one["standing"] == "forecast"]
    assert forecast
    limited = [one for one in forecast if one["lower"] or one["upper"]]
    assert all(one["no_odds"] or 0 <= one["chance_inside"] <= 1 for one in limited)
    assert any(one["chance_inside"] is not None for one in limited)
    code, said, _ = rehang("forecast", written[2])
    assert "Counted are this job and those given with --with." in said
    assert code == 0
    assert "Next opening in" in said
    assert "Keep or renew" in said
