"""Rows of the torque cards: groups, places, the wrench and its setting."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from rehang.trade.doubts import torqued_now, torques_in_doubt, uses_in_doubt
from rehang.trade.drawing import pattern_svg, wrench_svg
from rehang.trade.errors import BadInput
from rehang.trade.facts import JobFacts
from rehang.trade.judging import JudgedJob
from rehang.trade.meters import Meter
from rehang.trade.torque import (
    Adapter,
    Setting,
    TorqueCard,
    card_of,
    in_units,
    order_of,
    torque_words,
    uses_since_good,
    wrenches,
)
from rehang.trade.torquegroups import TorqueGroup
from rehang.trade.wording import lower_first, on_day, plural, upper_first, written_day
from rehang.web.fit_rows import in_words
from rehang.web.page_rows import meter_standing

__all__ = [
    "DoubtRow",
    "GroupRow",
    "PlaceRow",
    "TorquePage",
    "WrenchRow",
    "doubt_rows",
    "group_page",
    "group_rows",
    "item_of",
    "places_of_group",
    "use_rows",
    "what_of",
    "wrench_rows",
]


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """One place of a group: how many of its fasteners are torqued, and on which wrench."""

    name: str
    label: str
    done: int
    of: int
    words: str
    wrong: str
    mark: str = ""

    @property
    def is_done(self) -> bool:
        return self.done >= self.of


@dataclass(frozen=True, slots=True)
class GroupRow:
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
    places: tuple[PlaceRow, ...]
    place: PlaceRow
    pegs: tuple[tuple[int, bool], ...]
    wrenches: tuple[WrenchRow, ...]
    wrong: str
    setting: Setting | None


def places_of_group(facts: JobFacts, group: TorqueGroup) -> tuple[str, ...]:
    """The places of a group by the layout; one without a name where it has none."""
    match group.for_each:
        case "hole":
            return tuple(facts.layout.walk)
        case "cylinder":
            return tuple(str(one) for one in facts.layout.cylinders)
        case "magneto":
            return tuple(facts.layout.ignition)
    return ("",)


def item_of(group: TorqueGroup, place: str) -> str:
    """The item a torque is written under: its place, or the group itself."""
    return f"{group.for_each}:{place}" if place else f"engine:{group.id}"


def what_of(group: TorqueGroup, place: str) -> str:
    """What a torque was put on, in words; a later one of the same words goes over it again.

    >>> from types import SimpleNamespace as group
    >>> cover = group(title="Rocker cover screws", fastener="screw", number=6, for_each="cylinder")
    >>> what_of(cover, "2")
    'rocker cover screws of cylinder 2'
    """
    words = lower_first(group.title) if group.number > 1 else group.fastener
    return f"{words} of {group.for_each} {place}" if place else words


def _place_row(judged: JudgedJob, group: TorqueGroup, place: str) -> PlaceRow:
    label = f"{group.for_each} {place}" if place else group.title
    if group.for_each == "hole":
        # Which serial the torque is of stands on its card.
        label += f", {in_words('plug', place, judged)}"
    item = judged.state.items.get(item_of(group, place))
    what = what_of(group, place)
    entries = [e for e in item.torqued if e.data["what"] == what] if item else []
    if not entries:
        return PlaceRow(place, label, 0, group.number, "", "")
    last = entries[-1]
    loose = torques_in_doubt(entries, judged.state)
    meter = str(last.data["meter"])
    said = torque_words(last)
    words = f"{meter}, {on_day(last.at)}, {judged.facts.person(last.by)}" + (
        f": {said}" if said else ""
    )
    doubted = loose[-1] if loose else last
    wrong = judged.state.not_proved(judged.facts.meters[str(doubted.data["meter"])], doubted)
    return PlaceRow(
        place,
        label,
        torqued_now(entries, judged.state),
        last.data["of"],
        words,
        wrong,
        "found out" if loose else "out of date" if wrong else "",
    )


def group_rows(judged: JudgedJob, today: date) -> tuple[GroupRow, ...]:
    """Every group with its value and how far it is."""
    rows = []
    for group in judged.facts.torque_groups.values():
        card = card_of(judged.facts, group, on=today)
        places = [_place_row(judged, group, p) for p in places_of_group(judged.facts, group)]
        rows.append(
            GroupRow(
                id=group.id,
                title=group.title,
                value=card.value,
                source=card.source,
                judged=card.judged,
                done=sum(one.done for one in places),
                of=sum(one.of for one in places),
                what=plural(group.fastener, group.number * len(places)),
                wrong=next((one.wrong for one in places if one.wrong), ""),
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


def usual_wrench(judged: JudgedJob) -> str:
    """The wrench last used that is not found out, else the first on file."""
    known = [one.id for one in wrenches(judged.facts)]
    good = [one for one in known if judged.state.is_out(one) is None]
    for entry in reversed(judged.state.live()):
        if entry.kind == "torqued" and entry.data["meter"] in good:
            return str(entry.data["meter"])
    return next(iter(good or known), "")


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
    rows = tuple(_place_row(judged, group, p) for p in places_of_group(facts, group))
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
    wrench = wrench or usual_wrench(judged)
    card = card_of(
        facts, group, wrench=wrench, adapter=adapter, drag=drag, on=today, state=judged.state
    )
    # A value that judges nothing is not set by either.
    setting = card.setting if card.judged else None
    order = order_of(group)
    told = ", ".join(str(one) for one in order)
    return TorquePage(
        group=group,
        card=card,
        wanted=tuple(in_units(setting.wanted).items()) if setting else (),
        set_to=tuple(in_units(setting.set_to).items()) if setting else (),
        range_words=(
            f"{setting.low:,.0f} to {setting.high:,.0f} in-lb on the wrench keep it inside."
            if setting and setting.low is not None and setting.high is not None
            else ""
        ),
        sure_words=(
            f"{setting.sure[0]:,.0f} to {setting.sure[1]:,.0f} for sure, with a wrench good to "
            "4 % (common practice, no source)."
            if setting and setting.sure is not None
            else ""
        ),
        drawing=(
            wrench_svg(
                adapter.arm,
                adapter.length,
                adapter.angle,
                f"The wrench with its adapter: {adapter.words}.",
            )
            if adapter
            else ""
        ),
        pattern=(
            pattern_svg(
                group.pattern,
                order,
                here.done,
                f"{group.number} {plural(group.fastener, group.number)} in their order: {told}. "
                f"{here.done} done.",
            )
            if group.number > 1
            else ""
        ),
        places=rows,
        place=here,
        pegs=tuple((turn, turn <= here.done) for turn in range(1, group.number + 1)),
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
    )
