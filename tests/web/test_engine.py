"""The engine page, the pages of items that are not plugs, their forms, and who may write there."""

import re
from datetime import UTC, datetime
from html import unescape

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import JobFolder, parse_files, read_folder
from rehang.trade.telling.sentences import entry_words
from rehang.web.item import engine_rows
from tests.pins import PIN, give_pins

DEMO, SIX, RADIAL = "tv4-2207-2026", "sx6-0118-2026", "r9-0037-2026"
LOADED = datetime(2026, 10, 20, 12, 0, tzinfo=UTC)
PEOPLE = """
[[person]]
key = "ada"
name = "Ada Quist"
role = "inspects"
certificate = "CASE-1"
certificate_kind = "mechanic"

[[person]]
key = "cy"
name = "Cy Teller"
role = "reads"
"""
PAGES = [
    "engine/", "engine/?show=not-inspected", "engine/oil/", "items/cylinder/3/",
    "items/cylinder/3/write/", "items/filter/oil/", "items/filter/oil/write/", "items/hose/HS5/",
    "items/magneto/left/", "items/desiccant/dehydrator plugs/",
    "items/control/throttle, mixture, carburettor heat/",
    "items/cylinder/3/read/compression/", "items/lead/2B/read/leak/",
    "items/cylinder/1/read/tappet_intake/", "items/plug/K0413/", "items/plug/K0413/write/",
]  # fmt: skip


def _load(job: str, by: str, people: str = ""):
    from rehang.book import services

    demo = read_folder(demo_path(job))
    files = dict(demo.files)
    files["people.toml"] += people
    folder = JobFolder(
        name=demo.name,
        files=files,
        entries=demo.entries,
        facts=parse_files(files, demo.name),
        where={},
        notices=(),
    )
    return services.load_folder(folder=folder, by=by, at=LOADED)


@pytest.fixture
def shop(db):
    """The demo of four cylinders, with Ada who writes and Cy who reads in its list."""
    from rehang.book import queries

    queries.forget()
    job = _load("four", "marta", PEOPLE)
    give_pins("ada")
    return job


@pytest.fixture
def sign_in(shop, client):
    def enter(person: str):
        assert client.post("/sign-in/", {"person": person}).status_code == 303
        return client

    return enter


def text_of(answer) -> str:
    body = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", unescape(body)).strip()


def judged(slug: str = DEMO):
    from rehang.book import queries

    return queries.judged(queries.job(slug))


def seen(address: str) -> str:
    return f"/jobs/{DEMO}/{address}"


def pressure(**typed: str) -> dict[str, str]:
    return {
        "held": "72", "again": "71", "supply": "80", "meter": "CT-1|", "state": "hot",
        "minutes": "9", "orifice": "0.040 in", "path": "exhaust", "once": "0" * 32, **typed,
    }  # fmt: skip


# Who sees what


@pytest.mark.parametrize("person", ["ada", "cy"])
def test_people_of_the_job_see_every_page(sign_in, person):
    client = sign_in(person)
    assert {p: client.get(seen(p)).status_code for p in PAGES} == dict.fromkeys(PAGES, 200)


def test_nobody_sees_a_page_without_signing_in(shop, client):
    for path in PAGES:
        assert client.get(seen(path))["Location"].startswith("/sign-in/?next="), path


def test_who_only_reads_writes_nothing(sign_in):
    client = sign_in("cy")
    before = len(judged().state.order)
    for path, fields in (
        ("items/cylinder/3/read/compression/", pressure()),
        ("items/lead/2B/read/leak/", {"written": "no leak", "meter": "LT-1|"}),
        ("engine/oil/", {"on": "2026-10-20"}),
        ("act/", {"kind": "closed", "finding": "odd-one-out:cylinder:3", "reason": "x"}),
    ):
        answer = client.post(seen(path), fields)
        assert answer.status_code == 403, path
        assert "Cy Teller reads this book and does not write in it." in text_of(answer)
    assert len(judged().state.order) == before


def test_an_item_or_check_the_job_does_not_have_is_said(sign_in):
    client = sign_in("ada")
    answer = client.get(seen("items/cylinder/9/"))
    assert answer.status_code == 404
    assert 'There is no item "cylinder:9" in this job.' in text_of(answer)
    answer = client.get(seen("items/hose/HS2/read/age/"))
    assert answer.status_code == 404
    assert "Age comes from the dates on file and the rule on file" in text_of(answer)


