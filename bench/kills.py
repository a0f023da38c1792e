"""Kill the server at random moments while entries are written, and count what is lost.

``python -m bench.kills 200`` serves a board from a temporary folder, lets three phones post
entries as fast as they are answered, kills the server (SIGKILL), starts it again, and holds
every entry that had been answered for against the book. What was not answered for is sent
again, as a phone does; it must stand in the book once.

A kill of the process shows that nothing answered for was only in its memory. It does not show
what a power cut does to the disk: for that the store asks the disk to write each commit through
(SQLite, synchronous FULL), and nothing here tests the disk.
"""

from __future__ import annotations

import argparse
import http.client
import random
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from bench.live import Browser, Server, in_store, one_reading

PHONES = 3
# A book of this many kills grows to about a real one's length, so that each post costs what a
# real one costs.
KILLS_IN_A_BOOK = 5

LOAD = """
import sys
from dataclasses import replace
from datetime import UTC, datetime
from types import MappingProxyType
from rehang.book import services
from rehang.sheets import demo_path
from rehang.sheets.folder import parse_files, read_folder
demo = read_folder(demo_path())
for name in sys.argv[1:]:
    files = dict(demo.files)
    files["engine.toml"] = files["engine.toml"].replace(f'"{demo.name}"', f'"{name}"')
    folder = replace(demo, name=name, files=files, facts=parse_files(files, name))
    services.load_folder(folder=folder, by="marta", at=datetime.now(UTC))
"""
VERIFY = (
    "from rehang.book import verifying\nfound = verifying.store_checked()\n"
    "for line in found.changed + found.untold: print(line)"
)


@dataclass
class Tally:
    """What the phones were answered, and what was found afterwards."""

    acknowledged: dict[str, tuple[str, int, str]] = field(default_factory=dict)
    lost: list[str] = field(default_factory=list)
    sent_again: int = 0
    kept_unanswered: int = 0
    kills: int = 0
    kills_while_sending: int = 0


class Phone(threading.Thread):
    """Posts one entry after another and notes which were answered for."""

    def __init__(self, browser: Browser, tally: Tally) -> None:
        super().__init__(daemon=True)
        self.browser = browser
        self.tally = tally
        self.job = ""
        self.open = threading.Event()
        self.ended = False
        self.idle = threading.Event()
        self.idle.set()
        self.unanswered: tuple[str, dict[str, Any]] | None = None
        self.problem: BaseException | None = None

    def run(self) -> None:
        while not self.ended:
            self.idle.set()
            if not self.open.wait(0.05):
                continue
            self.idle.clear()
            try:
                self._post()
            except (OSError, http.client.HTTPException):
                # The server was killed: wait until it is there again.
                self.open.clear()
            # Whatever else it is ends the run, told by the thread that counts.
            except Exception as problem:  # noqa: BLE001
                self.problem = problem
                self.ended = True
        self.idle.set()

    def _post(self) -> None:
        if self.unanswered is None:
            self.unanswered = (self.job, one_reading())
        else:
            self.tally.sent_again += 1
        job, entry = self.unanswered
        status, answer = self.browser.post(f"/api/jobs/{job}/entries", {"entries": [entry]})
        assert status == 200, (status, answer)
        for kept in answer["kept"]:
            self.tally.acknowledged[kept["id"]] = (job, kept["seq"], kept["hash"])
        for repeated in answer["repeated"]:
            # Kept before the kill, answered for after it: its place is looked up later.
            self.tally.acknowledged.setdefault(repeated, (job, 0, ""))
            self.tally.kept_unanswered += 1
        self.unanswered = None


