"""Records and next due on their pages: drafts, signatures with a password, and every refusal.

The fixed cast's Ada and Ben stand beside the demo's own people; the clock stands still.
"""

import hashlib
import re
from datetime import UTC, date, datetime, timedelta
from html import unescape

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import JobFolder, parse_files, read_folder
from tests.markup import markup
from tests.pins import PIN, give_pins

FINISHED, DEMO = "tv4-2207-finished", "tv4-2207-2026"
F, D = f"/jobs/{FINISHED}/", f"/jobs/{DEMO}/"
# Two hours after the finished demo's last entry; the demo of the bench is read on the same day.
NOW = datetime(2026, 11, 12, 21, 0, tzinfo=UTC)
CY = """
[[person]]
key = "cy"
name = "Cy Teller"
role = "reads"

[[person]]
key = "ben"
name = "Ben Roke"
role = "approves"
certificate = "CASE-9"
certificate_kind = "mechanic"
"""


class Clock:
    def __init__(self) -> None:
        self.at = NOW

    def now(self) -> datetime:
        self.at += timedelta(seconds=2)
        return self.at


@pytest.fixture
def clock(monkeypatch) -> Clock:
    one = Clock()
    monkeypatch.setattr("django.utils.timezone.now", one.now)
    return one


def load(job: str):
    from rehang.book import queries, services

    queries.forget()
    read = read_folder(demo_path(job))
    files = dict(read.files)
    files["people.toml"] += CY
    folder = JobFolder(
        name=read.name,
        files=files,
        entries=read.entries,
        facts=parse_files(files, read.name),
        where={},
        notices=(),
    )
    made = services.load_folder(folder=folder, by="marta", at=NOW)
    give_pins("marta", "ben", "tom")
    return made


@pytest.fixture
def finished(db, clock):
    return load("finished")


@pytest.fixture
def demo(db, clock):
    return load("four")


@pytest.fixture
def marta(client):
    def enter(person: str = "marta"):
        assert client.post("/sign-in/", {"person": person}).status_code == 303
        return client

    return enter


def text_of(answer) -> str:
    body = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", unescape(body)).strip()


def hidden(answer) -> dict[str, str]:
    return dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', answer.content.decode()))


def judged(slug: str):
    from rehang.book import queries

    return queries.judged(queries.job(slug))


GOOD = {"pin": PIN}


def sign(client, what: str = "maintenance", slug: str = F, **changed):
    page = hidden(client.get(f"{slug}record/{what}/sign/"))
    fields = {k: page[k] for k in ("once", "head", "sum") if k in page} | GOOD | changed
    return client.post(f"{slug}record/{what}/sign/", fields)


PAGES = [
    "blockers/", "record/", "record/maintenance/", "record/inspection/", "record/discrepancies/",
    "record/maintenance/sign/", "record/discrepancies/sign/", "due/", "due/next-due.ics",
]  # fmt: skip


def test_who_only_reads_sees_every_page_and_writes_on_none(demo, marta):
    client = marta("cy")
    assert {p: client.get(D + p).status_code for p in PAGES} == dict.fromkeys(PAGES, 200)
    before = judged(DEMO).state.order[-1].seq
    for path, fields in (
        ("record/maintenance/write/", {"line": "more-1", "text": "x"}),
        ("record/maintenance/sign/", GOOD),
        ("act/", {"kind": "complied", "recurring": "muffler", "on": "2026-11-12"}),
    ):
        assert client.post(D + path, fields).status_code == 403, path
    assert judged(DEMO).state.order[-1].seq == before


def test_blockers_stand_under_headings_with_a_way_to_each(demo, marta):
    answer = marta().get(D + "blockers/")
    words = text_of(answer)
    for heading in (
        "Parts and readings",
        "Meters",
        "Work not finished",
        "Second looks",
        "May not fly until",
    ):
        assert heading in words
    number = len(judged(DEMO).blockers)
    assert f"{number} reasons not to return it to service yet" in words
    page = answer.content.decode()
    # What is overdue stands under a heading of its own and is not counted among the reasons.
    assert page.count('class="reason"') == number + len(judged(DEMO).may_not_fly)
    # The whole of a reason leads to where it is mended.
    assert re.search(rf'<a class="reason" href="{D}items/cylinder/3/">', page)
    for link in ("items/cylinder/3/", "meters/of/TW-3/", "tasks/F2/", "due/#due-muffler"):
        assert f"{D}{link}" in page


