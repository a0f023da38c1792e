"""What has an age: hoses, by when they were made and fitted and the rule on file for their type."""

from dataclasses import dataclass, replace
from datetime import date
from typing import Annotated, ClassVar

from pydantic import Field

from rehang.trade.declared.taken import Where
from rehang.trade.declared.values import STRICT, NotInFile, Text
from rehang.trade.facts.limits import Limit
from rehang.trade.terms.days import last_day
from rehang.trade.terms.errors import BadInput

__all__ = ["AgeAnswer", "Dated", "add_months", "age_answer", "with_days"]


def _tag(text: str) -> str:
    if text not in ("", "unknown"):
        last_day(text)
    return text or "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Dated:
    """A part with a date tag. Texts are as written; ``fitted_on`` is the last good day of it.

    ``came_in`` says that it went on in this job, so that its tag was at hand.
    """

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "A hose"

    id: Annotated[str, Text(needed=True), Field(title="Hose number")]
    line: Annotated[
        str, Text("From where to where.", needed=True), Field(title="From where to where")
    ]
    type: Annotated[
        str,
        Text("As in rubber or PTFE; the age rule on file is for a type.", needed=True),
        Field(title="Type of hose"),
    ]
    made: Annotated[
        str, Text("As in 2021-03-15, 2021-03, 2021-Q1, or unknown.", also=(date,), parse=_tag)
    ] = "unknown"
    fitted: Annotated[str, Text("As for when it was made.", also=(date,), parse=_tag)] = "unknown"
    note: Annotated[str, Text()] = ""
    fitted_on: Annotated[date | None, NotInFile()] = None
    made_on: Annotated[date | None, NotInFile()] = None
    came_in: Annotated[bool, NotInFile()] = False


@dataclass(frozen=True, slots=True)
class AgeAnswer:
    """What an age comes to: the call, the due date where there is one, and why."""

    call: str
    due: date | None
    sentence: str


def with_days(hose: Dated, where: Where) -> Dated:
    """The hose with the days that its texts mean; one that is "unknown" has none."""

    def day(text: str) -> date | None:
        return None if text == "unknown" else last_day(text)

    made_on, fitted_on = day(hose.made), day(hose.fitted)
    if made_on is not None and fitted_on is not None and made_on > fitted_on:
        raise BadInput(
            f"Hose {hose.id} was made {hose.made}, after it was fitted {hose.fitted}.",
            where("made"),
        )
    return replace(hose, made_on=made_on, fitted_on=fitted_on)


def add_months(day: date, months: int) -> date:
    """That many months on, to the last day of that month where the day is a last day or beyond."""
    month = day.month - 1 + months
    year, month = day.year + month // 12, month % 12 + 1
    last = last_day(f"{year:04}-{month:02}")
    is_last = day == last_day(f"{day.year:04}-{day.month:02}")
    # 31 January, a month on, is the end of February; and that, a month on, the end of March.
    return last if is_last or day.day > last.day else last.replace(day=day.day)


def age_answer(part: Dated, limit: Limit | None, today: date) -> AgeAnswer:
    """Whether a part's age answers the rule for its type. The due day itself is still good."""
    if limit is None:
        return AgeAnswer("NOT JUDGED", None, f"No age rule for {part.type} on file.")
    if not limit.has_source:
        return AgeAnswer("NOT JUDGED", None, "The age rule on file names no source.")
    # One that goes on now has its tag at hand; of an old one it may be gone.
    if part.came_in and part.made_on is None:
        return AgeAnswer(
            "OUT",
            None,
            f"When {part.id} was made is not written. Read it off its tag, and write it where it "
            "goes in.",
        )
    if limit.grade:
        return AgeAnswer("WITHIN", None, f"{part.type}: {limit.grade}, so its look decides.")
    assert limit.upper is not None
    # DESIGN 4, Verdict: age that cannot be shown is unknown history.
    if part.fitted_on is None:
        return AgeAnswer(
            "OUT",
            None,
            f"Fitted {part.fitted}, made {part.made}: its age cannot be shown, and unknown is not "
            "passed.",
        )
    due = add_months(part.fitted_on, limit.upper)
    years = limit.upper / 12
    if part.made_on is not None and add_months(part.made_on, limit.upper) < part.fitted_on:
        # Common practice, no source: on the shelf rubber ages too, and one that had lain for as
        # long as it may serve does not begin its service then.
        return AgeAnswer(
            "OUT",
            None,
            f"Made {part.made} and fitted {part.fitted}: older when it went in than the {years:g} "
            "years that its rule gives it (common practice, no source).",
        )
    rule = f"{years:g} years from {part.fitted}"
    # DESIGN 4a, 14: the due day itself is still good.
    if today > due:
        return AgeAnswer(
            "OUT", due, f"{rule}: due {due:%b %Y}, overdue {overdue_words(due, today)}."
        )
    return AgeAnswer("WITHIN", due, f"{rule}: due {due:%b %Y}.")


def overdue_words(due: date, today: date) -> str:
    """How long past a due date: ``2 years 1 month``, ``21 days``."""
    months = 0
    while add_months(due, months + 1) <= today:
        months += 1
    if not months:
        days = (today - due).days
        return f"{days} day{'s' if days != 1 else ''}"
    years, rest = divmod(months, 12)
    parts = []
    if years:
        parts.append(f"{years} year{'s' if years != 1 else ''}")
    if rest:
        parts.append(f"{rest} month{'s' if rest != 1 else ''}")
    return " ".join(parts)
