"""The table of an engine monitor is read by what a person said of its columns, or refused."""

from __future__ import annotations

import gzip
import hashlib
from datetime import UTC, datetime
from types import SimpleNamespace

import numpy as np
import pytest

from rehang.decode.flights import look, read_flight
from rehang.sheets import layouts
from rehang.trade.facts.monitor_columns import Mapped, check_mapped, guessed, unit_in
from rehang.trade.gate.monitor_rules import check_monitor
from rehang.trade.run.monitor_found import BUCKETS
from rehang.trade.terms.entries import new_entry, parse_line
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.monitor import MonitorRead
from tests.flights import HEADINGS, MAPPED, Flight

NAME = "flight.csv"
LAYOUT = layouts()["opposed-4"]


@pytest.fixture(scope="module")
def whole() -> dict:
    return read_flight(NAME, Flight().data, MAPPED)


def test_the_head_says_what_its_headings_say():
    head = look(NAME, Flight().data)
    assert head.headings == HEADINGS and head.units[:5] == ("s", "rpm", "psi", "°F", "°F")
    assert (head.head_lines, head.commas, head.separator) == (1, False, ",")
    found = {one: guessed(one, LAYOUT).channel for one in HEADINGS}
    assert [found[one] for one in HEADINGS] == list(MAPPED["columns"])


@pytest.mark.parametrize(
    ("heading", "unit", "channel"),
    [
        ("E1", "", ""), ("EGT 3", "", "exhaust:3"), ("EGT03 [C]", "°C", "exhaust:3"),
        ("Exhaust temp cyl 2, deg F", "°F", "exhaust:2"), ("EGT 9 (F)", "°F", ""),
        ("CHT4_F", "°F", "head:4"), ("Head 1 (Celsius)", "°C", "head:1"),
        ("OIL T", "", "oil_temperature"), ("oil press bar", "bar", "oil_pressure"),
        ("Oil level", "", ""), ("Engine RPM", "rpm", "rpm"), ("Time", "", "time"),
        ("Fuel flow (gal/h)", "", ""), ("Clock, min", "min", "time"),
    ],
)  # fmt: skip
def test_what_a_heading_looks_like(heading, unit, channel):
    assert (unit_in(heading), guessed(heading, LAYOUT).channel) == (unit, channel)


def test_units_may_stand_in_a_row_of_their_own():
    bare = ",".join(one.partition(" (")[0] for one in HEADINGS)
    units = "s,rpm,psi,F" + ",F" * 8
    lines = [bare, units, *Flight().lines()[1:]]
    head = look(NAME, "\n".join(lines).encode())
    assert head.head_lines == 2 and head.units == look(NAME, Flight().data).units
    found = read_flight(NAME, "\n".join(lines).encode(), MAPPED)
    assert found["rows"] == 900


def test_what_was_put_in_is_found(whole):
    found = whole["found"]
    assert (whole["rows"], found["span_s"], found["every_s"]) == (900, 899.0, 1.0)
    (odd,) = found["exhaust"]["odd"]
    assert odd["cylinder"] == "3" and odd["from_s"] == 500.0
    assert odd["for_s"] == pytest.approx(59, abs=1) and odd["by"] == pytest.approx(-90, abs=15)
    assert [one["from_s"] for one in found["checks"]] == pytest.approx([200, 230], abs=1)
    for one in found["checks"]:
        assert one["rpm"] == pytest.approx(-80, abs=6)
        assert list(one["rises"].values()) == pytest.approx([45] * 4, abs=8)
    # Cylinder 4 is 36 above cylinder 1; the spread is widest where the odd one is down.
    assert found["exhaust"]["spread"]["usual"] == pytest.approx(42, abs=8)
    assert 500 <= found["exhaust"]["spread"]["at_s"] <= 560
    assert found["head"]["odd"] == [] and found["exhaust"]["apart"] == []


def test_oil_is_told_by_speed(whole):
    # 30 + 0.012 x rpm, by hand at 1,000 and 2,400.
    pressure = {middle: value for middle, value, _ in whole["found"]["oil"]["oil_pressure"]}
    assert pressure[2500.0] == pytest.approx(58.8, abs=0.1)
    assert min(pressure.values()) == pytest.approx(42.0, abs=0.1)


