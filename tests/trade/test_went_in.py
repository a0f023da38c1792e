"""What went in, each piece once: on the shelf's count, for the owner, and among the parts on.

Parts off and on are written with their numbers and release document: common practice, no source;
that the work performed is described is 14 CFR 43.9(a)(1). Sums are done by hand.
"""

from __future__ import annotations

import re
from datetime import date, datetime

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.doors.rules import check_can_append
from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.known.fitting import hose_dates
from rehang.trade.known.went_in import went_in
from rehang.trade.telling.entry_text import draft_of
from rehang.trade.telling.sentences import entry_words
from rehang.trade.terms.errors import NotAllowed
from rehang.trade.work.names import JobNames
from rehang.trade.work.stock import sum_words
from rehang.web.work import paper_rows, parts_rows
from tests.trade.cast import Bench, facts
from tests.trade.finished import Finished

STOCK = """
[[part]]
id = "plug"
name = "Plug"
price = 40
stock = 9
counted_on = 2026-11-01
replaces = "plug"

[[part]]
id = "filter"
name = "Oil filter"
stock = 9
counted_on = 2026-11-01
"""
SHOP = facts(stock=STOCK)


@pytest.fixture(scope="module")
def finished() -> JudgedJob:
    folder = read_folder(demo_path("finished"))
    on = datetime.fromisoformat("2026-11-12T08:00:00-06:00")
    return judge(folder.facts, folder.entries, on, folder.where)


def _on(judged: JudgedJob) -> str:
    return next((one.drawn for one in draft_of(judged, "maintenance").lines if one.id == "on"), "")


def _bench() -> Bench:
    bench = Bench().good()
    bench.write("dropped")
    return bench


def test_a_hose_and_a_filter_stand_once_among_the_parts_on(finished):
    on = _on(finished)
    assert (
        "hose HS6 in place of HS2 (Hose HS2, pump to carburettor, made Aug 2026, Release form R1 no. FH-20771)"
        in on
    )
    assert "filter new (Oil filter, batch F-2608-3, Release form R1 no. FL-7715)" in on
    for name in ("Hose HS2", "Hose HS3", "Hose HS5", "Oil filter"):
        assert on.count(name) == 1, name
    # What has no name of its own stays a number.
    assert "4 × Exhaust gasket" in on
    assert "9 qt of Oil" in on


def test_a_finished_job_says_what_went_in_and_what_it_cost(finished):
    lines = {line.name: line for line in finished.stock.fitted}
    plugs = lines["Plug KS-R"]
    assert (plugs.number, plugs.total) == (4, 176)
    assert [why.partition(" ")[0] for why in plugs.why] == ["N0701", "N0702", "N0703", "N0704"]
    assert "L0522 (3B) is REJECT: Dropped on 14 Oct 2026" in plugs.why[2]
    assert lines["Exhaust gasket"].total is None
    # 4 plugs 44, hoses 164 + 118 + 96, 9 qt 11, filter 34, 4 rocker gaskets 6. On 12 Nov, 08:00, the
    # four top plugs are in once for the compression before removal and all eight for good: 12 gaskets.
    assert finished.stock.cost.parts_so_far == pytest.approx(
        4 * 44 + 164 + 118 + 96 + 9 * 11 + 34 + 4 * 6 + 12 * 1.40
    )
    assert set(finished.stock.cost.unknown_so_far) == {
        "Anti-seize", "Desiccant refill", "Drain plug gasket", "Exhaust gasket", "Hose hardware set",
        "Safety wire", "Oil sample bottle", "Solvent",
    }  # fmt: skip


def test_the_owners_page_of_a_finished_job_has_no_parts_for_nothing(finished):
    page = parts_rows.owner_page(finished)
    assert page.title == "For Dev Lanning: what Tolvane TV4-150 TV4-2291 was given, and why"
    assert page.fitted_total == "$727.80, without 8 of unknown price"
    assert not page.rows
    assert (page.total, page.none) == ("", "No more parts are needed.")
    assert {row.total for row in page.fitted if row.head == "4 spools of Safety wire"} == {
        "price not on file"
    }
    sheet = paper_rows.owner_sheet(page, finished)
    assert [(one.title, one.count) for one in sheet.sections][:2] == [
        ("Fitted and used", "$727.80, without 8 of unknown price"),
        ("Needed", ""),
    ]


def test_a_sum_of_what_nobody_knows_is_never_a_sum_of_nothing():
    assert sum_words(0, ["wire"], "$") == "price not on file"
    assert sum_words(0, [], "$") == "$0.00"
    assert sum_words(1150, ["wire", "bolt"], "$") == "$1,150.00, without 2 of unknown price"


