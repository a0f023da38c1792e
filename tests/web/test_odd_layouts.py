"""Every page and paper of a job stands for any engine that can be drawn, its book still empty."""

from __future__ import annotations

import re

import pytest
from django.urls import NoReverseMatch, get_resolver, reverse

from rehang.book import queries
from tests.web.test_layout_form import ENGINE, asked, begun, mechanic, text_of  # noqa: F401

ODD = {
    "one cylinder, one plug": {"arrangement": "line", "cylinders": "1", "rows": "one"},
    "one plug to a cylinder": {"arrangement": "opposed", "cylinders": "4", "rows": "one"},
    "one magneto for both": {"arrangement": "inverted", "cylinders": "6", "ignition": "one"},
    "twelve": {"arrangement": "v", "cylinders": "12"},
    "sixteen": {"arrangement": "v-inverted", "cylinders": "16"},
    "two rows": {"arrangement": "radial", "cylinders": "18"},
}


def addresses(slug: str) -> list[str]:
    found = []
    # Tags and labels are of parts that are named, and none is in the book yet; the walk is the demo's.
    for pattern in get_resolver("rehang.web.urls").url_patterns:
        try:
            if pattern.name not in ("labels_pdf", "tags_pdf", "walk"):
                found.append(reverse(f"web:{pattern.name}", kwargs={"slug": slug}))
        except NoReverseMatch:
            continue
    return found


@pytest.mark.parametrize("odd", ODD)
def test_every_page_and_paper_of_an_odd_engine_stands(mechanic, odd):  # noqa: F811
    answers = asked(**ODD[odd])
    answers["firing_order"] = answers["firing_order"] or "-".join(map(str, range(1, 17)))
    job = begun(mechanic, **answers | {"purpose": "annual or 100-hour"})
    wrong = {}
    for address in addresses(job.slug):
        answer = mechanic.get(address)
        if answer.status_code not in (200, 303, 405):
            wrong[address] = answer.status_code, text_of(answer)[:200]
    assert wrong == {}


def test_an_engine_with_one_magneto_is_asked_for_one(mechanic):  # noqa: F811
    from rehang.trade.run.proofs import asked_of

    answers = asked(**ODD["one magneto for both"])
    job = begun(mechanic, **answers | {"purpose": "annual or 100-hour"})
    judged = queries.judged(job)
    facts = judged.facts
    kinds = ("magneto", "ignition")
    assert [one.item for one in judged.items if one.kind in kinds] == ["magneto:left"]
    steps = {one.id: one.checks for one in facts.run_steps}
    assert "mags" not in steps
    assert steps["switch-off"] == ("switch_off",)
    assert {c.name for c in facts.sheets["run"].checks if c.magnetos and c.required} == set()
    [magnetos] = [checks for one, checks, _ in asked_of(facts) if one.what == "magnetos"]
    assert magnetos == ("static", "switch_off")
    assert facts.run_rules.accuses["switch_off"] == "magneto:left"
    assert ("ignition", "timing_difference") not in facts.tasks["E3"].answers
    for page in ("run/", "tasks/E3/", "engine/", "places/", "torque/", "limits/"):
        words = text_of(mechanic.get(f"/jobs/{job.slug}/{page}"))
        assert "right magneto" not in words.lower(), page
        assert "Drop on RIGHT" not in words, page
        assert "both magnetos" not in words.lower(), page


def test_a_new_engine_with_one_magneto_is_asked_for_one_serial(mechanic):  # noqa: F811
    answers = asked(**ODD["one magneto for both"])
    page = mechanic.post(ENGINE, {**answers, "show": "yes"}).content.decode()
    assert 'name="magneto_left"' in page
    assert 'name="magneto_right"' not in page
    sent = {"serial": "X-1", "purpose": "spark plugs", "removed_on": "", **answers}
    refused = mechanic.post(ENGINE, sent | {"magneto_right": "OM s/n 1"})
    assert "This engine has one magneto. Write it as the left one." in text_of(refused)


def test_the_day_an_engine_came_off_is_the_persons_to_say(mechanic):  # noqa: F811
    page = mechanic.get(ENGINE).content.decode()
    assert re.search(r'name="removed_on"(?![^>]*value=)', page)
    first = begun(mechanic, **asked(**ODD["one plug to a cylinder"]))
    assert "removed_on" not in queries.facts(first).engine
    page = mechanic.get(f"/new-job/of/{first.slug}/").content.decode()
    assert re.search(r'name="removed_on"(?![^>]*value=)', page)
