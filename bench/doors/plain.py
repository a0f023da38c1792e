"""The doors that take text: entries, typed lines, files of facts, CSV, the texts of labels.

Each is the function that the pages, the API and the commands hand over to.
"""

from __future__ import annotations

import tomllib
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

import tomlkit

from bench.doors.odd import (
    IN_TOML,
    as_json,
    changed_bytes,
    changed_text,
    odd_entry,
    odd_text,
    paths_in,
    with_odd_value,
)
from rehang.decode.tables import Table, read_table, write_csv
from rehang.sheets import demo_path
from rehang.sheets.facts_table import (
    FACT_TABLES,
    facts_table,
    guess_facts,
    kind_of_table,
    plan_facts,
)
from rehang.sheets.folder import JobFolder, check_facts, parse_book, parse_files, read_folder
from rehang.sheets.pencil import entries_from
from rehang.sheets.readings_table import (
    FIELDS,
    Settings,
    guess,
    plan,
    readings_table,
    wanted_checks,
)
from rehang.trade.doors.asjson import job_as_json
from rehang.trade.doors.rules import check_can_append
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.lines import parse_fit
from rehang.trade.facts.lines import parse_line as parse_tray_line
from rehang.trade.facts.readings import read
from rehang.trade.gate.entry_gate import check_entry
from rehang.trade.job.judging import judge
from rehang.trade.known.state import JobState
from rehang.trade.terms.entries import Entry, parse_line, parse_when, read_json
from rehang.trade.terms.errors import Refused
from rehang.trade.terms.kinds.register import KINDS
from rehang.trade.terms.labels import label_text, read_label
from rehang.trade.verdicts.folding import fold_job

__all__ = ["Books", "csv_files", "entries", "facts", "labels", "lines", "odd_table"]

Try = tuple[object, Callable[[], bool]]
DEMOS = ("four", "finished", "six", "radial")
# Entries that the gate let in are judged together: that costs what a page costs.
TOGETHER = 150
# Of all tries, how many are also held against the whole book, and judged alone.
WHOLE = 0.01


@dataclass(frozen=True, slots=True)
class Books:
    """A job as a door finds it: its folder, and what its book folds to."""

    folder: JobFolder
    state: JobState
    today: date
    known: dict[str, list[dict[str, Any]]]
    words: tuple[str, ...]

    @classmethod
    def of(cls, demo: str) -> Books:
        folder = read_folder(demo_path(demo))
        known: dict[str, list[dict[str, Any]]] = defaultdict(list)
        words = {*folder.facts.meters, *folder.facts.people, *folder.facts.tasks}
        words |= {*folder.facts.sheets, *folder.facts.layout.walk, *folder.facts.torque_groups}
        for entry in folder.entries:
            known[entry.kind].append(dict(entry.data))
            words |= {entry.id, *(one for one in entry.data.values() if isinstance(one, str))}
        return cls(
            folder,
            fold_job(folder.facts, folder.entries),
            folder.entries[-1].at.date(),
            known,
            tuple(sorted(one for one in words if len(one) < 200)),
        )

    @property
    def facts(self) -> JobFacts:
        return self.folder.facts


# ---------------------------------------------------------------- entries


def entries(dice: Random) -> Iterator[Try]:
    """JSON as the API and a book's line hand it on, through the reader and the gate."""
    books = [Books.of(demo) for demo in DEMOS]
    let_in: list[Entry] = []
    number = 0
    while True:
        book = dice.choice(books)
        for _ in range(2_000):
            number += 1
            text = _odd_line(dice, book, number)
            yield text, partial(_entry_at_gate, book, text, let_in, dice.random() < WHOLE)
            if len(let_in) >= TOGETHER:
                judged_now = list(let_in)
                let_in.clear()
                yield (
                    [one.line() for one in judged_now],
                    partial(_judged_together, book, judged_now),
                )
        let_in.clear()


def _odd_line(dice: Random, book: Books, number: int) -> bytes:
    if dice.random() < 0.1:
        line = changed_text(dice, dice.choice(book.folder.entries).line())
    else:
        last = book.folder.entries[-1]
        common = {
            "id": f"odd-{number}", "by": last.by, "at": (last.at + timedelta(minutes=1)).isoformat(),
        }  # fmt: skip
        line = as_json(odd_entry(dice, KINDS, book.known, book.words, common))
    return line.encode("utf-8", "surrogatepass")


