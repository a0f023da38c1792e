"""How long an append and a page take with 100,000 and with 1,000,000 readings in the store.

``python -m bench.storage``. The store is a SQLite file on the disk that holds the temporary
folder, set as a shop's is (WAL, synchronous FULL). It is filled with books of real chains, about
a hundred readings each; the job that is worked in is one of them, loaded from the demo. The
board is really served, on this machine, and asked over HTTP by one browser.

An append is one reading, on the disk before the answer. A page is the tray, or the story of a plug
with its chart and its odds, asked for anew. A cold story is told with nothing kept in the process:
every book that the plug is in is read and judged from its entries.
What the disk itself takes to write four kilobytes through stands beside them.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median, quantiles

from bench.kills import LOAD
from bench.live import Browser, Server, in_store, one_reading

SIZES = (100_000, 1_000_000)
IN_A_BOOK = 100
TIMES = 200

# Runs in a process of its own with the store open: REHANG_DATA and Django belong to a process.
FILL = r"""
import hashlib, sys
from datetime import UTC, datetime, timedelta
from django.db import connection, transaction
from rehang.book import models
from rehang.trade.terms.chain import GENESIS, seal
from rehang.trade.terms.entries import canonical, new_entry

readings, each = int(sys.argv[1]), int(sys.argv[2])
have = models.Reading.objects.count()
start = datetime(2020, 1, 6, 8, tzinfo=UTC)
books = models.Job.objects.count()
entry_sql = ("INSERT INTO book_entry (id, job_id, seq, entry_id, kind, item, at, kept_at, by, body,"
             " prev, hash) VALUES (?,?,?,?,?,?,?,?,?,?,?,?)")
reading_sql = ("INSERT INTO book_reading (entry_id, job_id, item, name, check_name, place, at, value,"
               " state, word, meter, struck) VALUES (?,?,?,?,?,?,?,?,?,?,?,?)")
connection.ensure_connection()
raw = connection.connection
while have < readings:
    with transaction.atomic():
        for _ in range(200):
            if have >= readings:
                break
            books += 1
            kept = start + timedelta(hours=books)
            job = models.Job.objects.create(
                slug=f"book-{books}", title=f"Book {books}", put_away=books > 40,
                head_hash=GENESIS, created_at=kept)
            entries, index, prev = [], [], GENESIS
            for seq in range(1, min(each, readings - have) + 1):
                at = kept + timedelta(seconds=seq)
                number = (books * each + seq) % 50_000
                item, ohms, when = f"plug:S{number:05}", 1000 + number % 4000, at.isoformat()
                own_id = f"{books}-{seq}-reading"
                # The canonical spelling, written out: a million entries one by one take long.
                head = f'{{"at":"{when}","by":"marta","check":"resistance","id":"{own_id}","item":"{item}",'
                body = f'{head}"kind":"reading","meter":"DM-2","range":"20k","written":"{ohms} ohm"}}'
                sealed = (f'{head}"kept":"{when}","kind":"reading","meter":"DM-2","range":"20k",'
                          f'"seq":{seq},"written":"{ohms} ohm"}}')
                digest = hashlib.sha256(f"{prev}\n{sealed}".encode()).hexdigest()
                if seq == 1:
                    true = seal(new_entry("reading", at=at, by="marta", id=own_id, item=item,
                                          check="resistance", meter="DM-2", range="20k",
                                          written=f"{ohms} ohm"), seq=seq, kept=at, prev=prev)
                    assert (canonical(true.content()), true.hash) == (body, digest)
                key = models.entry_key(job.pk, seq)
                entries.append((key, job.pk, seq, own_id, "reading", item, when, when, "marta", body,
                                prev, digest))
                index.append((key, job.pk, item, item[5:], "resistance", "",
                              connection.ops.adapt_datetimefield_value(at), ohms, "", "", "DM-2", 0))
                prev = digest
            raw.executemany(entry_sql, entries)
            raw.executemany(reading_sql, index)
            job.head_seq, job.head_hash = len(entries), prev
            job.save(update_fields=["head_seq", "head_hash"])
            have += len(entries)
print(have)
"""

QUESTION = """
import time
from statistics import median
from rehang.book import outlook, queries
times, most = [], 0
for n in range(200):
    began = time.perf_counter()
    found = queries.readings_of(f"plug:S{n * 37 % 50_000:05}", "resistance")
    times.append(time.perf_counter() - began)
    most = max(most, len(found))
