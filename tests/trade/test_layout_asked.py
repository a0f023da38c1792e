"""A layout drawn from a few answers: the shipped ones come out of it, and nothing faulty does."""

import re
import tomllib
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rehang.sheets import layouts
from rehang.sheets.asked_layout import asked_layout
from rehang.trade.facts.layout import layout_faults, layout_from, layout_remarks
from rehang.trade.facts.layout_asked import (
    ANSWERS,
    ARRANGEMENTS,
    firing_order_from,
    layout_asked,
    questions,
    settled,
)
from rehang.trade.terms.errors import BadInput

# What a mechanic would answer who has that engine before them.
SHIPPED = {
    "opposed-4": {
        "arrangement": "opposed", "cylinders": "4", "rows": "top-bottom", "first_side": "right",
        "numbering": "alternating", "firing_order": "1-3-2-4", "ignition": "crossed",
        "drains": "second",
    },
    "opposed-6": {
        "arrangement": "opposed", "cylinders": "6", "rows": "top-bottom", "first_side": "right",
        "numbering": "alternating", "firing_order": "1 4 5 2 3 6", "ignition": "crossed",
        "drains": "second",
    },
    "inverted-4": {
        "arrangement": "inverted", "cylinders": "4", "rows": "left-right", "first_side": "front",
        "firing_order": "1342", "ignition": "rows",
    },
    "radial-9": {
        "arrangement": "radial", "cylinders": "9", "rows": "front-rear",
        "firing_order": "1-3-5-7-9-2-4-6-8", "ignition": "rows-right", "drains": "lower",
    },
}  # fmt: skip


def made(**answers: str):
    return layout_from(layout_asked(settled(answers)))


@pytest.mark.parametrize("name", SHIPPED)
def test_answers_give_back_each_shipped_layout(name):
    assert layout_from(layout_asked(SHIPPED[name])) == layouts()[name]


def test_every_shipped_layout_has_its_answers():
    assert SHIPPED.keys() == layouts().keys()


@pytest.mark.parametrize("name", SHIPPED)
def test_the_usual_answers_are_those_of_the_shipped_layout(name):
    few = {key: SHIPPED[name][key] for key in ("arrangement", "cylinders")}
    assert made(**few) == layouts()[name]


COUNTS = [(kind, count) for kind, one in ARRANGEMENTS.items() for count in one.counts]


@pytest.mark.parametrize(("kind", "count"), COUNTS)
def test_each_number_of_cylinders_gives_a_layout_that_nobody_has_to_look_at_twice(kind, count):
    answers = settled({"arrangement": kind, "cylinders": str(count)})
    # Where no firing order is common none is offered, and a person writes it.
    answers["firing_order"] = answers["firing_order"] or "-".join(str(c + 1) for c in range(count))
    raw = layout_asked(answers)
    assert layout_faults(raw) == []
    remarks = layout_remarks(layout_from(raw))
    if kind in ("line", "v"):
        assert remarks.pop().startswith('There is no "drains_to"')
    assert remarks == []
    assert max(len(line) for line in layout_from(raw).tray) <= 6


def test_a_radial_locks_the_cylinders_that_hang_below_its_shaft():
    locked = {n: [int(h[:-1]) for h in made(arrangement="radial", cylinders=str(n)).locks]
              for n in (3, 5, 7, 9, 14)}  # fmt: skip
    # By the angles: 360 degrees shared, from the upright one; below is more than 90 from it.
    assert locked == {
        3: [2, 3], 5: [3, 4], 7: [3, 4, 5, 6], 9: [4, 5, 6, 7], 14: [5, 6, 7, 8, 9, 10, 11],
    }  # fmt: skip


def test_heads_down_every_cylinder_locks_with_one_plug_too():
    one = made(arrangement="inverted", cylinders="6", rows="one")
    assert one.locks == one.drains_to == ("1P", "2P", "3P", "4P", "5P", "6P")


def test_numbered_from_the_rear_on_the_left_the_propeller_is_right_of_the_tray():
    one = made(first_side="left-rear", cylinders="6")
    assert one.plan == {"left": (5, 3, 1), "right": (6, 4, 2)}
    assert one.prop_end == "right"
    assert one.ignition["left"] == ("1T", "3T", "5T", "2B", "4B", "6B")


def test_numbered_along_a_side_each_bank_is_a_run():
    one = made(arrangement="v", cylinders="12")
    assert one.plan == {"right": (1, 2, 3, 4, 5, 6), "left": (7, 8, 9, 10, 11, 12)}
    assert one.tray[0] == ("1A", "2A", "3A", "4A", "5A", "6A")
    # By the rule: the next to fire after 1 is 12, and the other row.
    assert one.rotation["1A"] == "12B"


def test_two_row_radials_fire_by_turns_of_their_rows():
    # From memory, no source: fourteen fire 1-10-5-14-9-4-13-8-3-12-7-2-11-6.
    fourteen = made(arrangement="radial", cylinders="14")
    assert fourteen.firing_order == (1, 10, 5, 14, 9, 4, 13, 8, 3, 12, 7, 2, 11, 6)
    assert fourteen.title == "Fourteen cylinders, two-row radial"
    order = made(arrangement="radial", cylinders="18").firing_order
    assert all((a - b) % 2 for a, b in pairwise(order))


def test_one_magneto_fires_every_plug():
    one = made(arrangement="opposed", rows="one")
    assert one.ignition == {"left": ("1P", "2P", "3P", "4P")}
    assert one.rotation == {"1P": "3P", "3P": "2P", "2P": "4P", "4P": "1P"}


