"""Rows ready to show for the tray, why and close call: no rule is decided here.

Everything a template or the pad's script needs is worked out from a judged job, so that
templates hold no arithmetic and the script asks nothing twice.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any
from urllib.parse import unquote
from zoneinfo import ZoneInfo

from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import Limit, limit_for, limit_words
from rehang.trade.facts.lines import Line
from rehang.trade.facts.meters import Band, Meter, MeterRange, describe_band
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.meter_choice import meters_for_check
from rehang.trade.life.history import Point, Story
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.quantities import Quantity, format_number, show
from rehang.trade.terms.wording import on_day, whole, written_day
from rehang.trade.verdicts.meter_calls import per_hundred
from rehang.trade.verdicts.verdict import Call, ItemVerdict, better_meters, trend

__all__ = [
    "Chosen",
    "TrayPage",
    "WhyTag",
    "chosen_meters",
    "meter_choices",
    "pad_data",
    "status_of",
    "tray_page",
    "why_tag",
]

PLUG = "plug"
# Nine large words and one key for the rest fill the pad at 360 x 640 with keys of 56 px.
WORDS_ON_FIRST_FACE = 9
UNIT_SHOWN = {"kohm": "kΩ", "ohm": "Ω", "deg": "°"}
ENDED_WORDS = {
    "dropped": "dropped",
    "overheated": "overheated",
    "unknown_history": "no history",
}


def status_of(call: str) -> str:
    """The mark's name for a call or a verdict: ``close-call``."""
    return call.lower().replace(" ", "-")


def short_label(check: Check) -> str:
    """The check's name where there is room for one word."""
    if check.quantity is not None and check.quantity.name == "resistance":
        return "Ohms"
    return check.label.split(",")[0].split()[0]


def unit_shown(unit: str) -> str:
    return UNIT_SHOWN.get(unit, unit)


def day_text(when: datetime, zone: ZoneInfo) -> str:
    """``14 Oct 2026`` in the job's time zone."""
    return on_day(when.astimezone(zone))


# Meters chosen for each check


@dataclass(frozen=True, slots=True)
class Chosen:
    """The meter in hand for a check, its range and, for a spark, the pressure set."""

    meter: str = ""
    range: str = ""
    psi: int | None = None


def chosen_meters(judged: JudgedJob, cookie: str = "") -> dict[str, Chosen]:
    """The meter in hand for each check: chosen on this device, else last used; else to choose.

    ``cookie`` is ``check:meter:range:psi`` for each check, joined by semicolons, quoted.
    """
    sheet = judged.facts.sheets[PLUG]
    found: dict[str, Chosen] = {}
    for entry in judged.state.live():
        if entry.kind == "reading" and entry.get("meter") and entry.item.startswith(f"{PLUG}:"):
            found[entry.get("check")] = Chosen(
                entry.get("meter"), entry.get("range"), entry.get("at_psi", None)
            )
    for part in unquote(cookie).split(";"):
        fields = part.split(":")
        if len(fields) != 4:
            continue
        check_name, meter, name, psi = fields
        found[check_name] = Chosen(meter, name, whole(psi))
    for check in sheet.checks:
        offers = meter_offers(check, judged)
        one = found.get(check.name)
        fits = one is not None and any(
            o.meter.id == one.meter and o.range_name == one.range for o in offers
        )
        if not fits:
            found.pop(check.name, None)
    return found


@dataclass(frozen=True, slots=True)
class MeterOffer:
    """One meter and range that can answer a check."""

    meter: Meter
    range_name: str
    one: MeterRange | None


def meter_offers(check: Check, judged: JudgedJob) -> list[MeterOffer]:
    """Meters on file that can answer a check, with each of their ranges."""
    return [
        MeterOffer(meter, one.name if one else "", one)
        for meter in meters_for_check(check, judged.facts, judged.state)
        for one in meter.ranges or (None,)
    ]


@dataclass(frozen=True, slots=True)
class MeterChoice:
    """One button of the meter's list: its key for the form and what it says."""

    key: str
    words: str
    small: str


def meter_choices(judged: JudgedJob, check_name: str) -> tuple[MeterChoice, ...]:
    """The meters that can answer a check, ready for a form."""
    check = judged.facts.sheets[PLUG].check(check_name)
    return tuple(
        MeterChoice(
            f"{o.meter.id}|{o.range_name}",
            f"{o.meter.id} {o.range_name}".strip(),
            f"{o.meter.name}, {o.meter.worth}" if o.meter.worth else o.meter.name,
        )
        for o in meter_offers(check, judged)
    )


# The scale: limit marks and a pointer along a line


