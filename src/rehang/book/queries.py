"""The only readers of the tables.

What a book says is worked out from its entries and kept in this process under the head of its
chain: the head names every character below it, so what is kept never has to be thrown away
for being old. Nobody may change a judged job that was handed out.
"""

from __future__ import annotations

import hashlib
import json
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from datetime import date, datetime
from ipaddress import ip_address
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

import numpy as np
from django.conf import settings
from django.contrib.auth.models import AnonymousUser, User
from django.db.models import QuerySet
from django.utils import timezone

from rehang.book import models
from rehang.book import photos as photo_store
from rehang.sheets.folder import parse_files, texts_at
from rehang.trade.entries import Entry, entry_from
from rehang.trade.errors import BadInput, NotAllowed
from rehang.trade.facts import JobFacts, Person
from rehang.trade.forecast import Forecasts, forecasts
from rehang.trade.history import Story, story
from rehang.trade.judging import JudgedJob, judge, judge_state
from rehang.trade.photos import photos_in
from rehang.trade.plan import Plan, plan_of
from rehang.trade.readings import Reading
from rehang.trade.state import JobState, item_kind, item_name, understand
from rehang.trade.verdict import fold_job

__all__ = [
    "FiledText",
    "PastReading",
    "Planned",
    "as_folder",
    "books_with",
    "can_tap_in",
    "check_can_tap_in",
    "entries",
    "entry_of",
    "facts",
    "files",
    "forecasts_of",
    "has_password",
    "job",
    "job_for",
    "jobs",
    "judged",
    "member",
    "member_of",
    "people",
    "people_without_password",
    "photo",
    "photos",
    "plan",
    "readings_of",
    "readings_on",
    "revisions",
    "state",
    "story_of",
    "tap_in_choices",
    "verify",
    "verify_all",
]

T = TypeVar("T")
# What an integer column of the database holds.
LARGEST_VALUE = 2**63 - 1


class _Kept:
    """The last so many answers, by what they are answers to."""

    def __init__(self, size: int) -> None:
        self._size = size
        self._held: OrderedDict[Hashable, Any] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, key: Hashable, work_out: Callable[[], T]) -> T:
        with self._lock:
            if key in self._held:
                self._held.move_to_end(key)
                found: T = self._held[key]
                return found
        made = work_out()
        self.put(key, made)
        return made

    def held(self, key: Hashable) -> Any:
        """The answer where it is kept, else None."""
        with self._lock:
            return self._held.get(key)

    def put(self, key: Hashable, value: object) -> None:
        with self._lock:
            self._held[key] = value
            self._held.move_to_end(key)
            while len(self._held) > self._size:
                self._held.popitem(last=False)

    def clear(self) -> None:
        with self._lock:
            self._held.clear()


# A shop has a handful of engines on the bench; older ones are read again when asked for.
_BOOKS = _Kept(64)
_FACTS = _Kept(64)
_STATES = _Kept(64)
_JUDGED = _Kept(64)
_FORECASTS = _Kept(64)
_PLANS = _Kept(64)


def forget() -> None:
    """Let go of all that is kept in this process; the next question reads the tables again."""
    for kept in (_BOOKS, _FACTS, _STATES, _JUDGED, _FORECASTS, _PLANS):
        kept.clear()


# Jobs and their books


def jobs(*, person: str = "", put_away: bool | None = False) -> list[models.Job]:
    """Jobs, the newest first: those on the board, those put away (True), or all (None).

    With ``person`` (a key) only the jobs whose list of people names them.
    """
    found: QuerySet[models.Job] = models.Job.objects.order_by("-created_at", "-pk")
    if person:
        found = found.filter(people__key=person)
    if put_away is not None:
        found = found.filter(put_away=put_away)
    return list(found)


def job(slug: str) -> models.Job:
    """The job of that name."""
    try:
        return models.Job.objects.get(slug=slug)
    except models.Job.DoesNotExist:
        raise BadInput(f'There is no job "{slug}" here.') from None


def job_for(slug: str, person: str) -> models.Job:
    """The job of that name, for someone in its list of people.

    Who is not in the list is told the same as for a job that is not there.
    """
    try:
        return models.Job.objects.get(slug=slug, people__key=person)
    except models.Job.DoesNotExist:
        raise BadInput(f'There is no job "{slug}" on your board.') from None


