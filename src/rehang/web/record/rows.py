"""Rows of the record pages: the records of a job, a draft, what was signed, what comes due."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.urls import reverse

from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.drafts import APPROVES, LEFT_OUT, WHATS, Draft, RecordLine
from rehang.trade.known.state import item_kind, item_name
from rehang.trade.life.oil_trend import oil_asks
from rehang.trade.papers.due import CLOCK_WORDS, Due, hours_of, last_research
from rehang.trade.papers.signing import Signed
from rehang.trade.release.blockers import grouped
from rehang.trade.run.monitor_told import monitor_asks
from rehang.trade.telling.entry_sheet import changed_words
from rehang.trade.telling.entry_tables import EntryTable, blocks_of
from rehang.trade.telling.entry_text import draft_of
from rehang.trade.telling.sentences import entry_words
from rehang.trade.telling.sheet_parts import stamp_words
from rehang.trade.terms.wording import on_day, plural, stopped, upper_first
from rehang.trade.verdicts.item_blockers import Blocker
from rehang.web.shared.spots import papers_address, spot_address

__all__ = [
    "BlockRow",
    "BlockerGroup",
    "BlockerRow",
    "DueRow",
    "FieldRow",
    "LineRow",
    "RecordRow",
    "SignedRow",
    "block_rows",
    "blocker_groups",
    "due_rows",
    "field_rows",
    "first_reasons",
    "record_rows",
    "signed_row",
    "signed_rows",
]


@dataclass(frozen=True, slots=True)
class SignedRow:
    """One signature. ``changed`` says what came after, or nothing while it stands."""

    id: str
    title: str
    who: str
    kind: str
    certificate: str
    when: str
    changed: str
    after: tuple[tuple[str, str, str], ...]
    lines: tuple[str, ...]
    words: int
    sum: str
    secret: str
    seq: int
    fault: str
    unairworthy: bool
    what: str


@dataclass(frozen=True, slots=True)
class RecordRow:
    """One record on the list of them. ``state`` is what to know of it in one sentence."""

    what: str
    title: str
    says: str
    state: str
    ready: bool
    signed: SignedRow | None


@dataclass(frozen=True, slots=True)
class LineRow:
    """One sentence of a draft: as it stands, as the book gives it, and who wrote it anew."""

    id: str
    title: str
    text: str
    drawn: str
    before: str
    reason: str
    by: str
    source: str
    left_out: bool


@dataclass(frozen=True, slots=True)
class BlockRow:
    """One heading of a record: its table, the sentences beside it, and all of them to be changed.

    ``look`` says how the table lies on a phone. ``is_open`` where it is short or comes first;
    ``is_held`` where a sentence of it was not kept as written.
    """

    title: str
    count: int
    look: str
    table: EntryTable | None
    words: tuple[LineRow, ...]
    lines: tuple[LineRow, ...]
    is_open: bool
    is_held: bool

    @property
    def first(self) -> tuple[LineRow, ...]:
        """Those sentences that stand at once."""
        return self.words[:_AT_ONCE] if len(self.words) > _MANY else self.words

    @property
    def rest(self) -> tuple[LineRow, ...]:
        """Those of a long list that are behind a tap."""
        return self.words[len(self.first) :]


@dataclass(frozen=True, slots=True)
class FieldRow:
    """One field of a draft; an empty one is a ruled blank."""

    id: str
    label: str
    value: str
    rule: str
    missing: bool
    at_signing: bool
    written: bool


@dataclass(frozen=True, slots=True)
class BlockerRow:
    """A reason and its way out. ``short`` is its head: of a part its name and its verdict."""

    short: str
    sentence: str
    way_out: str
    link: str


@dataclass(frozen=True, slots=True)
class BlockerGroup:
    title: str
    rows: tuple[BlockerRow, ...]

    @property
    def first(self) -> tuple[BlockerRow, ...]:
        """Those that stand at once."""
        return self.rows[:_AT_ONCE] if len(self.rows) > _MANY else self.rows

    @property
    def rest(self) -> tuple[BlockerRow, ...]:
        """Those of a long list that are behind a tap."""
        return self.rows[len(self.first) :]


@dataclass(frozen=True, slots=True)
class DueRow:
    """One thing that recurs: both sides, which governs, and what a form to write it down holds.

    ``job`` is the older job in whose book it was promised and is written down as done.
    """

    id: str
    title: str
    kind: str
    sentence: str
    by_hours: str
    by_date: str
    hours_govern: bool
    date_governs: bool
    overdue: bool
    blocks: bool
    last: str
    source: str
    method: str
    note: str
    clock: str
    hours_now: str
    document: str
    revision: str
    job: str


SAYS = {
    "maintenance": "What was done, by whom, and with what (14 CFR 43.9).",
    "inspection": "Type, extent, total time, and airworthy or not (14 CFR 43.11).",
    "discrepancies": "What the owner gets when it is not signed as airworthy (14 CFR 43.11(b)).",
}


def record_rows(judged: JudgedJob) -> list[RecordRow]:
    """The three records and how each stands."""
    rows = []
    for what, title in WHATS.items():
        ones = [one for one in judged.signed if one.what == what]
        last = ones[-1] if ones else None
        draft = draft_of(judged, what)
        state, ready = _state(judged, draft, last)
        rows.append(
            RecordRow(
                what=what,
                title=title,
                says=SAYS[what],
                state=state,
                ready=ready,
                signed=signed_row(last, judged) if last is not None else None,
            )
        )
    return rows


def _state(judged: JudgedJob, draft: Draft, last: Signed | None) -> tuple[str, bool]:
    if last is not None and last.stands:
        return "Signed, and nothing has changed since.", False
    again = "Signed before, and changed since. " if last is not None else ""
    number = len(judged.against(draft.what))
    if draft.what in APPROVES and number:
        return (
            f"{again}{number} {plural('reason', number)} not to return it to service yet.",
            False,
        )
    if draft.what == "discrepancies" and not draft.lines:
        return "Nothing is on it.", False
    if draft.blank:
        names = ", ".join(one.label.lower() for one in draft.blank)
        return f"{again}Still empty: {names}.", False
    return f"{again}Ready to be read and signed.", True


def signed_rows(judged: JudgedJob) -> list[SignedRow]:
    """Every signature, the newest first."""
    return [signed_row(one, judged) for one in reversed(judged.signed)]


def signed_row(one: Signed, judged: JudgedJob) -> SignedRow:
    zone = ZoneInfo(judged.facts.timezone_name)
    return SignedRow(
        id=one.entry.id,
        title=one.title,
        who=one.name,
        kind=one.kind,
        certificate=one.certificate,
        when=stamp_words(one.entry.at.astimezone(zone)),
        changed=changed_words(one, judged),
        after=tuple(
            (
                stamp_words(entry.at.astimezone(zone)),
                judged.facts.person(entry.by),
                entry_words(entry, judged),
            )
            for entry in one.after
        ),
        lines=tuple(one.text.split("\n")),
        words=len(one.text.split()),
        sum=one.entry.fields.sha256,
        secret=one.entry.fields.secret,
        seq=one.entry.seq,
        fault=one.fault,
        unairworthy=one.entry.fields.statement == "unairworthy",
        what=one.what,
    )


def _line_row(one: RecordLine) -> LineRow:
    left_out = one.own == LEFT_OUT
    return LineRow(
        id=one.id,
        title=one.title,
        text="" if left_out else one.text,
        drawn=one.drawn,
        before=one.before,
        reason=one.reason,
        by=one.by,
        source=stopped(one.from_what) if one.from_what else "",
        left_out=left_out,
    )


# A list longer than the second figure shows the first and keeps the rest behind a tap.
_AT_ONCE, _MANY = 8, 12
# A table with more columns than this goes on to the right on a phone.
_NARROW = 3
# A draft this short is shown whole; of another what a reader looks for first stands open.
_FOLDS_OVER = 8


def block_rows(draft: Draft, held: str = "") -> list[BlockRow]:
    """A draft under its headings; ``held`` names a sentence that was not kept as written."""
    blocks = blocks_of(draft)
    few = len(draft.lines) <= _FOLDS_OVER
    return [
        BlockRow(
            title=one.title,
            count=one.count,
            look=_look(one.table),
            table=one.table,
            words=tuple(_line_row(line) for line in one.words),
            lines=tuple(_line_row(line) for line in one.lines),
            is_open=few or number == 0,
            is_held=held in [line.id for line in one.lines],
        )
        for number, one in enumerate(blocks)
    ]


def _look(table: EntryTable | None) -> str:
    if table is None:
        return ""
    if not table.figures:
        return "told-words"
    return "figures wide" if len(table.heads) > _NARROW else "figures"


def field_rows(draft: Draft, written: Sequence[str]) -> list[FieldRow]:
    """``written`` are the names of the sentences and fields that a person wrote."""
    return [
        FieldRow(
            id=f"field-{one.name}",
            label=one.label,
            value=one.value,
            rule=one.rule if one.rule.startswith("14 CFR") else "",
            missing=one in draft.blank,
            at_signing=one.filled_at_signing,
            written=f"field-{one.name}" in written,
        )
        for one in draft.fields
    ]


# Blockers


# So many reasons stand on a page that is about something else.
_FEW_REASONS = 3


def first_reasons(slug: str, blockers: Sequence[Blocker], judged: JudgedJob) -> list[BlockerRow]:
    """The first reasons, each with where it is mended."""
    return [_blocker_row(slug, one, judged) for one in blockers[:_FEW_REASONS]]


def _blocker_row(slug: str, one: Blocker, judged: JudgedJob) -> BlockerRow:
    sentence = upper_first(one.sentence)
    short = f"{upper_first(one.subject)}: {one.standing}" if one.standing else sentence
    return BlockerRow(short, sentence, one.way_out, _link(slug, one, judged))


def blocker_groups(slug: str, judged: JudgedJob) -> list[BlockerGroup]:
    """The blockers under their headings, each with its way out and where that is."""
    return [
        BlockerGroup(
            group.title,
            tuple(_blocker_row(slug, one, judged) for one in group.blockers),
        )
        for group in grouped(judged.blockers)
    ]


def grounded_rows(slug: str, judged: JudgedJob) -> list[BlockerRow]:
    """What is overdue: the aircraft may not fly until it is done, and no entry on other work waits."""
    return [_blocker_row(slug, one, judged) for one in judged.may_not_fly]


def asked_rows(slug: str, judged: JudgedJob) -> list[BlockerRow]:
    """What asks a named person to decide and keeps nothing back."""
    of_oil = [(one, reverse("web:oil", args=[slug])) for one in oil_asks(judged)]
    of_monitor = [
        (one, reverse("web:monitor", args=[slug, one.about.split(":")[1]]))
        for one in monitor_asks(judged.facts, judged.state)
    ]
    return [
        BlockerRow(one.sentence, one.sentence, one.way_out, to)
        for one, to in (*of_oil, *of_monitor)
    ]


def _link(slug: str, one: Blocker, judged: JudgedJob) -> str:
    """The page on which a blocker is lifted."""
    if one.mend:
        return _mended_at(slug, *one.mend.split(":", 1))
    kind, _, name = one.about.partition(":")
    if one.about in judged.state.items and kind != "run":
        if item_kind(one.about) == "plug":
            return reverse("web:plug", args=[slug, item_name(one.about)])
        return reverse("web:item", args=[slug, kind, name])
    match kind:
        case "off":
            return reverse("web:cylinders_off", args=[slug])
        case "why":
            return reverse("web:why_off", args=[slug])
        case "extra":
            return reverse("web:extra", args=[slug, name])
        case "meter":
            return reverse("web:meter", args=[slug, name])
        case "run" if name:
            return reverse("web:run_of", args=[slug, name])
        case "run" | "magneto":
            return reverse("web:run", args=[slug])
        case "task" | "look":
            return reverse("web:task", args=[slug, name])
        case "torque" if name in judged.facts.torque_groups:
            return reverse("web:torque_group", args=[slug, name])
        case "torque":
            return reverse("web:torque", args=[slug])
        case "place":
            return reverse("web:places", args=[slug])
        case "part" | "used":
            return reverse("web:parts", args=[slug])
        case "work" | "count" | "flag":
            return reverse("web:rest", args=[slug])
        case "recurring":
            return f"{reverse('web:due', args=[slug])}#due-{name}"
        case "record" if name == "research":
            return f"{reverse('web:due', args=[slug])}#research"
        case "record" if ":recurring:" in name:
            return f"{reverse('web:due', args=[slug])}#due-{name.rpartition(':')[2]}"
        case "record" if name.partition(":")[0] in WHATS:
            return reverse("web:record", args=[slug, name.partition(":")[0]])
        case "record":
            return reverse("web:records", args=[slug])
    return reverse("web:tray", args=[slug])


def _mended_at(slug: str, what: str, of: str = "") -> str:
    """The page that writes what a blocker wants: a place's number, papers, engine data, people."""
    match what:
        case "papers":
            return papers_address(slug, of)
        case "place":
            return spot_address(slug, item_kind(of), item_name(of))
        case "people":
            return reverse("web:people")
    return reverse("web:facts_kind", args=[slug, of])


