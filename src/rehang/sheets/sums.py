"""A list of sums beside the files of a folder, in the form that ``sha256sum -c`` reads."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from pathlib import Path

__all__ = ["SUMS", "sums_problems", "sums_text"]

SUMS = "SHA256SUMS"
_LINE = re.compile(r"([0-9a-f]{64})  (\S.*)")


def sums_text(files: Mapping[str, bytes]) -> str:
    """One line for each file, by name: its SHA-256, two blanks, its name."""
    return "".join(
        f"{hashlib.sha256(data).hexdigest()}  {name}\n" for name, data in sorted(files.items())
    )


def sums_problems(folder: Path) -> tuple[list[str], set[str]]:
    """What of a folder is not as its list of sums says, a sentence each, and the names listed.

    No sentence when every file, the list among them, is as it was written.
    """
    listing = folder / SUMS
    problems = []
    listed: set[str] = set()
    for number, line in enumerate(listing.read_bytes().decode("utf-8", "replace").splitlines(), 1):
        match = _LINE.fullmatch(line)
        if match is None:
            problems.append(f"{SUMS}, line {number}: This is not a sum and a name.")
            continue
        wanted, name = match.groups()
        path = folder / name
        if name in listed:
            problems.append(f"{SUMS}, line {number}: {name} is listed twice.")
        listed.add(name)
        if not _is_inside(folder, path):
            problems.append(f"{SUMS}, line {number}: {name} lies outside the folder.")
        elif not path.is_file():
            problems.append(f"{name} is listed and is not in the folder.")
        elif hashlib.sha256(path.read_bytes()).hexdigest() != wanted:
            problems.append(f"{name} has been changed since the folder was written.")
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.is_file() and name != SUMS and name not in listed:
            problems.append(f"{name} was not there when the folder was written.")
    if not problems:
        made = sums_text({name: (folder / name).read_bytes() for name in listed})
        if made.encode() != listing.read_bytes():
            problems.append(f"{SUMS} is not written as it was when the folder was.")
    return problems, listed


def _is_inside(folder: Path, path: Path) -> bool:
    return path.resolve().is_relative_to(folder.resolve())
