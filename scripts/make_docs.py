"""Write the generated reference pages, or with --check say which of them differ.

docs/reference/commands.md comes from the help of the commands,
docs/reference/schemas/*.schema.json and facts-and-pages.md from the declarations of its files, and
docs/reference/who-may-what.md from the table that a test tries at every address.
"""

import argparse
import difflib
import json
import os
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
REFERENCE = ROOT / "docs" / "reference"


def pages() -> dict[Path, str]:
    """Each generated file and the text it should have."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "rehang.site.settings")
    import django

    django.setup()
    from rehang import sheets
    from rehang.cli import reference
    from rehang.web.facts import reference as facts

    sys.path.insert(0, str(ROOT))
    from tests import who_may

    texts = {
        REFERENCE / "commands.md": reference.commands_markdown().rstrip("\n") + "\n",
        REFERENCE / "facts-and-pages.md": facts.page(),
        REFERENCE / "who-may-what.md": who_may.page(),
    }
    for name, schema in sheets.schemas().items():
        texts[REFERENCE / "schemas" / f"{name}.schema.json"] = (
            json.dumps(schema, indent=2, ensure_ascii=False) + "\n"
        )
    return texts


def stale(wanted: dict[Path, str]) -> list[Path]:
    """Generated schema files that nothing generates any more."""
    return sorted(set((REFERENCE / "schemas").glob("*.schema.json")) - set(wanted))


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument(
        "--check", action="store_true", help="change nothing; exit 1 on a difference"
    )
    options = parser.parse_args(argv)

    wanted = pages()
    differs = False
    for path, text in wanted.items():
        present = path.read_text(encoding="utf-8") if path.exists() else ""
        if present == text:
            continue
        differs = True
        name = path.relative_to(ROOT).as_posix()
        if options.check:
            lines = difflib.unified_diff(
                present.splitlines(), text.splitlines(), f"{name} (on file)", f"{name} (made now)",
                lineterm="",
            )  # fmt: skip
            print("\n".join(list(lines)[:60]))
        else:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
            print(f"wrote {name}")
    for path in stale(wanted):
        differs = True
        name = path.relative_to(ROOT).as_posix()
        if options.check:
            print(f"{name}: nothing makes this file any more")
        else:
            path.unlink()
            print(f"removed {name}")
    if options.check and differs:
        print("Generated pages differ. Run: make docs", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
