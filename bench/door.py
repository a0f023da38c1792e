"""One mechanic's taps while strangers hold the door: trickling and idle connections, and guessers.

Run with ``python -m bench.door``. Every figure of a run is from that run, on one machine: the server
in a process of its own, the strangers in another, the mechanic here. A tap is a reading sent to the
JSON interface and answered when it is on the disk. The strangers come from addresses of their own
(127.0.1.1 and on, which Linux answers at); guessers change the name with every try and wait for
nothing but the answer.
"""

from __future__ import annotations

import http.client
import multiprocessing
import socket
import tempfile
import threading
import time
from collections import Counter
from contextlib import suppress
from multiprocessing.synchronize import Event
from pathlib import Path
from statistics import quantiles
from urllib.parse import urlencode

from bench.kills import LOAD
from bench.live import Browser, Server, in_store, one_reading

JOB = "door-job"
TAPS = 200
TRICKLING, IDLE, GUESSERS = 50, 500, 16
# A door shares itself out by address: so many connections each stay below a share.
OF_ONE = 50
HEAD = b"GET / HTTP/1.1\r\nHost: localhost\r\nX-A: "
FORM = {"Content-Type": "application/x-www-form-urlencoded"}


def _connect(port: int, address: str) -> socket.socket:
    return socket.create_connection(("127.0.0.1", port), timeout=10, source_address=(address, 0))


def _hold(port: int, address: str, number: int, said: bytes, more: bytes, over: Event) -> None:
    """So many connections that say something, then a little more each second; one let go comes back."""
    held: list[socket.socket] = []
    while not over.is_set():
        for line in list(held):
            try:
                if more:
                    line.sendall(more)
                line.setblocking(False)
                with suppress(BlockingIOError):
                    if not line.recv(4096):
                        raise ConnectionError
                line.setblocking(True)
            except OSError:
                held.remove(line)
                line.close()
        while len(held) < number and not over.is_set():
            with suppress(OSError):
                line = _connect(port, address)
                line.sendall(said)
                held.append(line)
        over.wait(1)
    for line in held:
        line.close()


def _guess(port: int, address: str, over: Event, answers: Counter[int]) -> None:
    """Sign in as one name after another, as fast as it is answered."""
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=60, source_address=(address, 0))
    token, number = "", 0
    while not over.is_set():
        try:
            if not token:
                line.request("GET", "/sign-in/")
                answer = line.getresponse()
                answer.read()
                token = (answer.headers["Set-Cookie"] or "").partition("=")[2].partition(";")[0]
            number += 1
            form = urlencode(
                {"name": f"{address}-{number}", "password": "guess", "csrfmiddlewaretoken": token}
            )
            line.request("POST", "/sign-in/", form, {"Cookie": f"rehang_csrf={token}", **FORM})
            answer = line.getresponse()
            answer.read()
            answers[answer.status] += 1
        except (OSError, http.client.HTTPException):
            line.close()


def _strangers(port: int, ready: Event, over: Event, told: multiprocessing.Queue[str]) -> None:
    answers: Counter[int] = Counter()
    threads = [
        threading.Thread(target=_hold, args=(port, f"127.0.1.{n}", OF_ONE, b"", b"", over))
        for n in range(1, IDLE // OF_ONE + 1)
    ]
    threads.append(
        threading.Thread(target=_hold, args=(port, "127.0.2.1", TRICKLING, HEAD, b"x", over))
    )
    threads += [
        threading.Thread(target=_guess, args=(port, f"127.0.3.{n}", over, answers))
        for n in range(1, GUESSERS + 1)
    ]
    for one in threads:
        one.start()
    # Until the connections stand and each guesser has made its first tries.
    over.wait(5)
    ready.set()
    for one in threads:
        one.join()
    told.put(", ".join(f"{number:,} of {status}" for status, number in sorted(answers.items())))


def _taps(browser: Browser) -> list[float]:
    """Seconds of each tap."""
    took = []
    for _ in range(TAPS):
        began = time.perf_counter()
        status, answer = browser.post(f"/api/jobs/{JOB}/entries", {"entries": [one_reading()]})
        took.append(time.perf_counter() - began)
        assert status == 200, answer
        # A hand takes a breath between two taps.
        time.sleep(0.05)
    return took


def _line(what: str, took: list[float]) -> str:
    cuts = quantiles(took, n=100)
    return f"{what:<52}{1000 * cuts[49]:8.0f} ms{1000 * cuts[94]:8.0f} ms{1000 * max(took):8.0f} ms"


def run() -> list[str]:
    with tempfile.TemporaryDirectory(prefix="rehang-door-") as folder:
        data = Path(folder)
        in_store(data, LOAD, JOB)
        server = Server(data)
        server.start()
        try:
            browser = Browser(server.port)
            browser.sign_in("marta")
            quiet = _taps(browser)
            ready, over = multiprocessing.Event(), multiprocessing.Event()
            told: multiprocessing.Queue[str] = multiprocessing.Queue()
            crowd = multiprocessing.Process(
                target=_strangers, args=(server.port, ready, over, told)
            )
            crowd.start()
            ready.wait()
            beside = _taps(browser)
            over.set()
            answered = told.get(timeout=120)
            crowd.join()
        finally:
            server.end()
    return [
        f"{TAPS} taps of one mechanic{'':<29}  median     95 %    longest",
        _line("alone", quiet),
        _line(f"beside {TRICKLING} trickling, {IDLE} idle and {GUESSERS} guessers", beside),
        f"The guessers were answered: {answered}.",
    ]


if __name__ == "__main__":
    print("\n".join(run()))