@pytest.mark.parametrize(
    ("text", "cylinders", "sentence"),
    [
        ("", 4, "Write the firing order: it is on the engine's plate or in its manual."),
        ("one three", 4, 'The firing order "one three" is no list of cylinders. Write it as in 1-3-2-4.'),
        ("---", 4, 'The firing order "---" is no list of cylinders. Write it as in 1-3-2-4.'),
        ("1-3-2", 4, 'The firing order "1-3-2" leaves out 4. Each of the 4 cylinders fires once.'),
        (
            "1-3-3-7", 4,
            'The firing order "1-3-3-7" names what is no cylinder here: 7, names more than once 3 and '
            "leaves out 2 and 4. Each of the 4 cylinders fires once.",
        ),
    ],
)  # fmt: skip
def test_a_firing_order_that_misses_or_doubles_a_cylinder_is_said(text, cylinders, sentence):
    with pytest.raises(BadInput, match="firing order") as refused:
        firing_order_from(text, cylinders)
    assert (refused.value.sentence, refused.value.where) == (sentence, "firing_order")


@pytest.mark.parametrize(
    "text", ["1-4-5-2-3-6", "1 4 5 2 3 6", "145236", "1,4,5,2,3,6", "1*4*5*2*3*6"]
)
def test_a_firing_order_is_read_as_people_write_it(text):
    assert firing_order_from(text, 6) == (1, 4, 5, 2, 3, 6)


@pytest.mark.parametrize(
    ("change", "key", "sentence"),
    [
        ({"arrangement": ""}, "arrangement", "How do the cylinders stand: pick one of "),
        ({"arrangement": "rotary"}, "arrangement", '"rotary" does not go with the rest.'),
        ({"arrangement": "radial"}, "cylinders", '"4" does not go with the rest. Pick one of 3, 5, 7, '),
        ({"cylinders": "28"}, "cylinders", "Pick one of 2, 4, 6 or 8."),
        ({"rows": "one", "drains": "second"}, "drains", "Pick one of no hole or every hole."),
    ],
)  # fmt: skip
def test_an_answer_that_does_not_go_with_the_others_is_said_beside_it(change, key, sentence):
    with pytest.raises(BadInput, match=re.escape(sentence)) as refused:
        layout_asked({**SHIPPED["opposed-4"], **change})
    assert refused.value.where == key


def test_an_answer_that_is_no_longer_offered_becomes_the_usual_one():
    was = {**SHIPPED["opposed-4"], "arrangement": "radial"}
    del was["firing_order"]
    assert layout_from(layout_asked(settled(was))) == layouts()["radial-9"]


def refusal(answers: dict[str, str]) -> BadInput | None:
    try:
        layout_asked(answers)
    except BadInput as reason:
        return reason
    return None


@pytest.mark.parametrize("name", SHIPPED)
def test_answers_that_are_a_shipped_layout_name_it_and_write_no_file(name):
    assert asked_layout(SHIPPED[name]) == (name, "")


def test_answers_that_are_no_shipped_layout_write_their_file():
    name, text = asked_layout(settled({"arrangement": "radial", "cylinders": "7"}))
    raw = tomllib.loads(text)
    assert (name, raw["layout"], raw["title"]) == (
        "radial-7",
        "radial-7",
        "Seven cylinders, radial",
    )
    assert layout_from(raw) == made(arrangement="radial", cylinders="7")
    assert "# Oil runs down into these cylinders and locks them" in text


def test_a_layout_of_our_own_is_not_called_as_a_shipped_one():
    name, text = asked_layout({**SHIPPED["opposed-4"], "firing_order": "1-4-2-3"})
    raw = tomllib.loads(text)
    assert (name, raw["layout"]) == ("opposed-4-own", "opposed-4-own")
    assert raw["title"] == "Four cylinders, opposed, our own"
    assert raw["firing_order"] == [1, 4, 2, 3]


odd_text = st.text(max_size=12) | st.sampled_from(
    ["1-3-2-4", "0", "-1", "1-2-3", "99999999999", "١-٢"]
)
offered = {
    one.key: st.sampled_from([value for value, _ in one.choices] or [""])
    for kind in ARRANGEMENTS
    for one in questions({"arrangement": kind})
}
offered["arrangement"] = st.sampled_from(sorted(ARRANGEMENTS))
offered["cylinders"] = st.integers(0, 30).map(str)


@given(st.fixed_dictionaries({key: offered[key] | odd_text for key in ANSWERS}))
def test_any_answers_give_a_layout_without_faults_or_one_sentence(answers):
    for tried in (answers, settled(answers)):
        reason = refusal(tried)
        if reason is None:
            assert layout_faults(layout_asked(tried)) == []
        else:
            assert reason.where in ANSWERS
            assert reason.sentence.endswith(".")
            assert "\n" not in reason.sentence


@given(st.sampled_from(COUNTS), st.data())
def test_any_order_of_firing_gives_a_layout_by_the_rule(kind_and_count, data):
    kind, count = kind_and_count
    order = data.draw(st.permutations(range(1, count + 1)))
    few = {"arrangement": kind, "cylinders": str(count)}
    for key in ("rows", "first_side", "numbering", "ignition", "drains"):
        one = next(q for q in questions(few) if q.key == key)
        few[key] = data.draw(st.sampled_from([value for value, _ in one.choices]))
    raw = layout_asked({**few, "firing_order": "-".join(map(str, order))})
    assert layout_faults(raw) == []
    layout = layout_from(raw)
    assert layout.firing_order == tuple(order)
    for hole, onto in layout.rotation.items():
        at = order.index(layout.cylinder_of(hole))
        assert layout.cylinder_of(onto) == order[(at + 1) % count]
        assert (layout.row_of(onto) != layout.row_of(hole)) == (len(layout.rows) > 1)
