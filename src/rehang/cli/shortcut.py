"""``rehang shortcut``: an icon that opens the bench, on Windows, macOS and Linux."""

from __future__ import annotations

import importlib
import os
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path

from cyclopts import App

from rehang.trade.terms.errors import BadInput, Refused

__all__ = ["cmd_text", "command_text", "desktop_text", "register"]

ICON = "web/away/static/away/icon-512.png"
# Microsoft, "WshShortcut object": the shell writes its own link files, and knows where the desktop
# of a person is. What it has to know comes by the environment: no quoting, whatever a path holds.
_LINK = """
$ErrorActionPreference = 'Stop'
$to = $env:SHORTCUT_TO
if (-not $to) { $to = [Environment]::GetFolderPath('Desktop') }
$file = Join-Path $to 'Rehang.lnk'
$link = (New-Object -ComObject WScript.Shell).CreateShortcut($file)
$link.TargetPath = $env:SHORTCUT_OPENS
$link.IconLocation = $env:SHORTCUT_ICON
$link.Description = 'The bench book'
$link.Save()
[Console]::OutputEncoding = [Text.Encoding]::UTF8
$file
"""


def register(app: App) -> None:
    """Add the command to the program."""

    @app.command(name="shortcut")
    def _shortcut(to: Path | None = None) -> int:
        """Make an icon that opens the bench: on the desktop, and where Linux lists its programs.

        It opens the books of the data folder that is in use now.

        Example: rehang shortcut

        Parameters
        ----------
        to
            A folder for it in place of the desktop.
        """
        if to is not None and not to.is_dir():
            raise BadInput(f"There is no folder {to}. Make it first, or leave --to away.")
        data = importlib.import_module("rehang.site.folder").data_folder(os.environ)
        data.mkdir(parents=True, exist_ok=True, mode=0o700)
        for made in _made(data, to and to.absolute()):
            print(f"Made {made}")
        print(f"It opens the books in {data}")
        return 0


def _made(data: Path, to: Path | None) -> list[Path]:
    try:
        if sys.platform == "win32":
            return [_for_windows(data, to)]
        if sys.platform == "darwin":
            return [
                _executable(
                    (to or Path.home() / "Desktop") / "Rehang.command",
                    command_text(sys.executable, data),
                )
            ]
        return _for_linux(data, to)
    except (OSError, subprocess.CalledProcessError) as problem:
        why = getattr(problem, "strerror", None) or getattr(problem, "stderr", None) or problem
        raise Refused(
            f"The shortcut cannot be made ({str(why).strip()}). Name another folder with --to."
        ) from problem


def _executable(file: Path, text: str) -> Path:
    file.write_text(text, "utf-8")
    file.chmod(0o755)
    return file


def _for_linux(data: Path, to: Path | None) -> list[Path]:
    icon = data / "rehang.png"
    icon.write_bytes(files("rehang").joinpath(ICON).read_bytes())
    text = desktop_text(sys.executable, data, icon)
    if to:
        return [_executable(to / "rehang.desktop", text)]
    listed = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local/share") / "applications"
    listed.mkdir(parents=True, exist_ok=True)
    made = [_executable(listed / "rehang.desktop", text)]
    desktop = _desktop()
    return [*made, _executable(desktop / "rehang.desktop", text)] if desktop.is_dir() else made


def _desktop() -> Path:
    """The desktop's folder, whatever it is called in the language of the machine."""
    asks = shutil.which("xdg-user-dir")
    if not asks:
        return Path.home() / "Desktop"
    told = subprocess.run([asks, "DESKTOP"], capture_output=True, text=True, check=True)  # noqa: S603
    return Path(told.stdout.strip())


def _for_windows(data: Path, to: Path | None) -> Path:
    from PIL import Image

    icon, opens = data / "rehang.ico", data / "rehang.cmd"
    with files("rehang").joinpath(ICON).open("rb") as drawn:
        Image.open(drawn).save(icon)
    opens.write_bytes(cmd_text(sys.executable, data).encode())
    told: Mapping[str, str] = {
        "SHORTCUT_TO": str(to or ""), "SHORTCUT_OPENS": str(opens), "SHORTCUT_ICON": str(icon),
    }  # fmt: skip
    done = subprocess.run(
        ["powershell", "-NoProfile", "-NonInteractive", "-Command", "-"],  # noqa: S607 - where Windows has it
        input=_LINK, env={**os.environ, **told}, capture_output=True, encoding="utf-8", check=True,
    )  # fmt: skip
    return Path(done.stdout.strip())


def command_text(python: str, data: Path) -> str:
    """What macOS opens in a window of its own (POSIX shell, quoted by ``shlex``)."""
    return (
        "#!/bin/sh\n"
        f"export REHANG_DATA={shlex.quote(str(data))}\n"
        f"exec {shlex.quote(python)} -m rehang bench\n"
    )


def cmd_text(python: str, data: Path) -> str:
    """What the link of Windows opens; a percent sign in a path is written twice there."""

    def typed(path: object) -> str:
        return str(path).replace("%", "%%")

    return (
        "@echo off\r\n"
        "chcp 65001 >nul\r\n"
        "title Rehang\r\n"
        f'set "REHANG_DATA={typed(data)}"\r\n'
        f'"{typed(python)}" -m rehang bench\r\n'
        # So that a sentence can be read before the window goes.
        "if errorlevel 1 pause\r\n"
    )


def desktop_text(python: str, data: Path, icon: Path) -> str:
    """What Linux lists among its programs.

    Desktop Entry Specification 1.5 (freedesktop.org), "The Exec key": an argument stands in double
    quotes with a backslash before ``"``, a backtick, ``$`` and a backslash, a percent sign twice;
    then the rule for strings writes each backslash twice ("Possible value types").
    """

    def quoted(argument: str) -> str:
        return '"' + re.sub(r'(["`$\\])', r"\\\1", argument).replace("%", "%%") + '"'

    words = ["env", f"REHANG_DATA={data}", python, "-m", "rehang", "bench"]
    return (
        "[Desktop Entry]\n"
        "Type=Application\n"
        "Name=Rehang\n"
        "Comment=The bench book\n"
        f"Exec={_string(' '.join(map(quoted, words)))}\n"
        f"Icon={_string(str(icon))}\n"
        "Terminal=true\n"
        "Categories=Utility;\n"
    )


def _string(value: str) -> str:
    return value.replace("\\", "\\\\").replace("\n", "\\n")
