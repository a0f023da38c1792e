"""What no door takes, and what a file cannot say: blanks, strikes, clocks, names, numbers, limits."""

from __future__ import annotations

from collections.abc import Callable

from ..finished import Case, Change, Finished

BLANKS = (" ", "\u00a0", "\u200b\u2060", "\u3164", "\u0301")


def _first_keep(job: Finished) -> str:
    return str(job.of("reading", check="gap")[0]["item"])


def _writes(kind: str, **data: object) -> Change:
    def change(job: Finished) -> None:
        job.add(kind, **data)

    return change


def _disagrees(reason: str) -> Change:
    return lambda job: job.add(
        "disagreed", item=_first_keep(job), verdict="KEEP", reason=reason
    ) and None  # fmt: skip


def _says(file: str, old: str, new: str) -> Change:
    return lambda job: job.replace(file, old, new)


def _source_of_blanks(key: str, text: str) -> Change:
    """Every plug limit with a blank in place of its document, revision or page."""

    def change(job: Finished) -> None:
        value = {"document": "TV4 manual (invented)", "revision": "6"}[key]
        found = job.files["limits.toml"].count(f'{key} = "{value}"')
        job.replace("limits.toml", f'{key} = "{value}"', f'{key} = "{text}"', found)

    return change


def _strikes(target: Callable[[Finished], str]) -> Change:
    return lambda job: job.add("struck", entry=target(job), reason="slip") and None


def _strikes_itself(job: Finished) -> None:
    new = job.add("struck", entry="", reason="slip")
    new["entry"] = new["id"]


def _strikes_a_later_one(job: Finished) -> None:
    first = job.add("struck", entry="", reason="slip")
    first["entry"] = job.add("note", text="afterwards")["id"]


def _strikes_a_strike(job: Finished) -> None:
    note = job.add("note", text="a slip")
    strike = job.add("struck", entry=note["id"], reason="slip")
    job.add("struck", entry=strike["id"], reason="it was right after all")


def _at(text: str) -> Change:
    return lambda job: job.add("note", text="x", at=text) and None


def _twin(job: Finished) -> None:
    job.add("note", text="x", item="hose:\u041dS1")


def _named(tail: str) -> Change:
    return lambda job: job.add("note", text="x", item=_first_keep(job) + tail) and None


def _twice(job: Finished) -> None:
    text = job.files["limits.toml"]
    first = "[[limit]]" + text.split("[[limit]]")[1]
    job.files["limits.toml"] = text + "\n" + first


def _engine(key: str, value: str) -> Change:
    """A number of engine.toml in place of the one that is there, or before its tables."""

    def change(job: Finished) -> None:
        lines = [
            one for one in job.files["engine.toml"].splitlines() if not one.startswith(f"{key} ")
        ]
        job.files["engine.toml"] = "\n".join([f"{key} = {value}", *lines]) + "\n"

    return change


def _meter(kind: str, old: str, new: str) -> Change:
    def change(job: Finished) -> None:
        before, found, after = job.files["meters.toml"].partition(f'kind = "{kind}"')
        assert found, kind
        assert old in after, old
        key = next(line for line in after.splitlines() if line.strip().startswith(old))
        job.files["meters.toml"] = before + found + after.replace(key, new, 1)

    return change


def _to_come(job: Finished) -> None:
    job.files["limits.toml"] = job.files["limits.toml"].replace("2026-10-05", "2026-11-20")


