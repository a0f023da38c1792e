"""The rest of the job by its pages: tasks, parts, rotation, handover and the plan, tap by tap."""

import re
from datetime import UTC, datetime
from html import unescape

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import JobFolder, parse_files, read_folder
from tests.markup import markup
from tests.pins import PIN, give_pins

DEMO = "tv4-2207-2026"
J = f"/jobs/{DEMO}/"
LOADED = datetime(2026, 10, 20, 22, 0, tzinfo=UTC)
CY = """
[[person]]
key = "cy"
name = "Cy Teller"
role = "reads"
"""
PAGES = [
    "rest/", "tasks/C6/", "tasks/F2/", "tasks/G1/", "tasks/B3/", "tasks/A3/", "tasks/H6/",
    "rest/bench/", "rest/bench/?do=task:C6", "rest/handover/", "rest/parts/", "rest/owner/",
    "rest/rotation/", "rest/rotation/?best", "rest/plan/",
]  # fmt: skip
# How long is waited at most for a plan; a machine may be busy with ten other things.
WAIT_S = 300
PAPERS = ["handover", "bench", "owner", "plan"]


def _job(name: str, *, parts: bool = True) -> JobFolder:
    demo = read_folder(demo_path())
    files = dict(demo.files)
    files["people.toml"] += CY
    files["engine.toml"] = files["engine.toml"].replace(f'job = "{DEMO}"', f'job = "{name}"')
    if not parts:
        del files["stock.toml"]
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
    from rehang.book import queries, services

    queries.forget()
    job = services.load_folder(folder=_job(DEMO), by="marta", at=LOADED)
    give_pins("marta", "tom", "ilse")
    return job


@pytest.fixture
def sign_in(shop, client):
    def enter(person: str):
        client.post("/sign-out/")
        assert client.post("/sign-in/", {"person": person}).status_code == 303
        return client

    return enter


def text_of(answer) -> str:
    body = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", unescape(body)).strip()


def judged():
    from rehang.book import queries

    return queries.judged(queries.job(DEMO))


def place(task: str, name: str):
    return judged().work.tasks[task].place(name)


def act(client, kind: str, onto: str, **fields: str):
    return client.post(J + "act/", {"kind": kind, "next": J + onto, **fields}, follow=True)


def test_every_page_and_paper_opens_for_who_writes_and_who_reads(sign_in):
    for person in ("marta", "cy"):
        client = sign_in(person)
        found = {path: client.get(J + path).status_code for path in PAGES}
        assert found == dict.fromkeys(PAGES, 200)
    for name in PAPERS:
        answer = client.get(f"{J}paper/{name}.pdf?size=a4")
        assert answer["Content-Type"] == "application/pdf"
        assert answer.content.startswith(b"%PDF"), name
    assert b"BEGIN:VCALENDAR" in client.get(J + "rest/plan.ics").content


def test_who_only_reads_finds_nothing_to_tap(sign_in):
    client = sign_in("cy")
    for path in PAGES:
        body = re.sub(r"<header.*?</header>", "", client.get(J + path).content.decode(), flags=re.S)
        assert re.findall(r'<form[^>]*method="post"', body) == [], path
    assert client.post(J + "rest/promise/").status_code == 403


def test_a_job_in_which_nothing_happened_and_one_without_parts_show_their_pages(sign_in):
    from rehang.book import services

    sign_in("marta")
    services.load_folder(folder=_job("bare", parts=False), by="marta", at=LOADED)
    client = sign_in("marta")
    for path in [*PAGES, ""]:
        assert client.get(f"/jobs/bare/{path}").status_code == 200, path
    parts = text_of(client.get("/jobs/bare/rest/parts/"))
    assert "No list of parts is on file" in parts
    # What the tasks use up is told all the same, and nothing is said of work nobody did.
    assert "8 × Plug gasket, for plugs in." in parts
    assert "8 × Plug gasket" in text_of(client.get("/jobs/bare/rest/owner/"))
    board = text_of(client.get("/jobs/bare/"))
    assert "Plug tray, no plug to read yet" in board
    assert "every check read" not in board
    assert "No plug has come out of this engine yet." in text_of(
        client.get("/jobs/bare/rest/rotation/")
    )
    assert "Nothing that was counted is out." in text_of(client.get("/jobs/bare/rest/"))


