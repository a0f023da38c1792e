"""The page: upload, columns, preview, KEEP. Ada inspects, Cy only reads, Dee is elsewhere."""

import base64
import re
from html import unescape

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from rehang.book import queries, services
from rehang.decode.tables import read_table
from tests.book import shop
from tests.markup import markup
from tests.pins import PIN, give_pins
from tests.tables.test_files import saved, workbook

PAGE = "/jobs/case/tables/"
WIDE = b"Hole,Serial,Ohms,Gap (thou),Price\n1T,P1,1180,18,4\n"
ON = {"m-resistance": "DM|20k", "m-gap": "WG|"}


@pytest.fixture
def sign_in(db, client):
    queries.forget()
    services.load_folder(folder=shop.folder(entries=[shop.removed()]), by="ada", at=shop.KEPT)
    dee = shop.folder("elsewhere", people='[[person]]\nkey = "dee"\nname = "Dee"\n', limits="")
    services.load_folder(folder=dee, by="dee", at=shop.KEPT)

    def enter(person: str):
        assert client.post("/sign-in/", {"person": person}).status_code == 303
        return client

    return enter


def upload(data: bytes = WIDE, name: str = "tray.csv", **more):
    return {"file": SimpleUploadedFile(name, data), **more}


def carried(data: bytes = WIDE, name: str = "tray.csv", **more):
    return {"name": name, "carried": base64.b64encode(data).decode(), **more}


def text_of(answer) -> str:
    body = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", unescape(body)).strip()


def hidden_fields(answer) -> dict[str, str]:
    """What the form with KEEP on it sends."""
    form = markup(answer).rpartition('<form method="post" class="row-acts">')[2]
    fields = re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', form)
    return {name: unescape(value) for name, value in fields} | {"act": "keep"}


def kinds() -> list[str]:
    return [entry.kind for entry in queries.entries(queries.job("case"))]


def test_a_file_is_shown_with_its_columns_and_nothing_is_kept(sign_in):
    client, before = sign_in("ada"), kinds()
    answer = client.post(PAGE, upload())
    assert answer.status_code == 200
    words = text_of(answer)
    assert "tray.csv: what each column is" in words
    assert "Gap (thou) as in 18 · guessed" in words
    assert "Resistance was written without a meter. Say which meter was used." in words
    assert "2 cannot be kept, so nothing is" in words
    assert "KEEP 2" not in words
    assert kinds() == before


def test_the_columns_are_changed_and_what_is_shown_is_kept(sign_in):
    client = sign_in("ada")
    answer = client.post(PAGE, carried(c3="-", **ON))
    assert "1 will be kept" in text_of(answer)
    answer = client.post(PAGE, carried(**ON))
    assert "2 will be kept" in text_of(answer)
    sent = hidden_fields(answer)
    assert sent["c2"] == "resistance in ohms"
    answer = client.post(PAGE, sent)
    assert (answer.status_code, answer["Location"]) == (303, PAGE)
    assert "2 readings came in." in text_of(client.get(PAGE))
    readings = [e for e in queries.entries(queries.job("case")) if e.kind == "reading"]
    assert [(e.by, e.data["written"]) for e in readings] == [
        ("ada", "1180 ohms"),
        ("ada", "18 thou"),
    ]
    # Sent again, as by a second tap: nothing is kept twice.
    answer = client.post(PAGE, sent)
    assert answer.status_code == 422
    assert "Nothing here is new" in text_of(answer)
    assert len([k for k in kinds() if k == "reading"]) == 2


def test_keep_with_a_bad_row_keeps_nothing(sign_in):
    client, before = sign_in("ada"), kinds()
    data = WIDE + b"1B,P2,1290,17,4\n"
    answer = client.post(PAGE, carried(data, act="keep", **ON))
    assert answer.status_code == 422
    assert "line 3 plug P2 (1B): gap 17 thou on WG" in text_of(answer)
    assert kinds() == before
    answer = client.post(PAGE, carried(data, bring_in="yes", **ON))
    assert client.post(PAGE, hidden_fields(answer)).status_code == 303
    assert kinds()[-5:] == ["reading", "reading", "removed", "reading", "reading"]


def test_somebody_elses_readings_are_not_brought_in(sign_in):
    client, before = sign_in("ada"), kinds()
    data = b"by,item,gap\nben,P1,18\n"
    answer = client.post(PAGE, carried(data, act="keep", **ON))
    assert 'The row is by "ben", and you are Ada.' in text_of(answer)
    assert kinds() == before
    answer = client.post(PAGE, carried(data, c0="-", **ON))
    assert client.post(PAGE, hidden_fields(answer)).status_code == 303


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({}, "Choose a CSV or XLSX file first, or paste the table."),
        ({"carried": "%%%"}, "The file did not come back whole. Choose it again."),
        (
            upload(b"x" * 1_500_001),
            "tray.csv: The file has 1,500,001 bytes; a page takes 1,500,000. Save the one sheet "
            "with the table, or use the command rehang import.",
        ),
        (carried(read_at="noon", **ON), '"noon" is not a date and time. Write them as in '),
        (carried(psi="lots", **ON), 'The pressure is "lots". Write whole psi, as in 100.'),
        (carried(c0="item", **ON), '"Hole" and "Serial" are both said to be item.'),
        (carried(c0="moon", **ON), '"moon" is not something a column can be.'),
        (upload(b"a,b\n1,2\n"), "No column holds readings. Say which column is the check"),
    ],
    ids=["none", "torn", "large", "time", "psi", "twice", "moon", "no readings"],
)
def test_what_cannot_be_read_is_said_on_the_page(sign_in, sent, sentence):
    client, before = sign_in("ada"), kinds()
    if "c0" in sent and sent["c0"] == "item":
        sent = sent | {"c1": "item"}
    answer = client.post(PAGE, sent)
    assert answer.status_code == 422
    assert sentence in text_of(answer)
    assert kinds() == before


