"""``rehang story``, ``rehang forecast`` and ``rehang simulate``: what was, what may come, what if."""

from __future__ import annotations

import json as jsons
from collections.abc import Sequence
from dataclasses import asdict
from datetime import date
from math import isnan
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import App, Parameter

from rehang.cli.asked import Flag, Judged, wrapped
from rehang.trade.job.judging import JudgedJob
from rehang.trade.terms.days import last_day
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.wording import listed, lower_first, on_day, upper_first
from rehang.trade.work.names import item_label

# A command that forecasts nothing does not wait for what forecasts.
if TYPE_CHECKING:
    from rehang.calc.life import Interval
    from rehang.trade.life.alarms import Alarm
    from rehang.trade.life.forecast import Forecasts, Outlook
    from rehang.trade.life.keep_or_renew import KeepOrRenew
    from rehang.trade.life.lives import ShopLives
    from rehang.trade.life.story_values import PartStory, Point, Series


__all__ = ["register"]

Others = Annotated[list[str] | None, Parameter(name="--with", negative="", consume_multiple=True)]


def register(app: App, *, judged: Judged) -> None:
    """Add the commands to the program.

    ``judged`` judges a job folder, or a job in the book, as of a moment.
    """

    @app.command(name="story")
    def _story(
        what: str,
        item: str,
        /,
        *,
        others: Others = None,
        json: Flag = False,
        now: str = "",
    ) -> int:
        """Tell the story of one part: where it flew, each reading, all that was done to it.

        Example: rehang story my-job K0412

        Parameters
        ----------
        what
            A job folder, or the name of a job in the book.
        item
            As in plug:K0412, cylinder:3, hose:HS2 or oil:engine; a serial alone is a plug.
        others
            Other folders or jobs that the part may have been in.
        json
            Print JSON for a machine.
        now
            Tell it as it stood at the end of this day; for folders.
        """
        from rehang.trade.life.history import story

        books = [judged(one, now) for one in (*(others or ()), what)]
        told = story(books, item if ":" in item else f"plug:{item}", books[-1].facts.job)
        if json:
            print(jsons.dumps(_story_json(told), ensure_ascii=False, indent=2))
        else:
            print("\n".join(_story_lines(told)))
        return 0

    @app.command(name="forecast")
    def _forecast(
        what: str,
        /,
        *,
        others: Others = None,
        json: Flag = False,
        now: str = "",
        until: str = "",
    ) -> int:
        """Say what each part comes to by the next opening, what to keep, and what stands out.

        Example: rehang forecast my-job --until 2025-09-20

        Parameters
        ----------
        what
            A job folder, or the name of a job in the book.
        others
            Other folders or jobs of the same engine, whose readings count too.
        json
            Print JSON for a machine.
        now
            Judge the book as it stood at the end of this day; for folders.
        until
            Leave readings after this day out, to see what was to be expected then.
        """
        *rest, home = [judged(one, now) for one in (*(others or ()), what)]
        from rehang.trade.life.forecast import forecasts
        from rehang.trade.life.watch import watch

        cut = last_day(until) if until else None
        found = forecasts(home, rest, until=cut)
        alarms = watch(home, found)
        # A verdict of today says nothing of what was to be expected then.
        choices = [] if cut else _choices(home, found)
        if json:
            print(jsons.dumps(_forecast_json(found, alarms, choices), ensure_ascii=False, indent=2))
        else:
            print("\n".join(_forecast_lines(home, found, alarms, choices, cut)))
        return 0

    @app.command(name="lives")
    def _lives(
        *what: str,
        kind: str = "plug",
        ahead: float = 100.0,
        json: Flag = False,
    ) -> int:
        """Say how long parts of a kind last in the shop, from all the jobs that are named.

        Example: rehang lives my-job another-job --kind plug

        Parameters
        ----------
        what
            Job folders, or names of jobs in the book.
        kind
            Kind of part.
        ahead
            Hours to the next opening.
        json
            Print JSON for a machine.
        """
        from rehang.trade.life.lives import lives_of

        if not what:
            raise BadInput("Name at least one job folder, or a job in the book.")
        found = lives_of([judged(one, "") for one in what], kind, ahead=ahead)
        if json:
            print(jsons.dumps(_lives_json(found), ensure_ascii=False, indent=2))
            return 0
        for one in found.parts:
            how = one.failed or one.ended
            print(f"{one.name:<12}{one.entered:>9,.1f} to {one.left:>8,.1f} h   {how}")
        print()
        print(
            "\n".join(
                line for said in (*found.sentences, *found.full) for line in wrapped(said, "  ")
            )
        )
        return 0

    @app.command(name="simulate")
    def _simulate(
        out: Path,
        /,
        *,
        seed: int = 1,
        shops: int = 1,
        engines: int = 3,
        services: int = 4,
        faults: float = 0.1,
        slips: float = 0.03,
        dry_run: Flag = False,
    ) -> int:
        """Write job folders of simulated shops, one for each service of each engine. All invented.

        Example: rehang simulate shop --seed 7 --engines 5 --services 4

        Parameters
        ----------
        out
            Folder to write into; made when it is not there, refused when it is not empty.
        seed
            The same seed writes the same folders.
        shops
            Shops, each with its own people and meters.
        engines
            Engines in each shop.
        services
            Services of each engine.
        faults
            Share of parts that go wrong, 0 to 1.
        slips
            Share of readings that are missing or written wrong and struck, 0 to 1.
        dry_run
            Name the folders and write nothing.
        """
        from rehang.sheets.simulate import Plan, simulate, write_shops

        plan = Plan(seed, shops, engines, services, faults, slips)
        if dry_run:
            for job in simulate(plan):
                print(f"{out / job.name}: {len(job.entries)} entries")
            return 0
        written = write_shops(out, plan)
        print(f"{len(written)} job folders are written in {out}.")
        return 0


