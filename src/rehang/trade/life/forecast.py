"""Whether parts last until the engine is opened again: odds from how each part and its set wore.

Every number rests on what docs/explanation/forecasts.md says it assumes. The trend of a part is
fitted with those of its fellows (see :mod:`rehang.calc.wear`), so a part with two readings borrows
what it lacks. An open circuit or a drop is an end and no number, and has no forecast.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from rehang.calc import wear
from rehang.trade.facts.items import Check
from rehang.trade.facts.limits import Limit, limit_for
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import item_kind
from rehang.trade.life.alarms import Alarm, alarms_of
from rehang.trade.life.fits import (
    Key,
    Lender,
    SetFit,
    as_read,
    bounds_of,
    by_meter,
    is_electrode,
    is_leak,
    set_fits,
    value_of,
)
from rehang.trade.life.history import items_of
from rehang.trade.life.next_opening import Opening, next_opening
from rehang.trade.life.story_values import OIL, Point, Series, engine_hours
from rehang.trade.telling.sentences import item_as_said
from rehang.trade.terms.kinds.items import Spoilt, UnknownHistory
from rehang.trade.terms.quantities import about, number_and_unit, show
from rehang.trade.terms.wording import lower_first, on_day, upper_first

__all__ = [
    "HORIZON",
    "SET_ANEW",
    "Forecasts",
    "Outlook",
    "chance_words",
    "check_of",
    "forecasts",
    "span_words",
    "start_of",
]

# Nobody plans a part farther ahead than half an overhaul: common practice, no source.
HORIZON = 1000.0
# Said beside the odds of a check that is put right at each service.
SET_ANEW = "It is set anew at each service: being out then does not end it, and keep or renew leaves it out."
# Past its limit more likely than not: then at most half of those warned of would have lasted.
LIKELY_OUT = 0.5


@dataclass(frozen=True, slots=True)
class Outlook:
    """What one check of one item comes to at the next opening. Amounts in base steps.

    ``standing`` is ``forecast``, ``failed`` (found open), ``ended`` (dropped, or its history is
    not known) or ``unknown`` (too little is known; ``sentence`` says what). ``low80`` and
    ``high80`` hold the true value 80 times in 100. ``chance_inside`` is that of the true value
    being within the limit then; None where there is no limit. ``hours_5`` and ``hours_50`` are
    how many hours from now a value beyond it is that likely in 100; None when not within the
    horizon. ``set_to`` is what it is set to at this service, where the forecast starts from that.
    ``span_text`` is that span, ``likely_text`` the same in round figures.
    ``ends_it`` says that it is not set anew at each service, so that its limit ends the part.
    ``no_odds`` says what is wrong with the item; then no chance is given (DESIGN 4b.10), and the
    span is only where its trend points.
    """

    item: str
    check: str
    label: str
    standing: str
    sentence: str
    now: float | None
    now_text: str
    opening: Opening
    hours_ahead: float
    middle: float | None
    low80: float | None
    high80: float | None
    likely_text: str
    span_text: str
    chance_inside: float | None
    hours_5: float | None
    hours_50: float | None
    lower: float | None
    upper: float | None
    limit_words: str
    limit_source: str
    set_to: float | None
    ends_it: bool
    quickening: bool
    assumptions: tuple[str, ...]
    no_odds: str = ""

    @property
    def chance_out(self) -> float | None:
        return None if self.chance_inside is None else 1.0 - self.chance_inside


@dataclass(frozen=True, slots=True)
class Forecasts:
    """Every outlook of a job, and the fits they were drawn from."""

    opening: Opening
    outlooks: tuple[Outlook, ...]
    fits: Mapping[Key, SetFit]

    def of(self, item: str, check: str = "") -> tuple[Outlook, ...]:
        """The outlooks of an item, or of one check of it."""
        return tuple(one for one in self.outlooks if one.item == item and check in ("", one.check))


# The outlooks


def forecasts(
    judged: JudgedJob,
    others: Sequence[JudgedJob] = (),
    *,
    fleet: Sequence[JudgedJob | Lender] = (),
    until: date | None = None,
    fits: Mapping[Key, SetFit] | None = None,
) -> Forecasts:
    """Every measured check of every item of a job, at the next opening.

    Parameters
    ----------
    judged, others, fleet, until
        As in :func:`set_fits`.
    fits
        What :func:`set_fits` has found already.
    """
    opening = next_opening(judged)
    if fits is None:
        fits = set_fits(judged, others, fleet=fleet, until=until)
    judged_items = {one.item for one in judged.items} | {OIL}
    outlooks = [
        _outlook(judged, one, series, opening, until)
        for one in fits.values()
        for series in one.series.values()
        if series.item in judged_items
    ]
    order = {item: place for place, item in enumerate(items_of(judged))}
    outlooks.sort(key=lambda one: order[one.item])
    alarms = [alarm for one in fits.values() for alarm in alarms_of(one)]
    for item in judged_items - {OIL}:
        own = [one for one in outlooks if one.item == item]
        # A verdict and a finding of today say nothing of what was to be expected then.
        wrong = _wrong(judged, item) if until is None else ""
        if not any(one.ends_it and (one.chance_out or 0.0) > LIKELY_OUT for one in own):
            # Where the trend itself is past its limit by then, the odds warn and stay.
            wrong = wrong or _stands_out([a for a in alarms if a.item == item], fits)
        if wrong:
            outlooks = [_without_odds(o, wrong) if o.item == item else o for o in outlooks]
    return Forecasts(opening, tuple(outlooks), fits)


@dataclass(frozen=True, slots=True)
class _Start:
    """Where a forecast begins: hours from the last reading to now, and what it is set to now.

    ``done`` says the setting, as in ``re-gapped to 17 thou``.
    """

    since_last: float
    set_to: float | None
    set_variance: float
    said: tuple[str, ...] = field(default=())
    done: str = ""


def _outlook(
    judged: JudgedJob, fit: SetFit, series: Series, opening: Opening, until: date | None
) -> Outlook:
    live = [p for p in series.points if p.counts or p.opened]
    last = live[-1]
    check = check_of(judged, series)
    blank = Outlook(
        item=series.item,
        check=series.check,
        label=series.label,
        standing="unknown",
        sentence="",
        now=last.value,
        now_text=last.text,
        opening=opening,
        hours_ahead=opening.hours,
        middle=None,
        low80=None,
        high80=None,
        likely_text="",
        span_text="",
        chance_inside=None,
        hours_5=None,
        hours_50=None,
        lower=series.lower,
        upper=series.upper,
        limit_words=series.limit_words,
        limit_source=series.limit_source,
        set_to=None,
        ends_it=series.item != OIL and _setting(judged, series, check) is None,
        quickening=fit.quickening,
        assumptions=(),
    )
    if series.opened is not None:
        return replace(
            blank,
            standing="failed",
            chance_inside=0.0,
            hours_5=0.0,
            hours_50=0.0,
            sentence=f"{series.label} was found open on {on_day(last.on)}: that is an end, "
            "and no number to carry on from.",
        )
    ended = [
        e for e in judged.state.items[series.item].ended if until is None or e.at.date() <= until
    ]
    if ended:
        return replace(blank, standing="ended", sentence=_ended_words(ended[-1].fields, series))
    name = item_as_said(series.item)
    if series.item in fit.left_out:
        return replace(blank, sentence=fit.left_out[series.item])
    growth = fit.growth
    if growth is None:
        return replace(blank, sentence=fit.why)
    if series.item not in growth.parts:
        return replace(blank, sentence=f"{series.label} of {name} has no number to go by yet.")
    if not growth.known:
        return replace(
            blank,
            sentence=f"{series.label} of {name} was read at one opening only, and so were its "
            "fellows: how fast it wears shows at the next.",
        )
    start = start_of(judged, series, last, check, until)
    return _forecast(blank, growth, fit, series, start)


def check_of(judged: JudgedJob, series: Series) -> Check | None:
    sheet = judged.facts.sheets.get(item_kind(series.item))
    if sheet is None:
        return None
    return next((check for check in sheet.checks if check.name == series.check), None)


def _ended_words(told: Spoilt, series: Series) -> str:
    name = item_as_said(series.item)
    if isinstance(told, UnknownHistory):
        return f"The history of {name} is not known: nothing says how it will last."
    return f"{name} was {told.became}: what was read before no longer says how it will last."


def start_of(
    judged: JudgedJob, series: Series, last: Point, check: Check | None, until: date | None
) -> _Start:
    """From what it is now, or from what it is set to at this service."""
    since = 0.0
    if until is None and last.hours is not None and last.job == judged.facts.job:
        now = (
            judged.state.items[series.item].hours
            if series.clock == "part"
            else engine_hours(judged)
        )
        since = max(now - last.hours, 0.0) if now is not None else 0.0
    aim = _setting(judged, series, check)
    if aim is None or check is None or check.quantity is None:
        return _Start(since, None, 0.0)
    if last.left and since == 0:
        # Just set and read: known as well as its meter knows it, whatever the fit would make of it.
        return _Start(since, value_of(series, last), by_meter(series, last, last.variance))
    kind = item_kind(series.item)
    in_service = [
        one
        for one in judged.facts.limits
        if (one.item, one.check, one.use) == (kind, check.name, "service")
    ]
    if in_service and last.value is not None and _inside(last.value, in_service[-1]):
        said = f"It goes back as found, at {last.text}: there is a limit for service of its own."
        return _Start(since, None, 0.0, (said,))
    # A wire that goes says "this or a little more": the setting is taken as it is checked.
    meter = judged.facts.meters.get(last.meter)
    step = meter.step if meter is not None and meter.way.goes_between else 0.0
    rework = judged.facts.sheets[kind].reworks.get(check.rework_act)
    done = f"{rework.done if rework else 'set'} to {show(aim, check.quantity)}"
    said = f"It is {done} at this service"
    if not in_service:
        said += ", as there is no limit for service of its own"
    variance = step**2 / 12 if step else by_meter(series, last, last.variance)
    return _Start(0.0, aim + step / 2, variance, (f"{said}.",), done)


def _setting(judged: JudgedJob, series: Series, check: Check | None) -> float | None:
    """What a check is set to at each service: the aim on file, or what it was set to before."""
    if check is None or not check.rework_act:
        return None
    limit = limit_for(judged.facts.limits, item_kind(series.item), check.name, "setting")
    if limit is not None and limit.aim is not None:
        return float(limit.aim)
    set_before = [p.value for p in series.trend if p.left and p.value is not None]
    return float(set_before[-1]) if set_before else None


def _inside(value: float, limit: Limit) -> bool:
    return (limit.lower is None or value >= limit.lower) and (
        limit.upper is None or value <= limit.upper
    )


def _forecast(
    blank: Outlook, growth: wear.Growth, fit: SetFit, series: Series, start: _Start
) -> Outlook:
    hours = start.since_last + blank.opening.hours
    found = growth.at(
        series.item,
        hours,
        strays=False,
        set_to=start.set_to,
        set_variance=start.set_variance,
    )
    low, high = found.interval(0.8)
    shown = [as_read(series, value) for value in (found.median, low, high)]
    middle, ends = shown[0], sorted(shown[1:])
    chance: float | None = None
    hours_5 = hours_50 = None
    lower, upper = bounds_of(series)
    if lower is not None or upper is not None:
        below = found.chance_below(upper) if upper is not None else 1.0
        chance = below - (found.chance_below(lower) if lower is not None else 0.0)
        chance = min(max(chance, 0.0), 1.0)
        hours_5 = _until_out(growth, series, start, lower, upper, 0.05)
        hours_50 = _until_out(growth, series, start, lower, upper, 0.5)
    outlook = replace(
        blank,
        standing="forecast",
        hours_ahead=hours,
        middle=middle,
        low80=ends[0],
        high80=ends[1],
        likely_text=_likely(series, *ends),
        span_text=span_words(series, ends[0], ends[1]),
        chance_inside=chance,
        hours_5=hours_5,
        hours_50=hours_50,
        set_to=start.set_to if start.done else None,
        assumptions=_assumptions(fit, growth, series, start),
    )
    full = f"At the next opening {outlook.span_text}, 80 times in 100."
    return replace(
        outlook,
        sentence=_sentence(outlook, series, start.done),
        assumptions=(full, *outlook.assumptions),
    )


def _until_out(
    growth: wear.Growth,
    series: Series,
    start: _Start,
    lower: float | None,
    upper: float | None,
    chance: float,
) -> float | None:
    """Hours from now until a value beyond a limit is this likely."""
    # Wear goes one way, so the limit it goes towards is the one that counts.
    rising = series.way.direction != "down" and upper is not None
    limit = upper if rising else lower
    if limit is None:
        return None
    reached = growth.hours_until(
        series.item,
        limit,
        chance,
        side="above" if rising else "below",
        horizon=HORIZON + start.since_last,
        strays=False,
        set_to=start.set_to,
        set_variance=start.set_variance,
    )
    return None if reached is None else round(max(reached - start.since_last, 0.0), 1)


def span_words(series: Series, low: float, high: float) -> str:
    if series.quantity is None:
        return f"{low:.1f} to {high:.1f} {series.unit}"
    number, _ = number_and_unit(low, series.quantity)
    return f"{number} to {series.show(high)}"


def _likely(series: Series, low: float, high: float) -> str:
    """A span to what its ends are worth: "16 to 24 kΩ"."""
    if series.quantity is None:
        return f"{about(low)} to {about(high)} {series.unit}"
    step = float(series.quantity.units[series.quantity.keyed])
    _, unit = number_and_unit(high, series.quantity)
    return f"{about(low / step)} to {about(high / step)} {unit}"


def _assumptions(
    fit: SetFit, growth: wear.Growth, series: Series, start: _Start
) -> tuple[str, ...]:
    own = len({p.hours for p in series.trend})
    fellows = len(growth.parts) - 1
    if fellows:
        by = f"{own} {'opening' if own == 1 else 'openings'} of its own and {fellows} fellows"
    else:
        by = f"{own} {'opening' if own == 1 else 'openings'} of its own"
    said = [f"Drawn from {by}.", _lent_words(fit.lent)]
    if is_leak(series):
        said.append("Followed as the area of the leak, and shown as what the tester would read.")
    if fit.quickening:
        said.append(
            "Its rate may quicken: that foretold the last opening better than a steady one."
        )
    if is_electrode(series):
        said.append("A new one has all of its electrode, by what per cent left means.")
    if series.floor:
        said.append("The next master reading is not known; the last one is taken for it.")
    return (*said, *start.said, *growth.notes)


def _lent_words(engines: int) -> str:
    if not engines:
        return "No other engine is counted: it is drawn from the jobs of this one alone."
    who = (
        "1 other engine lends what it says"
        if engines == 1
        else f"{engines} other engines lend what they say"
    )
    return f"{who} of rates and scatter: drawn from this engine alone it would come out otherwise."


def _sentence(one: Outlook, series: Series, done: str) -> str:
    now = f"{one.label} {one.now_text} now"
    if series.item == OIL:
        now = f"{one.label}: {series.show(one.now)} now" if one.now is not None else one.label
    then = f"next opening ({one.opening.hours:.0f} h) likely {one.likely_text}"
    sentence = f"{now}. At {then}"
    if done:
        sentence = f"{one.label} found at {one.now_text}. {upper_first(done)} now, at {then}"
    if one.chance_inside is None:
        return f"{sentence}."
    sentence += f", inside the limit ({one.limit_words}) {chance_words(one.chance_inside)}."
    if one.hours_50 is not None and one.hours_50 < 0.5:
        sentence += " By its trend it is more likely out than in already."
    elif one.hours_50 is not None and one.hours_50 <= one.opening.hours:
        sentence += f" It is as likely out as in after {one.hours_50:.0f} h."
    elif one.hours_5 is not None:
        sentence += f" One time in 20 it is out within {one.hours_5:.0f} h."
    return sentence


def chance_words(p: float) -> str:
    """A forecast's chance in words. It claims no more than a few openings can carry.

    >>> chance_words(0.31), chance_words(0.9999)
    ('31 times in 100', 'more than 99 times in 100')
    """
    if p > 0.99:
        return "more than 99 times in 100"
    if p < 0.01:
        return "less than 1 time in 100"
    times = f"{p * 100:.0f}"
    return f"{times} {'time' if times == '1' else 'times'} in 100"


# No odds where something is wrong (DESIGN 4b.10)


def _wrong(judged: JudgedJob, item: str) -> str:
    """The open findings of severity 2 or more, and what sets an item apart; empty where none."""
    verdict = judged.item(item)
    found = [
        f"{lower_first(one.label)} is not settled"
        for one in verdict.findings
        if one.is_open and one.severity >= 2
    ]
    if verdict.flag:
        found.append("it is the odd one out of its fellows")
    return _no_odds(item, found)


def _no_odds(item: str, why: Sequence[str]) -> str:
    if not why:
        return ""
    return f"No odds are given for {item_as_said(item)}: {'; '.join(why)}. {_NOT_BY_LIMIT}"


_NOT_BY_LIMIT = "Such faults do not fail by crossing the limit: find out what it is first."
_STANDS_OUT = {
    "jump": "jumped against its own history",
    "rises": "is worse at each of the last openings",
    "apart": "is apart from its fellows",
}


def _stands_out(alarms: Sequence[Alarm], fits: Mapping[Key, SetFit]) -> str:
    """What the warnings about one item say, in few words; empty where there are none."""
    found: list[str] = []
    for one in alarms:
        label = fits[item_kind(one.item), one.check].series[one.item].label.lower()
        found.append(f"its {label} {_STANDS_OUT[one.kind]}")
    return _no_odds(alarms[0].item, found) if alarms else ""


def _without_odds(one: Outlook, wrong: str) -> Outlook:
    """Where the trend points, without a chance: what is open or dropped stays an end."""
    if one.standing != "forecast":
        return one
    sentence = f"{one.label} {one.now_text} now; its trend points to {one.likely_text} "
    return replace(
        one,
        sentence=f"{sentence}at next opening ({one.opening.hours:.0f} h). {wrong}",
        chance_inside=None,
        hours_5=None,
        hours_50=None,
        no_odds=wrong,
    )
