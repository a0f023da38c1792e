"""The only writers of the tables. Each says who acts (``by``, a person's key) and when (``at``).

``at`` is when the book keeps what is written; when it happened stands in the entry itself.
"""

from __future__ import annotations

import hashlib
import logging
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.auth import get_user_model

from rehang.book import accesslog, ends, members, models, photos, pins, queries
from rehang.book.writing import writing
from rehang.decode.apart import check_kept, made_fit
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
from rehang.trade.gate.powers import check_keeps_shop, need_of, paper_to_sign
from rehang.trade.known.photos import check_can_picture, check_scale_note, photos_in
from rehang.trade.known.state import JobState
from rehang.trade.papers.signing import sha256_of
from rehang.trade.terms.bounds import check_fits
from rehang.trade.terms.ends import End
from rehang.trade.terms.entries import (
    GENESIS,
    Entry,
    canonical,
    entry_from,
    new_entry,
    seal,
    seal_hash,
)
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.verdicts.folding import fold_job

__all__ = [
    "MOST_AT_ONCE",
    "Appended",
    "add_photo",
    "append",
    "file_text",
    "load_folder",
    "rebuild",
    "set_password",
    "sign",
    "strike",
    "write",
]

log = logging.getLogger("rehang.book")

PIN_NOW = "the PIN or password of who does it, typed at that moment"
# A whole day's out-tray of a phone. The write lock is held while they are checked.
MOST_AT_ONCE = 500
# A large picture takes some hundred megabytes while it is unpacked.
_ONE_PICTURE_AT_A_TIME = threading.Lock()


@dataclass(frozen=True, slots=True)
class Appended:
    """What an append kept: the sealed entries, and the ids that stood in the book already."""

    entries: tuple[Entry, ...]
    repeated: tuple[str, ...]


def append(
    *, job: models.Job, entries: Sequence[Entry], by: str, at: datetime, confirmed: str = ""
) -> Appended:
    """Add entries to the end of a book: all of them, on the disk, or none of them.

    An entry that stands in the book already with the same content is not kept twice. ``confirmed``
    is the key of the person who has just shown with their own PIN or password who they are; what
    settles something is kept of nobody else (DESIGN 4b, 2).

    Raises
    ------
    BadInput, NotAllowed
        One sentence for the first thing that cannot be kept; nothing has been kept then.
    """
    if len(entries) > MOST_AT_ONCE:
        raise BadInput(
            f"{len(entries):,} entries came at once. Send at most {MOST_AT_ONCE} at a time."
        )
    for entry in entries:
        if entry.by != by:
            raise NotAllowed(
                f'The entry says it is by "{entry.by}", but "{by}" is signed in. '
                "Each person writes their own entries."
            )
        if entry.is_sealed:
            raise NotAllowed("The entry carries a seal already. Send it without.")
        if entry.kind == "filed":
            raise NotAllowed("A sheet is filed on its own page, not sent as an entry.")
        if entry.kind == "signed":
            raise NotAllowed("A record is signed on its own page, with the signer's own PIN.")
        if entry.kind == "pictured":
            raise NotAllowed("A photo is added with its picture, on a page of the job.")
    with writing():
        held = _locked(job)
        members.check_has_access(by)
        if confirmed != by:
            _check_settles_nothing(entries, held)
        return _append(held, job, entries, at)


def write(
    *,
    job: models.Job,
    kind: str,
    data: Mapping[str, Any],
    by: str,
    at: datetime,
    confirmed: str = "",
) -> Appended:
    """Append one entry of something that happens now; ``data`` holds the fields of its kind."""
    entry = new_entry(kind, at=at, by=by, **data)
    return append(job=job, entries=[entry], by=by, at=at, confirmed=confirmed)


def strike(
    *, job: models.Job, entry_id: str, reason: str, by: str, at: datetime, confirmed: str = ""
) -> Appended:
    """Strike an entry out. The entry stays: the book is only ever added to."""
    if not reason.strip():
        raise BadInput("Striking an entry takes a reason. Write it.", "reason")
    data = {"entry": entry_id, "reason": reason.strip()}
    return write(job=job, kind="struck", data=data, by=by, at=at, confirmed=confirmed)