def test_a_key_held_down_in_a_number_is_refused_in_words(sign_in):
    client = sign_in("marta")
    order = {"kind": "ordered", "part": "plug", "once": "held-down"}
    answer = client.post(
        J + "act/", {**order, "number": "9" * 5000, "next": J + "rest/parts/"}, follow=True
    )
    assert answer.status_code == 200
    assert "A number of 5000 digits is more than anyone counts here." in text_of(answer)
    answer = client.post(J + "act/", {"kind": "wanted", "next": J + "rest/"}, follow=True)
    assert "Write the day, as in 2026-10-30." in text_of(answer)


def test_a_task_that_is_not_in_the_sheet_is_not_found(sign_in):
    answer = sign_in("marta").get(J + "tasks/Z9/")
    assert answer.status_code == 404
    assert 'There is no task "Z9" in this job\'s task sheet.' in text_of(answer)


# The board


def test_the_board_names_the_cover_left_half_done_and_the_holes_to_be_chased(sign_in):
    words = text_of(sign_in("marta").get(J))
    assert (
        "Rocker covers, cylinder 2 TW-3 out of date; stopped 7 Oct, phone rang; red streamer on"
        in (words)
    )
    assert "Hole threads STARTED holes 2B, 4T and 4B; thread chaser 10 min" in words
    assert "Mount bolts and isolators Ilse Karr to look" in words
    assert "New oil filter after hoses on" in words
    assert "10 blanks , 4 dehydrator plugs" in words


def test_a_stop_later_than_the_trays_is_where_i_left_off(sign_in):
    client = sign_in("marta")
    act(client, "started", "tasks/C6/", task="C6", place="2B")
    act(client, "stopped", "", task="C6", place="2B", where="task", why="helper")
    words = text_of(client.get(J))
    assert "Where I left off TV4-2207 2B Hole threads, hole 2B Stopped" in words
    assert "helper asked" in words
    assert "CARRY ON AT 2B" in words
    act(client, "stopped", "", task="C6", place="2B", where="task", why="part")
    assert "GO TO REST OF THE JOB" in text_of(client.get(J))


# One task


def test_a_hole_is_started_stopped_carried_on_and_done_a_tap_each(sign_in):
    client = sign_in("tom")
    page = "tasks/C6/"
    assert "started" in text_of(act(client, "started", page, task="C6", place="2B"))
    assert place("C6", "2B").state == "STARTED"
    words = text_of(act(client, "stopped", page, task="C6", place="2B", where="task"))
    assert "Stopped at hole 2B" in words
    assert "It is kept. Say why, or leave it at that." in words
    words = text_of(act(client, "stopped", page, task="C6", place="2B", where="task", why="phone"))
    assert "by Tom Ferrick: phone rang." in words
    act(client, "carried_on", page, task="C6", place="2B", where="task")
    assert place("C6", "2B").stop is None
    words = text_of(act(client, "seen", page, item="hole:2B", check="look", word="sound"))
    assert place("C6", "2B").state == "DONE"
    assert "6 of 8 done" in words


def test_what_was_tapped_is_taken_back_by_undo(sign_in):
    client = sign_in("tom")
    blank = {"what": "dehydrator plugs", "number": "1", "place": "1T"}
    answer = act(client, "counted_out", "tasks/C7/", **blank)
    assert place("C7", "1T").state == "DONE"
    undo = re.search(r'name="entry" value="([^"]+)"', answer.content.decode())
    assert undo is not None
    client.post(J + "strike/", {"entry": undo[1], "reason": "undone", "next": J + "tasks/C7/"})
    assert place("C7", "1T").state == "STARTED"


def test_a_second_look_is_refused_to_the_doer_and_taken_from_another(sign_in):
    for key, said in (
        ("marta", "Marta Oduya worked on G1. A second look is another person's."),
        ("tom", "Tom Ferrick has no paper on file to give a second look. Ilse Karr has."),
    ):
        words = text_of(act(sign_in(key), "second_look", "tasks/G1/", task="G1", pin=PIN))
        assert said in words
        assert judged().work.tasks["G1"].look.waits
    words = text_of(act(sign_in("ilse"), "second_look", "tasks/G1/", task="G1", pin=PIN))
    assert "Mount bolts and isolators: second look given." in words
    assert not judged().work.tasks["G1"].look.waits


