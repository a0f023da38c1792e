"""Work found, through the pages: entered with its price, shown to the owner, answered, done."""

from __future__ import annotations

import io
import re
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from pypdf import PdfReader

from tests.photos.shots import shot
from tests.pins import PIN
from tests.web.test_begin import begun, board, job_at, text_of

NEW = {
    "what": "Replace the governor's oil seal", "reason": "Oil runs down the pad.",
    "airworthiness": "yes", "hours": "2.50", "rate": "95.1",
    "part0": "Seal", "number0": "2", "each0": "4.1", "outside0": "Pressed in", "price0": "60",
}  # fmt: skip


@pytest.fixture
def job(db):
    from rehang.book import queries

    queries.forget()
    client = begun()
    return client, board(client, layout="opposed-4", serial="V4-1")


def post(client, address: str, **data: str):
    answer = client.post(address, {"once": str(uuid.uuid4()), **data})
    assert answer.status_code == 303, text_of(answer)
    return answer["Location"]


def found(client, place: str, **other: str) -> str:
    """Enter work found; the id of its entry."""
    return post(client, f"{place}extra/", **NEW | other).strip("/").split("/")[-1]


def owner(client, place: str, extra: str, answer: str, **other: str) -> str:
    told = {"extra": extra, "answer": answer, "name": "R. Ames", "how": "by phone"} | other
    return post(client, f"{place}extra/owner/", **told)


def test_it_is_entered_and_priced(job):
    client, place = job
    assert "ENTER WORK FOUND" in text_of(client.get(f"{place}extra/"))
    extra = found(client, place)
    page = text_of(client.get(f"{place}extra/one/{extra}/"))
    # 2 x 4.10 + 2.5 x 95.10 + 60.00, by hand.
    assert "Price: $305.95" in page and "$237.75" in page and "Not sent" in page
    assert "unairworthy until it is done" in text_of(client.get(f"{place}extra/"))
    assert "the owner has not been asked" in text_of(client.get(f"{place}blockers/"))
    from rehang.book import queries

    entry = queries.judged(job_at(place)).state.entries[extra]
    assert entry.data["hours"] == "2.50" and entry.data["rate"] == "95.10"
    assert entry.data["parts"] == [{"part": "Seal", "number": 2, "each": "4.10"}]


# What is typed otherwise, and the sentence.
WRONG = [
    ({"what": " "}, "Write what is to be done."),
    ({"reason": ""}, "Write why: what was seen, and where."),
    ({"airworthiness": ""}, "Say whether it may fly until it is done."),
    ({"hours": "2,5"}, '"2,5" has a comma that is not a thousands mark.'),
    ({"hours": "-1"}, "-1 h cannot be."),
    ({"each0": "4.105"}, "Write two decimals at most."),
    ({"number0": "two"}, '"two" is not a whole number. Write digits.'),
    ({"part0": ""}, "Write which part."),
    ({"outside0": ""}, "Write what the outside work is."),
    (
        {"hours": "", "part0": "", "number0": "", "each0": "", "outside0": "", "price0": ""},
        "Write what it takes: parts, hours or outside work.",
    ),
]


@pytest.mark.parametrize(("wrong", "said"), WRONG)
def test_what_cannot_be_is_said_and_nothing_is_kept(job, wrong, said):
    client, place = job
    answer = client.post(f"{place}extra/", NEW | wrong | {"once": "a"})
    assert answer.status_code == 422 and said in text_of(answer)
    # What was typed is still there.
    assert wrong.get("what") or NEW["what"] in answer.content.decode().replace("&#x27;", "'")
    assert "R. Ames" not in text_of(answer)
    assert "Not sent" not in text_of(client.get(f"{place}extra/"))


def test_the_owner_declines_by_name_and_it_stays_on_the_list(job):
    client, place = job
    extra = found(client, place)
    page = text_of(client.get(f"{place}extra/owner/"))
    assert "Until it is done the aircraft is unairworthy as found." in page
    owner(client, place, extra, "declined")
    assert "Declined by R. Ames, by phone" in text_of(client.get(f"{place}extra/owner/"))
    assert "declined by R. Ames on" in text_of(client.get(f"{place}blockers/"))
    assert "declined by R. Ames on" in text_of(client.get(f"{place}record/discrepancies/"))
    # Struck by its own writer it stands all the same.
    client.post(f"{place}strike/", {"entry": extra, "reason": "Written by mistake.", "once": "s"})
    assert "declined by R. Ames on" in text_of(client.get(f"{place}blockers/"))
    told = {
        "kind": "extra_closed",
        "extra": extra,
        "outcome": "taken back",
        "next": f"{place}extra/",
    }
    reason = "The oil was spilt, wiped dry and did not come back."
    asked = client.post(f"{place}act/", told | {"reason": reason, "once": "c"})
    assert "Your PIN" in text_of(asked)
    post(client, f"{place}act/", **told, reason=reason, pin=PIN, who="ada")
    assert "declined by R. Ames" not in text_of(client.get(f"{place}blockers/"))
    assert reason in text_of(client.get(f"{place}extra/one/{extra}/"))


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"name": " "}, "Write the owner's name, or pick a person of the list"),
        ({"answer": ""}, "Pick ACCEPT or DECLINE."),
        ({"how": "by bird"}, '"by bird" is no way that it was asked.'),
        ({"pin": "111213", "who": "ada"}, "That is not the PIN or password of Ada Lind."),
    ],
)
def test_what_is_no_answer(job, wrong, said):
    client, place = job
    extra = found(client, place)
    told = {"extra": extra, "answer": "accepted", "name": "R. Ames", "how": "by phone"} | wrong
    onto = post(client, f"{place}extra/owner/", **told)
    assert said in text_of(client.get(onto.partition("#")[0]))
    assert "has not been asked" in text_of(client.get(f"{place}blockers/"))


