"""What a declared file takes: one order of faults, and a published schema that says the same."""

from __future__ import annotations

import re
from datetime import date

import pytest

from rehang.sheets.file_schemas import FILES, schemas
from rehang.trade.declared.published import columns, published
from rehang.trade.declared.taken import faults_in, read
from rehang.trade.facts.limits import Limit
from rehang.trade.facts.meters import Meter, meter_from
from rehang.trade.facts.parts import Part, StockFile
from rehang.trade.terms.errors import BadInput


def said(kind: type, raw: dict) -> list[str]:
    return [fault.sentence for fault in faults_in(kind, raw)]


@pytest.mark.parametrize("name", FILES)
def test_a_key_that_no_class_declares_is_refused_by_reader_and_schema(name):
    assert any(' has no "zzz". It has ' in one for one in said(FILES[name], {"zzz": 1}))
    assert schemas()[name]["additionalProperties"] is False


def test_what_is_wrong_is_told_in_one_order_whatever_stands_first():
    raw = {"zzz": 1, "lead_days": -1, "replaces": {}, "price": "much", "counted_on": 3, "id": ""}
    assert said(Part, raw) == [
        '"replaces" is a table; it must be text.',
        '"price" is "much"; it must be a number.',
        '"counted_on" is 3; it must be a day without quotes, as in 2026-10-05.',
        '"lead_days" is -1; it is 0 or more and at most 3,650. Look at the digits again.',
        'A part has no "zzz". It has counted_on, id, lead_days, name, note, price, quoted, replaces, '
        "stock, supplier, unit.",
        'A part needs "id".',
        'A part needs "name".',
    ]


def test_a_fault_has_the_place_of_its_key_and_not_of_what_lies_in_a_list():
    raw = {"part": [{"id": "a", "name": "A"}, {"id": "b", "name": "B", "replaces": ["x", 3]}]}
    with pytest.raises(BadInput, match=r'^part 1 replaces: "replaces" is 3; it must be text\.$'):
        read(StockFile, raw, lambda *keys: " ".join(map(str, keys)))


def test_what_is_worked_out_is_no_key_of_a_file():
    for key in ("quantity", "is_to_come"):
        assert key in Limit.__dataclass_fields__
        assert key not in published(Limit)["properties"]
        (fault,) = faults_in(Limit, {"item": "plug", "check": "gap", key: True})
        assert fault.sentence.startswith(f'A limit has no "{key}". It has ')


def _bounds(schema: dict, path: tuple = ()):
    """Every number of a schema that has a bound of its own, with its path."""
    if (
        schema.get("type") in ("number", "integer")
        and {"minimum", "exclusiveMinimum"} & schema.keys()
    ):
        yield path, schema
    for key, below in schema.get("properties", {}).items():
        yield from _bounds(below, (*path, key))
    if "items" in schema:
        yield from _bounds(schema["items"], (*path, 0))


BOUNDED = [
    pytest.param(name, path, schema, id=f"{name} {'.'.join(map(str, path))}")
    for name in FILES
    for path, schema in _bounds(schemas()[name])
    if path[-1] != 0
]


@pytest.mark.parametrize(("name", "path", "schema"), BOUNDED)
def test_reader_and_published_schema_have_the_same_bounds(name, path, schema):
    def at_key(value) -> bool:
        """Whether the reader has something to say of a value at the key, and at nothing else."""
        raw: object = value
        for key in reversed(path):
            raw = [raw] if key == 0 else {key: raw}
        return path in [fault.path for fault in faults_in(FILES[name], raw)]

    if "exclusiveMinimum" in schema:
        assert at_key(schema["exclusiveMinimum"])
        assert not at_key(schema["exclusiveMinimum"] + 1)
    else:
        assert at_key(schema["minimum"] - 1)
        assert not at_key(schema["minimum"])
    most = schema.get("maximum", 1_000_000_000)
    assert at_key(most + 1)
    assert not at_key(most)
    assert at_key("3")
    assert at_key(True)


def test_the_columns_of_a_table_are_the_keys_that_hold_one_value():
    assert columns(Limit)["worst"] == "integer"
    assert "wants" not in columns(Limit)
    meter = columns(Meter)
    assert (meter["coverage"], meter["due"], meter["range.factor"]) == (
        "number",
        "string",
        "number",
    )
    assert "range" not in meter


def test_a_day_may_stand_without_quotes_and_is_read_as_it_is_written():
    raw = {"id": "X", "kind": "plus or minus", "quantity": "length", "accuracy": "0.001 in"}
    assert meter_from({**raw, "due": date(2027, 1, 31)}).due_text == "2027-01-31"
    assert meter_from({**raw, "due": "2027-Q1"}).due == date(2027, 3, 31)
    with pytest.raises(BadInput, match=re.escape('due: "2027-13" is not a date.')):
        meter_from({**raw, "due": "2027-13"}, lambda *keys: keys[-1])