@dataclass(frozen=True, slots=True)
class Mark:
    """A place along a scale, as a share of its width, with what is written there."""

    at: str
    label: str = ""
    anchor: str = "middle"


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight scale from ``low`` to ``high`` base steps with its limits."""

    low: int
    high: int
    ticks: tuple[str, ...]
    limits: tuple[Mark, ...]
    labels: tuple[Mark, ...]
    words: str
    low_label: str
    high_label: str


# The line is inset so that its end ticks are not cut off.
INSET = 0.02


def _share(value: float, low: float, high: float) -> float:
    inside = min(max((value - low) / (high - low), 0.0), 1.0)
    return INSET + inside * (1 - 2 * INSET)


def _percent(value: float, low: float, high: float) -> str:
    return f"{_share(value, low, high) * 100:.2f}%"


def _nice_step(span: float) -> float:
    """A step of 1, 2 or 5 times a power of ten that cuts a span into about six."""
    rough = span / 6
    power = 10.0 ** math.floor(math.log10(rough))
    for factor in (1, 2, 5, 10):
        if rough <= factor * power:
            return factor * power
    return 10 * power


def scale_of(limit: Limit | None, quantity: Quantity | None) -> Scale | None:
    """The scale a reading is shown against; None without a numeric limit."""
    if limit is None or quantity is None:
        return None
    bounds = [float(b) for b in (limit.lower, limit.upper) if b is not None]
    if not bounds or max(bounds) <= 0:
        return None
    if len(bounds) == 2:
        room = max(bounds[1] - bounds[0], bounds[1] * 0.1) * 1.4
        low, high = max(bounds[0] - room, 0.0), bounds[1] + room
    else:
        low, high = 0.0, bounds[0] * (1.2 if limit.upper is not None else 2.0)
    step = _nice_step(high - low)
    low = math.floor(low / step) * step
    high = math.ceil(high / step - 1e-9) * step
    count = round((high - low) / step)
    first, last = _share(bounds[0], low, high), _share(bounds[-1], low, high)
    number = _number_text(quantity)
    labels = _limit_labels(limit, bounds, first, last, number)
    return Scale(
        low=round(low),
        high=round(high),
        ticks=tuple(_percent(low + i * step, low, high) for i in range(count + 1)),
        limits=tuple(Mark(_percent(b, low, high)) for b in bounds),
        labels=labels,
        words=f"Limit {limit_words(limit)}",
        low_label="" if labels[0].anchor == "end" else number(low),
        high_label="" if labels[-1].anchor == "start" else number(high),
    )


# The narrowest scale drawn, on a phone of 360 px, and a letter of a wide face at 18 px.
NARROW_PX, LETTER_PX = 258, 11.5


def _limit_labels(
    limit: Limit, bounds: list[float], first: float, last: float, number: Any
) -> tuple[Mark, ...]:
    """What is written at the limits: outwards of two, on the roomier side of one."""
    left, right = f"{(first - 0.02) * 100:.2f}%", f"{(last + 0.02) * 100:.2f}%"
    if len(bounds) == 2:
        return (
            Mark(left, f"LIMIT {number(bounds[0])}", "end"),
            Mark(right, number(bounds[1]), "start"),
        )
    words = f"{number(bounds[0])} or {'less' if limit.upper is not None else 'more'}"
    room = max(first, 1 - last) * NARROW_PX
    if LETTER_PX * len(f"LIMIT {words}") <= room:
        words = f"LIMIT {words}"
    return (Mark(left, words, "end") if first >= 1 - last else Mark(right, words, "start"),)


def _number_text(quantity: Quantity) -> Any:
    """A function from base steps to the bare number as keyed, without a point where whole."""
    steps = quantity.units[quantity.keyed]

    def text(base: float) -> str:
        number = Decimal(repr(float(base))) / steps
        whole = number == number.to_integral_value()
        return format_number(number, 0 if whole else quantity.keyed_decimals)

    return text


# The tray


@dataclass(frozen=True, slots=True)
class CellRow:
    """What one check of one hole shows."""

    check: str
    label: str
    status: str
    text: str
    is_number: bool
    spoken: str
    is_read: bool
    is_ghost: bool = False
    is_now: bool = False


@dataclass(frozen=True, slots=True)
class HoleRow:
    """One hole: its name, what is in it, and a cell for each check."""

    hole: str
    item: str
    name: str
    ended: str
    ended_words: str
    is_now: bool
    is_why: bool
    cells: tuple[CellRow, ...]


@dataclass(frozen=True, slots=True)
class CheckRow:
    """One check in the switch: its name, and how far it has come."""

    name: str
    label: str
    short: str
    unit: str
    letter: str
    kind: str
    is_now: bool
    read: int
    total: int
    scale: Scale | None
    choices: tuple[str, ...]
    has_numbers: bool


@dataclass(frozen=True, slots=True)
class Stitch:
    """One stitch of the walking line, between two rows of the tray, in per cent of its width."""

    x1: str
    y1: str
    x2: str
    y2: str
    done: bool


@dataclass(frozen=True, slots=True)
class WordKey:
    """A finding word on the pad: the higher severity is offered first."""

    name: str
    label: str
    severities: tuple[int, ...]

    @property
    def severity(self) -> int:
        return max(self.severities)


@dataclass(frozen=True, slots=True)
class TrayPage:
    """All that the tray shows."""

    rows: tuple[tuple[HoleRow, ...], ...]
    columns: int
    checks: tuple[CheckRow, ...]
    now: CheckRow
    hole: str
    place_in_walk: str
    prop_end: str
    stitches: tuple[Stitch, ...]
    words: tuple[WordKey, ...]
    more_words: tuple[WordKey, ...]
    meter: str
    next_hole: str
    holes_in_all: int


def _cell(
    judged: JudgedJob, held: ItemVerdict | None, check: Check, hole: str, masked: bool, now: bool
) -> CellRow:
    if held is None:
        return CellRow(
            check.name, check.label, "not-read", "", False, f"{hole}, no plug", False, is_now=now
        )
    if masked:
        return CellRow(
            check.name,
            check.label,
            "not-read",
            "again",
            False,
            f"{hole} {check.label.lower()}, being read again",
            False,
            is_now=now,
        )
    call = held.call(check.name)
    assert call is not None
    is_read = call.entry is not None and call.call != "VOID"
    text, is_number = _cell_text(call, check, held, judged.facts.sheets[PLUG])
    spoken = f"{hole} {check.label.lower()}, {call.reading or 'not read'}, {call.call.lower()}"
    if call.kept_as_keyed:
        text += " k"
        spoken += ", kept as keyed"
    return CellRow(
        check.name, check.label, status_of(call.call), text, is_number, spoken, is_read, is_now=now
    )


def _cell_text(call: Call, check: Check, held: ItemVerdict, sheet: CheckSheet) -> tuple[str, bool]:
    """A call's reading in as few letters as still say it, and whether it is a number."""
    if not call.reading:
        return "", False
    if check.kind == "look":
        looks = held.state.looks
        word = call.entry.get("word") if call.entry is not None else ""
        if not word:
            here = [f.word for f in held.findings if f.label == call.reading]
            word = here[-1] if here else looks[-1].get("word") if looks else ""
        return str(word or call.reading).replace("_", " "), False
    if call.value is not None and call.quantity is not None:
        return call.reading.rsplit(" ", 1)[0], True
    if call.reading == "OL":
        return "OL", True
    return call.reading.removesuffix(" left"), False


