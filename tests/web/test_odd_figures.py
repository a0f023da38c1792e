"""Every page and paper of a job stands whatever figures were keyed: none, or a billion."""

from __future__ import annotations

import json
import re
from datetime import datetime

import pytest
from django.urls import reverse

from rehang.book import members, queries, services
from rehang.sheets.folder import JobFolder, parse_book, parse_files
from rehang.trade.facts.readings import read
from rehang.trade.known.state import item_kind, item_name
from rehang.trade.terms.errors import Refused
from tests.trade.finished import Finished
from tests.web.test_odd_layouts import addresses

pytestmark = pytest.mark.django_db

SIGN_IN = "django.contrib.auth.backends.ModelBackend"
FIGURES = {
    "nothing": lambda figure: "0",
    "a billion": lambda figure: "999999999",
}


def _with(other) -> Finished:
    """The finished demo, each of its parts and runs read once more, with other figures."""
    job = Finished()
    facts = parse_files(job.files, "odd")
    last = {(one["item"], one["check"]): one for one in job.of("reading")}
    for one in last.values():
        written = re.sub(r"\d+(\.\d+)?", lambda match: other(match.group()), one["written"])
        check = facts.sheets[item_kind(one["item"])].check(one["check"])
        meter = facts.meters.get(one.get("meter", ""))
        try:
            read(
                check, written, meter, one.get("range", ""), one.get("at_psi"), "", one.get("with")
            )
        except Refused:
            continue
        job.again(one, written=written)
    ppm = job.last("sampled")["ppm"]
    job.again(job.last("sampled"), ppm={metal: float(other(str(n))) for metal, n in ppm.items()})
    assert len(job.entries) > 610
    return job


@pytest.mark.parametrize("figures", FIGURES)
def test_every_page_and_paper_stands_over_any_figure(client, figures):
    changed = _with(FIGURES[figures])
    facts = parse_files(changed.files, "odd")
    text = "".join(f"{json.dumps(one)}\n" for one in changed.entries)
    entries, where = parse_book(text, facts.people)
    folder = JobFolder("odd", changed.files, entries, facts, where, ())
    job = services.load_folder(
        folder=folder, by="marta", at=datetime.fromisoformat("2026-11-13T20:00:00+00:00")
    )
    client.force_login(members.member("marta").user, backend=SIGN_IN)
    assert not queries.judged(job).state.aside
    pages = [one for one in addresses(job.slug) if not one.endswith(".zip")]
    for kind, name in {
        item_kind(one.item): item_name(one.item) for one in queries.judged(job).items
    }.items():
        pages.append(reverse("web:story", args=[job.slug, kind, name]))
        if kind != "plug":
            pages.append(reverse("web:item", args=[job.slug, kind, name]))
    pages += [reverse("web:plug", args=[job.slug, "L0418"]), "/fleet/"]
    wrong = {}
    for address in pages:
        answer = client.get(address)
        if answer.status_code not in (200, 302, 303, 403, 404, 405, 422):
            wrong[address] = answer.status_code
    assert wrong == {}
    assert len(pages) > 60