def entries(job: models.Job, *, after: int = 0) -> tuple[Entry, ...]:
    """The book up to the head that ``job`` carries, in its order; ``after`` skips that many."""

    def read() -> tuple[Entry, ...]:
        rows = models.Entry.objects.filter(job=job, seq__lte=job.head_seq).order_by("seq")
        return tuple(entry_of(row) for row in rows)

    book = _BOOKS.get((job.pk, job.head_hash), read)
    return book[after:] if after else book


def entry_of(row: models.Entry) -> Entry:
    """The entry that a row holds."""
    raw = json.loads(row.body)
    return entry_from(
        raw | {"seq": row.seq, "kept": row.kept_at, "prev": row.prev, "hash": row.hash},
        f"{row.job_id}, entry {row.seq}",
    )


def keep_book(job: models.Job, book: tuple[Entry, ...], folded: JobState) -> None:
    """What ``entries`` and ``state`` would find for this head, when the writer has it in hand."""
    _BOOKS.put((job.pk, job.head_hash), book)
    _STATES.put((job.pk, job.head_hash), folded)


@dataclass(frozen=True, slots=True)
class FiledText:
    """One revision of a file, as its entry filed it."""

    name: str
    revision: int
    text: str
    sha256: str
    by: str
    at: datetime


def filed_in(book: Sequence[Entry]) -> list[FiledText]:
    """Every revision of every file that a book files, in its order."""
    count: dict[str, int] = {}
    found = []
    for entry in book:
        if entry.kind == "filed":
            name = entry.data["file"]
            count[name] = count.get(name, 0) + 1
            found.append(
                FiledText(
                    name=name,
                    revision=count[name],
                    text=entry.data["text"],
                    sha256=entry.data["sha256"],
                    by=entry.by,
                    at=entry.at,
                )
            )
    return found


def facts(job: models.Job, now: datetime | None = None) -> JobFacts:
    """The facts of a job from its files, as they stand or as they stood at ``now``."""
    return facts_of(texts_at(entries(job), now), job.slug)


def facts_of(texts: Mapping[str, str], name: str) -> JobFacts:
    """The facts that these texts state."""
    key = hashlib.sha256(
        json.dumps([name, sorted(texts.items())], ensure_ascii=True).encode()
    ).digest()
    return _FACTS.get(key, lambda: parse_files(texts, name))


def state(job: models.Job) -> JobState:
    """The fold of a job's book."""

    def work_out() -> JobState:
        known = facts(job)
        return fold_job(known, entries(job))

    return _STATES.get((job.pk, job.head_hash), work_out)


def judged(job: models.Job, now: datetime | None = None, today: date | None = None) -> JudgedJob:
    """A job with every item judged, as it stands or as it stood at ``now``.

    Ages are judged on ``today``; left out, the day of ``now`` or of the clock, in the shop.
    """
    day = today or (now or timezone.now()).astimezone(ZoneInfo(facts(job).timezone_name)).date()

    def work_out() -> JudgedJob:
        if now is None:
            return judge_state(facts(job), state(job), today=day)
        return judge(facts(job, now), entries(job), now, today=day)

    return _JUDGED.get((job.pk, job.head_hash, now, day), work_out)


def files(job: models.Job) -> dict[str, str]:
    """The text of each file of a job as it stands."""
    return texts_at(entries(job))


def revisions(job: models.Job, name: str = "") -> list[FiledText]:
    """Every revision of a job's files, or of one of them, the oldest first."""
    return [one for one in filed_in(entries(job)) if not name or one.name == name]


def as_folder(job: models.Job) -> tuple[dict[str, str], tuple[Entry, ...]]:
    """The files and the sealed entries that ``write_folder`` makes a job folder of."""
    return files(job), entries(job)


def photos(job: models.Job) -> Mapping[str, bytes]:
    """The photos of a job's book that lie here, by the names of their files."""
    return photo_store.kept_of(entries(job))


def photo(job: models.Job, name: str) -> bytes:
    """One photo that this job's book speaks of, every byte as it was kept."""
    if not any(entry.data["photo"] == name for entry in photos_in(entries(job))):
        raise BadInput("There is no such photo in this job.")
    return photo_store.read(name)


@dataclass(frozen=True, slots=True)
class PastReading:
    """One reading out of any book. ``value`` is in base steps of its quantity."""

    job: str
    entry: str
    item: str
    check: str
    place: str
    at: datetime
    value: int | None
    state: str
    word: str
    meter: str
    struck: bool


