"""A finding in a record shows its photo beside the one of the same part before it."""

import re
from datetime import timedelta

import pytest

from rehang.book import queries, services
from tests.book import shop
from tests.book.shop import KEPT, entry
from tests.markup import markup
from tests.photos.shots import shot

pytestmark = pytest.mark.django_db


def _photo(slug: str, colour: int, of: str, minutes: int) -> None:
    services.add_photo(
        job=queries.job(slug), data=shot(400 + colour, 300), item="plug:P1", entry=of,
        scale_note="", entry_id=f"photo-{slug}-{minutes}", by="ada",
        at=KEPT + timedelta(minutes=minutes),
    )  # fmt: skip


@pytest.fixture
def page(job, append, client):
    append(entry("seen", "seen-1", item="plug:P1", place="1T", word="bridged", check="look"))

    def read() -> str:
        client.post("/sign-in/", {"person": "ada"})
        return markup(client.get("/jobs/case/record/maintenance/"))

    return read


def _pairs(text: str) -> list[list[str]]:
    return [
        re.findall(r'<a href="/jobs/(\w+)/photos/([0-9a-f]{8})', pair)
        for pair in text.split('<div class="beside">')[1:]
    ]


def test_no_photo_is_no_heading(page):
    assert "beside last time" not in page()


def test_a_finding_alone_says_that_there_is_no_earlier_photo(page):
    _photo("case", 0, "seen-1", 1)
    text = page()
    assert len(_pairs(text)) == 1
    assert len(_pairs(text)[0]) == 1
    assert "No earlier photo of it." in text


def test_a_photo_of_an_earlier_stay_stands_beside_it_from_its_own_job(page):
    older = [
        shop.entry("removed", "gone-1", item="plug:P1", place="1T", hours=300.0),
        shop.ohms("ohm-1"),
    ]
    services.load_folder(folder=shop.folder("older", older), by="ada", at=KEPT)
    _photo("older", 20, "", 1)
    _photo("case", 0, "seen-1", 9)
    [pair] = _pairs(page())
    assert [job for job, _ in pair] == ["case", "older"]


def test_a_photo_of_the_part_before_stands_beside_it(page):
    _photo("case", 0, "", 1)
    _photo("case", 50, "seen-1", 2)
    names = [
        one.fields.photo[:8]
        for one in queries.entries(queries.job("case"))
        if one.kind == "pictured"
    ]
    [pair] = _pairs(page())
    assert [name for _, name in pair] == [names[1], names[0]]
