"""A kind of entry is a class: what a line may say, what it comes to, and how it is said."""

from dataclasses import FrozenInstanceError, fields
from types import ModuleType

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.job.judging import judge
from rehang.trade.telling.sentences import entry_words
from rehang.trade.terms.bounds import check_bounds
from rehang.trade.terms.entries import entry_from, is_a, new_entry, of_kind, parse_line
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.terms.kinds import register
from rehang.trade.terms.kinds.fields import (
    EngineHours,
    Fields,
    Holds,
    ItemId,
    Remark,
    TableField,
    entry_kind,
    fields_of,
)
from rehang.trade.terms.kinds.items import Dropped, Moved, Overheated, Removed, Replaced, Spoilt
from rehang.trade.terms.kinds.register import CLASSES, FIELDS, KINDS
from rehang.trade.terms.kinds.shop import Unread
from rehang.trade.terms.kinds.torque import Torqued

from .cast import START, Bench

DEMOS = tuple(sorted(one.name for one in demo_path().parent.glob("demo*")))


def folder(name):
    return read_folder(demo_path().parent / name)


@entry_kind("polished")
class Polished(Fields):
    """A kind that no book has: what one class is enough for."""

    item: ItemId
    strokes: int
    at_hours: EngineHours | None = None
    with_: TableField | None = None
    note: Remark = ""

    def said(self, names):
        return f"{self.item} was polished."


def test_one_class_says_what_a_line_of_its_kind_may_have():
    found = fields_of(Polished)
    assert {name: (one.json_type, one.needed) for name, one in found.items()} == {
        "under": ("text", False),
        "clock": ("text", False),
        "item": ("text", True),
        "strokes": ("whole", True),
        "at_hours": ("number", False),
        "with": ("table", False),
        "note": ("text", False),
    }
    assert found["at_hours"].holds == Holds(least=0, most=200_000)
    assert found["item"].holds.longest == 120
    assert found["note"].holds.may_be_blank


def test_each_class_of_a_kind_is_known_once_by_its_name():
    declared = {
        one
        for module in vars(register).values()
        if isinstance(module, ModuleType)
        for one in vars(module).values()
        if isinstance(one, type) and issubclass(one, Fields) and one.kind
    }
    assert sorted(one.kind for one in declared) == sorted(CLASSES)
    assert all(one.kind == name for name, one in CLASSES.items())
    assert set(CLASSES) - set(KINDS) == {Unread.kind}


def test_nobody_writes_what_stands_for_a_line_that_cannot_be_shown():
    with pytest.raises(BadInput, match=r'^"unread" is not a kind of entry'):
        new_entry(Unread, at=START, by="ada", why="")


@pytest.mark.parametrize("name", DEMOS)
def test_each_line_of_a_book_is_read_into_the_class_of_its_kind_and_written_as_it_was(name):
    for entry in folder(name).entries:
        typed = {
            one.name.removesuffix("_"): getattr(entry.fields, one.name)
            for one in fields(entry.fields)
        }
        assert type(entry.fields) is CLASSES[entry.kind]
        assert {key: typed[key] for key in entry.data} == dict(entry.data)
        again = parse_line(entry.line())
        assert (again.hash, again.line()) == (entry.hash, entry.line())
        assert again.fields == entry.fields


def test_a_field_that_a_line_leaves_out_has_its_default():
    entry = new_entry(Moved, at=START, by="ada", item="plug:P1", place="1T")
    assert entry.fields == Moved(item="plug:P1", place="1T")
    assert (entry.fields.note, entry.fields.under) == ("", "")
    assert entry.line().count("note") == 0


def test_an_empty_text_that_an_old_line_has_stays_on_it():
    raw = {"id": "old-1", "kind": "moved", "at": START.isoformat(), "by": "ada"}
    raw |= {"item": "plug:P1", "place": "1T", "note": ""}
    assert '"note":""' in entry_from(raw).line()


def test_a_name_that_python_keeps_for_itself_stands_as_it_is_on_a_line():
    entry = new_entry(Replaced, at=START, by="ada", item="plug:N1", place="1T", **{"for": "P1"})
    assert entry.fields.for_ == "P1"
    assert '"for":"P1"' in entry.line()


def test_a_whole_number_stays_one_where_any_number_may_stand():
    entry = new_entry("removed", at=START, by="ada", item="plug:P1", place="1T", hours=3)
    assert '"hours":3,' in entry.line()


def test_what_was_written_cannot_be_changed():
    entry = new_entry(Moved, at=START, by="ada", item="plug:P1", place="1T")
    with pytest.raises(FrozenInstanceError, match="place"):
        entry.fields.place = "1B"


def test_a_class_above_several_kinds_stands_for_all_of_them():
    dropped = new_entry(Dropped, at=START, by="ada", item="plug:P1")
    hot = new_entry(Overheated, at=START, by="ada", item="plug:P1")
    moved = new_entry(Moved, at=START, by="ada", item="plug:P1", place="1T")
    assert of_kind([dropped, moved, hot], Spoilt) == [dropped, hot]
    assert of_kind([dropped, moved, hot], Dropped, Moved) == [dropped, moved]
    assert is_a(dropped, Spoilt)
    assert not is_a(moved, Spoilt, Torqued)


def test_a_bound_is_that_of_the_kind_and_its_field():
    long = new_entry(
        "reading", at=START, by="ada", item="plug:P1", check="gap", written="18", place="1" * 21
    )
    with pytest.raises(BadInput, match=r'^"place" has 21 characters; the book keeps at most 20\.$'):
        check_bounds(long)
    wide = new_entry("moved", at=START, by="ada", item="plug:P1", place="1" * 21)
    check_bounds(wide)
    many = new_entry(
        "torqued", at=START, by="ada", item="engine:x", what="x", meter="M", of=2, passes=21, done=2
    )
    with pytest.raises(BadInput, match=r'^"passes" is 21; it lies between 1 and 20.'):
        check_bounds(many)


def test_a_kind_says_what_is_missing_in_its_own_words():
    raw = {"id": "need-1", "kind": "needed", "at": START.isoformat(), "by": "ada"}
    raw |= {"part": "plug", "number": 1, "reason": " "}
    with pytest.raises(NotAllowed, match=r"^Write why plug is needed\.$"):
        check_bounds(entry_from(raw))


@pytest.mark.parametrize("name", DEMOS)
def test_each_line_of_a_book_is_said_as_a_sentence(name):
    held = folder(name)
    judged = judge(held.facts, held.entries)
    for entry in held.entries:
        said = entry_words(entry, judged)
        assert said.endswith((".", "!", "?")), said


def test_each_kind_is_said_by_itself_or_where_the_job_is_known():
    import inspect

    from rehang.trade.telling import sentences

    told_above = inspect.getsource(sentences._said)
    silent = [
        one.__name__
        for one in CLASSES.values()
        if one.said is Fields.said
        and f"{one.__name__}(" not in told_above
        and f", {one.__name__})" not in told_above
    ]
    assert silent == []
    assert all(FIELDS[kind] for kind in CLASSES)


def test_a_plug_that_comes_out_again_keeps_its_hours_until_others_are_written():
    bench = Bench()
    first = bench.entries[0]
    bench.entries[0] = new_entry(Removed, at=first.at, by="ada", **{**first.data, "hours": 400.3})
    bench.write("fitted", place="1T")
    bench.write("removed", place="1T")
    assert bench.judged().state.items["plug:P1"].hours == 400.3
    bench.write("fitted", place="1T")
    bench.write("removed", place="1T", hours=402)
    assert bench.judged().state.items["plug:P1"].hours == 402