def readings_of(item: str, check: str, *, struck: bool = False) -> list[PastReading]:
    """Every reading of one check on one item in all jobs, the oldest first."""
    found = models.Reading.objects.filter(item=item, check_name=check)
    return _past(found if struck else found.filter(struck=False))


def readings_on(meter: str, *, since: datetime | None = None) -> list[PastReading]:
    """Every reading taken with a meter in all jobs, the oldest first."""
    found = models.Reading.objects.filter(meter=meter, struck=False)
    return _past(found.filter(at__gte=since) if since else found)


def _past(found: QuerySet[models.Reading]) -> list[PastReading]:
    rows = found.order_by("at", "pk").values_list(
        "job__slug", "entry__entry_id", "item", "check_name", "place", "at", "value", "state",
        "word", "meter", "struck",
    )  # fmt: skip
    return [PastReading(*row) for row in rows]


def index_row(job_id: int, entry: Entry, facts: JobFacts, *, struck: bool) -> models.Reading:
    """The row of the readings index that a reading's entry calls for."""
    try:
        _, reading = understand(entry, facts.sheets, facts.meters)
    except BadInput:
        # Only a struck reading may speak of a meter or check that is no longer on file.
        if not struck:
            raise
        reading = Reading(entry.data["check"], entry.data["written"])
    if reading.value is not None and reading.value > LARGEST_VALUE:
        raise BadInput(
            f'"{reading.written}" is more than anything a meter reads. Look at the digits again.'
        )
    return models.Reading(
        entry_id=models.entry_key(job_id, entry.seq),
        job_id=job_id,
        item=entry.item,
        name=item_name(entry.item),
        check_name=entry.data["check"],
        place=entry.place,
        at=entry.at,
        value=reading.value,
        state=reading.state,
        word=reading.word,
        meter=entry.get("meter"),
        struck=struck,
    )


def index_rows(job_id: int, folded: JobState, facts: JobFacts) -> list[models.Reading]:
    """The whole readings index of one book, in the book's order."""
    return [
        index_row(job_id, entry, facts, struck=entry.id in folded.struck)
        for entry in folded.order
        if entry.kind == "reading"
    ]


# People


def people(job: models.Job) -> tuple[Person, ...]:
    """The people of a job, in the order of its list."""
    return tuple(facts(job).people.values())


def member(key: str) -> models.Member:
    """Who signs in under that key."""
    try:
        return models.Member.objects.select_related("user").get(key=key)
    except models.Member.DoesNotExist:
        raise BadInput(f'Nobody here has the key "{key}".') from None


def member_of(user: User | AnonymousUser) -> models.Member | None:
    """The member behind a signed-in user; None for nobody."""
    if not user.is_authenticated:
        return None
    try:
        # Kept on the user, which is one per request: a page asks for it more than once.
        found: models.Member = user.member
    except models.Member.DoesNotExist:
        return None
    return found


def has_password(member: models.Member) -> bool:
    """Whether this person has set a password."""
    return member.user.has_usable_password()


def people_without_password() -> list[models.Member]:
    """The people of the jobs on the board who have set no password yet."""
    found = (
        models.Member.objects.filter(jobs__put_away=False).select_related("user").distinct()
    ).order_by("name")
    return [one for one in found if not has_password(one)]


def check_can_tap_in(member: models.Member, meta: Mapping[str, Any]) -> None:
    """Whether someone may sign in with one tap: at this machine, before a password is set.

    ``meta`` is ``request.META``. Something in between that passes requests on would make all
    of them look local, so one that was passed on is not.
    """
    if has_password(member):
        raise NotAllowed(f"{member.name} has a password. Sign in with it.")
    if not is_loopback(settings.REHANG_BOUND):
        raise NotAllowed(
            "Signing in with one tap works only while the board is served on this machine alone."
        )
    passed_on = any(meta.get(name) for name in ("HTTP_X_FORWARDED_FOR", "HTTP_FORWARDED"))
    if passed_on or not is_loopback(str(meta.get("REMOTE_ADDR", ""))):
        raise NotAllowed("Signing in with one tap works only at the machine itself.")


