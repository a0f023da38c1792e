"""What an entry about a record, a compliance or a handing over says, in words."""

from __future__ import annotations

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.drafts import LEFT_OUT, WHATS
from rehang.trade.known.promises import PROMISED
from rehang.trade.terms.entries import Entry, last_day
from rehang.trade.terms.wording import on_day

__all__ = ["RECORD_KINDS", "record_entry_words"]

RECORD_KINDS = ("complied", "given", "drafted", "signed")


def record_entry_words(entry: Entry, facts: JobFacts) -> str:
    """The entry as a sentence, without its note."""
    match entry.kind:
        case "complied":
            one = facts.recurring.get(entry.data["recurring"])
            hours = entry.get("hours", None)
            at = f" at {hours:,.1f} h" if hours is not None else ""
            method = f", method: {entry.get('method')}" if entry.get("method") else ""
            title = one.title if one else str(entry.data["recurring"])
            if title.startswith(PROMISED):
                title = "What was promised"
            return f"{title} done on {on_day(last_day(entry.data['on']))}{at}{method}."
        case "given":
            what = WHATS.get(entry.data["what"], entry.data["what"])
            day = entry.get("on")
            on = f" on {on_day(last_day(day))}" if day else ""
            return f"{what} given to {entry.data['to']}{on}."
        case "drafted":
            record, _, name = str(entry.data["what"]).partition(":")
            title = f"{WHATS.get(record, record)}, {name.removeprefix('field-').replace('-', ' ')}"
            text = entry.data["text"]
            return f"{title}: left out." if text == LEFT_OUT else f'{title}, written as "{text}".'
    kind, number = entry.get("certificate_kind"), entry.get("certificate")
    signer = ", ".join(one for one in (entry.data["name"], kind, number) if one)
    unairworthy = ", as unairworthy" if entry.get("statement") == "unairworthy" else ""
    return f"{WHATS.get(entry.data['what'], entry.data['what'])} signed{unairworthy} by {signer}."