def sign(
    *,
    job: models.Job,
    what: str,
    text: str,
    certificate: str = "",
    head: str,
    statement: str = "",
    entry_id: str = "",
    by: str,
    at: datetime,
    confirmed: str,
) -> Appended:
    """Keep a person's signature on a record: the text they read, at the head that they read it.

    ``by`` signs for themselves and has confirmed it with their own PIN or password. Name, number
    and kind are those of their paper on file; ``certificate`` is its number where several give it.

    Raises
    ------
    BadInput, NotAllowed
        It was not confirmed; they have no such paper; or what
        :func:`rehang.trade.papers.signing.check_can_sign` says. Nothing is kept then.
    """
    facts = queries.facts(job)
    check_can_write(facts.people.get(by))
    if confirmed != by:
        raise NotAllowed(f"A signature asks for {PIN_NOW}.")
    local = at.astimezone(ZoneInfo(facts.timezone_name)).replace(microsecond=0)
    paper = paper_to_sign(by, what, local.date(), facts, certificate)
    entry = new_entry(
        "signed",
        at=local,
        by=by,
        id=entry_id,
        what=what,
        text=text,
        sha256=sha256_of(text),
        name=facts.people[by].name,
        certificate=paper.number,
        certificate_kind=paper.kind,
        statement=statement,
        head=head,
    )
    with writing():
        return _append(_locked(job), job, [entry], at)


def file_text(*, job: models.Job, name: str, text: str, by: str, at: datetime) -> Appended:
    """File a new text of one of a job's files, when it can be read and the book agrees with it.

    The same text as on file is not filed twice.
    """
    with writing():
        held = _locked(job)
        members.check_has_access(by)
        facts = queries.facts(held)
        check_can_write(facts.people.get(by))
        check_keeps_shop(by, f"file {name}", facts)
        entry = _filed(name, text, by, at, held.head_seq)
        if queries.files(held).get(name) == text:
            return Appended((), ())
        return _append(held, job, [entry], at)


def add_photo(
    *,
    job: models.Job,
    data: bytes,
    item: str = "",
    entry: str = "",
    scale_note: str = "",
    entry_id: str = "",
    by: str,
    at: datetime,
) -> Appended:
    """Add a photo of an item, of one entry about it, or of the whole job: file and entry, or neither.

    ``data`` are the bytes as the camera gave them; what is kept is a smaller JPEG with nothing
    but its pixels. The same photo sent again under the same ``entry_id`` is kept once.

    Raises
    ------
    BadInput, NotAllowed
        One sentence: the picture cannot be read, or the entry cannot be kept. Nothing is kept.
    """
    check_can_write(queries.facts(job).people.get(by))
    check_scale_note(scale_note.strip())
    with _ONE_PICTURE_AT_A_TIME:
        made = made_fit(data)
    with photos.laid_ready({made.name: made.data}) as put_in_place:
        with writing():
            held = _locked(job)
            known = queries.state(held)
            sent_before = known.entries.get(entry_id)
            new = new_entry(
                "pictured",
                # Sent again, it is the same entry and not one of another minute.
                at=sent_before.at if sent_before else at,
                by=by,
                id=entry_id,
                photo=made.name,
                sha256=made.sha256,
                item=(
                    item or sent_before.item
                    if sent_before
                    else check_can_picture(item, entry, known)
                ),
                entry=entry,
                scale_note=scale_note.strip(),
                width=made.width,
                height=made.height,
            )
            done = _append(held, held, [new], at)
            # Before the commit: no entry stands without its file.
            put_in_place()
        _copy_head(held, job)
    return done


def load_folder(*, folder: JobFolder, by: str, at: datetime, agreed: bool = False) -> models.Job:
    """Take a job folder into the store: as a new job, or as what has been added to one.

    Facts that the folder leaves out, or takes back to a text that was filed before, are lost only
    when that is ``agreed``. No entry ever is.

    Entries that are sealed keep their seals. Files whose text differs from the one last filed
    are filed by ``by``. A folder that has gone another way than the stored book is refused.
    """
    if by not in folder.facts.people:
        raise NotAllowed(
            f'"{by}" is not in people.toml. '
            f"Say who loads the folder: {', '.join(folder.facts.people)}."
        )
    check_can_write(folder.facts.people[by])
    members.check_has_access(by)
    for entry in folder.entries:
        _check_fits(entry, folder.where)
    with photos.laid_ready(_photos_to_keep(folder)) as put_in_place, writing():
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
                head_hash=GENESIS,
                created_at=at,
            )
        new = _not_yet_kept(held, folder)
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
            _filed(name, text, by, at, len(book))
            for name, text in folder.files.items()
            if texts.get(name) != text
        ]
        if filed:
            # By the list that stands; a new job brings its own.
            check_keeps_shop(
                by, "file what the folder brings", queries.facts(held) if texts else folder.facts
            )
        kept = _sealed_after(held, [*new, *filed], at, folder.where)
        check_typed(folder.facts, (*queries.entries(held), *new), folder.where, at)
        book = queries.entries(held)
        folded = _folded((*book, *kept), folder.facts, folder.where, at)
        check_book(folder.facts, folded)
        _keep(held, kept, folded, folder.facts, by, at)
        put_in_place()
    return held