CASES = [
    *(
        Case(f"a decision against a verdict for a reason of {blank!a}", _disagrees(blank),
             "Write the reason: what was seen")
        for blank in ("", *BLANKS)
    ),
    *(
        Case(f"a limit whose {key} is {blank!a}", _source_of_blanks(key, blank), "judge")
        for key in ("document", "revision")
        for blank in BLANKS
    ),
    Case("a note of blanks", _writes("note", text="\u00a0\u200b"), '"text" of an entry of kind "note"'),
    Case("an entry that strikes itself", _strikes_itself, "strikes nothing"),
    Case("an entry that strikes a later one", _strikes_a_later_one, "strikes nothing"),
    Case("an entry that strikes a strike", _strikes_a_strike, "A strike is not struck"),
    Case("an entry that strikes what is not there", _strikes(lambda job: "nobody-wrote-this"),
         "strikes nothing"),
    Case("a serial with a zero-width space", _named("\u200b"), "cannot be seen"),
    Case("a serial with a byte order mark", _named("\ufeff"), "cannot be seen"),
    Case("a serial with a soft hyphen", _named("\u00ad"), "cannot be seen"),
    Case("a serial with a Cyrillic letter", _twin, "cyrillic capital letter en"),
    Case("a serial with a full-width digit", _named("\uff11"), "fullwidth digit one"),
    Case("a reading in full-width digits",
         lambda job: job.last("reading", check="gap").update(written="\uff11\uff18 thou"),
         "Write digits as 0 to 9: 18 thou"),
    Case("a need of a number of hundreds of digits",
         _writes("needed", part="gasket-plug", number=10**309, reason="all"), "Look at the digits"),
    Case("hours below zero", lambda job: job.of("removed")[0].update(hours=-1), '"hours" is -1'),
    Case("a serial of thousands of letters", _named("9" * 4_000), "the book keeps at most 120"),
    Case("a moment of the year 12", _at("0012-11-12T14:00:00-06:00"), "in the year 12"),
    Case("two limits for one check on one day", _twice, "nobody can say which counts"),
    Case("a limit for an item that there is not",
         _says("limits.toml", 'item = "plug"', 'item = "spark plug"'), 'no check sheet for "spark plug"'),
    Case("a torque limit for fasteners that there are not",
         _says("limits.toml", 'item = "engine"\ncheck = "', 'item = "engine"\ncheck = "x'),
         "No torque is filed as engine"),
    Case("limits that are put in after the day they judge on", _to_come, "no limit on file"),
    Case("a rule that passes what is more likely outside",
         _says("engine.toml", "within = 0.95, out = 0.05", "within = 0.2, out = 0.05"),
         '"within" is 0.2'),
    Case("a rule that refuses nothing",
         _says("engine.toml", "within = 0.95, out = 0.05", "within = 0.95, out = 0.7"), '"out" is 0.7'),
    Case("a last run after the engine came off",
         _says("engine.toml", "last_run_on = 2026-09-30", "last_run_on = 2026-10-20"),
         "after it came off on 2 Oct 2026"),
    Case("a bore of 0 in", _engine("bore_in", "0"), '"bore_in" is 0'),
    Case("a bore below 0", _engine("bore_in", "-4"), '"bore_in" is -4'),
    Case("a bore that is no number", _engine("bore_in", "nan"), '"bore_in" is nan'),
    Case("a bore in millimetres", _engine("bore_in", "133.35"), "It is in inches."),
    Case("a compression ratio of 1", _engine("compression_ratio", "1"), '"compression_ratio" is 1'),
    Case("a spark advance of 200 degrees", _engine("spark_advance_deg", "200"),
         '"spark_advance_deg" is 200'),
    Case("a magneto with a blank for a serial",
         _says("engine.toml", "Orrin OM-L s/n 6172", "\u00a0"),
         "magneto has no serial on file"),
    Case("a meter of less than no per cent", _meter("digital", "percent_of_reading", "percent_of_reading = -0.8"),
         '"percent_of_reading" is -0.8'),
    Case("a needle that is wrong by more than its arc",
         _meter("analog ohmmeter", "percent_of_arc", "percent_of_arc = 150"), '"percent_of_arc" is 150'),
    Case("a scale with its middle at 0",
         _meter("analog ohmmeter", "mid_scale", 'mid_scale = "0 ohm"'), '"mid_scale" of'),
]  # fmt: skip
