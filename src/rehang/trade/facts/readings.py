"""Readings as they are written down: numbers, pairs, wires, grades, words and no-readings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from math import ceil, log, sqrt
from statistics import median
from types import MappingProxyType

from rehang.calc.harmonic import first_harmonic
from rehang.trade.facts.items import Check
from rehang.trade.facts.meters import Meter
from rehang.trade.terms.conversions import station_pascals
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import parse_amount, plain_minus, show, show_record

__all__ = [
    "CARRIED",
    "LARGEST_VALUE",
    "NO_READING",
    "UNPROVED",
    "Reading",
    "Unlikely",
    "read",
    "unlikely",
]

# In base steps: what a whole number of the store holds, far above anything that is read.
LARGEST_VALUE = 2**63 - 1
# What a meter may say that is not a number, and how each is written.
NO_READING = {
    "ol": "ol",
    "open": "ol",
    "short": "short",
    "unstable": "unstable",
    "jumping": "unstable",
    "not taken": "not taken",
    "not read": "not taken",
    "-": "not taken",
}
# A number off a meter of which nobody knows what it is good to: kept as written, and no reading.
UNPROVED = "unproved"
# How the dial stood round a turn: what comes once a turn is then how it was set up.
CARRIED = "carried round"
STATE_WORDS = {
    "ol": "OL",
    "short": "short",
    "unstable": "unstable",
    "not taken": "not read",
}


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading, understood. ``value`` is in base steps of the check's quantity.

    ``between`` are the wires that go and do not go; ``figures`` all the numbers that were
    keyed (two ground electrodes, or those round a turn); ``state`` a no-reading; ``word`` a grade or a word button;
    ``supply`` the pressure fed in (74/80) or the speed a drop was taken from (1,700/1,625);
    ``conditions`` what was written down with it; ``unproved`` what the meter showed, in base
    steps, where nobody knows what it is good to: told, and judged by nothing.
    """

    check: str
    written: str
    value: int | None = None
    between: tuple[int, int] | None = None
    figures: tuple[int, ...] = ()
    state: str = ""
    word: str = ""
    meter: str = ""
    range: str = ""
    at_psi: int | None = None
    supply: int | None = None
    conditions: Mapping[str, str] = field(default_factory=dict)
    unproved: int | None = None

    def text(self, check: Check, *, record: bool = False) -> str:
        """As shown: ``1.18 kΩ``, ``18 thou``, ``OL``, ``steady``."""
        value = self.value
        if self.state == UNPROVED:
            value = self.unproved
            if value is None:
                return self.written
        elif self.state:
            return STATE_WORDS[self.state]
        if self.word:
            return self.word
        assert check.quantity is not None and value is not None
        shown = (show_record if record else show)(value, check.quantity)
        if self.supply is not None:
            number, _, unit = shown.rpartition(" ")
            if check.method in ("drop", "rise"):
                return f"{shown}, from {self.supply:,}"
            return f"{number}/{self.supply} {unit}"
        return shown


def read(
    check: Check,
    written: str,
    meter: Meter | None = None,
    range_name: str = "",
    at_psi: int | None = None,
    where: str = "",
    conditions: Mapping[str, str] | None = None,
) -> Reading:
    """Understand what was written for a check, or refuse it with a sentence."""
    reading = _read(check, written, meter, range_name, at_psi, where)
    if meter is not None and meter.accuracy_not_known:
        reading = _unproved(check, reading)
    if not conditions:
        return reading
    _check_conditions(check, conditions, where)
    if check.points and reading.figures and conditions.get("dial") == CARRIED:
        # A whole step up, so that rounding makes nothing better than it was read.
        reading = replace(reading, value=ceil(first_harmonic(reading.figures).left_span - 1e-9))
    return replace(reading, conditions=MappingProxyType(dict(conditions)))


def _unproved(check: Check, reading: Reading) -> Reading:
    """What was measured on a meter of unknown accuracy: any value may be the true one (DESIGN 4)."""
    if check.kind != "measure" or reading.word or reading.state in ("not taken", "unstable"):
        return reading
    # With the supply, a drop or a pair it is told as it was written.
    told = reading.value if reading.supply is None else None
    return replace(
        reading,
        value=None, between=None, figures=(), supply=None, state=UNPROVED, unproved=told,
    )  # fmt: skip


def _check_conditions(check: Check, conditions: Mapping[str, str], where: str) -> None:
    for name, given in conditions.items():
        if name not in check.asks:
            known = ", ".join(check.asks) or "nothing"
            raise BadInput(
                f'{check.label} has nothing called "{name}" written with it; it has {known}.', where
            )
        words = check.asks[name]
        if name == "station":
            station_pascals(given, where)
        if words and given not in words:
            raise BadInput(f'"{name}" is "{given}"; it is one of {", ".join(words)}.', where)