def test_one_that_does_not_fire_on_one_magneto_is_seen():
    found = read_flight(NAME, Flight(cold="2").data, MAPPED)["found"]
    first, second = found["checks"]
    assert all(rise >= 10 for rise in first["rises"].values())
    assert second["rises"]["2"] < -100 and sum(r >= 10 for r in second["rises"].values()) == 3


def test_a_throttle_that_is_moved_is_no_magneto_check():
    flight = Flight(odd=None)
    for name, held in flight.values.items():
        if name.startswith("exhaust"):
            for start, length in flight.CHECKS:
                held[start : start + length] -= 90
    assert read_flight(NAME, flight.data, MAPPED)["found"]["checks"] == []


def test_rows_too_far_apart_show_no_magneto_check():
    found = read_flight(NAME, Flight(every=6).data, MAPPED)["found"]
    assert found["every_s"] == 6.0 and found["checks"] == []


def test_an_even_flight_raises_nothing():
    found = read_flight(NAME, Flight(odd=None).data, MAPPED)["found"]
    assert found["exhaust"]["odd"] == [] and found["head"]["odd"] == []


def test_one_that_stands_apart_throughout_is_told():
    found = read_flight(NAME, Flight(odd=("2", 0, 900, 180.0)).data, MAPPED)["found"]
    assert [one["cylinder"] for one in found["exhaust"]["apart"]] == ["2"]
    assert found["exhaust"]["odd"] == []


def test_the_series_keeps_every_peak(whole):
    told = whole["series"]["exhaust:3"].split()
    assert len(told) == BUCKETS
    lows = [int(one.partition("/")[0]) for one in told]
    highs = [int(one.partition("/")[2]) for one in told]
    values = Flight().values["exhaust:3"]
    assert (min(lows), max(highs)) == (values.min(), values.max())


def test_the_sum_is_of_the_text_packed_or_not(whole):
    packed = read_flight(NAME, Flight().packed, MAPPED)
    assert packed == whole
    assert whole["sha256"] == hashlib.sha256(Flight().data).hexdigest()


def test_other_units_give_the_same_values(whole):
    def cell(value: float, name: str) -> str:
        if name.startswith(("exhaust", "head")) or name == "oil_temperature":
            return f"{(value - 32) / 1.8:.6f}"
        if name == "oil_pressure":
            return f"{value * 0.06894757:.8f}"
        return f"{value / 60:.8f}" if name == "time" else f"{value:g}"

    units = {
        **dict.fromkeys(MAPPED["units"], "°C"), "time": "min", "rpm": "rpm", "oil_pressure": "bar",
    }  # fmt: skip
    found = read_flight(NAME, Flight(cell=cell).data, {**MAPPED, "units": units})["found"]
    assert found["exhaust"]["odd"][0]["cylinder"] == "3"
    assert found["exhaust"]["cylinders"] == whole["found"]["exhaust"]["cylinders"]
    assert found["oil"]["oil_pressure"] == whole["found"]["oil"]["oil_pressure"]


@pytest.mark.parametrize(
    ("written", "unit"),
    [
        (lambda s: f"{int(s) // 3600:02}:{int(s) // 60 % 60:02}:{int(s) % 60:02}", "hh:mm:ss"),
        (lambda s: f"{int(s) // 60}:{int(s) % 60:02}", "hh:mm:ss"),
        (lambda s: f"2026-11-30T09:{int(s) // 60:02}:{int(s) % 60:02}Z", "date and time"),
    ],
)
def test_times_that_are_written_out(whole, written, unit):
    flight = Flight(cell=lambda v, n: written(v) if n == "time" else f"{v:g}")
    assert look(NAME, flight.data).clocks[0] == unit
    said = {**MAPPED, "units": {**MAPPED["units"], "time": unit}}
    assert read_flight(NAME, flight.data, said)["found"] == whole["found"]


def test_decimal_commas_between_semicolons(whole):
    def cell(value: float, name: str) -> str:
        return f"{value:.1f}".replace(".", ",")

    data = Flight(cell=cell, separator=";").data
    assert look(NAME, data).commas
    assert read_flight(NAME, data, {**MAPPED, "decimal": ","})["found"] == whole["found"]
    with pytest.raises(BadInput, match=r"Say that decimals are written with a comma\."):
        read_flight(NAME, data, MAPPED)


def test_readings_that_are_missing_take_part_in_nothing(whole):
    flight = Flight(cell=lambda v, n: "---" if n == "exhaust:1" and v > 1390 else f"{v:g}")
    found = read_flight(NAME, flight.data, MAPPED)["found"]
    assert 0 < found["missing"]["exhaust:1"] < 900
    assert found["exhaust"]["odd"][0]["cylinder"] == "3"