def test_long_lists_fold_under_headings_with_their_number_and_the_first_stands_open(demo, marta):
    client = marta()
    for path in ("blockers/", "record/discrepancies/"):
        page = markup(client.get(D + path))
        page = re.sub(r'<section class="grounded".*?</section>', "", page, flags=re.S)
        heads = re.findall(
            r'<details class="fold[^"]*"( open)?><summary class="bar[^"]*"><h2><b>(.*?)</b></h2>'
            r"<span>(\d+)</span>",
            page,
        )
        assert [is_open for is_open, _, _ in heads] == [" open"] + [""] * (len(heads) - 1), path
        parts = re.split(r'<details class="fold[^"]*"(?: open)?><summary class="bar', page)[1:]
        rows = r'<a class="reason"|<li id="l-'
        assert [len(re.findall(rows, part)) for part in parts] == [int(n) for *_, n in heads], path
    blocked = markup(client.get(D + "blockers/"))
    more = re.search(r'<summary class="button"> ?(\d+) MORE', blocked)
    assert more is not None
    first = blocked[: more.start()]
    assert first.count('class="reason"') == 8
    held = judged(DEMO)
    assert blocked.count('class="reason"') == len(held.blockers) + len(held.may_not_fly)


@pytest.mark.parametrize("path", ["", "blockers/", "record/", "record/maintenance/"])
def test_what_is_overdue_stands_on_the_board_and_beside_the_record(demo, marta, path):
    words = text_of(marta().get(D + path))
    assert "May not fly until" in words


def test_a_sentence_that_was_not_kept_stands_in_an_open_group(demo, marta):
    client = marta()
    page = client.post(
        D + "record/maintenance/write/", {"line": "meters", "text": " ", "once": "x1"}, follow=True
    ).content.decode()
    open_ones = re.findall(r'<details class="fold record-block" open>.*?<b>(.*?)</b>', page, re.S)
    assert open_ones == ["Plugs", "Meters"]
    # Below its table, the sentence with its form and what is wrong with it.
    beside = re.search(
        r'<details class="fold" open>\s*<summary.*?AS IT IS SIGNED(.*?)</ol>', page, re.S
    )
    assert beside is not None
    assert 'id="w-meters"' in beside[1]


def test_a_record_is_tables_and_the_text_that_is_signed_stands_whole_under_them(finished, marta):
    client = marta()
    page = markup(client.get(F + "record/maintenance/sign/"))
    heads = re.findall(r'<caption class="unseen">(.*?)</caption>', page)
    assert heads == [
        "Plugs", "Cylinders", "Ground run", "Torque", "Parts off", "Parts on", "Timing, oil",
        "Work done", "Findings", "Looks", "Directives", "Meters",
    ]  # fmt: skip
    row = re.search(r'<tr role="row"><th role="rowheader" scope="row">3</th>(.*?)</tr>', page)
    assert row is not None
    cells = [re.sub(r"<[^>]+>", "", one) for one in re.split(r"</td>", row[1]) if one]
    assert cells == ["59/80", "62/80", "77/80", "0.042 in", "0.047 in"]
    # The very text whose sum is taken, line for line.
    lines = [unescape(one) for one in re.findall(r'<p class="signed-line">(.*?)</p>', page)]
    assert hashlib.sha256("\n".join(lines).encode()).hexdigest() == hidden_sum(page)
    # Signed, the same tables stand, and the text beneath them.
    shown = markup(client.get(sign(client)["Location"]))
    assert re.findall(r'<caption class="unseen">(.*?)</caption>', shown) == heads
    one = judged(FINISHED).signed[0]
    told = [unescape(p) for p in re.findall(r'<p class="signed-line">(.*?)</p>', shown)]
    assert told == one.text.split("\n")


def hidden_sum(page: str) -> str:
    found = re.search(r'name="sum" value="(\w+)"', page)
    assert found is not None
    return found[1]


def test_next_due_shows_both_sides_and_which_governs(demo, marta):
    words = text_of(marta().get(D + "due/"))
    for said in (
        "1,147.2 h since overhaul, 4.9 h left",
        "30 Sep 2026, overdue 1 month",
        "the calendar governs, although 4.9 h remain",
        "By hours none entered",
        "1,155.0 h since overhaul, 12.7 h left",
    ):
        assert said in words


