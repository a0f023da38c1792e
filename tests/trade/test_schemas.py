"""The published schemas and the readers agree on what a job folder holds."""

from __future__ import annotations

import json
import tomllib
from datetime import date

import jsonschema
import pytest

from rehang.sheets import check_sheets, demo_path, layouts, schemas

SCHEMAS = schemas()


def _plain(value: object) -> object:
    """TOML dates as the text they are written as."""
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_plain(one) for one in value]
    return value.isoformat() if isinstance(value, date) else value


@pytest.mark.parametrize("name", ["engine.toml", "people.toml", "limits.toml", "meters.toml"])
def test_demo_file_keeps_its_schema(name):
    data = _plain(tomllib.loads((demo_path() / name).read_text("utf-8")))
    assert list(jsonschema.Draft202012Validator(SCHEMAS[name]).iter_errors(data)) == []


def test_each_line_of_the_demo_book_keeps_its_schema():
    checker = jsonschema.Draft202012Validator(SCHEMAS["book.jsonl"])
    lines = (demo_path() / "book.jsonl").read_text("utf-8").splitlines()
    assert len(lines) > 100
    for line in lines:
        checker.validate(json.loads(line))


def test_shipped_layouts_and_sheets_keep_their_schemas():
    here = demo_path().parent
    for path in (here / "layouts").glob("*.toml"):
        jsonschema.validate(tomllib.loads(path.read_text("utf-8")), SCHEMAS["layout.toml"])
    for path in (here / "checks").glob("*.toml"):
        jsonschema.validate(tomllib.loads(path.read_text("utf-8")), SCHEMAS["checks.toml"])
    jsonschema.validate(
        tomllib.loads((here / "tasks.toml").read_text("utf-8")), SCHEMAS["tasks.toml"]
    )
    powers = tomllib.loads((here / "powers.toml").read_text("utf-8"))
    jsonschema.validate(powers, SCHEMAS["people.toml"])
    assert len(layouts()) == 4
    assert {"plug", "cylinder", "lead", "hose"} <= set(check_sheets())


def test_schema_refuses_what_the_reader_refuses():
    with pytest.raises(jsonschema.ValidationError, match="colour"):
        jsonschema.validate(
            {"person": [{"key": "a", "name": "A", "colour": "red"}]}, SCHEMAS["people.toml"]
        )
