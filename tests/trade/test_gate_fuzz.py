"""Values of every type in every field and key: each is taken or refused in a sentence, never a crash."""

from __future__ import annotations

import copy
import json
import random
import tomllib
from collections import defaultdict
from datetime import date, datetime, timedelta

import pytest
import tomlkit

from rehang.sheets import demo_path
from rehang.sheets.folder import parse_files, read_folder
from rehang.trade.entries import KINDS, parse_line
from rehang.trade.errors import Refused
from rehang.trade.judging import judge
from rehang.trade.rules import check_can_append
from rehang.trade.verdict import fold_job

TODAY = date(2026, 11, 13)
TEXTS = [
    "", " ", "\u00a0", "x", "18 thou", "1.2 kohm", "2026-11-12", "2062-01-01", "1T", "9Z", "plug:",
    "plug:K0411", "run:9", "magneto:left", "-", "ol", "9" * 50, "\uff11\uff18", "WITHIN", "KEEP",
    "\ud800", "a\0b", "9999-12-31T23:59:59+00:00", "0001-01-01T00:00:00+00:00", "<2", "74/80", "-5 in",
]  # fmt: skip
NUMBERS = [True, 0, -1, 1, 10**9, 10**15, 10**309, 1e308, -0.5, float("inf"), float("nan")]
IN_JSON = [
    *TEXTS, *NUMBERS, None, [], {}, [1], [[]], {"a": {"b": [1, {}]}}, {"orifice": "0.040 in"},
    {"iron": "<2"}, {"iron": -1}, [{"check": "gap", "written": "18"}],
]  # fmt: skip
IN_TOML = [
    *(one for one in TEXTS if one.isprintable()), *NUMBERS, date(1, 1, 1), date(9999, 12, 31),
    datetime(2026, 11, 12, 9), [], {}, [1], ["x"], [[]], {"a": {"b": 1}}, [{}], [{"id": "x"}],  # noqa: DTZ001 - a TOML time may have no zone
]  # fmt: skip


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
    refused = taken = 0
    for _ in range(120):
        name = rnd.choice(list(read))
        changed = copy.deepcopy(read[name])
        *way, key = rnd.choice([path for path in _paths(changed) if path])
        table = changed
        for step in way:
            table = table[step]
        table[key] = rnd.choice(IN_TOML)
        try:
            facts = parse_files({**files, name: tomlkit.dumps(changed)})
            judge(facts, job.entries, today=TODAY)
            taken += 1
        except Refused:
            refused += 1
    assert refused
    assert taken


def _paths(given, path=()):
    yield path
    inner = given.items() if isinstance(given, dict) else ()
    for key, value in enumerate(given) if isinstance(given, list) else inner:
        yield from _paths(value, (*path, key))
