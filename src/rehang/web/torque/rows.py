"""Rows of the torque cards: groups, places, the wrench and its setting."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from rehang.trade.drawn.drawing import pattern_svg, wrench_svg
from rehang.trade.facts.meters import Meter
from rehang.trade.facts.torquegroups import TorqueGroup
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.doubts import uses_in_doubt
from rehang.trade.known.fastened import TorqueCall, TorquePlace, torque_places
from rehang.trade.known.torque import (
    Adapter,
    Setting,
    TorqueCard,
    card_of,
    in_lb_words,
    in_units,
    order_of,
    torque_words,
    uses_since_good,
    wrenches,
)
from rehang.trade.release.torquetodo import fasteners_words
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.torque import Torqued
from rehang.trade.terms.wording import lower_first, on_day, plural, upper_first, written_day
from rehang.web.shared.meters import meter_standing
from rehang.web.work.fit_rows import in_words

__all__ = [
    "DoubtRow",
    "TorqueGroupRow",
    "TorquePage",
    "TorquePlaceRow",
    "WrenchRow",
    "doubt_rows",
    "group_page",
    "group_rows",
    "use_rows",
    "wrench_rows",
]


@dataclass(frozen=True, slots=True)
class PegRow:
    """One fastener by the turn it is tightened at: whether it stands torqued, and its call."""

    turn: int
    on: bool
    call: str
    said: str


@dataclass(frozen=True, slots=True)
class CallRow:
    """What a torque came to that is not WITHIN. ``entry`` is set where a person may call it."""

    call: str
    fasteners: str
    sentence: str
    way_out: str
    entry: str

    @property
    def status(self) -> str:
        return self.call.lower().replace(" ", "-")


@dataclass(frozen=True, slots=True)
class TorquePlaceRow:
    """One place of a group: which of its fasteners are torqued, on which wrench, to what."""

    name: str
    label: str
    short: str
    done: int
    of: int
    words: str
    wrong: str
    mark: str
    left: str
    pegs: tuple[PegRow, ...]
    calls: tuple[CallRow, ...]

    @property
    def is_done(self) -> bool:
        return self.done >= self.of and not self.calls


@dataclass(frozen=True, slots=True)
class TorqueGroupRow:
    """One group in the list of torque cards."""

    id: str
    title: str
    value: str
    source: str
    judged: bool
    done: int
    of: int
    what: str
    wrong: str


@dataclass(frozen=True, slots=True)
class WrenchRow:
    """A wrench to pick, and how it stands today."""

    id: str
    label: str
    standing: str
    due: str
    uses: int
    chosen: bool


@dataclass(frozen=True, slots=True)
class DoubtRow:
    """One use of a meter that was found out. ``key`` is what is closed to let it stand, if open."""

    id: str
    item: str
    words: str
    day: str
    said: str
    key: str


@dataclass(frozen=True, slots=True)
class TorquePage:
    """One group's card: the value, the setting, the drawings and the places."""

    group: TorqueGroup
    card: TorqueCard
    wanted: tuple[tuple[str, str], ...]
    set_to: tuple[tuple[str, str], ...]
    range_words: str
    sure_words: str
    drawing: str
    pattern: str
    places: tuple[TorquePlaceRow, ...]
    place: TorquePlaceRow
    then: TorquePlaceRow | None
    wrenches: tuple[WrenchRow, ...]
    wrong: str
    setting: Setting | None
    limit_number: int
    tap_words: str


def _place_row(judged: JudgedJob, place: TorquePlace) -> TorquePlaceRow:
    group, label = place.group, place.label
    if group.for_each == "hole":
        # Which serial the torque is of stands on its card.
        label += f", {in_words('plug', place.place, judged)}"
    pegs = tuple(
        PegRow(
            turn, turn in place.standing, call.call if call else "", call.sentence if call else ""
        )
        for turn in range(1, group.number + 1)
        for call in (place.calls.get(turn),)
    )
    entries = sorted(
        {c.entry.id: c.entry for c in place.calls.values()}.values(), key=lambda e: e.at
    )
    words = wrong = mark = ""
    if entries:
        last = entries[-1]
        said = torque_words(last.fields)
        words = f"{last.fields.meter}, {on_day(last.at)}, {judged.facts.person(last.by)}"
        words += f": {said}" if said else ""
        bad = [
            (why, judged.state.doubt(e.fields.meter, e))
            for e in entries
            if (why := _not_proved(judged, e))
        ]
        if bad:
            wrong, doubt = next((one for one in bad if one[1] is not None), bad[-1])
            mark = "found out" if doubt is not None else "out of date"
    return TorquePlaceRow(
        name=place.place,
        label=label,
        short=place.label,
        done=len(place.standing),
        of=group.number,
        words=words,
        wrong=wrong,
        mark=mark or next((one.call.lower() for one in _call_rows(place)), ""),
        left=(
            f"Left: {fasteners_words(place, place.missing)}."
            if place.standing and place.missing
            else ""
        ),
        pegs=pegs,
        calls=_call_rows(place),
    )