def test_closing_short_takes_a_reason(sign_in):
    client = sign_in("marta")
    words = text_of(act(client, "closed_short", "tasks/F4/", task="F4", pin=PIN))
    assert "Write the reason." in words
    words = text_of(
        act(client, "closed_short", "tasks/F4/", task="F4", reason="New seals next year.", pin=PIN)
    )
    assert "Closed short" in words
    assert "New seals next year." in words
    assert judged().work.tasks["F4"].state == "CLOSED SHORT"


def test_work_that_waits_for_other_work_says_so_and_is_refused(sign_in):
    client = sign_in("marta")
    assert "Waits for mount bolts and isolators (G1)" in text_of(client.get(J + "tasks/G2/"))
    before = len(judged().state.order)
    assert "G2 waits for" in text_of(act(client, "started", "tasks/G2/", task="G2"))
    assert len(judged().state.order) == before


def test_the_red_streamer_comes_off_with_one_tap(sign_in):
    client = sign_in("marta")
    assert "Red streamer on cylinder 2 cover" in text_of(client.get(J + "tasks/F2/"))
    act(client, "flag_off", "tasks/F2/", what="red streamer", place="cylinder 2 cover")
    assert judged().work.flags == ()


# The rest of the job


def test_the_rest_of_the_job_shows_finish_order_and_calendar(sign_in):
    from rehang.book import outlook, queries

    client = sign_in("marta")
    outlook.plan(queries.job(DEMO), datetime.now(UTC), wait_s=WAIT_S)
    words = text_of(client.get(J + "rest/"))
    assert "at the earliest if Hose HS5" in words
    assert "8 in 10 by" in words
    assert "ORDER HOSE HS5" in words
    assert "Hose HS5, 12 days, if it is ordered today" in words
    assert "Old filter off after hoses on" in words
    assert "Last-run figures before removal CLOSED SHORT" in words


def test_a_plan_that_is_not_ready_is_said_and_asked_for_again(sign_in, monkeypatch):
    from rehang.book import outlook

    monkeypatch.setattr(outlook, "plan", lambda job, now, **_: outlook.Planned(None, False))
    answer = sign_in("marta").get(J + "rest/")
    assert "Working the plan out." in text_of(answer)
    assert f'hx-get="{J}rest/plan/"' in answer.content.decode()
    words = text_of(sign_in("marta").post(J + "rest/promise/", follow=True))
    assert "The plan is still being worked out. Promise it in a moment." in words
    assert sign_in("marta").get(J + "paper/plan.pdf").status_code == 404


def test_the_plan_before_is_shown_while_the_new_one_is_worked_out(shop):
    from rehang.book import outlook, queries, services
    from rehang.trade.terms.entries import new_entry

    now = datetime.now(UTC)
    first = outlook.plan(shop, now, wait_s=WAIT_S)
    assert first.ready
    assert outlook.plan(shop, now).plan is first.plan
    note = new_entry("note", at=now, by="marta", text="Hoses ordered by telephone.")
    services.append(job=shop, entries=[note], by="marta", at=now)
    job = queries.job(DEMO)
    at_once = outlook.plan(job, now, wait_s=0)
    assert at_once.ready is False
    assert at_once.plan is first.plan
    assert outlook.plan(job, now, wait_s=WAIT_S).ready


def test_a_promised_plan_and_a_wanted_day_stand_in_the_book(sign_in):
    from rehang.book import outlook, queries

    client = sign_in("marta")
    outlook.plan(queries.job(DEMO), datetime.now(UTC), wait_s=WAIT_S)
    client.post(J + "rest/promise/", follow=True)
    last = judged().state.order[-1]
    assert last.kind == "planned"
    assert last.data["starts"]
    words = text_of(act(client, "wanted", "rest/", on="2027-06-30"))
    assert "30 Jun 2027" in words
    assert judged().state.order[-1].kind == "wanted"


# Parts


def test_a_part_is_ordered_and_arrives_with_a_tap_each(sign_in):
    client = sign_in("marta")
    act(client, "ordered", "rest/parts/", part="hose-HS5", number="1")
    stock = judged().stock.parts["hose-HS5"]
    assert (stock.to_order, stock.on_order, stock.on_hand) == (0, 1, 0)
    order = stock.orders[0]
    act(client, "arrived", "rest/parts/", part="hose-HS5", number="1", order=order.id)
    assert judged().stock.in_hand("hose-HS5") == 1
    act(client, "stock_counted", "rest/parts/", part="hose-HS5", number="0", form="hose-HS5")
    assert judged().stock.in_hand("hose-HS5") == 0