def tray_page(
    judged: JudgedJob,
    *,
    check_name: str = "",
    hole: str = "",
    chosen: Mapping[str, Chosen] | None = None,
    again: str = "",
    why_hole: str = "",
    ghosts: Line | None = None,
) -> TrayPage:
    """The tray as it stands, at a check and a hole; where the work stopped when none is given.

    ``again`` is the reading being taken a second time: its value is left out of the page.
    ``ghosts`` is a line that is typed and not kept.
    """
    facts = judged.facts
    sheet = facts.sheets[PLUG]
    layout = facts.layout
    masked = _masked(judged, again)
    held = {h: judged.at(h) for h in layout.walk}
    names = [c.name for c in sheet.checks]
    if ghosts is not None and ghosts.check is not None:
        check_name = ghosts.check.name
        hole = _next_for_line(ghosts, layout.walk)
    check_name, hole = _where(judged, check_name, hole, names)
    shown = list(sheet.checks)
    typed = {c.hole: c for c in ghosts.cells} if ghosts else {}
    rows = []
    for line in layout.tray:
        row = []
        for name in line:
            cells = []
            for check in shown:
                here = check.name == check_name and name == hole
                cell = _cell(judged, held[name], check, name, (name, check.name) == masked, here)
                ghost = typed.get(name) if ghosts and ghosts.check is check else None
                if ghost is not None:
                    said = ghost.written or ghost.typed or "not read"
                    said = _bare(said) if check.quantity is not None else said
                    cell = CellRow(
                        check.name,
                        check.label,
                        "unlikely" if ghost.error else cell.status,
                        said,
                        check.quantity is not None and said[:1].isdigit(),
                        f"{name} {check.label.lower()}, {said}, typed and not kept",
                        cell.is_read,
                        is_ghost=True,
                    )
                cells.append(cell)
            row.append(_hole_row(judged, held[name], name, hole, why_hole, tuple(cells)))
        rows.append(tuple(row))
    by_name = {h.hole: h for r in rows for h in r}
    checks = tuple(
        _check_row(judged, c, check_name, [by_name[h] for h in layout.walk], i)
        for i, c in enumerate(sheet.checks)
    )
    now = next(c for c in checks if c.name == check_name)
    words = tuple(WordKey(w.name, w.name.replace("_", " "), w.severities) for w in sheet.look_words)
    meter = (chosen or {}).get(check_name, Chosen())
    columns = max(len(r) for r in rows)
    return TrayPage(
        rows=tuple(rows),
        columns=columns,
        checks=checks,
        now=now,
        hole=hole,
        place_in_walk=f"{layout.walk.index(hole) + 1} of {len(layout.walk)}",
        prop_end=layout.prop_end,
        stitches=_stitches(layout.tray, layout.walk, by_name, check_name),
        words=words[:WORDS_ON_FIRST_FACE],
        more_words=words[WORDS_ON_FIRST_FACE:],
        meter=meter_words(meter),
        next_hole=next_unread(by_name, layout.walk, hole, check_name),
        holes_in_all=len(layout.walk),
    )


def _bare(written: str) -> str:
    """A written number without its unit; words stay as they are."""
    head, _, tail = written.partition(" ")
    return head if head[:1].isdigit() or head[:1] == "." else f"{head} {tail}".strip()


