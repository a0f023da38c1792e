"""The gate: what it refuses at a line of a book, at a file, at a threshold and at a folder's door."""

from __future__ import annotations

import dataclasses
import json
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import parse_book, parse_files, read_folder
from rehang.trade.doors.rules import check_can_append, check_typed
from rehang.trade.facts.job_facts import Thresholds
from rehang.trade.facts.lines import parse_line as parse_row
from rehang.trade.job.judging import judge
from rehang.trade.terms.chain import GENESIS, chain_problems, seal
from rehang.trade.terms.entries import LONGEST_LINE, new_entry, parse_line
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.verdicts.folding import fold_job
from tests.started import COMMAND, rehang

from .cast import START, Bench, facts
from .finished import Finished

LINE = '{"id": "note-1", "kind": "note", "at": "2026-11-02T09:00:00-05:00", "by": "ada", %s}'


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ('"text": "one", "text": "two"', '"text" stands here twice. Keep the one that is meant.'),
        ('"text": NaN', "NaN is not a number. Write the number in digits."),
        ('"text": -Infinity', "-Infinity is not a number. Write the number in digits."),
        ('"text": 1e400', "The entry has a number that is not finite. Write the number in digits."),
        (
            '"text": 1' + "0" * 5_000,
            "This line holds a number or brackets beyond all reading. Write it again.",
        ),
        (
            '"text": ' + "[" * 100_000,
            "This line holds a number or brackets beyond all reading. Write it again.",
        ),
        ('"text": "half \\ud83d"', "The entry has half a character in it. Type the text again."),
        (
            '"text": "x", "seq": "1", "kept": "", "prev": "", "hash": ""',
            'The seal of this entry is not one: "seq" is a number, "prev" and "hash" are text. '
            "Copy the book again.",
        ),
    ],
)
def test_line_that_is_no_entry_is_refused_with_its_place(fields, sentence):
    with pytest.raises(BadInput, match=r".") as refusal:
        parse_line(LINE % fields, "book.jsonl, line 7")
    assert str(refusal.value) == f"book.jsonl, line 7: {sentence}"


def test_line_of_ten_million_characters_is_refused_unread():
    with pytest.raises(BadInput, match=f"a line of a book has at most {LONGEST_LINE:,}"):
        parse_line(LINE % f'"text": "{"x" * 10_000_000}"')


# The chain


def _sealed(number: int) -> list:
    kept, prev = [], GENESIS
    for seq in range(1, number + 1):
        note = new_entry("note", at=START + timedelta(minutes=seq), by="ada", text=f"note {seq}")
        kept.append(seal(note, seq=seq, kept=START, prev=prev))
        prev = kept[-1].hash
    return kept


def test_chain_of_sealed_entries_holds():
    assert chain_problems(_sealed(3)) == []


def test_entry_that_follows_another_book_breaks_the_chain_though_its_own_seal_is_right():
    first, second, third = _sealed(3)
    # Sealed rightly, at its own place, behind an entry that this book does not have.
    other = seal(
        dataclasses.replace(second, seq=0, kept=None, prev="", hash=""),
        seq=2, kept=START, prev="f" * 64,
    )  # fmt: skip
    third = seal(
        dataclasses.replace(third, seq=0, kept=None, prev="", hash=""),
        seq=3, kept=START, prev=other.hash,
    )  # fmt: skip
    assert chain_problems([first, other, third]) == [
        "book.jsonl, line 2: The entry does not follow the one before it."
    ]


def test_book_whose_first_entry_follows_something_is_not_whole():
    first, second = _sealed(2)
    assert chain_problems([second])[0].startswith(
        "book.jsonl, line 1: The entry says it is number 2"
    )
    assert "book.jsonl, line 1: The entry does not follow the one before it." in chain_problems(
        [second]
    )
    assert chain_problems([first]) == []


# Thresholds: one rule, both ends as written (DESIGN 4a, 2)


