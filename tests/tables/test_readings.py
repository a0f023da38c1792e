"""Readings out and in: the guess of the columns, every row with its reason, the round trip."""

from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rehang.decode.tables import read_table, write_table
from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.sheets.readings_table import (
    Settings,
    guess,
    plan,
    readings_table,
    target_from,
    target_text,
    wanted_checks,
)
from rehang.trade.job.judging import judge
from rehang.trade.terms.entries import new_entry
from rehang.trade.terms.errors import BadInput
from tests.book import shop
from tests.trade import cast

FACTS = shop.folder().facts
DAY = "2026-11-02"
NOW = cast.START.replace(hour=15)
ON = {"resistance": ("DM", "20k"), "gap": ("WG", ""), "spark": ("BT", "")}
OUT = [shop.removed("P1", "1T"), shop.removed("P2", "1B")]


def table(text: str):
    return read_table("t.csv", text.encode())


def planned(text: str, book=OUT, said=None, facts=FACTS, **settings):
    one = table(text)
    given_settings = {"by": "ada", "at": NOW, "meters": ON, "at_psi": 100} | settings
    return plan(one, guess(one, facts, said), facts, book, Settings(**given_settings))


def reasons(made) -> list[str]:
    return [f"{row.place}: {row.reason}" for row in made.rows if row.is_bad]


def reading(made, number: int = 0):
    entry = [e for e in made.entries if e.kind == "reading"][number]
    return {k: v for k, v in entry.content().items() if k not in ("id", "kind", "at", "by")}


LONG = "at,item,check,written,unit,meter,range\n"


def test_meters_of_the_cast_are_those_this_file_speaks_of():
    assert {"DM", "WG", "BT"} <= set(FACTS.meters)


# The guess


@pytest.mark.parametrize(
    ("heading", "target", "how"),
    [
        ("item", "item", "exact"),
        ("Serial No.", "item", "guessed"),
        ("HOLE", "place", "guessed"),
        ("Ohms", "resistance in ohms", "guessed"),
        ("Resistance, kΩ", "resistance in kΩ", "guessed"),
        ("Gap (thou)", "gap in thou", "guessed"),
        ("gap", "gap", "exact"),
        ("Electrode left %", "electrode in %", "guessed"),
        ("Cyl", "item:cylinder", "guessed"),
        ("Compression", "compression", "guessed"),
        ("with.state", "with.state", "exact"),
        ("Date", "at", "guessed"),
        ("Price", "-", "left out"),
        ("call", "-", "left out"),
        ("p_within", "-", "left out"),
    ],
)
def test_a_heading_is_taken_for(heading, target, how):
    columns = guess(table(f'"{heading}",zzz\nx,y\n'), FACTS)
    assert (target_text(columns[0].target), columns[0].how) == (target, how)


def test_of_two_columns_for_one_thing_the_first_is_taken_and_what_is_said_comes_before():
    columns = guess(table("Serial,Plug,Ohms\nP1,x,1\n"), FACTS)
    assert [target_text(c.target) for c in columns] == ["item", "-", "resistance in ohms"]
    columns = guess(table("Serial,Plug,Ohms\nP1,x,1\n"), FACTS, {"Plug": "item"})
    assert [target_text(c.target) for c in columns] == ["-", "item", "resistance in ohms"]


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"Gap": "gap"}, 't.csv: The table has no column "Gap". It has item, a, b.'),
        (
            {"a": "gap", "b": "gap in thou"},
            't.csv: "a" and "b" are both said to be gap. Leave one of them out.',
        ),
        ({"a": "item:boat"}, 'There is no check sheet for "boat". Use '),
        ({"a": "with.moon"}, 'No check asks for "moon". Use with.'),
        ({"a": "weight"}, '"weight" is not something a column can be. It can be at, time, by,'),
        ({"a": "gap in ohm"}, 'Gap is not written in "ohm". Use in, inch,'),
        ({"a": "spark in psi"}, 'Spark is not written in "psi". It takes no unit.'),
    ],
)
def test_what_is_said_of_a_column_is_checked(said, sentence):
    with pytest.raises(BadInput, match=r"[.,]") as refused:
        guess(table("item,a,b\nP1,1,2\n"), FACTS, said)
    assert str(refused.value).startswith(sentence)


