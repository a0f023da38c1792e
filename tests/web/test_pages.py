"""Every page but the tray, by the fixed cast: Ada inspects, Ben approves, Cy reads, Dee is elsewhere."""

import re
from datetime import UTC, datetime
from html import unescape
from urllib.parse import unquote

import pytest
from django.urls import resolve, reverse

from rehang.sheets import demo_path
from rehang.sheets.folder import JobFolder, parse_files, read_folder
from rehang.trade.job.judging import judge
from rehang.trade.terms.wording import upper_first
from rehang.web.item.write_rows import to_rework
from tests.markup import markup
from tests.pins import PIN, give_pins

DEMO = "tv4-2207-2026"
J = f"/jobs/{DEMO}/"
LOADED = datetime(2026, 10, 20, 12, 0, tzinfo=UTC)
PEOPLE = """
[[person]]
key = "ada"
name = "Ada Quist"
role = "inspects"
certificate = "CASE-1"
certificate_kind = "mechanic"

[[person]]
key = "ben"
name = "Ben Roke"
role = "approves"

[[person]]
key = "cy"
name = "Cy Teller"
role = "reads"
"""
DEE = """
[[person]]
key = "dee"
name = "Dee Varn"
role = "inspects"
"""
CY_READS = "Cy Teller reads this book and does not write in it."

PAGES = [
    "", "blockers/", "put-away/", "plugs/K0413/", "plugs/K0412/", "items/plug/K0418/write/",
    "items/cylinder/4/", "items/plug/K0413/read/resistance/", "items/plug/K0413/read/look/",
    "items/plug/K0413/read/spark/", "read-back/", "book/", "book/?before=40", "meters/",
    "meters/new/", "meters/new/?make=digital", "meters/new/?make=spark", "meters/of/AN-1/",
    "limits/", "limits/2/", "limits/new/plug/gap/", "paper/",
]  # fmt: skip
POSTS = [
    ("act/", {"kind": "dropped", "item": "plug:K0411"}),
    ("strike/", {"entry": "x", "reason": "undone"}),
    ("put-away/", {"reason": "done"}),
    ("bring-back/", {}),
    ("items/plug/K0418/read/gap/", {"written": "18", "meter": "WG-1|"}),
    ("meters/of/DM-2/", {"name": "Ohmmeter", "due": "2027-02"}),
    ("meters/new/", {"make": "spark", "id": "BT-9", "name": "Tester"}),
    ("limits/2/", {"upper": "4000 ohm"}),
    ("limits/new/plug/gap/", {"upper": "0.020 in"}),
]


def _with_people(name: str, people: str) -> JobFolder:
    demo = read_folder(demo_path())
    files = dict(demo.files)
    files["people.toml"] += people
    files["engine.toml"] = files["engine.toml"].replace(f'job = "{DEMO}"', f'job = "{name}"')
    return JobFolder(
        name=name,
        files=files,
        entries=demo.entries if name == DEMO else (),
        facts=parse_files(files, name),
        where={},
        notices=(),
    )


@pytest.fixture
def shop(db):
    """The demo with Ada, Ben and Cy in its list, and another job that has Dee."""
    from rehang.book import queries, services

    queries.forget()
    job = services.load_folder(folder=_with_people(DEMO, PEOPLE), by="ada", at=LOADED)
    services.load_folder(folder=_with_people("elsewhere", DEE), by="marta", at=LOADED)
    give_pins("ada")
    return job


@pytest.fixture
def sign_in(shop, client):
    """The client, signed in with one tap as that person."""

    def enter(person: str):
        answer = client.post("/sign-in/", {"person": person})
        assert answer.status_code == 303
        return client

    return enter


def text_of(answer) -> str:
    """The words of a page, spaces made single."""
    body = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", unescape(body)).strip()


def judged():
    from rehang.book import queries

    return queries.judged(queries.job(DEMO))


def last_entry():
    return judged().state.order[-1]


# Who may see and do what


# Loading the demo takes longer than any page, so these go through all pages in one test.


@pytest.mark.parametrize("person", ["ada", "ben", "cy"])
def test_people_of_the_job_see_every_page(sign_in, person):
    client = sign_in(person)
    assert {path: client.get(J + path).status_code for path in PAGES} == dict.fromkeys(PAGES, 200)


def test_someone_who_is_not_in_the_list_is_told_there_is_no_such_job(sign_in):
    client = sign_in("dee")
    for path in PAGES:
        answer = client.get(J + path)
        assert answer.status_code == 404, path
        assert f'There is no job "{DEMO}" on your board.' in text_of(answer), path


def test_nobody_sees_a_page_without_signing_in(shop, client):
    for path in PAGES:
        answer = client.get(J + path)
        assert answer.status_code == 302, path
        assert answer["Location"].startswith("/sign-in/?next="), path


def test_who_only_reads_is_refused_with_the_sentence_and_nothing_is_written(sign_in):
    before = len(judged().state.order)
    client = sign_in("cy")
    for path, fields in POSTS:
        answer = client.post(J + path, fields)
        assert answer.status_code == 403, path
        assert CY_READS in text_of(answer), path
    assert len(judged().state.order) == before


def test_a_stranger_writes_nothing(sign_in):
    before = len(judged().state.order)
    client = sign_in("dee")
    for path, fields in POSTS:
        assert client.post(J + path, fields).status_code == 404, path
    assert len(judged().state.order) == before


