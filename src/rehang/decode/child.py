"""The process that reads one file: ``python -m rehang.decode.child``.

On its standard input: a line of JSON that says what to read and within which bounds, then the
file. On its standard output: one JSON value, the answer or the sentence of a refusal.
"""

from __future__ import annotations

import base64
import json
import sys
from collections.abc import Mapping
from dataclasses import asdict
from types import MappingProxyType
from typing import Any

from rehang.trade.terms.errors import BadInput

__all__ = ["main"]

_NOTHING: Mapping[str, Any] = MappingProxyType({})


def _bounded(most_memory: int, seconds: int) -> None:
    """No more than so much address space and processor time, where the system can hold to it."""
    try:
        import resource
    except ImportError:
        # Not a POSIX system: the clock of whoever started this process is the bound there.
        return
    resource.setrlimit(resource.RLIMIT_AS, (most_memory, most_memory))
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _read(what: str, data: bytes, where: str, said: Mapping[str, Any] = _NOTHING) -> Any:
    # Only what is asked for is loaded: a photo needs no reader of tables.
    if what == "read_table":
        from rehang.decode.answers import table_as_plain
        from rehang.decode.tables import read_table

        return table_as_plain(read_table(where, data))
    if what in ("look_at_flight", "read_flight"):
        from rehang.decode import flights

        if what == "read_flight":
            return flights.read_flight(where, data, said)
        return asdict(flights.look(where, data))
    if what == "read_codes":
        from rehang.decode.codes import read_codes

        return read_codes(data)
    if what == "pages_of":
        from rehang.decode.pdfs import pages_of

        return pages_of(data, where)
    from rehang.decode import pictures

    if what == "check_kept":
        pictures.check_kept(data, where)
        return None
    made = pictures.made_fit(data)
    return {
        "data": base64.b64encode(made.data).decode(),
        "sha256": made.sha256,
        "width": made.width,
        "height": made.height,
    }


def main() -> None:
    """Read what is asked for and say what was found."""
    asked = json.loads(sys.stdin.buffer.readline())
    _bounded(asked["most_memory"], asked["seconds"])
    try:
        said = {
            "answer": _read(asked["what"], sys.stdin.buffer.read(), asked["where"], asked["said"])
        }
    except BadInput as refusal:
        said = {"refused": refusal.sentence, "where": refusal.where}
    json.dump(said, sys.stdout)


if __name__ == "__main__":
    main()