def can_tap_in(member: models.Member, meta: Mapping[str, Any]) -> bool:
    """See :func:`check_can_tap_in`."""
    try:
        check_can_tap_in(member, meta)
    except NotAllowed:
        return False
    return True


def tap_in_choices(meta: Mapping[str, Any]) -> list[models.Member]:
    """Who may sign in with one tap from here."""
    return [one for one in people_without_password() if can_tap_in(one, meta)]


def is_loopback(host: str) -> bool:
    """Whether an address is this machine's own and reached from nowhere else."""
    if host == "localhost":
        return True
    try:
        return ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


# Holding the store against its own chain


def verify(job: models.Job) -> list[str]:
    """Every changed byte of a job's record, a sentence each; empty when it is as it was kept."""
    from rehang.book import verifying

    return verifying.job_problems(job)


def verify_all() -> list[str]:
    """The same for the whole store, and for what stands in no job."""
    from rehang.book import verifying

    return verifying.store_problems()


# Stories and forecasts, over all jobs


# What other engines say of rates is drawn from this many of the newest: more move it little and
# cost a fit each.
FLEET = 8


def books_with(job: models.Job, item: str, *, person: str = "") -> list[JudgedJob]:
    """The judged jobs that an item's story is in, this one among them.

    A plug is looked for by its serial in the index of readings, any other item in the jobs of the
    same engine. With ``person`` (a key) only in the jobs whose list of people names them.
    """
    if item_kind(item) == "plug":
        read = models.Reading.objects.filter(item=item).values_list("job_id", flat=True)
        found = models.Job.objects.filter(pk__in=read.distinct())
    else:
        found = models.Job.objects.filter(pk__in=[one.pk for one in _same_engine(job)])
    if person:
        found = found.filter(people__key=person)
    others = [one for one in found.order_by("created_at", "pk") if one.pk != job.pk]
    return [*(judged(one) for one in others), judged(job)]


def story_of(job: models.Job, item: str, *, person: str = "") -> Story:
    """The story of an item over all the jobs that it is in."""
    books = books_with(job, item, person=person)
    return story([one for one in books if item in one.state.items], item, job.slug)


def forecasts_of(
    job: models.Job, *, person: str = "", today: date | None = None, fleet: bool = True
) -> Forecasts:
    """The forecasts of a job, by its own book, its engine's other jobs and the shop's engines."""
    own = judged(job, today=today)
    engine = _same_engine(job)
    others = [one for one in engine if one.pk != job.pk and _may_read(one, person)]
    lent = _newest_of_others(engine, person) if fleet else []
    heads = tuple((one.pk, one.head_hash) for one in (*others, *lent))

    def work_out() -> Forecasts:
        return forecasts(own, [judged(one) for one in others], fleet=[judged(one) for one in lent])

    return _FORECASTS.get((job.pk, job.head_hash, own.today, heads), work_out)


def _may_read(job: models.Job, person: str) -> bool:
    return not person or job.people.filter(key=person).exists()


def _serial(job: models.Job) -> str:
    serial = facts(job).engine.get("serial")
    return serial if isinstance(serial, str) else ""


def _same_engine(job: models.Job) -> list[models.Job]:
    """The jobs of one engine, this one among them, the oldest first."""
    serial = _serial(job)
    if not serial:
        return [job]
    # The text is only a sieve: a remark may name another engine's serial.
    named = models.JobFile.objects.filter(name="engine.toml", text__contains=serial)
    found = models.Job.objects.filter(pk__in=named.values("job_id")).order_by("created_at", "pk")
    return [one for one in found if one.pk == job.pk or _serial(one) == serial]


def _newest_of_others(engine: Sequence[models.Job], person: str) -> list[models.Job]:
    """The newest job of each of the last so many other engines."""
    own = {one.pk for one in engine}
    found: dict[str, models.Job] = {}
    for one in jobs(person=person, put_away=None):
        if one.pk in own or len(found) == FLEET:
            continue
        serial = _serial(one) or one.slug
        found.setdefault(serial, one)
    return list(found.values())


# The plan of what is left


# A page waits this long for a plan, and shows the last one when it takes longer.
PLAN_WAIT_S = 1.5
_PLANNER = ThreadPoolExecutor(max_workers=1, thread_name_prefix="plan")
_PLANNING: dict[Hashable, Future[Plan]] = {}
_PLANNING_LOCK = threading.Lock()


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
    own = judged(job)
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