def test_every_target_reads_back_from_its_text():
    for text in ("at", "item:cylinder", "with.state", "gap in thou", "resistance", "-"):
        assert target_text(target_from(text, FACTS)) == text


def test_checks_whose_rows_name_no_meter_are_asked_about():
    wide = table("item,Ohms,Gap\nP1,1,18\n")
    assert [c.name for c in wanted_checks(wide, guess(wide, FACTS), FACTS)] == ["resistance", "gap"]
    long = table("item,check,written\nP1,Gap,18\nP1,ohms,1\n")
    assert [c.name for c in wanted_checks(long, guess(long, FACTS), FACTS)] == ["gap", "resistance"]
    with_meter = table("item,check,written,meter\nP1,Gap,18,WG\n")
    assert wanted_checks(with_meter, guess(with_meter, FACTS), FACTS) == []


def test_a_table_without_readings_or_items_says_which_column_to_name():
    with pytest.raises(
        BadInput, match=r"^t.csv: No column holds readings\. Say which column is the check"
    ):
        planned("item,price\nP1,4\n")
    with pytest.raises(
        BadInput, match=r"^t.csv: No column says the item\. Say which column is the serial"
    ):
        planned("Ohms,price\n1,4\n")


# Rows that come in


def test_a_row_for_each_reading():
    made = planned(
        LONG + f"{DAY} 09:30,plug:P1,gap,18,thou,WG,\n{DAY} 09:31,p2,Ohms,1.18,,dm,20k\n"
    )
    assert reasons(made) == []
    assert reading(made) == {
        "item": "plug:P1", "check": "gap", "written": "18 thou", "place": "1T", "meter": "WG",
    }  # fmt: skip
    # A bare number gets the unit that the meter shows, so that it means one thing for ever.
    assert reading(made, 1) == {
        "item": "plug:P2", "check": "resistance", "written": "1.18 kohm", "place": "1B",
        "meter": "DM", "range": "20k",
    }  # fmt: skip
    assert made.entries[0].at.isoformat() == f"{DAY}T09:30:00-06:00"


def test_a_row_for_each_plug_with_a_column_for_each_check():
    made = planned("Hole,Ohms,Gap (thou),Spark,Price\n1t,1180,18,s,4\n1B,,-,steady,4\n")
    assert reasons(made) == []
    assert [(r.line, r.standing) for r in made.rows] == [(2, "new")] * 3 + [(3, "new")]
    assert [reading(made, n)["written"] for n in range(4)] == [
        "1180 ohms",
        "18 thou",
        "s",
        "steady",
    ]
    assert reading(made, 3) == {
        "item": "plug:P2", "check": "spark", "written": "steady", "place": "1B", "meter": "BT",
        "at_psi": 100,
    }  # fmt: skip


def test_a_day_and_a_time_may_stand_apart():
    made = planned("Day,Time of day,item,check,written,meter\n" + f"{DAY},9:30,P1,gap,18,WG\n")
    assert reasons(made) == []
    assert made.entries[0].at.isoformat() == f"{DAY}T09:30:00-06:00"


def test_dates_of_a_workbook_are_understood():
    data = _workbook(
        ["at", "item", "check", "written", "meter"],
        [datetime(2026, 11, 2, 9, 30), "P1", "gap", 18, "WG"],  # noqa: DTZ001 - as a workbook has it
    )
    one = read_table("t.xlsx", data)
    made = plan(one, guess(one, FACTS), FACTS, OUT, Settings(by="ada", at=NOW))
    assert reasons(made) == []
    assert made.entries[0].at.isoformat() == f"{DAY}T09:30:00-06:00"
    assert reading(made)["written"] == "18 thou"


