"""What is worked out over several jobs, or takes long: stories, forecasts, the plan of what is left."""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import date, datetime
from math import inf
from time import monotonic
from zoneinfo import ZoneInfo

import numpy as np

from rehang.book import models, queries
from rehang.book.kept import Kept
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import item_kind
from rehang.trade.life.fits import Lender
from rehang.trade.life.forecast import Forecasts, forecasts
from rehang.trade.life.history import story
from rehang.trade.life.story_values import PartStory
from rehang.trade.papers.due import Due, owed_of
from rehang.trade.papers.warranties import warranties_of_others
from rehang.trade.plan.plan_values import Plan
from rehang.trade.plan.planning import plan_of

__all__ = [
    "Fleet",
    "Planned",
    "books_with",
    "fleet_of",
    "forecasts_of",
    "plan",
    "story_of",
    "with_owed",
]

# What other engines lend is drawn from this many of the newest: more move it little and
# cost a fit each.
FLEET = 8

_FORECASTS = Kept(256)
_LENDERS = Kept(256)
_OWED = Kept(256)
_PLANS = Kept(64)

# A page waits this long for a plan, and shows the last one when it takes longer.
PLAN_WAIT_S = 1.5
_PLANNER = ThreadPoolExecutor(max_workers=1, thread_name_prefix="plan")
_PLANNING: dict[Hashable, Future[Plan]] = {}
_PLANNING_LOCK = threading.Lock()


def books_with(
    job: models.Job, item: str, *, person: str = ""
) -> list[tuple[models.Job, JudgedJob]]:
    """The jobs that an item's story is in with what they come to, this one the last of them.

    A plug is looked for by its serial in the index of readings, any other item in the jobs of the
    same engine. With ``person`` (a key) only in the jobs whose list of people names them.
    """
    if item_kind(item) == "plug":
        read = models.Reading.objects.filter(item=item).values_list("job_id", flat=True)
        found = models.Job.objects.filter(pk__in=read.distinct())
    else:
        found = models.Job.objects.filter(pk__in=[one.pk for one in queries.same_engine(job)])
    if person:
        found = found.filter(people__key=person)
    found = found.order_by("created_at", "pk")
    others = [one for one in queries.readable(found) if one.pk != job.pk]
    return [(one, queries.judged(one)) for one in (*others, job)]


def story_of(job: models.Job, item: str, *, person: str = "") -> PartStory:
    """The story of an item over all the jobs that it is in."""
    books = books_with(job, item, person=person)
    return story([one for _, one in books if item in one.state.items], item, job.slug)


def forecasts_of(
    job: models.Job, *, person: str = "", today: date | None = None, fleet: bool = True
) -> Forecasts:
    """The forecasts of a job, by its own book, its engine's other jobs and the shop's engines."""
    return _FORECASTS.get(*_forecasts_asked(job, person, today=today, fleet=fleet))


def _forecasts_asked(
    job: models.Job, person: str, *, today: date | None = None, fleet: bool = True
) -> tuple[Hashable, Callable[[], Forecasts]]:
    """What the forecasts of a job are an answer to, and how they are worked out."""
    own = queries.judged(job, today=today)
    others = queries.others_of_engine(job, person)
    lent = _newest_of_others(queries.same_engine(job), person) if fleet else []
    heads = tuple((one.pk, one.head_hash) for one in (*others, *lent))

    def work_out() -> Forecasts:
        return forecasts(
            own,
            [queries.judged(one) for one in others],
            fleet=[_lender(one) for one in lent],
        )

    return (job.pk, job.head_hash, own.today, heads), work_out