# The engine page


def test_engine_page_answers_what_state_the_engine_is_in(sign_in):
    page = text_of(sign_in("ada").get(seen("engine/")))
    assert "Tolvane TV4-150 1,142.3 h since overhaul; last hot run 30 Sep 2026" in page
    assert "idle days. Dehydrator plugs: pink, damp (17 Oct 2026)." in page
    assert "Reject 1B, 2B, 3B. Rework 3T. Not yet 2T, 4B." in page
    assert "Reject HS2, HS3, HS5. Tag each as a reject and write down what becomes of it." in page
    assert "Cylinder 3 leaks at the exhaust: the same story." in page
    assert "TW-3 was past its calibration date (2 Oct 2026) on 7 Oct 2026." in page
    assert "Used on cylinder 2, rocker cover screws of cylinder 2 (2 of 6) (7 Oct 2026)." in page


def test_engine_is_drawn_whole_and_its_oil_as_five_small_charts(sign_in):
    html = sign_in("ada").get(seen("engine/")).content.decode()
    plan = re.search(r'<svg[^>]*class="plan-view".*?</svg>', html, re.S)
    assert plan is not None
    for name in ("Magneto left", "Oil filter", "Suction screen", "Exhaust muffler"):
        assert f">{name}</text>" in plan[0]
    cards = re.search(r'<ul class="check-cards metal-cards">(.*?)</ul>', html, re.S)
    assert cards is not None
    assert cards[1].count('class="chart-drawing"') == 10
    # What accuses an element, and what a laboratory can tell, are in each.
    assert cards[1].count(">1.5 × = ") == 10
    assert cards[1].count('data-part="bars"') >= 10
    # The marks are told once.
    assert "What the marks mean" not in html


def test_groups_stand_worst_first_and_so_do_their_items(shop):
    groups = engine_rows.engine(judged()).groups
    order = ["REJECT", "REWORK", "NOT YET", "KEEP"]
    ranks = [order.index(group.verdict) for group in groups]
    assert ranks == sorted(ranks)
    assert {group.title for group in groups} >= {
        "Spark plugs",
        "Hoses",
        "Cylinders",
        "Oil",
        "Leads",
    }
    for group in groups:
        inside = [order.index(one.verdict) for one in group.items]
        assert inside == sorted(inside)
        assert group.verdict == group.items[0].verdict
    assert sum(len(group.items) for group in groups) == len(judged().items)


def test_filter_shows_only_what_nobody_has_read_or_looked_at(sign_in):
    page = text_of(sign_in("ada").get(seen("engine/?show=not-inspected")))
    assert "Oil filter NOT YET" in page
    assert "Ignition lead 2B" in page
    assert "Ignition lead 1T" not in page
    found = engine_rows.engine(judged(), untouched_only=True)
    assert all(one.untouched for group in found.groups for one in group.items)
    assert sum(len(group.items) for group in found.groups) == found.untouched


def test_each_item_is_one_tap_from_its_group(sign_in):
    body = sign_in("ada").get(seen("engine/")).content.decode()
    for one in judged().items:
        name = one.name.replace(" ", "%20")
        kind = "plugs" if one.kind == "plug" else f"items/{one.kind}"
        assert f'href="/jobs/{DEMO}/{kind}/{name}/"' in body, one.item


def test_a_kind_with_one_item_is_named_by_what_it_is(shop):
    facts = judged().facts
    assert engine_rows.item_label(facts, "filter:oil") == "Oil filter"
    assert engine_rows.item_label(facts, "exhaust:muffler") == "Exhaust: muffler"
    assert engine_rows.item_label(facts, "cylinder:3") == "Cylinder 3"
    assert engine_rows.item_label(facts, "plug:K0411") == "Plug K0411"


def test_a_proved_meter_is_no_longer_listed(sign_in):
    client = sign_in("ada")
    assert {one.meter for one in engine_rows.lapsed_meters(judged())} == {"TW-3", "AN-1"}
    client.post(
        seen("act/"),
        {"kind": "proved", "meter": "TW-3", "reason": "As found 392 for 390.", "pin": PIN},
    )
    assert {one.meter for one in engine_rows.lapsed_meters(judged())} == {"AN-1"}


