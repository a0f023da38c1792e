"""Writes down all that the four demos say, so that a change of the house can be held against it.

    scripts/freeze.py OUT                  the commands, every page that links lead to, every PDF
    scripts/freeze.py OUT --against BEFORE the same, then each difference; 1 where there is one

The clock stands, so that what differs is what changed. A hidden field's value, and whatever else is
new each time a page is made, is masked; so is how a page is broken into lines, and the folder that
a style or a script lies in.
"""

from __future__ import annotations

import argparse
import contextlib
import difflib
import html
import io
import os
import re
import sys
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import unquote, urlsplit
from zlib import crc32

DEMOS = ("four", "finished", "six", "radial")
NOW = datetime(2026, 11, 12, 21, 0, tzinfo=UTC)
COMMANDS = (
    ("check", "{job}"),
    ("check", "{job}", "--json"),
    ("plan", "{job}"),
    ("plan", "{job}", "--json"),
    ("parts", "{job}"),
    ("rotation", "{job}"),
    ("forecast", "{job}"),
    ("forecast", "{job}", "--json"),
    ("story", "{job}", "cylinder:1"),
    ("due", "{job}"),
    ("record", "{job}"),
    ("verify", "{job}"),
)
# Made anew at each start or each page: a form's token and its one use, a script's nonce.
MASKS = (
    (r'(name="csrfmiddlewaretoken" value=")[^"]*', r"\1*"),
    (r'(data-csrf=")[^"]*', r"\1*"),
    (r'(name="once" value=")[^"]*', r"\1*"),
    (r'(nonce=")[^"]*', r"\1*"),
    (r"/static/\w+/", "/static/*/"),
    (r"\b[0-9a-f]{8}-?(?:[0-9a-f]{4}-?){3}[0-9a-f]{12}\b", "*"),
)
# What a link leads to that changes something, or that is one of a kind drawn elsewhere.
NOT_FOLLOWED = re.compile(r"/sign-out/|^/static/|^/api/|/archive|\.zip$|/ask/")


# No text of a line runs on across these, so white space beside them does not show.
BLOCKS = frozenset(
    [
        "html",
        "head",
        "body",
        "meta",
        "link",
        "title",
        "script",
        "style",
        "div",
        "p",
        "section",
        "article",
        "main",
        "header",
        "footer",
        "nav",
        "aside",
        "form",
        "fieldset",
        "legend",
        "ul",
        "ol",
        "li",
        "dl",
        "dt",
        "dd",
        "table",
        "thead",
        "tbody",
        "tfoot",
        "tr",
        "th",
        "td",
        "caption",
        "colgroup",
        "col",
        "h1",
        "h2",
        "h3",
        "h4",
        "h5",
        "h6",
        "hr",
        "br",
        "details",
        "summary",
        "figure",
        "figcaption",
        "select",
        "option",
        "optgroup",
        "svg",
        "path",
        "use",
        "g",
        "rect",
        "circle",
        "line",
        "polyline",
        "defs",
        "symbol",
        "datalist",
        "template",
        "dialog",
    ]
)
PIECE = re.compile(r"<(pre|textarea)\b.*?</\1>|<!--.*?-->|<[^>]*>|[^<]+", re.DOTALL)


def masked(text: str) -> str:
    for pattern, by in MASKS:
        text = re.sub(pattern, by, text)
    return text


def one_space(text: str) -> str:
    """A page with each run of white space as one space, none beside a block, a tag a line."""
    found: list[str] = []
    after_block = True
    for piece in PIECE.finditer(text):
        part = piece[0]
        if piece[1]:
            # The tag may be broken as any other; what stands in it is kept as it is.
            opening, _, kept = part.partition(">")
            found.append(" ".join(opening.split()) + ">" + kept)
            after_block = False
        elif part.startswith("<"):
            name = re.match(r"</?(!?\w+)", part)
            after_block = name is None or name[1].lower() in {*BLOCKS, "!doctype"}
            if after_block and found:
                found[-1] = found[-1].rstrip(" ")
            quoted = re.sub(r'"[^"]*"|\s+', lambda m: " ".join(m[0].split()) or " ", part)
            found.append(re.sub(r"\s*(/?>)$", r"\1", quoted))
        else:
            words = re.sub(r"\s+", " ", part)
            found.append(words.lstrip(" ") if after_block else words)
            after_block = False
    return "\n".join(one for one in found if one) + "\n"


def told(*words: str) -> str:
    """What a command prints, its talk to stderr and how it ends."""
    from rehang.cli.main import app

    out, err = io.StringIO(), io.StringIO()
    ended: object = 0
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            ended = app(words, exit_on_error=False, result_action="return_value")
        except SystemExit as stop:
            ended = stop.code
    return f"{out.getvalue()}\n--- stderr\n{err.getvalue()}\n--- ends with {ended}\n"


