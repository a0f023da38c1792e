"""Stories and forecasts over the jobs of a store."""

import pytest

from rehang.book import outlook, queries, services
from rehang.sheets.folder import read_folder
from rehang.sheets.simulate import Plan, write_shops
from tests.book.shop import KEPT, entry, folder, ohms, removed
from tests.trade import cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(tmp_path):
    """Two engines with three services each, all loaded."""
    paths = write_shops(tmp_path / "out", Plan(seed=6, engines=2, services=3, faults=0.2))
    return [
        services.load_folder(folder=read, by=next(iter(read.facts.people)), at=KEPT)
        for read in map(read_folder, paths)
    ]


def test_cylinder_is_followed_through_the_jobs_of_its_engine_alone(shop):
    told = outlook.story_of(shop[2], "cylinder:1")
    assert told.jobs == tuple(job.slug for job in shop[:3])
    compression = told.of("compression")
    assert len(compression.trend) == 3


def test_plug_is_found_by_its_serial_and_each_service_told_once(shop):
    newest = queries.judged(shop[2])
    item = next(
        one.item
        for one in newest.items
        if one.kind == "plug" and one.state.removed and len(one.state.earlier) == 3
    )
    told = outlook.story_of(shop[2], item)
    assert told.jobs == tuple(job.slug for job in shop[:3])
    found = told.of("resistance")
    days = [point.on for point in found.trend]
    assert len(days) == len(set(days))
    assert len(told.flights) == 3


def test_person_reads_only_the_stories_of_jobs_they_are_in(shop):
    assert outlook.story_of(shop[2], "cylinder:1", person="nobody").jobs == (shop[2].slug,)


def test_forecasts_draw_on_the_engine_s_other_jobs_and_on_other_engines(shop):
    alone = outlook.forecasts_of(shop[2], fleet=False)
    lent = outlook.forecasts_of(shop[2])
    assert lent.opening == alone.opening
    assert {(o.item, o.check) for o in lent.outlooks} == {(o.item, o.check) for o in alone.outlooks}
    spans = [(a.low80, b.low80) for a, b in zip(alone.outlooks, lent.outlooks, strict=True)]
    assert any(one != other for one, other in spans)
    # The same book on the same day is not worked out twice.
    assert outlook.forecasts_of(shop[2]) is lent


def test_fleet_is_worked_out_an_engine_at_a_time_and_once(shop, monkeypatch):
    # On one day: at midnight every age is another, and all is worked out anew.
    monkeypatch.setattr(queries.timezone, "now", lambda: KEPT)
    person = next(iter(queries.facts(shop[0]).people))
    seen = [outlook.fleet_of(person, wait_s=0.0) for _ in range(3)]
    assert [(len(one.engines), one.ready) for one in seen] == [(1, False), (2, True), (2, True)]
    newest = {shop[2].slug: outlook.forecasts_of(shop[2], person=person)}
    newest[shop[5].slug] = outlook.forecasts_of(shop[5], person=person)
    assert {judged.facts.job: found for judged, found in seen[2].engines} == newest


def test_new_reading_is_in_the_next_forecast():
    entries = [
        removed(),
        entry(
            "earlier",
            "earlier-1",
            item="plug:P1",
            service="2025-10-01",
            engine_hours=300.0,
            item_hours=300.3,
            readings=[
                {"check": "resistance", "written": "1100 ohm", "meter": "DM", "range": "20k"}
            ],
        ),
    ]
    job = services.load_folder(folder=folder(entries=entries), by="ada", at=KEPT)
    (before,) = outlook.forecasts_of(job).of("plug:P1", "resistance")
    assert before.standing == "unknown"
    services.append(job=job, entries=[ohms("reading-1")], by="ada", at=KEPT)
    (after,) = outlook.forecasts_of(queries.job(job.slug)).of("plug:P1", "resistance")
    assert (after.standing, after.now) == ("forecast", 1200)


ENGINE = cast.ENGINE + 'serial = "E-9"\n'
PROMISE = {"item": "plug:P1", "what": "Plug P1 looked at again", "on": "2027-05-01"}


def _owed(slug: str, person: str = "ada") -> list[tuple[str, str]]:
    found = outlook.with_owed(queries.job(slug), person).due
    return [(one.title, one.job) for one in found if one.kind == "promised"]


@pytest.fixture
def two_jobs(db):
    """A promise in an older job of the engine; the newer has only taken the plug out."""
    first = [removed(), entry("promised", "promise", minute=5, **PROMISE)]
    services.load_folder(folder=folder("old", entries=first, engine=ENGINE), by="ada", at=KEPT)
    again = entry("removed", "out-again", minute=60, item="plug:P1", place="1T", hours=401.0)
    services.load_folder(folder=folder("new", entries=[again], engine=ENGINE), by="ada", at=KEPT)


def _append(slug: str, *written) -> None:
    services.append(
        job=queries.job(slug), entries=list(written), by="ada", at=KEPT, confirmed="ada"
    )


def test_promise_of_an_older_job_is_owed_until_a_later_look_answers_it(two_jobs):
    assert _owed("new") == [("Plug P1 looked at again", "old")]
    # In its own book it is a promise like any other, and no other job's.
    assert _owed("old") == [("Plug P1 looked at again", "")]
    assert _owed("new", "nobody") == []
    [(judged, _)] = outlook.fleet_of("ada").engines
    assert judged.facts.job == "new"
    assert [one.job for one in judged.due if one.kind == "promised"] == ["old"]

    other = removed("P2", "2T", "out-2")
    read = ohms("other", minute=61, item="plug:P2", place="2T")
    _append("new", other, read)
    assert _owed("new") == [("Plug P1 looked at again", "old")]
    _append("new", ohms("ohms", minute=62))
    assert _owed("new") == []
    _append("new", entry("struck", minute=63, entry="ohms", reason="of another plug"))
    assert _owed("new") == [("Plug P1 looked at again", "old")]


def test_promise_of_an_older_job_is_written_down_as_done_in_its_own_book(two_jobs):
    done = {"recurring": "promised-promise", "on": "2026-11-02"}
    _append("old", entry("complied", minute=90, **done))
    assert _owed("new") == []


def test_promise_goes_with_its_part(two_jobs):
    gone = entry("disposed", minute=70, item="plug:P1", how="mutilated")
    _append("new", gone)
    assert _owed("new") == []


def test_what_was_read_before_the_promise_does_not_answer_it(db):
    first = [removed(), entry("promised", "promise", minute=80, **PROMISE)]
    services.load_folder(folder=folder("old", entries=first, engine=ENGINE), by="ada", at=KEPT)
    again = entry("removed", "out-again", minute=60, item="plug:P1", place="1T", hours=401.0)
    read = [again, ohms("ohms", minute=70)]
    services.load_folder(folder=folder("new", entries=read, engine=ENGINE), by="ada", at=KEPT)
    assert _owed("new") == [("Plug P1 looked at again", "old")]
