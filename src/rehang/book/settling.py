"""What was unpacked of a backup becomes a data folder that is whole, in a process of its own.

The tables are brought up to this version, who may sign in is settled, and every chain is held against
the list of the backup. The list comes in, and what was found goes out, as JSON.
"""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path

from rehang.book.aside import asked, run_aside
from rehang.book.opening import set_up
from rehang.sheets.backup_list import LIST, Listing, listing_from, listing_text
from rehang.sheets.whole import Checked
from rehang.trade.terms.errors import Refused

__all__ = ["BY", "settle"]

# Who is named in the access log where passwords were left out of a backup.
BY = "rehang"


def settle(folder: Path, listing: Listing) -> Checked:
    """Settle a folder that was unpacked, and say what was found."""
    done = run_aside(["-m", __name__], data=folder, said=listing_text(listing))
    if done.returncode:
        told = done.stderr.decode(errors="replace").strip().splitlines()
        return Checked(changed=[told[-1] if told else "It cannot be opened."])
    return Checked(**json.loads(done.stdout))


def _settle(listing: Listing) -> Checked:
    from rehang.book import accesslog, ends, tables, verifying

    for name, end in {**listing.books, ends.ACCESS: listing.access_log}.items():
        if end.seq:
            ends.put(name, end)
    tables.bring_up_to_date(put_by=False)
    if not listing.access_log.seq and (begun := accesslog.end()):
        # A store from before there was such a log.
        ends.put(ends.ACCESS, begun)
    if not listing.accounts:
        _secrets_left_out()
    return verifying.store_checked(against=listing.books, said_by="the list of the backup")


def _secrets_left_out() -> None:
    """Tell the access log that nobody's password and PIN came along."""
    from rehang.book import accesslog, models
    from rehang.book.writing import writing

    at = datetime.now(UTC)
    with writing():
        given = accesslog.given_by(models.AccessLine.objects.order_by("seq")).accounts
        for member in models.Member.objects.select_related("user"):
            if accesslog.account_of(member) != given.get(member.key):
                accesslog.write(what="secrets_reset", about=member.key, by=BY, at=at)


def _main() -> None:
    listing = asked()
    set_up()
    try:
        found = _settle(listing_from(listing, LIST))
    except Refused as refused:
        sys.exit(str(refused))
    found.end = None
    print(json.dumps(asdict(found)))  # noqa: T201 - its one result


if __name__ == "__main__":
    _main()