@pytest.mark.parametrize(
    ("p", "call"),
    [
        (1.0, "WITHIN"), (0.95, "WITHIN"), (0.949999999999, "CLOSE CALL"),
        (0.050000000001, "CLOSE CALL"), (0.05, "OUT"), (0.0, "OUT"),
    ],
)  # fmt: skip
def test_call_at_the_thresholds_themselves(p, call):
    assert Thresholds().call(p) == call


@pytest.mark.parametrize(
    ("psi", "rule", "call"),
    [
        # The gauge of the bench is good to 1 psi, so 70 lies inside 70 or more in half of all cases.
        (70, Thresholds(0.5, 0.05), "WITHIN"),
        (70, Thresholds(0.51, 0.05), "CLOSE CALL"),
        (70, Thresholds(0.95, 0.5), "OUT"),
        (70, Thresholds(0.95, 0.49), "CLOSE CALL"),
    ],
)
def test_compression_is_called_by_the_shops_thresholds_at_the_thresholds(psi, rule, call):
    job = Finished()
    for entry in job.of("reading", check="compression"):
        entry["written"] = f"{psi}/80"
    judged = dataclasses.replace(parse_files(job.files), thresholds=rule)
    found = _judged(job, judged)
    assert {one.call("compression").call for one in found.items if one.kind == "cylinder"} == {call}


def _judged(job, known):
    text = "".join(f"{json.dumps(one)}\n" for one in job.entries)
    entries, where = parse_book(text, known.people)
    limits = tuple(
        dataclasses.replace(one, lower=70, floor="", wants={})
        if one.check == "compression"
        else one
        for one in known.limits
    )
    return judge(
        dataclasses.replace(known, limits=limits), entries, where=where, today=date(2026, 11, 12)
    )


# Typed by hand in a folder: refused with its line; sealed: at fault, and struck


def _typed(kind: str, **data) -> tuple[list, dict[str, str]]:
    bench = Bench().good()
    at = data.pop("at", bench.entries[-1].at)
    entry = new_entry(kind, at=at, by="ada", **data)
    bench.entries.append(entry)
    return bench.entries, {entry.id: "book.jsonl, line 90"}


@pytest.mark.parametrize(
    ("kind", "data", "sentence"),
    [
        ("note", {"text": "x", "at": START + timedelta(days=400)},
         "This is dated 7 Dec 2027, 09:00, which is still to come. Set the clock of this "
         "device right."),
        ("disagreed", {"item": "plug:P1", "verdict": "KEEP", "reason": "\u00a0"},
         "Write the reason: what was seen, and what was done."),
        ("struck", {"entry": "nothing", "reason": "slip"},
         'There is no entry "nothing" in this book.'),
        ("used", {"part": "gasket-plug", "number": 0}, "0 of Plug gasket cannot be. Write 1 or more."),
        ("reading", {"item": "wing:1", "check": "gap", "written": "18 thou"},
         'There is no check sheet for "wing:1".'),
    ],
)  # fmt: skip
def test_typed_entry_that_breaks_a_rule_is_refused_with_its_line(kind, data, sentence):
    entries, where = _typed(kind, **data)
    with pytest.raises(BadInput, match=r".") as refusal:
        check_typed(facts(), entries, where, START + timedelta(days=1))
    assert str(refusal.value) == f"book.jsonl, line 90: {sentence}"


def test_two_entries_of_one_id_are_one_only_where_they_say_the_same():
    entries = Bench().good().entries
    state = fold_job(facts(), [*entries, entries[-1]])
    assert [one.id for one in state.order] == [one.id for one in entries]
    other = dataclasses.replace(entries[-1], data={**entries[-1].data, "written": "weak"})
    with pytest.raises(BadInput, match=f"Two entries have the id {other.id}"):
        fold_job(facts(), [*entries, other])


def _kept(entries: list) -> list:
    kept, prev = [], GENESIS
    for seq, entry in enumerate(entries, start=1):
        kept.append(seal(entry, seq=seq, kept=entry.at, prev=prev))
        prev = kept[-1].hash
    return kept