# The story


def _story_lines(told: PartStory) -> list[str]:
    verdict = f": {told.verdict.verdict}" if told.verdict else ""
    hours = f", {told.hours:,g} h" if told.hours is not None else ""
    lines = [f"{upper_first(told.kind)} {told.name}{hours}{verdict}", f"In {', '.join(told.jobs)}."]
    if told.replaces:
        lines.append(f"It went in for {told.replaces}.")
    if told.replaced_by:
        lines.append(f"{told.replaced_by} goes in for it.")
    if told.flights:
        lines += ["", "Where it flew"]
        for one in told.flights:
            since = on_day(one.since) if one.since else "not on file"
            flown = f", {one.hours:g} h" if one.hours is not None else ""
            lines.append(f"  {one.place:<4}{since} to {on_day(one.until)}{flown}")
    for series in told.series:
        lines += ["", f"{series.label} ({series.limit_words})"]
        lines += [_point_line(series, point) for point in series.points]
    lines += ["", "What happened" if told.events else "Nothing has happened to it on record."]
    for event in told.events:
        struck = f" STRUCK: {event.struck}" if event.struck else ""
        lines += wrapped(f"  {event.on.isoformat()}  {event.words}{struck}", " " * 14)
    return lines


def _point_line(series: Series, point: Point) -> str:
    hours = f"{point.hours:>8,.1f} h" if point.hours is not None else f"{'--':>8}  "
    said = [point.text]
    if point.meter:
        said.append(f"on {point.meter}")
    if point.left:
        said.append(f"({point.breaks or 'as left'})")
    elif point.breaks:
        said.append(f"({point.breaks})")
    if point.words:
        said.append(point.words)
    for word, why in (("void", point.void), ("struck", point.struck), ("aside", point.aside)):
        if why:
            said.append(f"{word}: {why}")
    return f"  {point.on.isoformat()} {hours}  {' '.join(said)}"


def _story_json(told: PartStory) -> dict[str, Any]:
    return {
        "item": told.item,
        "job": told.job,
        "jobs": list(told.jobs),
        "hours": told.hours,
        "verdict": told.verdict.verdict if told.verdict else None,
        "replaces": told.replaces,
        "replaced_by": told.replaced_by,
        "flights": [
            {
                "place": one.place,
                "since": one.since.isoformat() if one.since else None,
                "until": one.until.isoformat(),
                "hours": one.hours,
                "job": one.job,
            }
            for one in told.flights
        ],
        "series": [
            {
                "check": one.check,
                "limit": one.limit_words,
                "limit_source": one.limit_source,
                "clock": one.clock,
                "growth": list(one.growth()),
                "points": [_point_json(point) for point in one.points],
            }
            for one in told.series
        ],
        "events": [
            {
                "on": one.on.isoformat(),
                "kind": one.kind,
                "words": one.words,
                "by": one.by,
                "struck": one.struck,
                "entry": one.entry,
                "job": one.job,
            }
            for one in told.events
        ],
    }


def _point_json(point: Point) -> dict[str, Any]:
    return {
        "on": point.on.isoformat(),
        "hours": point.hours,
        "engine_hours": point.engine_hours,
        "value": point.value,
        "low": point.low,
        "high": point.high,
        "text": point.text,
        "meter": point.meter,
        "left": point.left,
        "segment": point.segment,
        "breaks": point.breaks,
        "counts": point.counts,
        "aside": point.aside,
        "void": point.void,
        "struck": point.struck,
        "job": point.job,
        "entry": point.entry,
    }