def test_a_person_of_the_list_answers_with_their_pin(job):
    client, place = job
    extra = found(client, place)
    owner(client, place, extra, "accepted", name="", pin=PIN, who="ada")
    assert "Accepted by Ada Lind, by phone" in text_of(client.get(f"{place}extra/one/{extra}/"))


def test_sent_accepted_taken_and_done(job):
    client, place = job
    extra = found(client, place, airworthiness="no")
    post(client, f"{place}extra/ask/", extra=extra, to="R. Ames", how="in writing")
    here = f"{place}extra/one/{extra}/"
    assert "Put before R. Ames in writing" in text_of(client.get(here))
    # Nothing is spent on it before it is agreed.
    assert "WRITE WHAT IT TOOK" not in text_of(client.get(here))
    post(client, here, hours="1")
    assert "the owner has not accepted it" in text_of(client.get(here))
    owner(client, place, extra, "accepted")
    post(client, here, hours="1.5", what="Sealing paste", cost="12.30")
    post(client, here, hours="0.5")
    page = text_of(client.get(here))
    # Two hours at 95.10 and the paste against 305.95.
    assert "Hours 2.5 h 2 h -0.5 h" in page and "All $305.95 $202.50 -$103.45" in page, page
    for wrong, said in (
        ({"hours": "1,5"}, "has a comma"),
        ({"what": "Paste"}, "Write what Paste cost."),
        ({}, "Write the hours, the part, or what was bought."),
        ({"part": "no such thing"}, "There is no part"),
    ):
        post(client, here, **wrong)
        assert said in text_of(client.get(here))
    told = {"kind": "warranty", "extra": extra, "of": "Seal", "given_by": "Bay Seals", "next": here}
    post(client, f"{place}act/", **told, until="2031-11", document="Card 7")
    assert "Seal: the warranty of Bay Seals ends, to 30 Nov 2031." in text_of(client.get(here))
    assert "Warranty: Seal" in text_of(client.get(f"{place}due/"))
    told = {"kind": "extra_closed", "extra": extra, "outcome": "done", "next": here}
    post(client, f"{place}act/", **told, reason="New seal in and dry.")
    assert (
        "Done" in text_of(client.get(here)) and "CLOSE IT" not in text_of(client.get(here)).upper()
    )


def test_a_photo_goes_to_the_owner_with_it(job):
    client, place = job
    extra = found(client, place)
    photo = SimpleUploadedFile("seal.jpg", shot())
    answer = client.post(
        f"{place}photos/", {"entry": extra, "once": "p", "photo": photo, "next": place}
    )
    assert answer.status_code == 303
    page = client.get(f"{place}extra/owner/").content.decode()
    assert re.search(r"/photos/[0-9a-f]{64}\.jpg", page)
    assert "Photo of work found" in page or "work found, replace the governor" in page


def test_the_page_for_the_owner_on_paper(job):
    client, place = job
    found(client, place)
    made = client.get(f"{place}paper/extra.pdf?size=a4")
    text = " ".join(one.extract_text() for one in PdfReader(io.BytesIO(made.content)).pages)
    assert "Replace the governor’s oil seal" in text.replace("'", "’")
    assert "$305.95" in text and "tick what you accept" in text


def test_the_owners_page_and_paper_show_it_by_what_was_said_of_it(job):
    client, place = job
    for answer, standing in (
        ("", "Work found that waits for your word"),
        ("accepted", "Work found and accepted"),
        ("declined", "Work found and declined"),
    ):
        what = f"Seal number {len(answer)}"
        extra = found(client, place, what=what, reason=f"Oil on pad {len(answer)}.")
        if answer:
            owner(client, place, extra, answer)
        page = text_of(client.get(f"{place}rest/owner/"))
        made = client.get(f"{place}paper/owner.pdf?size=a4")
        paper = " ".join(one.extract_text() for one in PdfReader(io.BytesIO(made.content)).pages)
        for shown in (page, re.sub(r"\s+", " ", paper)):
            told = shown[shown.index(standing) :]
            assert told.index(what) < told.index(f"Oil on pad {len(answer)}."), standing
            assert "$305.95" in told and "unairworthy as found" in told, standing
            assert not answer or f"{answer.capitalize()} by R. Ames on" in told, standing


def test_hours_that_are_an_estimate_are_told_from_hours_that_were_written(job):
    client, place = job
    estimate = "Labour is estimated, also so far: the task sheet's likely minutes, not hours spent."
    page = text_of(client.get(f"{place}rest/parts/"))
    assert estimate in page and "Labour, estimated" in page
    assert "Hours written down as spent" not in page
    for hours in ("", "1.75"):
        extra = found(client, place, airworthiness="no", what=f"Seal {hours}.")
        here = f"{place}extra/one/{extra}/"
        owner(client, place, extra, "accepted")
        if hours:
            post(client, here, hours=hours)
        told = {"kind": "extra_closed", "extra": extra, "outcome": "done", "next": here}
        post(client, f"{place}act/", **told, reason="New seal in, dry after the run.")
    page = text_of(client.get(f"{place}rest/parts/"))
    assert "Hours written down as spent: 1.75 h, on work found." in page and estimate in page
    shown = text_of(client.get(f"{place}rest/owner/"))
    assert "The price is the estimate: what it took is not written." in shown
    assert "The price is what it took." in shown


def test_no_such_work(job):
    client, place = job
    answer = client.get(f"{place}extra/one/none-1/")
    assert answer.status_code == 404 and "no such work found" in text_of(answer)