def _workbook(*rows) -> bytes:
    from tests.tables.test_files import saved, workbook

    return saved(workbook(*rows))


def test_a_date_where_a_reading_should_be_is_refused_with_its_cell():
    data = _workbook(
        ["item", "gap"],
        ["P1", datetime(2026, 7, 8)],  # noqa: DTZ001 - as a workbook has it
        ["P2", 18],
    )
    one = read_table("t.xlsx", data)
    made = plan(one, guess(one, FACTS), FACTS, OUT, Settings(by="ada", at=NOW, meters=ON))
    assert reasons(made) == [
        "B2: B2 holds a date where there should be text. A spreadsheet turns 7/8 into one; set "
        "the column to text and write it again."
    ]


def test_the_newest_reading_is_written_last_whatever_the_order_of_rows():
    made = planned(LONG + f"{DAY} 10:30,P1,gap,19,thou,WG,\n{DAY} 09:30,P1,gap,18,thou,WG,\n")
    assert [reading(made, n)["written"] for n in (0, 1)] == ["18 thou", "19 thou"]


def test_a_plug_is_brought_in_only_when_that_is_asked_for():
    text = "Serial,Hole,gap\nP9,2T,18\nP9,2T,19\n"
    first = planned(text)
    assert reasons(first)[0] == (
        "line 2: P9 has not come into this job. Enter it as out of 2T first, or say that plugs in "
        "the table are to be brought in."
    )
    assert not first.can_be_kept
    made = planned(text, bring_in=True)
    assert [e.kind for e in made.entries] == ["removed", "reading", "reading"]
    assert made.can_be_kept


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("P9,,18", "P9 has not come into this job, and the row names no hole it came out of."),
        ("P9,1T,18", "P1 came out of 1T; P9 cannot have come out of it too."),
        ("P9,9T,18", 'There is no hole "9T" in this layout. Its holes are '),
        (",2T,18", "No plug has come out of 2T in this job. Write its serial."),
        (",,18", "The row names no item and no hole. Write one of them."),
        ("P1,1B,18", "P1 is in 1T, not in 1B. Write where it moved to, or mend the hole."),
        ("boat:1,,18", 'There is no check sheet for "boat:1". Use '),
    ],
)
def test_a_plug_that_cannot_be_is_refused(row, reason):
    made = planned(f"Serial,Hole,gap\n{row}\n", bring_in=True)
    assert reasons(made)[0].startswith(f"line 2: {reason}")


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("x,P1,gap,18,,WG,", '"x" is not a date that reads one way only. Write year, month and '),
        ("10/12/2026 9:05,P1,gap,18,,WG,", '"10/12/2026 9:05" is not a date that reads one way'),
        ("2026-13-01 09:05,P1,gap,18,,WG,", '"2026-13-01 09:05" is not a date that reads one way'),
        (f"{DAY},P1,gap,18,,WG,", f'"{DAY}" is a day with no time. Write both, as in '),
        (
            "2026-11-01 01:30,P1,gap,18,,WG,",
            '"2026-11-01 01:30" lies in the hour when the clocks of America/Chicago change. '
            "Write its offset too, as in -05:00.",
        ),
        (f"{DAY} 23:30,P1,gap,18,,WG,", "It is dated 2026-11-02T23:30-06:00, which is still to"),
        (f"{DAY} 09:30,P1,gap,,,WG,", "Nothing is written for the reading. Fill the cell, or"),
        (f"{DAY} 09:30,P1,,18,,WG,", "The row says no check. Write which one it is a reading of."),
        (f"{DAY} 09:30,P1,weight,18,,WG,", 'There is no check "weight". The checks are '),
        (f'{DAY} 09:30,P1,gap,"1,8",,WG,', '"1,8" has a comma that is not a thousands mark. '),
        (f"{DAY} 09:30,P1,gap,18,ohm,WG,", '"18 ohm" has the unit "ohm", which is not one for '),
        (f"{DAY} 09:30,P1,gap,18,thou,XX,", 'There is no meter "XX" on file. The meters are '),
        (f"{DAY} 09:30,P1,gap,18,thou,DM,20k", "DM does not measure length; it measures "),
        (f"{DAY} 09:30,P1,ohms,1.2,kohm,DM,", "DM has several ranges (20k, 2k). Say which one"),
        (f"{DAY} 09:30,P1,ohms,30,kohm,DM,20k", "30.00 kΩ is beyond the top of DM's 20k range "),
        (
            f"{DAY} 09:30,P1,gap,{'9' * 400},in,WG,",
            f'"{"9" * 400} in" is more than anything a meter',
        ),
        (f"{DAY} 09:30,P1,spark,maybe,,BT,", '"maybe" is no answer to spark. Say steady, '),
        (f"{DAY} 09:30,P1,look,clean,,,", 'There is no check "look". The checks are '),
        (f"{DAY} 09:30,P1,gap,18,thou,WG,,9", "There is 1 cell more here than there are headings."),
    ],
)
def test_a_row_that_cannot_be_kept_says_why_and_holds_the_others_back(row, reason):
    good = f"{DAY} 09:40,P2,gap,18,thou,WG,\n"
    made = planned(f"{LONG}{row}\n{good}", meters={})
    if "look" in row:
        reason = "Look, 10× is not a reading. Write what was seen as a finding word."
    assert reasons(made)[0].startswith(f"line 2: {reason}")
    assert len(made.bad) == 1
    assert not made.can_be_kept


