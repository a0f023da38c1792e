"""The only readers of the tables.

What a book says is worked out from its entries and kept in this process under the head of its
chain: the head names every character below it, so what is kept never has to be thrown away
for being old. Nobody may change a judged job that was handed out.
"""

from __future__ import annotations

import hashlib
import json
import logging
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import TypeVar
from zoneinfo import ZoneInfo

from django.db.models import QuerySet
from django.utils import timezone

from rehang.book import models
from rehang.book import photos as photo_store
from rehang.book.kept import Kept, forget
from rehang.sheets.changes import Change, changes_between
from rehang.sheets.folder import JobFolder, is_whole, parse_files, texts_at
from rehang.trade.doors.rules import check_clock, judged_aside
from rehang.trade.facts.job_facts import JobFacts, Person
from rehang.trade.facts.readings import LARGEST_VALUE, Reading
from rehang.trade.gate.entry_gate import is_ahead
from rehang.trade.gate.powers import shopkeepers
from rehang.trade.job.judging import JudgedJob, judge, judge_state
from rehang.trade.known.photos import photos_in
from rehang.trade.known.state import JobState, item_name, understand
from rehang.trade.telling.finding import Findable
from rehang.trade.telling.finding import findable as findable_in
from rehang.trade.terms.aside import kept_entry, set_aside
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.terms.kinds.papers import Filed
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.verdicts.folding import fold_job

__all__ = [
    "FiledText",
    "PastReading",
    "as_folder",
    "book",
    "book_for",
    "books",
    "clock_behind",
    "engine_serial",
    "entries",
    "entry_columns",
    "entry_of",
    "facts",
    "files",
    "findable",
    "forget",
    "is_demo",
    "is_demo_away",
    "job",
    "job_for",
    "jobs",
    "judged",
    "kept_by",
    "kept_file",
    "load_changes",
    "monitor_columns",
    "others_of_engine",
    "people",
    "photo",
    "photos",
    "readable",
    "readings_of",
    "readings_on",
    "revisions",
    "same_engine",
    "shop",
    "shop_for",
    "state",
]

log = logging.getLogger(__name__)

T = TypeVar("T")
_NOT_YOURS = 'There is no job "{slug}" on your board.'
# Enough for what comes due on thirty engines of four services each: fewer, and a page that walks
# over all jobs drops each one just before it is asked for again.
_BOOKS = Kept(256)
_FACTS = Kept(256)
_STATES = Kept(256)
_JUDGED = Kept(256)
_FINDABLE = Kept(256)

# Tables that are looked through for what was said of the same headings.
MOST_LEARNT = 60


# Jobs and their books


def jobs(*, person: str = "", put_away: bool | None = False) -> list[models.Job]:
    """Jobs, the newest first: those on the board, those put away (True), or all (None).

    With ``person`` (a key) only the jobs whose list of people names them.
    """
    found: QuerySet[models.Job] = models.Job.objects.order_by("-created_at", "-pk")
    found = found.filter(is_shop=False)
    if person:
        found = found.filter(people__key=person)
    if put_away is not None:
        found = found.filter(put_away=put_away)
    return list(found)


def books() -> list[models.Job]:
    """Every book of the store: the shop's own first, then those of all jobs, the newest first."""
    own = shop()
    return [*([own] if own is not None else []), *jobs(put_away=None)]


def shop() -> models.Job | None:
    """The shop's own book; None where no shop has been begun."""
    return models.Job.objects.filter(is_shop=True).first()


def shop_for(person: str) -> models.Job | None:
    """The shop's own book, for someone in its list of people."""
    return models.Job.objects.filter(is_shop=True, people__key=person).first()


def is_demo(job: models.Job) -> bool:
    """Whether a job is invented, as its own facts say; one that cannot be read is nobody's demo."""
    try:
        return facts(job).engine.get("invented") is True
    except BadInput:
        return False


def is_demo_away() -> bool:
    """Whether the shop has taken the demo off every list."""
    own = shop()
    return own is not None and facts(own).engine.get("demo_away") is True


def readable(found: Iterable[models.Job]) -> list[models.Job]:
    """Those whose facts can be read: what stops one job stops no other.

    The list of jobs says of the rest why they cannot be shown.
    """
    kept = []
    for one in found:
        try:
            facts(one)
        except BadInput as refusal:
            log.info("%s is left out: %s", one.slug, refusal.sentence)
        else:
            kept.append(one)
    return kept


