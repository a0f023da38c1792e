"""Every page and paper of a job stands for any engine that can be drawn, its book still empty."""

from __future__ import annotations

import pytest
from django.urls import NoReverseMatch, get_resolver, reverse

from tests.web.test_layout_form import asked, begun, mechanic, text_of  # noqa: F401

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