def test_every_bad_row_is_listed():
    made = planned(LONG + "".join(f"{DAY} 09:30,P1,gap,{w},,WG,\n" for w in ("a", "18", "b", "c")))
    assert [row.line for row in made.bad] == [2, 4, 5]


def test_a_row_by_somebody_else_is_refused_where_each_brings_in_their_own():
    text = "by,item,check,written,meter\nBen,P1,gap,18,WG\n"
    assert [e.by for e in planned(text).entries] == ["ben"]
    assert reasons(planned(text, own=True)) == [
        'line 2: The row is by "Ben", and you are Ada. Each person brings in their own readings; '
        "leave the column out to write them as yours."
    ]
    assert reasons(planned("by,item,check,written,meter\nCy,P1,gap,18,WG\n")) == [
        "line 2: Cy reads this book and does not write in it."
    ]
    assert reasons(planned("by,item,check,written,meter\nDee,P1,gap,18,WG\n")) == [
        "line 2: You are not in this job's list of people. Ask its owner to add you."
    ]


def test_an_unlikely_number_waits_until_it_is_said_to_stand():
    # A needle is read off its scale and multiplied by the range: 118 kΩ.
    text = "item,Ohms\nP1,1180\n"
    on = {"resistance": ("AN", "x100")}
    made = planned(text, meters=on)
    assert [row.standing for row in made.rows] == ["unlikely"]
    assert made.rows[0].says.endswith(", which is 118.00 kΩ")
    assert reasons(made)[0] == (
        "line 2: It is unlikely. It is outside what is usual for any part of this kind. Mend it, "
        "or say that unlikely numbers are kept as they stand."
    )
    kept = planned(text, meters=on, keep_unlikely=True)
    assert reading(kept)["kept_as_keyed"] is True
    assert kept.can_be_kept


# What is in the book already


def test_the_same_table_comes_in_once():
    text = "item,gap,Ohms\nP1,18,1180\nP1,18,1180\n"
    first = planned(text)
    assert first.count("new") == 4, "two rows that say the same are two readings"
    later = planned(text, [*OUT, *first.entries], at=NOW + timedelta(days=1))
    assert [row.standing for row in later.rows] == ["in the book"] * 4
    assert later.entries == ()
    assert not later.can_be_kept


