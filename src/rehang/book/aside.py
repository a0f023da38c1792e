"""A process of its own for one piece of work, that ends with whoever asked for it, however that ends."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryFile

__all__ = ["asked", "run_aside"]

_GONE = 1
# What would lead the other to the books of this one.
_OURS = ("REHANG_DATABASE_URL", "DJANGO_SETTINGS_MODULE")


def run_aside(
    words: Sequence[str], *, data: Path, said: bytes = b""
) -> subprocess.CompletedProcess[bytes]:
    """Run this very Python on a data folder of its own, tell it something, and wait for its end.

    It has to begin with :func:`asked`.
    """
    own = {name: value for name, value in os.environ.items() if name not in _OURS}
    with TemporaryFile() as out, TemporaryFile() as err:
        process = subprocess.Popen(  # noqa: S603 - this very program
            [sys.executable, *words],
            env=own | {"REHANG_DATA": str(data)},
            stdin=subprocess.PIPE,
            stdout=out,
            stderr=err,
        )
        with process:
            assert process.stdin is not None
            # One that ended before it read says why on its own streams.
            with suppress(BrokenPipeError):
                process.stdin.write(b"%d\n" % len(said) + said)
                process.stdin.flush()
            process.wait()
        out.seek(0)
        err.seek(0)
        return subprocess.CompletedProcess(process.args, process.returncode, out.read(), err.read())


def asked() -> bytes:
    """What this process was told; from now on it ends when the one that asked is gone."""
    length = int(sys.stdin.buffer.readline())
    said = sys.stdin.buffer.read(length)
    threading.Thread(target=_end_with_it, daemon=True).start()
    return said


def _end_with_it() -> None:
    # Nothing more is ever said: it is the end of the other process that ends this.
    os.read(sys.stdin.fileno(), 1)
    os._exit(_GONE)