def test_sealed_entry_that_is_ahead_of_the_clock_blocks_settles_nothing_and_is_struck():
    bench = Bench().good()
    clock = bench.entries[-1].at + timedelta(hours=1)
    ahead = new_entry("note", at=clock + timedelta(hours=5), by="ada", text="typed ahead")
    book = _kept([*bench.entries, ahead])
    check_typed(facts(), book, {}, clock)
    judged = judge(facts(), book, clock=clock)
    assert any(
        "which is still to come" in one.sentence and one.way_out.startswith("Strike it")
        for one in judged.blockers
    )
    strike = new_entry("struck", at=clock, by="ada", entry=ahead.id, reason="the hour is wrong")
    after = check_can_append([strike], book, facts(), at=clock)
    assert after.faults == {}


def test_two_minutes_ahead_are_let_pass_and_a_second_more_is_not():
    clock = START
    for seconds, refused in ((120, False), (121, True)):
        note = new_entry("note", at=clock + timedelta(seconds=seconds), by="ada", text="x")
        if refused:
            with pytest.raises(NotAllowed, match="which is still to come"):
                check_can_append([note], [], facts(), at=clock)
        else:
            check_can_append([note], [], facts(), at=clock)


def test_strike_that_may_not_strike_leaves_what_it_names_and_is_itself_struck():
    note = new_entry("note", at=START, by="ada", text="a slip", id="note-1")
    strike = new_entry("struck", at=START, by="ada", entry="note-1", reason="slip", id="strike-1")
    again = new_entry("struck", at=START, by="ada", entry="strike-1", reason="no", id="strike-2")
    book = _kept([note, strike, again])
    state = fold_job(facts(), book)
    assert list(state.struck) == ["note-1"]
    assert state.faults == {"strike-2": "A strike is not struck. Write the thing again instead."}
    last = new_entry("struck", at=START, by="ada", entry="strike-2", reason="void", id="strike-3")
    after = check_can_append([last], book, facts())
    assert (sorted(after.struck), after.faults) == (["note-1", "strike-2"], {})


def test_rule_sees_the_book_before_the_entry_and_nothing_behind_it():
    seen = []
    notes = [new_entry("note", at=START, by="ada", text=f"n{n}", id=f"note-{n}") for n in range(3)]
    from rehang.trade.known.fold import fold

    fold(
        notes, layout=facts().layout, sheets=facts().sheets, meters=facts().meters,
        fault=lambda entry, before: seen.append((entry.id, list(before.entries))) or "",
    )  # fmt: skip
    assert seen == [("note-0", []), ("note-1", ["note-0"]), ("note-2", ["note-0", "note-1"])]


def test_time_that_runs_back_is_said():
    bench = Bench().good()
    late = new_entry("note", at=START - timedelta(days=1), by="ada", text="written late")
    bench.entries.append(late)
    assert "1 line is dated before one that stands above: note of 1 Nov 2026" in " ".join(
        bench.judged().notices
    )


def test_finished_demo_has_nothing_odd():
    assert not [one for one in Finished().judged().notices if "look at the times" in one]


def test_limit_counts_from_the_day_it_was_put_in_and_keeps_its_place():
    known = facts()
    day = max(one.entered_on for one in known.limits)
    before = known.as_of(day - timedelta(days=1))
    assert [one.check for one in before.limits] == [one.check for one in known.limits]
    assert all(one.is_to_come == (one.entered_on == day) for one in before.limits)
    assert known.as_of(day) is known