def swapped(said: dict) -> dict:
    columns = {**said["columns"], "exhaust:2": 9, "head:2": 5}
    return {**said, "columns": columns}


def lines_of(**changed: str) -> bytes:
    """The flight with some lines changed, by their numbers."""
    lines = Flight().lines()
    for number, text in changed.items():
        lines[int(number[1:]) - 1] = text
    return "\n".join(lines).encode()


ROW = Flight().lines()[99]
BAD = [
    ("swapped columns", Flight().data, swapped(MAPPED), "no head is hotter than its exhaust"),
    (
        "decimal commas between commas",
        lines_of(L5="4,0,1000,42,0,120,900,912,924,936,200,206,212,218"),
        MAPPED,
        r"This row has more cells than the 12 headings\. .*semicolons",
    ),
    ("times running back", lines_of(L100="7" + ROW[2:]), MAPPED, "The time runs back here"),
    ("a time is missing", lines_of(L100=ROW[2:]), MAPPED, 'There is no time in the column'),
    (
        "an empty column",
        Flight(cell=lambda v, n: "" if n == "head:1" else f"{v:g}").data,
        MAPPED,
        r'The column "CHT 1 \(F\)" holds no number',
    ),
    ("a word", lines_of(L50=Flight().lines()[49].replace(",", ",hot", 1)), MAPPED, "is not a number"),
    ("endless", lines_of(L50="49,1e300,1,1,1,1,1,1,1,1,1,1"), MAPPED, "beyond all reading"),
    ("one moment", Flight().text.split("\n")[0].encode() + b"\n0" + b",1" * 11, MAPPED, "spans no time"),
    ("half a gzip", Flight().packed[:2000], MAPPED, "breaks off"),
    ("no gzip", b"\x1f\x8bno", MAPPED, "not whole"),
    ("no text", b"a,b\n\xff\xfe,1\n", MAPPED, "."),
    ("nothing", b"", MAPPED, "no table with a row of headings"),
    ("a picture", b"\x89PNG\0\0\n\0,\0", MAPPED, "not a table of text"),
    ("no headings", Flight().data.partition(b"\n")[2], MAPPED, "numbers and no headings"),
    ("headings alone", Flight().data.partition(b"\n")[0] + b"\n", MAPPED, "rows below"),
    (
        "clock in words",
        Flight().data,
        {**MAPPED, "units": {**MAPPED["units"], "time": "date and time"}},
        "is no time written as date and time",
    ),
]  # fmt: skip


@pytest.mark.parametrize(
    ("data", "said", "sentence"), [one[1:] for one in BAD], ids=[b[0] for b in BAD]
)
def test_what_cannot_be_read_is_refused_with_its_place(data, said, sentence):
    with pytest.raises(BadInput, match=sentence):
        read_flight(NAME, data, said)


@pytest.mark.parametrize(
    ("columns", "units", "sentence"),
    [
        ({"time": None}, {}, "Say which column is the time."),
        ({"exhaust:1": 5}, {}, "is picked twice"),
        ({"exhaust:7": 40}, {}, "no channel of this engine"),
        ({"rpm": 40}, {}, "has no column 41"),
        ({}, {"exhaust:3": ""}, r'"EGT 3 \(F\)" does not say its unit. Pick °F or °C: it is never'),
        ({}, {"oil_pressure": "°F"}, "Pick psi, bar or kPa"),
        (
            {f"{k}:{n}": None for k in ("exhaust", "head") for n in range(1, 5)},
            {},
            "one at the least",
        ),
    ],
)
def test_what_a_person_may_not_say_of_the_columns(columns, units, sentence):
    held = {**MAPPED["columns"], **columns}
    mapped = Mapped({k: v for k, v in held.items() if v is not None}, {**MAPPED["units"], **units})
    with pytest.raises(BadInput, match=sentence):
        check_mapped(mapped, HEADINGS, LAYOUT)


def test_a_place_is_the_line_of_the_file_though_lines_are_blank():
    lines = Flight().lines()
    lines[49:49] = ["", ""]
    lines[99] = lines[99].replace(",", ",hot", 1)
    with pytest.raises(BadInput, match="is not a number") as refusal:
        read_flight(NAME, "\n".join(lines).encode(), MAPPED)
    assert refusal.value.where == "flight.csv, line 100"