def test_six_and_radial_have_their_own_engine_pages(db, client):
    from rehang.book import queries

    queries.forget()
    _load("six", "rhea")
    _load("radial", "lene")
    client.post("/sign-in/", {"person": "rhea"})
    page = text_of(client.get(f"/jobs/{SIX}/engine/"))
    assert "Averley SX6-260" in page
    assert "Reject 4T. Rework 2B. Not yet 5T, 6B." in page
    assert "LT-6 was past its calibration date (15 Sep 2026) on 17 Sep 2026." in page
    client.post("/sign-in/", {"person": "lene"})
    answer = client.get(f"/jobs/{RADIAL}/engine/")
    assert "The engine seen from behind: cylinder 1 not yet (1F keep, 1R keep)" in (
        unescape(answer.content.decode())
    )


# One item


def test_cylinder_page_shows_the_leak_its_way_and_its_years(sign_in):
    answer = sign_in("ada").get(seen("items/cylinder/3/"))
    page = text_of(answer)
    assert "Cylinder 3 lets air out at the exhaust. Loud" in page
    assert "2026-09-30 hot 59/80 26.25 % 0.89 (0.84 to 0.93) exhaust" in page
    assert "2023-09-09 hot 75/80 6.25 % 0.40 (0.31 to 0.47)" in page
    assert "62/80 cold, on stand on 2026-10-09 is for reference only" in page
    assert answer.content.decode().count('class="cylinder-way on"') == 1
    # The floor of the day stands in the chart of its years.
    assert ">FLOOR 43 or more</text>" in answer.content.decode()


def test_a_flag_is_closed_with_a_reason_and_asks_for_one(sign_in):
    client = sign_in("ada")
    page = seen("items/cylinder/3/")
    assert "15 psi below the median of the others (74)" in text_of(client.get(page))
    form = {"kind": "closed", "form": "flag", "finding": "odd-one-out:cylinder:3", "next": page}
    form["pin"] = PIN
    assert client.post(seen("act/"), form)["Location"] == f"{page}#held"
    assert "Write the reason." in text_of(client.get(page))
    client.post(seen("act/"), form | {"reason": "Lapped in place; read again after the run."})
    after = text_of(client.get(page))
    assert "Closed by Ada Quist" in after
    assert "Lapped in place; read again after the run." in after
    assert judged().item("cylinder:3").flag == ""


def test_a_look_is_written_with_its_note(sign_in):
    client = sign_in("ada")
    page = seen("items/lead/2B/")
    answer = client.post(
        seen("act/"),
        {
            "kind": "seen",
            "item": "lead:2B",
            "check": "look",
            "word": "sound",
            "note": "",
            "next": page,
        },
    )
    assert answer["Location"] == page
    assert judged().item("lead:2B").call("look").call == "WITHIN"


def test_a_grade_needs_no_pressure_where_the_limit_asks_for_none(sign_in):
    client = sign_in("ada")
    address = seen("items/lead/2B/read/leak/")
    assert "At this pressure, psi" not in text_of(client.get(address))
    assert "At this pressure, psi" in text_of(client.get(seen("items/plug/K0413/read/spark/")))
    assert client.post(address, {"written": "no leak", "meter": "LT-1|"}).status_code == 303
    assert judged().item("lead:2B").call("leak").call == "WITHIN"


def test_pieces_fasteners_and_notes_are_written_from_the_page(sign_in):
    client = sign_in("ada")
    page = seen("items/filter/oil/write/")
    count = {"kind": "counted", "item": "filter:oil", "pieces": "3", "magnetic": "5", "next": page}
    client.post(seen("act/"), count)
    assert "5 magnetic of 3 pieces cannot be." in text_of(client.get(page))
    client.post(seen("act/"), count | {"magnetic": "1", "largest_mm": "0.5", "on": "2026-10-20"})
    assert "3 pieces, 1 magnetic, largest 0.5 mm" in text_of(client.get(page))
    page = seen("items/cylinder/2/write/")
    # What is torqued is written on its card, fastener by fastener.
    assert 'torque/rocker-cover/?place=2"' in client.get(page).content.decode()


# Compression


