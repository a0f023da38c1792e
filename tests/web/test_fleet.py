"""What comes due on every engine, on the page and in the files."""

import csv
import io
import re
from dataclasses import replace
from datetime import UTC, date, datetime
from html import unescape

import pytest
from icalendar import Calendar
from openpyxl import load_workbook

from rehang.sheets import demo_path
from rehang.sheets.folder import JobFolder, parse_files, read_folder
from rehang.trade.job.judging import judge
from rehang.trade.life.forecast import forecasts
from rehang.trade.papers.no_age_rule import without_age_rule
from rehang.trade.terms.errors import BadInput
from rehang.web.story.fleet_rows import (
    HEADINGS,
    calendar_of,
    engine_lines,
    export_rows,
    fleet_rows,
    within,
)
from tests.trade.drawn import demo, odds

LOADED = datetime(2026, 10, 20, 12, 0, tzinfo=UTC)


def rows():
    return fleet_rows([(demo(), odds())])


def named(what: str):
    return next(row for row in rows() if row.what == what)


def test_what_recurs_is_due_as_the_trade_reckons_it():
    """By hand, next-due: 4.9 h left, the calendar governs; OM-R 12.7 h left, OM-L 59.8."""
    muffler = named("Muffler directive X-2019-07")
    assert (muffler.hours_left, muffler.due_on, muffler.overdue) == (4.9, date(2026, 9, 30), True)
    assert named("Right magneto, 500-hour opening").hours_left == 12.7
    assert named("Left magneto, 500-hour opening").hours_left == 59.8


def test_hoses_are_due_by_their_dates_and_an_unknown_one_has_none():
    """By hand: HS2 to 2026-09, HS3 to 2024-08, HS4 to 2028-09; a month means its last day."""
    assert named("Hose HS3").due_on == date(2024, 8, 31)
    assert named("Hose HS2").due_on == date(2026, 9, 30)
    assert (named("Hose HS4").due_on, named("Hose HS4").overdue) == (date(2028, 9, 30), False)
    assert (named("Hose HS5").due_on, named("Hose HS5").overdue) == (None, True)


def test_rejects_are_not_looked_ahead_for():
    worn = {row.item for row in rows() if row.kind == "forecast"}
    assert worn.isdisjoint({"plug:K0412", "plug:K0414", "plug:K0522"})
    assert "plug:K0413" in worn


def test_only_what_is_in_place_comes_due_and_promises_do():
    """The finished demo: hoses and plugs that were replaced are gone, new ones count from fitting."""
    folder = read_folder(demo_path("finished"))
    done = judge(folder.facts, folder.entries, today=date(2026, 11, 12))
    found = fleet_rows([(done, forecasts(done, []))])
    items = {row.item for row in found}
    assert items.isdisjoint({"hose:HS2", "hose:HS3", "hose:HS5", "plug:L0412", "plug:L0522"})
    assert {"hose:HS6", "hose:HS7", "hose:HS8"} <= items
    assert [row.what for row in found if row.overdue] == []
    assert [row.what for row in found if row.hours_text == "now"] == []
    promised = {row.what: row for row in found if row.id.startswith("recurring:promised-")}
    assert set(promised) == {
        "Oil filter cut and counted again",
        "Cylinder 4 by borescope and compression again",
    }
    assert {row.hours_left for row in promised.values()} == {24.1}


def test_what_is_set_anew_is_one_row_and_hides_no_limit_that_ends_a_part():
    worn = [row for row in rows() if row.kind == "forecast"]
    gaps = [row for row in worn if row.what.endswith(", gap")]
    # By hand: K0411, K0413 and K0417 are no rejects and have nothing wrong that gives no odds.
    assert [row.what for row in gaps] == ["3 plugs, gap"]
    assert gaps[0].item == "plug:K0417"
    assert gaps[0].why.startswith("Plug K0417 is the first. Gap found at 18 thou. ")
    assert gaps[0].why.endswith("keep or renew leaves it out.")
    assert "Plug K0417, electrode left" in {row.what for row in worn}
    # The gap of K0415 stands out, so nothing of it is said to last for so many hours.
    assert not any(row.item == "plug:K0415" for row in worn)


def test_a_limit_likely_passed_already_is_now_and_no_nought():
    row = named("Plug K0413, resistance")
    assert (row.hours_text, row.even_text) == ("now", "even odds now")


def test_what_is_past_stands_first_and_the_rest_by_time():
    found = rows()
    past = [row.overdue for row in found]
    assert past == sorted(past, reverse=True)
    hours = [row.hours_left for row in found if not row.overdue and row.hours_left is not None]
    assert hours == sorted(hours)