def test_a_job_without_a_list_of_parts_knows_no_price():
    bench = _bench()
    bench.write("used", item="", part="gasket-plug", number=8)
    judged = bench.judged(facts())
    page = parts_rows.owner_page(judged)
    assert [(row.head, row.total) for row in page.fitted] == [
        ("8 × Plug gasket", "price not on file")
    ]
    assert page.fitted_total == "price not on file"
    assert page.none.startswith("This job has no list of parts")


def test_what_was_paid_is_what_it_cost():
    bench = _bench()
    bench.write("ordered", item="", part="plug", number=1, price=44)
    bench.write("arrived", item="", part="plug", number=1)
    bench.write("replaced", item="plug:P9", place="1T", **{"for": "P1"})
    assert bench.judged(SHOP).stock.parts["plug"].used_cost == 44
    bench.write("ordered", item="", part="plug", number=1, price=44)
    # One that the maker sent for nothing.
    bench.write("arrived", item="", part="plug", number=1, price=0)
    assert bench.judged(SHOP).stock.parts["plug"].used_cost == 0


@pytest.mark.parametrize("link", [{}, {"item": "filter:new"}])
def test_a_filter_that_was_fitted_and_used_is_one_filter(link):
    bench = _bench()
    bench.write("fitted", item="filter:new", place="oil filter", part="filter")
    bench.write("used", part="filter", number=1, **({"item": ""} | link))
    judged = bench.judged(SHOP)
    assert [(one.part, one.number, one.item) for one in went_in(SHOP, judged.state)] == [
        ("filter", 1, "filter:new")
    ]
    assert (judged.stock.parts["filter"].used, judged.stock.parts["filter"].on_hand) == (1, 8)


def test_one_more_that_was_used_is_counted_beside_the_one_that_was_fitted():
    bench = _bench()
    bench.write("fitted", item="filter:new", place="oil filter", part="filter")
    bench.write("used", item="", part="filter", number=2)
    pieces = went_in(SHOP, bench.judged(SHOP).state)
    assert [(one.number, one.item) for one in pieces] == [(1, "filter:new"), (1, "")]
    bench.write("used", item="filter:spare", part="filter", number=1)
    assert bench.judged(SHOP).stock.parts["filter"].used == 3


def test_what_came_out_and_went_back_is_no_new_piece():
    bench = Bench().good()
    bench.write("fitted", place="3B")
    assert went_in(SHOP, bench.judged(SHOP).state) == ()


def test_several_pieces_do_not_become_one_item():
    bench = _bench()
    book = list(bench.entries)
    new = bench.write("used", item="filter:new", part="filter", number=2)
    with pytest.raises(NotAllowed, match=r"^2 of Oil filter cannot become new"):
        check_can_append([new], book, SHOP)


# ---------------------------------------------------------------- a reject sent elsewhere


def test_the_new_one_for_a_reject_is_what_is_sent_elsewhere():
    bench = _bench()
    book = list(bench.entries)
    plain = bench.write("assigned", place="4T")
    with pytest.raises(
        NotAllowed,
        match=re.escape(
            'P1 is a REJECT and goes nowhere. Send the new one for it to 4T: write "new" as well.'
        ),
    ):
        check_can_append([plain], book, SHOP)
    bench = _bench()
    book = list(bench.entries)
    new = bench.write("assigned", place="4T", new=True, reason="hot cylinder")
    check_can_append([new], book, SHOP)
    said = "The new plug for P1 is to go to 4T: hot cylinder."
    assert new.fields.said(JobNames(SHOP)) == said
    judged = bench.judged(SHOP)
    assert entry_words(new, judged) == said
    assert judged.rotation.place("4T").name == "new, for P1"


def test_a_good_plug_has_no_new_one_to_be_sent():
    bench = Bench().good()
    book = list(bench.entries)
    new = bench.write("assigned", place="4T", new=True)
    with pytest.raises(NotAllowed, match=r"^P1 is no reject, so there is no new one for it"):
        check_can_append([new], book, SHOP)
    bench = Bench().good()
    kept = list(bench.entries)
    sent = bench.write("assigned", place="4T")
    assert sent.id in check_can_append([sent], kept, SHOP).entries


def test_a_hose_that_came_in_is_of_the_type_that_was_written_for_it():
    job = Finished()
    job.last("replaced", item="hose:HS6")["type"] = "of another kind"
    judged = job.judged()
    found = hose_dates("HS6", judged.facts, judged.state)
    assert found is not None
    assert found.type == "of another kind"


@pytest.mark.parametrize(("out", "said"), [(0, []), (7, ["4B"]), (6, ["4T", "4B"]), (8, [])])
def test_a_hole_with_no_plug_written_for_it_is_said_once_one_is_written_for_another(out, said):
    folder = read_folder(demo_path())
    plugs = [e for e in folder.entries if e.kind == "removed" and e.item.startswith("plug:")]
    judged = judge(folder.facts, plugs[:out], today=date(2026, 10, 14))
    assert [b.about for b in judged.blockers if "No plug has been written" in b.sentence] == said
