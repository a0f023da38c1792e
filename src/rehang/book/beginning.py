"""How a shop and its jobs begin: the only writers of books that are not there yet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from types import MappingProxyType
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.auth import get_user_model
from django.contrib.auth.hashers import make_password

from rehang.book import accesslog, members, models, photos, pins, queries, services
from rehang.book.keeping import append_rows, filed_entries, photos_to_keep, take_in
from rehang.book.writing import writing
from rehang.sheets import check_sheets
from rehang.sheets.folder import PEOPLE, JobFolder, check_facts, parse_files
from rehang.sheets.new_job import job_files, job_name
from rehang.sheets.new_shop import begun_by, offered_by, person_key
from rehang.sheets.things import THINGS, put, things_in
from rehang.trade.doors.rules import check_can_write
from rehang.trade.gate.powers import check_keeps_shop
from rehang.trade.known.photos import photos_in
from rehang.trade.papers.due import last_done
from rehang.trade.terms.entries import Entry, new_entry
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.terms.wording import is_blank
from rehang.trade.work.handed_on import engine_left

__all__ = [
    "Known",
    "begin_job",
    "begin_shop",
    "bring_in",
    "engines_known",
    "is_empty",
    "offer_shop",
]

_BEGUN = (
    "The shop has been begun already. Sign in; whoever keeps it puts you on its list of people."
)


def is_empty() -> bool:
    """Whether nobody works here yet: there is no shop, and every job is a demo."""
    return queries.shop() is None and all(
        queries.is_demo(one) for one in queries.jobs(put_away=None)
    )


def begin_shop(
    *, shop: Mapping[str, Any], person: Mapping[str, Any], pin: str, password: str, at: datetime
) -> models.Member:
    """Begin the shop's own book with the person who keeps it, and what they show who they are with.

    ``shop`` and ``person`` are keys of the shop's file and of a person of its list; the person's own
    key is made of the name.

    Raises
    ------
    BadInput, NotAllowed
        What was typed cannot be, or the shop has begun. Nothing is kept then.
    """
    if is_blank(str(person.get("name", ""))):
        raise BadInput("Write your name, as it stands on your papers.", "name")
    # A key lives for ever in the books, so it is nobody else's, not even of a demo's people.
    key = person_key(str(person["name"]), members.keys())
    # Checked and hashed before anything is written: nobody waits for a hash.
    new = models.Member(user=get_user_model()(username=key), key=key, name=person["name"])
    pins.check_pin(pin, "pin")
    if password:
        pins.check_password_good(new, password, "password")
    hashed_pin, hashed = make_password(pin), make_password(password or None)
    folder = _folder(begun_by(shop, {"key": key, **person}))
    with writing():
        if queries.shop() is not None:
            raise NotAllowed(_BEGUN)
        take_in(folder, key, at)
        made = models.Member.objects.select_related("user").get(key=key)
        made.pin, made.user.password = hashed_pin, hashed
        made.save(update_fields=["pin"])
        made.user.save(update_fields=["password"])
        accesslog.write(what="secrets_reset", about=key, by=key, at=at)
    return made


def offer_shop(*, job: models.Job, by: str, at: datetime) -> models.Job:
    """Begin the shop's own book out of a job that was here before there was one."""
    facts = queries.facts(job)
    check_can_write(facts.people.get(by))
    check_keeps_shop(by, "begin the shop's own book", facts)
    folder = _folder(offered_by(queries.files(job)))
    with writing():
        if queries.shop() is not None:
            raise NotAllowed(_BEGUN)
        return take_in(folder, by, at)


class Known:
    """An engine that the shop has had before: its newest job, and how that left it."""

    def __init__(self, job: models.Job) -> None:
        judged = queries.judged(job)
        self.job = job
        self.engine = engine_left(judged.facts, judged.state)
        self.is_open = not judged.state.put_away
        self.signed = bool(judged.signed)
        self.done = last_done(judged.state)
        # The newest picture of the whole engine, which says more than its serial.
        own = [one.fields.photo for one in photos_in(judged.state.live()) if not one.item]
        self.photo = own[-1] if own else ""

    @property
    def serial(self) -> str:
        return str(self.engine.get("serial", ""))

    @property
    def title(self) -> str:
        return " ".join(p for p in (str(self.engine.get("engine", "")), self.serial) if p)


def engines_known(person: str) -> list[Known]:
    """Every engine with a serial that has been here, the one that came last first; demos left out."""
    found: dict[str, Known] = {}
    for job in queries.readable(queries.jobs(person=person, put_away=None)):
        serial = queries.engine_serial(job).strip()
        if serial and serial not in found and not queries.is_demo(job):
            found[serial] = Known(job)
    return list(found.values())


