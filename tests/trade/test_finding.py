"""What can be looked for in a job, and in what order it is found."""

import re

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.job.judging import judge
from rehang.trade.telling.finding import asked_words, find, findable
from rehang.trade.terms.errors import BadInput


@pytest.fixture(scope="module")
def rows():
    folder = read_folder(demo_path())
    return findable(judge(folder.facts, folder.entries))


@pytest.mark.parametrize(
    ("asked", "kind", "words", "target"),
    [
        ("K0411", "item", "Plug K0411", "plug:K0411"),
        ("k041 1", "item", "Plug K0411", "plug:K0411"),
        # Typed with a Cyrillic letter that looks like K.
        ("К0411", "item", "Plug K0411", "plug:K0411"),
        ("5530", "item", "Magneto left", "magneto:left"),
        ("d6", "task", "D6 Plug gaps", "D6"),
        ("gaps", "task", "D6 Plug gaps", "D6"),
        ("gap 7-4", "limit", "Spark plug, Gap: 16 to 19 thou", ""),
        ("dm-2", "meter", "DM-2 Digital ohmmeter", "DM-2"),
        ("oduya", "person", "Marta Oduya", "marta"),
        ("DEMO-114-IA", "person", "Marta Oduya", "marta"),
        ("X-2019-07", "due", "Muffler directive X-2019-07", "muffler"),
        ("X-MRW7", "engine", "Engine TV4-2207", "TV4-2207"),
    ],
)
def test_a_thing_is_found_by_what_people_call_it(rows, asked, kind, words, target):
    found = find(rows, asked_words(asked))
    first = next(one for one in found if one.kind == kind)
    assert first.words == words
    assert target in ("", first.target)


def test_what_is_called_just_that_comes_before_what_has_it_somewhere(rows):
    found = find(rows, asked_words("F4"))
    assert (found[0].kind, found[0].key) == ("task", "F4")
    titles = [one.words for one in find(rows, asked_words("plug")) if one.kind == "task"]
    assert titles[0] != sorted(titles, key=len)[-1]


def test_an_item_says_its_hole_and_its_verdict(rows):
    one = next(row for row in rows if row.target == "plug:K0412")
    assert (one.detail, one.status) == ("hole 1B", "REJECT")


def test_each_word_has_to_be_there(rows):
    assert find(rows, asked_words("K0411 magneto")) == []


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ("  ", "Type a serial, a task, a name or any word."),
        ("x" * 61, "That is 61 characters long. Type 60 at most: a serial, a task, a name."),
    ],
)
def test_too_little_and_too_much_is_one_sentence(asked, sentence):
    with pytest.raises(BadInput, match=f"^{re.escape(sentence)}$"):
        asked_words(asked)
