"""``docs/reference/commands.md``, made from the commands' own help."""

from __future__ import annotations

import io

from rich.console import Console

from rehang.cli.main import app

__all__ = ["commands_markdown"]


def commands_markdown() -> str:
    """The reference page: each command's help as a terminal 80 wide shows it."""
    parts = [
        "# Commands\n",
        "This page is made from the commands' own help by `make docs`.\n",
        "Results go to stdout and talk to stderr.",
        "Exit code 0 means done, 1 refused with one sentence, 2 wrong usage.\n",
    ]
    for name in (one for one in app if not one.startswith("-")):
        out = io.StringIO()
        console = Console(file=out, width=80, force_terminal=False, color_system=None)
        app.help_print([name], console=console)
        text = "\n".join(line.rstrip() for line in out.getvalue().strip().splitlines())
        parts.append(f"## rehang {name}\n\n```text\n{text}\n```\n")
    return "\n".join(parts)
