"""What an entry about a record, a compliance or a handing over says, in words."""

from __future__ import annotations

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.drafts import LEFT_OUT, WHATS
from rehang.trade.known.promises import PROMISED
from rehang.trade.terms.days import last_day
from rehang.trade.terms.kinds.fields import noted
from rehang.trade.terms.kinds.papers import Complied, Drafted, PaperHanded, RecordSigned
from rehang.trade.terms.wording import on_day

__all__ = ["complied_words", "drafted_words", "handed_words", "signed_words"]


def complied_words(told: Complied, facts: JobFacts) -> str:
    """What was done that recurs or was promised, when and how."""
    one = facts.recurring.get(told.recurring)
    at = f" at {told.hours:,.1f} h" if told.hours is not None else ""
    method = f", method: {told.method}" if told.method else ""
    title = one.title if one else told.recurring
    if title.startswith(PROMISED):
        title = "What was promised"
    ends = ", which ends it" if told.ends else ""
    return f"{title} done on {on_day(last_day(told.on))}{at}{method}{ends}.{noted(told.note)}"


def handed_words(told: PaperHanded) -> str:
    """Which paper was given to whom."""
    on = f" on {on_day(last_day(told.on))}" if told.on else ""
    return f"{WHATS.get(told.what, told.what)} given to {told.to}{on}.{noted(told.note)}"


def drafted_words(told: Drafted) -> str:
    """What a person wrote in place of a sentence of a record."""
    record, _, name = told.what.partition(":")
    title = f"{WHATS.get(record, record)}, {name.removeprefix('field-').replace('-', ' ')}"
    if told.text == LEFT_OUT:
        why = f": {told.reason.strip().rstrip('.')}" if told.reason else ""
        return f"{title}: left out{why}.{noted(told.note)}"
    return f'{title}, written as "{told.text}".{noted(told.note)}'


def signed_words(told: RecordSigned) -> str:
    """Which record was signed, by whom and on which paper."""
    signer = ", ".join(one for one in (told.name, told.certificate_kind, told.certificate) if one)
    unairworthy = ", as unairworthy" if told.statement == "unairworthy" else ""
    return f"{WHATS.get(told.what, told.what)} signed{unairworthy} by {signer}."
