"""A figure of one part against that of its fellows, all read together: how far from their mean, and the odd one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import sqrt
from statistics import fmean

from rehang.calc.outlier import LEAST, Grubbs, grubbs
from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.meters import Band, band_of
from rehang.trade.known.state import ItemState, JobState, Taken
from rehang.trade.terms.quantities import show
from rehang.trade.verdicts.rpm import Pair

__all__ = ["LEVEL", "asked_now", "fellows_of", "from_mean", "odd_of"]

# The chance of naming one where none is odd: a choice, no source.
LEVEL = 0.05
# Tenths of a per cent, in which a share is kept.
_WHOLE = 1_000


def asked_now(item: ItemState, sheet: CheckSheet) -> CheckSheet:
    """The sheet as it is asked of one item: a check that is asked for after an act once that was done.

    Before it, what nobody read of it is no part of the sheet.
    """
    if not any(check.asked_after for check in sheet.checks):
        return sheet
    acts = {entry.fields.act for entry in item.reworks}
    return replace(
        sheet,
        checks=tuple(
            replace(one, required=True) if one.asked_after in acts else one
            for one in sheet.checks
            if not one.asked_after or one.asked_after in acts or item.of(one.name)
        ),
    )


def fellows_of(kind: str, check: str, facts: JobFacts, state: JobState) -> dict[str, Taken]:
    """The last figure of each part of a kind that counts, by item; none from before a rework of any.

    They are run into the vessels together, so one that was cleaned is no fellow of figures from
    before (common practice, no source).
    """
    items = [one for one in state.items.values() if one.kind == kind and not one.disposed]
    since = max(
        ((e.at, e.seq) for one in items for e in one.reworks),
        default=None,
    )
    found = {}
    for one in items:
        taken = [t for t in one.of(check) if t.counts and t.reading.value is not None]
        if taken and (since is None or (taken[-1].entry.at, taken[-1].entry.seq) > since):
            found[one.id] = taken[-1]
    return found


def from_mean(
    item: ItemState, check: Check, facts: JobFacts, state: JobState, every: Sequence[str]
) -> tuple[Pair | None, str]:
    """How far a part's figure is from the mean of all, in tenths of a per cent of it; None until all are read.

    Each vessel has an error of its own, so each brings its whole band: of n figures
    u² = u_i² ((n-1)/n)² + the sum of the others' u_j² / n², divided by the mean (JCGM 100:2008, 5.1.2).
    """
    of = next(one for one in facts.sheets[item.kind].checks if one.judged_by == check.name)
    read = fellows_of(item.kind, of.name, facts, state)
    left = [name for name in every if name.startswith(f"{item.kind}:") and name not in read]
    if left or item.id not in read or len(read) < LEAST:
        names = ", ".join(name.partition(":")[2] for name in left[:9])
        said = f"It takes the {of.label.lower()} of all, run together"
        return None, f"{said}; still to read: {names}." if names else f"{said}."
    mine = read[item.id]
    values = {name: float(taken.reading.value or 0) for name, taken in read.items()}
    mean, n = fmean(values.values()), len(values)
    if not mean:
        return None, "Nothing came through any of them."
    away = values[item.id] - mean
    variance = sum(
        _band(taken, facts).standard_uncertainty ** 2
        * ((n - 1) / n if name == item.id else 1 / n) ** 2
        for name, taken in read.items()
    )
    value, u = abs(away) / mean * _WHOLE, sqrt(variance) / mean * _WHOLE
    assert of.quantity is not None
    words = (
        f"{show(values[item.id], of.quantity)}, {'under' if away < 0 else 'over'} the mean of {n}, "
        f"{show(round(mean), of.quantity)}"
    )
    return Pair(
        round(value), Band("normal", value, value - 2 * u, value + 2 * u, u=u), mine, words
    ), ""


@dataclass(frozen=True, slots=True)
class Odd:
    """The part that Grubbs' test names, with the figure that it names it by."""

    item: str
    taken: Taken
    test: Grubbs
    n: int


def odd_of(check: Check, read: Mapping[str, Taken], facts: JobFacts) -> Odd | None:
    """The odd one of figures that were read together; None where there is none that a meter can tell.

    One that is no farther from the mean than its own meter may be wrong is not told apart by it.
    """
    if len(read) < LEAST:
        return None
    names = list(read)
    test = grubbs([float(read[name].reading.value or 0) for name in names], LEVEL)
    taken = read[names[test.index]]
    band = _band(taken, facts)
    if not test.is_odd or band.low <= test.mean <= band.high:
        return None
    return Odd(names[test.index], taken, test, len(names))


def _band(taken: Taken, facts: JobFacts) -> Band:
    reading = taken.reading
    return band_of(facts.meters[reading.meter], float(reading.value or 0), reading.range)
