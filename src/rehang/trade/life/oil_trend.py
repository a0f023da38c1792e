"""Oil samples of one engine: metal made, top-ups taken out of the sum, against its own history.

The trend is judged on the mass balance (see :mod:`rehang.calc.oil`): metal made an hour, shown
as the parts per million a fill without top-ups would hold after 50 hours. The raw figure and the
simple upper bound stand beside it. Sources of elements, 1.5 times the baseline, three rises
running, and that another laboratory, oil or interval begins a new series: common practice, no
source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rehang.calc import oil
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.oil_fill import top_ups
from rehang.trade.known.state import OIL_RISE
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.kinds.oil import Sampled
from rehang.trade.terms.series import rises_running
from rehang.trade.terms.wording import listed, plural, written_day
from rehang.trade.verdicts.item_blockers import Blocker

__all__ = [
    "ELEMENTS",
    "OIL_HINT",
    "ElementTrend",
    "OilRow",
    "OilTrend",
    "oil_asks",
    "oil_notes",
    "oil_trend",
]

BASIS_HOURS = 50.0
# Baseline: the mean of the first samples of the series; common practice, no source.
_BASELINE = 3
ACCUSED = 1.5
OIL_HINT = f"a metal over {ACCUSED:g} × its first samples (common practice, no source)"
# So many times the sample before, somebody decides; common practice, no source.
JUMPED = 2.0
# A laboratory repeats itself to 10 to 15 %; common practice, no source.
LAB_SHARE = 0.125

ELEMENTS: Mapping[str, str] = {
    "Fe": "cylinders, cam, gears",
    "Cr": "rings or chromed barrels",
    "Al": "pistons, pin plugs, case",
    "Cu": "bushings, bearings, guides",
    "Ni": "exhaust valves and guides, nickel-plated bores",
    "Sn": "bearings",
    "Ag": "bearings",
    "Si": "dirt or sealant",
}

# What rises together beats singles: all over 1.5 times their own baseline. The leak path that
# tells the same. Of the bearings' three metals two are enough.
_TOGETHER: tuple[tuple[tuple[str, ...], int, str, str], ...] = (
    (("Fe", "Ni"), 2, "exhaust valve or guide", "exhaust"),
    (("Fe", "Cr"), 2, "rings or a chromed barrel", "breather"),
    (("Al", "Si"), 2, "dirt past the air filter, into the pistons", ""),
    (("Cu", "Sn", "Ag"), 2, "bearings", ""),
)
# An interval half as long or twice as long as the one before it is another interval.
_OTHER_INTERVAL = 2.0


@dataclass(frozen=True, slots=True)
class OilRow:
    """One sample, kept as ``entry``. ``made`` and ``upper`` are ppm on a 50-hour basis, by element.

    What is ``below`` what the laboratory sees is anything from 0 to twice its ``raw`` and
    ``made``, which stand in the middle. ``breaks`` says why a new series begins here.
    """

    entry: str
    on: str
    engine_hours: float
    oil_hours: float
    added_qt: float
    raw: Mapping[str, float]
    below: frozenset[str]
    made: Mapping[str, float]
    upper: Mapping[str, float]
    hours_per_quart: float | None
    flag: str
    breaks: str = ""

    def reported(self, element: str) -> str:
        """As the laboratory wrote it: ``32`` or ``<2``."""
        return f"<{2 * self.raw[element]:g}" if element in self.below else f"{self.raw[element]:g}"

    def worked_out(self, element: str) -> str:
        """On the 50-hour basis: ``42.4``, or ``<2.6`` where it was below what is seen."""
        made = self.made[element]
        return f"<{2 * made:.1f}" if element in self.below else f"{made:.1f}"


@dataclass(frozen=True, slots=True)
class ElementTrend:
    """One element against this engine's own baseline.

    ``beyond_noise`` is whether the last report differs from the baseline's by more than twice
    what the laboratory and its whole parts per million can make.
    """

    element: str
    baseline: float
    times: float
    rises: int
    source: str
    beyond_noise: bool

    @property
    def is_accused(self) -> bool:
        return self.times > ACCUSED and self.beyond_noise


@dataclass(frozen=True, slots=True)
class OilTrend:
    """All samples, the elements over the series that stands, and what they say together."""

    rows: tuple[OilRow, ...]
    elements: tuple[ElementTrend, ...]
    sentences: tuple[str, ...]

    @property
    def series(self) -> tuple[OilRow, ...]:
        """The samples since the laboratory, the oil or the interval last changed."""
        return _series(self.rows)


def oil_trend(judged: JudgedJob) -> OilTrend | None:
    """The oil series of a job; None when no sample is on file."""
    samples = [e for item in judged.state.items.values() for e in item.samples]
    if not samples:
        return None
    rows = tuple(
        _row(
            entry, judged, _break(samples[:number], entry), samples[number - 1] if number else None
        )
        for number, entry in enumerate(samples)
    )
    elements = _elements(_series(rows), judged)
    return OilTrend(rows, elements, tuple(_sentences(rows, elements, judged)))


def _series(rows: Sequence[OilRow]) -> tuple[OilRow, ...]:
    begins = max((n for n, row in enumerate(rows) if row.breaks), default=0)
    return tuple(rows[begins:])


def _break(before: Sequence[Entry[Sampled]], entry: Entry[Sampled]) -> str:
    """Why the samples before cannot be compared with this one; empty where they can.

    A laboratory or an oil that nobody wrote down is taken for the one before.
    """
    if not before:
        return ""
    told = [one.fields for one in before]
    for what, all_before, now in (
        ("laboratory", [one.lab for one in told], entry.fields.lab.strip()),
        ("oil", [one.oil for one in told], entry.fields.oil.strip()),
    ):
        was = next((one for one in reversed(all_before) if one), "").strip()
        if was and now and was.casefold() != now.casefold():
            return f"the {what} changed from {was} to {now}"
    was_hours, hours = float(before[-1].fields.oil_hours), float(entry.fields.oil_hours)
    if max(was_hours, hours) >= _OTHER_INTERVAL * min(was_hours, hours):
        return f"the interval changed from {was_hours:g} to {hours:g} h"
    return ""


def _row(
    entry: Entry[Sampled], judged: JudgedJob, breaks: str, before: Entry[Sampled] | None
) -> OilRow:
    sump = judged.facts.engine.get("sump_qt")
    fill = float(entry.fields.fill_qt or (sump if isinstance(sump, (int, float)) else 8))
    hours, added = float(entry.fields.oil_hours), float(entry.fields.added_qt)
    raw, below = _reported(entry)
    residue = _residue(entry, before)
    made, upper = {}, {}
    for element, ppm in raw.items():
        # What old oil alone would show more than all that was found is no metal made.
        rate = max(0.0, _rate(entry, ppm, fill, residue.get(element, 0.0)))
        made[element] = rate / fill * BASIS_HOURS
        upper[element] = float(oil.undiluted_upper_bound(ppm, added, fill, hours, BASIS_HOURS))
    return OilRow(
        entry=entry.id,
        on=entry.fields.on,
        engine_hours=float(entry.fields.engine_hours),
        oil_hours=hours,
        added_qt=added,
        raw=raw,
        below=below,
        made=made,
        upper=upper,
        hours_per_quart=hours / added if added else None,
        flag=entry.fields.flag,
        breaks=breaks,
    )


def _reported(entry: Entry[Sampled]) -> tuple[dict[str, float], frozenset[str]]:
    """Parts per million by element, and the elements below what the laboratory sees."""
    raw: dict[str, float] = {}
    below = set()
    for element, ppm in entry.fields.ppm.items():
        if isinstance(ppm, str):
            below.add(element)
            raw[element] = float(oil.below_detection(float(ppm[1:]))[0])
        else:
            raw[element] = float(ppm)
    return raw, frozenset(below)


def _residue(entry: Entry[Sampled], before: Entry[Sampled] | None) -> dict[str, float]:
    """Parts per million at the fill, of the old oil that did not drain; empty where none is told."""
    share = entry.fields.left_share
    if not share or before is None:
        return {}
    return {
        element: float(oil.carried_over(ppm, share))
        for element, ppm in _reported(before)[0].items()
    }


def _rate(entry: Entry[Sampled], ppm: float, fill: float, start: float) -> float:
    """Metal made [ppm qt/h]: through each top-up where they are written, else as a steady flow."""
    hours, added = float(entry.fields.oil_hours), float(entry.fields.added_qt)
    each = top_ups(entry.fields)
    if each:
        return float(oil.topup_rate(ppm, added / hours, fill, hours, each, start))
    if added:
        return float(oil.makeup_rate(ppm, added / hours, fill, hours, start))
    return (ppm - start) * fill / hours


def _elements(rows: Sequence[OilRow], judged: JudgedJob) -> tuple[ElementTrend, ...]:
    found = []
    for element in ELEMENTS:
        mine = [row for row in rows if element in row.made]
        if len(mine) < 2:
            continue
        values = [row.made[element] for row in mine]
        # What was below sight may have been all of its limit before, and nothing now: accused is
        # what has risen even so.
        first = [_most(row, row.made, element) for row in mine[:_BASELINE]]
        baseline = sum(first) / len(first)
        last = _least(mine[-1], mine[-1].made, element)
        times = last / baseline if baseline and len(mine) > _BASELINE else 1.0
        beyond = _beyond_noise(
            [_most(row, row.raw, element) for row in mine[:_BASELINE]],
            _least(mine[-1], mine[-1].raw, element),
        )
        source = _source(element, judged)
        found.append(ElementTrend(element, baseline, times, rises_running(values), source, beyond))
    return tuple(found)


def _most(row: OilRow, of: Mapping[str, float], element: str) -> float:
    return of[element] * (2.0 if element in row.below else 1.0)


def _least(row: OilRow, of: Mapping[str, float], element: str) -> float:
    return 0.0 if element in row.below else of[element]


def _source(element: str, judged: JudgedJob) -> str:
    """Where an element comes from, by what this engine's bores are plated with."""
    plating = judged.facts.engine.get("bore_plating")
    if element == "Ni" and plating == "nickel":
        return "exhaust valves and guides, this engine's nickel-plated bores"
    if element == "Ni" and plating:
        return "exhaust valves and guides"
    if element == "Cr" and plating and plating != "chromium":
        return "rings"
    return ELEMENTS[element]


