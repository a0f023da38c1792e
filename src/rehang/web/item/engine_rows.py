"""Rows of the engine page and of the page of one item, ready to show."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rehang.trade.drawn.layouts import Beside, plan_svg
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import as_read
from rehang.trade.life.notes import idle_days, last_hot_run
from rehang.trade.papers.due import hours_of
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.meters import MasterRead
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.terms.kinds.torque import Torqued
from rehang.trade.terms.wording import lower_first, on_day
from rehang.trade.verdicts.item_verdict import VERDICTS, ItemVerdict
from rehang.trade.verdicts.next_act import LOOK_AT_IT
from rehang.trade.work.names import item_label

__all__ = [
    "EngineGroup",
    "EnginePage",
    "ItemRow",
    "engine",
    "item_label",
    "short_name",
]


@dataclass(frozen=True, slots=True)
class ItemRow:
    """One item of a group. ``untouched`` is whether nothing has been read or looked at on it."""

    item: str
    label: str
    verdict: str
    mark: str
    reason: str
    next: str
    untouched: bool


@dataclass(frozen=True, slots=True)
class EngineGroup:
    """One group of items: what its worst comes to, each one's mark, and the next act."""

    key: str
    title: str
    verdict: str
    mark: str
    marks: tuple[str, ...]
    marks_words: str
    why: str
    act: str
    items: tuple[ItemRow, ...]


@dataclass(frozen=True, slots=True)
class LapsedUse:
    """One thing done with a meter that was not in date."""

    item: str
    label: str
    what: str
    when: str


@dataclass(frozen=True, slots=True)
class LapsedMeter:
    """A meter that was used without a calibration that holds."""

    meter: str
    standing: str
    uses: tuple[LapsedUse, ...]


@dataclass(frozen=True, slots=True)
class EnginePage:
    """What the engine's state is, on one page."""

    title: str
    serial: str
    hours: str
    idle: int | None
    last_run: str
    preservation: str
    still_out: str
    plan: str
    groups: tuple[EngineGroup, ...]
    total: int
    untouched: int
    counts: tuple[tuple[str, str, int], ...]
    meters: tuple[LapsedMeter, ...]
    blockers: int


_WORDS = {"REJECT": "Reject", "REWORK": "Rework", "NOT YET": "Not yet", "KEEP": "Keep"}


def short_name(one: ItemVerdict, facts: JobFacts) -> str:
    """An item among its fellows: its place, its name, or what it is where there is only one."""
    sheet = facts.sheets.get(one.kind)
    if sheet is not None and sheet.one_for == "name" and len(sheet.names) == 1:
        return lower_first(sheet.title)
    return one.place or one.state.came_out_of or one.name


def first_sentence(text: str) -> str:
    """The first sentence of a reason."""
    head = text.partition(". ")[0]
    return head if head.endswith(".") else f"{head}."


def _untouched(one: ItemVerdict) -> bool:
    return not one.state.readings and not one.state.looks and not one.state.ended


def _item_row(one: ItemVerdict, facts: JobFacts) -> ItemRow:
    label = item_label(facts, one.item)
    if one.kind == "plug":
        label = f"{short_name(one, facts)}, {one.name}"
    return ItemRow(
        item=one.item,
        label=label,
        verdict=one.verdict,
        mark=status_name(one.verdict),
        reason=first_sentence(one.reasons[0]) if one.reasons else "",
        next=one.next,
        untouched=_untouched(one),
    )


def _worst(items: Sequence[ItemVerdict]) -> ItemVerdict:
    return min(items, key=lambda one: VERDICTS.index(one.verdict))


def _group_title(one: ItemVerdict, facts: JobFacts) -> str:
    sheet = facts.sheets.get(one.kind)
    if sheet is None:
        return f"{one.kind.capitalize()}s"
    return sheet.group or f"{sheet.title}s"


