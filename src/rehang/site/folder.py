"""Where this machine keeps the books, and the key that signs its sessions."""

from __future__ import annotations

import os
import secrets
from collections.abc import Mapping
from pathlib import Path

__all__ = ["data_folder", "secret_key"]


def data_folder(environ: Mapping[str, str]) -> Path:
    """REHANG_DATA, else ``rehang`` in the user's data folder (XDG, or the system's own)."""
    if given := environ.get("REHANG_DATA"):
        return Path(given).expanduser().absolute()
    if os.name == "nt" and (local := environ.get("LOCALAPPDATA")):
        return Path(local) / "rehang"
    if xdg := environ.get("XDG_DATA_HOME"):
        return Path(xdg) / "rehang"
    return Path.home() / ".local" / "share" / "rehang"


def secret_key(folder: Path) -> str:
    """The key of this data folder; made on first use, readable by its owner only."""
    path = folder / "secret-key"
    try:
        return path.read_text("ascii").strip() or _new_key(path)
    except FileNotFoundError:
        return _new_key(path)


def _new_key(path: Path) -> str:
    """Written whole beside its place and then linked there: of two starts at once, one key wins."""
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    key = secrets.token_urlsafe(48)
    beside = path.with_name(f".secret-key.{os.getpid()}.{secrets.token_hex(4)}")
    handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(f"{key}\n")
            file.flush()
            os.fsync(file.fileno())
        try:
            os.link(beside, path)
        except FileExistsError:
            held = path.read_text("ascii").strip()
            if held:
                return held
            beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
    return key