def rebuild(*, by: str, at: datetime, job: models.Job | None = None) -> list[str]:
    """Write every table that is worked out from entries again, for one job or for all.

    Returns a line for each job. The chain is checked first: a changed book is left alone.
    """
    chosen = [job] if job is not None else queries.jobs(put_away=None)
    done = []
    for one in chosen:
        with writing():
            held = _locked(one)
            problems = _chain_problems(held)
            if problems:
                raise NotAllowed(f"{held.slug}: {problems[0]} Nothing has been rebuilt from it.")
            queries.forget()
            book = queries.entries(held)
            facts = queries.facts(held)
            folded = _folded(book, facts)
            _index_again(held, folded, facts)
            _files_again(held, book)
            _people_again(held, facts, book, by, at)
            held.title, held.put_away = facts.title, folded.put_away
            held.save(update_fields=["title", "put_away"])
            number = models.Reading.objects.filter(job=held).count()
        _copy_head(held, one)
        done.append(f"{held.slug}: {held.head_seq:,} entries, {number:,} readings in the index.")
    log.info("rebuilt by %s at %s: %s", by, at.isoformat(), " ".join(done))
    return done


def set_password(*, person: str, password: str, by: str, at: datetime) -> None:
    """Set a person's own password."""
    if person != by:
        raise NotAllowed("Each person sets their own password.")
    member = members.member(person)
    pins.check_password_good(member, password, "password")
    # Hashed first: nobody waits for a hash to write in a book.
    member.user.set_password(password)
    with writing():
        member.user.save(update_fields=["password"])
        accesslog.write(what="password_set", about=person, by=by, at=at)
    log.info("password of %s set at %s", person, at.isoformat())


def _check_settles_nothing(entries: Sequence[Entry], held: models.Job) -> None:
    """What settles something is kept only of a person who has just confirmed who they are."""
    state = queries.state(held)
    for entry in entries:
        need = need_of(entry, state) if entry.id not in state.entries else None
        if need is not None:
            raise NotAllowed(f"To {need.act} asks for {PIN_NOW}.")


# Below this line the caller holds the transaction.


def _locked(job: models.Job) -> models.Job:
    """The job as it stands now, held against other writers until the transaction ends."""
    return models.Job.objects.select_for_update().get(pk=job.pk)


def _append(
    held: models.Job, given: models.Job, entries: Sequence[Entry], at: datetime
) -> Appended:
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
        elif stored.content() == entry.content():
            repeated.append(entry.id)
        else:
            raise NotAllowed(
                f"The id {entry.id} stands in the book already with other content. "
                "Give this entry an id of its own."
            )
    facts = queries.facts(held)
    for entry in new:
        # By the list that stands: nobody writes themselves in with the sheet they file.
        check_can_write(facts.people.get(entry.by))
        if entry.kind == "filed" and not entry.is_sealed:
            check_keeps_shop(entry.by, f"file {entry.data['file']}", facts)
    if new:
        check_clock(at, book, new)
        where = {e.id: f"entry {n}" for n, e in enumerate(new, start=1)} if len(new) > 1 else {}
        # Sealed before they are checked: the state that the check gives is then the one to keep.
        kept = _sealed_after(held, new, at, where)
        folded = queries.state(held)
        for start, end in _stretches(kept):
            before = (*book, *kept[:start])
            if kept[start].kind == "filed":
                whole = (*before, *kept[start:end])
                facts = _facts_with(facts, texts_at(whole), whole)
                before_it = folded
                check_facts(facts, [e.data["file"] for e in kept[start:end] if e.kind == "filed"])
                folded = _folded(before, facts)
                check_none_lost(before_it, folded)
            folded = _checked(kept[start:end], before, facts, folded, at, where)
        _keep(held, kept, folded, facts, new[0].by, at)
    _copy_head(held, given)
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
    starts = [n for n, e in enumerate(new) if n == 0 or e.kind in ("struck", "called", "filed")]
    return list(zip(starts, [*starts[1:], len(new)], strict=True))


def _facts_with(old: JobFacts, texts: Mapping[str, str], book: Sequence[Entry]) -> JobFacts:
    """The facts with a new text in them; the book must still be readable by them."""
    facts = queries.facts_of(texts, old.job)
    if facts.job != old.job:
        raise NotAllowed(
            f'The job of this book is "{old.job}"; engine.toml says "{facts.job}". '
            "A book does not change its job."
        )
    _check_nobody_is_left_out(old, facts, book)
    return facts


def _check_nobody_is_left_out(old: JobFacts, facts: JobFacts, book: Sequence[Entry]) -> None:
    for entry in book:
        if entry.by in old.people and entry.by not in facts.people:
            raise NotAllowed(
                f'people.toml leaves out "{entry.by}", who has written in this book. '
                "Keep the person in the list."
            )