def kept_by(person: str) -> list[models.Job]:
    """Books, the shop's own and those of jobs on the board or off it, that that person keeps."""
    own = shop_for(person)
    theirs = readable([*([own] if own is not None else []), *jobs(person=person, put_away=None)])
    return [one for one in theirs if person in [keeper.key for keeper in shopkeepers(facts(one))]]


def job(slug: str) -> models.Job:
    """The job of that name."""
    found = book(slug)
    if found.is_shop:
        raise BadInput(f'There is no job "{slug}" here.')
    return found


def book(slug: str) -> models.Job:
    """The book of that name: a job's, or the shop's own."""
    try:
        return models.Job.objects.get(slug=slug)
    except models.Job.DoesNotExist:
        raise BadInput(f'There is no job "{slug}" here.') from None


def job_for(slug: str, person: str) -> models.Job:
    """The job of that name, for someone in its list of people.

    Who is not in the list is told the same as for a job that is not there.
    """
    found = book_for(slug, person)
    if found.is_shop:
        raise BadInput(_NOT_YOURS.format(slug=slug))
    return found


def book_for(slug: str, person: str) -> models.Job:
    """The same, of a job or of the shop's own book."""
    try:
        return models.Job.objects.get(slug=slug, people__key=person)
    except models.Job.DoesNotExist:
        raise BadInput(_NOT_YOURS.format(slug=slug)) from None


def engine_serial(job: models.Job) -> str:
    """The serial of a job's engine; empty where its file names none."""
    serial = facts(job).engine.get("serial")
    return serial if isinstance(serial, str) else ""


def same_engine(job: models.Job) -> list[models.Job]:
    """The jobs of one engine, this one among them, the oldest first."""
    serial = engine_serial(job)
    if not serial:
        return [job]
    # The text is only a sieve: a remark may name another engine's serial.
    named = models.JobFile.objects.filter(name="engine.toml", text__contains=serial)
    found = models.Job.objects.filter(pk__in=named.values("job_id")).order_by("created_at", "pk")
    return [one for one in readable(found) if one.pk == job.pk or engine_serial(one) == serial]


def others_of_engine(job: models.Job, person: str = "") -> list[models.Job]:
    """The other jobs of a job's engine, the oldest first; with ``person`` (a key) those they may read."""
    found = [one for one in same_engine(job) if one.pk != job.pk]
    return [one for one in found if not person or one.people.filter(key=person).exists()]


def entries(job: models.Job, *, after: int = 0) -> tuple[Entry, ...]:
    """The book up to the head that ``job`` carries, in its order; ``after`` skips that many."""

    def read() -> tuple[Entry, ...]:
        rows = models.Entry.objects.filter(job=job, seq__lte=job.head_seq).order_by("seq")
        found = _readable([entry_of(row) for row in rows], job.slug)
        texts = texts_at(found)
        if _refusal(texts, job.slug) is not None:
            return found
        facts = facts_of(texts, job.slug)
        clock = timezone.now()
        day = clock.astimezone(ZoneInfo(facts.timezone_name)).date()
        try:
            found, judged = judged_aside(facts, found, day, clock)
        except BadInput:
            # Each page says why.
            return found
        ahead = _ahead(found, clock)
        _STATES.put((job.pk, job.head_hash, ahead), judged.state)
        _JUDGED.put((job.pk, job.head_hash, None, day, ahead), judged)
        return found

    book = _BOOKS.get((job.pk, job.head_hash), read)
    return book[after:] if after else book


def entry_columns(slug: str, seq: int, names: Sequence[str]) -> tuple[object, ...] | None:
    """Columns of one entry as they lie in the table; None where it is not there."""
    found = models.Entry.objects.filter(job__slug=slug, seq=seq).values_list(*names).first()
    return None if found is None else tuple(found)


def clock_behind(now: datetime) -> str:
    """What to say where the clock is behind the last line that was kept in any book; else nothing."""
    for one in books():
        try:
            check_clock(now, entries(one))
        except NotAllowed as reason:
            return f"{one.slug}: {reason}"
    return ""