def test_an_id_with_other_content_is_refused():
    book = [*OUT, shop.ohms("reading-1")]
    text = "id,at,by,item,place,check,written,unit,meter,range\n"
    same = "reading-1,2026-11-02T09:00:00-05:00,ada,plug:P1,1T,resistance,{},kohm,DM,20k\n"
    assert [r.standing for r in planned(text + same.format("1.2"), book).rows] == ["in the book"]
    assert reasons(planned(text + same.format("1.3"), book)) == [
        "line 2: The id reading-1 stands in the book already with other content. Take the id out, "
        "so that the row is a reading of its own."
    ]
    twice = text + (same.format("1.2") * 2).replace("reading-1", "reading-2")
    assert reasons(planned(twice, book)) == [
        "line 3: The id reading-2 stands at line 2 too. Take one row out."
    ]


def test_an_older_reading_does_not_take_the_place_of_a_newer_one():
    newer = shop.entry(
        "reading", "gap-1", minute=60, item="plug:P1", check="gap", written="19 thou", meter="WG"
    )
    made = planned(LONG + f"{DAY} 08:30,P1,gap,18,thou,WG,\n", [*OUT, newer])
    assert reasons(made) == [
        "line 2: The book has a later gap of P1 (2 Nov 2026, 09:00). Added now, this older one "
        "would count in its place."
    ]


def test_a_reading_from_before_a_rework_does_not_count_as_taken_since():
    cleaned = shop.entry("reworked", "clean-1", minute=60, item="plug:P1", act="clean")
    made = planned(LONG + f"{DAY} 08:30,P1,gap,18,thou,WG,\n", [*OUT, cleaned])
    assert reasons(made) == [
        "line 2: P1 was cleaned on 2 Nov 2026, 09:00, after this was read. Added now, it would "
        "count as read since."
    ]


# Out, and the round trip


@pytest.fixture(scope="module")
def demo():
    return read_folder(demo_path())


def judged_of(folder, entries):
    return judge(folder.facts, entries)


def same_readings(entries) -> list[dict]:
    return [e.content() for e in entries if e.kind == "reading"]


@pytest.mark.parametrize("format_", ["csv", "xlsx"])
def test_readings_of_the_demo_come_back_the_same_in_an_empty_copy(demo, format_):
    headings, rows = readings_table(judged_of(demo, demo.entries))
    one = read_table(f"t.{format_}", write_table(format_, headings, rows, "readings"))
    columns = guess(one, demo.facts)
    assert {c.how for c in columns} == {"exact", "left out"}
    last = demo.entries[-1].at
    made = plan(one, columns, demo.facts, (), Settings(by="marta", at=last, bring_in=True))
    assert reasons(made) == []
    assert same_readings(made.entries) == same_readings(demo.entries)
    again = readings_table(judged_of(demo, made.entries))
    assert [dict(zip(headings, r, strict=True))["written"] for r in rows] == [
        dict(zip(again[0], r, strict=True))["written"] for r in again[1]
    ]


def test_readings_of_the_demo_are_in_its_book_already(demo):
    headings, rows = readings_table(judged_of(demo, demo.entries))
    one = read_table("t.csv", write_table("csv", headings, rows, "readings"))
    made = plan(
        one, guess(one, demo.facts), demo.facts, demo.entries,
        Settings(by="marta", at=demo.entries[-1].at),
    )  # fmt: skip
    assert {row.standing for row in made.rows} == {"in the book"}
    assert len(made.rows) == len(same_readings(demo.entries)) > 50