def _sealed_after(
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
            entry = seal(entry, seq=seq, kept=at.astimezone(UTC), prev=prev)
        prev = entry.hash
        kept.append(entry)
    return kept


def _keep(
    held: models.Job,
    kept: Sequence[Entry],
    folded: JobState,
    facts: JobFacts,
    by: str,
    at: datetime,
) -> None:
    """Store sealed entries and all that is worked out from them. ``folded`` has them in it."""
    whole = (*queries.entries(held), *kept)
    models.Entry.objects.bulk_create([_row(held, entry) for entry in kept])
    if kept:
        held.head_seq, held.head_hash = kept[-1].seq, kept[-1].hash
        ends.note(held.slug, End(held.head_seq, held.head_hash))
    if any(entry.kind == "filed" for entry in kept):
        # Another sheet may understand a reading otherwise: the whole index is written again.
        _index_again(held, folded, facts)
        _files_again(held, whole)
        _people_again(held, facts, whole, by, at)
    else:
        models.Reading.objects.bulk_create(
            queries.index_row(held.pk, entry, facts, struck=entry.id in folded.struck)
            for entry in kept
            if entry.kind == "reading"
        )
        struck = [
            models.entry_key(held.pk, folded.entries[entry.data["entry"]].seq)
            for entry in kept
            # One that may not strike strikes nothing.
            if entry.kind == "struck" and entry.data["entry"] in folded.struck
        ]
        if struck:
            models.Reading.objects.filter(pk__in=struck).update(struck=True)
    held.title = facts.title
    held.put_away = folded.put_away
    held.save(update_fields=["title", "put_away", "head_seq", "head_hash"])
    queries.keep_book(held, whole, folded, at)


def _row(held: models.Job, entry: Entry) -> models.Entry:
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


def _folded(
    book: Sequence[Entry],
    facts: JobFacts,
    where: Mapping[str, str] | None = None,
    clock: datetime | None = None,
) -> JobState:
    return fold_job(facts, book, where=where, clock=clock)


def _index_again(held: models.Job, folded: JobState, facts: JobFacts) -> None:
    models.Reading.objects.filter(job=held).delete()
    models.Reading.objects.bulk_create(queries.index_rows(held.pk, folded, facts))


def _files_again(held: models.Job, book: Sequence[Entry]) -> None:
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


def _people_again(
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
        if found.name != name:
            raise NotAllowed(
                f'"{key}" is {found.name} on this board and {name} in people.toml. '
                "Give one of them another key."
            )
        return found
    user = get_user_model().objects.create_user(username=key)
    made = models.Member.objects.create(user=user, key=key, name=name)
    accesslog.write(what="joined", about=key, by=by, at=at)
    return made


def _copy_head(held: models.Job, given: models.Job) -> None:
    """The caller's copy of the job follows the book, so that its next question is answered anew."""
    for name in ("title", "put_away", "head_seq", "head_hash"):
        setattr(given, name, getattr(held, name))


def _chain_problems(held: models.Job) -> list[str]:
    from rehang.book import verifying

    return verifying.entry_problems(held)


def _not_yet_kept(held: models.Job, folder: JobFolder) -> list[Entry]:
    """The entries of a folder that the stored book does not have, or a refusal."""
    stored = {entry.id: entry for entry in queries.entries(held)}
    new = []
    for entry in folder.entries:
        kept = stored.get(entry.id)
        if kept is None:
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


def _photos_to_keep(folder: JobFolder) -> dict[str, bytes]:
    """The photos of a folder that this machine lacks; one that neither has is refused."""
    found: dict[str, bytes] = {}
    for entry in photos_in(folder.entries):
        name = str(entry.data["photo"])
        if name in found or photos.is_kept(name):
            continue
        where = folder.where.get(entry.id, "") or f"entry {entry.id}"
        if name not in folder.photos:
            raise BadInput(
                f"The photo {PHOTOS}/{name} is not in the folder. Copy it from where the folder "
                "came from.",
                where,
            )
        data = folder.photos[name]
        if hashlib.sha256(data).hexdigest() != entry.data["sha256"]:
            raise BadInput(
                f"The photo {PHOTOS}/{name} has been changed since it was kept. Copy it again "
                "from where the folder came from.",
                where,
            )
        check_kept(data, f"{where}, {PHOTOS}/{name}")
        found[name] = data
    return found


def _filed(name: str, text: str, by: str, at: datetime, after: int) -> Entry:
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


def _check_fits(entry: Entry, where: Mapping[str, str]) -> None:
    """What the store cannot hold exactly is refused, sealed or not, before anything is written."""
    try:
        check_fits(entry)
    except BadInput as refusal:
        raise BadInput(refusal.sentence, where.get(entry.id, "")) from None