def test_compliance_is_written_down_and_hours_that_run_backwards_are_not(demo, marta):
    client = marta()
    once = hidden(client.get(D + "due/"))["once"]
    fields = {
        "kind": "complied", "form": "muffler", "recurring": "muffler", "once": once,
        "on": "2026-11-12", "hours": "1000", "method": "opened", "next": D + "due/", "pin": PIN,
    }  # fmt: skip
    refused = client.post(D + "act/", fields, follow=True)
    assert "Hours do not run backwards: read the meter again." in text_of(refused)
    assert 'value="1000"' in refused.content.decode()
    kept = client.post(D + "act/", fields | {"hours": "1142.3"}, follow=True)
    assert "Muffler directive X-2019-07 done on 12 Nov 2026 at 1,142.3 h" in text_of(kept)
    assert "recurring:muffler" not in [b.about for b in judged(DEMO).blockers]


def test_as_found_check_takes_the_day_its_certificate_is_good_to(demo, marta):
    client = marta()
    page = D + "meters/of/TW-3/"
    fields = {
        "kind": "proved", "meter": "TW-3", "reason": "1 % high at 50 in-lb", "next": page, "pin": PIN,
        "once": hidden(client.get(page))["once"],
    }  # fmt: skip
    refused = client.post(D + "act/", fields | {"due": "soon"}, follow=True)
    assert 'value="1 % high at 50 in-lb"' in refused.content.decode()
    assert 'value="soon"' in refused.content.decode()
    kept = client.post(D + "act/", fields | {"due": "2027-10"}, follow=True)
    assert "1 % high at 50 in-lb. Good to Oct 2027." in text_of(kept)
    assert "meter:TW-3" not in [b.about for b in judged(DEMO).blockers]


def test_calendar_holds_what_has_a_day(demo, marta):
    answer = marta().get(D + "due/next-due.ics")
    assert answer["Content-Type"].startswith("text/calendar")
    lines = answer.content.decode().replace("\r\n ", "").splitlines()
    assert "DTSTART;VALUE=DATE:20260930" in lines
    assert [line for line in lines if line.startswith("SUMMARY")] == [
        "SUMMARY:Muffler directive X-2019-07\\, TV4-2207",
        "SUMMARY:Annual inspection\\, TV4-2207",
    ]


def test_sentence_is_written_anew_left_out_added_and_given_back(finished, marta):
    client = marta()
    once = hidden(client.get(F + "record/maintenance/"))["once"]

    def write(line: str, text: str = "", act: str = "write", **more: str):
        fields = {"line": line, "text": text, "act": act, "once": once, **more}
        return client.post(F + "record/maintenance/write/", fields, follow=True)

    drawn = text_of(client.get(F + "record/maintenance/"))
    assert "1T L0411, 1B L0412" in drawn
    mine = write("plugs-out", "All eight out to the tray.")
    assert "All eight out to the tray. In the words of Marta Oduya." in text_of(mine)
    assert "The book gives: 1T L0411" in text_of(mine)
    assert "Write the reason" in text_of(write("meters", act="leave out"))
    why = "Told on a sheet of its own."
    asked = write("meters", act="leave out", reason=why)
    assert "To leave a sentence out of a record takes a PIN" in text_of(asked)
    assert "Left out by" not in text_of(client.get(F + "record/maintenance/"))
    settled = {"reason": why, "who": "marta", "pin": PIN, "asked": "yes"}
    assert f"Left out by Marta Oduya: {why}" in text_of(write("meters", act="leave out", **settled))
    whole = text_of(client.get(F + "record/maintenance/sign/"))
    assert "left out by Marta Oduya (Told on a sheet of its own): " in whole
    assert "Spoke to the owner." in text_of(write("more-1", "Spoke to the owner."))
    assert "Write the sentence, or leave it out." in text_of(write("run", "  "))
    assert "is not a day. Write it whole" in text_of(write("field-date", "about May"))
    write("plugs-out", act="as drawn")
    back = text_of(client.get(F + "record/maintenance/"))
    assert "All eight out to the tray" not in back
    kinds = [e.kind for e in judged(FINISHED).state.order[-4:]]
    assert kinds == ["drafted", "drafted", "drafted", "struck"]


