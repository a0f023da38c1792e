"""How entries, files, people and photos come to lie in the tables."""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from django.contrib.auth import get_user_model

from rehang.book import accesslog, ends, members, models, photos, queries
from rehang.decode.apart import check_kept, read_pdf
from rehang.sheets.folder import FACT_FILES, PEOPLE, PHOTOS, JobFolder, check_facts, texts_at
from rehang.trade.doors.rules import (
    check_book,
    check_can_append,
    check_can_write,
    check_clock,
    check_none_lost,
    check_typed,
)
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.gate.powers import check_keeps_shop, need_of
from rehang.trade.known.photos import files_in, is_pdf_name
from rehang.trade.known.state import JobState
from rehang.trade.terms.bounds import check_fits
from rehang.trade.terms.chain import GENESIS, seal, seal_hash
from rehang.trade.terms.ends import End
from rehang.trade.terms.entries import Entry, canonical, entry_from, is_a
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.terms.kinds.decisions import CallMade, Struck
from rehang.trade.terms.kinds.papers import Filed
from rehang.trade.terms.kinds.readings import Pictured, ReadingTaken
from rehang.trade.verdicts.folding import fold_job

__all__ = [
    "MOST_AT_ONCE",
    "PIN_NOW",
    "Appended",
    "append_rows",
    "chain_problems_of",
    "check_entry_fits",
    "check_settles_nothing",
    "copy_head",
    "filed_entries",
    "files_again",
    "fold_of",
    "index_again",
    "keep_rows",
    "locked_job",
    "log",
    "not_yet_kept",
    "people_again",
    "photos_to_keep",
    "take_in",
]

log = logging.getLogger("rehang.book")

PIN_NOW = "the PIN or password of who does it, typed at that moment"

# A whole day's out-tray of a phone. The write lock is held while they are checked.
MOST_AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class Appended:
    """What an append kept: the sealed entries, and the ids that stood in the book already."""

    entries: tuple[Entry, ...]
    repeated: tuple[str, ...]


def check_settles_nothing(entries: Sequence[Entry], held: models.Job) -> None:
    """What settles something is kept only of a person who has just confirmed who they are."""
    state = queries.state(held)
    for entry in entries:
        # Sent again it is kept already and settles nothing more.
        need = need_of(entry, state) if entry.id not in state.entries else None
        if need is not None:
            raise NotAllowed(f"To {need.act} asks for {PIN_NOW}.")


# Below this line the caller holds the transaction.


def locked_job(job: models.Job) -> models.Job:
    """The job as it stands now, held against other writers until the transaction ends."""
    return models.Job.objects.select_for_update().get(pk=job.pk)


def append_rows(
    held: models.Job,
    given: models.Job,
    entries: Sequence[Entry],
    at: datetime,
    *,
    of_the_shop: bool = False,
) -> Appended:
    """Check, seal and store entries. Of what is filed ``of_the_shop`` the caller knows who may file it."""
    book = queries.entries(held)
    known = {entry.id: entry for entry in book}
    new: list[Entry] = []
    kept: list[Entry] = []
    repeated: list[str] = []
    for entry in entries:
        stored = known.get(entry.id)
        if stored is None:
            known[entry.id] = entry
            new.append(entry)
        # DESIGN 1: a phone may send it twice.
        elif stored.content() == entry.content():
            repeated.append(entry.id)
        else:
            raise NotAllowed(
                f"The id {entry.id} stands in the book already with other content. "
                "Give this entry an id of its own."
            )
    facts = queries.facts(held)
    for entry in new if not of_the_shop else ():
        # By the list that stands: nobody writes themselves in with the sheet they file.
        check_can_write(facts.people.get(entry.by))
        if is_a(entry, Filed) and not entry.is_sealed:
            check_keeps_shop(entry.by, f"file {entry.fields.file}", facts)
    if new:
        check_clock(at, book, new)
        where = {e.id: f"entry {n}" for n, e in enumerate(new, start=1)} if len(new) > 1 else {}
        # Sealed before they are checked: the state that the check gives is then the one to keep.
        kept = sealed_after(held, new, at, where)
        folded = queries.state(held)
        for start, end in _stretches(kept):
            before = (*book, *kept[:start])
            if is_a(kept[start], Filed):
                whole = (*before, *kept[start:end])
                facts = _facts_with(facts, texts_at(whole), whole)
                before_it = folded
                check_facts(facts, [e.fields.file for e in kept[start:end] if is_a(e, Filed)])
                folded = fold_of(before, facts)
                check_none_lost(before_it, folded)
            folded = _checked(kept[start:end], before, facts, folded, at, where)
        keep_rows(held, kept, folded, facts, new[0].by, at)
    copy_head(held, given)
    return Appended(tuple(kept), tuple(repeated))