def _after(rows: tuple[TorquePlaceRow, ...], here: TorquePlaceRow) -> TorquePlaceRow | None:
    """The place to go on to from one that is done: the next in the walk that is not."""
    if not here.is_done:
        return None
    at = rows.index(here)
    return next((one for one in (*rows[at:], *rows[:at]) if not one.is_done), None)


def _not_proved(judged: JudgedJob, entry: Entry[Torqued]) -> str:
    meter = judged.facts.meters.get(entry.fields.meter)
    return judged.state.not_proved(meter, entry) if meter is not None else ""


def _call_rows(place: TorquePlace) -> tuple[CallRow, ...]:
    """What its torques came to that is not WITHIN, the fasteners of one torque together."""
    ones: dict[str, tuple[TorqueCall, list[int]]] = {}
    for number, call in place.calls.items():
        if call.call != "WITHIN":
            ones.setdefault(call.entry.id, (call, []))[1].append(number)
    return tuple(
        CallRow(
            call=call.call,
            fasteners=upper_first(fasteners_words(place, numbers)),
            sentence=upper_first(call.sentence),
            way_out=call.way_out,
            entry=call.entry.id if call.call == "CLOSE CALL" else "",
        )
        for call, numbers in ones.values()
    )


def group_rows(judged: JudgedJob, today: date) -> tuple[TorqueGroupRow, ...]:
    """Every group with its value and how far it is."""
    rows = []
    every = torque_places(judged.facts, judged.state)
    for group in judged.facts.torque_groups.values():
        if group.task in judged.facts.left_out:
            continue
        card = card_of(judged.facts, group, on=today)
        places = [_place_row(judged, one) for one in every if one.group.id == group.id]
        called = [one for place in places for one in place.calls]
        rows.append(
            TorqueGroupRow(
                id=group.id,
                title=group.title,
                value=card.value,
                source=card.source,
                judged=card.judged,
                done=sum(one.done for one in places),
                of=sum(one.of for one in places),
                what=plural(group.fastener, group.number * len(places)),
                wrong=(
                    f"{called[0].call}: {lower_first(called[0].fasteners)}."
                    if called
                    else next((one.wrong for one in places if one.wrong), "")
                ),
            )
        )
    return tuple(rows)


def wrench_rows(judged: JudgedJob, today: date, chosen: str) -> tuple[WrenchRow, ...]:
    """The wrenches on file, each with how it stands and what it was used on since it was good."""
    return tuple(
        WrenchRow(
            id=one.id,
            label=f"{one.id}, {one.name}",
            standing=meter_standing(judged, one, today),
            due=written_day(one.due_text),
            uses=len(uses_since_good(judged.facts, judged.state, one.id)),
            chosen=one.id == chosen,
        )
        for one in wrenches(judged.facts)
    )


def use_rows(judged: JudgedJob, meter: Meter) -> tuple[tuple[str, str, str], ...]:
    """What a wrench was used on while it was not in date: item, words, day.

    What is in doubt because it was found out is in :func:`doubt_rows`.
    """
    if meter not in wrenches(judged.facts):
        return ()
    doubted = {use.entry.id for use in uses_in_doubt(judged.facts, judged.state, meter.id)}
    return tuple(
        (
            use.entry.item,
            f"{use.what[:1].upper()}{use.what[1:]}: {use.done} of {use.of}",
            on_day(use.on),
        )
        for use in uses_since_good(judged.facts, judged.state, meter.id)
        if use.entry.id not in doubted
    )


def doubt_rows(judged: JudgedJob, meter: Meter) -> tuple[DoubtRow, ...]:
    """What a meter that was found out was used on since it was last known good, open ones first."""
    uses = uses_in_doubt(judged.facts, judged.state, meter.id)
    return tuple(
        DoubtRow(
            id=use.entry.id,
            item=use.item if use.item in judged.state.items else "",
            words=upper_first(use.what),
            day=on_day(use.on),
            said=upper_first(use.said),
            key=use.key if use.is_open else "",
        )
        for use in sorted(uses, key=lambda use: not use.is_open)
    )


