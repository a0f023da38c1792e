"""A small shop to write cases in: one tray, three meters, sourced limits. All invented."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta, timezone
from typing import Any

from rehang.sheets.folder import parse_files
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.terms.entries import Entry, new_entry
from rehang.trade.terms.kinds.register import KINDS
from rehang.trade.verdicts.item_verdict import ItemVerdict

ZONE = timezone(timedelta(hours=-5))
START = datetime(2026, 11, 2, 9, 0, tzinfo=ZONE)

ENGINE = """
format = 1
job = "case"
layout = "opposed-4"
timezone = "America/Chicago"
"""

PEOPLE = """
[[person]]
key = "ada"
name = "Ada"
role = "mechanic"
certificate = "CASE-1"
certificate_kind = "mechanic, inspection authorization, shop inspector"

[[person]]
key = "ben"
name = "Ben"
role = "second look"
certificate = "CASE-2"
certificate_kind = "mechanic, shop inspector"

[[person]]
key = "cy"
name = "Cy"
role = "reads"
"""

SOURCE = """
document = "Case manual (invented)"
revision = "1"
page = "1"
entered_by = "ada"
entered_on = 2026-11-01
"""

LIMITS = "".join(
    f"[[limit]]\n{bounds}{SOURCE}\n"
    for bounds in (
        'item = "plug"\ncheck = "look"\nworst = 1\n',
        'item = "plug"\ncheck = "electrode"\nlower = "50 %"\n',
        'item = "plug"\ncheck = "resistance"\nupper = "5000 ohm"\nshort = "out"\n',
        'item = "plug"\ncheck = "gap"\nlower = "0.016 in"\nupper = "0.019 in"\n',
        'item = "plug"\ncheck = "spark"\ngrade = "steady"\nat_psi = 100\n',
    )
)

METERS = """
[[meter]]
id = "DM"
kind = "digital"
quantity = "resistance"
keyed = "kohm"
due = "2027-01"
[[meter.range]]
name = "20k"
top = "20 kohm"
percent_of_reading = 0.8
counts = 2
count = "10 ohm"
[[meter.range]]
name = "2k"
top = "2 kohm"
percent_of_reading = 0.8
counts = 2
count = "1 ohm"

[[meter]]
id = "AN"
kind = "analog ohmmeter"
quantity = "resistance"
keyed = "ohm"
percent_of_arc = 3
[[meter.range]]
name = "x10"
factor = 10
mid_scale = "200 ohm"
[[meter.range]]
name = "x100"
factor = 100
mid_scale = "2 kohm"

[[meter]]
id = "WG"
kind = "wires"
quantity = "length"
step = "0.001 in"
due = "2027-03"

[[meter]]
id = "WC"
kind = "plus or minus"
quantity = "share"
accuracy = "5 %"
resolution = "1 %"
due = "2027-03"

[[meter]]
id = "BT"
kind = "tester"
due = "2027-05"
"""

FILES: Mapping[str, str] = {
    "engine.toml": ENGINE,
    "people.toml": PEOPLE,
    "limits.toml": LIMITS,
    "meters.toml": METERS,
}


def facts(**changed: str) -> JobFacts:
    """The shop's facts, with some files changed: ``facts(limits=...)``."""
    files = dict(FILES) | {f"{name}.toml": text for name, text in changed.items()}
    return parse_files(files, "case")


class Bench:
    """Writes entries one minute apart, the way a bench does."""

    def __init__(self, item: str = "plug:P1", place: str = "1T") -> None:
        self.entries: list[Entry] = []
        self.item = item
        self.place = place
        self.write("removed", place=place)

    def write(self, kind: str, *, by: str = "ada", item: str = "", **data: Any) -> Entry:
        at = START + timedelta(minutes=len(self.entries))
        fields = data
        if item or "item" in KINDS[kind][0] or kind == "pictured":
            fields = {"item": item or self.item, **data}
        entry = new_entry(kind, at=at, by=by, id=f"case-{len(self.entries):03}", **fields)
        self.entries.append(entry)
        return entry

    def read(self, check: str, written: str, meter: str = "", **data: Any) -> Entry:
        return self.write("reading", check=check, written=written, meter=meter, **data)

    def look(self, word: str = "normal", **data: Any) -> Entry:
        return self.write("seen", check="look", word=word, **data)

    def good(self, *, but: Sequence[str] = ()) -> Bench:
        """Every check taken and WITHIN, except those named in ``but``."""
        if "look" not in but:
            self.look()
        if "electrode" not in but:
            self.read("electrode", "70 %", "WC")
        if "resistance" not in but:
            self.read("resistance", "1.2 kohm", "DM", range="20k")
        if "gap" not in but:
            self.read("gap", "17 thou", "WG")
        if "spark" not in but:
            self.read("spark", "steady", "BT", at_psi=100)
        return self

    def judged(self, the_facts: JobFacts | None = None, now: datetime | None = None) -> JudgedJob:
        return judge(the_facts or facts(), self.entries, now)

    def verdict(self, the_facts: JobFacts | None = None) -> ItemVerdict:
        return self.judged(the_facts).item(self.item)

    def call(self, check: str, the_facts: JobFacts | None = None) -> str:
        found = self.verdict(the_facts).call(check)
        assert found is not None
        return found.call