def test_signature_needs_a_pin_then_stands_and_is_printed(finished, marta):
    client = marta()
    page = text_of(client.get(F + "record/maintenance/sign/"))
    assert "Your PIN" in page
    assert "Marta Oduya: mechanic certificate DEMO-114, Demo authority (invented)" in page
    answer = sign(client)
    assert answer.status_code == 303
    shown = client.get(answer["Location"])
    assert "It stands. Nothing has changed since it was signed." in text_of(shown)
    one = judged(FINISHED).signed[0]
    for line in one.text.split("\n"):
        assert line in unescape(shown.content.decode())
    assert one.entry.data["sha256"] in shown.content.decode()
    pdf = client.get(answer["Location"] + "record.pdf?size=letter")
    assert pdf.content.startswith(b"%PDF")
    assert judged(FINISHED).work.tasks["H9"].state == "DONE"
    # Sent again, the same signature is kept once.
    again = client.get(F + "record/maintenance/sign/")
    assert "nothing has changed since" in text_of(again)


def judged_head() -> str:
    from rehang.book import queries

    return queries.job(FINISHED).head_hash


REFUSED = [
    ({"pin": "111213"}, "That is not the PIN or password of Marta Oduya. Type it again."),
    ({"pin": ""}, "Type the PIN of Marta Oduya."),
    ({"who": "tom"}, "Tom Ferrick has no paper on file to sign the maintenance entry."),
    ({"who": "ilse"}, "Ilse Karr has no PIN yet."),
    (
        {"certificate": "CASE-77"},
        "CASE-77 is no paper of Marta Oduya to sign the maintenance entry",
    ),
    ({"sum": "0" * 64}, "The record reads otherwise now than when you opened it."),
    ({"head": "0" * 64}, "The book moved on while you read"),
]


def test_signature_that_cannot_stand_is_one_sentence_and_keeps_nothing(finished, marta):
    client = marta()
    before = judged_head()
    for changed, sentence in REFUSED:
        answer = sign(client, **changed)
        assert answer.status_code == 422, changed
        assert sentence in text_of(answer), changed
        assert PIN not in answer.content.decode()
    assert judged_head() == before


def test_wrong_pins_at_signing_are_counted_and_locked_as_at_signing_in(finished, marta, settings):
    # The clock of these pages stands in November; what counts the attempts has the machine's own.
    settings.AXES_COOLOFF_TIME = None
    client = marta()
    before = judged_head()
    # A right one begins the count anew, as signing in does.
    for _ in range(9):
        assert sign(client, pin="111213").status_code == 422
    now = {"now": PIN, "password": "a long bench word", "again": "a long bench word"}
    assert client.post("/set-password/", now).status_code == 303
    for _ in range(9):
        assert sign(client, pin="111213").status_code == 422
    locked = sign(client, pin="111213")
    assert locked.status_code == 429
    sentence = "Ten wrong PINs or passwords in a row. Wait five minutes, then type it again."
    assert sentence in text_of(locked)
    assert sign(client).status_code == 429
    assert client.post("/set-password/", now).status_code == 429
    assert client.get(F + "record/maintenance/sign/").status_code == 200
    client.post("/sign-out/")
    answer = client.post("/sign-in/", {"name": "marta", "password": "a long bench word"})
    assert "Too many tries. Wait" in text_of(answer)
    assert judged_head() == before


def test_no_password_is_kept_with_a_wrong_attempt(finished, marta):
    from axes.models import AccessAttempt

    client = marta()
    words = {"now": "first slip", "password": "second word", "again": "second word"}
    assert client.post("/set-password/", words).status_code == 422
    [kept] = AccessAttempt.objects.all()
    assert "slip" not in kept.post_data
    assert "word=second" not in kept.post_data
    assert "second word" not in kept.post_data


def test_double_tap_on_sign_is_one_signature(finished, marta):
    client = marta()
    page = hidden(client.get(F + "record/maintenance/sign/"))
    fields = {k: page[k] for k in ("once", "head", "sum")} | GOOD
    answers = [client.post(F + "record/maintenance/sign/", fields) for _ in range(2)]
    assert [one.status_code for one in answers] == [303, 303]
    assert answers[0]["Location"] == answers[1]["Location"]
    assert len(judged(FINISHED).signed) == 1
    assert "confirmed with the signer's own PIN." in text_of(client.get(answers[0]["Location"]))