def _checked(
    new: Sequence[Entry],
    book: Sequence[Entry],
    facts: JobFacts,
    folded: JobState,
    at: datetime,
    where: Mapping[str, str],
) -> JobState:
    """The trade's rules; of several entries, the sentence says which one it is about."""
    try:
        return check_can_append(new, book, facts, at=at, state=folded)
    except BadInput as refusal:
        if refusal.where or not where:
            raise
        # Only when one is refused: the first that cannot follow those before it.
        for number, entry in enumerate(new, start=1):
            try:
                check_can_append(new[:number], book, facts, at=at, state=folded)
            except BadInput as first:
                raise BadInput(first.sentence, where[entry.id]) from None
        raise


def _stretches(new: Sequence[Entry]) -> list[tuple[int, int]]:
    """Runs of entries that can be checked in one go.

    What speaks of an earlier entry begins a new run, so that the entry it speaks of may have
    come with it.
    """
    starts = [n for n, e in enumerate(new) if n == 0 or is_a(e, Struck, CallMade, Filed)]
    return list(zip(starts, [*starts[1:], len(new)], strict=True))


def _facts_with(old: JobFacts, texts: Mapping[str, str], book: Sequence[Entry]) -> JobFacts:
    """The facts with a new text in them; the book must still be readable by them."""
    facts = queries.facts_of(texts, old.job)
    if facts.job != old.job:
        raise NotAllowed(
            f'The job of this book is "{old.job}"; its files say "{facts.job}". '
            "A book does not change its job."
        )
    _check_nobody_is_left_out(old, facts, book)
    return facts


def _check_nobody_is_left_out(old: JobFacts, facts: JobFacts, book: Sequence[Entry]) -> None:
    for entry in book:
        # An entry whose author is on no list would stand in nobody's name.
        if entry.by in old.people and entry.by not in facts.people:
            raise NotAllowed(
                f'The list of people leaves out "{entry.by}", who has written in this book. '
                "Keep the person in the list."
            )


def sealed_after(
    held: models.Job, entries: Sequence[Entry], at: datetime, where: Mapping[str, str]
) -> list[Entry]:
    """The entries as the next links of the chain; those with a seal keep it, if it fits."""
    prev, seq = held.head_hash, held.head_seq
    kept: list[Entry] = []
    for given in entries:
        entry, seq = given, seq + 1
        if entry.is_sealed:
            assert entry.kept is not None
            true_hash = seal_hash(entry, seq=seq, kept=entry.kept, prev=prev)
            if (entry.seq, entry.prev, entry.hash) != (seq, prev, true_hash):
                raise BadInput(
                    "The seal of this entry does not match the book. Copy the folder again.",
                    where.get(entry.id, ""),
                )
        else:
            # In UTC: when it was kept goes by no shop's summer time.
            entry = seal(entry, seq=seq, kept=at.astimezone(UTC), prev=prev)
        prev = entry.hash
        kept.append(entry)
    return kept


def keep_rows(
    held: models.Job,
    kept: Sequence[Entry],
    folded: JobState,
    facts: JobFacts,
    by: str,
    at: datetime,
) -> None:
    """Store sealed entries and all that is worked out from them. ``folded`` has them in it."""
    whole = (*queries.entries(held), *kept)
    models.Entry.objects.bulk_create([row_of(held, entry) for entry in kept])
    if kept:
        held.head_seq, held.head_hash = kept[-1].seq, kept[-1].hash
        ends.note(held.slug, End(held.head_seq, held.head_hash))
    if any(is_a(entry, Filed) for entry in kept):
        # Another sheet may understand a reading otherwise: the whole index is written again.
        index_again(held, folded, facts)
        files_again(held, whole)
        people_again(held, facts, whole, by, at)
    else:
        models.Reading.objects.bulk_create(
            queries.index_row(held.pk, entry, facts, struck=entry.id in folded.struck)
            for entry in kept
            if is_a(entry, ReadingTaken)
        )
        struck = [
            models.entry_key(held.pk, folded.entries[entry.fields.entry].seq)
            for entry in kept
            # One that may not strike strikes nothing.
            if is_a(entry, Struck) and entry.fields.entry in folded.struck
        ]
        if struck:
            models.Reading.objects.filter(pk__in=struck).update(struck=True)
    held.title = facts.title
    held.put_away = folded.put_away
    held.save(update_fields=["title", "put_away", "head_seq", "head_hash"])
    queries.keep_book(held, whole, folded, at)


