"""The only writers of the tables. Each says who acts (``by``, a person's key) and when (``at``).

``at`` is when the book keeps what is written; when it happened stands in the entry itself.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from rehang.book import accesslog, members, models, photos, pins, plugs_out, queries
from rehang.book.keeping import (
    MOST_AT_ONCE,
    PIN_NOW,
    Appended,
    append_rows,
    chain_problems_of,
    check_settles_nothing,
    copy_head,
    filed_entries,
    files_again,
    fold_of,
    index_again,
    locked_job,
    log,
    people_again,
    photos_to_keep,
    take_in,
)
from rehang.book.shop import pass_on, tell_others
from rehang.book.writing import writing
from rehang.decode import pdfs
from rehang.decode.apart import made_fit, read_flight, read_pdf
from rehang.decode.flights import plain_table
from rehang.decode.pdfs import KeptPdf
from rehang.decode.pictures import Picture, is_pdf
from rehang.sheets.folder import JobFolder
from rehang.trade.doors.rules import (
    check_can_write,
)
from rehang.trade.gate.powers import check_keeps_shop, paper_to_sign
from rehang.trade.known.photos import (
    check_can_picture,
    check_scale_note,
    of_a_paper,
    table_name,
)
from rehang.trade.papers.signing import sha256_of
from rehang.trade.terms.entries import Entry, is_a, new_entry
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.terms.kinds.monitor import MonitorRead
from rehang.trade.terms.kinds.papers import Filed, RecordSigned
from rehang.trade.terms.kinds.readings import Pictured

__all__ = [
    "MOST_AT_ONCE",
    "MOST_KEPT",
    "Appended",
    "add_monitor_table",
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

# A monitor's table that is kept as it came: three hours at a row a second are some 1.5 MB.
MOST_KEPT = 8_000_000
# A large picture takes some hundred megabytes while it is unpacked.
_ONE_PICTURE_AT_A_TIME = threading.Lock()


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
        # Sealed entries come with a folder, where the whole chain can be checked.
        if entry.is_sealed:
            raise NotAllowed("The entry carries a seal already. Send it without.")
        if is_a(entry, Filed):
            raise NotAllowed("A sheet is filed on its own page, not sent as an entry.")
        if is_a(entry, RecordSigned):
            raise NotAllowed("A record is signed on its own page, with the signer's own PIN.")
        if is_a(entry, Pictured):
            raise NotAllowed("A photo is added with its picture, on a page of the job.")
        if is_a(entry, MonitorRead):
            raise NotAllowed("An engine monitor's table is read on its own page, with its file.")
    with writing():
        held = locked_job(job)
        members.check_has_access(by)
        # DESIGN 4b, 2: one tap signs in to write readings, never to settle anything.
        if confirmed != by:
            check_settles_nothing(entries, held)
        plugs_out.check_comes_out(held, entries, by)
        done = append_rows(held, job, entries, at)
        tell_others(held, entries, by, at)
        return done


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
        raise BadInput("Striking a line takes a reason. Write it.", "reason")
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
    typed: str = "",
) -> Appended:
    """Keep a person's signature on a record: the text they read, at the head that they read it.

    ``by`` signs for themselves and has confirmed it with their own PIN or password. Name, number
    and kind are those of their paper on file; ``certificate`` is its number where several give it.
    ``typed`` says which of the two they typed.

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
    # In the shop's zone: the day that is signed is the one on its wall.
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
        **({"typed": typed} if typed else {}),
    )
    with writing():
        return append_rows(locked_job(job), job, [entry], at)


def file_text(*, job: models.Job, name: str, text: str, by: str, at: datetime) -> Appended:
    """File a new text of one of a job's files, when it can be read and the book agrees with it.

    The same text as on file is not filed twice. What the shop keeps too it is given as well.
    """
    with writing():
        held = locked_job(job)
        members.check_has_access(by)
        facts = queries.facts(held)
        check_can_write(facts.people.get(by))
        check_keeps_shop(by, f"file {name}", facts)
        entry = filed_entries(name, text, by, at, held.head_seq)
        before = queries.files(held)
        if before.get(name) == text:
            return Appended((), ())
        done = append_rows(held, job, [entry], at)
        pass_on(held, before, {**before, name: text}, by, at)
        return done