def test_two_people_sign_at_once_and_the_second_reads_again(finished, marta, client):
    from django.test import Client

    first = marta()
    second = Client()
    second.post("/sign-in/", {"person": "ben"})
    read = hidden(second.get(F + "record/maintenance/sign/"))
    assert sign(first).status_code == 303
    fields = {k: read[k] for k in ("once", "head", "sum")} | GOOD
    late = second.post(F + "record/maintenance/sign/", fields | {"who": "ben"})
    assert late.status_code == 422
    assert "The book moved on while you read: 1 line by Marta Oduya." in text_of(late)
    assert [one.name for one in judged(FINISHED).signed] == ["Marta Oduya"]


def test_what_changes_after_signing_is_said_and_the_signature_is_not_struck(finished, marta):
    client = marta()
    where = sign(client)["Location"]
    one = judged(FINISHED).signed[0]
    reading = next(e for e in reversed(judged(FINISHED).state.order) if e.kind == "reading")
    client.post(F + "strike/", {"entry": reading.id, "reason": "wrong run", "once": "x"})
    shown = text_of(client.get(where))
    assert "Changed since signing: 1 line" in shown
    assert "It needs a new record." in shown
    refused = client.post(
        F + "strike/", {"entry": one.entry.id, "reason": "slip", "once": "y"}, follow=True
    )
    assert "A signature is not struck out." in text_of(refused)
    assert judged(FINISHED).signed[0].text == one.text


def test_signature_is_not_sent_through_the_back_door(finished, marta):
    client = marta()
    body = {
        "entries": [
            {
                "id": "slip-0001", "kind": "signed", "at": "2026-11-12T15:00:00-06:00",
                "what": "maintenance", "text": "x", "sha256": "y", "name": "Marta Oduya",
            }
        ]
    }  # fmt: skip
    answer = client.post(f"/api/jobs/{FINISHED}/entries", body, content_type="application/json")
    assert answer.status_code in (403, 409)
    act = client.post(F + "act/", {"kind": "signed", "what": "maintenance"})
    assert act.status_code == 404
    assert judged(FINISHED).signed == ()


def test_list_for_the_owner_is_signed_with_blockers_open_and_given(demo, marta):
    client = marta()
    assert "reasons stand against returning it" in text_of(
        client.get(D + "record/maintenance/sign/")
    )
    held = client.get(D + "record/discrepancies/sign/")
    assert "Still empty: date." in text_of(held)
    once = hidden(client.get(D + "record/discrepancies/"))["once"]
    client.post(
        D + "record/discrepancies/write/",
        {"line": "field-date", "text": "2026-11-12", "once": once},
    )
    where = sign(client, "discrepancies", D)["Location"]
    page = client.get(where)
    assert "It has not been given yet" in text_of(page)
    assert 'value="Dev Lanning"' in page.content.decode()
    given = {
        "kind": "given", "form": "given", "what": "discrepancies", "to": "Dev Lanning",
        "on": "2026-11-12", "next": where, "once": once,
    }  # fmt: skip
    assert "List of discrepancies given to Dev Lanning on 12 Nov 2026" in text_of(
        client.post(D + "act/", given, follow=True)
    )
    assert "record:discrepancies" not in [b.about for b in judged(DEMO).blockers]
    assert "TV4-2207" in text_of(client.get(D + "record/"))


def test_clock_set_back_is_one_sentence_and_keeps_nothing(finished, marta, clock):
    client = marta()
    before = judged_head()
    clock.at = NOW - timedelta(days=2)
    answer = client.post(
        F + "act/", {"kind": "note", "text": "Swept.", "next": F + "record/"}, follow=True
    )
    assert "Set the clock of the machine that keeps the book right" in text_of(answer)
    assert judged_head() == before


def test_day_of_the_pages_is_the_day_of_the_clock(finished):
    assert judged(FINISHED).today == date(2026, 11, 12)


# A finding that came from another part, metal that is counted, and what is promised meanwhile.


def _oil_wet(slug: str) -> str:
    [one] = [f for f in judged(slug).state.items["cylinder:4"].findings if f.closed_by]
    return one.id