def groups_of(judged: JudgedJob, *, untouched_only: bool = False) -> list[EngineGroup]:
    """Every group, the worst first; within a group the worst item first."""
    held: dict[str, list[ItemVerdict]] = {}
    for one in judged.items:
        if not untouched_only or _untouched(one):
            held.setdefault(_group_title(one, judged.facts), []).append(one)
    rows = [_group(title, items, judged.facts) for title, items in held.items()]
    return sorted(rows, key=lambda row: VERDICTS.index(row.verdict))


def _group(title: str, items: Sequence[ItemVerdict], facts: JobFacts) -> EngineGroup:
    worst = _worst(items)
    by_verdict = {
        word: [short_name(one, facts) for one in items if one.verdict == word] for word in VERDICTS
    }
    if worst.verdict == "KEEP":
        why = "" if len(items) == 1 else f"All {len(items)} keep."
    elif len(items) == 1:
        why = "Not looked at yet." if _untouched(worst) else first_sentence(worst.reasons[0])
    else:
        why = " ".join(
            f"{_WORDS[word]} {_few(names)}."
            for word, names in by_verdict.items()
            if names and word != "KEEP"
        )
    ordered = sorted(items, key=lambda one: VERDICTS.index(one.verdict))
    return EngineGroup(
        key=title.lower().replace(" ", "-"),
        title=title,
        verdict=worst.verdict,
        mark=status_name(worst.verdict),
        marks=tuple(status_name(one.verdict) for one in items),
        marks_words=", ".join(f"{short_name(one, facts)} {one.verdict.lower()}" for one in items),
        why=why,
        act=_act(items, worst, facts),
        items=tuple(_item_row(one, facts) for one in ordered),
    )


def _act(items: Sequence[ItemVerdict], worst: ItemVerdict, facts: JobFacts) -> str:
    """The next act of the worst item, or of all that are as bad when it is the same for all."""
    if worst.verdict == "KEEP" or not worst.next:
        return "Nothing to do."
    if worst.next == LOOK_AT_IT:
        # Its stamp says so already.
        return ""
    as_bad = [one for one in items if one.verdict == worst.verdict]
    if len(items) == 1 or all(one.next == worst.next for one in as_bad):
        return worst.next
    if all(one.next == worst.next.replace(worst.name, one.name) for one in as_bad):
        return worst.next.replace(worst.name, "each")
    name = short_name(worst, facts)
    return f"{name[:1].upper()}{name[1:]}: {lower_first(worst.next)}"


def _few(names: Sequence[str]) -> str:
    """Names with commas; a long list says how many more."""
    if len(names) <= 9:
        return ", ".join(names)
    return f"{', '.join(names[:8])} and {len(names) - 8} more"


def engine(judged: JudgedJob, *, untouched_only: bool = False) -> EnginePage:
    """The engine page. ``untouched_only`` leaves what nobody has read or looked at yet."""
    facts = judged.facts
    table = facts.engine
    groups = groups_of(judged, untouched_only=untouched_only)
    last = last_hot_run(judged)
    verdicts = [one.verdict for one in judged.items]
    used = [word for word in VERDICTS if word in verdicts]
    return EnginePage(
        title=str(table.get("engine", "") or facts.title),
        serial=str(table.get("serial", "") or facts.job),
        hours=_hours(hours_of(facts, judged.state).by_clock),
        idle=idle_days(judged),
        last_run=on_day(last) if last is not None else "",
        preservation=_preservation(judged),
        still_out=", ".join(f"{n} {what}" for what, n in judged.state.out.items() if n),
        plan=plan_svg(facts.layout, _marks(judged), _plan_words(judged), _beside(judged)),
        groups=tuple(groups),
        total=len(judged.items),
        untouched=sum(_untouched(one) for one in judged.items),
        counts=tuple((_WORDS[word], status_name(word), verdicts.count(word)) for word in used),
        meters=tuple(lapsed_meters(judged)),
        blockers=len(judged.blockers),
    )


