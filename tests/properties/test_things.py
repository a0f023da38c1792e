"""A thing that is put into the text of a file is read back from it, and the rest stays as it was."""

import tomllib
from datetime import date, time

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from rehang.sheets.file_schemas import FILES
from rehang.sheets.things import ONE, THINGS, add, drop, put, things_in
from rehang.trade.declared.published import schema_of

PERSON, ENGINE = THINGS["person"], THINGS["engine"]

WORDS = st.text("ab é[]{}#=\"'\\\n.,", max_size=8)
DAYS = st.dates(date(1990, 1, 1), date(2060, 1, 1))
PLAIN = st.one_of(WORDS, st.integers(-99, 99), st.booleans(), DAYS, st.just(1.5), st.just(time(8)))
LISTS = st.lists(st.one_of(PLAIN, st.lists(PLAIN, max_size=2)), max_size=3)
ROWS = st.lists(
    st.dictionaries(st.sampled_from(["kind", "number", "sizes"]), PLAIN | LISTS, max_size=3),
    min_size=1,
    max_size=3,
)
VALUES = st.one_of(PLAIN, LISTS, ROWS, st.dictionaries(st.sampled_from("xyz"), PLAIN | LISTS))
FIELDS = st.dictionaries(st.sampled_from(["name", "role", "certificate", "away", "days"]), VALUES)
KEYS = st.lists(st.text("kl.[ é", min_size=1, max_size=4), min_size=1, max_size=4, unique=True)
# What stands between: comments, other tables, and text that only looks like a table's head.
BETWEEN = st.lists(
    st.sampled_from(
        [
            "\n",
            "# A line, [[person]] in it\n",
            "\n   # indented\n\n",
            '[[other]]\nsaid = """\n[[person]]\nkey = "no"\n"""\nof = [\n  [1, 2], # ]\n[3]]\n',
            "[powers]\n# of each\n\"A ] B\" = ['x', '''\n[[person]]\n''']\n",
            "[[other]]\n[[other.person]]\nkey = 1\n",
        ]
    ),
    max_size=2,
).map("".join)


def commented(text):
    """The text of a thing with a comment behind its head and one on a line of its own."""
    head, _, rest = text.partition("\n")
    return f"{head} # head\n# said\n{rest}"


@st.composite
def files(draw):
    """A file of people in pieces, which of them are people, and the people by their keys."""
    pieces, places, people = [draw(st.sampled_from(["", "# People\n", "a = 1 # first\n"]))], [], {}
    has_powers = False
    for key in draw(KEYS):
        between = draw(BETWEEN)
        # TOML has a table once.
        if has_powers or between.count("[powers]") > 1:
            between = between.replace("[powers]", "[[other]]")
        has_powers = has_powers or "[powers]" in between
        pieces.append(between)
        one = {"key": key} | draw(FIELDS)
        people[key] = one
        places.append(len(pieces))
        made = add("", PERSON, one)
        pieces.append(commented(made) if draw(st.booleans()) else made)
    return pieces, places, people


@given(files(), st.data())
def test_a_thing_that_is_put_is_read_back_and_the_rest_is_the_same(file, data):
    pieces, places, people = file
    text = "".join(pieces)
    assert things_in(text, PERSON) == people
    key = data.draw(st.sampled_from(sorted(people)))
    place = places[list(people).index(key)]
    new = {"key": data.draw(st.sampled_from([key, "new"]))} | data.draw(FIELDS)
    changed = put(text, PERSON, key, new)
    assert changed.startswith("".join(pieces[:place]))
    assert changed.endswith("".join(pieces[place + 1 :]))
    found = things_in(changed, PERSON)
    assert list(found.values()) == [new if one == key else people[one] for one in people]
    assert put(changed, PERSON, new["key"], new) == changed
    assert "# head" not in pieces[place] or new["key"] != key or "# head" in changed


@given(files(), FIELDS)
def test_a_new_thing_is_below_a_text_that_stays(file, fields):
    pieces, _, people = file
    text = "".join(pieces)
    new = {"key": "new"} | fields
    changed = put(text, PERSON, "new", new)
    assert changed.startswith(text)
    assert things_in(changed, PERSON) == people | {"new": new}


