"""Oil samples of one engine: metal made, top-ups taken out of the sum, against its own history.

The trend is judged on the mass balance (see :mod:`rehang.calc.oil`): metal made an hour, shown
as the parts per million a fill without top-ups would hold after 50 hours. The raw figure and the
simple upper bound stand beside it. Sources of elements, 1.5 times the baseline and three rises
running: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rehang.calc import oil
from rehang.trade.entries import Entry
from rehang.trade.judging import JudgedJob
from rehang.trade.series import rises_running
from rehang.trade.wording import written_day

__all__ = ["ELEMENTS", "ElementTrend", "OilRow", "OilTrend", "oil_notes", "oil_trend"]

BASIS_HOURS = 50.0
# Baseline: the mean of the first samples of the series; common practice, no source.
_BASELINE = 3
ACCUSED = 1.5
# A laboratory repeats itself to 10 to 15 %; common practice, no source.
LAB_SHARE = 0.125

ELEMENTS: Mapping[str, str] = {
    "Fe": "cylinders, cam, gears",
    "Cr": "rings or chromed barrels",
    "Al": "pistons, pin plugs, case",
    "Cu": "bushings, bearings, guides",
    "Ni": "exhaust valves and guides",
    "Sn": "bearings",
    "Ag": "bearings",
    "Si": "dirt or sealant",
}

# Pairs beat singles: both over 1.5 times their own baseline. The leak path that tells the same.
_PAIRS = (
    (("Fe", "Ni"), "exhaust valve or guide", "exhaust"),
    (("Fe", "Cr"), "rings or a chromed barrel", "breather"),
    (("Al", "Si"), "dirt past the air filter, into the pistons", ""),
)


@dataclass(frozen=True, slots=True)
class OilRow:
    """One sample. ``made`` and ``upper`` are ppm on a 50-hour basis, by element."""

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
    """The series, its elements and what they say together."""

    rows: tuple[OilRow, ...]
    elements: tuple[ElementTrend, ...]
    sentences: tuple[str, ...]


def oil_trend(judged: JudgedJob) -> OilTrend | None:
    """The oil series of a job; None when no sample is on file."""
    samples = [e for item in judged.state.items.values() for e in item.samples]
    if not samples:
        return None
    rows = tuple(_row(entry, judged) for entry in samples)
    elements = _elements(rows)
    return OilTrend(rows, elements, tuple(_sentences(rows, elements, judged)))


def _row(entry: Entry, judged: JudgedJob) -> OilRow:
    sump = judged.facts.engine.get("sump_qt")
    fill = float(entry.get("fill_qt", None) or (sump if isinstance(sump, (int, float)) else 8))
    hours, added = float(entry.data["oil_hours"]), float(entry.data["added_qt"])
    raw: dict[str, float] = {}
    below = set()
    for element, ppm in entry.data["ppm"].items():
        if isinstance(ppm, str):
            below.add(element)
            raw[element] = float(oil.below_detection(float(ppm[1:]))[0])
        else:
            raw[element] = float(ppm)
    makeup = added / hours
    made, upper = {}, {}
    for element, ppm in raw.items():
        rate = float(oil.makeup_rate(ppm, makeup, fill, hours)) if added else ppm * fill / hours
        made[element] = rate / fill * BASIS_HOURS
        upper[element] = float(oil.undiluted_upper_bound(ppm, added, fill, hours, BASIS_HOURS))
    return OilRow(
        on=entry.data["on"],
        engine_hours=float(entry.data["engine_hours"]),
        oil_hours=hours,
        added_qt=added,
        raw=raw,
        below=frozenset(below),
        made=made,
        upper=upper,
        hours_per_quart=hours / added if added else None,
        flag=entry.get("flag"),
    )


def _elements(rows: Sequence[OilRow]) -> tuple[ElementTrend, ...]:
    found = []
    for element, source in ELEMENTS.items():
        values = [row.made[element] for row in rows if element in row.made]
        if len(values) < 2:
            continue
        first = values[:_BASELINE]
        baseline = sum(first) / len(first)
        rises = rises_running(values)
        times = values[-1] / baseline if baseline and len(values) > _BASELINE else 1.0
        reports = [row.raw[element] for row in rows if element in row.raw]
        beyond = _beyond_noise(reports[:_BASELINE], reports[-1])
        found.append(ElementTrend(element, baseline, times, rises, source, beyond))
    return tuple(found)


def _beyond_noise(first: Sequence[float], last: float) -> bool:
    """JCGM 100:2008, 5.1.2: repeatability in proportion, and a report in whole ppm."""
    usual = sum(first) / len(first)
    whole = 1 / 12  # variance of a whole part per million
    variance = (LAB_SHARE * last) ** 2 + whole + ((LAB_SHARE * usual) ** 2 + whole) / len(first)
    return bool(last - usual > 2 * variance**0.5)


def _sentences(
    rows: Sequence[OilRow], elements: Sequence[ElementTrend], judged: JudgedJob
) -> list[str]:
    said = []
    by_name = {one.element: one for one in elements}
    in_pairs: set[str] = set()
    for (first, second), source, path in _PAIRS:
        one, two = by_name.get(first), by_name.get(second)
        if one is None or two is None or not (one.is_accused and two.is_accused):
            continue
        in_pairs |= {first, second}
        sentence = (
            f"{first} and {second} rise together ({one.times:.1f} and {two.times:.1f} times this "
            f"engine's own baseline): {source}."
        )
        if path:
            sentence += _same_story(path, judged)
        said.append(sentence)
    for one in elements:
        if one.is_accused and one.element not in in_pairs:
            said.append(
                f"{one.element} alone is {one.times:.1f} times its baseline ({one.source}): "
                "sample again in 10 to 25 hours."
            )
    creeping = [one for one in elements if one.rises >= 3 and not one.is_accused]
    if creeping:
        names = ", ".join(one.element for one in creeping)
        said.append(
            f"{names}: rising, and under {ACCUSED:g} times the baseline, which a laboratory's "
            f"{LAB_SHARE * 100:g} % can make: shown, not accused."
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


def _same_story(path: str, judged: JudgedJob) -> str:
    """Whether a cylinder leaks where the metal would come from."""
    for one in judged.items:
        call = one.call("compression")
        if call is None or call.entry is None:
            continue
        if str(call.entry.get("with", {}).get("path", "")) == path:
            return f" Cylinder {one.name} leaks at the {path}: the same story."
    return ""


def oil_notes(judged: JudgedJob) -> list[str]:
    """The trend as sentences, with the figures it is judged on."""
    trend = oil_trend(judged)
    if trend is None:
        return []
    told = list(trend.sentences)
    named = [one.element for one in trend.elements if one.is_accused]
    for element in named:
        made = ", ".join(f"{row.made[element]:.1f}" for row in trend.rows if element in row.made)
        raw = ", ".join(f"{row.raw[element]:g}" for row in trend.rows if element in row.raw)
        upper = ", ".join(f"{row.upper[element]:.0f}" for row in trend.rows if element in row.upper)
        told.append(
            f"{element}, ppm on a 50-hour basis by mass balance: {made} (as reported {raw}; simple "
            f"upper bound {upper})."
        )
    return told