def _beyond_noise(first: Sequence[float], last: float) -> bool:
    """JCGM 100:2008, 5.1.2: repeatability in proportion, and a report in whole ppm."""
    usual = sum(first) / len(first)
    whole = 1 / 12  # variance of a whole part per million
    variance = (LAB_SHARE * last) ** 2 + whole + ((LAB_SHARE * usual) ** 2 + whole) / len(first)
    return bool(last - usual > 2 * variance**0.5)


def _sentences(
    rows: Sequence[OilRow], elements: Sequence[ElementTrend], judged: JudgedJob
) -> list[str]:
    said = _together(elements, judged)
    said += [
        f"A new baseline begins with the sample of {written_day(row.on)}, for {row.breaks}: what "
        "is before it is shown and not compared."
        for row in rows
        if row.breaks
    ]
    unseen = [e.element for e in elements if any(e.element in row.below for row in _series(rows))]
    if unseen:
        said.append(
            f"{listed(unseen)}: reported as less than the laboratory sees. That is anything from 0 "
            "to the figure behind the <, and suspect only where all of it would be."
        )
    creeping = [one for one in elements if one.rises >= 3 and not one.is_accused]
    if creeping:
        names = ", ".join(one.element for one in creeping)
        said.append(
            f"{names}: rising, and under {ACCUSED:g} times the baseline: within the scatter of a laboratory, "
            f"{LAB_SHARE * 100:g} %."
        )
    use = [row.hours_per_quart for row in rows if row.hours_per_quart]
    if len(use) >= 2:
        worse = (
            " and getting worse" if use == sorted(use, reverse=True) and use[-1] < use[0] else ""
        )
        said.append(f"Oil use: {', '.join(f'{one:.1f}' for one in use)} hours a quart{worse}.")
    flagged = [row for row in rows if row.flag]
    said += [
        f"The sample of {written_day(row.on)} was taken {row.flag}: read it with care."
        for row in flagged
    ]
    return said