def _next_for_line(line: Line, walk: Sequence[str]) -> str:
    typed = {c.hole for c in line.cells}
    return next((h for h in walk if h not in typed), walk[-1])


def _masked(judged: JudgedJob, again: str) -> tuple[str, str] | None:
    if not again:
        return None
    entry = judged.state.entry(again)
    held = judged.state.items.get(entry.item)
    return (held.place if held else entry.place, str(entry.get("check")))


def _where(judged: JudgedJob, check_name: str, hole: str, names: list[str]) -> tuple[str, str]:
    """The check and hole to open at: those asked for, else the stop, else the first unread."""
    walk = judged.facts.layout.walk
    stop = judged.state.stop
    asked = check_name in names or hole in walk
    if not asked and stop is not None and stop.get("check") in names and stop.place in walk:
        return str(stop.get("check")), stop.place
    unread = {name: [h for h in walk if _is_unread(judged, h, name)] for name in names}
    if check_name not in names:
        check_name = next((n for n in names if unread[n]), names[0])
    if hole not in walk:
        hole = next(iter(unread[check_name]), walk[0])
    return check_name, hole


def _is_unread(judged: JudgedJob, hole: str, check: str) -> bool:
    held = judged.at(hole)
    if held is None or held.state.ended:
        return False
    call = held.call(check)
    return call is not None and (call.entry is None or call.call == "VOID")


def next_unread(by_name: Mapping[str, HoleRow], walk: Sequence[str], hole: str, check: str) -> str:
    """The next hole of the walk, round the tray, that this check has not been read at."""
    start = walk.index(hole)
    for name in [*walk[start + 1 :], *walk[:start]]:
        row = by_name[name]
        if not row.item or row.ended:
            continue
        if not next(c for c in row.cells if c.check == check).is_read:
            return name
    return ""


def _hole_row(
    judged: JudgedJob,
    held: ItemVerdict | None,
    name: str,
    now: str,
    why_hole: str,
    cells: tuple[CellRow, ...],
) -> HoleRow:
    ended, words = "", ""
    if held is not None and held.state.ended:
        last = held.state.ended[-1]
        zone = ZoneInfo(judged.facts.timezone_name)
        ended = ENDED_WORDS[last.kind]
        local = last.at.astimezone(zone)
        words = f"{local.day} {local:%b}. Tests void."
    return HoleRow(
        hole=name,
        item=held.item if held else "",
        name=held.name if held else "",
        ended=ended,
        ended_words=words,
        is_now=name == now,
        is_why=name == why_hole,
        cells=cells,
    )


def _check_row(
    judged: JudgedJob, check: Check, now: str, holes: Sequence[HoleRow], index: int
) -> CheckRow:
    unit = ""
    if check.quantity is not None:
        unit = unit_shown(check.quantity.keyed)
    able = [h for h in holes if h.item and not h.ended]
    return CheckRow(
        name=check.name,
        label=check.label,
        short=short_label(check),
        unit=unit,
        letter=check.letter,
        kind=check.kind,
        is_now=check.name == now,
        read=sum(h.cells[index].is_read for h in able),
        total=len(able),
        scale=scale_of(_limit(judged, check), check.quantity),
        choices=tuple(c.word for c in check.choices),
        has_numbers=check.kind == "measure",
    )


def _stitches(
    tray: Sequence[Sequence[str]],
    walk: Sequence[str],
    by_name: Mapping[str, HoleRow],
    check: str,
) -> tuple[Stitch, ...]:
    """The walk drawn in the gap between two rows; other trays carry no line there."""
    if len(tray) != 2:
        return ()
    columns = max(len(row) for row in tray)
    at = {
        hole: (row, (column + 0.5) / columns * 100)
        for row, line in enumerate(tray)
        for column, hole in enumerate(line)
    }

    def read(hole: str) -> bool:
        one = by_name[hole]
        return bool(one.ended) or next(c for c in one.cells if c.check == check).is_read

    return tuple(
        Stitch(
            f"{at[a][1]:.2f}%",
            f"{at[a][0] * 100}%",
            f"{at[b][1]:.2f}%",
            f"{at[b][0] * 100}%",
            read(a) and read(b),
        )
        for a, b in itertools.pairwise(walk)
        if at[a][0] != at[b][0]
    )


def _limit(judged: JudgedJob, check: Check) -> Limit | None:
    limit = limit_for(judged.facts.limits, PLUG, check.name, "service")
    return limit if limit is not None and limit.has_source else None


def meter_words(chosen: Chosen) -> str:
    """``AN-1 on x10``, ``DM-2``, ``SB-1 at 100 psi``."""
    if not chosen.meter:
        return ""
    text = f"{chosen.meter} {chosen.range}".strip()
    return f"{text}, {chosen.psi} psi" if chosen.psi is not None else text


# What the pad's script is given


def pad_data(judged: JudgedJob, chosen: Mapping[str, Chosen], *, again: str = "") -> dict[str, Any]:
    """Everything the pad needs to key a whole set with no further question to the server."""
    facts = judged.facts
    sheet = facts.sheets[PLUG]
    return {
        "walk": list(facts.layout.walk),
        "checks": [_pad_check(judged, c, sheet) for c in sheet.checks],
        "chosen": {
            name: {"meter": c.meter, "range": c.range, "psi": c.psi} for name, c in chosen.items()
        },
        "again": again,
    }