def test_who_only_reads_sees_no_writing_buttons(sign_in):
    client = sign_in("cy")
    for path in ("", "plugs/K0415/", "read-back/", "book/", "meters/", "limits/"):
        answer = client.get(J + path)
        assert CY_READS in text_of(answer), path
        own = re.sub(r"<header.*?</header>", "", answer.content.decode(), flags=re.S)
        posts = re.findall(r'<form[^>]*method="post"[^>]*action="([^"]*)"', own)
        assert [p for p in posts if p != "/sign-out/"] == [], path


def test_a_job_in_which_nothing_has_happened_shows_its_pages(sign_in):
    client = sign_in("dee")
    words = text_of(client.get("/jobs/elsewhere/"))
    assert "Nothing has been read yet" in words
    assert "PLUGS OUT" in words
    for path in ("blockers/", "read-back/", "book/", "meters/", "limits/", "paper/"):
        assert client.get(f"/jobs/elsewhere/{path}").status_code == 200, path


# The board


def test_board_says_where_when_why_and_the_last_three(sign_in):
    words = text_of(sign_in("ada").get(J))
    assert "Where I left off TV4-2207 4B Plug tray, look, 10×" in words
    assert "Stopped 17 Oct, 16:39 by Marta Oduya, phone rang" in words
    assert "CARRY ON AT 4B" in words
    for value in ("1.41 kΩ", "18 thou", "steady"):
        assert value in words


def test_board_has_a_card_for_each_plug_that_can_be_worked_on(sign_in):
    hands = sign_in("ada")
    # The board names the first four, the rest of the job has them all.
    assert "Have it re-gapped to 17 thou, then take again: gap, spark" in text_of(
        hands.get(J + "rest/")
    )
    words = text_of(hands.get(J))
    assert "Pick the bridge out, clean, then take every check" in words
    assert (
        "Cylinder 3 run the compression again; then lap, run again or remove since 10 Oct" in words
    )


def test_carry_on_writes_it_and_opens_the_tray_at_the_hole(sign_in):
    onward = J + "tray/?check=look&hole=4B"
    answer = sign_in("ada").post(
        J + "act/",
        {"kind": "carried_on", "where": "tray", "place": "4B", "check": "look", "next": onward},
    )
    assert (answer.status_code, answer["Location"]) == (303, onward)
    assert (last_entry().kind, last_entry().by) == ("carried_on", "ada")
    assert judged().state.stop is None


def test_a_post_never_leads_to_another_site(sign_in):
    answer = sign_in("ada").post(
        J + "act/", {"kind": "note", "text": "Washed.", "next": "https://elsewhere.example/"}
    )
    assert answer["Location"] == J


def test_what_others_wrote_while_away_is_named(sign_in):
    client = sign_in("ada")
    client.post(J + "act/", {"kind": "note", "text": "Tray washed."})
    client.post("/sign-out/")
    sign_in("ben").post(J + "act/", {"kind": "note", "text": "Hoses came."})
    client.post("/sign-out/")
    words = text_of(sign_in("ada").get(J))
    assert "Ben Roke Hoses came." in words
    assert "Ada Quist Tray washed." not in words


def test_every_blocker_stands_with_its_way_out(sign_in):
    words = text_of(sign_in("ada").get(J + "blockers/"))
    for one in judged().blockers:
        assert upper_first(one.sentence) in words
        assert one.way_out in words


# Acts on a plug


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"kind": "dropped", "item": "plug:K0411"}, "K0411 (1T) was dropped."),
        ({"kind": "overheated", "item": "plug:K0411"}, "K0411 (1T) was overheated."),
        ({"kind": "unknown_history", "item": "plug:K0411"}, "K0411 (1T) has no known history."),
        ({"kind": "reworked", "item": "plug:K0415", "act": "regap"}, "K0415 (3T) was re-gapped."),
        (
            {"kind": "seen", "item": "plug:K0411", "word": "worn:2", "check": ""},
            "K0411 (1T), seen: Worn, oval, severity 2.",
        ),
        (
            {"kind": "disposed", "item": "plug:K0412", "how": "quarantined"},
            "K0412 was put in quarantine.",
        ),
    ],
)
def test_one_tap_writes_one_entry_says_so_and_undo_takes_it_back(sign_in, fields, said):
    client = sign_in("ada")
    page = J + "plugs/" + fields["item"].partition(":")[2] + "/"
    verdicts = [(i.item, i.verdict) for i in judged().items]
    before = len(judged().state.order)
    pin = {"pin": PIN} if fields["kind"] == "disposed" else {}
    answer = client.post(J + "act/", {**fields, **pin, "next": page}, follow=True)
    assert answer.redirect_chain == [(page, 303)]
    assert said in text_of(answer)
    assert len(judged().state.order) == before + 1
    entry = last_entry()
    assert f'name="entry" value="{entry.id}"' in answer.content.decode()
    client.post(J + "strike/", {"entry": entry.id, "reason": "undone", "next": page})
    assert entry.id in judged().state.struck
    assert [(i.item, i.verdict) for i in judged().items] == verdicts


