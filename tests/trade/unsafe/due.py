"""What is said to be done when it cannot have been, and what claims it."""

from __future__ import annotations

from ..finished import Case, Change, Finished


def _complied(recurring: str = "muffler", **fields: object) -> Change:
    def change(job: Finished) -> None:
        entry = job.last("complied", recurring=recurring)
        entry.update(fields)
        for name in [one for one, value in fields.items() if value is None]:
            del entry[name]

    return change


def _overdue_under_annual(job: Finished) -> None:
    job.without("complied", recurring="muffler")


def _last_hours_above(job: Finished) -> None:
    job.without("complied", recurring="muffler")
    job.replace("recurring.toml", "last_hours = 829.7", "last_hours = 1942.0")


def _last_day_to_come(job: Finished) -> None:
    job.without("complied", recurring="muffler")
    job.replace("recurring.toml", "last_on = 2025-09-20", "last_on = 2027-09-20")


def _interval(text: str) -> Change:
    return lambda job: job.replace("recurring.toml", "every_hours = 100", f"every_hours = {text}")


def _months(text: str) -> Change:
    return lambda job: job.replace("recurring.toml", "every_months = 12", f"every_months = {text}")


def _no_interval(job: Finished) -> None:
    job.replace("recurring.toml", "every_hours = 100\nevery_months = 12\n", "")


CASES = [
    Case(
        "directive done by another document",
        _complied(document="Directive X-2011-01 (invented)"),
        '"Directive X-2019-07 (invented)" is on file',
    ),
    Case("directive done by an old revision", _complied(revision="0"), '"1" is on file'),
    Case("directive done next year at 1,942 h", _complied(on="2027-10-26", hours=1942), "to come"),
    Case("directive done tomorrow", _complied(on="2026-10-27"), "still to come"),
    Case("directive done at hours above the engine's", _complied(hours=1942), "924.8 h"),
    Case("directive done at hours lower than before", _complied(hours=720), "run backwards"),
    Case("directive done before the last time", _complied(on="2024-10-26"), "already"),
    Case("directive done with no hours", _complied(hours=None), "runs on hours too"),
    Case("annual claimed while a directive is overdue", _overdue_under_annual, "Muffler directive"),
    Case("last done at hours above the engine's", _last_hours_above, "1,942"),
    Case("last done on a day to come", _last_day_to_come, "still to come"),
    *(
        Case(f"interval of {text} hours", _interval(text), "every_hours")
        for text in ("0", "-1", "nan", "inf")
    ),
    *(
        Case(f"interval of {text} months", _months(text), "months")
        for text in ("0", "-12", "0.5", "nan")
    ),
    Case("no interval at all", _no_interval, "no interval"),
]
