"""A job folder in and out of the store."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from rehang.book import models, queries, services, verifying
from rehang.sheets.folder import book_text, read_folder, seal_all, write_folder
from rehang.trade.doors.asjson import job_as_json
from rehang.trade.job.judging import judge
from rehang.trade.terms.errors import BadInput, NotAllowed
from tests.book.shop import KEPT, entry, folder, note, ohms, removed

pytestmark = pytest.mark.django_db


def test_a_loaded_folder_is_judged_as_the_folder_is(demo, demo_folder):
    today = date(2026, 10, 21)
    from_folder = job_as_json(judge(demo_folder.facts, demo_folder.entries, today=today))
    assert job_as_json(queries.judged(demo, today=today)) == from_folder
    assert {one["verdict"] for one in from_folder["items"]} == {
        "KEEP", "REWORK", "REJECT", "NOT YET",
    }  # fmt: skip


def test_each_file_is_filed_in_the_book_by_who_loaded_it(demo, demo_folder):
    filed = queries.revisions(demo)
    assert {one.name: one.text for one in filed} == dict(demo_folder.files)
    assert {(one.revision, one.by, one.at) for one in filed} == {(1, "marta", KEPT)}
    assert models.JobFile.objects.filter(job=demo).count() == len(filed)
    assert verifying.job_checked(demo).changed == []


def test_saved_and_loaded_elsewhere_and_saved_again_every_byte_is_the_same(demo, tmp_path):
    write_folder(tmp_path / "one", *queries.as_folder(demo))
    first = {path.name: path.read_bytes() for path in (tmp_path / "one").iterdir()}

    # The store of another machine: this one's job under a name that is out of the way.
    models.Job.objects.filter(pk=demo.pk).update(slug="moved-out")
    loaded = services.load_folder(
        folder=read_folder(tmp_path / "one"), by="ilse", at=KEPT + timedelta(days=3)
    )
    assert loaded.pk != demo.pk
    write_folder(tmp_path / "two", *queries.as_folder(loaded))
    second = {path.name: path.read_bytes() for path in (tmp_path / "two").iterdir()}
    assert second == first


def test_a_folder_loaded_twice_changes_nothing(demo, demo_folder):
    before = book_text(queries.entries(demo))
    again = services.load_folder(folder=demo_folder, by="tom", at=KEPT + timedelta(hours=1))
    assert again.pk == demo.pk
    assert book_text(queries.entries(again)) == before


def test_what_was_typed_at_the_end_of_a_saved_folder_is_added(job):
    stored = queries.entries(job)
    typed = folder(entries=[*stored, ohms("typed-1")])
    after = services.load_folder(folder=typed, by="ada", at=KEPT)
    assert [one.id for one in queries.entries(after)[len(stored) :]] == ["typed-1"]
    assert verifying.job_checked(after).changed == []


def test_a_folder_that_went_on_elsewhere_brings_its_entries_with_their_seals(job):
    elsewhere = seal_all([*queries.entries(job), note("there-1"), note("there-2")])
    after = services.load_folder(folder=folder(entries=elsewhere), by="ada", at=KEPT)
    assert list(queries.entries(after)) == elsewhere
    assert verifying.job_checked(after).changed == []


def test_a_folder_that_went_another_way_is_refused(job, append):
    elsewhere = seal_all([*queries.entries(job), note("there-1")])
    append(note("here-1"))
    before = book_text(queries.entries(job))
    with pytest.raises(
        NotAllowed,
        match=r"^case is on this board already, and its book and the folder's part at entry 6\. "
        r"Load the folder under another job name\.$",
    ):
        services.load_folder(folder=folder(entries=elsewhere), by="ada", at=KEPT)
    changed = [replace(queries.entries(job)[0], by="ben"), *queries.entries(job)[1:]]
    with pytest.raises(
        NotAllowed, match=r"entry 1 of its book is not the one in the folder \(id removed-P1\)\."
    ):
        services.load_folder(folder=folder(entries=changed), by="ada", at=KEPT)
    assert book_text(queries.entries(queries.job("case"))) == before


def test_a_seal_that_does_not_fit_the_chain_is_refused(db):
    sealed = seal_all([removed(), note("note-1")])
    broken = [sealed[0], replace(sealed[1], hash="0" * 64)]
    with pytest.raises(
        BadInput,
        match=r"^book\.jsonl, line 2: The seal of this entry does not match the book\. "
        r"Copy the folder again\.$",
    ):
        services.load_folder(folder=folder(entries=broken), by="ada", at=KEPT)
    assert queries.jobs(put_away=None) == []


def test_a_folder_with_one_bad_entry_loads_nothing(db):
    bad = [removed("P1", "1T"), removed("P1", "2T", entry_id="removed-again")]
    with pytest.raises(
        BadInput,
        match=r"^book\.jsonl, line 2: P1 already came out of 1T; one serial cannot be in 2T too\. Strike the wrong one\.$",
    ):
        services.load_folder(folder=folder(entries=bad), by="ada", at=KEPT)
    assert queries.jobs(put_away=None) == []
    assert models.Member.objects.count() == 0


def test_who_loads_a_folder_is_in_its_list_of_people(db):
    with pytest.raises(
        NotAllowed,
        match=r'^"zed" is not in the list of people\. Say who loads the folder: ada, ben, cy\.$',
    ):
        services.load_folder(folder=folder(), by="zed", at=KEPT)
    with pytest.raises(NotAllowed, match=r"^Cy reads this book and does not write in it\.$"):
        services.load_folder(folder=folder(), by="cy", at=KEPT)


def test_a_folder_without_a_file_that_the_book_files_is_refused(job):
    whole = folder(entries=queries.entries(job))
    checks = {**whole.files, "checks.toml": _plug_sheet()}
    services.load_folder(folder=replace(whole, files=checks), by="ada", at=KEPT)
    with pytest.raises(
        BadInput,
        match=r"^case: checks\.toml is filed in the book and is not in the folder\. "
        r"If the folder was half copied, copy it again\.$",
    ):
        services.load_folder(folder=whole, by="ada", at=KEPT)


def _plug_sheet() -> str:
    from rehang import sheets

    path = sheets.demo_path().parent / "checks" / "plug.toml"
    return path.read_text("utf-8")


def test_one_key_is_one_person_on_all_jobs(job):
    second = services.load_folder(folder=folder("second"), by="ben", at=KEPT)
    assert queries.jobs(person="ada") == [second, job]
    assert models.Member.objects.filter(key="ada").count() == 1
    other = folder("third", people='[[person]]\nkey = "ada"\nname = "Adam"\n', limits="")
    with pytest.raises(
        NotAllowed,
        match=r'^"ada" is Ada on this board and Adam in this list of people\. Give one of them another key\.$',
    ):
        services.load_folder(folder=other, by="ada", at=KEPT)
    assert len(queries.jobs(put_away=None)) == 2


def test_a_job_of_somebody_else_is_not_there(job):
    assert queries.job_for("case", "ada") == job
    for slug, person in (("case", "dee"), ("case", ""), ("nothing", "ada")):
        with pytest.raises(BadInput, match=rf'^There is no job "{slug}" on your board\.$'):
            queries.job_for(slug, person)
    with pytest.raises(BadInput, match=r'^There is no job "nothing" here\.$'):
        queries.job("nothing")


def test_the_time_a_hand_typed_entry_happened_is_kept_beside_when_it_was_loaded(db):
    loaded = services.load_folder(folder=folder(entries=[removed()]), by="ada", at=KEPT)
    (first, *_) = queries.entries(loaded)
    assert (first.at, first.kept) == (entry("note", "x-id", text="x").at, KEPT)


LIMIT = """
[[limit]]
item = "plug"
check = "electrode"
lower = "50 %"
document = "TV4 manual"
revision = "6"
entered_by = "ada"
entered_on = 2026-11-03
"""


def _limits(job) -> str:
    return queries.files(job)["limits.toml"]


def test_an_older_folder_does_not_take_limits_away_unsaid(job):
    old = folder(entries=queries.entries(job))
    newer = _limits(job).replace("entered_on = 2026-11-01", "entered_on = 2026-11-02") + LIMIT
    services.file_text(job=job, name="limits.toml", text=newer, by="ada", at=KEPT)
    before = queries.entries(queries.job(job.slug))
    with pytest.raises(NotAllowed, match=r".") as refusal:
        services.load_folder(folder=old, by="ada", at=KEPT)
    said = str(refusal.value)
    assert "limits.toml: limit plug electrode" in said
    assert "limits.toml as it stands" in said
    assert "Nothing has been loaded. If they are meant to go, add --yes" in said
    job.refresh_from_db()
    assert (_limits(job), queries.entries(job)) == (newer, before)

    changes = queries.load_changes(old)
    assert any(
        one.startswith("limits.toml: taken out: limit plug electrode") for one in changes.lines
    )
    after = services.load_folder(folder=old, by="ada", at=KEPT + timedelta(hours=1), agreed=True)
    assert _limits(after) == old.files["limits.toml"]
    # Agreed or not, what was written stays.
    assert queries.entries(after)[: len(before)] == before


def test_a_folder_loaded_again_at_the_same_instant_is_filed_again(job):
    old = folder(entries=queries.entries(job))
    newer = _limits(job).replace("entered_on = 2026-11-01", "entered_on = 2026-11-02") + LIMIT
    services.file_text(job=job, name="limits.toml", text=newer, by="ada", at=KEPT)
    services.load_folder(folder=old, by="ada", at=KEPT, agreed=True)
    services.file_text(job=queries.job(job.slug), name="limits.toml", text=newer, by="ada", at=KEPT)
    after = services.load_folder(folder=old, by="ada", at=KEPT, agreed=True)
    assert _limits(after) == old.files["limits.toml"]


def test_facts_that_a_folder_adds_are_loaded_without_a_word(job):
    whole = folder(entries=queries.entries(job))
    files = {**whole.files, "limits.toml": whole.files["limits.toml"] + LIMIT}
    after = services.load_folder(folder=replace(whole, files=files), by="ada", at=KEPT)
    assert _limits(after) == files["limits.toml"]


def test_typed_entry_that_breaks_a_rule_is_refused_by_load_with_its_line(job):
    late = entry("note", "typed-9", text="later", minute=24 * 60)
    typed = replace(
        folder(entries=[*queries.entries(job), late]), where={"typed-9": "book.jsonl, line 9"}
    )
    with pytest.raises(BadInput, match=r"^book\.jsonl, line 9: This is dated 3 Nov 2026"):
        services.load_folder(folder=typed, by="ada", at=KEPT)


def test_a_book_loaded_with_a_time_ahead_carries_on_once_that_entry_is_struck(job, append):
    stored = queries.entries(job)
    ahead = entry("note", "ahead-1", text="typed ahead", minute=24 * 60)
    loaded = services.load_folder(
        folder=folder(entries=seal_all([*stored, ahead])), by="ada", at=KEPT
    )
    with pytest.raises(NotAllowed, match=f"strike line {len(stored) + 1} with a reason"):
        services.append(job=loaded, entries=[note("note-9")], by="ada", at=KEPT)
    services.strike(job=loaded, entry_id="ahead-1", reason="the hour is wrong", by="ada", at=KEPT)
    services.append(job=loaded, entries=[note("note-9")], by="ada", at=KEPT)
    assert queries.entries(loaded)[-1].id == "note-9"
    assert verifying.job_checked(loaded).changed == []
