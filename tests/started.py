"""A program of its own for a test, forked from one that has read the libraries already.

It has its own environment, folder, streams and end, and reads Rehang's settings itself; what it
saves is the second that Python takes to read Django and numpy. That a command also starts from
nothing is tried by `tests/book/test_front.py` and `tests/trade/test_tutorial.py`.
"""

from __future__ import annotations

import atexit
import multiprocessing
import os
import resource
import signal
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from tempfile import TemporaryDirectory
from types import MappingProxyType
from typing import Any

from bench.live import OPEN_STORE, Server, environment

COMMAND = "from rehang.cli.main import main; main()"
# Nothing here reads Rehang's settings: these are the same in whatever data folder.
READ_AHEAD = (
    "django.core.management",
    "django.db.backends.sqlite3.base",
    "django.db.migrations.executor",
    "django.forms",
    "rehang.paper.records",
    "rehang.sheets.saved",
    "rehang.trade.job.judging",
    "rehang.trade.release.claims",
)
_FORKED = multiprocessing.get_context("forkserver")
_FORKED.set_forkserver_preload(list(READ_AHEAD))


class Program:
    """One that runs, asked as a ``Popen`` is; ``said`` waits for its end and what it printed."""

    def __init__(
        self, code: str, *arguments: str, env: Mapping[str, str], typed: str = "",
        inside: Path | None = None, full_at: int | None = None, log: Path | None = None,
    ) -> None:  # fmt: skip
        """``full_at``: its disk takes no file of more bytes. ``log``: both of its streams."""
        self._kept = TemporaryDirectory(prefix="rehang-program-")
        self._files = [Path(self._kept.name, name) for name in ("in", "out", "err")]
        self._files[0].write_text(typed, "utf-8")
        if log is not None:
            self._files[1:] = [log, log]
        self.arguments = [*arguments]
        self._process = _FORKED.Process(
            target=_run,
            args=(code, self.arguments, dict(env), str(inside or Path.cwd()), self._files, full_at),
        )
        self._process.start()

    @property
    def pid(self) -> int:
        assert self._process.pid is not None
        return self._process.pid

    def poll(self) -> int | None:
        return self._process.exitcode

    def send_signal(self, number: int) -> None:
        os.kill(self.pid, number)

    def wait(self, timeout: float = 300.0) -> int:
        self._process.join(timeout)
        if self._process.exitcode is None:
            self.kill()
            raise subprocess.TimeoutExpired(self.arguments, timeout)
        if self._files[1] == self._files[2]:
            self._kept.cleanup()
        return self._process.exitcode

    def kill(self) -> None:
        self._process.kill()
        self._process.join()
        self._kept.cleanup()

    def said(self) -> subprocess.CompletedProcess[str]:
        code = self.wait()
        said = [one.read_text("utf-8") if one.exists() else "" for one in self._files]
        self._kept.cleanup()
        return subprocess.CompletedProcess(self.arguments, code, said[1], said[2])


class ForkedServer(Server):
    """A server of one data folder, forked."""

    def _started(self) -> Program:
        *_, code, port = self._command
        return Program(
            code, port, env=environment(self.data, self.more),
            log=self.data / "server.log",
        )  # fmt: skip


def _run(
    code: str, arguments: list[str], env: dict[str, str], inside: str, files: list[Path],
    full_at: int | None,
) -> None:  # fmt: skip
    os.environ.clear()
    os.environ.update(env)
    os.chdir(inside)
    for number, file in enumerate(files):
        place = os.open(
            file, os.O_RDONLY if number == 0 else os.O_WRONLY | os.O_CREAT | os.O_APPEND
        )
        os.dup2(place, number)
        os.close(place)
    sys.stdin = os.fdopen(0, encoding="utf-8")
    sys.stdout = os.fdopen(1, "w", encoding="utf-8", closefd=False)
    sys.stderr = os.fdopen(2, "w", encoding="utf-8", closefd=False)
    if full_at is not None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (full_at, full_at))
    assert "rehang.site.settings" not in sys.modules, "the settings of another data folder"
    signal.signal(signal.SIGINT, signal.default_int_handler)
    sys.argv = ["rehang", *arguments]
    try:
        exec(compile(code, "<program>", "exec"), {"__name__": "__main__"})  # noqa: S102
    finally:
        # A forked process leaves without the last acts of a whole one.
        atexit._run_exitfuncs()
        if django_db := sys.modules.get("django.db"):
            django_db.connections.close_all()


def rehang(
    *words: object, data: Path | None = None, env: Mapping[str, str] = MappingProxyType({}),
    code: str = COMMAND, **more: Any,
) -> subprocess.CompletedProcess[str]:  # fmt: skip
    """The command, with a data folder of its own or in the environment of the tests."""
    own = {**os.environ, **env} if data is None else environment(data, env)
    return Program(code, *map(str, words), env=own, **more).said()


def in_store(data: Path, code: str, *arguments: str) -> str:
    """Run some Python with the store of a data folder open, and give what it prints."""
    done = Program(OPEN_STORE + code, *arguments, env=environment(data)).said()
    if done.returncode:
        raise RuntimeError(done.stderr)
    return done.stdout.strip()