def _preservation(judged: JudgedJob) -> str:
    """What to do about the days it sits, and what the dehydrator plugs last showed."""
    advice = "Preserve it as its manual says; once the cylinders are misted, do not turn it."
    one = next((one for one in judged.items if one.kind == "desiccant"), None)
    if one is None:
        return advice
    label = item_label(judged.facts, one.item)
    call = one.call(judged.facts.sheets[one.kind].look.name)
    if call is None or not call.reading or not one.state.looks:
        return f"{label}: not looked at. {advice}"
    seen = on_day(one.state.looks[-1].at)
    return f"{label}: {lower_first(call.reading.replace(': ', ', '))} ({seen}). {advice}"


def _hours(given: object) -> str:
    hours = given if isinstance(given, Mapping) else {}
    for key, words in (("since_overhaul", "since overhaul"), ("since_new", "since new")):
        if isinstance(hours.get(key), (int, float)):
            return f"{hours[key]:,.1f} h {words}"
    return ""


def _marks(judged: JudgedJob) -> dict[str, str]:
    """The mark of each cylinder that is judged and of what came out of each hole."""
    marks = {one.item: status_name(one.verdict) for one in judged.items if one.kind == "cylinder"}
    for hole in judged.facts.layout.walk:
        held = judged.at(hole)
        if held is not None:
            marks[hole] = status_name(held.verdict)
    return marks


# What of an engine is drawn beside its cylinders, and as what.
_SHAPES = {"magneto": "box", "filter": "can", "screen": "can", "exhaust": "pipe"}


def _beside(judged: JudgedJob) -> list[Beside]:
    return [
        Beside(
            _SHAPES[one.kind],
            item_label(judged.facts, one.item).replace(": ", " "),
            status_name(one.verdict),
        )
        for one in judged.items
        if one.kind in _SHAPES
    ]


def _plan_words(judged: JudgedJob) -> str:
    layout = judged.facts.layout
    told = []
    for cylinder in layout.cylinders:
        one = next((i for i in judged.items if i.item == f"cylinder:{cylinder}"), None)
        held = [(hole, judged.at(hole)) for hole in layout.walk]
        plugs = [
            f"{hole} {plug.verdict.lower()}"
            for hole, plug in held
            if plug is not None and layout.cylinder_of(hole) == cylinder
        ]
        own = f"cylinder {cylinder}" + (f" {one.verdict.lower()}" if one is not None else "")
        told.append(f"{own} ({', '.join(plugs)})" if plugs else own)
    seen = "from behind" if "round" in layout.plan else "from above"
    told += [
        f"{lower_first(item_label(judged.facts, one.item))} {one.verdict.lower()}"
        for one in judged.items
        if one.kind in _SHAPES
    ]
    return f"The engine seen {seen}: {'; '.join(told)}."


def lapsed_meters(judged: JudgedJob) -> list[LapsedMeter]:
    """Each meter that was used while its calibration did not hold, and all it was used on."""
    facts, state = judged.facts, judged.state
    uses: dict[str, list[LapsedUse]] = {}
    standing: dict[str, str] = {}
    for entry in state.live():
        if not is_a(entry, ReadingTaken, Torqued, MasterRead):
            continue
        name = entry.fields.meter
        if name not in facts.meters:
            continue
        why = state.not_proved(facts.meters[name], entry)
        if not why:
            continue
        # The first use says it best: later ones only move the date.
        standing.setdefault(name, why)
        uses.setdefault(name, []).append(
            LapsedUse(
                item=entry.item,
                label=lower_first(
                    item_label(facts, entry.item) if entry.item else "Master reading"
                ),
                what=_what(entry, facts),
                when=on_day(entry.at),
            )
        )
    return [LapsedMeter(name, standing[name], tuple(held)) for name, held in uses.items()]


def _what(entry: Entry[ReadingTaken | Torqued | MasterRead], facts: JobFacts) -> str:
    if is_a(entry, Torqued):
        return f"{entry.fields.what} ({entry.fields.which})"
    if is_a(entry, MasterRead):
        return entry.fields.written
    assert is_a(entry, ReadingTaken)
    label, text = as_read(entry, facts.sheets, facts.meters)
    return f"{label.lower()} {text}"
