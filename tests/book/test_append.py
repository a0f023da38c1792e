"""Adding to a book: all or nothing, once each, in a chain."""

from datetime import UTC, timedelta

import hypothesis
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import strategies as st

from rehang.book import models, queries, services, verifying
from rehang.trade.terms.chain import GENESIS, chain_problems, seal
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.terms.wording import is_blank
from tests.book.shop import KEPT, entry, note, ohms

pytestmark = pytest.mark.django_db


def lines(job) -> list[str]:
    return [one.line() for one in queries.entries(queries.job(job.slug))]


def test_an_entry_is_kept_with_its_place_in_the_chain(job, append):
    before = queries.entries(job)
    done = append(ohms("read-1"))

    (kept,) = done.entries
    assert (kept.id, kept.seq, kept.prev) == ("read-1", job.head_seq, before[-1].hash)
    assert kept.kept == KEPT
    assert done.repeated == ()
    assert queries.entries(queries.job("case"))[-1] == kept
    assert job.head_hash == kept.hash


def test_a_book_read_back_from_the_tables_is_the_book_that_was_kept(job, append):
    append(ohms("read-1"), note("note-1", "Wärmer als gestern: 31 °C, ≥ ½ left"))
    kept = queries.entries(job)
    queries.forget()
    assert queries.entries(queries.job("case")) == kept
    assert chain_problems(kept) == []
    assert kept[0].prev == GENESIS


def test_the_same_entry_sent_twice_is_kept_once(job, append):
    append(ohms("read-1"))
    again = append(ohms("read-1"), note("note-1"), note("note-1"))
    assert [one.id for one in again.entries] == ["note-1"]
    assert again.repeated == ("read-1", "note-1")
    ids = [one.id for one in queries.entries(job)]
    assert len(ids) == len(set(ids))


def test_nothing_but_repeats_changes_nothing(job, append):
    append(ohms("read-1"))
    before = lines(job)
    assert append(ohms("read-1")) == services.Appended((), ("read-1",))
    assert append() == services.Appended((), ())
    assert lines(job) == before


def test_one_id_with_other_content_is_refused_and_nothing_is_kept(job, append):
    append(ohms("read-1"))
    before = lines(job)
    sentence = (
        r"^The id read-1 stands in the book already with other content\. "
        r"Give this entry an id of its own\.$"
    )
    with pytest.raises(NotAllowed, match=sentence):
        append(note("note-1"), ohms("read-1", "1.3 kohm"))
    with pytest.raises(NotAllowed, match=r"^The id note-2 stands in the book already"):
        append(note("note-2", "one"), note("note-2", "other"))
    assert lines(job) == before
    assert models.Reading.objects.filter(job=job).count() == 1


def test_of_several_entries_all_are_kept_or_none(job, append):
    before = lines(job)
    with pytest.raises(BadInput, match=r'^entry 2: There is no hole "9T" in this layout\.'):
        append(note("note-1"), ohms("read-1", place="9T"), note("note-2"))
    assert lines(job) == before
    assert queries.job("case").head_seq == len(before)


REFUSED = [
    (
        ohms("bad-1", meter=""),
        "Resistance was written without a meter. Say which meter was used.",
    ),
    (
        ohms("bad-1", meter="XX"),
        'There is no meter "XX" on file. The meters are DM, AN, WG, WC, BT.',
    ),
    (
        ohms("bad-1", "1.2 thou"),
        '"1.2 thou" has the unit "thou", which is not one for resistance. Use kΩ, Ω.',
    ),
    (
        ohms("bad-1", "1,25 kohm"),
        '"1,25" has a comma that is not a thousands mark. Write the decimal with a point, as in 1.24.',
    ),
    (
        ohms("bad-1", "25 kohm"),
        "25.00 kΩ is beyond the top of DM's 20k range (20.00 kΩ). "
        "Key OL, or say which range was used.",
    ),
    (
        ohms("bad-1", range=""),
        "DM has several ranges (20k, 2k). Say which one was used.",
    ),
    (
        ohms("bad-1", item="plug:P9", place="2T"),
        '"plug:P9" has not come into this job. Write an entry of kind "removed" for it first.',
    ),
    (
        entry("removed", "bad-1", item="plug:P1", place="2T"),
        "P1 already came out of 1T; one serial cannot be in 2T too. Strike the wrong one.",
    ),
    (
        entry("removed", "bad-1", item="plug:P2", place="1T"),
        "P1 already came out of 1T; P2 cannot come out of it too. Strike the wrong one.",
    ),
    (
        ohms("bad-1", "9" * 40 + " ohm", meter="AN", range="x100"),
        f'"{"9" * 40} ohm" is more than anything a meter reads. Look at the digits again.',
    ),
    (note("bad-1", "x" * 4_001), '"text" has 4,001 characters; the book keeps at most 4,000.'),
    (note("bad-1", "a\0b"), "The entry has a NUL character in it. Take it out."),
    (
        entry("struck", "bad-1", entry="nothing-here", reason="slip"),
        'There is no entry "nothing-here" in this book.',
    ),
    (
        entry("note", "bad-1", text="later", minute=24 * 60),
        "This is dated 3 Nov 2026, 09:00, which is still to come. "
        "Set the clock of this device right.",
    ),
    (entry("note", "bad-1", by="cy", text="x"), "Cy reads this book and does not write in it."),
    (
        entry("note", "bad-1", by="dee", text="x"),
        "You are not in this job's list of people. Ask its owner to add you.",
    ),
    (
        entry("filed", "bad-1", file="limits.toml", sha256="0", text="x"),
        "A sheet is filed on its own page, not sent as an entry.",
    ),
]


