"""Writing a folder whole or not at all: aside first, then under its name."""

from __future__ import annotations

import os
import secrets
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from rehang.trade.terms.errors import BadInput

__all__ = ["not_written", "write_files", "written_aside"]


@contextmanager
def written_aside(target: Path) -> Iterator[Path]:
    """A folder beside ``target`` to write into, which takes its name when all of it is written.

    Raises
    ------
    BadInput
        Something lies at ``target`` already, or the disk does not take it; nothing is left then.
    """
    if target.is_symlink() or (target.exists() and not target.is_dir()):
        raise BadInput(f"{target} is there already and is no folder. Name another.")
    if target.exists() and any(target.iterdir()):
        raise BadInput(f"{target} is not empty. Name a folder that is not there yet.")
    beside = target.with_name(f".{target.name}.{secrets.token_hex(4)}.new")
    try:
        beside.mkdir(parents=True)
        yield beside
        if target.exists():
            target.rmdir()
        beside.rename(target)
    except OSError as problem:
        raise not_written(target, problem) from problem
    finally:
        shutil.rmtree(beside, ignore_errors=True)


def write_files(folder: Path, files: Mapping[str, bytes]) -> None:
    """Files by name, folders made as they are needed; all of it on the disk when this returns."""
    for name, data in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())


def not_written(target: Path, problem: OSError) -> BadInput:
    """What is said where a disk does not take something."""
    return BadInput(
        f"{target} has not been written ({problem.strerror or problem}). Nothing of it is left. "
        "Make room or name another place, and write it again."
    )
