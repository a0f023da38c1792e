"""What stands in a book and cannot be shown: it is set aside once, before anything reads it.

A line may have come in under an older version, in a folder, or past the gate altogether. What
stands in its place has its id, its seal and the sentence that says why; nothing is worked out from
it, every page can show it, and a strike takes it away.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, datetime
from types import MappingProxyType
from typing import Any

from rehang.trade.terms.bounds import LONGEST_BY, check_sizes
from rehang.trade.terms.chain import seal_hash
from rehang.trade.terms.entries import ID, Entry, entry_from, parse_when
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.shop import Unread

__all__ = ["kept_entry", "kept_line", "set_aside"]

# Where neither a line nor its seal says when: no moment of a book lies before it.
_NO_TIME = datetime(1900, 1, 1, tzinfo=UTC)


def set_aside(entry: Entry, why: str) -> Entry:
    """What stands in the place of an entry that cannot be shown."""
    return Entry(
        id=entry.id,
        kind=Unread.kind,
        at=entry.at,
        by=entry.by,
        data=MappingProxyType({"why": why}),
        seq=entry.seq,
        kept=entry.kept,
        prev=entry.prev,
        hash=entry.hash,
        original=entry.content(),
    )


def kept_entry(body: str | Mapping[str, Any], seal: Mapping[str, Any]) -> Entry:
    """The entry that a book keeps, as its text or read, or what stands in its place.

    ``seal`` has seq, kept, prev and hash.
    """
    raw = _read(body) if isinstance(body, str) else body
    try:
        entry = entry_from({**raw, **seal})
        check_sizes(entry)
    except BadInput as refusal:
        return _stand_in(raw, seal, refusal.sentence)
    return entry


def kept_line(line: str) -> Entry | None:
    """What stands in the place of a line that was kept as it is; None where its seal says otherwise.

    A line that was typed, or changed since it was kept, is not set aside: it is mended.
    """
    raw = _read(line)
    seal = {name: raw.pop(name, None) for name in ("seq", "kept", "prev", "hash")}
    found = kept_entry(raw, seal)
    if not (isinstance(seal["seq"], int) and isinstance(seal["prev"], str) and found.kept):
        return None
    sealed = seal_hash(found, seq=seal["seq"], kept=found.kept, prev=seal["prev"])
    return found if sealed == seal["hash"] else None


def _read(text: str) -> dict[str, Any]:
    try:
        raw = json.loads(text)
    # Brackets without end raise RecursionError, which is no ValueError.
    except (ValueError, RecursionError):
        raw = None
    return raw if isinstance(raw, dict) else {}


def _stand_in(raw: Mapping[str, Any], seal: Mapping[str, Any], why: str) -> Entry:
    named, by = raw.get("id"), raw.get("by")
    kept = _moment(seal["kept"])
    whole = isinstance(named, str) and ID.fullmatch(named)
    shown = isinstance(by, str) and by.isprintable() and len(by) <= LONGEST_BY
    seq = seal["seq"] if isinstance(seal["seq"], int) else 0
    return Entry(
        id=str(named) if whole else f"unread-{seq}",
        kind=Unread.kind,
        at=_moment(raw.get("at")) or kept or _NO_TIME,
        by=str(by) if shown else "",
        data=MappingProxyType({"why": why}),
        seq=seq,
        kept=kept or _NO_TIME,
        prev=str(seal["prev"]),
        hash=str(seal["hash"]),
        original=raw,
    )


def _moment(text: object) -> datetime | None:
    try:
        return parse_when(text, "at")
    except BadInput:
        return None