def test_what_cleaning_after_the_tests_voids_is_said_before_and_after(sign_in):
    client = sign_in("ada")
    page = J + "items/plug/K0411/write/"
    before = text_of(client.get(page))
    assert "Voids resistance 1.18 kΩ" in before
    form = {"kind": "reworked", "item": "plug:K0411", "act": "blast", "next": page}
    said = text_of(client.post(J + "act/", form, follow=True))
    assert "To be taken again, for it counts no more: resistance 1.18 kΩ" in said
    assert "gap 18 thou" in said
    assert "spark steady" in said
    # A second blast voids nothing more, and says nothing of it.
    again = {**form, "once": "0123456789abcdef0123456789abcdef"}
    assert "counts no more" not in text_of(client.post(J + "act/", again, follow=True))


def test_the_same_form_sent_twice_is_one_entry(sign_in):
    client = sign_in("ada")
    form = {"kind": "dropped", "item": "plug:K0411", "once": "0123456789abcdef0123456789abcdef"}
    before = len(judged().state.order)
    for _ in range(3):
        assert client.post(J + "act/", form).status_code == 303
    assert len(judged().state.order) == before + 1


def test_a_dropped_plug_is_a_reject_at_once(sign_in):
    sign_in("ada").post(J + "act/", {"kind": "dropped", "item": "plug:K0411"})
    assert judged().item("plug:K0411").verdict == "REJECT"


def test_a_plug_to_be_reworked_is_reworked_first_and_offered_to_no_hole(sign_in):
    client = sign_in("ada")
    before = client.get(J + "plugs/K0415/")
    writing = J + "items/plug/K0415/write/"
    assert "K0415 is REWORK. Have it re-gapped" in text_of(client.get(writing))
    buttons = re.findall(
        r'<button\s+class="button main"[^>]*>(.*?)</button>', before.content.decode(), re.S
    )
    assert [re.sub(r"<[^>]+>|\s+", " ", one).split("Voids")[0].strip() for one in buttons] == [
        "RE-GAPPED"
    ]
    assert "PUT IN K0415" not in text_of(client.get(writing))
    form = {"kind": "reworked", "item": "plug:K0415", "act": "regap", "next": J + "plugs/K0415/"}
    after = client.post(J + "act/", form, follow=True)
    # It is to be read again: it may go in, and that is not what to tap.
    assert judged().item("plug:K0415").verdict == "NOT YET"
    assert "PUT IN K0415" not in text_of(after)
    assert "PUT IN K0415" in text_of(client.get(writing))


def test_an_out_that_is_to_be_repeated_has_the_cleaning_before_it_at_next():
    folder = read_folder(demo_path())
    moment = next(e.at for e in folder.entries if e.kind == "dropped").replace(hour=0)
    then = judge(folder.facts, folder.entries, moment)
    verdict = then.item("plug:K0412")
    assert verdict.next == "Clean the contact and read resistance again."
    offered = to_rework(then, verdict)
    assert (offered.name, offered.label) == ("contact", "CLEANED AT ITS CONTACT")
    # One that waits on something else is asked for that.
    assert to_rework(then, then.item("plug:K0522")) is None


@pytest.mark.parametrize("name", ["80/0", "x y/1.2"])
@pytest.mark.parametrize(
    ("page", "before", "after"),
    [
        ("plug", (), ()), ("item", ("cylinder",), ()), ("item_write", ("cylinder",), ()),
        ("read", ("cylinder",), ("compression",)), ("story", ("plug",), ()), ("story_pdf", ("plug",), ()),
        ("meter", (), ()), ("run_of", (), ()),
    ],
)  # fmt: skip
def test_a_name_with_a_stroke_in_it_has_a_page(page, before, after, name):
    address = reverse(f"web:{page}", args=[DEMO, *before, name, *after])
    found = resolve(unquote(address))
    assert (found.url_name, found.kwargs["name"]) == (page, name)


def test_disagreeing_takes_a_verdict_and_a_reason_and_keeps_what_was_typed(sign_in):
    client = sign_in("ada")
    page = J + "plugs/K0415/"
    form = {"kind": "disagreed", "item": "plug:K0415", "next": page, "pin": PIN}
    answer = client.post(J + "act/", {**form, "reason": "Only one to hand."}, follow=True)
    body = answer.content.decode()
    assert text_of(answer).count("Pick a verdict.") == 2
    assert 'value="Only one to hand."' in body
    answer = client.post(J + "act/", {**form, "verdict": "REJECT"}, follow=True)
    assert text_of(answer).count("Write the reason.") == 2
    client.post(J + "act/", {**form, "verdict": "REJECT", "reason": "Worn on the far side."})
    item = judged().item("plug:K0415")
    assert (item.verdict, item.proposed, item.decided_by) == ("REJECT", "REWORK", "Ada Quist")


def test_a_finding_is_closed_only_with_a_reason(sign_in):
    client = sign_in("ada")
    page = J + "items/cylinder/4/"
    finding = judged().item("cylinder:4").findings[0]
    form = {"kind": "closed", "finding": finding.id, "form": f"close-{finding.id}", "next": page}
    form["pin"] = PIN
    assert text_of(client.post(J + "act/", form, follow=True)).count("Write the reason.") == 2
    client.post(J + "act/", {**form, "reason": "Borescope: even rings, hone visible."})
    assert not judged().item("cylinder:4").findings[0].is_open


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"reason": ""}, "reason"),
        ({"again_hours": "soon"}, "again_hours"),
        ({"again_on": "soon"}, "again_on"),
        ({"again_on": "2020-01-01"}, "again_on"),
    ],
)
def test_what_is_wrong_with_closing_a_finding_stands_beside_its_own_field(sign_in, typed, field):
    client = sign_in("ada")
    finding = judged().item("cylinder:4").findings[0]
    form = f"close-{finding.id}"
    sent = {"kind": "closed", "finding": finding.id, "form": form, "reason": "Even rings seen.",
            "next": J + "items/cylinder/4/", "pin": PIN, **typed}  # fmt: skip
    body = client.post(J + "act/", sent, follow=True).content.decode()
    assert re.findall(r'class="wrong" id="w-([^"]+)"', body) == [f"{form}-{field}"]
    assert f'id="f-{form}-{field}"' in body
    assert judged().item("cylinder:4").findings[0].is_open


