"""Rows of the record pages: the records of a job, a draft, what was signed, what comes due."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.urls import reverse

from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.drafts import APPROVES, LEFT_OUT, WHATS, Draft
from rehang.trade.known.state import item_kind, item_name
from rehang.trade.life.oil_trend import oil_asks
from rehang.trade.papers.due import CLOCK_WORDS, Due, hours_of
from rehang.trade.papers.signing import Signed
from rehang.trade.release.blockers import grouped
from rehang.trade.telling.entry_sheet import changed_words
from rehang.trade.telling.entry_text import draft_of, open_items
from rehang.trade.telling.sentences import entry_words
from rehang.trade.telling.sheet_parts import stamp_words
from rehang.trade.terms.wording import plural, upper_first
from rehang.trade.verdicts.item_blockers import Blocker

__all__ = [
    "BlockerGroup",
    "BlockerRow",
    "DueRow",
    "FieldRow",
    "LineGroup",
    "LineRow",
    "RecordRow",
    "SignedRow",
    "blocker_groups",
    "due_rows",
    "field_rows",
    "line_groups",
    "line_rows",
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
    added: bool


@dataclass(frozen=True, slots=True)
class LineGroup:
    """Sentences under one heading. ``is_open`` where they are few or one of them is being written."""

    title: str
    rows: tuple[LineRow, ...]
    is_open: bool

    @property
    def first(self) -> tuple[LineRow, ...]:
        """Those that stand at once."""
        return self.rows[:_AT_ONCE] if len(self.rows) > _MANY else self.rows

    @property
    def rest(self) -> tuple[LineRow, ...]:
        """Those of a long list that are behind a tap."""
        return self.rows[len(self.first) :]


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
        sum=one.entry.fields.sha256,
        secret=one.entry.fields.secret,
        seq=one.entry.seq,
        fault=one.fault,
        unairworthy=one.entry.fields.statement == "unairworthy",
        what=one.what,
    )


def line_rows(draft: Draft) -> list[LineRow]:
    rows = []
    for one in draft.lines:
        left_out = one.own == LEFT_OUT
        rows.append(
            LineRow(
                id=one.id,
                title=one.title,
                text="" if left_out else one.text,
                drawn=one.drawn,
                before=one.before,
                reason=one.reason,
                by=one.by,
                source=one.from_what,
                left_out=left_out,
                added=not one.drawn,
            )
        )
    return rows


# A list longer than the second figure shows the first and keeps the rest behind a tap.
_AT_ONCE, _MANY = 8, 12

# What stands under one heading of a draft, in the order of the record.
_HEADS = {
    "Engine and data": ("engine", "extent", "data"),
    "Parts": ("plugs-out", "plugs-in", "off", "on"),
    "Measured and set": (
        "plugs",
        "compression",
        "tappets",
        "timing",
        "oil",
        "torque",
        "reworked",
    ),
    "Work and findings": (
        "work",
        "short",
        "findings",
        "called",
        "promised",
        "looks",
        "directives",
    ),
    "Runs and meters": ("run", "meters"),
}
# The headings of the list for the owner, one for each of its two parts.
_LISTS = ("Unairworthy or open", "Work not done")
_HEAD_OF = {name: head for head, names in _HEADS.items() for name in names}
# A draft this short is shown whole.
_FOLDS_OVER = 8


def line_groups(draft: Draft, judged: JudgedJob, held: str = "") -> list[LineGroup]:
    """A draft's sentences under headings; ``held`` names one that was not kept as written."""
    rows = line_rows(draft)
    found: dict[str, list[LineRow]] = {}
    blocked = iter(
        [head for head, ones in zip(_LISTS, open_items(judged), strict=True) for _ in ones]
    )
    for row in rows:
        if row.added:
            head = "Added"
        elif draft.what == "discrepancies":
            # Its sentences are the open items, one for one.
            head = next(blocked)
        else:
            # Each day of compressions is a sentence of its own: compression-2.
            head = _HEAD_OF.get(row.id) or _HEAD_OF[row.id.rpartition("-")[0]]
        found.setdefault(head, []).append(row)
    few = len(rows) <= _FOLDS_OVER
    return [
        LineGroup(head, tuple(ones), few or held in [row.id for row in ones])
        for head, ones in found.items()
    ]


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


def blocker_groups(slug: str, judged: JudgedJob) -> list[BlockerGroup]:
    """The blockers under their headings, each with its way out and where that is."""
    return [
        BlockerGroup(
            group.title,
            tuple(
                BlockerRow(upper_first(one.sentence), one.way_out, _link(slug, one, judged))
                for one in group.blockers
            ),
        )
        for group in grouped(judged.blockers)
    ]


def grounded_rows(slug: str, judged: JudgedJob) -> list[BlockerRow]:
    """What is overdue: the aircraft may not fly until it is done, and no entry on other work waits."""
    return [
        BlockerRow(upper_first(one.sentence), one.way_out, _link(slug, one, judged))
        for one in judged.may_not_fly
    ]


def asked_rows(slug: str, judged: JudgedJob) -> list[BlockerRow]:
    """What asks a named person to decide and keeps nothing back."""
    return [
        BlockerRow(one.sentence, one.way_out, reverse("web:oil", args=[slug]))
        for one in oil_asks(judged)
    ]


def _link(slug: str, one: Blocker, judged: JudgedJob) -> str:
    """The page on which a blocker is lifted."""
    kind, _, name = one.about.partition(":")
    if one.about in judged.state.items and kind != "run":
        if item_kind(one.about) == "plug":
            return reverse("web:plug", args=[slug, item_name(one.about)])
        return reverse("web:item", args=[slug, kind, name])
    match kind:
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
        case "record" if ":recurring:" in name:
            return f"{reverse('web:due', args=[slug])}#due-{name.rpartition(':')[2]}"
        case "record" if name.partition(":")[0] in WHATS:
            return reverse("web:record", args=[slug, name.partition(":")[0]])
        case "record":
            return reverse("web:records", args=[slug])
    return reverse("web:tray", args=[slug])


# Next due


def due_rows(judged: JudgedJob) -> list[DueRow]:
    """Everything that recurs or was promised: what is past first, then as recurring.toml has it."""
    rows = [_due_row(one, judged) for one in judged.due]
    return sorted(rows, key=lambda row: not row.overdue)


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