def test_a_separator_too_many_at_the_end_of_each_row_is_nothing(whole):
    lines = Flight().lines()
    data = "\n".join([lines[0], *(f"{one}," for one in lines[1:])]).encode()
    assert read_flight(NAME, data, MAPPED)["found"] == whole["found"]
    lines = [lines[0], *(f"{one}," for one in lines[1:])]
    lines[799] += "9"
    with pytest.raises(BadInput, match=r"line 800: This row has more cells than the 12 headings"):
        read_flight(NAME, "\n".join(lines).encode(), MAPPED)


def test_a_million_rows_are_the_most(monkeypatch):
    monkeypatch.setattr("rehang.decode.flights.MOST_ROWS", 500)
    with pytest.raises(BadInput, match="more than 500 rows"):
        read_flight(NAME, Flight().data, MAPPED)


def test_nothing_unpacks_without_end(monkeypatch):
    monkeypatch.setattr("rehang.decode.flights.MOST_UNPACKED", 70_000)
    bomb = gzip.compress(Flight().data + b"0" * 200_000)
    with pytest.raises(BadInput, match="unpacks to more than 70,000 bytes"):
        read_flight(NAME, bomb, MAPPED)


def test_values_are_the_same_each_time(whole):
    assert read_flight(NAME, Flight().data, MAPPED) == whole
    assert not any(
        isinstance(one, np.generic) for one in whole["found"]["exhaust"]["odd"][0].values()
    )


HELD = {
    "of": "Ferry", "file": NAME, "sha256": "a" * 64, "size": 9, "rows": 2, "decimal": ".",
    "headings": list(HEADINGS), "columns": MAPPED["columns"], "units": MAPPED["units"],
    "found": {"span_s": 9.0, "running_s": 9, "every_s": 1, "missing": {}},
    "series": {"exhaust:1": "900/910 - 905/905"}, "by_method": 1,
}  # fmt: skip
# What a line of a stranger's folder may not say, and the sentence.
FALSE = [
    ({"sha256": "a"}, "not named by its sum"),
    ({"table": "../x.csv"}, "not named by its sum"),
    ({"decimal": "x"}, "Decimals are written with"),
    ({"rows": 1}, "two rows at the least"),
    ({"columns": {**MAPPED["columns"], "rpm": True}}, "A column is a whole number"),
    ({"columns": {**MAPPED["columns"], "rpm": 99}}, "has no column 100"),
    ({"units": {}}, "does not say its unit"),
    ({"series": {"wing": "1/2"}}, "no such column"),
    ({"series": {"rpm": "1/2 x"}}, "cannot be read"),
    ({"series": {"rpm": "- " * 1_001}}, "cannot be read"),
    ({"found": {}}, "not whole"),
    ({"found": {**HELD["found"], "span_s": 0}}, "not whole"),
    ({"found": {**HELD["found"], "exhaust": []}}, "not whole"),
    ({"found": {**HELD["found"], "exhaust": {"cylinders": {}, "odd": ["x"]}}}, "not whole"),
    ({"found": {**HELD["found"], "checks": [{"from_s": 1}]}}, "not whole"),
    ({"found": {**HELD["found"], "oil": {"oil_pressure": [[1, 2]]}}}, "of the oil is not whole"),
    ({"found": {**HELD["found"], "oil": 3}}, "of the oil is not whole"),
    ({"found": {**HELD["found"], "more": 1}}, "not whole"),
]


@pytest.mark.parametrize(("changed", "said"), [({}, ""), *FALSE])
def test_a_line_that_says_what_no_table_says_asks_nobody(changed, said):
    entry = new_entry(MonitorRead, at=datetime(2026, 12, 1, tzinfo=UTC), by="ada", **HELD | changed)
    facts = SimpleNamespace(layout=LAYOUT)
    if said:
        with pytest.raises(BadInput, match=said):
            check_monitor(entry, None, facts)
    else:
        check_monitor(entry, None, facts)


def test_what_a_table_says_is_a_line_of_the_book(whole):
    made = new_entry(
        MonitorRead, at=datetime(2026, 12, 1, tzinfo=UTC), by="ada", of="Ferry", file=NAME,
        **whole, **MAPPED,
    )  # fmt: skip
    check_monitor(made, None, SimpleNamespace(layout=LAYOUT))
    assert parse_line(made.line()).fields == made.fields
    assert len(made.line()) < 30_000