@given(files(), st.data())
def test_a_thing_that_is_dropped_takes_nothing_else_with_it(file, data):
    pieces, places, people = file
    key = data.draw(st.sampled_from(sorted(people)))
    place = places[list(people).index(key)]
    changed = drop("".join(pieces), PERSON, key)
    assert things_in(changed, PERSON) == {one: people[one] for one in people if one != key}
    rest = "".join(pieces[:place] + pieces[place + 1 :])
    assert [line for line in changed.split("\n") if line.strip()] == [
        line for line in rest.split("\n") if line.strip()
    ]


OWN = st.dictionaries(
    st.sampled_from(["title", "bore_in", "hours", "thresholds", "shop_hours", "inspect", "note"]),
    st.one_of(PLAIN, LISTS, st.dictionaries(st.sampled_from("xyz"), PLAIN | LISTS)),
)
ABOVE = st.sampled_from(["", "# An engine\nformat = 1 # one\n", 'job = """\n[[hose]]\n"""\n'])
BELOW = st.sampled_from(
    [
        "",
        "\n# hours\n[shop_hours]\nx = 1 # said\n\n[shop_hours.y]\nz = 2\n\n# hoses\n",
        "[thresholds]\nx = 0.5\n",
    ]
)
HOSES = st.sampled_from(["", '[[hose]]\nid = "A" # a\n', '[[hose]]\nid = "A"\n# end'])


@given(ABOVE, BELOW, HOSES, BELOW, OWN)
def test_what_a_file_says_of_itself_is_put_where_it_stood(above, below, hoses, last, new):
    text = above + below + hoses + ("\n" if hoses else "") + ("" if last == below else last)
    before = tomllib.loads(text)
    changed = put(text, ENGINE, ONE, new)
    assert things_in(changed, ENGINE) == ({ONE: new} if new else {})
    assert things_in(changed, THINGS["hose"]) == things_in(text, THINGS["hose"])
    assert hoses.strip() in changed
    own = things_in(text, ENGINE).get(ONE, {})
    assert put(text, ENGINE, ONE, own) == text
    assert before == tomllib.loads(put(changed, ENGINE, ONE, own))


@pytest.mark.parametrize(
    "text",
    [
        'person = [{ key = "a" }, { key = "b", certificate = [{ kind = "x" }] }]\nz = 1\n',
        '[[person]]\nkey = "a"\n[[person]]\nkey = "b"\n[powers]\n[[person.certificate]]\nkind = "x"\n',
    ],
)
def test_a_list_that_is_written_in_another_way_is_changed_too(text):
    changed = put(text, PERSON, "a", {"key": "a", "name": "A"})
    raw = tomllib.loads(text)
    raw["person"][0]["name"] = "A"
    assert tomllib.loads(changed) == raw
    assert list(things_in(drop(text, PERSON, "b"), PERSON)) == ["a"]


def test_two_that_nothing_tells_apart_are_both_there():
    text = '[[person]]\nkey = "a"\n\n[[person]]\nkey = "a"\nname = "second"\n'
    assert list(things_in(text, PERSON)) == ["a", "a (2)"]
    changed = put(text, PERSON, "a (2)", {"key": "b"})
    assert list(things_in(changed, PERSON)) == ["a", "b"]


def test_a_limit_is_told_by_what_makes_two_of_them_differ():
    text = tomlkit.dumps(
        {
            "limit": [
                {"item": "hose", "check": "age", "wants": {"type": "rubber"}, "upper": "72 mo"},
                {"item": "hose", "check": "age", "wants": {"type": "PTFE"}, "grade": "no age"},
                {"item": "plug", "check": "gap", "use": "setting", "entered_on": date(2026, 1, 2)},
            ]
        }
    )
    assert list(things_in(text, THINGS["limit"])) == [
        "hose age type=rubber",
        "hose age type=PTFE",
        "plug gap setting 2026-01-02",
    ]


def test_every_key_that_is_declared_is_of_one_kind_of_thing():
    for file, whole in FILES.items():
        kinds = [one for one in THINGS.values() if one.file == file]
        own = [key for one in kinds for key in ([one.table] if one.is_list else one.fields)]
        assert sorted(own) == sorted(schema_of(whole)["properties"])
        for one in kinds:
            assert set(one.key) <= set(one.fields), one.name