def test_the_table_says_what_each_reading_comes_to(demo):
    headings, rows = readings_table(judged_of(demo, demo.entries))
    found = [dict(zip(headings, r, strict=True)) for r in rows]

    def of(item: str, check: str) -> list[dict[str, str]]:
        return [r for r in found if (r["item"], r["check"]) == (item, check)]

    # K0417's spark before it was cleaned is void; K0412 is open on a clean contact.
    first = of("plug:K0417", "spark")[0]
    assert first["call"] == "VOID"
    assert first["void"].startswith("taken before it was ")
    assert of("plug:K0412", "resistance")[-1]["call"] == "OUT"
    gap = of("plug:K0411", "gap")[0]
    assert gap["limit"] == "16 to 19 thou"
    assert 0 <= float(gap["p_within"]) <= 1


def test_a_struck_reading_goes_out_with_its_reason_and_comes_in_struck():
    book = [
        *OUT,
        shop.ohms("reading-1"),
        shop.entry("struck", "struck-1", minute=5, entry="reading-1", reason="=wrong plug"),
    ]
    headings, rows = readings_table(judge(FACTS, book))
    assert rows[0][headings.index("struck")] == "=wrong plug"
    assert rows[0][headings.index("call")] == ""
    one = read_table("t.csv", write_table("csv", headings, rows, "readings"))
    made = plan(one, guess(one, FACTS), FACTS, OUT, Settings(by="ada", at=NOW))
    assert [e.kind for e in made.entries] == ["reading", "struck"]
    state = judge(FACTS, [*OUT, *made.entries]).state
    assert state.struck["reading-1"].data["reason"] == "=wrong plug"


NOTES = st.text(
    st.characters(exclude_categories=["Cs"], exclude_characters="\0"), min_size=1, max_size=20
)
GAPS = st.sampled_from(["18 thou", "18", ".018 in", "18+19 thou", "17/19", "-", "unstable"])
OHMS = st.sampled_from(["1.20 kohm", "1,240 ohm", "OL", "short", "1.2k", "open"])


@st.composite
def books(draw):
    entries = list(OUT)
    for number in range(draw(st.integers(1, 8))):
        data = draw(
            st.one_of(
                st.fixed_dictionaries(
                    {"check": st.just("gap"), "written": GAPS, "meter": st.just("WG")}
                ),
                st.fixed_dictionaries(
                    {
                        "check": st.just("resistance"),
                        "written": OHMS,
                        "meter": st.just("DM"),
                        "range": st.sampled_from(["20k", "2k"]),
                    }
                ),
                st.fixed_dictionaries(
                    {
                        "check": st.just("spark"),
                        "written": st.sampled_from(["steady", "i", "none"]),
                        "meter": st.just("BT"),
                        "at_psi": st.integers(0, 999),
                    }
                ),
            )
        )
        more = draw(
            st.fixed_dictionaries(
                {},
                optional={
                    "note": NOTES,
                    "set": NOTES,
                    "kept_as_keyed": st.booleans(),
                    "hidden_first": st.booleans(),
                },
            )
        )
        item, place = draw(st.sampled_from([("plug:P1", "1T"), ("plug:P2", "1B")]))
        entries.append(
            new_entry(
                "reading",
                at=cast.START + timedelta(minutes=number + 1),
                by=draw(st.sampled_from(["ada", "ben"])),
                id=f"reading-{number}",
                item=item,
                place=draw(st.sampled_from([place, place.lower(), ""])),
                **(data | more),
            )
        )
    return entries


@given(books(), st.sampled_from(["csv", "xlsx"]))
def test_any_readings_come_back_the_same(book, format_):
    headings, rows = readings_table(judge(FACTS, book))
    try:
        data = write_table(format_, headings, rows, "readings")
    except BadInput as refused:
        assert "Save as CSV." in str(refused)  # noqa: PT017 - only some texts are refused
        return
    one = read_table("t", data)
    made = plan(one, guess(one, FACTS), FACTS, OUT, Settings(by="ada", at=NOW))
    assert reasons(made) == []
    assert same_readings(made.entries) == same_readings(book)