assert most
print(median(times) * 1000, most)
"""


STORY = """
import sys, time
from statistics import median
from rehang.book import outlook, queries
times = []
for n in range(60):
    # As a process that has just been started asks it, but for the code itself.
    queries.forget()
    began = time.perf_counter()
    told = outlook.story_of(queries.job(sys.argv[1]), "plug:K0412")
    times.append(time.perf_counter() - began)
assert told.flights
print(median(times[10:]) * 1000)
"""


def _times(act: Callable[[int], object]) -> list[float]:
    """Milliseconds of each, the first ten left out: they warm what is cold."""
    found = []
    for number in range(TIMES + 10):
        began = time.perf_counter()
        act(number)
        found.append((time.perf_counter() - began) * 1000)
    return found[10:]


def _disk(folder: Path) -> list[float]:
    handle = os.open(folder / "probe", os.O_WRONLY | os.O_CREAT, 0o600)
    try:

        def write(_: int) -> None:
            os.write(handle, b"x" * 4096)
            os.fdatasync(handle)

        return _times(write)
    finally:
        os.close(handle)


def _measure(data: Path, job: str) -> dict[str, list[float]]:
    """Append to a job of its own, so that its book is as long at each size as at the others."""
    server = Server(data)
    server.start()
    browser = Browser(server.port, data / "server.log")
    try:
        browser.sign_in("marta")

        def append(_: int) -> None:
            status, answer = browser.post(f"/api/jobs/{job}/entries", {"entries": [one_reading()]})
            assert status == 200, answer

        def page(_: int) -> None:
            status, text = browser.ask("GET", f"/jobs/{job}/tray/")
            assert status == 200, text[:300]

        def story(_: int) -> None:
            status, text = browser.ask("GET", f"/jobs/{job}/story/plug/K0412/")
            assert status == 200, text[:300]

        # Pages first: the book is then as long as the demo's.
        return {
            "tray page": _times(page),
            "story page": _times(story),
            "append one reading": _times(append),
        }
    finally:
        browser.hang_up()
        server.end()


def run(sizes: tuple[int, ...] = SIZES) -> list[str]:
    """Lines of the report."""
    found: dict[int, dict[str, list[float]]] = {}
    with tempfile.TemporaryDirectory(prefix="rehang-storage-") as name:
        data = Path(name)
        in_store(data, LOAD, *(f"bench-{size}" for size in sizes))
        for size in sizes:
            began = time.perf_counter()
            stored = int(in_store(data, FILL, str(size), str(IN_A_BOOK)))
            filled = time.perf_counter() - began
            found[size] = _measure(data, f"bench-{size}")
            past, _ = in_store(data, QUESTION).split()
            found[size]["past readings of one plug"] = [float(past)]
            told = in_store(data, STORY, f"bench-{size}")
            found[size]["story of one plug, all cold"] = [float(told)]
            file = (data / "rehang.sqlite3").stat().st_size / 1e6
            sys.stderr.write(f"{stored:,} readings, {file:,.0f} MB, filled in {filled:.0f} s\n")
        disk = _disk(data)
    lines = [
        f"Store: SQLite, WAL, synchronous FULL; served on loopback, one browser; median of {TIMES}",
        f"  {'':28}" + "".join(f"{size:>14,} readings" for size in sizes) + "    growth",
    ]
    for what in found[sizes[0]]:
        medians = [median(found[size][what]) for size in sizes]
        lines.append(
            f"  {what:28}"
            + "".join(f"{one:>20.2f} ms" for one in medians)
            + f"     x {medians[-1] / medians[0]:.2f}"
        )
        if len(found[sizes[0]][what]) > 1:
            slow = [quantiles(found[size][what], n=20)[-1] for size in sizes]
            lines.append(
                f"  {'  19 in 20 within':28}" + "".join(f"{one:>20.2f} ms" for one in slow)
            )
    lines.append(f"  {'disk: 4 kB written through':28}{median(disk):>20.2f} ms")
    return lines


if __name__ == "__main__":
    print("\n".join(run(tuple(int(size) for size in sys.argv[1:]) or SIZES)))