def test_two_reads_are_kept_in_one_go_and_judged(sign_in):
    client = sign_in("ada")
    address = seen("items/cylinder/3/read/compression/")
    assert "A bore of 4.375 in asks for 0.040 in" in text_of(client.get(address))
    answer = client.post(address, pressure(master="43", path_note="faint"))
    assert answer["Location"] == seen("items/cylinder/3/")
    kept = judged().state.order[-3:]
    assert [(e.kind, e.data["written"]) for e in kept] == [
        ("master", "43 psi"), ("reading", "72/80 psi"), ("reading", "71/80 psi"),
    ]  # fmt: skip
    assert dict(kept[1].data["with"]) == {
        "state": "hot", "minutes": "9", "orifice": "0.040 in", "path": "exhaust",
        "path_note": "faint",
    }  # fmt: skip
    assert judged().item("cylinder:3").call("compression").reading == "72/80 psi"


def test_the_same_form_sent_twice_is_kept_once(sign_in):
    client = sign_in("ada")
    address = seen("items/cylinder/3/read/compression/")
    client.post(address, pressure())
    before = len(judged().state.order)
    client.post(address, pressure())
    assert len(judged().state.order) == before


def test_the_wrong_orifice_is_kept_void_with_its_reason(sign_in):
    client = sign_in("ada")
    client.post(seen("items/cylinder/1/read/compression/"), pressure(orifice="0.060 in"))
    page = text_of(client.get(seen("items/cylinder/1/write/")))
    assert (
        "Void: taken through a 0.060 in orifice; a bore of 4.375 in asks for 0.040 in "
        "(AC 43.13-1B Chg 1, 8-14)." in page
    )
    assert judged().item("cylinder:1").call("compression").reading == "75/80 psi"


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"held": ""}, "Enter what the cylinder held."),
        ({"held": "7O"}, '"7O" is not a pressure. Write whole psi, as in 74.'),
        (
            {"held": "85"},
            '"85/80 psi" reads more than was fed in. Write what the cylinder held, then the '
            "supply, as in 74/80.",
        ),
        ({"supply": "140"}, "140 psi is outside what CT-1 reads (0 psi to 100 psi)."),
        ({"state": ""}, "Pick hot or cold: a cold figure never clears a hot one."),
        ({"orifice": ""}, "Pick the tester's orifice."),
        ({"path": ""}, "Pick where the air was heard, or none."),
        ({"minutes": "soon"}, '"soon" is not whole minutes. Write digits, as in 12.'),
        ({"meter": "XX-1|"}, "Pick the tester that was used."),
        ({"held": "7", "again": ""}, "7 is unlikely. The others are about 74 psi."),
    ],
)
def test_a_bad_pressure_is_said_and_nothing_is_half_kept(sign_in, typed, sentence):
    client = sign_in("ada")
    before = len(judged().state.order)
    answer = client.post(seen("items/cylinder/3/read/compression/"), pressure(master="43", **typed))
    assert answer.status_code == 422
    assert sentence in text_of(answer)
    assert len(judged().state.order) == before


def test_an_unlikely_pressure_is_kept_when_the_person_says_so(sign_in):
    client = sign_in("ada")
    answer = client.post(
        seen("items/cylinder/3/read/compression/"),
        pressure(held="7", again="", kept_as_keyed="yes"),
    )
    assert answer.status_code == 303
    assert judged().state.order[-1].data["kept_as_keyed"] is True


# Oil


def sample(**typed: str) -> dict[str, str]:
    return {
        "on": "2026-10-20", "engine_hours": "1150", "oil_hours": "8", "added_qt": "1",
        "ppm-Fe": "12", "ppm-Ni": "<2", "once": "1" * 32, **typed,
    }  # fmt: skip


def test_a_sample_is_kept_with_what_is_below_detection(sign_in):
    client = sign_in("ada")
    assert client.post(seen("engine/oil/"), sample()).status_code == 303
    kept = judged().state.order[-1]
    assert (kept.kind, kept.item) == ("sampled", "oil:engine")
    assert dict(kept.data["ppm"]) == {"Fe": 12, "Ni": "<2"}
    assert "(<2)" in text_of(client.get(seen("engine/oil/")))


def test_a_sample_with_its_top_ups_is_kept_with_each_of_them(sign_in):
    client = sign_in("ada")
    typed = sample(added_qt="2", topups="4 1, 8 1", left_share="0.1")
    assert client.post(seen("engine/oil/"), typed).status_code == 303
    kept = judged().state.order[-1]
    assert (kept.data["topups"], kept.data["left_share"]) == ({"4": 1.0, "8": 1.0}, 0.1)
    assert "topped up 1 qt at 4 h, 1 qt at 8 h" in entry_words(kept, judged())