def test_a_replacement_comes_into_the_job_and_is_judged_itself(sign_in):
    client = sign_in("ada")
    form = {"kind": "replaced", "stem": "plug:", "for": "K0412"}
    form["next"] = J + "items/plug/K0412/write/"
    assert (
        text_of(client.post(J + "act/", form, follow=True)).count(
            "Write the serial of its replacement."
        )
        == 2
    )
    client.post(J + "act/", {**form, "serial": "K0601"})
    assert last_entry().place == "3T"
    assert judged().item("plug:K0601").verdict == "NOT YET"
    answer = client.post(
        J + "items/plug/K0601/read/gap/", {"written": "17", "meter": "WG-1|"}, follow=True
    )
    assert "K0601: gap 17 thou on WG-1." in text_of(answer)
    assert judged().item("plug:K0601").call("gap").call == "WITHIN"


def test_an_unknown_act_is_refused(sign_in):
    answer = sign_in("ada").post(J + "act/", {"kind": "filed", "file": "limits.toml"})
    assert answer.status_code == 404
    assert '"filed" is not an act of the bench.' in text_of(answer)


# A plug's story


def test_story_gives_verdict_reasons_calls_limits_and_meters(sign_in):
    words = text_of(sign_in("ada").get(J + "plugs/K0412/"))
    item = judged().item("plug:K0412")
    assert "REJECT" in words
    for reason in item.reasons:
        assert reason in words
    for call in item.calls:
        assert call.sentence in words
        assert call.limit in words
        assert call.meter in words
    # Whose the limits are is said once: they are all of one page of one manual.
    assert words.count("TV4 manual (invented), rev 6, page 7-4") == 1
    assert "Resistance is up three times running: 1.01, 1.35, 2.10, 4.30 kΩ, and open now." in words


def test_story_keeps_void_readings_with_their_reason(sign_in):
    words = text_of(sign_in("ada").get(J + "items/plug/K0522/write/"))
    assert "ALSO ON FILE" in words
    assert words.count("Void: taken before it was dropped.") >= 4


def test_story_shows_a_struck_reading_struck_with_who_and_why(sign_in):
    client = sign_in("ada")
    gap = judged().item("plug:K0411").call("gap").entry
    client.post(J + "strike/", {"entry": gap.id, "reason": "misread the wire", "pin": PIN})
    words = text_of(client.get(J + "items/plug/K0411/write/"))
    assert "Gap 18 thou STRUCK Struck by Ada Quist: Misread the wire." in words


def test_gap_growth_between_openings_is_said(sign_in):
    words = text_of(sign_in("ada").get(J + "plugs/K0415/"))
    assert "Gap grew by 2, 3, 4, 7 thou from one opening to the next." in words


# Reading back and changing


def test_read_back_shows_every_value_in_walk_order(sign_in):
    body = sign_in("ada").get(J + "read-back/").content.decode()
    holes = re.findall(r'<h2 class="pickup-at">(\w+)</h2>', body)
    assert holes == list(judged().facts.layout.walk)
    words = text_of(sign_in("ada").get(J + "read-back/"))
    for item in judged().items:
        for call in item.calls if item.place else ():
            assert (call.reading or "not read") in words
    assert "5 still to be read" in words


def test_a_change_strikes_the_old_writes_the_new_and_returns_to_its_line(sign_in):
    client = sign_in("ada")
    back = J + "read-back/#r-1T-gap"
    old = judged().item("plug:K0411").call("gap").entry
    answer = client.post(
        J + "items/plug/K0411/read/gap/",
        {
            "written": "17",
            "meter": "WG-1|",
            "how": "strike",
            "reason": "misheard, the wire says 17",
            "back": back,
            "pin": PIN,
        },
    )
    assert (answer.status_code, answer["Location"]) == (303, back)
    assert judged().state.struck[old.id].data["reason"] == "misheard, the wire says 17"
    assert judged().item("plug:K0411").call("gap").reading == "17 thou"
    assert last_entry().data["written"] == "17 thou"
    words = text_of(client.get(J + "read-back/"))
    assert "Gap 17 thou changed Within" in words


def test_reading_again_on_a_better_meter_keeps_both_and_settles_the_close_call(sign_in):
    client = sign_in("ada")
    assert "READ ON DM-2" in text_of(client.get(J + "plugs/K0413/"))
    client.post(
        J + "items/plug/K0413/read/resistance/",
        {"written": "4.2", "meter": "DM-2|20k", "how": "again"},
    )
    call = judged().item("plug:K0413").call("resistance")
    assert (call.call, call.reading, len(call.others)) == ("WITHIN", "4.20 kΩ", 1)


