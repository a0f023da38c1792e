"""What passes between the shop's own book and those of its jobs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from rehang.book import members, models, queries
from rehang.book.keeping import Appended, append_rows, filed_entries, fold_of, locked_job, log
from rehang.book.kept import Kept
from rehang.book.writing import writing
from rehang.sheets.folder import check_facts, parse_files
from rehang.sheets.shop_things import Offer, offers, passed_on, taken
from rehang.trade.doors.rules import check_can_write
from rehang.trade.gate.powers import shopkeepers
from rehang.trade.job.judging import judge_state
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput, Refused
from rehang.trade.terms.kinds.meters import MeterFoundOut, Proved

__all__ = [
    "Offered",
    "UsedElsewhere",
    "offered",
    "pass_on",
    "take",
    "tell_others",
    "things_offered",
    "used_elsewhere",
]

_OFFERS = Kept(256)


@dataclass(frozen=True, slots=True)
class Offered:
    """What the shop has and a job lacks or has otherwise, and what taking it would change.

    ``verdicts`` are item, verdict now and verdict then. ``why_not`` is the sentence of why it cannot
    be taken, else empty.
    """

    things: tuple[Offer, ...] = ()
    verdicts: tuple[tuple[str, str, str], ...] = ()
    why_not: str = ""


def offered(job: models.Job) -> Offered:
    """What a job could take of the shop's; nothing for a demo, or where no shop has been begun."""
    things = things_offered(job)
    if not things:
        return Offered()
    now = queries.judged(job)
    try:
        facts = parse_files({**queries.files(job), **taken(queries.files(job), things)}, job.slug)
        check_facts(facts)
        then = judge_state(facts, fold_of(queries.entries(job), facts), today=now.today)
    except Refused as reason:
        return Offered(things, (), reason.sentence)
    was = {one.item: one.verdict for one in now.items}
    changed = [
        (one.item, was.get(one.item, ""), one.verdict)
        for one in then.items
        if was.get(one.item) != one.verdict
    ]
    return Offered(things, tuple(changed))


def things_offered(job: models.Job) -> tuple[Offer, ...]:
    """What a job could take of the shop's, without what taking it would change."""
    shop = queries.shop()
    if shop is None or queries.is_demo(job):
        return ()

    def work_out() -> tuple[Offer, ...]:
        return tuple(offers(queries.files(shop), queries.files(job), _model(job)))

    return _OFFERS.get((job.pk, job.head_hash, shop.pk, shop.head_hash), work_out)


def _model(job: models.Job) -> str:
    return str(queries.facts(job).engine.get("engine", ""))


def take(*, job: models.Job, by: str, at: datetime) -> Appended:
    """File in a job's book what the shop has and the job lacks or has otherwise, by one tap.

    Whoever may write may take it: whoever keeps the shop has put it in there.

    Raises
    ------
    BadInput, NotAllowed
        One sentence; nothing is taken then.
    """
    with writing():
        held = locked_job(job)
        members.check_has_access(by)
        check_can_write(queries.facts(held).people.get(by))
        new = taken(queries.files(held), things_offered(held))
        if not new:
            return Appended((), ())
        entries = [
            filed_entries(name, text, by, at, held.head_seq + number)
            for number, (name, text) in enumerate(new.items())
        ]
        return append_rows(held, job, entries, at, of_the_shop=True)


def pass_on(
    held: models.Job, before: Mapping[str, str], after: Mapping[str, str], by: str, at: datetime
) -> None:
    """Have the shop keep what its keeper has just filed in a job; the caller holds the transaction.

    What the shop cannot take, or has otherwise, stays where it is: the job's page of the shop says so.
    """
    shop = queries.shop()
    if shop is None or held.is_shop or queries.is_demo(held):
        return
    facts = queries.facts(shop)
    if by not in [one.key for one in shopkeepers(facts)]:
        return
    texts = queries.files(shop)
    new = passed_on(before, after, texts, _model(held))
    try:
        check_facts(parse_files({**texts, **new}), new)
    except BadInput as reason:
        log.info("not passed on from %s to the shop: %s", held.slug, reason)
        return
    own = locked_job(shop)
    entries = [
        filed_entries(name, text, by, at, own.head_seq + number)
        for number, (name, text) in enumerate(new.items())
    ]
    if entries:
        append_rows(own, shop, entries, at)


def tell_others(job: models.Job, entries: Sequence[Entry], by: str, at: datetime) -> None:
    """Have the other jobs on the board know what a meter was found to be; the caller holds the transaction.

    It is one meter, and its owner says so once. A job that cannot take it is left, and the meter's
    page says that it does not know.
    """
    told = [one for one in entries if is_a(one, MeterFoundOut, Proved)]
    if not told or queries.shop() is None or queries.is_demo(job):
        return
    for entry in told:
        for other in queries.readable(queries.jobs(person=by, put_away=False)):
            if other.pk == job.pk or entry.fields.meter not in queries.facts(other).meters:
                continue
            twin = replace(entry, id=f"{entry.id[:60]}-{other.pk}")
            try:
                append_rows(locked_job(other), other, [twin], at)
            except Refused as reason:
                log.info("%s does not know of %s: %s", other.slug, entry.fields.meter, reason)


@dataclass(frozen=True, slots=True)
class UsedElsewhere:
    """Readings on a meter in another job, and whether that job knows that it was found out."""

    job: models.Job
    readings: int
    last: datetime
    found_out: bool


def used_elsewhere(job: models.Job, meter: str, person: str) -> list[UsedElsewhere]:
    """The other jobs, put away ones too, in which a meter was read, for someone in their lists."""
    found: dict[str, list[datetime]] = {}
    for one in queries.readings_on(meter):
        found.setdefault(one.job, []).append(one.at)
    told = []
    for other in queries.readable(queries.jobs(person=person, put_away=None)):
        if other.pk != job.pk and other.slug in found:
            times = found[other.slug]
            knows = meter in queries.judged(other).state.found_out
            told.append(UsedElsewhere(other, len(times), max(times), knows))
    return told