def usual_wrench(judged: JudgedJob, group: TorqueGroup) -> str:
    """The wrench last used on this group that is not found out; the only one where there is one.

    Never guessed from what is on file (DESIGN 4b, 12): the person picks it.
    """
    known = [one.id for one in wrenches(judged.facts)]
    good = [one for one in known if judged.state.is_out(one) is None]
    for entry in reversed(judged.state.live()):
        if (
            is_a(entry, Torqued)
            and entry.fields.meter in good
            and (entry.fields.group == group.id or entry.fields.task == group.task)
        ):
            return entry.fields.meter
    return known[0] if len(known) == 1 else ""


def _sure_words(setting: Setting, wrench: Meter | None) -> str:
    """The settings that are sure with what the wrench is good to, and where that comes from."""
    known = wrench is not None and wrench.kind == "torque wrench"
    worth = (
        f"{wrench.id}, {wrench.worth}"
        if wrench is not None and known
        else "a wrench good to 4 % (common practice, no source)"
    )
    if setting.sure is None:
        return f"No setting is sure with {worth}." if setting.low is not None else ""
    low, high = (in_lb_words(one) for one in setting.sure)
    return f"{low} to {high} for sure, with {worth}."


def group_page(
    judged: JudgedJob,
    group: TorqueGroup,
    today: date,
    *,
    place: str = "",
    wrench: str = "",
    adapter: Adapter | None = None,
    drag: str = "",
) -> TorquePage:
    """The card of one group at one place, with the wrench and adapter in hand.

    Raises
    ------
    BadInput
        The place or the wrench is not one of the job, or the lengths make no lever.
    """
    facts = judged.facts
    rows, here = _places(judged, group, place)
    wrench = wrench or usual_wrench(judged, group)
    card = card_of(
        facts, group, wrench=wrench, adapter=adapter, drag=drag, on=today, state=judged.state
    )
    # A value that judges nothing is not set by either.
    setting = card.setting if card.judged else None
    return TorquePage(
        group=group,
        card=card,
        wanted=tuple(in_units(setting.wanted).items()) if setting else (),
        set_to=tuple(in_units(setting.set_to, setting.step).items()) if setting else (),
        range_words=(
            f"{in_lb_words(setting.low)} to {in_lb_words(setting.high)} in-lb on the wrench keep it "
            "inside."
            if setting and setting.low is not None and setting.high is not None
            else ""
        ),
        sure_words=_sure_words(setting, card.wrench) if setting else "",
        drawing=_with_adapter(adapter) if adapter else "",
        pattern=_pattern(group, here) if group.number > 1 else "",
        places=rows,
        place=here,
        then=_after(rows, here),
        wrenches=wrench_rows(judged, today, wrench),
        wrong=(
            f"{upper_first(card.standing)}. It is not refused: what it torques blocks the release "
            "until it is gone over again or "
            + (
                "a named person writes why it stands."
                if judged.state.is_out(wrench) is not None
                else "the wrench is proved as found."
            )
            if card.standing
            else ""
        ),
        setting=setting,
        limit_number=next(
            (number for number, one in enumerate(facts.limits) if one is card.limit), -1
        ),
        tap_words=_tap_words(group),
    )


def _places(
    judged: JudgedJob, group: TorqueGroup, place: str
) -> tuple[tuple[TorquePlaceRow, ...], TorquePlaceRow]:
    """The places of a group, and the one asked for; else the first that is not done."""
    rows = tuple(
        _place_row(judged, one)
        for one in torque_places(judged.facts, judged.state)
        if one.group.id == group.id
    )
    if place and place not in [one.name for one in rows]:
        raise BadInput(
            f'"{place}" is not a place of {group.title.lower()}. '
            f"They are {', '.join(one.name for one in rows)}.",
            "place",
        )
    here = next(
        (one for one in rows if one.name == place and place),
        next((one for one in rows if not one.is_done), rows[0]),
    )
    return rows, here


def _with_adapter(adapter: Adapter) -> str:
    words = f"The wrench with its adapter: {adapter.words}."
    return wrench_svg(adapter.arm, adapter.length, adapter.angle, words)


def _pattern(group: TorqueGroup, here: TorquePlaceRow) -> str:
    order = order_of(group)
    told = ", ".join(str(one) for one in order)
    words = (
        f"{group.number} {plural(group.fastener, group.number)} in their order: {told}. "
        f"{here.done} done. {here.left}".strip()
    )
    return pattern_svg(group.pattern, order, [one.turn for one in here.pegs if one.on], words)


def _tap_words(group: TorqueGroup) -> str:
    if group.number == 1:
        return "Tap when it clicks"
    return "Tap each as it clicks" + ("" if group.passes == 1 else " in its last pass")