def test_closing_with_look_again_promises_it_and_it_comes_due(demo, marta):
    give_pins("marta")
    client = marta()
    page = client.get(D + "items/cylinder/4/").content.decode()
    assert 'name="again_hours"' in page
    client.post(
        D + "act/",
        {
            "kind": "closed", "form": "close", "finding": _oil_wet(DEMO), "once": "c1",
            "reason": "bore even at the borescope", "again_hours": "25", "again_on": "2027-05-01",
            "pin": PIN,
        },
    )  # fmt: skip
    assert _finding_is_closed(DEMO)
    [one] = [e for e in judged(DEMO).state.order if e.kind == "promised"]
    assert (one.item, one.data["hours"], one.data["on"]) == ("cylinder:4", 1167.3, "2027-05-01")
    words = text_of(client.get(D + "due/"))
    assert "1,167.3 h since overhaul, 25 h left" in words
    # It is done once it is written down as done, and then it is owed no longer.
    due = next(d for d in judged(DEMO).due if d.kind == "promised")
    client.post(
        D + "act/",
        {
            "kind": "complied",
            "recurring": due.id,
            "on": "2026-11-12",
            "once": "c2",
            "form": due.id,
            "pin": PIN,
        },
    )
    assert not [d for d in judged(DEMO).due if d.kind == "promised"]


def _finding_is_closed(slug: str) -> bool:
    found = [f for f in judged(slug).state.items["cylinder:4"].findings if f.closed_by]
    return all(not one.is_open for one in found)


def test_hours_that_are_no_number_close_nothing(demo, marta):
    give_pins("marta")
    marta().post(
        D + "act/",
        {
            "kind": "closed", "form": "close", "finding": _oil_wet(DEMO), "once": "c3",
            "reason": "bore even at the scope", "again_hours": "soon", "pin": PIN,
        },
    )  # fmt: skip
    assert not _finding_is_closed(DEMO)


def test_count_with_no_limit_is_decided_on_its_page_by_a_person_with_a_reason(demo, marta):
    give_pins("marta")
    client = marta()
    client.post(
        D + "act/",
        {
            "kind": "counted", "item": "filter:oil", "pieces": "9", "magnetic": "2",
            "largest_mm": "0.4", "once": "n1",
        },
    )  # fmt: skip
    client.post(
        D + "act/",
        {
            "kind": "seen", "item": "filter:oil", "check": "look", "word": "magnetic:2",
            "once": "n2",
        },
    )  # fmt: skip
    call = judged(DEMO).item("filter:oil").call("magnetic")
    assert (call.call, call.reading) == ("NOT JUDGED", "2 pieces")
    page = client.get(D + "items/filter/oil/").content.decode()
    assert "DECIDE ON THE COUNT" in page
    decided = {"kind": "called", "entry": call.entry.id, "call": "WITHIN", "pin": PIN}
    client.post(D + "act/", decided | {"reason": " ", "once": "n3"})
    assert judged(DEMO).item("filter:oil").call("magnetic").call == "NOT JUDGED"
    client.post(D + "act/", decided | {"reason": "specks, as in March of this year", "once": "n4"})
    after = judged(DEMO).item("filter:oil").call("magnetic")
    assert (after.call, after.called_by) == ("WITHIN", "Marta Oduya")
    # What was seen is open still: on the filter, and inside the engine.
    assert judged(DEMO).item("filter:oil").verdict == "NOT YET"
    assert judged(DEMO).item("engine:inside").verdict == "NOT YET"


def test_a_finding_from_another_part_is_not_closed_at_the_page_without_a_look(demo, marta):
    give_pins("marta")
    client = marta()
    client.post(
        D + "act/",
        {
            "kind": "seen", "item": "plug:K0411", "place": "1T", "word": "missing:3",
            "check": "look", "once": "m1",
        },
    )  # fmt: skip
    [one] = [f for f in judged(DEMO).state.items["cylinder:1"].findings if f.closed_by]
    assert one.severity == 3
    closing = {
        "kind": "closed", "form": "close", "finding": one.id, "once": "m2", "pin": PIN,
        "reason": "looked for it with Ilse",
    }  # fmt: skip
    page = client.post(D + "act/", closing, follow=True)
    assert "where it was found, in words" in text_of(page)
    assert one.is_open
    assert 'name="found"' in client.get(D + "items/cylinder/1/").content.decode()
    client.post(D + "act/", closing | {"found": "in the exhaust port", "once": "m3"})
    [after] = [f for f in judged(DEMO).state.items["cylinder:1"].findings if f.closed_by]
    assert not after.is_open