# Next due


def due_rows(judged: JudgedJob) -> list[DueRow]:
    """Everything that recurs or was promised: what is past first, then as recurring.toml has it."""
    rows = [_due_row(one, judged) for one in judged.due]
    return sorted(rows, key=lambda row: not row.overdue)


def research_row(judged: JudgedJob) -> str:
    """When the directives were last researched, by whom and by which list; empty before that."""
    last = last_research(judged.state)
    if last is None:
        return ""
    return f"{on_day(last.at)}, {judged.facts.person(last.by)}: {last.fields.against}"


def _due_row(one: Due, judged: JudgedJob) -> DueRow:
    known = judged.facts.recurring.get(one.id)
    clock = known.clock if known is not None else "since_overhaul"
    now = hours_of(judged.facts, judged.state).on(clock)
    runs_on_hours = known.every_hours is not None if known else one.due_hours is not None
    return DueRow(
        id=one.id,
        title=one.title,
        kind=one.kind,
        sentence=one.sentence,
        by_hours=one.by_hours,
        by_date=one.by_date,
        hours_govern=one.governs in ("hours", "both"),
        date_governs=one.governs in ("calendar", "both"),
        overdue=one.overdue,
        blocks=one.blocks,
        last=one.last,
        source=one.source,
        method=one.method,
        note=one.note,
        clock=CLOCK_WORDS[clock] if runs_on_hours else "",
        hours_now=f"{now:g}" if runs_on_hours and now is not None else "",
        document=known.document if known is not None else "",
        revision=known.revision if known is not None else "",
        job=one.job,
    )