@contextmanager
def _board(kills: int) -> Iterator[tuple[Path, list[str]]]:
    with tempfile.TemporaryDirectory(prefix="rehang-kills-") as name:
        data = Path(name)
        jobs = [f"kills-{n:03}" for n in range(1 + (kills - 1) // KILLS_IN_A_BOOK)]
        in_store(data, LOAD, *jobs)
        yield data, jobs


def _hold_against_the_book(browser: Browser, job: str, tally: Tally) -> None:
    """Every acknowledged entry of a job stands in its book once, where it was said to stand."""
    found: dict[str, list[tuple[int, str]]] = {}
    after, more = 0, True
    while more:
        page = browser.get(f"/api/jobs/{job}/entries?after={after}")
        for entry in page["entries"]:
            found.setdefault(entry["id"], []).append((entry["seq"], entry["hash"]))
            after = entry["seq"]
        more = page["more"]
    for entry_id, (its_job, seq, hash_) in list(tally.acknowledged.items()):
        if its_job != job:
            continue
        places = found.get(entry_id, [])
        if len(places) != 1 or (seq and places[0] != (seq, hash_)):
            tally.lost.append(entry_id)


def run(
    kills: int = 200, seed: int = 1, progress: bool = False, served: type[Server] = Server
) -> tuple[Tally, list[str]]:
    """Kill that many times; gives the tally and what ``verify`` says in the end."""
    dice = random.Random(seed)
    tally = Tally()
    with _board(kills) as (data, jobs):
        server = served(data)
        server.start()
        phones = []
        for _ in range(PHONES):
            browser = Browser(server.port, data / "server.log")
            browser.sign_in("marta")
            phones.append(Phone(browser, tally))
        reader = Browser(server.port, data / "server.log")
        reader.sign_in("marta")
        for phone in phones:
            phone.start()
        try:
            for number in range(kills):
                job = jobs[number // KILLS_IN_A_BOOK]
                before = len(tally.acknowledged)
                for phone in phones:
                    phone.job = job
                    phone.open.set()
                while len(tally.acknowledged) == before and not _problem(phones):
                    time.sleep(0.002)
                time.sleep(dice.uniform(0, 0.5))
                server.kill()
                tally.kills += 1
                for phone in phones:
                    phone.open.clear()
                    phone.idle.wait(30)
                tally.kills_while_sending += any(phone.unanswered for phone in phones)
                if problem := _problem(phones):
                    raise problem
                reader.hang_up()
                server.start()
                _hold_against_the_book(reader, job, tally)
                if progress and (number + 1) % 20 == 0:
                    sys.stderr.write(
                        f"{number + 1} kills, {len(tally.acknowledged)} acknowledged\n"
                    )
            # What was under way at the last kill is sent again before the last count.
            for phone in phones:
                if phone.unanswered is not None:
                    phone._post()
            for job in jobs:
                _hold_against_the_book(reader, job, tally)
        finally:
            for phone in phones:
                phone.ended = True
            for phone in phones:
                phone.join(30)
                phone.browser.hang_up()
            reader.hang_up()
            server.end()
        said = in_store(data, VERIFY)
    return tally, said.splitlines()


def _problem(phones: list[Phone]) -> BaseException | None:
    return next((phone.problem for phone in phones if phone.problem), None)


def words(tally: Tally, problems: list[str]) -> str:
    """``200 kills, N acknowledged, 0 lost, verify whole``."""
    verified = "verify whole" if not problems else f"verify says: {problems[0]}"
    return (
        f"{tally.kills} kills, {len(tally.acknowledged):,} acknowledged, "
        f"{len(set(tally.lost))} lost, {verified}"
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("kills", nargs="?", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    began = time.monotonic()
    tally, problems = run(options.kills, options.seed, progress=True)
    print(words(tally, problems))
    print(
        f"({tally.kills_while_sending} of the kills with a post under way; {tally.sent_again} posts "
        f"sent again, of which {tally.kept_unanswered} had been kept and not answered for; "
        f"{time.monotonic() - began:.0f} s)"
    )
    return 1 if tally.lost or problems else 0


if __name__ == "__main__":
    sys.exit(main())
