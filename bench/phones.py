"""Fifty phones at one job by HTTPS, with idle and slow connections held beside them.

Run with ``python -m bench.phones --phones 50 --seconds 60``. Each phone asks how far the book is as an
open page does, and sends a reading now and then. The server runs in a process of its own, the phones
here, on one machine: what the phones cost stands in every figure. A tap is a reading answered when it
is on the disk; the live delay is from that answer until another phone has heard of it. Each phone has
an address of its own (127.0.1.1 and on, which Linux answers at).
"""

from __future__ import annotations

import argparse
import socket
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import quantiles

from bench.kills import LOAD
from bench.live import SERVE_SHOP, Browser, Server, in_store, one_reading, trusting

JOB = "phones-job"
# As web/away/static/away/together.js asks.
ASK_S = 1.5
TAP_S = 15.0
IDLE, SLOW = 200, 50
OF_ONE = 50
HEAD = b"GET / HTTP/1.1\r\nHost: localhost\r\nX-A: "


class Phones:
    """What all phones have seen: taps in seconds, and when each place of the book was heard of."""

    def __init__(self, server: Server) -> None:
        self.server = server
        self.taps: list[float] = []
        self.asks: list[float] = []
        self.kept_at: dict[int, float] = {}
        self.delays: list[float] = []
        self.failed = 0
        self._lock = threading.Lock()

    def one(self, number: int, until: float) -> None:
        """One phone, until the time is up."""
        phone = Browser(self.server.port, trusting=trusting(self.server.data))
        try:
            phone.sign_in("marta")
            self._work(phone, number, until)
        except (OSError, AssertionError):
            with self._lock:
                self.failed += 1
        finally:
            phone.hang_up()

    def _work(self, phone: Browser, number: int, until: float) -> None:
        # Spread out, as hands are.
        time.sleep(number % 15 / 10)
        heard, tap_at = 0, time.monotonic() + number % 15
        while time.monotonic() < until:
            began = time.monotonic()
            head = int(phone.get(f"/jobs/{JOB}/so-far/")["head"])
            now = time.monotonic()
            with self._lock:
                self.asks.append(now - began)
                fresh = [at for seq, at in self.kept_at.items() if heard < seq <= head]
                self.delays += [now - at for at in fresh if heard]
            heard = head
            if now >= tap_at:
                tap_at = now + TAP_S
                began = time.monotonic()
                status, said = phone.post(f"/api/jobs/{JOB}/entries", {"entries": [one_reading()]})
                assert status == 200, said
                with self._lock:
                    self.taps.append(time.monotonic() - began)
                    self.kept_at[said["kept"][0]["seq"]] = time.monotonic()
            time.sleep(max(0.0, ASK_S - (time.monotonic() - began)))


@contextmanager
def _held(server: Server) -> Iterator[None]:
    """Connections that say nothing, and slow ones that have shaken hands and say half a request."""
    lines: list[socket.socket] = []
    for n in range(IDLE + SLOW):
        line: socket.socket = socket.create_connection(
            ("127.0.0.1", server.port), timeout=30, source_address=(f"127.0.2.{n // OF_ONE + 1}", 0)
        )
        if n >= IDLE:
            line = trusting(server.data).wrap_socket(line, server_hostname="127.0.0.1")
            line.sendall(HEAD)
        lines.append(line)
    try:
        yield
    finally:
        for line in lines:
            line.close()


def _tail(seconds: list[float]) -> str:
    parts = quantiles(seconds, n=20)
    return f"p50 {parts[9] * 1000:.0f} ms, p95 {parts[18] * 1000:.0f} ms of {len(seconds)}"


def run(phones: int = 50, seconds: float = 60.0) -> list[str]:
    """The lines of the report."""
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder)
        in_store(data, LOAD, JOB)
        server = Server(data, serve=SERVE_SHOP)
        server.start()
        try:
            seen = Phones(server)
            with _held(server):
                until = time.monotonic() + seconds
                threads = [
                    threading.Thread(target=seen.one, args=(n, until)) for n in range(phones)
                ]
                for one in threads:
                    one.start()
                for one in threads:
                    one.join()
            memory = server.memory_mb()
        finally:
            server.end()
    return [
        f"{phones} phones for {seconds:.0f} s, {IDLE} idle and {SLOW} slow connections beside them",
        f"a tap: {_tail(seen.taps)}",
        f"asking how far the book is: {_tail(seen.asks)}",
        f"live delay: {_tail(seen.delays)}",
        f"failed phones {seen.failed}; memory of the server {memory} MB",
    ]


if __name__ == "__main__":
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--phones", type=int, default=50)
    reader.add_argument("--seconds", type=float, default=60.0)
    print("\n".join(run(**vars(reader.parse_args()))))