def _read(
    check: Check,
    written: str,
    meter: Meter | None,
    range_name: str,
    at_psi: int | None,
    where: str,
) -> Reading:
    text = plain_minus(written.strip())
    low = text.lower()
    meter_id = meter.id if meter else ""
    if not text:
        raise BadInput(f"Nothing was written for {check.label.lower()}.", where)
    if low in NO_READING and check.kind != "look":
        state = NO_READING[low]
        if state in ("ol", "short") and check.kind == "grade":
            raise BadInput(
                f'"{text}" is no answer to {check.label.lower()}. Say {_choices(check)}.',
                where,
            )
        if state in ("ol", "short", "unstable"):
            _need_meter(check, meter, where)
        if meter is not None and state != "not taken":
            range_name = _range_name(meter, range_name, where)
        return Reading(check.name, text, state=state, meter=meter_id, range=range_name)
    for choice in check.choices:
        if low in (choice.word.lower(), choice.letter.lower()):
            if check.kind == "grade" and not check.by_eye:
                _need_meter(check, meter, where)
            between = (
                (choice.low, choice.high)
                if choice.low is not None and choice.high is not None
                else None
            )
            return Reading(
                check.name, text, word=choice.word, between=between, meter=meter_id, at_psi=at_psi
            )
    if check.kind == "grade":
        raise BadInput(
            f'"{text}" is no answer to {check.label.lower()}. Say {_choices(check)}.', where
        )
    if check.kind == "look":
        raise BadInput(
            f"{check.label} is not a reading. Write what was seen as a finding word.", where
        )
    return _number(check, text, meter, range_name, where)


def _number(check: Check, text: str, meter: Meter | None, range_name: str, where: str) -> Reading:
    quantity = check.quantity
    assert quantity is not None
    meter = _need_meter(check, meter, where)
    if meter.quantity is not quantity:
        raise BadInput(
            f"{meter.id} does not measure {quantity.name}"
            + (f"; it measures {meter.quantity.name}." if meter.quantity else "."),
            where,
        )
    range_name = _range_name(meter, range_name, where)
    if check.points:
        return _round_a_turn(check, text, meter, range_name, where)
    one = meter.range(range_name, where)
    body, unit = _split_unit(text)
    bare = meter.keyed or quantity.keyed

    def amount(number: str) -> int:
        # A needle's scale is read off and multiplied by the range.
        times = one.factor if one is not None else Decimal(1)
        amount_text = f"{number} {unit}".strip()
        value = parse_amount(amount_text, quantity, bare_unit=bare, times=times, where=where)
        if value < 0:
            raise BadInput(f'"{text}" is below zero. {check.label} cannot be.', where)
        return value

    between = None
    supply = None
    if "/" in body and check.method == "compression":
        held_text, _, fed_text = body.partition("/")
        held, supply = amount(held_text), amount(fed_text)
        if held > supply:
            raise BadInput(
                f'"{text}" reads more than was fed in. Write what the cylinder held, then the '
                "supply, as in 74/80.",
                where,
            )
        figures: tuple[int, ...] = (held,)
    elif check.method == "compression":
        raise BadInput(
            f'"{text}" gives no supply. Write what the cylinder held and the supply, as in 74/80.',
            where,
        )
    elif "/" in body and check.method in ("drop", "rise"):
        from_text, _, to_text = body.partition("/")
        before, after = amount(from_text), amount(to_text)
        change = before - after if check.method == "drop" else after - before
        if change < 0:
            raise BadInput(
                f'"{text}" is no {check.method}: it goes from {before} to {after} rpm. Write the '
                "speed before, then the speed after; where nothing changed, the same twice.",
                where,
            )
        figures, supply = (change,), before
    elif "/" in body:
        goes_text, _, stays_text = body.partition("/")
        if not meter.way.goes_between:
            raise BadInput(
                f'"{text}" states two wires, but {meter.id} is not a set of wires.', where
            )
        goes, stays = amount(goes_text), amount(stays_text)
        # DESIGN 4a, 7: 18/20 says that 18 goes and 20 does not.
        if goes >= stays:
            raise BadInput(
                f'"{text}" says the thicker wire goes and the thinner does not. '
                "Write the wire that goes first.",
                where,
            )
        figures = (goes,)
        between = (goes, stays)
    elif "+" in body.lstrip("+"):
        if not check.two_figures:
            raise BadInput(f'"{text}" has two figures; {check.label.lower()} takes one.', where)
        figures = tuple(amount(part) for part in body.split("+"))
        if len(figures) != 2:
            raise BadInput(f'"{text}" has more than two figures.', where)
    else:
        figures = (amount(body),)
    # DESIGN 4a, 7: of two ground electrodes the wider gap is kept.
    value = max(figures)
    # DESIGN 4a, 5: over range is OL with its range, never a number.
    if one is not None and one.top is not None and value > one.top:
        raise BadInput(
            f"{show(value, quantity)} is beyond the top of {meter.id}'s {one.name} range "
            f"({show(one.top, quantity)}). Key OL, or say which range was used.",
            where,
        )
    for one_value in (*figures, *([supply] if supply is not None else [])):
        if meter.highest is not None and not meter.lowest <= one_value <= meter.highest:
            raise BadInput(
                f"{show(one_value, quantity)} is outside what {meter.id} reads "
                f"({show(meter.lowest, quantity)} to {show(meter.highest, quantity)}).",
                where,
            )
    # Shares are kept in tenths of a per cent.
    if quantity.name == "share" and value > 1000:
        raise BadInput(f'"{text}" is more than 100 % of a new one.', where)
    return Reading(
        check.name,
        text,
        value=value,
        between=between,
        figures=figures,
        meter=meter.id,
        range=range_name,
        supply=supply,
    )