def begin_job(
    *,
    engine: Mapping[str, Any],
    inspect: Sequence[str],
    left_out: Sequence[str] = (),
    layout: str = "",
    last: Known | None = None,
    by: str,
    at: datetime,
    day: date,
) -> models.Job:
    """Begin a job on an engine, with a copy of what the shop has on file.

    ``engine`` are the keys of the engine's file; ``layout`` the text of a layout of its own, where
    it has none of the shipped ones. ``last`` is the engine as the shop knows it; ``left_out`` are the
    tasks that are no part of the job.

    Raises
    ------
    BadInput, NotAllowed
        One sentence; no job is begun then.
    """
    shop = queries.shop_for(by)
    if shop is None:
        raise NotAllowed(
            "Only people of the shop begin a job. Whoever keeps it puts you on its list."
        )
    check_can_write(queries.facts(shop).people.get(by))
    serial = str(engine.get("serial", "")).strip()
    if is_blank(serial):
        raise BadInput("Write the engine's serial, from its data plate.", "serial")
    unknown = [kind for kind in inspect if kind not in check_sheets()]
    if unknown:
        raise BadInput(f'There is no check sheet for "{unknown[0]}".', "purpose")
    with writing():
        _check_not_open(serial, by)
        taken = models.Job.objects.values_list("slug", flat=True)
        files = job_files(
            queries.files(shop),
            {**engine, "serial": serial, "inspect": list(inspect), "left_out": list(left_out)},
            name=job_name(serial, day, set(taken)),
            layout=layout,
            last=queries.files(last.job) if last is not None else MappingProxyType({}),
            done=last.done if last is not None else MappingProxyType({}),
        )
        held = take_in(_folder(files), by, at, begun=True)
        found_out = _found_out(held, by, at)
        if found_out:
            append_rows(held, held, found_out, at, of_the_shop=True)
    return held


def _found_out(held: models.Job, by: str, at: datetime) -> list[Entry]:
    """What other jobs know of the meters that this one has taken along: it is one meter in all."""
    facts = queries.facts(held)
    told: dict[str, Entry] = {}
    for job in queries.readable(queries.jobs(person=by, put_away=None)):
        if job.pk == held.pk or queries.is_demo(job):
            continue
        for meter, found in queries.judged(job).state.found_out.items():
            last = found[-1]
            if last.right is None and meter in facts.meters and meter not in told:
                author = last.entry.by if last.entry.by in facts.people else by
                local = at.astimezone(ZoneInfo(facts.timezone_name)).replace(microsecond=0)
                # Written in another zone its day may be tomorrow's here.
                on = min(last.found_on, local.date())
                data = {**last.entry.data, "on": on.isoformat()}
                told[meter] = new_entry("found_out", at=local, by=author, **data)
    return list(told.values())


def _plain(serial: str) -> str:
    """A serial as it is compared: by its letters and figures alone."""
    return "".join(one for one in serial.casefold() if one.isalnum())


def _check_not_open(serial: str, person: str) -> None:
    """One engine is on one stand: it has one job on the board."""
    for job in queries.readable(queries.jobs(put_away=None)):
        facts = queries.facts(job)
        known = queries.engine_serial(job).strip()
        if _plain(known) != _plain(serial) or queries.is_demo(job):
            continue
        if known.casefold() != serial.casefold():
            raise BadInput(
                f"{known} has been here before. If it is this engine, take it from the list of engines, "
                "so that its history goes on; its serial is written one way only.",
                "serial",
            )
        if job.put_away or queries.judged(job).signed:
            continue
        if person in facts.people:
            raise BadInput(
                f"{serial} is on the board already, as {facts.title}. Go on with that job, or take it "
                "off the board first.",
                "serial",
            )
        raise BadInput(
            f"{serial} is on the board already, in a job that you are not on the list of. Whoever "
            "keeps the shop puts you on it.",
            "serial",
        )


def bring_in(*, folder: JobFolder, by: str, at: datetime) -> models.Job:
    """Take in a job that was kept elsewhere: one's own, or that of another shop with its people.

    Raises
    ------
    BadInput, NotAllowed
        One sentence; nothing is taken in then.
    """
    shop = queries.shop_for(by)
    if shop is None:
        raise NotAllowed("A job is brought in by people of the shop.")
    own = queries.facts(shop).people[by]
    theirs = folder.facts.people.get(by)
    if theirs is not None and theirs.name == own.name:
        return services.load_folder(folder=folder, by=by, at=at)
    check_keeps_shop(by, "bring in the job of another shop", queries.facts(shop))
    if not folder.entries or not (
        folder.facts.as_filed and all(e.is_sealed for e in folder.entries)
    ):
        raise BadInput(
            "This job is another shop's, and something in it was changed after it was kept. Ask them for "
            "the job as they keep it."
        )
    people = _with_ours(folder.files[PEOPLE], queries.files(shop)[PEOPLE])
    with photos.laid_ready(photos_to_keep(folder)) as put_in_place, writing():
        if models.Job.objects.filter(slug=folder.name).exists():
            raise BadInput(f"{folder.name} is here already.")
        held = take_in(folder, folder.entries[-1].by, at)
        entry = filed_entries(PEOPLE, people, by, at, held.head_seq)
        append_rows(held, held, [entry], at, of_the_shop=True)
        put_in_place()
    return held


def _with_ours(theirs: str, ours: str) -> str:
    """The list of people of another shop's job, with those of this shop who now go on with it."""
    kind = THINGS["person"]
    known, text = things_in(theirs, kind), theirs
    for key, person in things_in(ours, kind).items():
        if key in known and known[key].get("name") != person.get("name"):
            raise BadInput(
                f'"{key}" is {known[key].get("name")} in that job and {person.get("name")} here, and '
                "entries carry that short name. It can be looked at with its folder alone."
            )
        text = put(text, kind, key, person)
    return text


def _folder(files: Mapping[str, str]) -> JobFolder:
    """Files that were made here, read as any others are."""
    facts = parse_files(files)
    check_facts(facts)
    return JobFolder(facts.job, dict(files), (), facts, {}, ())
