"""A job as one folder that opens without this program: a readable page, the book, photos, prints.

The page has no script and asks for nothing from anywhere. The sums beside it are checked by
``rehang verify`` or by any program that reads a list of SHA-256 sums.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from html import escape
from pathlib import Path
from zoneinfo import ZoneInfo

from rehang.sheets.aside import write_files, written_aside
from rehang.sheets.folder import BOOK, CONTENTS, PHOTOS, book_text, contents_text
from rehang.sheets.sums import SUMS, sums_text
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.photos import files_in, is_pdf_name, photos_in
from rehang.trade.papers.signing import Signed
from rehang.trade.telling.sentences import entry_words
from rehang.trade.telling.sheet_parts import stamp_words
from rehang.trade.terms.ends import end_of
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.wording import at_time, on_day

__all__ = ["PAGE", "RECORDS", "archive_files", "as_zip", "write_archive"]

PAGE = "index.html"
READ_ME = "READ-ME.txt"
RECORDS = "records"

_STYLE = """
body { font: 18px/1.45 sans-serif; color: #111; background: #fff; max-width: 60rem; margin: 2rem auto; padding: 0 1rem; overflow-wrap: anywhere; }
table { border-collapse: collapse; width: 100%; margin: 0 0 1.5rem; }
th, td { border-bottom: 1px solid #777; padding: .35rem .5rem; text-align: left; vertical-align: top; }
del { text-decoration-thickness: 2px; }
pre { white-space: pre-wrap; border: 2px solid #111; padding: 1rem; font: inherit; }
img { max-width: 100%; height: auto; }
figure { margin: 0 0 1.5rem; }
"""


def archive_files(
    judged: JudgedJob,
    *,
    files: Mapping[str, str],
    book: Sequence[Entry],
    photos: Mapping[str, bytes],
    prints: Mapping[str, bytes],
    written_at: datetime,
) -> dict[str, bytes]:
    """Every file of the folder by its name, the sums last.

    ``prints`` are PDFs by file name. The same job written again at the same moment is the same
    to the byte.

    Raises
    ------
    BadInput
        The book holds an entry without a seal.
    """
    if any(not entry.is_sealed for entry in book):
        raise BadInput("An entry of the book has no seal. Load the folder first, or seal it.")
    made: dict[str, bytes] = {name: text.encode() for name, text in files.items()}
    made[BOOK] = book_text(book).encode()
    for name in (one.name for one in files_in(book)):
        if name in photos:
            made[f"{PHOTOS}/{name}"] = photos[name]
    made[CONTENTS] = contents_text(made, end_of(book)).encode()
    for name, data in prints.items():
        made[f"{RECORDS}/{name}"] = data
    signed = judged.signed
    made[PAGE] = _page(judged, book, set(made), signed, written_at).encode()
    made[READ_ME] = _read_me(judged, signed, written_at).encode()
    made[SUMS] = sums_text(made).encode()
    return made


def write_archive(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write the folder whole or not at all; refused where something lies there already."""
    with written_aside(folder) as beside:
        write_files(beside, files)


def as_zip(files: Mapping[str, bytes], folder: str) -> bytes:
    """The same folder as one file; each member has one fixed date, so that it repeats."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in sorted(files.items()):
            member = zipfile.ZipInfo(f"{folder}/{name}", date_time=(1980, 1, 1, 0, 0, 0))
            member.compress_type = zipfile.ZIP_DEFLATED
            member.external_attr = 0o644 << 16
            archive.writestr(member, data)
    return held.getvalue()


def _read_me(judged: JudgedJob, signed: Sequence[Signed], at: datetime) -> str:
    title = judged.facts.title
    zone = ZoneInfo(judged.facts.timezone_name)
    return f"""{title}
{"=" * len(title)}

{_standing(signed)}
Written {stamp_words(at.astimezone(zone))}.

{PAGE}        the whole job to read, in any browser; it needs no connection
{BOOK}       the book: one JSON object on each line, each with the hash of the one before it
*.toml           what the job was judged by: engine, people, limits, meters, tasks, parts
{PHOTOS}/          photos and PDFs of certificates, named by their SHA-256
{RECORDS}/         what was printed, as PDF
{CONTENTS}    the files of the job, and number and hash of the last entry of the book
{SUMS}       the SHA-256 of every file here

To see that nothing has been changed:  sha256sum -c {SUMS}
With Rehang:  rehang verify THIS-FOLDER  and  rehang load THIS-FOLDER

How an entry is sealed: SHA-256 over the hash of the entry before it (64 zeros for the first), a
line feed, and the entry as JSON with sorted keys and no blanks, with its number ("seq") and the
time it was kept ("kept") and without "prev" and "hash".
"""


def _standing(signed: Sequence[Signed]) -> str:
    if not signed:
        return "UNSIGNED. Nobody has signed a record of this job."
    told = []
    for one in signed:
        line = (
            f"{one.title}: signed by {one.name}, {one.kind} {one.certificate}, "
            f"{on_day(one.entry.at)}."
        )
        if not one.stands:
            line += f" {len(one.after)} entries were written after it."
        told.append(line)
    return " ".join(told)


def _page(
    judged: JudgedJob,
    book: Sequence[Entry],
    names: Iterable[str],
    signed: Sequence[Signed],
    at: datetime,
) -> str:
    facts = judged.facts
    zone = ZoneInfo(facts.timezone_name)
    engine = facts.engine
    head = [
        ("Engine", f"{engine.get('engine', '')} {engine.get('serial', '')}"),
        ("Airframe", f"{engine.get('airframe', '')} {engine.get('registration', '')}"),
        ("Shop", f"{engine.get('shop', '')} {engine.get('place', '')}"),
        ("Owner", str(engine.get("owner", ""))),
        ("Written", stamp_words(at.astimezone(zone))),
    ]
    parts = [
        "<!doctype html>",
        '<html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(facts.title)}</title>",
        f"<style>{_STYLE}</style></head><body>",
        f"<h1>{escape(facts.title)}</h1>",
        f"<p><strong>{escape(_standing(signed))}</strong></p>",
        _table([(label, value.strip()) for label, value in head if value.strip()]),
    ]
    if engine.get("invented"):
        parts.append("<p>Invented job: every name, serial, limit and document is made up.</p>")
    for one in signed:
        parts += [f"<h2>{escape(one.title)}</h2>", f"<pre>{escape(one.text)}</pre>"]
    prints = sorted(name for name in names if name.startswith(f"{RECORDS}/"))
    if prints:
        parts.append("<h2>Prints</h2><ul>")
        parts += [f'<li><a href="{escape(n)}">{escape(n)}</a></li>' for n in prints]
        parts.append("</ul>")
    parts.append("<h2>Verdicts</h2>")
    parts.append(
        _table(
            [
                (f"{one.kind} {one.name}", one.place, one.verdict, " ".join(one.reasons))
                for one in judged.items
            ],
            ("Part", "Place", "Verdict", "Why"),
        )
    )
    parts.append("<h2>What blocks the return to service</h2>")
    if judged.blockers:
        parts.append(
            _table([(b.sentence, b.way_out) for b in judged.blockers], ("What", "Way out"))
        )
    else:
        parts.append("<p>Nothing.</p>")
    if judged.may_not_fly:
        parts.append("<h2>May not fly until</h2>")
        parts.append(
            _table([(b.sentence, b.way_out) for b in judged.may_not_fly], ("What", "Way out"))
        )
    there = set(names)
    shown = [e for e in photos_in(book) if f"{PHOTOS}/{e.fields.photo}" in there]
    if shown:
        parts.append("<h2>Photos</h2>")
    for picture in shown:
        words = escape(entry_words(picture, judged))
        source = escape(f"{PHOTOS}/{picture.fields.photo}")
        if is_pdf_name(picture.fields.photo):
            parts.append(f'<p><a href="{source}">{words}</a></p>')
            continue
        parts.append(
            f'<figure><img src="{source}" alt="{words}"><figcaption>{words}</figcaption></figure>'
        )
    parts.append("<h2>The book</h2>")
    rows = []
    for entry in (judged.state.entries.get(one.id, one) for one in book):
        words = escape(entry_words(entry, judged))
        if entry.id in judged.state.struck:
            words = f"<del>{words}</del>"
        when = at_time(entry.at.astimezone(zone))
        rows.append(
            f"<tr><td>{entry.seq}</td><td>{when}</td><td>{escape(facts.person(entry.by))}</td>"
            f"<td>{words}</td></tr>"
        )
    parts.append("<table><tr><th>No.</th><th>When</th><th>Who</th><th>What</th></tr>")
    parts += [*rows, "</table>", "</body></html>"]
    return "\n".join(parts) + "\n"


def _table(rows: Sequence[Sequence[str]], heads: Sequence[str] = ()) -> str:
    made = ["<table>"]
    if heads:
        made.append("<tr>" + "".join(f"<th>{escape(h)}</th>" for h in heads) + "</tr>")
    for row in rows:
        made.append("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>")
    return "".join([*made, "</table>"])