def with_owed(job: models.Job, person: str = "") -> JudgedJob:
    """A judged job whose next due holds what older jobs of its engine promised, and their warranties.

    With ``person`` (a key) only out of jobs whose list of people names them.
    """
    own = queries.judged(job)
    others = queries.others_of_engine(job, person)
    # Most jobs promise nothing, and then no other book is read.
    if not models.Entry.objects.filter(job__in=others, kind__in=("promised", "warranty")).exists():
        return own

    def work_out() -> tuple[Due, ...]:
        books = {one.slug: queries.state(one) for one in others}
        asked = (own.facts, own.state, books, own.today)
        return (*owed_of(*asked), *warranties_of_others(*asked))

    heads = tuple((one.pk, one.head_hash) for one in others)
    owed = _OWED.get((job.pk, job.head_hash, own.today, heads), work_out)
    return replace(own, due=(*own.due, *owed)) if owed else own


def _lender(job: models.Job) -> Lender:
    return _LENDERS.get((job.pk, job.head_hash), lambda: Lender(queries.judged(job)))


@dataclass(frozen=True, slots=True)
class Fleet:
    """The newest job of each engine with its forecasts, as far as they have been worked out."""

    engines: tuple[tuple[JudgedJob, Forecasts], ...]
    of: int

    @property
    def ready(self) -> bool:
        return len(self.engines) == self.of


def fleet_of(person: str, *, wait_s: float = inf) -> Fleet:
    """What lies ahead of every engine that a person (a key) works on, the newest job first.

    When ``wait_s`` seconds are over no other engine is begun: asked again, it goes on from there,
    by one engine at least. A job whose engine has no serial is an engine of its own.
    """
    begun = monotonic()
    newest: dict[str, models.Job] = {}
    for job in queries.readable(queries.jobs(person=person, put_away=None)):
        newest.setdefault(queries.engine_serial(job) or job.slug, job)
    engines = []
    worked = False
    for job in newest.values():
        asked, work_out = _forecasts_asked(job, person)
        if _FORECASTS.held(asked) is None:
            if worked and monotonic() - begun > wait_s:
                break
            worked = True
        engines.append((with_owed(job, person), _FORECASTS.get(asked, work_out)))
    return Fleet(tuple(engines), len(newest))


def _newest_of_others(engine: Sequence[models.Job], person: str) -> list[models.Job]:
    """The newest job of each of the last so many other engines."""
    own = {one.pk for one in engine}
    found: dict[str, models.Job] = {}
    for one in queries.readable(queries.jobs(person=person, put_away=None)):
        if one.pk in own or len(found) == FLEET:
            continue
        serial = queries.engine_serial(one) or one.slug
        found.setdefault(serial, one)
    return list(found.values())


@dataclass(frozen=True, slots=True)
class Planned:
    """A job's plan; ``ready`` says that it is of the book as it stands, and not the one before."""

    plan: Plan | None
    ready: bool


def plan(job: models.Job, now: datetime, *, wait_s: float = PLAN_WAIT_S) -> Planned:
    """The plan of a job by its book as it stands, for the hour of ``now``.

    It is worked out once for each head of the book and hour, away from whoever asks for it. Where
    that takes longer than ``wait_s`` the plan before it is given, or none.
    """
    own = queries.judged(job)
    local = now.astimezone(ZoneInfo(own.facts.timezone_name))
    key = (job.pk, job.head_hash, local.date(), local.hour)
    found: Plan | None = _PLANS.held(key)
    if found is not None:
        return Planned(found, True)
    with _PLANNING_LOCK:
        working = _PLANNING.get(key)
        if working is None:
            # The same book is planned the same way: its head says where chance begins.
            seed = int(job.head_hash[:8] or "0", 16)
            rng = np.random.default_rng(seed)
            working = _PLANNING[key] = _PLANNER.submit(plan_of, own, local, rng=rng)
    try:
        made = working.result(wait_s)
    except TimeoutError:
        return Planned(_PLANS.held(job.pk), False)
    finally:
        if working.done():
            with _PLANNING_LOCK:
                _PLANNING.pop(key, None)
    _PLANS.put(key, made)
    _PLANS.put(job.pk, made)
    return Planned(made, True)