def _entry_at_gate(book: Books, text: bytes, let_in: list[Entry], whole: bool) -> bool:
    read_json(text)
    entry = parse_line(text.decode("utf-8", "replace"), "line 1")
    check_entry(entry, book.state, book.facts, book.folder.entries[-1].at + timedelta(minutes=1))
    if whole:
        check_can_append([entry], book.folder.entries, book.facts, state=book.state)
    let_in.append(entry)
    return True


def _judged_together(book: Books, let_in: Sequence[Entry]) -> bool:
    """All of them in one book; where that breaks, the first that breaks it alone."""
    try:
        _judged(book, let_in)
    except Refused:
        raise
    except Exception:
        for one in let_in:
            try:
                _judged(book, [one])
            except Exception as problem:
                problem.args = (f"{problem} AFTER {one.line()[:400]}",)
                raise
        raise
    return True


def _judged(book: Books, more: Sequence[Entry]) -> None:
    job_as_json(judge(book.facts, [*book.folder.entries, *more], today=book.today))


# ---------------------------------------------------------------- lines typed on the tray


def lines(dice: Random) -> Iterator[Try]:
    """Lines of the tray, readings of one field, times, the pencil sheet."""
    books = [Books.of(demo) for demo in DEMOS]
    while True:
        book = dice.choice(books)
        for _ in range(500):
            kind = dice.choices((_tray, _field, _moment, _pencil), (60, 30, 8, 2))[0]
            yield kind(dice, book)


def _tray(dice: Random, book: Books) -> Try:
    facts = book.facts
    sheet = facts.sheets["plug"]
    meter = dice.choice([None, *facts.meters.values()])
    range_name = dice.choice(["", "20k", odd_text(dice)])
    wide = len(facts.layout.walk)
    if dice.random() < 0.2:
        words = [dice.choice(("in", "out", "In", odd_text(dice)))]
        words += [dice.choice([*facts.layout.walk, "K0415", odd_text(dice)]) for _ in range(4)]
    else:
        check = dice.choice(sheet.checks)
        number = wide if dice.random() < 0.8 else dice.randrange(wide + 3)
        words = [check.letter if dice.random() < 0.95 else odd_text(dice)]
        words += [dice.choice(_GOOD.get(check.name, ("-",))) for _ in range(number)]
        for _ in range(dice.choice((0, 0, 1, 1, 3))):
            words[dice.randrange(len(words))] = _token(dice, book)
    text = dice.choice((" ", " ", " ", "\t", ", ", ",")).join(words)
    if dice.random() < 0.1:
        text = changed_text(dice, text)

    def act() -> bool:
        parse_fit(text, layout=facts.layout, serials=("K0411", "K0415"))
        return parse_tray_line(
            text, sheet=sheet, layout=facts.layout, meter=meter, range_name=range_name
        ).complete

    return (text, getattr(meter, "id", ""), range_name), act


_GOOD = {
    "look": ("n", "n", "o", "n"), "electrode": ("70", "55 %", "-"), "spark": ("s", "i", "n", "-"),
    "resistance": ("1.2", "1.33", "4.9", "ol", "-"), "gap": ("18", "19", "18/20", "18+19", ".018"),
}  # fmt: skip


def _token(dice: Random, book: Books) -> str:
    letters = [word.letter for word in book.facts.sheets["plug"].look_words]
    match dice.randrange(8):
        case 0:
            return odd_text(dice)
        case 1:
            return f"{dice.choice([*book.facts.layout.walk, odd_text(dice)])}={odd_text(dice)}"
        case 2:
            return "".join(dice.choice(letters) for _ in range(dice.randrange(1, 9)))
        case 3:
            return dice.choice(("s", "i", "n", "-", "ol", "+", "/"))
    return dice.choice(("18", "19", "1.2", "1200", "18/20", "18+19", "72", "0.018", "4.9k", ".5"))


def _field(dice: Random, book: Books) -> Try:
    sheet = dice.choice(list(book.facts.sheets.values()))
    check = dice.choice(sheet.checks)
    meter = dice.choice([None, *book.facts.meters.values()])
    range_name = dice.choice(["", *(one.name for one in getattr(meter, "ranges", ())), "x"])
    text = odd_text(dice) if dice.random() < 0.5 else changed_text(dice, _token(dice, book))
    at_psi = dice.choice((None, None, 0, 80, -1, 10**9))
    conditions = {name: odd_text(dice) for name in check.asks if dice.random() < 0.5}

    def act() -> bool:
        read(check, text, meter, range_name, at_psi=at_psi, conditions=conditions)
        return True

    return (sheet.item, check.name, text, getattr(meter, "id", ""), range_name, conditions), act


