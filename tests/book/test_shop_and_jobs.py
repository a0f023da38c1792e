"""What passes between the shop's own book and its jobs."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import parse_files, read_folder
from rehang.sheets.things import THINGS, put, things_in

AT = datetime(2026, 11, 20, 12, 0, tzinfo=UTC)


def real(name: str, job: str = ""):
    """A demo as the engine of a shop, with another name if one is given."""
    folder = read_folder(demo_path(name))
    files = dict(folder.files)
    files["engine.toml"] = files["engine.toml"].replace("invented = true\n", "")
    if job:
        files["engine.toml"] = files["engine.toml"].replace(
            f'job = "{folder.name}"', f'job = "{job}"'
        )
    return replace(folder, name=job or folder.name, files=files, facts=parse_files(files))


@pytest.fixture
def both(db):
    """A shop begun out of the four-cylinder job, and a second job of the same model."""
    from rehang.book import beginning, queries, services

    queries.forget()
    first = services.load_folder(folder=real("four"), by="marta", at=AT)
    beginning.offer_shop(job=first, by="marta", at=AT)
    second = services.load_folder(
        folder=replace(real("four", "second"), entries=()), by="marta", at=AT
    )
    return first, second


def again(job):
    from rehang.book import queries

    return queries.job(job.slug)


def with_limit(text: str, **other: object) -> str:
    limit = {"item": "plug", "check": "gap", "upper": "0.020 in", "document": "TV4 manual (invented)",
             "revision": "7", "entered_by": "marta", "entered_on": AT.date()}  # fmt: skip
    return put(text, THINGS["limit"], "none", limit | other)


def test_what_the_keeper_files_in_a_job_the_shop_keeps_and_offers_to_the_others(both):
    from rehang.book import queries, services, shop, verifying

    first, second = both
    assert shop.things_offered(first) == () and shop.things_offered(second) == ()
    text = with_limit(queries.files(first)["limits.toml"])
    services.file_text(job=first, name="limits.toml", text=text, by="marta", at=AT)
    kept = things_in(queries.files(queries.shop())["limits.toml"], THINGS["limit"])
    (new,) = [one for one in kept.values() if one.get("upper") == "0.020 in"]
    assert new["models"] == ["Tolvane TV4-150"]
    # The job that it was filed in has it; the other is offered it.
    assert shop.things_offered(again(first)) == ()
    (offer,) = shop.things_offered(again(second))
    assert (offer.kind.name, offer.mine, offer.theirs["upper"]) == ("limit", None, "0.020 in")
    done = shop.take(job=second, by="tom", at=AT)
    # Whoever may write takes what the shop's keeper has put in there.
    assert [one.by for one in done.entries] == ["tom"]
    assert shop.things_offered(again(second)) == ()
    assert verifying.store_checked().outcome == "whole"


def test_taking_says_which_verdicts_it_would_change(both):
    from rehang.book import queries, services, shop

    first, _ = both
    own = queries.shop()
    text = with_limit(
        queries.files(own)["limits.toml"], upper="0.010 in", models=["Tolvane TV4-150"]
    )
    services.file_text(job=own, name="limits.toml", text=text, by="marta", at=AT)
    found = shop.offered(again(first))
    assert len(found.things) == 1 and not found.why_not
    was = {one.item: one.verdict for one in queries.judged(again(first)).items}
    assert found.verdicts and all(was[item] == now != then for item, now, then in found.verdicts)
    shop.take(job=first, by="marta", at=AT)
    after = {one.item: one.verdict for one in queries.judged(again(first)).items}
    assert {item: after[item] for item, _, _ in found.verdicts} == {
        item: then for item, _, then in found.verdicts
    }


def test_a_limit_of_another_model_is_offered_to_nobody_and_a_job_refuses_it(both):
    from rehang.book import queries, services, shop
    from rehang.trade.terms.errors import BadInput

    first, _ = both
    own = queries.shop()
    text = with_limit(queries.files(own)["limits.toml"], models=["Quarrow Q6"])
    services.file_text(job=own, name="limits.toml", text=text, by="marta", at=AT)
    assert shop.things_offered(again(first)) == ()
    text = with_limit(queries.files(first)["limits.toml"], models=["Quarrow Q6"])
    with pytest.raises(BadInput, match=r"It is for Quarrow Q6, and this engine is Tolvane TV4-150"):
        services.file_text(job=first, name="limits.toml", text=text, by="marta", at=AT)


def test_what_shop_and_job_have_otherwise_is_left_to_people(both):
    from rehang.book import queries, services, shop

    first, _ = both
    own = queries.shop()
    meters = queries.files(own)["meters.toml"]
    there = put(
        meters,
        THINGS["meter"],
        "DM-2",
        things_in(meters, THINGS["meter"])["DM-2"] | {"due": "2029-01"},
    )
    services.file_text(job=own, name="meters.toml", text=there, by="marta", at=AT)
    here = put(
        meters,
        THINGS["meter"],
        "DM-2",
        things_in(meters, THINGS["meter"])["DM-2"] | {"due": "2028-01"},
    )
    services.file_text(job=again(first), name="meters.toml", text=here, by="marta", at=AT)
    assert queries.files(queries.shop())["meters.toml"] == there
    (offer,) = shop.things_offered(again(first))
    assert offer.changes == [("due", "2028-01", "2029-01")]


def test_a_job_of_a_demo_and_one_who_keeps_no_shop_pass_nothing_on(both):
    from rehang.book import queries, services, shop

    demo = services.load_folder(folder=read_folder(demo_path("finished")), by="marta", at=AT)
    before = queries.files(queries.shop())
    text = with_limit(queries.files(demo)["limits.toml"], upper="0.021 in")
    services.file_text(job=demo, name="limits.toml", text=text, by="marta", at=AT)
    assert queries.files(queries.shop()) == before
    assert shop.things_offered(again(demo)) == ()


def test_a_meter_found_out_in_one_job_is_found_out_in_all(both):
    from rehang.book import queries, services, shop

    first, second = both
    note = {"meter": "DM-2", "reason": "reads high against the standard resistor", "good": "2026-09-01",
            "on": "2026-11-20"}  # fmt: skip
    services.write(job=first, kind="found_out", data=note, by="marta", at=AT + timedelta(hours=1),
                   confirmed="marta")  # fmt: skip
    for job in (first, second):
        assert "DM-2" in queries.judged(again(job)).state.found_out, job.slug
    told = shop.used_elsewhere(again(second), "DM-2", "marta")
    assert [(one.job.slug, one.found_out) for one in told] == [(first.slug, True)]
    assert told[0].readings > 0


def test_the_shops_own_book_is_saved_checked_and_comes_back(both, tmp_path, capsys):
    """It is no job: it has no record, no plan and no print."""
    from rehang.book import queries
    from rehang.cli.main import main

    def run(*words: object) -> tuple[object, str, str]:
        with pytest.raises(SystemExit, match=r"^\d$") as left:
            main([str(one) for one in words])
        return left.value.code, *capsys.readouterr()

    saved = tmp_path / "saved"
    assert run("save", "--all", saved)[0] == 0
    assert run("verify", saved)[1].endswith(": whole.\n")
    assert run("check", saved / "the_shop")[1].startswith("Shed 4: the shop's own book.")
    code, _, said = run("print", "the_shop")
    assert code == 1
    assert 'There is no job "the_shop" here.' in said
    assert read_folder(saved / "the_shop").files == queries.files(queries.shop())
