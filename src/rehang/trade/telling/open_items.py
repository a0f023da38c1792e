"""The two lists for an owner: what is not airworthy or not shown to be, and what is not done yet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import item_kind, item_name
from rehang.trade.release.blockers import NOT_DONE, RECORD
from rehang.trade.terms.wording import listed
from rehang.trade.verdicts.item_blockers import Blocker

__all__ = ["LISTS", "open_items"]

LISTS = ("Discrepancy", "Work not done")
# So many of a kind are named in its one line.
_NAMED = 4


def open_items(judged: JudgedJob) -> tuple[tuple[Blocker, ...], tuple[Blocker, ...]]:
    """What is unairworthy, open or overdue (14 CFR 43.11(b)), and apart from it work not done.

    What nobody has read yet is work not done, a line for each kind of item.
    """
    kept = [one for one in judged.blockers if one.group != RECORD]
    unread = [one for one in kept if one.is_unread]
    work = [one for one in kept if one.group in NOT_DONE or one.about == "run"]
    open_ones = [one for one in kept if one not in work and not one.is_unread]
    return (*open_ones, *judged.may_not_fly), (*_by_kind(unread, judged), *work)


def _by_kind(unread: Iterable[Blocker], judged: JudgedJob) -> Iterator[Blocker]:
    """What is still to be read, one line for each kind with how many and the first of them."""
    found: dict[str, dict[str, None]] = {}
    for one in unread:
        found.setdefault(item_kind(one.about), {})[item_name(one.about)] = None
    for kind, names in found.items():
        sheet = judged.facts.sheets.get(kind)
        title = sheet.group or sheet.title if sheet is not None else kind
        first = list(names)[:_NAMED]
        more = len(names) - len(first)
        told = listed([*first, f"{more} more"] if more else first)
        yield Blocker(
            f"unread:{kind}",
            f"{title}, {len(names)} still to be read or looked at: {told}.",
            "Take every check that is missing.",
        )