def _together(elements: Sequence[ElementTrend], judged: JudgedJob) -> list[str]:
    """What the accused elements say: by twos and threes first, then whatever is left."""
    accused = {one.element: one for one in elements if one.is_accused}
    said, told = [], set()
    for names, least, source, path in _TOGETHER:
        found = [accused[name] for name in names if name in accused]
        if len(found) < least:
            continue
        told |= {one.element for one in found}
        if "Ni" in names and judged.facts.engine.get("bore_plating") == "nickel":
            source = "exhaust valve or guide, or the nickel-plated bores"
        times = listed([f"{one.times:.1f}" for one in found])
        said.append(
            f"{listed([one.element for one in found])} rise together ({times} times this engine's "
            f"own baseline): {source}." + (_same_story(path, judged) if path else "")
        )
    left = [one for name, one in accused.items() if name not in told]
    if len(accused) == 1:
        said.append(
            f"{left[0].element} alone is {left[0].times:.1f} times its baseline "
            f"({left[0].source}): sample again in 10 to 25 hours."
        )
    elif left:
        each = listed([f"{one.element} {one.times:.1f} times ({one.source})" for one in left])
        beside = ", beside those" if told else ", all at once"
        said.append(
            f"Over the baseline{beside}: {each}. They point to no one part: sample again in 10 to "
            "25 hours."
        )
    return said