def entry_of(row: models.Entry) -> Entry:
    """The entry that a row holds, or what stands in its place where it cannot be shown."""
    seal = {"seq": row.seq, "kept": row.kept_at, "prev": row.prev, "hash": row.hash}
    return kept_entry(row.body, seal)


def _refusal(texts: Mapping[str, str], slug: str) -> BadInput | None:
    """Why these texts are not the facts of this job; None where they are."""
    try:
        found = facts_of(texts, slug)
    except BadInput as refusal:
        return refusal
    if found.job != slug:
        return BadInput(f'The job of this book is "{slug}"; its files say "{found.job}".')
    return None


def _readable(book: Sequence[Entry], slug: str) -> tuple[Entry, ...]:
    """The book with each filed sheet set aside that cannot be read: the one before it holds."""
    if _refusal(texts_at(book), slug) is None:
        return tuple(book)
    found: list[Entry] = []
    for entry in book:
        texts = texts_at([*found, entry]) if is_a(entry, Filed) else {}
        if is_whole(texts):
            refusal = _refusal(texts, slug)
            if refusal is not None:
                entry = set_aside(entry, str(refusal))
        found.append(entry)
    return tuple(found)


def keep_book(job: models.Job, book: tuple[Entry, ...], folded: JobState, clock: datetime) -> None:
    """What ``entries`` and ``state`` would find for this head, when the writer has it in hand."""
    _BOOKS.put((job.pk, job.head_hash), book)
    _STATES.put((job.pk, job.head_hash, _ahead(book, clock)), folded)