def test_an_unlikely_number_has_three_answers_and_nothing_is_kept_until_one_is_given(sign_in):
    client = sign_in("ada")
    where = J + "items/plug/K0413/read/resistance/"
    form = {"written": "12.4", "meter": "DM-2|20k", "how": "again"}
    before = len(judged().state.order)
    answer = client.post(where, form)
    assert answer.status_code == 422
    words = text_of(answer)
    assert words.count("12.4 is unlikely. The others are about 1.35 kΩ.") == 2
    assert "KEEP IT AS KEYED" in words
    assert "1.24 kohm?" in words
    assert len(judged().state.order) == before
    client.post(where, {**form, "kept_as_keyed": "yes"})
    assert last_entry().data["kept_as_keyed"] is True
    assert last_entry().data["written"] == "12.4 kohm"


def test_the_shifted_answer_is_what_is_kept(sign_in):
    client = sign_in("ada")
    client.post(
        J + "items/plug/K0413/read/resistance/",
        {"written": "12.4", "shifted": "1.24 kohm", "meter": "DM-2|20k", "how": "again"},
    )
    assert last_entry().data["written"] == "1.24 kohm"


@pytest.mark.parametrize(
    ("path", "fields", "sentence"),
    [
        ("K0418/read/gap/", {"written": "", "meter": "WG-1|"}, "Enter gap."),
        (
            "K0418/read/gap/",
            {"written": "1,8", "meter": "WG-1|"},
            '"1,8" has a comma that is not a thousands mark. Write the decimal with a point, as in 1.24.',
        ),
        (
            "K0411/read/gap/",
            {"written": "17", "meter": "WG-1|", "how": "strike", "reason": ""},
            "Write why the reading is changed.",
        ),
        (
            "K0418/read/spark/",
            {"written": "steady", "meter": "BT-1|", "at_psi": "lots"},
            '"lots" is not a pressure. Write whole psi, as in 100.',
        ),
        ("K0418/read/look/", {"word": ""}, "Pick what was seen."),
        ("K0418/read/look/", {"word": "worn"}, "Worn, oval may be 3 or 2 or 1. Pick one."),
        (
            "K0418/read/look/",
            {"word": "crack"},
            "Cracked, nothing missing at severity 3 makes it a reject. Tick the box to say so.",
        ),
    ],
)
def test_a_reading_that_cannot_be_kept_says_why_at_the_field_and_on_top(
    sign_in, path, fields, sentence
):
    before = len(judged().state.order)
    answer = sign_in("ada").post(J + "items/plug/" + path, fields)
    assert answer.status_code == 422
    assert text_of(answer).count(sentence) == 2
    assert len(judged().state.order) == before
    if fields.get("written"):
        assert f'value="{fields["written"]}"' in answer.content.decode()


# The book


def test_book_shows_all_entries_newest_first_and_that_the_chain_holds(sign_in):
    client = sign_in("ada")
    total = len(judged().state.order)
    seen, before = [], ""
    while True:
        body = client.get(J + "book/", {"before": before} if before else {}).content.decode()
        seen += [int(n) for n in re.findall(r'id="e-(\d+)"', body)]
        older = re.search(r"\?before=(\d+)\">OLDER", body)
        if not older:
            break
        before = older[1]
    assert seen == list(range(total, 0, -1))
    assert f"Nothing altered since it was written. {total} lines." in text_of(
        client.get(J + "book/")
    )


def test_book_shows_the_lines_of_one_part_one_person_and_one_kind(sign_in):
    client = sign_in("ada")
    client.post(J + "act/", {"kind": "note", "text": "Read by Ada."})
    every = judged().state.order

    def shown(**asked):
        body = client.get(J + "book/", asked).content.decode()
        return {int(n) for n in re.findall(r'id="e-(\d+)"', body)}, body

    of_plug, body = shown(part="plug:K0413")
    assert of_plug == {e.seq for e in every if e.item == "plug:K0413"}
    assert f"{len(of_plug)} of {len(every)} lines." in text_of(
        client.get(J + "book/?part=plug:K0413")
    )
    assert '<option value="plug:K0413" selected>Plug K0413</option>' in body
    assert shown(by="ada")[0] == {e.seq for e in every if e.by == "ada"} != set()
    readings = {
        e.seq for e in every if e.kind in ("reading", "seen", "pictured") and e.item == "plug:K0413"
    }
    assert shown(about="readings", part="plug:K0413")[0] == readings != of_plug
    assert "No line of the book is about that." in shown(part="plug:nobody")[1]
    # What is older is of the same kind.
    older = re.search(r"\?(about=readings&amp;before=\d+)\">OLDER", shown(about="readings")[1])
    assert older is not None


def test_striking_takes_a_reason_and_the_entry_stays_struck_in_view(sign_in):
    client = sign_in("ada")
    client.post(J + "act/", {"kind": "note", "text": "Wrong job."})
    note = last_entry()
    where = J + "book/"
    answer = client.post(
        J + "strike/", {"entry": note.id, "reason": " ", "next": where}, follow=True
    )
    assert text_of(answer).count("Write why this line is struck.") == 2
    answer = client.post(
        J + "strike/", {"entry": note.id, "reason": "another engine", "next": where}, follow=True
    )
    assert "<s>Wrong job.</s>" in answer.content.decode()
    assert "Struck by Ada Quist: Another engine." in text_of(answer)


def test_a_strike_of_a_strike_is_refused_with_its_sentence(sign_in):
    client = sign_in("ada")
    client.post(J + "act/", {"kind": "note", "text": "Wrong job."})
    client.post(J + "strike/", {"entry": last_entry().id, "reason": "another engine"})
    answer = client.post(
        J + "strike/", {"entry": last_entry().id, "reason": "no, it was this one"}, follow=True
    )
    assert "A strike is not struck. Write the thing again instead." in text_of(answer)