@pytest.mark.parametrize(("bad", "sentence"), REFUSED, ids=lambda v: getattr(v, "kind", None))
def test_what_cannot_be_kept_is_refused_with_a_sentence(job, append, bad: Entry, sentence):
    before = lines(job)
    with pytest.raises((BadInput, NotAllowed), match=r".") as refusal:
        append(bad)
    assert str(refusal.value) == sentence
    assert lines(job) == before
    assert verifying.job_checked(job).changed == []


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        ({"hours": float("nan")}, "The entry has a number that is not finite. Write the number in digits."),
        ({"hours": float("inf")}, "The entry has a number that is not finite. Write the number in digits."),
        ({"note": "half \ud83d"}, "The entry has half a character in it. Type the text again."),
    ],
)  # fmt: skip
def test_what_cannot_be_written_out_again_is_no_entry_at_any_door(data, sentence):
    with pytest.raises(BadInput, match=r".") as refusal:
        entry("removed", "bad-1", item="plug:P2", place="2T", **data)
    assert str(refusal.value) == sentence


EARLIER_REFUSED = [
    ({"meter": ["DM"]}, 'An earlier reading needs "meter", as text.'),
    ({"range": 20}, 'An earlier reading needs "range", as text.'),
    ({"at_psi": "100"}, '"at_psi" of an earlier reading must be a whole number.'),
    ({"as": None}, 'An earlier reading needs "as", as text.'),
    ({"written": 1000}, 'An earlier reading needs "written", as text.'),
]


@pytest.mark.parametrize(("changed", "sentence"), EARLIER_REFUSED)
def test_an_earlier_reading_of_another_shape_is_refused(job, append, changed, sentence):
    reading = {"check": "resistance", "written": "1 kohm", "meter": "DM", "range": "20k"} | changed
    bad = entry("earlier", item="plug:P1", service="2025-01-01", readings=[reading])
    with pytest.raises(BadInput, match=r".") as refusal:
        append(bad)
    assert str(refusal.value) == sentence
    assert verifying.job_checked(job).changed == []


def test_nobody_writes_an_entry_in_another_persons_name(job, append):
    with pytest.raises(
        NotAllowed,
        match=r'^The entry says it is by "ben", but "ada" is signed in\. '
        r"Each person writes their own entries\.$",
    ):
        append(note("note-1", by="ben"), by="ada")


def test_a_seal_that_somebody_sends_is_not_taken_over(job, append):
    forged = seal(note("note-1"), seq=1, kept=KEPT, prev=GENESIS)
    with pytest.raises(NotAllowed, match=r"^The entry carries a seal already\. Send it without\.$"):
        append(forged)


def test_too_many_at_once_are_refused(job, append):
    with pytest.raises(
        BadInput, match=r"^501 entries came at once\. Send at most 500 at a time\.$"
    ):
        append(*(note(f"note-{n}") for n in range(501)))


def test_a_strike_marks_the_reading_and_may_come_with_it(job, append):
    append(ohms("read-1"), entry("struck", "strike-1", entry="read-1", reason="undone at the pad"))
    (row,) = models.Reading.objects.filter(job=job)
    assert row.struck
    assert queries.readings_of("plug:P1", "resistance") == []
    (past,) = queries.readings_of("plug:P1", "resistance", struck=True)
    assert (past.entry, past.value, past.meter, past.struck) == ("read-1", row.value, "DM", True)