def _pad_check(judged: JudgedJob, check: Check, sheet: CheckSheet) -> dict[str, Any]:
    facts = judged.facts
    limit = limit_for(facts.limits, PLUG, check.name, "service")
    scale = scale_of(_limit(judged, check), check.quantity)
    words = check.kind == "look"
    data: dict[str, Any] = {
        "name": check.name,
        "label": check.label,
        "short": short_label(check),
        "kind": check.kind,
        "choices": [{"word": c.word} for c in check.choices],
        "words": [
            {"name": w.name, "label": w.name.replace("_", " "), "severities": list(w.severities)}
            for w in (sheet.look_words if words else ())
        ],
        "twoFigures": check.two_figures,
        "believable": list(check.believable) if check.believable else None,
        "factor": check.unlikely_factor,
        "scale": {"low": scale.low, "high": scale.high} if scale else None,
        "psi": limit.at_psi if check.kind == "grade" and limit is not None else None,
        "meters": [_pad_meter(o, check) for o in meter_offers(check, judged)],
        "show": None,
        "record": None,
    }
    q = check.quantity
    if q is not None:
        data["show"] = {
            "steps": float(q.units[q.keyed]),
            "decimals": q.keyed_decimals,
            "trim": q.name in ("length", "angle", "oil"),
            "unit": unit_shown(q.keyed),
        }
        data["record"] = {
            "steps": float(q.units[q.record]),
            "decimals": q.record_decimals,
            "unit": unit_shown(q.record),
            "fine": 4 if q.name == "length" else 0,
        }
    return data


def _pad_meter(offer: MeterOffer, check: Check) -> dict[str, Any]:
    meter, one = offer.meter, offer.one
    due = f"due {written_day(meter.due_text)}" if meter.due_text else "no calibration on record"
    data: dict[str, Any] = {
        "id": meter.id,
        "range": offer.range_name,
        "name": meter.name,
        "worth": meter.worth,
        "due": due,
        "unit": "",
        "keyed": "",
        "steps": 1,
        "times": 1,
        "top": None,
        "point": False,
        "ol": False,
    }
    if check.quantity is None:
        return data
    keyed = meter.keyed or check.quantity.keyed
    steps = check.quantity.units[keyed]
    finest = one.count if one is not None and one.count else meter.resolution or meter.step
    analog = meter.kind == "analog ohmmeter"
    data |= {
        "unit": unit_shown(keyed),
        "keyed": keyed,
        "steps": float(steps),
        "times": float(one.factor) if one is not None else 1.0,
        "top": one.top if one is not None else None,
        "point": analog or not finest or finest < float(steps),
        "ol": bool(meter.ranges),
    }
    return data


# A value that is being read again is not sent to the page.
HIDDEN = {"read": False, "value": None, "text": "", "call": "", "entry": ""}


def tray_state(judged: JudgedJob, *, again: str = "") -> dict[str, Any]:
    """What is on file, for the pad: items, and each check's value, text and call by hole."""
    facts = judged.facts
    sheet = facts.sheets[PLUG]
    masked = _masked(judged, again)
    holes: dict[str, Any] = {}
    for hole in facts.layout.walk:
        held = judged.at(hole)
        if held is None:
            holes[hole] = {"item": "", "name": "", "ended": "", "checks": {}}
            continue
        checks: dict[str, dict[str, Any]] = {}
        for check in sheet.checks:
            call = held.call(check.name)
            assert call is not None
            if (hole, check.name) == masked:
                checks[check.name] = {
                    "read": False,
                    "value": None,
                    "text": "",
                    "call": "",
                    "entry": "",
                }
                continue
            checks[check.name] = {
                "read": call.entry is not None and call.call != "VOID",
                "value": call.value if call.call != "VOID" else None,
                "text": call.reading,
                "call": call.call,
                "entry": call.entry.id if call.entry is not None else "",
            }
        holes[hole] = {
            "item": held.item,
            "name": held.name,
            "ended": ENDED_WORDS[held.state.ended[-1].kind] if held.state.ended else "",
            "checks": checks,
        }
    return {"holes": holes}


# Why


@dataclass(frozen=True, slots=True)
class Dial:
    """An ohmmeter's arc with its needle and the wedge that the needle may mean."""

    arc: str
    ticks: tuple[str, ...]
    labels: tuple[tuple[str, str, str], ...]
    wedge: str
    needle: str
    hub_x: str
    hub_y: str
    name: str
    name_x: str
    name_y: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """The scale picture at one width: the band hatched, the limits, the pointer; a dial above."""

    width: int
    height: int
    top: int
    axis_y: int
    ticks: tuple[str, ...]
    band_x: str
    band_width: str
    band_y: int
    limits: tuple[tuple[str, str, str, str], ...]
    pointer_x: str
    value: str
    low_label: tuple[str, str, str]
    high_label: tuple[str, str, str]
    label_y: int
    dial: Dial | None


