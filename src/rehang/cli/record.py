"""``rehang record`` and ``rehang due``: the drafts of the records, and what comes due next."""

from __future__ import annotations

import importlib
import json as jsons
from dataclasses import asdict
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from cyclopts import App

from rehang.cli.asked import Flag, Judged, Moment, wrapped
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.drafts import APPROVES, Draft, check_what
from rehang.trade.papers.no_age_rule import without_age_rule
from rehang.trade.telling.entry_sheet import changed_words
from rehang.trade.telling.entry_text import draft_of
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.wording import on_day, plural

__all__ = ["register"]


def register(app: App, *, judged: Judged, moment: Moment) -> None:
    """Add the commands to the program.

    ``judged`` judges a job folder, or a job in the book, as of a moment; ``moment`` reads a time.
    """

    def paper(file: Path, made: bytes) -> int:
        file.write_bytes(made)
        print(f"{file} ({len(made):,} bytes)")
        return 0

    @app.command(name="record")
    def _record(
        job: str,
        /,
        *,
        what: str = "maintenance",
        pdf: Path | None = None,
        size: str = "letter",
        json: Flag = False,
        now: str = "",
    ) -> int:
        """Draft a record from the book, and say what was signed. Nothing is signed here.

        Example: rehang record my-job --what discrepancies --pdf list.pdf

        Parameters
        ----------
        job
            A job folder, or the name of a job in the book.
        what
            maintenance, inspection or discrepancies.
        pdf
            File to print it to: as it was signed while that stands, else the draft.
        size
            letter or a4; sticker, 4 by 6 in, for a logbook page.
        json
            Print JSON for a machine.
        now
            The book as it stood at the end of this day (or at this time).
        """
        one = judged(job, now)
        draft = draft_of(one, check_what(what))
        if pdf is not None:
            records = importlib.import_module("rehang.paper.records")
            standing = [s for s in one.signed if s.what == what and s.stands]
            at = moment("", one.facts.timezone_name).astimezone(ZoneInfo(one.facts.timezone_name))
            if standing:
                made = records.signed_pdf(one, standing[-1], size=size, printed_at=at)
            else:
                made = records.record_pdf(one, what, size=size, printed_at=at)
            return paper(pdf, made)
        if json:
            print(jsons.dumps(_as_json(one, draft), ensure_ascii=False, indent=2))
        else:
            print("\n".join(_lines(one, draft)))
        return 0

    @app.command(name="due")
    def _due(
        job: str,
        /,
        *,
        ics: Path | None = None,
        pdf: Path | None = None,
        size: str = "letter",
        json: Flag = False,
        now: str = "",
    ) -> int:
        """Say what comes due next, by hours and by date, and which of the two governs.

        Example: rehang due my-job --ics next-due.ics

        Parameters
        ----------
        job
            A job folder, or the name of a job in the book.
        ics
            Calendar file to write.
        pdf
            File to print it to.
        size
            letter or a4.
        json
            Print JSON for a machine.
        now
            As of the end of this day (or this time).
        """
        if ics is not None and pdf is not None:
            raise BadInput("Give --ics or --pdf, one at a time.")
        one = judged(job, now)
        at = moment("", one.facts.timezone_name).astimezone(ZoneInfo(one.facts.timezone_name))
        if ics is not None:
            calendar = importlib.import_module("rehang.paper.calendar")
            return paper(ics, calendar.due_ics(one, at))
        if pdf is not None:
            records = importlib.import_module("rehang.paper.records")
            return paper(pdf, records.due_pdf(one, size=size, printed_at=at))
        if json:
            print(jsons.dumps([asdict(d) for d in one.due], default=str, indent=2))
        else:
            print("\n".join(_due_lines(one)))
        return 0


def _lines(judged: JudgedJob, draft: Draft) -> list[str]:
    signed = [one for one in judged.signed if one.what == draft.what]
    # What was signed is printed from the book as it was (--pdf); these lines are drawn anew.
    standing = "drawn anew from the book" if signed else "a draft, not signed"
    lines = [f"{draft.title}: {standing}"]
    for signature in signed:
        lines += wrapped(
            f"Signed by {signature.name}, {signature.kind} {signature.certificate}, {on_day(signature.entry.at)}. "
            f"{changed_words(signature, judged) or 'It stands.'}"
        )
    lines.append("")
    for one in draft.lines:
        if not one.text:
            continue
        said = f"{one.title}: {one.text}"
        if one.in_words_of:
            said += f" [in the words of {one.in_words_of}]"
        lines += wrapped(said)
    lines.append("")
    for field in draft.fields:
        rule = f" ({field.rule})" if field.rule.startswith("14 CFR") else ""
        lines += wrapped(f"{field.label}{rule}: {field.value or '________'}")
    lines += ["", *wrapped(draft.statement), ""]
    against = judged.against(draft.what)
    number = len(against)
    if draft.what in APPROVES and number:
        lines += wrapped(
            f"{number} {plural('reason', number)} not to return it to service. "
            + (
                "It may be signed as unairworthy, with the list of discrepancies:"
                if draft.what == "inspection"
                else "It cannot be signed while they stand:"
            )
        )
        for blocker in against:
            lines += wrapped(f"- {blocker.sentence}", "    ", "  ")
    elif draft.blank:
        names = ", ".join(field.label.lower() for field in draft.blank)
        lines += wrapped(f"Still empty: {names}.")
    if draft.what == "maintenance" and judged.may_not_fly:
        lines += wrapped("May not fly until this is done, whatever this entry approves:")
        for blocker in judged.may_not_fly:
            lines += wrapped(f"- {blocker.sentence}", "    ", "  ")
    lines += wrapped("Rehang signs nothing; the mechanic's own rules govern.")
    return lines


def _due_lines(judged: JudgedJob) -> list[str]:
    lines: list[str] = []
    for rule in without_age_rule(judged.facts, judged.state):
        lines += [*wrapped(f"{rule.sentence} Nothing says when they are due."), ""]
    if not judged.due:
        return [*lines, "Nothing recurs: there is no recurring.toml, or it is empty."]
    for one in judged.due:
        lines += wrapped(one.sentence)
        lines += wrapped(f"by hours   {one.by_hours}", "    ", "  ")
        lines += wrapped(f"by date    {one.by_date}", "    ", "  ")
        lines += wrapped(f"last done  {one.last}", "    ", "  ")
        method = f"; {one.method}" if one.method else ""
        lines += [*wrapped(f"source     {one.source}{method}", "    ", "  "), ""]
    return lines[:-1]


def _as_json(judged: JudgedJob, draft: Draft) -> dict[str, Any]:
    return {
        "what": draft.what,
        "title": draft.title,
        "sentences": [
            {
                "name": one.id,
                "title": one.title,
                "text": one.text,
                "drawn": one.drawn,
                "written_by": one.by,
                "drawn_from": one.from_what,
            }
            for one in draft.lines
        ],
        "fields": [asdict(one) for one in draft.fields],
        "statement": draft.statement,
        "text": draft.text,
        "blockers": [
            {"about": b.about, "group": b.group, "sentence": b.sentence, "way_out": b.way_out}
            for b in judged.against(draft.what)
        ],
        "may_not_fly_until": [one.sentence for one in judged.may_not_fly],
        "signed": [
            {
                "by": one.name,
                "certificate": one.certificate,
                "kind": one.kind,
                "at": one.entry.at.isoformat(),
                "sha256": one.entry.fields.sha256,
                "stands": one.stands,
            }
            for one in judged.signed
            if one.what == draft.what
        ],
    }