def row_of(held: models.Job, entry: Entry) -> models.Entry:
    assert entry.kept is not None
    content = entry.content()
    return models.Entry(
        id=models.entry_key(held.pk, entry.seq),
        job=held,
        seq=entry.seq,
        entry_id=entry.id,
        kind=entry.kind,
        item=entry.item,
        at=entry.at.isoformat(),
        kept_at=entry.kept.isoformat(),
        by=entry.by,
        body=canonical(content),
        prev=entry.prev,
        hash=entry.hash,
    )


def fold_of(
    book: Sequence[Entry],
    facts: JobFacts,
    where: Mapping[str, str] | None = None,
    clock: datetime | None = None,
) -> JobState:
    return fold_job(facts, book, where=where, clock=clock)


def index_again(held: models.Job, folded: JobState, facts: JobFacts) -> None:
    models.Reading.objects.filter(job=held).delete()
    models.Reading.objects.bulk_create(queries.index_rows(held.pk, folded, facts))


def files_again(held: models.Job, book: Sequence[Entry]) -> None:
    """Bring the file table up to the book. Its rows are only added to, so what is there stays."""
    stored = set(models.JobFile.objects.filter(job=held).values_list("name", "revision"))
    models.JobFile.objects.bulk_create(
        models.JobFile(
            job=held,
            name=one.name,
            revision=one.revision,
            text=one.text,
            sha256=one.sha256,
            by=one.by,
            at=one.at,
        )
        for one in queries.filed_in(book)
        if (one.name, one.revision) not in stored
    )


def people_again(
    held: models.Job, facts: JobFacts, book: Sequence[Entry], by: str, at: datetime
) -> None:
    """Bring the links of a job up to its list of people, and the access log up to both."""
    held.people.set([_member(one.key, one.name, by, at) for one in facts.people.values()])
    filed = [one for one in queries.filed_in(book) if one.name == PEOPLE]
    if filed and accesslog.people_given(held.slug) != filed[-1].sha256:
        accesslog.write(
            what="people_filed",
            about=held.slug,
            by=by,
            at=at,
            sha256=filed[-1].sha256,
            created_at=held.created_at.astimezone(UTC).isoformat(),
        )


def _member(key: str, name: str, by: str, at: datetime) -> models.Member:
    """The member of that key; made, with no password yet, when a job names them first."""
    found = models.Member.objects.filter(key=key).first()
    if found is not None:
        # Entries carry the key alone, so it is one person on the whole board.
        if found.name != name:
            raise NotAllowed(
                f'"{key}" is {found.name} on this board and {name} in this list of people. '
                "Give one of them another key."
            )
        return found
    user = get_user_model().objects.create_user(username=key)
    made = models.Member.objects.create(user=user, key=key, name=name)
    accesslog.write(what="joined", about=key, by=by, at=at)
    return made


def copy_head(held: models.Job, given: models.Job) -> None:
    """The caller's copy of the job follows the book, so that its next question is answered anew."""
    for name in ("title", "put_away", "head_seq", "head_hash"):
        setattr(given, name, getattr(held, name))


def chain_problems_of(held: models.Job) -> list[str]:
    from rehang.book import verifying

    return verifying.entry_problems(held)


def not_yet_kept(held: models.Job, folder: JobFolder) -> list[Entry]:
    """The entries of a folder that the stored book does not have, or a refusal."""
    stored = {entry.id: entry for entry in queries.entries(held)}
    new = []
    for entry in folder.entries:
        kept = stored.get(entry.id)
        if kept is None:
            # Sealed at a number where this book has another: the two have gone apart.
            if entry.is_sealed and entry.seq <= held.head_seq:
                raise NotAllowed(
                    f"{folder.name} is on this board already, and its book and the folder's part "
                    f"at entry {entry.seq}. Load the folder under another job name."
                )
            new.append(entry)
        elif kept.content() != entry.content() or (entry.is_sealed and kept.hash != entry.hash):
            raise NotAllowed(
                f"{folder.name} is on this board already, and entry {kept.seq} of its book is "
                f"not the one in the folder (id {entry.id}). Load the folder under another job name."
            )
    return new