# The forecast


def _lives_json(found: ShopLives) -> dict[str, Any]:
    life = found.life
    return {
        "kind": found.kind,
        "parts": [asdict(one) for one in found.parts],
        "failures": life.failures if life else 0,
        "hours_under_watch": life.total_hours if life else 0,
        "half_outlived_at": _ends(found.half),
        "shape": _ends(life.shape if life else None),
        "says": list(found.sentences),
    }


def _ends(one: Interval | None) -> dict[str, float | None] | None:
    """An interval; a number that the data do not carry is null."""
    if one is None:
        return None
    return {
        name: None if isnan(value) else value
        for name, value in (("value", one.value), ("low", one.low), ("high", one.high))
    }


def _choices(judged: JudgedJob, found: Forecasts) -> list[KeepOrRenew]:
    items = dict.fromkeys(one.item for one in found.outlooks)
    known = {one.item for one in judged.items}
    from rehang.trade.life.keep_or_renew import keep_or_renew

    return [keep_or_renew(judged, found, item) for item in items if item in known]


def _forecast_lines(
    judged: JudgedJob,
    found: Forecasts,
    alarms: Sequence[Alarm],
    choices: Sequence[KeepOrRenew],
    until: date | None,
) -> list[str]:
    lines = [judged.facts.title]
    if until is not None:
        lines.append(f"As was to be expected on {on_day(until)}, from the readings up to then.")
    lines += wrapped(f"Next opening in {found.opening.hours:g} h: {found.opening.words}.", "")
    lines += wrapped(
        "Counted are this job and those given with --with. The pages also count the engine's other "
        "jobs and what other engines of the shop lend, so their odds may differ."
    )
    lines += [
        "",
        _row("part", "check", "last read", "then, 80 in 100", "within, in 100"),
        "-" * 80,
    ]
    told: list[str] = []
    for one in found.outlooks:
        lines.append(_outlook_line(one, item_label(judged.facts, one.item)))
        why = one.no_odds if one.standing == "forecast" else one.sentence
        if why and why not in told:
            told.append(why)
    lines += ["", *(line for said in told for line in wrapped(said, "  "))]
    anew = [one for one in found.outlooks if one.set_to is not None]
    if anew:
        from rehang.trade.life.forecast import SET_ANEW

        checks = listed(list(dict.fromkeys(one.label for one in anew)))
        lines += wrapped(f"{checks}: {lower_first(SET_ANEW)}", "  ")
    if choices:
        lines += ["", "Keep or renew"]
        lines += [
            line
            for one in choices
            for line in wrapped(f"{one.sentence} {one.reckoned}".strip(), "  ")
        ]
        hints = dict.fromkeys(hint for one in choices for hint in one.hints)
        lines += [line for hint in hints for line in wrapped(f"Hint: {hint}", "  ")]
    lines += ["", "What stands out" if alarms else "Nothing stands out."]
    lines += [line for one in alarms for line in wrapped(one.sentence, "  ")]
    said = dict.fromkeys(said for one in found.outlooks for said in one.assumptions)
    shared = [one for one in said if not one.startswith(("Drawn from", "At the next opening"))]
    if shared:
        lines += ["", "Assumed"]
        lines += [line for one in shared for line in wrapped(one, "  ")]
    return lines


def _row(part: str, check: str, now: str, then: str, inside: str) -> str:
    return f"{part:<13}{check:<19}{now:<11}{then:<21}{inside}".rstrip()


def _outlook_line(one: Outlook, part: str) -> str:
    from rehang.trade.life.forecast import chance_words

    inside = ""
    if one.standing == "failed":
        inside = "open: an end"
    elif one.standing != "forecast":
        inside = "no forecast"
    elif one.no_odds:
        inside = "no odds"
    elif one.chance_inside is not None:
        inside = chance_words(one.chance_inside).partition(" time")[0]
    return _row(part, lower_first(one.label), one.now_text, one.span_text, inside)


def _forecast_json(
    found: Forecasts, alarms: Sequence[Alarm], choices: Sequence[KeepOrRenew]
) -> dict[str, Any]:
    return {
        "opening": asdict(found.opening),
        "outlooks": [
            {
                name: value
                for name, value in asdict(one).items()
                if name not in ("opening", "likely_text", "span_text")
            }
            for one in found.outlooks
        ],
        "keep_or_renew": [asdict(one) for one in choices],
        "warnings": [asdict(one) for one in alarms],
    }