def _same_story(path: str, judged: JudgedJob) -> str:
    """Whether a cylinder leaks where the metal would come from."""
    for one in judged.items:
        call = one.call("compression")
        if call is None or call.taken is None:
            continue
        if str(call.taken.fields.with_.get("path", "")) == path:
            return f" Cylinder {one.name} leaks at the {path}: the same story."
    return ""


def oil_asks(judged: JudgedJob) -> tuple[Blocker, ...]:
    """What the oil asks of a named person, and keeps nothing back: no limit is on file for it.

    A metal of the last sample that jumped, until it is decided; figures that are still awaited.
    """
    awaited = tuple(
        Blocker(
            item.id,
            f"Oil: the laboratory's figures of {len(item.bottles)} "
            f"{plural('sample', len(item.bottles))} are awaited.",
            "Write them on the oil's page when they come.",
        )
        for item in judged.state.items.values()
        if item.bottles
    )
    return (*awaited, *_jumped(judged))


def _jumped(judged: JudgedJob) -> tuple[Blocker, ...]:
    trend = oil_trend(judged)
    if trend is None or len(trend.rows) < 2:
        return ()
    before, last = trend.rows[-2:]
    key = f"{OIL_RISE}{last.entry}"
    if key in judged.state.settled:
        return ()
    jumped = []
    for element in ELEMENTS:
        if element not in last.made or element not in before.made:
            continue
        was, now = _most(before, before.made, element), _least(last, last.made, element)
        # Whole parts per million may be one apart for nothing.
        risen = _least(last, last.raw, element) - _most(before, before.raw, element)
        if risen <= 1 or now < JUMPED * was:
            continue
        times = f" ({now / was:.0f} times as much made)" if was else ""
        jumped.append(
            f"{element} {last.reported(element)} ppm after {before.reported(element)}{times}"
        )
    if not jumped:
        return ()
    return (
        Blocker(
            key,
            f"Oil of {written_day(last.on)}: {listed(jumped)}; no limit on file.",
            "Sample again and find where it comes from; a named person decides on the oil's page.",
        ),
    )


def oil_notes(judged: JudgedJob) -> list[str]:
    """The trend as sentences, with the figures it is judged on."""
    trend = oil_trend(judged)
    if trend is None:
        return []
    told = list(trend.sentences)
    named = [one.element for one in trend.elements if one.is_accused]
    for element in named:
        made = ", ".join(row.worked_out(element) for row in trend.rows if element in row.made)
        raw = ", ".join(row.reported(element) for row in trend.rows if element in row.raw)
        upper = ", ".join(f"{row.upper[element]:.0f}" for row in trend.rows if element in row.upper)
        told.append(
            f"{element}, ppm on a 50-hour basis by mass balance: {made} (as reported {raw}; simple "
            f"upper bound {upper})."
        )
    return told