def photos_to_keep(folder: JobFolder) -> dict[str, bytes]:
    """The photos of a folder that this machine lacks; one that neither has is refused."""
    found: dict[str, bytes] = {}
    for kept in files_in(folder.entries):
        name, entry = kept.name, kept.entry
        if name in found or photos.is_kept(name):
            continue
        where = folder.where.get(entry.id, "") or f"entry {entry.id}"
        if name not in folder.photos:
            raise BadInput(
                f"The {kept.kind} {PHOTOS}/{name} is not in the folder. Copy it from where the folder "
                "came from.",
                where,
            )
        data = folder.photos[name]
        if hashlib.sha256(data).hexdigest() != kept.sha256:
            raise BadInput(
                f"The {kept.kind} {PHOTOS}/{name} has been changed since it was kept. Copy it again "
                "from where the folder came from.",
                where,
            )
        if is_a(entry, Pictured) and is_pdf_name(name):
            _check_as_said(entry.fields, data, f"{where}, {PHOTOS}/{name}")
        elif is_a(entry, Pictured):
            check_kept(data, f"{where}, {PHOTOS}/{name}")
        found[name] = data
    return found


def _check_as_said(said: Pictured, data: bytes, where: str) -> None:
    """Whether a PDF can be opened and is as long as its entry says."""
    pages = read_pdf(data, where).pages
    if (pages, len(data)) != (said.pages, said.size):
        raise BadInput(
            f"The PDF has {pages:,} pages and {len(data):,} bytes, and the book says {said.pages:,} and "
            f"{said.size:,}. Go back to a good copy of the folder.",
            where,
        )


def filed_entries(name: str, text: str, by: str, at: datetime, after: int) -> Entry:
    """The entry that files a text behind so many others: a text that is filed, left and filed
    again at one instant is three entries, so its place tells its id.
    """
    if name not in FACT_FILES:
        raise BadInput(f'"{name}" is not a file of a job. They are {", ".join(FACT_FILES)}.')
    try:
        digest = hashlib.sha256(text.encode()).hexdigest()
    except UnicodeEncodeError:
        raise BadInput("The text has half a character in it. Type it again.", name) from None
    raw = {
        "kind": "filed",
        "at": at.isoformat(),
        "by": by,
        "file": name,
        "sha256": digest,
        "text": text,
    }
    own_id = hashlib.sha256(canonical(raw | {"after": after}).encode()).hexdigest()[:32]
    return entry_from(raw | {"id": f"filed-{own_id}"})


def check_entry_fits(entry: Entry, where: Mapping[str, str]) -> None:
    """What the store cannot hold exactly is refused, sealed or not, before anything is written."""
    try:
        check_fits(entry)
    except BadInput as refusal:
        raise BadInput(refusal.sentence, where.get(entry.id, "")) from None


def take_in(
    folder: JobFolder, by: str, at: datetime, *, agreed: bool = False, begun: bool = False
) -> models.Job:
    """A folder into the store, all but its photos (:func:`rehang.book.services.load_folder`).

    A job that is ``begun`` has copied the shop's own facts: whoever may write may begin it.
    """
    if by not in folder.facts.people:
        raise NotAllowed(
            f'"{by}" is not in the list of people. '
            f"Say who loads the folder: {', '.join(folder.facts.people)}."
        )
    check_can_write(folder.facts.people[by])
    members.check_has_access(by)
    for entry in folder.entries:
        check_entry_fits(entry, folder.where)
    held = models.Job.objects.select_for_update().filter(slug=folder.name).first()
    lost = queries.load_changes(folder).lost
    if lost and not agreed:
        raise NotAllowed(
            f"{folder.name} is on this board with facts that this folder would take away: "
            f"{'; '.join(lost)}. Nothing has been loaded. If they are meant to go, add --yes; if "
            "the folder is an old one, save the job to it first."
        )
    if held is None:
        held = models.Job.objects.create(
            slug=folder.name,
            title=folder.facts.title,
            is_shop=folder.facts.is_shop,
            head_hash=GENESIS,
            created_at=at,
        )
    new = not_yet_kept(held, folder)
    book = (*queries.entries(held), *new)
    texts = texts_at(book)
    gone = sorted(set(texts) - set(folder.files))
    if gone:
        raise BadInput(
            f"{', '.join(gone)} is filed in the book and is not in the folder. "
            "If the folder was half copied, copy it again.",
            folder.name,
        )
    filed = [
        filed_entries(name, text, by, at, len(book))
        for name, text in folder.files.items()
        if texts.get(name) != text
    ]
    if filed and not begun:
        # By the list that stands; a new job brings its own.
        check_keeps_shop(
            by, "file what the folder brings", queries.facts(held) if texts else folder.facts
        )
    kept = sealed_after(held, [*new, *filed], at, folder.where)
    check_typed(folder.facts, (*queries.entries(held), *new), folder.where, at)
    book = queries.entries(held)
    folded = fold_of((*book, *kept), folder.facts, folder.where, at)
    check_book(folder.facts, folded)
    keep_rows(held, kept, folded, folder.facts, by, at)
    return held