def test_a_tester_s_page_says_what_its_master_tells(sign_in):
    from rehang.book import queries, services

    client = sign_in("marta")
    assert "its restrictor passes" not in text_of(client.get(seen("meters/of/CT-1/")))
    text = queries.files(queries.job(DEMO))["meters.toml"].replace(
        'orifice = "0.040 in"', 'orifice = "0.040 in"\nmaster_mm2 = 0.9'
    )
    services.file_text(
        job=queries.job(DEMO), name="meters.toml", text=text, by="marta", at=datetime.now(UTC)
    )
    assert "By the master reading of" in text_of(client.get(seen("meters/of/CT-1/")))


def test_bottle_is_filled_now_and_the_laboratory_answers_later(sign_in):
    client = sign_in("ada")
    client.post(seen("engine/oil/"), sample(**{"ppm-Fe": "", "ppm-Ni": "", "bottle": "7"}))
    [waiting] = judged().state.items["oil:engine"].bottles
    page = client.get(seen("engine/oil/"))
    assert "The laboratory's figures are awaited" in text_of(page)
    assert "bottle 7" in text_of(page)
    assert f"?sample={waiting.id}" in page.content.decode()
    # An answer with nothing in it is refused; what it found is kept beside the bottle.
    answer = client.post(seen("engine/oil/"), {"sample": waiting.id, "once": "lab-0"})
    assert answer.status_code == 422
    assert "Enter what the laboratory found of one element at least." in text_of(answer)
    client.post(seen("engine/oil/"), {"sample": waiting.id, "ppm-Fe": "31", "once": "lab-1"})
    item = judged().state.items["oil:engine"]
    assert item.bottles == []
    assert item.samples[-1].data["ppm"] == {"Fe": 31.0}
    assert "31" in text_of(client.get(seen("engine/oil/")))


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"on": ""}, "Enter the day it was drained."),
        (
            {"engine_hours": "900"},
            "The sample is at 900 h; the one before was at 1142.3 h. Hours do not run backwards.",
        ),
        ({"oil_hours": "x"}, '"x" is not a number of 0 or more. Write digits, as in 32.'),
        ({"topups": "4"}, '"4" is not hours and quarts. Write each top-up as in 12.5 1, the hours'),
        ({"topups": "4 2"}, "The top-ups come to 2 qt, and 1 qt is written as added in all."),
        ({"ppm-Fe": "-4"}, '"-4" is not a number of 0 or more. Write digits, as in 32.'),
        ({"on": "20 Oct"}, '"20 Oct" is not a date. Write 2027-01-31, 2027-01 or 2027-Q1.'),
    ],
)
def test_a_bad_sample_is_said_and_not_kept(sign_in, typed, sentence):
    client = sign_in("ada")
    before = len(judged().state.order)
    answer = client.post(seen("engine/oil/"), sample(**typed))
    assert answer.status_code == 422
    assert sentence in text_of(answer)
    assert len(judged().state.order) == before


def test_metal_that_jumped_is_decided_on_the_oils_page(sign_in):
    client = sign_in("ada")
    page, oil = seen("engine/oil/"), judged().state.items["oil:engine"]
    assert "times as much made" not in text_of(client.get(page))
    assert client.post(page, sample(**{"ppm-Fe": "900"})).status_code == 303
    said = "Fe 900 ppm after 55 (74 times as much made)"
    for path in ("engine/oil/", "", "blockers/", "record/"):
        assert said in text_of(client.get(seen(path))), path
    bottle = judged().state.items["oil:engine"].samples[-1].id
    assert bottle not in {one.id for one in oil.samples}
    form = {"kind": "closed", "form": "flag", "finding": f"oil-rise:{bottle}", "next": page}
    client.post(seen("act/"), form | {"reason": "Bottle mixed up, sampled again.", "pin": PIN})
    assert "Bottle mixed up, sampled again." in text_of(client.get(page))
    assert said not in text_of(client.get(seen("")))
    last = judged().state.order[-1]
    words = entry_words(last, judged())
    assert words.startswith("Decided on the metal in the oil sample of ")
    assert words.endswith("Bottle mixed up, sampled again.")