def test_merged_cells_and_formulas_are_refused_with_their_place(sign_in):
    client, before = sign_in("ada"), kinds()
    book = workbook(["item", "gap"], ["P1", "=9*2"])
    answer = client.post(PAGE, upload(saved(book), "tray.xlsx"))
    assert "tray.xlsx: B2 holds a formula. Save values only." in text_of(answer)
    book = workbook(["item", "gap"], ["P1", 18])
    book.active.merge_cells("A2:B2")
    answer = client.post(PAGE, upload(saved(book), "tray.xlsx"))
    assert "A2:B2 is merged into one cell. Unmerge it and write each cell out." in text_of(answer)
    assert kinds() == before


def test_meters_come_in_and_are_filed(sign_in):
    client = sign_in("ada")
    data = b"id,kind,due\nBT,tester,2028-05\nBT-9,tester,2028-06\n"
    answer = client.post(PAGE, carried(data, "meters.csv", what="meters", was="readings", c0="at"))
    assert "BT: due 2027-05 becomes 2028-05" in text_of(answer)
    give_pins("ada")
    asked = client.post(PAGE, hidden_fields(answer))
    assert "To change the meters takes a PIN" in text_of(asked)
    sent = hidden_fields(asked) | {"pin": PIN}
    assert client.post(PAGE, sent).status_code == 303
    assert "1 new and 1 changed meters are on file." in text_of(client.get(PAGE))
    meters = queries.facts(queries.job("case")).meters
    assert (meters["BT"].due_text, meters["BT-9"].due_text) == ("2028-05", "2028-06")
    assert kinds()[-1] == "filed"


@pytest.mark.parametrize("what", ["readings", "meters", "limits"])
@pytest.mark.parametrize("file_format", ["csv", "xlsx"])
def test_tables_are_taken_away(sign_in, what, file_format):
    client = sign_in("cy")
    services.append(
        job=queries.job("case"), entries=[shop.ohms("reading-1")], by="ada", at=shop.KEPT
    )
    answer = client.get(f"{PAGE}{what}.{file_format}")
    assert answer.status_code == 200
    assert re.fullmatch(
        rf'attachment; filename="case-{what}-\d{{4}}-\d\d-\d\d\.{file_format}"',
        answer["Content-Disposition"],
    )
    table = read_table("t", answer.content)
    assert table.format == file_format
    assert len(table.rows) == {"readings": 1, "meters": 7, "limits": 5}[what]


def test_who_may_not_write_or_see(sign_in):
    client = sign_in("cy")
    assert "Bring a table in" not in text_of(client.get(PAGE))
    answer = client.post(PAGE, carried(**ON))
    assert answer.status_code == 403
    assert "Cy reads this book and does not write in it." in text_of(answer)
    client.post("/sign-out/")
    client = sign_in("dee")
    assert client.get(PAGE).status_code == 404
    assert client.get(f"{PAGE}readings.csv").status_code == 404
    assert client.post(PAGE, carried(**ON)).status_code == 404
    client.post("/sign-out/")
    assert client.get(PAGE).status_code == 302


def test_there_is_no_other_table(sign_in):
    client = sign_in("ada")
    answer = client.get(f"{PAGE}boats.csv")
    assert answer.status_code == 404
    assert 'There is no table "boats.csv" here.' in text_of(answer)
    assert client.get(f"{PAGE}readings.ods").status_code == 404


def test_a_table_of_limits_is_pasted_its_columns_shown_and_all_of_it_kept(sign_in):
    client = sign_in("ada")
    give_pins("ada")
    assert 'name="paste"' in client.get(PAGE + "?paste=limits").content.decode()
    text = "Part,Check,Least,Most,Unit,Manual,Rev,Page\nSpark plug,Spark gap,16,19,thou,M,1,7-4\n"
    answer = client.post(PAGE, {"paste": text, "what": "limits"})
    words = text_of(answer)
    assert "what you pasted: what each column is" in words
    assert "Least as in 16 · guessed" in words
    assert "1 cannot be kept, so nothing is" in words
    assert 'There is no check "Spark gap" on the plug sheet.' in words
    before = queries.facts(queries.job("case")).limits
    answer = client.post(PAGE, {"paste": text.replace("Spark gap", "Gap"), "what": "limits"})
    assert "1 will be kept" in text_of(answer)
    asked = client.post(PAGE, hidden_fields(answer))
    assert "To change the limits takes a PIN" in text_of(asked)
    assert queries.facts(queries.job("case")).limits == before
    assert client.post(PAGE, hidden_fields(asked) | {"pin": PIN}).status_code == 303
    after = queries.facts(queries.job("case")).limits
    assert len(after) == len(before) + 1
    assert (after[-1].lower, after[-1].upper, after[-1].entered_by) == (160, 190, "ada")
