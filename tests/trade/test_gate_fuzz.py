"""Values of every type in every field and key: each is taken or refused in a sentence, never a crash."""

from __future__ import annotations

import json
import random
import tomllib
from collections import defaultdict
from datetime import date, timedelta

import pytest
import tomlkit

from bench.doors.odd import IN_JSON, IN_TOML, paths_in, with_odd_value
from rehang.sheets import demo_path
from rehang.sheets.folder import parse_files, read_folder
from rehang.trade.doors.rules import check_can_append
from rehang.trade.job.judging import judge
from rehang.trade.terms.entries import parse_line
from rehang.trade.terms.errors import Refused
from rehang.trade.terms.kinds.register import KINDS
from rehang.trade.verdicts.folding import fold_job

TODAY = date(2026, 11, 13)


@pytest.fixture(scope="module")
def job():
    return read_folder(demo_path("finished"))


@pytest.mark.parametrize("seed", range(2))
def test_any_value_in_any_field_of_an_entry_is_taken_or_refused(job, seed):
    rnd = random.Random(seed)  # noqa: S311 - a seed that is known is what is wanted
    known = defaultdict(list)
    for entry in job.entries:
        known[entry.kind].append(entry)
    state, last = fold_job(job.facts, job.entries), job.entries[-1]
    refused = taken = 0
    for number in range(70):
        kind = rnd.choice([one for one in KINDS if known[one]])
        must, may = KINDS[kind]
        raw = {
            "id": f"any-{number}", "kind": kind, "by": last.by,
            "at": (last.at + timedelta(minutes=1)).isoformat(), **rnd.choice(known[kind]).data,
        }  # fmt: skip
        raw[rnd.choice([*must, *may] if rnd.random() < 0.9 else list(raw))] = rnd.choice(IN_JSON)
        try:
            entry = parse_line(json.dumps(raw), "line 1")
        except Refused:
            refused += 1
            continue
        # At a door, and in a book that had it before the rule was known.
        for door in (
            lambda one: check_can_append([one], job.entries, job.facts, at=last.at, state=state),
            lambda one: judge(job.facts, [*job.entries, one], today=TODAY),
        ):
            try:
                door(entry)
                taken += 1
            except Refused:
                refused += 1
    assert refused
    assert taken


@pytest.mark.parametrize("seed", range(2))
def test_any_value_at_any_key_of_a_file_is_taken_or_refused(job, seed):
    rnd = random.Random(seed)  # noqa: S311 - a seed that is known is what is wanted
    shipped = demo_path("four").parent
    files = dict(job.files) | {
        "tasks.toml": (shipped / "tasks.toml").read_text("utf-8"),
        "run.toml": (shipped / "run.toml").read_text("utf-8"),
        "torque.toml": (shipped / "torque.toml").read_text("utf-8"),
        "checks.toml": (shipped / "checks" / "plug.toml").read_text("utf-8"),
    }
    read = {name: tomllib.loads(text) for name, text in files.items()}
    ways = {name: list(paths_in(given)) for name, given in read.items()}
    refused = taken = 0
    for _ in range(120):
        name = rnd.choice(list(read))
        changed = with_odd_value(rnd, read[name], IN_TOML, ways[name])
        try:
            facts = parse_files({**files, name: tomlkit.dumps(changed)})
            judge(facts, job.entries, today=TODAY)
            taken += 1
        except Refused:
            refused += 1
    assert refused
    assert taken
