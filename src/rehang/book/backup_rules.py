"""Backups by the rules of the shop: where to, when the next one is due, and whether it is late."""

from __future__ import annotations

import logging
import os
import threading
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import connection
from django.utils import timezone

from rehang.book import backup_log, models, queries
from rehang.book.backup import back_up
from rehang.book.packing import check_passphrase
from rehang.sheets.job_files import SHOP
from rehang.sheets.toml_text import where_in
from rehang.trade.declared.taken import read
from rehang.trade.facts.backups import Backups
from rehang.trade.terms.errors import NotAllowed, Refused

__all__ = [
    "Standing",
    "by_the_rules",
    "passphrase",
    "rules",
    "set_passphrase",
    "standing",
    "standing_words",
    "watch",
]

log = logging.getLogger("rehang.book")

# How often the clock is looked at, seconds.
LOOK_S = 60
# A stick that was not there may be by then.
AGAIN = timedelta(hours=1)


def _passphrase_file() -> Path:
    data: Path = settings.REHANG_DATA
    return data / "backup-passphrase"


def passphrase() -> str:
    """With what backups are locked that nobody stands beside; empty where they are not.

    It lies beside the books, for their owner alone: it keeps a stick from being read, not this
    machine.
    """
    try:
        return _passphrase_file().read_text("utf-8").rstrip("\n")
    except FileNotFoundError:
        return ""


def set_passphrase(text: str) -> None:
    """Lock the next backups with it; with an empty one they are not locked."""
    if not text:
        _passphrase_file().unlink(missing_ok=True)
        return
    check_passphrase(text)
    beside = _passphrase_file().with_suffix(".new")
    beside.unlink(missing_ok=True)
    handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "w", encoding="utf-8") as file:
        file.write(f"{text}\n")
    beside.replace(_passphrase_file())


def rules(shop: models.Job | None = None) -> Backups:
    """What the shop's own book says of backups; as shipped where no shop has been begun."""
    own = shop or queries.shop()
    if own is None:
        return Backups()
    given: Any = queries.facts(own).engine.get("backup", {})
    return read(Backups, given, where_in(SHOP, queries.files(own).get(SHOP, ""), "backup"))


@dataclass(frozen=True, slots=True)
class Standing:
    """How the shop's books are kept safe. ``days`` since the last proved backup, None where none is."""

    last: backup_log.Kept | None
    days: int | None
    is_late: bool
    is_due: bool


def standing(now: datetime) -> Standing | None:
    """How it stands; None where no shop has been begun: a demo is nobody's record."""
    shop = queries.shop()
    if shop is None:
        return None
    rule, found = rules(shop), backup_log.log()
    last = found.kept[0] if found.kept else None
    since = last.at if last else shop.created_at
    zone = ZoneInfo(queries.facts(shop).timezone_name)
    days = (now.astimezone(zone).date() - since.astimezone(zone).date()).days
    return Standing(
        last,
        days if last else None,
        not 0 <= days <= rule.ask_after_days,
        bool(rule.to) and now >= _next(rule, last, since, zone) and not _just_tried(found, now),
    )


def standing_words(found: Standing | None) -> str:
    """How it stands, in a line."""
    if found is None or found.days is None:
        return "No backup yet"
    if found.days < 0:
        return "The clock of the machine is behind the last backup"
    ago = {0: "today", 1: "yesterday"}.get(found.days, f"{found.days} days ago")
    return f"Proved backup {ago}"


def _next(rule: Backups, last: backup_log.Kept | None, since: datetime, zone: ZoneInfo) -> datetime:
    """When the next one is due by the shop's clock."""
    day = since.astimezone(zone).date() + timedelta(days=rule.every_days if last else 0)
    return datetime.combine(day, rule.at, zone)


def _just_tried(found: backup_log.Log, now: datetime) -> bool:
    return found.tried is not None and now - found.tried < AGAIN


def by_the_rules(*, at: datetime) -> backup_log.Kept:
    """Back the shop up as its rules say.

    Raises
    ------
    NotAllowed, Refused
        No folder is named in them, or the backup is not made: why.
    """
    rule = rules()
    if not rule.to:
        raise NotAllowed("No folder or stick is named for backups yet. Name one under The rules.")
    return back_up(
        Path(rule.to), at=at, passphrase=passphrase(), accounts=rule.accounts, keep=rule.keep
    )


def watch(stop: threading.Event) -> None:
    """Back up whenever it is due, until told to stop. The log and the board say what came of it."""
    while not stop.wait(LOOK_S):
        try:
            found = standing(timezone.now())
            if found is not None and found.is_due:
                by_the_rules(at=timezone.now())
        except Refused as reason:
            log.warning("no backup: %s", reason)
        except Exception:
            # It must be there for the next one, and the board says that this one is missing.
            log.exception("no backup")
        finally:
            connection.close()