def test_strike_takes_a_reason_and_leaves_the_entry(job, append):
    append(ohms("read-1"))
    with pytest.raises(BadInput, match=r"^reason: Striking a line takes a reason\. Write it\.$"):
        services.strike(job=job, entry_id="read-1", reason="  ", by="ada", at=KEPT)
    services.strike(
        job=job, entry_id="read-1", reason="wrong plug", by="ben", at=KEPT, confirmed="ben"
    )
    assert queries.state(job).struck["read-1"].by == "ben"
    assert "read-1" in {one.id for one in queries.entries(job)}
    with pytest.raises(NotAllowed, match=r"^This line is struck already\.$"):
        services.strike(job=job, entry_id="read-1", reason="again", by="ada", at=KEPT)


def test_put_away_takes_a_job_off_the_board_and_it_can_be_brought_back(job):
    services.write(
        job=job, kind="put_away", by="ada", at=KEPT, data={"reason": "sold"}, confirmed="ada"
    )
    assert (queries.jobs(), queries.jobs(put_away=True)) == ([], [job])
    services.write(
        job=job,
        kind="brought_back",
        by="ada",
        at=KEPT,
        data={"reason": "not sold"},
        confirmed="ada",
    )
    assert queries.jobs() == [job]
    assert len(queries.entries(job)) == job.head_seq


def test_the_index_holds_the_value_in_base_steps_and_the_time_in_utc(job, append):
    append(ohms("read-1", "1.2 kohm"), ohms("read-2", "ol", minute=1))
    first, second = queries.readings_of("plug:P1", "resistance")
    folded = queries.state(job).items["plug:P1"].of("resistance")
    assert [first.value, second.value] == [taken.reading.value for taken in folded]
    assert (second.value, second.state) == (None, "ol")
    assert first.at == folded[0].entry.at
    assert first.at.utcoffset() == timedelta(0)
    assert queries.readings_on("DM", since=first.at + timedelta(seconds=30)) == [second]


def test_a_stale_copy_of_the_job_appends_to_the_book_as_it_is_now(job):
    first, second = queries.job("case"), queries.job("case")
    services.append(job=first, entries=[note("note-1")], by="ada", at=KEPT)
    services.append(job=second, entries=[note("note-2")], by="ada", at=KEPT)
    assert (second.head_seq, verifying.job_checked(second).changed) == (first.head_seq + 1, [])


def test_the_time_kept_is_utc_whatever_zone_the_clock_gives(job, append):
    (kept,) = append(note("note-1"), at=KEPT.astimezone(note("x-id").at.tzinfo)).entries
    assert kept.kept == KEPT
    assert kept.kept.tzinfo == UTC
    assert verifying.job_checked(job).changed == []


TEXTS = st.text(
    alphabet=st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=60
)


@hypothesis.settings(
    max_examples=40, suppress_health_check=[hypothesis.HealthCheck.function_scoped_fixture]
)
@given(texts=st.lists(TEXTS.filter(lambda text: not is_blank(text)), min_size=1, max_size=4))
def test_any_text_comes_back_as_it_was_written(job_of_examples, texts):
    job, number = job_of_examples
    entries = [note(f"any-{next(number)}", text) for text in texts]
    services.append(job=job, entries=entries, by="ada", at=KEPT)
    queries.forget()
    stored = queries.entries(queries.job(job.slug))
    assert [one.data["text"] for one in stored[-len(texts) :]] == texts
    assert verifying.job_checked(job).changed == []


@pytest.fixture
def job_of_examples(job):
    """One job for all the examples of a property; each example appends under new ids."""
    from itertools import count

    return job, count()


def test_a_job_is_judged_with_one_question_and_then_with_none(
    job, append, django_assert_num_queries
):
    append(ohms("read-1"))
    queries.forget()
    with django_assert_num_queries(1):
        first = queries.judged(job)
    with django_assert_num_queries(0):
        assert queries.judged(job) is first


def test_an_append_takes_the_same_few_questions_however_long_the_book_is(
    job, append, django_assert_num_queries
):
    with CaptureQueriesContext(connection) as short:
        append(ohms("read-1"))
    append(*(note(f"note-{n}") for n in range(200)))
    with django_assert_num_queries(len(short)):
        append(ohms("read-2", minute=1))
    # Savepoint, job, who has access, entry, reading, job, savepoint.
    assert len(short) <= 7