def pdf_text(data: bytes) -> str:
    from pypdf import PdfReader

    reader = PdfReader(io.BytesIO(data))
    return "\n\f\n".join(page.extract_text() for page in reader.pages)


def cells_of(data: bytes) -> str:
    """A workbook's cells, a line a row: its archive carries the time it was packed."""
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(data))
    rows = [(sheet.title, *row) for sheet in book for row in sheet.iter_rows(values_only=True)]
    return "\n".join(repr(row) for row in rows)


def pages(start: str, client: object) -> Iterator[tuple[str, str]]:
    """Every page that links of the job's board lead to, by its address."""
    waiting, seen = [start], {start}
    while waiting:
        address = waiting.pop(0)
        answer = client.get(address)  # type: ignore[attr-defined]
        kind = answer.headers.get("Content-Type", "")
        body = b"".join(answer.streaming_content) if answer.streaming else answer.content
        if kind == "application/pdf":
            yield address, pdf_text(body)
            continue
        if "spreadsheetml" in kind:
            yield address, cells_of(body)
            continue
        text = body.decode("utf-8", "replace")
        shown = one_space(text) if kind.startswith("text/html") else text
        yield address, f"{answer.status_code} {kind}\n{masked(shown)}"
        if answer.status_code in (301, 302):
            found = [answer.headers["Location"]]
        elif kind.startswith("text/html"):
            found = re.findall(r'(?:href|src|hx-get)="(/[^"#]*)', text)
        else:
            found = []
        for link in map(html.unescape, found):
            # Another page of the same job; what is behind a question is the page's own business
            # as long as it leads no further.
            if link in seen or NOT_FOLLOWED.search(link) or not link.startswith(("/jobs/", "/f")):
                continue
            if urlsplit(link).path.startswith("/jobs/") and not link.startswith(start):
                continue
            seen.add(link)
            waiting.append(link)


def freeze(out: Path) -> int:
    """Write everything below ``out``, a file each. Returns how many."""
    os.environ["REHANG_DATA"] = tempfile.mkdtemp(prefix="rehang-freeze-")
    os.environ["REHANG_BOUND"] = "127.0.0.1"
    os.environ["DJANGO_SETTINGS_MODULE"] = "rehang.site.settings"
    os.environ["COLUMNS"] = "100"
    import django

    django.setup()
    from django.conf import settings
    from django.core.management import call_command
    from django.test import Client
    from django.utils import timezone

    from rehang.book import queries, services
    from rehang.cli import main as command
    from rehang.sheets import demo_path
    from rehang.sheets.folder import read_folder

    timezone.now = lambda: NOW
    command._now = lambda: NOW
    settings.ALLOWED_HOSTS = ["*"]
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    call_command("migrate", verbosity=0)
    count = 0

    def keep(name: str, text: str) -> None:
        nonlocal count
        plain = re.sub(r"[^\w.=+-]+", "_", unquote(name)).strip("_")[:160]
        place = out / f"{plain}-{crc32(name.encode()):08x}.txt"
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(text, "utf-8")
        count += 1

    for demo in DEMOS:
        folder = str(demo_path(demo))
        for words in COMMANDS:
            line = [word.format(job=folder) for word in words]
            keep(f"{demo} {' '.join(words)}", told(*line).replace(folder, demo))
        print(f"{demo}: the commands, {count} files so far", file=sys.stderr, flush=True)
    for demo in DEMOS:
        folder_read = read_folder(demo_path(demo))
        person = next(iter(folder_read.facts.people))
        job = services.load_folder(folder=folder_read, by=person, at=NOW)
        client = Client()
        client.post("/sign-in/", {"person": person})
        queries.forget()
        for address, text in pages(f"/jobs/{job.slug}/", client):
            keep(address, text)
        print(f"{job.slug}: its pages, {count} files so far", file=sys.stderr, flush=True)
    return count


def differences(now: Path, before: Path) -> list[str]:
    """Each file that is not as it was, with its first lines that differ."""
    found = []
    names = {one.name for place in (now, before) for one in place.glob("*.txt")}
    for name in sorted(names):
        old, new = (
            (place / name).read_text("utf-8").splitlines() if (place / name).exists() else []
            for place in (before, now)
        )
        if old != new:
            lines = [*difflib.unified_diff(old, new, "before", "now", lineterm="", n=0)]
            found.append("\n".join([f"== {name}: {len(lines)} lines", *lines[:24]]))
    return found


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    asked.add_argument("out", type=Path)
    asked.add_argument("--against", type=Path)
    args = asked.parse_args()
    print(f"{freeze(args.out)} files in {args.out}")
    if args.against:
        found = differences(args.out, args.against)
        print("\n".join(found))
        print(f"{len(found)} files differ.")
        sys.exit(1 if found else 0)


if __name__ == "__main__":
    main()
