"""Stories and forecasts over the jobs of a store."""

import pytest

from rehang.book import outlook, queries, services
from rehang.sheets.folder import read_folder
from rehang.sheets.simulate import Plan, write_shops
from tests.book.shop import KEPT, entry, folder, ohms, removed

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


def test_fleet_is_worked_out_an_engine_at_a_time_and_once(shop):
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