# Meters and limits


def test_due_date_is_filed_and_the_blocker_of_the_meter_goes(sign_in):
    client = sign_in("ada")
    assert any(b.about == "meter:AN-1" for b in judged().blockers)
    answer = client.post(
        J + "meters/of/AN-1/",
        {
            "name": "Analog ohmmeter",
            "due": "2027-03",
            "calibrated_by": "Bench lab",
            "note": "",
            "pin": PIN,
        },
        follow=True,
    )
    assert "AN-1 is filed as you wrote it." in text_of(answer)
    assert judged().facts.meters["AN-1"].due_text == "2027-03"
    assert judged().facts.meters["AN-1"].entered_on == judged().today
    assert not any(b.about == "meter:AN-1" for b in judged().blockers)
    assert (last_entry().kind, last_entry().by) == ("filed", "ada")


def test_a_date_that_is_none_is_said_at_its_field_and_kept_in_view(sign_in):
    answer = sign_in("ada").post(
        J + "meters/of/DM-2/", {"name": "Digital ohmmeter", "due": "next March"}
    )
    assert answer.status_code == 422
    sentence = '"next March" is not a date. Write 2027-01-31, 2027-01 or 2027-Q1.'
    assert text_of(answer).count(sentence) == 2
    assert 'value="next March"' in answer.content.decode()


def test_as_found_check_lifts_the_blocker(sign_in):
    client = sign_in("ada")
    form = {"kind": "proved", "meter": "AN-1", "next": J + "meters/of/AN-1/", "pin": PIN}
    assert text_of(client.post(J + "act/", form, follow=True)).count("Write the reason.") == 2
    client.post(J + "act/", {**form, "reason": "Against DM-2 at 1.00 kΩ: read 1.02 kΩ."})
    assert not any(b.about == "meter:AN-1" for b in judged().blockers)


DIGITAL = {
    "make": "digital", "id": "DM-7", "name": "Second ohmmeter", "range.top": "20 kohm",
    "range.count": "10 ohm", "range.percent_of_reading": "0.5", "range.counts": "3",
    "due": "2027-06",
}  # fmt: skip


def test_a_meter_is_added_and_is_worth_what_was_written(sign_in):
    sign_in("ada").post(J + "meters/new/", {**DIGITAL, "pin": PIN})
    meter = judged().facts.meters["DM-7"]
    assert meter.worth == "±0.5 % of reading + 3 counts of 10 Ω"
    assert meter.due_text == "2027-06"
    assert meter.entered_on == judged().today


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"id": ""}, "Enter the id on the meter."),
        ({"id": "DM-2"}, 'There is a meter "DM-2" already. Give this one its own id.'),
        ({"range.top": "20"}, None),
        ({"range.counts": "few"}, '"few" is not a number. Write digits, as in 18 or 1.24.'),
        ({"range.top": ""}, "Enter: largest figure."),
        ({"range.percent_of_reading": ""}, "Enter: good to ± per cent."),
    ],
)
def test_a_meter_that_cannot_be_filed_says_why(sign_in, change, sentence):
    before = len(judged().state.order)
    answer = sign_in("ada").post(J + "meters/new/", {**DIGITAL, **change, "pin": PIN})
    if sentence is None:
        # A bare number takes the unit the quantity is keyed in.
        assert judged().facts.meters["DM-7"].ranges[0].top == 20_000
        return
    assert answer.status_code == 422
    assert text_of(answer).count(sentence) == 2
    assert len(judged().state.order) == before


def test_a_limit_is_filed_under_the_name_and_day_of_who_entered_it(sign_in):
    # Ada confirms it on Ben's device: it is filed under her name.
    client = sign_in("ben")
    fields = {"upper": "4000 ohm", "document": "TV4 manual", "revision": "7", "page": "7-5"}
    asked = client.post(J + "limits/2/", fields)
    assert "To change a limit takes a PIN" in text_of(asked)
    hidden = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', asked.content.decode()))
    assert fields.items() <= hidden.items()
    answer = client.post(J + "limits/2/", {**fields, "who": "ada", "pin": PIN}, follow=True)
    assert "Resistance is on file: max 4.00 kΩ." in text_of(answer)
    limit = judged().facts.limits[2]
    assert (limit.upper, limit.revision, limit.entered_by) == (4000, "7", "ada")
    assert limit.entered_on is not None
    assert not limit.short_is_out
    assert "# Limits of the demo job." in _limits_text()


def _limits_text() -> str:
    from rehang.book import queries

    return queries.files(queries.job(DEMO))["limits.toml"]


