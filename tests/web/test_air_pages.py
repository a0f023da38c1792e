"""Air that the formulas do not reach: the thin-air page and the page of a run say so."""

import re
from datetime import UTC, datetime
from html import unescape

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import JobFolder, parse_book, parse_files, read_folder, seal_all
from rehang.trade.terms.entries import SEAL_FIELDS

J = "/jobs/tv4-2207-finished/"
OUTSIDE = (
    {"oat": "40 C", "altimeter": "29.92", "elevation": "5500 m"},
    {"oat": "50 C", "dew_point": "50 C", "altimeter": "29.92", "elevation": "15000 ft"},
    {"oat": "\N{MINUS SIGN}60 C", "altimeter": "31.5", "elevation": "0 ft"},
)


def shop_with(weather, client):
    """The finished demo whose last run was made in that air."""
    import json

    from rehang.book import queries, services

    queries.forget()
    demo = read_folder(demo_path("finished"))
    lines = [json.loads(entry.line()) for entry in demo.entries]
    runs = [one for one in lines if one["kind"] == "run_began"]
    runs[-1]["with"] = {"heading": "240", "wind": "calm", **weather}
    text = "".join(
        json.dumps({k: v for k, v in one.items() if k not in SEAL_FIELDS}) + "\n" for one in lines
    )
    facts = parse_files(dict(demo.files), demo.name)
    entries, where = parse_book(text, facts.people)
    folder = JobFolder(
        name=demo.name, files=dict(demo.files), entries=tuple(seal_all(entries)), facts=facts,
        where=where,
        notices=(),
    )  # fmt: skip
    services.load_folder(folder=folder, by="marta", at=datetime(2026, 11, 20, 12, 0, tzinfo=UTC))
    assert client.post("/sign-in/", {"person": "marta"}).status_code == 303


def text_of(answer):
    body = re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", answer.content.decode(), flags=re.S)
    return re.sub(r"\s+", " ", unescape(body)).strip()


@pytest.mark.django_db
@pytest.mark.parametrize("weather", OUTSIDE, ids=["high and hot", "damp", "cold"])
def test_air_out_of_reach_is_one_sentence_on_every_page_of_the_run(client, weather):
    shop_with(weather, client)
    for page in ("run/", "run/of/2/", "run/air/", "record/maintenance/", ""):
        answer = client.get(J + page)
        assert answer.status_code == 200, page
    said = text_of(client.get(J + "run/of/2/"))
    assert "so what it is worth is not worked out." in said
    asked = {"speed": "2210", **weather}
    assert "so what it is worth is not worked out." in text_of(client.get(J + "run/air/", asked))


@pytest.mark.django_db
def test_a_dew_point_above_the_air_is_told_in_its_own_unit(client):
    shop_with({"oat": "50 F", "altimeter": "29.92"}, client)
    asked = {"speed": "2210", "oat": "50 F", "dew_point": "60 F", "altimeter": "29.92"}
    answer = client.get(J + "run/air/", asked)
    assert answer.status_code == 422
    assert 'A dew point of "60 F" is above the outside temperature, "50 F".' in text_of(answer)
