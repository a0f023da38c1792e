"""Every job of a shop saved as folders side by side, under one list of them all."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from rehang.sheets.backup_list import list_in
from rehang.sheets.folder import BOOK, CONTENTS
from rehang.sheets.job_files import SHOP
from rehang.sheets.whole import Checked, folder_checked
from rehang.trade.facts.shop_file import SHOP_BOOK
from rehang.trade.terms.ends import End, end_from
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.wording import listed

__all__ = ["JOBS", "ends_kept", "is_shop_saved", "jobs_text", "saved_checked"]

JOBS = "jobs.toml"


@dataclass(frozen=True, slots=True)
class _Listed:
    end: End
    contents: str


def jobs_text(ends: Mapping[str, End], folder: Path, *, access: End, at: datetime) -> str:
    """The list: where the book of each job ends, and the SHA-256 of its folder's own list.

    ``access`` is the end of the access log as the folders were saved.
    """
    return _text({n: _Listed(e, _sum(folder / n / CONTENTS)) for n, e in ends.items()}, access, at)


def _text(jobs: Mapping[str, _Listed], access: End, at: datetime) -> str:
    made = [
        "# Every job of the shop as it was saved, and where its book ended.\n"
        f"saved = {at.isoformat()}\n"
        f'\n[access_log]\nlast_line = {access.seq}\nhash = "{access.hash}"\n'
    ]
    made += [
        f'\n[[job]]\nname = "{name}"\nlast_entry = {one.end.seq}\nhash = "{one.end.hash}"\n'
        f'contents_sha256 = "{one.contents}"\n'
        for name, one in jobs.items()
    ]
    return "".join(made)


def is_shop_saved(path: Path) -> bool:
    """Whether a folder holds the jobs of a shop and not one job."""
    return (path / JOBS).is_file() and not (path / BOOK).is_file()


def _read(path: Path) -> tuple[dict[str, _Listed], bool]:
    """What the list says, and whether it is written as it was saved."""
    try:
        text = (path / JOBS).read_bytes().decode("utf-8")
        raw = tomllib.loads(text)
        jobs = (
            {
                str(one["name"]): _Listed(
                    End(one["last_entry"], one["hash"]), str(one["contents_sha256"])
                )
                for one in raw["job"]
            }
            if "job" in raw
            else {}
        )
        access = End(raw["access_log"]["last_line"], raw["access_log"]["hash"])
        again = _text(jobs, access, raw["saved"])
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise BadInput("This is not a list of saved jobs.", f"{path / JOBS}") from None
    return jobs, again == text


def saved_checked(path: Path) -> Checked:
    """A saved shop held against its list, and each of its folders against all that vouches for it."""
    found = Checked()
    try:
        jobs, as_written = _read(path)
    except BadInput as problem:
        found.changed.append(str(problem))
        return found
    if not as_written:
        found.changed.append(f"{JOBS} is not written as it was when the shop was saved.")
    for name, one in jobs.items():
        folder = path / name
        if "/" in name or not (folder / CONTENTS).is_file():
            found.changed.append(
                f"{name} is listed in {JOBS}, and its folder is not here or not whole."
            )
            continue
        if _sum(folder / CONTENTS) != one.contents:
            found.changed.append(f"{name}/{CONTENTS} has been changed since the shop was saved.")
        of_job = folder_checked(folder, one.end, JOBS)
        for lines in (of_job.looked, of_job.changed, of_job.untold):
            lines[:] = [f"{name}: {line}" for line in lines]
        found.add(of_job)
    more = sorted(p.name for p in path.iterdir() if p.name not in {*jobs, JOBS})
    if more:
        found.changed.append(f"{listed(more)}: in no list; not there when the shop was saved.")
    found.looked.append(f"{len(jobs):,} job folder(s) against {JOBS}")
    if not jobs:
        found.untold.append(f"{JOBS} lists no job.")
    return found


def ends_kept(what: str) -> dict[str, End]:
    """The ends that were kept elsewhere, by job: of a saved folder or shop, a backup, or typed.

    What was typed names no job; it stands under an empty name.

    Raises
    ------
    BadInput
        It is none of these, or cannot be read.
    """
    path = Path(what)
    if not path.exists():
        return {"": end_from(what)}
    if path.is_file():
        return dict(list_in(path).books)
    if is_shop_saved(path):
        return {name: one.end for name, one in _read(path)[0].items()}
    held = folder_checked(path)
    if held.end is None or held.changed:
        why = (*held.changed, *held.untold)[0]
        raise BadInput(f"{what} is no whole job folder to compare with. {why}")
    try:
        is_shop = (path / SHOP).is_file()
        job = (
            SHOP_BOOK
            if is_shop
            else tomllib.loads((path / "engine.toml").read_text("utf-8"))["job"]
        )
    except (OSError, ValueError, KeyError):
        raise BadInput(f"{what} does not say of which job it is.") from None
    return {str(job): held.end}


def _sum(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