def test_a_limit_without_a_source_is_filed_and_judges_nothing(sign_in):
    client = sign_in("ada")
    answer = client.post(J + "limits/2/", {"upper": "5000 ohm", "pin": PIN}, follow=True)
    words = text_of(answer)
    said = "Resistance is on file: max 5.00 kΩ. It names no document and revision, so it judges"
    assert f"{said} nothing." in words
    assert "Resistance max 5.00 kΩ NOT JUDGED: no source" in words
    assert judged().item("plug:K0411").call("resistance").call == "NOT JUDGED"


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        (
            {"document": "TV4 manual"},
            "Write the figure it may not be below or not be above.",
        ),
        (
            {"lower": "0.020 in", "upper": "0.016 in"},
            "The lower bound 0.020 in is above the upper bound 0.016 in.",
        ),
        (
            {"upper": "190"},
            "190 thou is no likely limit for gap: likely is 5 to 60 thou. Look at the unit; if it is "
            "right, write it with the number, as in 190 thou.",
        ),
        ({"upper": "1,9"}, '"1,9" has a comma that is not a thousands mark. Write the decimal'),
    ],
)
def test_a_limit_that_cannot_be_read_says_why_and_keeps_what_was_typed(sign_in, fields, sentence):
    before = len(judged().state.order)
    answer = sign_in("ada").post(J + "limits/3/", fields)
    assert answer.status_code == 422
    assert text_of(answer).count(sentence) == 2
    assert len(judged().state.order) == before
    for value in fields.values():
        assert f'value="{value}"' in answer.content.decode()


# Jobs, off the board and back


def test_a_job_is_taken_off_after_asking_and_can_be_brought_back(sign_in):
    client = sign_in("ada")
    answer = client.post(J + "put-away/", {"reason": ""}, follow=True)
    assert text_of(answer).count("Write the reason.") == 2
    asked = client.post(J + "put-away/", {"reason": "hung again"})
    assert "To take a job off the board takes a PIN" in text_of(asked)
    answer = client.post(J + "put-away/", {"reason": "hung again", "pin": PIN}, follow=True)
    assert "Off the board" in text_of(answer)
    assert judged().state.put_away
    assert client.get(J).status_code == 200
    client.post(J + "bring-back/", {"pin": PIN})
    assert not judged().state.put_away
    assert client.get("/")["Location"] == J


# Signing in


def test_one_tap_is_offered_for_each_person_without_a_password(shop, client):
    words = text_of(client.get("/sign-in/"))
    for name in ("Ada Quist", "Ben Roke", "Cy Teller", "Marta Oduya"):
        assert f"Sign in as {name}" in words


def test_one_tap_works_only_at_the_machine(shop, client):
    answer = client.get("/sign-in/", REMOTE_ADDR="192.0.2.7")
    assert "Sign in as" not in text_of(answer)
    answer = client.post("/sign-in/", {"person": "ada"}, REMOTE_ADDR="192.0.2.7")
    assert answer.status_code == 422
    assert text_of(answer).count("Signing in with one tap works only at the machine itself.") == 2


def test_a_password_is_set_and_then_asked_for(sign_in, client):
    sign_in("ada")
    long = "three greasy rags"
    answer = client.post("/set-password/", {"password": long, "again": long, "now": "111213"})
    assert "That is not the PIN or password of Ada Quist." in text_of(answer)
    now = {"now": PIN}
    answer = client.post("/set-password/", {"password": long, "again": "three rags", **now})
    assert answer.status_code == 422
    sentence = "The two are not the same. Enter the new password twice."
    assert text_of(answer).count(sentence) == 2
    assert (
        client.post("/set-password/", {"password": long, "again": long, **now}).status_code == 303
    )
    assert client.get(J).status_code == 200
    client.post("/sign-out/")
    assert "Sign in as Ada Quist" not in text_of(client.get("/sign-in/"))
    assert client.post("/sign-in/", {"person": "ada"}).status_code == 422
    wrong = client.post("/sign-in/", {"name": "ada", "password": "rags"})
    assert wrong.status_code == 422
    assert (
        text_of(wrong).count(
            "That name and password do not go together. Check both, then sign in again."
        )
        == 2
    )
    assert 'value="ada"' in wrong.content.decode()
    right = client.post("/sign-in/", {"name": "ada", "password": long, "next": J + "book/"})
    assert (right.status_code, right["Location"]) == (303, J + "book/")


def test_signing_in_never_leads_to_another_site(shop, client):
    answer = client.post("/sign-in/?next=//elsewhere.example/", {"person": "ada"})
    assert answer["Location"] == "/"


# Words on every page

NAKED_POINT = re.compile(r"(?<![\w.])\.\d")
LOCAL_DATE = re.compile(r"\b\d{1,2}/\d{1,2}/\d{2,4}\b")
NOT_OUR_WORDS = re.compile(
    r"\b(invalid|please|sorry|oops|illegal|failed|(?<!within lab )error)\b", re.IGNORECASE
)


def test_numbers_dates_and_words_are_written_as_the_trade_reads_them(sign_in):
    client = sign_in("ada")
    for path in PAGES:
        words = text_of(client.get(J + path))
        assert NAKED_POINT.findall(words) == [], path
        assert LOCAL_DATE.findall(words) == [], path
        assert NOT_OUR_WORDS.findall(words) == [], path


def test_pages_carry_no_inline_script_or_style(sign_in):
    client = sign_in("ada")
    for path in PAGES:
        body = client.get(J + path).content.decode()
        assert re.findall(r"\sstyle=|\son\w+=|<style|<script(?![^>]*\ssrc=)", body) == [], path


def test_markup_in_what_people_write_is_shown_as_written(sign_in):
    client = sign_in("ada")
    client.post(J + "act/", {"kind": "note", "text": "<script>alert(1)</script>"})
    body = client.get(J + "book/").content.decode()
    assert "<script>alert" not in body
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in body


# Paper