@dataclass(frozen=True, slots=True)
class OtherReading:
    """A reading on file that does not carry the verdict, and why."""

    text: str
    why: str
    entry: str


@dataclass(frozen=True, slots=True)
class WhyTag:
    """The four lines and the picture of one check of one hole."""

    hole: str
    item: str
    name: str
    check: str
    label: str
    call: str
    status: str
    reading: tuple[str, ...]
    how_sure: tuple[str, ...]
    who_says: tuple[str, ...]
    last_time: tuple[str, ...]
    pictures: tuple[Picture, ...]
    spoken: str
    others: tuple[OtherReading, ...]
    entry: str
    is_close: bool
    better: str
    better_small: str
    better_meter: str
    better_range: str
    rule: str
    left_open: bool


def why_tag(
    judged: JudgedJob, hole: str, check_name: str, told: Callable[[str], Story] | None = None
) -> WhyTag | None:
    """Why a check of a hole is called what it is called; None for an empty hole.

    ``told`` gives a plug's story over every book it is in; without it only this book's is told.
    """
    held = judged.at(hole)
    if held is None:
        return None
    call = held.call(check_name)
    if call is None:
        return None
    check = judged.facts.sheets[PLUG].check(check_name)
    story = told(held.item) if told else None
    return why_of(judged, held, call, check, hole, story)


def why_of(
    judged: JudgedJob,
    held: ItemVerdict,
    call: Call,
    check: Check,
    hole: str,
    told: Story | None = None,
) -> WhyTag:
    """The tag of one call, with what the part's story says of it before."""
    facts = judged.facts
    settle = better_meters(call, facts, judged.state) if call.call == "CLOSE CALL" else []
    best = next((one for one in settle if one[3]), settle[0] if settle else None)
    better = better_small = better_meter = better_range = ""
    if best is not None and call.quantity is not None:
        meter, name, band, settles = best
        better_meter, better_range = meter.id, name
        better = f"{meter.id} {name}".strip()
        better_small = f"{better}, to {show(band.width / 2, call.quantity)}"
        if not settles:
            better_small = f"{better}, closer but cannot settle it"
    rule = ""
    if call.p_within is not None:
        rule = f"Shop rule: {facts.thresholds.words}. This is {per_hundred(call.p_within)}"
        rule += f", but {call.held_back}." if call.held_back else "."
    return WhyTag(
        hole=hole,
        item=held.item,
        name=held.name,
        check=check.name,
        label=check.label,
        call=call.call,
        status=status_of(call.call),
        reading=_reading_lines(call, facts),
        how_sure=_sure_lines(call),
        who_says=(f"{call.source}.",),
        last_time=_last_lines(call, _past_of(told, held, call, facts.job)),
        pictures=tuple(
            p for p in (picture_of(call, facts, 340), picture_of(call, facts, 276)) if p
        ),
        spoken=_spoken(call),
        others=_others(call, judged),
        entry=call.entry.id if call.entry is not None and call.entry.kind == "reading" else "",
        is_close=call.call == "CLOSE CALL",
        better=better,
        better_small=better_small,
        better_meter=better_meter,
        better_range=better_range,
        rule=rule,
        left_open=call.left_open,
    )


def _reading_lines(call: Call, facts: JobFacts) -> tuple[str, ...]:
    if call.entry is None or not call.reading:
        return (call.sentence, f"Limit {call.limit}." if call.limit_data else "No limit on file.")
    first = f"{call.reading}"
    meter = facts.meters.get(call.meter)
    name = str(call.entry.get("range"))
    if meter is not None:
        one = meter.range(name) if meter.ranges else None
        if one is not None and one.factor != 1:
            first = f"{call.entry.get('written')} on the {name} range is {call.reading}"
    if call.kept_as_keyed:
        first += ", kept as keyed"
    if call.how_far:
        first += f", {call.how_far}"
    limit = f"Limit {call.limit}." if call.limit_data else "No limit on file."
    return (f"{first}.", limit)


def _sure_lines(call: Call) -> tuple[str, ...]:
    if call.entry is None:
        return ("Nothing to judge yet.",)
    lines = [call.sentence]
    if call.meter_standing:
        lines.append(f"{call.meter_standing}.")
    return tuple(lines)


def _past_of(
    told: Story | None, held: ItemVerdict, call: Call, job: str
) -> tuple[tuple[float | None, str], ...]:
    """Value and text of what a check read before, the oldest first, by the part's story."""
    if call.quantity is None:
        return ()
    number = _number_of(call.quantity)
    series = told.of(call.check) if told is not None else None
    if series is None:
        past = trend(held, call.check)
        return tuple((v, number(v) if v is not None else text) for _, v, text in past)
    points: list[Point] = []
    for point in series.points:
        if call.entry is not None and (point.job, point.entry) == (job, call.entry.id):
            break
        # What it was set to at a service stands for that service only where nothing was read.
        set_too = point.left and points and points[-1].on == point.on
        if not (point.void or point.struck or set_too):
            points.append(point)
    return tuple((p.value, number(p.value) if p.value is not None else p.text) for p in points)