def add_photo(
    *,
    job: models.Job,
    data: bytes,
    item: str = "",
    entry: str = "",
    scale_note: str = "",
    entry_id: str = "",
    file_name: str = "",
    by: str,
    at: datetime,
) -> Appended:
    """Add a photo of an item, of one entry about it, or of the whole job: file and entry, or neither.

    ``data`` are the bytes as the camera gave them; what is kept is a smaller JPEG with nothing
    but its pixels. The same photo sent again under the same ``entry_id`` is kept once. A meter's
    certificate and a limit's page may be a PDF, which is kept as it came; ``file_name`` is what it
    was called.

    Raises
    ------
    BadInput, NotAllowed
        One sentence: the picture cannot be read, or the entry cannot be kept. Nothing is kept.
    """
    check_can_write(queries.facts(job).people.get(by))
    # Asked first: to unpack the picture costs the most.
    check_scale_note(scale_note.strip())
    made, fields = _made_to_keep(
        data, file_name, scale_note.strip(), may_be_pdf=of_a_paper(item) and not entry
    )
    with photos.laid_ready({made.name: made.data}) as put_in_place:
        with writing():
            held = locked_job(job)
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
                    else check_can_picture(item, entry, known, queries.facts(held))
                ),
                entry=entry,
                scale_note=scale_note.strip(),
                **fields,
            )
            done = append_rows(held, held, [new], at)
            # Before the commit: no entry stands without its file.
            put_in_place()
        copy_head(held, job)
    return done


def _made_to_keep(
    data: bytes, file_name: str, scale_note: str, *, may_be_pdf: bool
) -> tuple[Picture | KeptPdf, dict[str, int]]:
    """A photo made fit or a PDF as it came, and what its entry says of it."""
    if may_be_pdf:
        pdfs.check_name(file_name, data)
    with _ONE_PICTURE_AT_A_TIME:
        if may_be_pdf and is_pdf(data):
            if scale_note:
                raise BadInput("A PDF has no scale. Leave the scale empty.", "scale_note")
            pdf = read_pdf(data)
            return pdf, {"pages": pdf.pages, "size": len(data)}
        made = made_fit(data)
        return made, {"width": made.width, "height": made.height}


def add_monitor_table(
    *,
    job: models.Job,
    name: str,
    data: bytes,
    said: Mapping[str, Any],
    of: str,
    entry_id: str,
    by: str,
    at: datetime,
) -> Appended:
    """Read an engine monitor's table by what a person said of its columns, and keep what it says.

    ``said`` has columns, units and decimal, as the entry keeps them. The table itself is kept beside
    the photos where it is not larger than :data:`MOST_KEPT`.

    Raises
    ------
    BadInput, NotAllowed
        One sentence: what was said, or the table, cannot be; nothing is kept.
    """
    check_can_write(queries.facts(job).people.get(by))
    made = read_flight(name, data, said)
    kept = {}
    if made["size"] <= MOST_KEPT:
        kept[table_name(made["sha256"])] = plain_table(name, data, MOST_KEPT)
    new = new_entry(
        MonitorRead,
        at=at,
        by=by,
        id=entry_id,
        of=of,
        file=name,
        table=next(iter(kept), ""),
        **said,
        **made,
    )
    with photos.laid_ready(kept) as put_in_place:
        with writing():
            held = locked_job(job)
            done = append_rows(held, held, [new], at)
            put_in_place()
        copy_head(held, job)
    return done


def load_folder(*, folder: JobFolder, by: str, at: datetime, agreed: bool = False) -> models.Job:
    """Take a job folder into the store: as a new job, or as what has been added to one.

    Facts that the folder leaves out, or takes back to a text that was filed before, are lost only
    when that is ``agreed``. No entry ever is.

    Entries that are sealed keep their seals. Files whose text differs from the one last filed
    are filed by ``by``. A folder that has gone another way than the stored book is refused.
    """
    with photos.laid_ready(photos_to_keep(folder)) as put_in_place, writing():
        held = take_in(folder, by, at, agreed=agreed)
        put_in_place()
    return held


def rebuild(*, by: str, at: datetime, job: models.Job | None = None) -> list[str]:
    """Write every table that is worked out from entries again, for one job or for all.

    Returns a line for each job. The chain is checked first: a changed book is left alone.
    """
    chosen = [job] if job is not None else queries.books()
    done = []
    for one in chosen:
        with writing():
            held = locked_job(one)
            problems = chain_problems_of(held)
            if problems:
                raise NotAllowed(f"{held.slug}: {problems[0]} Nothing has been rebuilt from it.")
            # What is remembered was worked out from the tables that are written anew.
            queries.forget()
            book = queries.entries(held)
            facts = queries.facts(held)
            folded = fold_of(book, facts)
            index_again(held, folded, facts)
            files_again(held, book)
            people_again(held, facts, book, by, at)
            held.title, held.put_away = facts.title, folded.put_away
            held.save(update_fields=["title", "put_away"])
            number = models.Reading.objects.filter(job=held).count()
        copy_head(held, one)
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