def _moment(dice: Random, book: Books) -> Try:
    text = changed_text(dice, "2026-10-13T09:12:00-05:00")

    def act() -> bool:
        parse_when(text, "at").astimezone(ZoneInfo("Pacific/Kiritimati"))
        return True

    return text, act


_PENCIL = """on 2026-10-13 09:30
by marta
plugs K0411 K0412 K0413 K0414 K0415 K0416 K0417 K0418
hours 412.5
done clean
l nnnnnlnn
meter DM-2
o 1.2 1.2 1.3 4.9 1.2 1.2 1.4 ol
psi 100
s ssssissn
drop 2B
"""


def _pencil(dice: Random, book: Books) -> Try:
    text = changed_text(dice, _PENCIL)

    def act() -> bool:
        found, _ = entries_from(text, book.facts, book.folder.entries[:20])
        for one in found:
            with suppress(Refused):
                check_entry(one, book.state, book.facts)
        return True

    return text, act


# ---------------------------------------------------------------- files of facts


def facts(dice: Random) -> Iterator[Try]:
    """A file of a folder with another value at one key, or typed wrong; what is taken is judged."""
    folder = read_folder(demo_path("four"))
    book = folder.entries[:40]
    while True:
        # Another few limits and meters now and then; all of them cost ten times as much to read.
        texts = _short(dict(folder.files), dice)
        read_in = {name: tomllib.loads(text) for name, text in texts.items()}
        ways = {name: list(paths_in(given)) for name, given in read_in.items()}
        for _ in range(400):
            name = dice.choice(list(texts))
            if name in _SHIPPED and dice.random() < 0.7:
                name = dice.choice([one for one in texts if one not in _SHIPPED])
            text = changed_text(dice, texts[name])
            if dice.random() < 0.75:
                # What the writer of TOML cannot spell is no file either.
                with suppress(Exception):
                    text = tomlkit.dumps(with_odd_value(dice, read_in[name], IN_TOML, ways[name]))
            files = {n: t for n, t in texts.items() if n not in _SHIPPED} | {name: text}
            yield (name, text), partial(_facts_read, files, book, dice.random() < 0.1)
        line = changed_text(dice, "".join(f"{one.line()}\n" for one in book[:6]))
        yield line, partial(_book_read, line, folder)


# What a folder has only where it differs from what is shipped.
_SHIPPED = ("tasks.toml", "run.toml", "torque.toml", "checks.toml", "layout.toml")


def _short(files: dict[str, str], dice: Random) -> dict[str, str]:
    sheets = demo_path("four").parent
    files |= {name: (sheets / name).read_text("utf-8") for name in _SHIPPED[:3]}
    for name, inside in (("checks.toml", "checks"), ("layout.toml", "layouts")):
        chosen = dice.choice(sorted((sheets / inside).glob("*.toml")))
        files[name] = chosen.read_text("utf-8")
    for name, array, number in (("limits.toml", "limit", 4), ("stock.toml", "part", 4)):
        whole = tomllib.loads(files[name])
        whole[array] = dice.sample(whole[array], number)
        files[name] = tomlkit.dumps(whole)
    return files


def _facts_read(files: dict[str, str], book: Sequence[Entry], is_judged: bool) -> bool:
    found = parse_files(files)
    try:
        check_facts(found)
    finally:
        # What was filed before a rule was known is judged all the same.
        if is_judged:
            judge(found, book, today=date(2026, 11, 13))
    return True


def _book_read(text: str, folder: JobFolder) -> bool:
    parse_book(text, folder.facts.people)
    return True


# ---------------------------------------------------------------- tables