def test_every_part_says_why_and_the_owner_sees_the_price(sign_in):
    client = sign_in("marta")
    words = text_of(client.get(J + "rest/parts/"))
    assert "1 × Hose HS5, oil-pressure line" in words
    assert "K0414 (2B) is REJECT: Cracked, nothing missing seen on 15 Oct 2026" in words
    words = text_of(client.get(J + "rest/owner/"))
    assert "3 × Plug KS-R $44.00 each, $132.00" in words
    assert "Waits for your decision 1 × Repair of cylinder 3" in words


def test_the_owner_sees_what_went_in_and_what_it_cost(sign_in):
    client = sign_in("marta")
    for page in ("rest/owner/", "rest/parts/"):
        words = text_of(client.get(J + page))
        assert "Fitted and used" in words
        assert "1 × Rocker cover gasket $6.00 1 for rocker covers." in words
    assert "$0.00" not in text_of(client.get(J + "rest/owner/"))


def test_counts_go_out_and_in(sign_in):
    client = sign_in("marta")
    act(client, "counted_in", "rest/", what="blanks", number="1")
    assert judged().work.out["blanks"] == 9
    words = text_of(act(client, "counted_out", "rest/", what="covers", number="x", form="count"))
    assert '"x" is not a whole number. Write digits.' in words


# Rotation


def test_a_change_of_the_rotation_is_kept_and_says_what_it_breaks(sign_in):
    client = sign_in("marta")
    words = text_of(client.get(J + "rest/rotation/"))
    assert "No rule is broken." in words
    words = text_of(
        act(
            client, "assigned", "rest/rotation/", item="plug:K0411", place="1T", reason="As it was."
        )
    )
    assert "Changed by hand" in words
    assert "K0411 keeps its polarity" in words
    assert judged().item("plug:K0411").goes_to == "1T"
    words = text_of(client.get(J + "plugs/K0411/"))
    assert "Goes next to 1T" in words
    assert "Goes to 1T, with a new or annealed gasket." in words


def test_a_reject_is_sent_elsewhere_as_the_new_one_for_it(sign_in):
    client = sign_in("marta")
    page = client.get(J + "rest/rotation/").content.decode()
    assert '<option value="plug:K0412|new">new, for K0412 (1B)</option>' in page
    words = text_of(
        act(client, "assigned", "rest/rotation/", item="plug:K0412|new", place="1T", reason="")
    )
    assert "Marta Oduya sends the new one for K0412 to 1T" in words
    assert "The new plug for K0412 is to go to 1T." in words
    (entry,) = [one for one in judged().state.live() if one.kind == "assigned"]
    assert (entry.item, entry.fields.new) == ("plug:K0412", True)


# What is handed over


def test_the_handover_names_all_that_is_unfinished(sign_in):
    words = text_of(sign_in("marta").get(J + "rest/handover/"))
    for half in judged().work.of_state("STARTED", "HELD"):
        assert half.task.title.lower() in words.lower()
    assert "Red streamer on cylinder 2 cover since 7 Oct 2026." in words
    assert "TW-3 was past its calibration date" in words
    assert "10 blanks , 4 dehydrator plugs" in words


def test_the_list_for_the_bench_is_of_what_was_picked(sign_in):
    client = sign_in("marta")
    words = text_of(client.get(J + "rest/bench/?do=task:E1"))
    assert "LT-1" in words.partition("For which work?")[0]
    assert "Thread chaser" not in words.partition("For which work?")[0]
    words = text_of(client.get(J + "rest/bench/?do=task:C6")).partition("For which work?")[0]
    assert "Thread chaser 18 mm, 7/8 in hex drive" in words


def test_a_delivery_that_came_short_is_counted_and_the_rest_still_waits(sign_in):
    client = sign_in("marta")
    assert "SOME OF IT" not in text_of(client.get(J + "rest/parts/"))
    act(client, "ordered", "rest/parts/", part="gasket-plug", number="3")
    page = markup(client.get(J + "rest/parts/"))
    assert "How many came, of 3" in page
    order = re.findall(r'name="order" value="([^"]+)"', page)[-1]
    act(client, "arrived", "rest/parts/", part="gasket-plug", number="2", order=order)
    words = text_of(client.get(J + "rest/parts/"))
    assert "SOME OF IT" not in words
    assert re.search(r"Copper plug gasket 7 in hand, 1 on order, 1 SHORT 8 needed", words)