def _last_lines(call: Call, past: Sequence[tuple[float | None, str]]) -> tuple[str, ...]:
    if call.quantity is None or not past:
        return ("No earlier reading of this plug on file.",)
    number = _number_of(call.quantity)
    known = [value for value, _ in past if value is not None]
    words = ", then ".join(text for _, text in past)
    if call.value is None:
        return (f"{words}.",)
    line = f"{words}, now {number(call.value)}."
    series = [*known, call.value]
    if len(series) < 3 or len(known) < len(past):
        return (line,)
    if all(b > a for a, b in itertools.pairwise(series)):
        return (line, "Going up each time.")
    if all(b < a for a, b in itertools.pairwise(series)):
        return (line, "Going down each time.")
    return (line,)


def _number_of(quantity: Quantity) -> Any:
    def text(base: float) -> str:
        return show(base, quantity).rsplit(" ", 1)[0]

    return text


def _spoken(call: Call) -> str:
    parts = [
        f"{call.reading or 'not read'}, {call.call.lower()}.",
        f"Limit {call.limit}.",
        f"{call.how_far}." if call.how_far else "",
        f"{call.meter} there means {call.band_words}." if call.band_words else "",
    ]
    return " ".join(p for p in parts if p)


def _others(call: Call, judged: JudgedJob) -> tuple[OtherReading, ...]:
    zone = ZoneInfo(judged.facts.timezone_name)
    found = []
    for other in call.others:
        assert other.entry is not None
        why = (
            other.sentence if other.call == "VOID" else f"{other.call}, and a later one carries it."
        )
        if other.call == "OUT":
            why = other.sentence
        found.append(
            OtherReading(f"{other.reading}, {day_text(other.entry.at, zone)}", why, other.entry.id)
        )
    if call.entry is not None:
        item = call.entry.item
        check = call.check
    else:
        item, check = "", ""
    for entry in judged.state.order:
        strike = judged.state.struck.get(entry.id)
        if strike is None or entry.item != item or entry.get("check") != check:
            continue
        found.append(
            OtherReading(
                f"{_written(entry)}, {day_text(entry.at, zone)}",
                f"Struck by {judged.facts.person(strike.by)}: {strike.data['reason']}.",
                entry.id,
            )
        )
    return tuple(found)


def _written(entry: Entry) -> str:
    text = str(entry.get("written") or entry.get("word"))
    return text.replace("kohm", "kΩ").replace("ohm", "Ω")


# The picture


def picture_of(call: Call, facts: JobFacts, width: int) -> Picture | None:
    """The straight scale with band, limits and pointer; under an ohmmeter's dial if it is one."""
    quantity, band, limit = call.quantity, call.band, call.limit_data
    if quantity is None or band is None or call.value is None:
        return None
    meter = facts.meters.get(call.meter)
    bounds = [float(b) for b in (limit.lower, limit.upper) if b is not None] if limit else []
    ends = [max(band.low, 0.0), float(call.value), *bounds]
    if math.isfinite(band.high):
        ends.append(band.high)
    else:
        ends.append(max(ends) * 3)
    span = max(ends) - min(ends) or max(ends) * 0.1 or 1.0
    # A narrow band at the end leaves room for its label beside the pointer's number.
    narrow = band.high - band.low < span * 0.3
    low, high = max(min(ends) - span * 0.12, 0.0), max(ends) + span * (0.4 if narrow else 0.06)
    if low < span * 0.4:
        low = 0.0
    step = _nice_step((high - low) * 0.6)
    low = math.floor(low / step) * step
    high = math.ceil(high / step) * step
    left, right = 8.0, width - 16.0

    def x(value: float) -> float:
        return left + min(max((value - low) / (high - low), 0.0), 1.0) * (right - left)

    dial = None
    top = 0
    if band.shape == "arc" and meter is not None:
        dial, top = _dial(call, band, meter, width, x), 126
    band_y = top + 30
    axis_y = band_y + 14
    label_y = axis_y + 32
    band_high = band.high if math.isfinite(band.high) else high
    number = _number_of(quantity)
    limits = []
    for index, bound in enumerate(bounds):
        at = x(bound)
        # Labels stand outwards of two limits and inwards of one near the right end.
        left_side = (len(bounds) == 2 and index == 0) or (len(bounds) == 1 and at > width - 110)
        anchor = "end" if left_side else "start"
        label = f"LIMIT {number(bound)}" if len(bounds) == 1 else number(bound)
        limits.append((f"{at:.1f}", label, f"{at + (-8 if left_side else 8):.1f}", anchor))
    value_text = number(call.value)
    px = x(call.value)
    low_x, high_x = x(max(band.low, 0.0)), x(band_high)
    # 11 px a figure at 18 px: labels that would touch the pointer's number step aside.
    room = 6 + 11 * len(value_text) / 2
    low_text, high_text = number(max(band.low, 0.0)), number(band_high)
    low_at, low_anchor = low_x, "middle"
    if low_x + 5.5 * len(low_text) > px - room:
        low_at, low_anchor = px - room - 4, "end"
    unit = show(call.value, quantity).rsplit(" ", 1)[1]
    high_text = (f"{high_text} {unit}" if math.isfinite(band.high) else f"∞ {unit}").strip()
    high_at, high_anchor = high_x, "middle"
    if high_x + 5.5 * len(high_text) > width - 2:
        high_at, high_anchor = width - 2.0, "end"
    if high_anchor == "middle" and high_x - 5.5 * len(high_text) < px + room:
        high_at, high_anchor = px + room + 4, "start"
    if low_text == value_text or (low_anchor == "end" and low_at - 11 * len(low_text) < 0):
        low_text = ""
    count = round((high - low) / step)
    return Picture(
        width=width,
        height=label_y + 8,
        top=top,
        axis_y=axis_y,
        ticks=tuple(f"{x(low + i * step):.1f}" for i in range(count + 1)),
        band_x=f"{low_x:.1f}",
        band_width=f"{max(high_x - low_x, 3):.1f}",
        band_y=band_y,
        limits=tuple(limits),
        pointer_x=f"{px:.1f}",
        value=value_text,
        low_label=(f"{low_at:.1f}", low_text, low_anchor),
        high_label=(f"{high_at:.1f}", high_text, high_anchor),
        label_y=label_y,
        dial=dial,
    )