def test_calibration_counts_from_the_day_it_was_put_in():
    known = facts()
    name, meter = next((n, m) for n, m in known.meters.items() if m.due is not None)
    put_in = dataclasses.replace(meter, entered_on=START.date())
    dated = dataclasses.replace(known, meters={**known.meters, name: put_in})
    before = dated.as_of(START.date() - timedelta(days=1)).meters[name]
    assert before.standing(START.date()) == f"{name} has no calibration on record"
    assert (before.due_text, before.calibrated_by) == ("", "")
    assert dated.as_of(START.date()).meters[name] == put_in
    assert put_in.standing(START.date()) == meter.standing(START.date()) == ""
    assert dated.as_of(None) is dated


# Lines


def test_hole_that_stands_twice_in_a_line_is_refused():
    known = facts()
    line = parse_row(
        "g 1t=18 1t=19", sheet=known.sheets["plug"], layout=known.layout, meter=known.meters["WG"]
    )
    assert line.message == "1T stands here twice: 18 and 19. Keep the one that is meant."
    assert not line.complete


def test_full_width_digits_of_a_line_are_kept_as_plain_ones():
    known = facts()
    line = parse_row(
        "g 1t=\uff11\uff18",
        sheet=known.sheets["plug"],
        layout=known.layout,
        meter=known.meters["WG"],
    )
    assert [cell.written for cell in line.cells] == ["18 thou"]


# Files


@pytest.mark.parametrize(
    ("file", "text", "sentence"),
    [
        ("engine.toml", "bore_in = \"5\"\n", 'engine.toml, line 1: "bore_in" is "5"; it must be a number.'),
        ("engine.toml", "magnetos = 3\n", 'engine.toml, line 1: "magnetos" is 3; it must be a table.'),
        ("limits.toml", "limit = 3\n", 'limits.toml, line 1: "limit" is 3; it must be a list.'),
        ("limits.toml", "x = " + "[" * 5_000, "limits.toml"),
        ("meters.toml", "x = 1" + "0" * 5_000, "meters.toml, line 1: A number or brackets here are beyond all reading."),
        ("people.toml", "person = [3]\n", 'people.toml, line 1: "person" is 3; it must be a table.'),
    ],
)  # fmt: skip
def test_file_of_another_shape_is_refused_with_its_line(file, text, sentence):
    files = dict(Finished().files)
    files[file] = (
        text
        if file != "engine.toml"
        else text + files[file].replace("bore_in", "bore_").replace("\nmagnetos", "\n# ")
    )
    with pytest.raises(BadInput, match=r".") as refusal:
        parse_files(files)
    assert str(refusal.value).startswith(sentence)


# Commands


@pytest.mark.parametrize("demo", ["four", "finished", "six", "radial"])
def test_plan_is_written_as_json_for_every_demo(demo):
    done = rehang("plan", str(demo_path(demo)), "--json")
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout)["sentence"]


def test_reader_that_has_seen_enough_is_left_without_a_word():
    command = [sys.executable, "-c", COMMAND]
    with subprocess.Popen(
        [*command, "check", str(demo_path("finished")), "--json"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    ) as writer:  # fmt: skip
        assert writer.stdout is not None
        assert writer.stderr is not None
        writer.stdout.close()
        said = writer.stderr.read()
    assert (writer.returncode, said) == (0, "")


def test_check_refuses_a_typed_entry_of_a_day_to_come_with_its_line(tmp_path: Path):
    folder = _copy(tmp_path)
    ahead = (datetime.now(UTC) + timedelta(hours=5)).isoformat()
    line = json.dumps({"id": "typed-1", "kind": "note", "at": ahead, "by": "marta", "text": "x"})
    with (folder / "book.jsonl").open("a") as book:
        book.write(f"{line}\n")
    for command in ("check", "seal"):
        done = rehang(command, str(folder))
        assert done.returncode == 1
        assert done.stderr.startswith("book.jsonl, line 214: This is dated ")
    assert not read_folder(folder).entries[-1].is_sealed


def _copy(tmp_path: Path) -> Path:
    folder = tmp_path / "job"
    folder.mkdir()
    for file in demo_path("four").iterdir():
        if file.is_file():
            (folder / file.name).write_bytes(file.read_bytes())
    return folder