@pytest.mark.parametrize(
    ("window", "in_it", "not_in_it"),
    [
        ("25h", "Right magneto, 500-hour opening", "Left magneto, 500-hour opening"),
        ("100h", "Left magneto, 500-hour opening", "Hose HS4"),
        ("90d", "Hose HS2", "Left magneto, 500-hour opening"),
    ],
)
def test_a_window_holds_what_comes_up_in_it(window, in_it, not_in_it):
    names = {row.what for row in within(rows(), window)}
    assert in_it in names
    assert not_in_it not in names
    assert "Hose HS3" in names  # What is past is in every window.


def test_an_unknown_window_is_refused():
    with pytest.raises(
        BadInput, match=r'^There is no window "1y"\. Use 25h, 50h, 100h, 90d, all\.$'
    ):
        within([], "1y")


def test_hours_become_a_day_only_at_a_rate_on_file():
    assert named("Right magneto, 500-hour opening").due_on is None
    from dataclasses import replace

    facts = demo().facts
    flown = replace(facts, engine={**facts.engine, "flying_hours_per_year": 100})
    found = fleet_rows([(replace(demo(), facts=flown), odds())])
    right = next(row for row in found if row.what == "Right magneto, 500-hour opening")
    # 12.7 h at 100 h a year are 46.4 days, from 2026-10-21.
    assert (right.due_on, right.reckoned) == (date(2026, 12, 6), True)


def test_a_calendar_reads_back_with_a_day_for_each_dated_row():
    made = calendar_of(rows(), LOADED)
    events = Calendar.from_ical(made).walk("VEVENT")
    assert {(str(e["summary"]), e["dtstart"].dt) for e in events} == {
        (f"{row.engine}: {row.what}", row.due_on) for row in rows() if row.due_on is not None
    }
    again = Calendar.from_ical(calendar_of(rows(), LOADED)).walk("VEVENT")
    uids = [str(e["uid"]) for e in events]
    assert uids == [str(e["uid"]) for e in again]
    assert len(set(uids)) == len(uids)


# On the page


@pytest.fixture
def shop(db, monkeypatch):
    """The demo, and another engine that names Ada alone; the odds are worked out once."""
    from rehang.book import outlook, queries, services

    queries.forget()
    monkeypatch.setattr(outlook, "forecasts", lambda *jobs, **more: odds())
    services.load_folder(folder=read_folder(demo_path()), by="marta", at=LOADED)
    six = read_folder(demo_path("six"))
    files = dict(six.files)
    files["people.toml"] = (
        '[[person]]\nkey = "ada"\nname = "Ada Quist"\nrole = "inspects"\n'
        + re.sub(r'key = "marta"', 'key = "other"', files["people.toml"])
    )
    entries = six.entries
    folder = JobFolder(
        name=six.name, files=files, entries=entries, facts=parse_files(files, six.name),
        where={}, notices=(),
    )  # fmt: skip
    services.load_folder(folder=folder, by="rhea", at=LOADED)


@pytest.fixture
def marta(shop, client):
    client.post("/sign-in/", {"person": "marta"})
    return client


def text_of(answer) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.content.decode()))).strip()


def test_a_person_sees_only_the_engines_of_jobs_that_name_them(marta):
    text = text_of(marta.get("/fleet/?within=all"))
    assert "TV4-2207" in text
    assert "SX6" not in text
    marta.post("/sign-in/", {"person": "ada"})
    text = text_of(marta.get("/fleet/?within=all"))
    assert "TV4-2207" not in text


def test_nobody_sees_the_page_without_signing_in(shop, client):
    for path in ("/fleet/", "/fleet/what-comes-due.csv"):
        assert client.get(path)["Location"].startswith("/sign-in/?next=")


def test_the_page_links_each_part_to_its_story(marta):
    html = marta.get("/fleet/").content.decode()
    assert "/jobs/tv4-2207-2026/story/hose/HS3/" in html
    assert 'href="/fleet/what-comes-due.ics?within=100h"' in html


def test_the_files_hold_the_rows_of_the_page(marta):
    table = marta.get("/fleet/what-comes-due.csv?within=all")
    read = list(csv.reader(io.StringIO(table.content.decode("utf-8-sig"))))
    assert tuple(read[0]) == HEADINGS
    book = load_workbook(io.BytesIO(marta.get("/fleet/what-comes-due.xlsx?within=all").content))
    cells = [[c or "" for c in row] for row in book.active.iter_rows(values_only=True)]
    assert cells == read
    whats = [line[2] for line in read[1:]]
    assert {"Hose HS3", "Muffler directive X-2019-07", "Annual inspection"} <= set(whats)
    calendar = marta.get("/fleet/what-comes-due.ics?within=all")
    assert calendar["Content-Type"].startswith("text/calendar")
    names = {str(e["summary"]) for e in Calendar.from_ical(calendar.content).walk("VEVENT")}
    assert "TV4-2207, off X-MRW7: Hose HS3" in names


def test_an_unknown_window_is_not_found(marta):
    for path in ("/fleet/?within=1y", "/fleet/what-comes-due.csv?within=1y"):
        answer = marta.get(path)
        assert answer.status_code == 404
        assert 'There is no window "1y".' in text_of(answer)