@pytest.mark.parametrize("person", ["ada", "cy"])
@pytest.mark.parametrize("name", ["tray-record", "blank-sheet"])
def test_sheets_are_pdf_in_both_sizes(sign_in, person, name):
    client = sign_in(person)
    for size in ("letter", "a4"):
        answer = client.get(f"{J}paper/{name}.pdf", {"size": size})
        assert answer.status_code == 200
        assert answer.content.startswith(b"%PDF")
    answer = client.get(f"{J}paper/{name}.pdf", {"size": "b5"})
    assert 'There is no paper size "b5" here. Use letter or a4.' in text_of(answer)


def test_ten_wrong_passwords_get_a_page_that_says_how_long_to_wait(shop, client):
    for _ in range(10):
        answer = client.post("/sign-in/", {"name": "marta", "password": "wrong"})
    assert answer.status_code == 429
    assert "Wait five minutes, then sign in again." in text_of(answer)


def test_a_wrench_found_out_opens_its_uses_until_a_person_writes_why_they_stand(sign_in):
    client = sign_in("ada")
    page = J + "meters/of/DM-2/"
    take = J + "rest/bench/?do=task:D5"
    assert "DM-2" in text_of(client.get(take)).partition("For which work?")[0]
    form = {"kind": "found_out", "meter": "DM-2", "next": page, "good": "2026-01-10", "once": "f1"}
    form["pin"] = PIN
    answer = client.post(J + "act/", form, follow=True)
    assert "Write the reason." in text_of(answer)
    assert 'value="2026-01-10"' in answer.content.decode()
    told = {"reason": "Bay Calibration", "off": "3 % low", "certificate": "881"}
    answer = client.post(J + "act/", {**form, **told}, follow=True)
    said = text_of(answer)
    assert "FOUND OUT." in said
    assert "DM-2 was found out of tolerance on" in said
    assert "3 % low, Bay Calibration, certificate 881. Last known good on 10 Jan 2026." in said
    before = text_of(answer).count("OPEN AGAIN")
    assert before > 0
    assert any(
        b.about == "meter:DM-2" and "found out of tolerance" in b.sentence
        for b in judged().blockers
    )
    assert "DM-2" not in text_of(client.get(take)).partition("For which work?")[0]
    key = re.search(r'name="finding" value="(found-out:[^"]+)"', markup(answer))
    assert key is not None
    stands = {"kind": "closed", "finding": key[1], "next": page, "once": "s1", "pin": PIN}
    refused = client.post(J + "act/", {**stands, "form": "stands-x", "reason": ""}, follow=True)
    assert "Write the reason." in text_of(refused)
    answer = client.post(J + "act/", {**stands, "reason": "3 % of it is inside"}, follow=True)
    assert text_of(answer).count("OPEN AGAIN") == before - 1
    assert "inside" in text_of(answer)
    undo = [e for e in judged().state.order if e.kind == "found_out"][-1]
    client.post(
        J + "strike/", {"entry": undo.id, "reason": "another meter's certificate", "next": page}
    )
    again = text_of(client.get(page))
    assert "OPEN AGAIN" not in again
    assert "FOUND OUT." not in again


def test_the_form_of_a_close_call_opens_on_call_it_and_its_lowest_value_is_written(sign_in):
    client = sign_in("ada")
    entry = judged().item("plug:K0413").call("resistance").entry
    where = f"{J}close/{entry.id}/"
    closed, opened = (client.get(where + query).content.decode() for query in ("", "?call"))
    assert '<details class="closing-form" id="call">' in closed
    assert '<details class="closing-form" id="call" open>' in opened
    # A refused one stays open with what was typed.
    refused = client.post(f"{where}call/", {"call": "OUT"}).content.decode()
    assert '<details class="closing-form" id="call" open>' in refused
    # By the meter's arc: 2.66 to 19.80 kΩ, at both widths of the picture.
    assert closed.count(">2.66</text>") == closed.count(">19.80 kΩ</text>") > 0


def test_a_plug_far_below_its_fellows_is_decided_on_its_page(sign_in):
    client = sign_in("ada")
    read = {"written": "300 ohm", "meter": "DM-2|20k", "reason": "Written wrong", "once": "2" * 32}
    doubted = client.post(J + "items/plug/K0411/read/resistance/", read)
    assert "The others are about" in text_of(doubted)
    read |= {"kept_as_keyed": "yes", "who": "ada", "pin": PIN}
    assert client.post(J + "items/plug/K0411/read/resistance/", read).status_code == 303
    page = J + "plugs/K0411/"
    told = text_of(client.get(page))
    assert told.count("is far below its fellows") == 1
    assert judged().item("plug:K0411").verdict == "NOT YET"
    form = {"kind": "closed", "form": "flag", "finding": "odd-one-out:plug:K0411", "next": page}
    client.post(J + "act/", form | {"reason": "Another make, read on two meters.", "pin": PIN})
    assert "Another make, read on two meters." in text_of(client.get(page))
    assert judged().item("plug:K0411").verdict == "KEEP"


def test_a_page_and_what_dresses_it_go_out_small(sign_in):
    client = sign_in("ada")
    for path in (J + "tray/", "/static/shared/blocks.css", "/static/tray/pad.js"):
        plain = client.get(path)
        small = client.get(path, headers={"accept-encoding": "gzip"})
        assert small["Content-Encoding"] == "gzip", path
        sizes = [
            len(b"".join(one.streaming_content) if one.streaming else one.content)
            for one in (plain, small)
        ]
        assert sizes[1] < 0.4 * sizes[0], (path, sizes)