def _round_a_turn(check: Check, text: str, meter: Meter, range_name: str, where: str) -> Reading:
    """Figures evenly round a turn, a space between: what is judged is how far they range."""
    assert check.quantity is not None
    *numbers, last = text.split()
    if last[-1].isdigit():
        numbers, unit = [*numbers, last], meter.keyed or check.quantity.keyed
    else:
        unit = last
    if len(numbers) != check.points:
        raise BadInput(
            f"{check.label} takes {check.points} figures, a space between, from the mark on in the "
            f'running direction: "{text}" has {len(numbers)}.',
            where,
        )
    # Each with its unit: without one a figure below 1 would be inches.
    figures = tuple(parse_amount(f"{one} {unit}", check.quantity, where=where) for one in numbers)
    return Reading(
        check.name,
        text,
        value=max(figures) - min(figures),
        figures=figures,
        meter=meter.id,
        range=range_name,
    )


def _split_unit(text: str) -> tuple[str, str]:
    index = len(text)
    for place, char in enumerate(text):
        if not (char.isdigit() or char in ".,+/- "):
            index = place
            break
    return text[:index].strip().replace(" ", ""), text[index:].strip()


def _need_meter(check: Check, meter: Meter | None, where: str) -> Meter:
    if meter is None:
        raise BadInput(
            f"{check.label} was written without a meter. Say which meter was used.", where
        )
    return meter


def _range_name(meter: Meter, range_name: str, where: str) -> str:
    one = meter.range(range_name, where)
    return one.name if one else ""


def _choices(check: Check) -> str:
    words = [choice.word for choice in check.choices]
    return ", ".join(words[:-1]) + f" or {words[-1]}" if len(words) > 1 else "".join(words)


@dataclass(frozen=True, slots=True)
class Unlikely:
    """A number that looks like a slip: why, and the shifted value that would fit."""

    sentence: str
    shifted: int | None


def unlikely(check: Check, value: int, others: list[int]) -> Unlikely | None:
    """Whether a value looks ten times out: beyond what is believable, or far from its fellows.

    ``others`` are the same check's values on the other items of the tray. The value is kept
    as keyed unless the person says otherwise; nothing is guessed.
    """
    assert check.quantity is not None
    reason = ""
    if check.believable and not check.believable[0] <= value <= check.believable[1]:
        reason = "It is outside what is usual for any part of this kind."
    # Of fewer nobody can say which one is the slip.
    elif len(others) >= 3:
        middle = median(others)
        if value > middle * check.unlikely_factor or value * check.unlikely_factor < middle:
            reason = f"The others are about {show(middle, check.quantity)}."
    if not reason:
        return None
    return Unlikely(reason, _shifted(check, value, others))


def _shifted(check: Check, value: int, others: list[int]) -> int | None:
    """The value with its decimal point moved that lies nearest to what is usual."""
    fits = []
    for factor in (10, 100, 1000):
        for candidate in ([value // factor] if value % factor == 0 else []) + [value * factor]:
            if check.believable and not check.believable[0] <= candidate <= check.believable[1]:
                continue
            fits.append(candidate)
    if len(others) >= 3:
        middle = float(median(others))
        fits = [
            one
            for one in fits
            if one <= middle * check.unlikely_factor and one * check.unlikely_factor >= middle
        ]
    elif check.believable:
        # With no fellows to go by, the middle of the believable span on a log scale.
        middle = sqrt(max(check.believable[0], 1) * check.believable[1])
    else:
        middle = float(value)
    # By ratio and not by difference, as a slipped point is a factor; of nothing there is no ratio.
    ratios = [one for one in fits if one > 0 and middle > 0]
    return min(ratios, key=lambda one: abs(log(one / middle)), default=None)