def test_export_rows_are_text_alone():
    assert all(isinstance(cell, str) for row in export_rows(rows()) for cell in row)
    assert all(len(row) == len(HEADINGS) for row in export_rows(rows()))


def test_page_says_how_long_plugs_last_here(marta):
    words = text_of(marta.get("/fleet/"))
    assert "3 of 9 plugs gave out in" in words
    assert "Only 3 failures" in words


def test_page_says_how_far_it_is_and_comes_by_itself(marta, monkeypatch):
    from rehang.book import outlook, services

    files = {
        name: text.replace("tv4-2207-2026", "second").replace("TV4-2207", "TV4-2208")
        for name, text in read_folder(demo_path()).files.items()
    }
    second = JobFolder(
        name="second",
        files=files,
        entries=(),
        facts=parse_files(files, "second"),
        where={},
        notices=(),
    )
    services.load_folder(folder=second, by="marta", at=LOADED)
    monkeypatch.setattr("rehang.web.story.fleet.WAIT_S", 0.0)
    begun = marta.get("/fleet/").content.decode()
    assert "1 of 2 engines worked out." in begun
    assert 'hx-get="?within=100h"' in begun
    assert "Muffler directive" not in begun
    ended = marta.get("/fleet/").content.decode()
    assert "Muffler directive" in ended
    assert "hx-get" not in ended
    assert outlook.fleet_of("marta", wait_s=0.0).ready


def test_the_line_of_time_puts_what_is_past_left_of_now_and_the_rest_by_hours():
    engines = [(demo(), odds())]
    every = within(fleet_rows(engines), "100h")
    [line] = engine_lines(engines, every, "100h")
    at = {one.row.what: one for one in line.rows}
    assert "100 h a year, as none is on file" in line.rate
    assert {float(at[what].at[:-1]) for what in ("Hose HS2", "Annual inspection")} == {4.0}
    # From 8 per cent, which is now, to 98, which is 100 hours on.
    assert at["Right magneto, 500-hour opening"].at == f"{8 + 0.127 * 90:.1f}%"
    ahead = [float(one.at[:-1]) for one in line.rows if one.at and not one.row.overdue]
    assert ahead == sorted(ahead)
    fans = [(float(one.at[:-1]), float(one.until[:-1])) for one in line.rows if one.until]
    assert fans and all(near <= far for near, far in fans)


def without_rules(*types: str):
    """The demo without the rules on file for the age of hoses of these types."""
    facts = demo().facts
    kept = [one for one in facts.limits if one.wants.get("type") not in types]
    return replace(facts, limits=tuple(kept))


@pytest.mark.parametrize(
    ("types", "said"),
    [
        ((), []),
        (
            ("PTFE",),
            ["1 PTFE hose has no age rule on file: HS1, made Feb 2021 and fitted Sep 2022."],
        ),
        (
            ("rubber",),
            [
                "4 rubber hoses have no age rule on file: HS2, made Mar 2021 and fitted Sep 2021; "
                "HS3, made Q2 2019 and fitted Aug 2019; HS4, made Jan 2023 and fitted Sep 2023; "
                "HS5, made on an unknown day and fitted on an unknown day."
            ],
        ),
    ],
)
def test_hoses_without_a_rule_of_age_are_said_with_their_dates(types, said):
    found = without_age_rule(without_rules(*types), demo().state)
    assert [one.sentence for one in found] == said


def test_a_rule_of_age_without_a_source_is_none_and_is_named_by_its_place():
    facts = without_rules("PTFE")
    rule = replace(
        next(one for one in facts.limits if one.wants.get("type") == "rubber"), document=""
    )
    facts = replace(facts, limits=(rule, *(one for one in facts.limits if one.check != "age")))
    ptfe, rubber = without_age_rule(facts, demo().state)
    assert rubber.sentence.startswith("4 rubber hoses have an age rule that names no source: HS2")
    assert (ptfe.number, rubber.number) == (-1, 0)


def test_both_pages_of_what_comes_due_say_so_and_lead_to_where_the_rule_is_put_in(marta):
    from rehang.book import queries, services

    job = queries.job("tv4-2207-2026")
    text = re.sub(
        r'wants = \{ type = "PTFE" \}', 'wants = { type = "other" }',
        queries.files(job)["limits.toml"],
    )  # fmt: skip
    services.file_text(job=job, name="limits.toml", text=text, by="marta", at=LOADED)
    way = "/jobs/tv4-2207-2026/limits/new/hose/age/?type=PTFE"
    for page in ("/fleet/?within=100h", "/jobs/tv4-2207-2026/due/"):
        answer = marta.get(page)
        said = "1 PTFE hose has no age rule on file. Nothing says when they are due. HS1, made Feb 2021"
        assert said in text_of(answer), page
        assert f'href="{way}"' in answer.content.decode(), page
    assert marta.get(way).status_code == 200