def _ahead(book: Sequence[Entry], clock: datetime) -> tuple[str, ...]:
    """What is dated ahead of the clock: it settles nothing until it is so no longer."""
    return tuple(one.id for one in book if is_ahead(one.at, clock))


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
        if is_a(entry, Filed):
            name = entry.fields.file
            count[name] = count.get(name, 0) + 1
            found.append(
                FiledText(
                    name=name,
                    revision=count[name],
                    text=entry.fields.text,
                    sha256=entry.fields.sha256,
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
    return _FACTS.get(key, lambda: replace(parse_files(texts, name), as_filed=True))


def state(job: models.Job) -> JobState:
    """The fold of a job's book."""

    clock = timezone.now()
    book = entries(job)

    def work_out() -> JobState:
        return fold_job(facts(job), book, clock=clock)

    return _STATES.get((job.pk, job.head_hash, _ahead(book, clock)), work_out)


def judged(job: models.Job, now: datetime | None = None, today: date | None = None) -> JudgedJob:
    """A job with every item judged, as it stands or as it stood at ``now``.

    Ages are judged on ``today``; left out, the day of ``now`` or of the clock, in the shop.
    """
    day = today or (now or timezone.now()).astimezone(ZoneInfo(facts(job).timezone_name)).date()

    def work_out() -> JudgedJob:
        if now is None:
            return judge_state(facts(job), state(job), today=day)
        return judge(facts(job, now), entries(job), now, today=day, clock=clock)

    clock = timezone.now()
    ahead = _ahead(entries(job), clock)
    return _JUDGED.get((job.pk, job.head_hash, now, day, ahead), work_out)


def findable(job: models.Job) -> tuple[Findable, ...]:
    """All that can be looked for in a job, as it stands."""
    found = judged(job)
    key = (job.pk, job.head_hash, found.today, _ahead(entries(job), timezone.now()))
    return _FINDABLE.get(key, lambda: findable_in(found))


def files(job: models.Job) -> dict[str, str]:
    """The text of each file of a job as it stands."""
    return texts_at(entries(job))


def revisions(job: models.Job, name: str = "") -> list[FiledText]:
    """Every revision of a job's files, or of one of them, the oldest first."""
    return [one for one in filed_in(entries(job)) if not name or one.name == name]


@dataclass(frozen=True, slots=True)
class LoadChanges:
    """What loading a folder would do to the job that is here: to its book, and to its facts."""

    entries: int
    kept: int
    files: tuple[Change, ...]
    taken_back: tuple[str, ...]

    @property
    def lines(self) -> list[str]:
        """In words, a line each; none for a job that is not here yet."""
        said = [line for one in self.files for line in one.lines]
        said += [
            f"{name}: this text was filed before, and another since" for name in self.taken_back
        ]
        if self.kept:
            said.append(f"book.jsonl: {self.entries} entries are new; {self.kept} in the book stay")
        return said

    @property
    def lost(self) -> list[str]:
        """The facts that would be lost."""
        gone = [f"{one.file}: {fact}" for one in self.files for fact in one.taken_out]
        return gone + [f"{name} as it stands" for name in self.taken_back]


def load_changes(folder: JobFolder) -> LoadChanges:
    """What loading a folder would change; nothing is changed by asking."""
    held = models.Job.objects.filter(slug=folder.name).first()
    if held is None:
        return LoadChanges(len(folder.entries), 0, (), ())
    book = entries(held)
    ids = {entry.id for entry in book}
    # The folder may bring what was filed since; its own book then says so.
    more = [entry for entry in folder.entries if entry.id not in ids]
    texts = texts_at((*book, *more))
    filed = {(e.fields.file, e.fields.text) for e in book if is_a(e, Filed)}
    differing = [name for name, text in folder.files.items() if texts.get(name) != text]
    return LoadChanges(
        len(more),
        len(book),
        tuple(
            changes_between(
                {n: texts[n] for n in differing if n in texts},
                {n: folder.files[n] for n in differing},
            )
        ),
        tuple(name for name in differing if (name, folder.files[name]) in filed),
    )


def as_folder(job: models.Job) -> tuple[dict[str, str], tuple[Entry, ...]]:
    """The files and the sealed entries that ``write_folder`` makes a job folder of."""
    return files(job), entries(job)


def people(job: models.Job) -> tuple[Person, ...]:
    """The people of a job, in the order of its list."""
    return tuple(facts(job).people.values())


def photos(job: models.Job) -> Mapping[str, bytes]:
    """The photos of a job's book that lie here, by the names of their files."""
    return photo_store.kept_of(entries(job))


def kept_file(name: str) -> bytes:
    """A file that lies beside the photos, every byte as it was kept. Whose it is, the caller has asked."""
    return photo_store.read(name)


def monitor_columns(
    headings: Sequence[str],
) -> tuple[Mapping[int, tuple[str, str]], str]:
    """What the shop last said of a table with those headings: channel and unit by column, and of which.

    Empty where no book has such a table. It is asked of every book: a heading is nobody's secret.
    """
    wanted = [str(one) for one in headings]
    found = models.Entry.objects.filter(kind="monitor_read").order_by("-kept_at", "-seq")
    for body in found.values_list("body", flat=True)[:MOST_LEARNT]:
        told = json.loads(body)
        if told["headings"] == wanted:
            said = {
                int(column): (channel, str(told["units"].get(channel, "")))
                for channel, column in told["columns"].items()
            }
            return said, str(told["of"])
    return {}, ""


def photo(job: models.Job, name: str) -> bytes:
    """One photo that this job's book speaks of, every byte as it was kept."""
    if not any(entry.fields.photo == name for entry in photos_in(entries(job))):
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


def index_row(
    job_id: int, entry: Entry[ReadingTaken], facts: JobFacts, *, struck: bool
) -> models.Reading:
    """The row of the readings index that a reading's entry calls for."""
    try:
        _, reading = understand(entry, facts.sheets, facts.meters)
    except BadInput:
        # Only a struck reading may speak of a meter or check that is no longer on file.
        if not struck:
            raise
        reading = Reading(entry.fields.check, entry.fields.written)
    value = reading.value
    return models.Reading(
        entry_id=models.entry_key(job_id, entry.seq),
        job_id=job_id,
        item=entry.item,
        name=item_name(entry.item),
        check_name=entry.fields.check,
        place=entry.place,
        at=entry.at,
        # Only a struck one may be more than a column holds.
        value=None if value is not None and value > LARGEST_VALUE else value,
        state=reading.state,
        word=reading.word,
        meter=entry.fields.meter,
        struck=struck,
    )


def index_rows(job_id: int, folded: JobState, facts: JobFacts) -> list[models.Reading]:
    """The whole readings index of one book, in the book's order."""
    return [
        index_row(job_id, entry, facts, struck=entry.id in folded.struck)
        for entry in folded.order
        if is_a(entry, ReadingTaken)
    ]