def _dial(call: Call, band: Band, meter: Meter, width: int, x: Any) -> Dial:
    """The arc of an ohmmeter: rest at infinity on the left, 0 on the right.

    The needle stands at f = 1 / (1 + R / Rmid) of the arc, by the scale law of a series
    ohmmeter.
    """
    assert call.value is not None
    one = meter.range(str(call.entry.get("range")) if call.entry is not None else "")
    factor = float(one.factor) if one is not None else 1.0
    mid = band.mid_scale
    cx, cy, radius = width / 2, 150.0, 124.0
    spread = math.radians(62)

    def point(f: float, r: float) -> tuple[float, float]:
        angle = -spread + 2 * spread * f
        return cx + r * math.sin(angle), cy - r * math.cos(angle)

    def at(ohms: float) -> float:
        return 1 / (1 + ohms / mid)

    def span(f1: float, f2: float, r: float) -> str:
        (x1, y1), (x2, y2) = point(f1, r), point(f2, r)
        return f"M{x1:.1f} {y1:.1f}A{r:g} {r:g} 0 0 1 {x2:.1f} {y2:.1f}"

    ticks = []
    for shares in (0.0, 0.2, 0.5, 1, 2, 5, 10, 20, 50):
        f = at(shares * mid / 2)
        (x1, y1), (x2, y2) = point(f, radius), point(f, radius - 9)
        ticks.append(f"M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}")
    (x1, y1), (x2, y2) = point(0, radius), point(0, radius - 9)
    ticks.append(f"M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}")
    labels = []
    for share, text in ((0.0, "0"), (0.25, ""), (0.5, ""), (1.0, ""), (2.5, ""), (math.inf, "∞")):
        f = 0.0 if math.isinf(share) else at(share * mid)
        lx, ly = point(f, radius + 15)
        on_face = text or f"{share * mid / factor:g}"
        labels.append((f"{lx:.1f}", f"{ly + 6:.1f}", on_face))
    # The hub is drawn half way up so that the scale below can stand close.
    hub_r = 46.0
    f = at(call.value)
    arc = band.arc
    f_low, f_high = max(f - arc, 0.0), min(f + arc, 1.0)
    (ax, ay), (bx, by) = point(f_low, hub_r), point(f_low, radius)
    (ex, ey), (dx, dy) = point(f_high, radius), point(f_high, hub_r)
    wedge = (
        f"M{ax:.1f} {ay:.1f}L{bx:.1f} {by:.1f}"
        f"A{radius:g} {radius:g} 0 0 1 {ex:.1f} {ey:.1f}L{dx:.1f} {dy:.1f}"
        f"A{hub_r:g} {hub_r:g} 0 0 0 {ax:.1f} {ay:.1f}Z"
    )
    (nx, ny), (hx, hy) = point(f, radius - 2), point(f, hub_r - 8)
    name_x, name_y = point(0.5, 62)
    high = band.high if math.isfinite(band.high) else 1e12
    lines = (
        f"M{ax:.1f} {ay:.1f}L{x(high):.1f} 156",
        f"M{dx:.1f} {dy:.1f}L{x(max(band.low, 0)):.1f} 156",
    )
    return Dial(
        arc=span(0, 1, radius),
        ticks=tuple(ticks),
        labels=tuple(labels),
        wedge=wedge,
        needle=f"M{hx:.1f} {hy:.1f}L{nx:.1f} {ny:.1f}",
        hub_x=f"{hx:.1f}",
        hub_y=f"{hy:.1f}",
        name=f"{meter.id} on {one.name}" if one is not None else meter.id,
        name_x=f"{name_x:.1f}",
        name_y=f"{name_y:.1f}",
        lines=lines,
    )


def band_sentence(call: Call) -> str:
    """What the meter may mean there, in words, for the close call."""
    if call.band is None or call.quantity is None:
        return call.sentence
    span = describe_band(call.band, call.quantity)
    if call.held_back:
        return f"Down here this meter means {span}, and {call.held_back}."
    return f"Down here this meter means anything from {span}. It could be either side."