def odd_table(dice: Random, book: Books) -> tuple[list[str], list[list[str]]]:
    """Headings and a few rows: of the job's own tables, or made up, with odd cells."""
    what = dice.choice(("readings", "readings", "meters", "limits", "made up"))
    if what == "made up":
        names = [*FIELDS, "Ohms", "Gap", "Serial", "Hole", "Spark", "Wear %", "Comp", "gap (thou)"]
        headings = dice.sample(names, dice.randrange(1, 9))
        rows = [[_cell(dice, book) for _ in headings] for _ in range(dice.randrange(4))]
    else:
        headings, all_rows = _own_table(what, book)
        headings = list(headings)
        rows = [
            list(one) for one in dice.sample(all_rows, min(len(all_rows), dice.randrange(1, 5)))
        ]
        if dice.random() < 0.5:
            # As someone else's table: without our own ids, in another order.
            kept = dice.sample(range(len(headings)), dice.randrange(1, len(headings) + 1))
            headings = [headings[n] for n in kept]
            rows = [[row[n] for n in kept] for row in rows]
    for _ in range(dice.randrange(4)):
        row = (
            dice.choice([headings, *rows])
            if dice.random() < 0.2
            else dice.choice(rows or [headings])
        )
        if row:
            row[dice.randrange(len(row))] = _cell(dice, book)
    if dice.random() < 0.1 and rows:
        dice.choice(rows).append(odd_text(dice))
    return headings, rows


def _cell(dice: Random, book: Books) -> str:
    return dice.choice(book.words) if dice.random() < 0.4 else odd_text(dice)


_OWN: dict[tuple[str, str], tuple[list[str], list[list[str]]]] = {}


def _own_table(what: str, book: Books) -> tuple[list[str], list[list[str]]]:
    key = (what, book.facts.job)
    if key not in _OWN:
        if what == "readings":
            _OWN[key] = readings_table(judge(book.facts, book.folder.entries, today=book.today))
        else:
            _OWN[key] = facts_table(what, book.folder.files[FACT_TABLES[what].file])
    return _OWN[key]


def csv_files(dice: Random) -> Iterator[Try]:
    """CSV files through the reader and the planner of readings, meters and limits."""
    books = [Books.of(demo) for demo in ("four", "six", "radial")]
    while True:
        book = dice.choice(books)
        for _ in range(200):
            headings, rows = odd_table(dice, book)
            data = _as_csv(dice, headings, rows)
            yield data, partial(_table_in, data, book, _said(dice))


def _as_csv(dice: Random, headings: list[str], rows: list[list[str]]) -> bytes:
    kind = dice.random()
    if kind < 0.4:
        with suppress(UnicodeEncodeError):
            return write_csv(headings, rows)
    mark = dice.choice((",", ";", "\t", "|"))
    text = dice.choice(("\n", "\r\n", "\r")).join(mark.join(row) for row in (headings, *rows))
    data = text.encode(dice.choice(("utf-8", "utf-8-sig", "utf-16", "latin-1")), "replace")
    return changed_bytes(dice, data) if dice.random() < 0.3 else data


def _said(dice: Random) -> dict[int, str]:
    if dice.random() < 0.7:
        return {}
    words = [*FIELDS, "item:plug", "with.orifice", "gap", "resistance in kohm", "-", odd_text(dice)]
    return {dice.randrange(6): dice.choice(words)}


def _table_in(data: bytes, book: Books, said: dict[int, str]) -> bool:
    return planned(read_table("the table", data), book, said)


def planned(table: Table, book: Books, said: dict[int, str]) -> bool:
    """A table through the planner of what it is of; True where all of it could be kept."""
    what = kind_of_table(table)
    said = {number: words for number, words in said.items() if number < len(table.headings)}
    last = book.folder.entries[-1]
    if what == "readings":
        columns = guess(table, book.facts, said)
        wanted_checks(table, columns, book.facts)
        settings = Settings(
            by=last.by, at=last.at + timedelta(minutes=1), own=True, bring_in=True, at_psi=100,
            keep_unlikely=True,
        )  # fmt: skip
        made = plan(table, columns, book.facts, book.folder.entries[:40], settings)
        return made.can_be_kept
    file = FACT_TABLES[what].file
    changed = plan_facts(
        what,
        table,
        guess_facts(what, table, said),
        book.folder.files[file],
        book.facts.sheets,
        by=last.by,
        on=book.today,
    )
    if changed.can_be_kept:
        check_facts(parse_files({**book.folder.files, file: changed.text}), (file,))
    return changed.can_be_kept


# ---------------------------------------------------------------- texts of labels


def labels(dice: Random) -> Iterator[Try]:
    """The text of a label's code, as a camera or a finger gives it."""
    whole = [label_text("tv4-2207-2026", f"plug:K04{n}") for n in range(11, 19)]
    while True:
        text = dice.choice(whole) if dice.random() < 0.6 else odd_text(dice)
        if dice.random() < 0.9:
            text = changed_text(dice, text)
        yield text, partial(_label_read, text)


def _label_read(text: str) -> bool:
    read_label(text)
    return True
