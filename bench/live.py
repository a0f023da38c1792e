"""A board that is really served, in a process of its own, and a browser's part of talking to it."""

from __future__ import annotations

import http.client
import json
import os
import signal
import socket
import ssl
import subprocess
import sys
import time
import uuid
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from types import MappingProxyType
from typing import Any
from urllib.parse import urlencode

SERVE = "import sys; from rehang.site.serve import serve; serve(port=int(sys.argv[1]))"
# The same by HTTPS, with the certificates of the data folder.
SERVE_SHOP = (
    "import sys; from rehang.site.serve import serve; from rehang.site.certificates import OwnPapers;"
    "from rehang.site.settings import REHANG_DATA;"
    "serve(*sys.argv[2:], port=int(sys.argv[1]), papers=OwnPapers(REHANG_DATA))"
)
# What Python runs first that asks the store of its data folder.
OPEN_STORE = "from rehang.book.opening import open_store\nopen_store()\n"
# How long is waited for a server that does not answer; a machine may be busy with ten other things.
START_S = 120.0


def one_reading() -> dict[str, str]:
    """A reading that the demo's book takes, under an id of its own."""
    return {
        "id": str(uuid.uuid4()),
        "kind": "reading",
        "at": datetime.now(UTC).isoformat(),
        "item": "plug:K0411",
        "check": "resistance",
        "written": "1.18 kohm",
        "meter": "DM-2",
        "range": "20k",
    }


def environment(data: Path, more: Mapping[str, str] = MappingProxyType({})) -> dict[str, str]:
    """This process's own, with another data folder and no other database, and ``more``."""
    own = {k: v for k, v in os.environ.items() if not k.startswith("REHANG_")}
    return (
        own
        | dict(more)
        | {"REHANG_DATA": str(data), "DJANGO_SETTINGS_MODULE": "rehang.site.settings"}
    )


def in_store(data: Path, code: str, *arguments: str) -> str:
    """Run some Python with the store of a data folder open, and give what it prints."""
    opened = f"{OPEN_STORE}{code}"
    done = subprocess.run(
        [sys.executable, "-c", opened, *arguments],
        env=environment(data),
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise RuntimeError(done.stderr)
    return done.stdout.strip()


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    return port


class Server:
    """The server process of one data folder."""

    def __init__(
        self,
        data: Path,
        *,
        python: Sequence[str] = (sys.executable,),
        more: Mapping[str, str] = MappingProxyType({}),
        serve: str = SERVE,
    ) -> None:
        self.data = data
        self.more = more
        self.port = free_port()
        self._command = [*python, "-c", serve, str(self.port)]
        self._process: Any = None

    def start(self) -> None:
        self._process = self._started()
        waited_until = time.monotonic() + START_S
        while time.monotonic() < waited_until:
            if self._process.poll() is not None:
                raise RuntimeError((self.data / "server.log").read_text())
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
            except OSError:
                time.sleep(0.02)
            else:
                return
        raise RuntimeError("The server did not open its port.")

    def _started(self) -> Any:
        with (self.data / "server.log").open("ab") as log:
            return subprocess.Popen(
                self._command, env=environment(self.data, self.more), stdout=log, stderr=log
            )

    def memory_mb(self) -> int:
        """What the process holds of the machine's memory now (Linux)."""
        assert self._process is not None
        status = Path(f"/proc/{self._process.pid}/status").read_text()
        return int(status.partition("VmRSS:")[2].split()[0]) // 1024

    def kill(self) -> None:
        """At once, with nothing said to it beforehand."""
        self.end(signal.SIGKILL)

    def end(self, how: int = signal.SIGTERM) -> int:
        assert self._process is not None
        self._process.send_signal(how)
        return self._process.wait(timeout=START_S)


def trusting(data: Path) -> ssl.SSLContext:
    """What a phone trusts once it has taken in the certificate of a shop."""
    text = (data / "certificates/authority.pem").read_text()
    return ssl.create_default_context(cadata=text[text.index("-----BEGIN CERT") :])


class Browser:
    """One person's visit: cookies, the token of the forms, and a connection that may break."""

    def __init__(
        self, port: int, log: Path | None = None, trusting: ssl.SSLContext | None = None
    ) -> None:
        self.port = port
        self.log = log
        # By TLS where it is given what to trust.
        self.trusting = trusting
        self.cookies: dict[str, str] = {}
        self._connection: http.client.HTTPConnection | None = None

    def ask(
        self, method: str, path: str, body: bytes | None = None, kind: str = ""
    ) -> tuple[int, bytes]:
        """Status and body; ConnectionError or HTTPException when the server is gone."""
        if self._connection is None and self.trusting is None:
            self._connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=START_S)
        elif self._connection is None:
            self._connection = http.client.HTTPSConnection(
                "127.0.0.1", self.port, timeout=START_S, context=self.trusting
            )
        headers = {"Cookie": "; ".join(f"{k}={v}" for k, v in self.cookies.items())}
        if self.trusting is not None:
            headers["Origin"] = f"https://127.0.0.1:{self.port}"
        if body is not None:
            headers |= {"Content-Type": kind, "X-CSRFToken": self.cookies.get("rehang_csrf", "")}
        try:
            self._connection.request(method, path, body, headers)
            answer = self._connection.getresponse()
            text = answer.read()
        except (OSError, http.client.HTTPException):
            self.hang_up()
            raise
        for line in answer.headers.get_all("Set-Cookie", []):
            name, _, value = line.partition(";")[0].partition("=")
            self.cookies[name] = value
        return answer.status, text

    def hang_up(self) -> None:
        """Let go of the connection; the next question opens another."""
        if self._connection is not None:
            self._connection.close()
            self._connection = None

    def sign_in(self, person: str) -> None:
        """By the one-tap button of the sign-in page."""
        status, _ = self.ask("GET", "/sign-in/")
        assert status == 200, status
        form = urlencode({"person": person}).encode()
        status, page = self.ask("POST", "/sign-in/", form, "application/x-www-form-urlencoded")
        assert status in (302, 303), (status, page[:300])

    def get(self, path: str) -> dict[str, Any]:
        status, text = self.ask("GET", path)
        assert status == 200, (status, text[:300])
        found: dict[str, Any] = json.loads(text)
        return found

    def post(self, path: str, body: dict[str, Any]) -> tuple[int, dict[str, Any]]:
        status, text = self.ask("POST", path, json.dumps(body).encode(), "application/json")
        try:
            return status, json.loads(text)
        except ValueError:
            log = (self.log.read_text() if self.log else "")[-3000:]
            raise RuntimeError(f"{status}: {text[:300]!r} {log}") from None
