"""Check sheets: what is looked at on an item, in what order, and what each rework voids."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from types import MappingProxyType
from typing import Any

from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import QUANTITIES, Quantity

__all__ = ["Check", "CheckSheet", "Choice", "Rework", "Word", "sheet_from"]

Where = Callable[..., str]


@dataclass(frozen=True, slots=True)
class Choice:
    """One word button of a check: its letter on the line, what it says and what it means.

    ``low`` and ``high`` are base steps for a word that stands for a share ("over half left").
    """

    letter: str
    word: str
    low: int | None = None
    high: int | None = None


@dataclass(frozen=True, slots=True)
class Check:
    """One thing measured, graded or looked at.

    ``kind`` is ``measure``, ``grade`` or ``look``. ``believable`` bounds are wider than any
    limit: outside them a number is more likely a slip than a reading. ``method`` names a rule
    of its own (``compression``, ``age``); empty for one reading against one limit. ``asks``
    are the conditions that are written down with a reading, with their words. A ``by_eye`` grade
    takes no meter. ``use`` is what a meter that takes it is for. ``required`` is
    False for what is offered and does not keep the item from a KEEP. ``hint`` is a general
    figure, shown as not approved data and never judged by.
    """

    name: str
    label: str
    letter: str
    kind: str
    order: int
    quantity: Quantity | None
    choices: tuple[Choice, ...]
    two_figures: str
    reworkable: bool
    rework_act: str
    repeat_after: str
    believable: tuple[int, int] | None
    unlikely_factor: float
    catches: str
    misses: str
    blind_to: Mapping[str, str]
    caution: str
    source: str
    required: bool = True
    method: str = ""
    asks: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    hint: str = ""
    by_eye: bool = False
    use: str = ""


@dataclass(frozen=True, slots=True)
class Rework:
    """Something done to an item: which checks it voids, and whether it clears deposits."""

    name: str
    done: str
    voids: tuple[str, ...]
    clears_deposits: bool
    caution: str


@dataclass(frozen=True, slots=True)
class Word:
    """A finding from the trade's vocabulary.

    ``severities`` are the numbers that may be picked, the higher one offered first.
    ``opens`` says what else the finding opens one on: ``cylinder`` for the one that the part came
    out of, or an item of its own (``engine:inside``). ``opens_severity`` is how bad that is, as
    bad as what was seen where it is None; ``opens_unless_drains`` keeps it to holes that oil does
    not drain to. ``opens_closed_by`` are the ways of which one must be on file before that may be
    closed: ``look`` (at it, after the finding), ``found`` (where the missing piece was found).
    ``counted`` says that what is seen is pieces to be counted, and ``at_most`` and ``at_least``
    what such a count may hold and still be what the word says. ``instead`` names the word to use
    for what a note says by the words given, as a crack with a piece missing. ``about`` names the
    look that it is the answer of, on a sheet with more than one.
    """

    name: str
    label: str
    letter: str
    severities: tuple[int, ...]
    drained_severity: int | None
    deposit: bool
    cause: str
    next_act: str
    opens: str
    opens_severity: int | None
    opens_label: str
    opens_unless_drains: bool
    source: str
    opens_closed_by: tuple[str, ...] = ()
    counted: bool = False
    at_most: Mapping[str, float] = field(default_factory=dict)
    at_least: Mapping[str, float] = field(default_factory=dict)
    instead: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    about: str = ""

    @property
    def severity(self) -> int:
        return max(self.severities)


@dataclass(frozen=True, slots=True)
class CheckSheet:
    """All of it for one kind of item.

    ``one_for`` says which items of this kind a job has: ``removed`` (those written as out),
    ``cylinder``, ``hole`` or ``magneto`` (one each, by the layout), ``hose`` (those in
    ``engine.toml``) or ``name`` (the ``names`` given).
    """

    item: str
    title: str
    checks: tuple[Check, ...]
    reworks: Mapping[str, Rework]
    words: Mapping[str, Word]
    cautions: tuple[str, ...]
    source: str
    group: str = ""
    one_for: str = "removed"
    names: tuple[str, ...] = ()

    def check(self, name: str, where: str = "") -> Check:
        for check in self.checks:
            if check.name == name:
                return check
        raise BadInput(
            f'There is no check "{name}" on the {self.item} sheet. '
            f"Its checks are {', '.join(c.name for c in self.checks)}.",
            where,
        )

    def by_letter(self, letter: str, where: str = "") -> Check:
        for check in self.checks:
            if check.letter == letter.lower():
                return check
        raise BadInput(
            f'A line begins with the letter of its check; "{letter}" is none of '
            + ", ".join(f"{c.letter} ({c.label.lower()})" for c in self.checks)
            + ".",
            where,
        )

    def word(self, name: str, where: str = "") -> Word:
        if name in self.words:
            return self.words[name]
        raise BadInput(
            f'"{name}" is not a finding word for a {self.item}. '
            f"The words are {', '.join(self.words)}.",
            where,
        )

    def rework(self, name: str, where: str = "") -> Rework:
        if name in self.reworks:
            return self.reworks[name]
        raise BadInput(
            f'"{name}" is not something done to a {self.item}. '
            f"Known acts: {', '.join(self.reworks)}.",
            where,
        )

    @property
    def look(self) -> Check:
        """The check that is a look at all of it and takes the finding words; every sheet has one."""
        return next(c for c in self.checks if c.kind == "look")

    @property
    def looks(self) -> tuple[Check, ...]:
        """Every check that is a look: the one at all of it, then those at a part of it."""
        return tuple(c for c in self.checks if c.kind == "look")

    def answers_look(self, check: str, seen: str, word: Word, severity: int) -> bool:
        """Whether something seen at the look ``seen`` answers the look ``check``.

        A look at all of it answers those at a part where what it found is of that part, or of none
        and nothing that keeps an engine from service.
        """
        if seen == check:
            return True
        return seen == self.look.name and (
            word.about == check or (not word.about and severity <= 1)
        )

    def words_for(self, look: Check) -> tuple[Word, ...]:
        """The words that a look is answered by: its own, and those that are about no look alone."""
        if len(self.looks) == 1:
            return tuple(self.words.values())
        own = tuple(w for w in self.words.values() if w.about == look.name)
        plain = tuple(w for w in self.words.values() if not w.about)
        return (
            (*plain, *own) if look is self.look else (*(w for w in plain if w.severity == 0), *own)
        )

    @property
    def look_words(self) -> tuple[Word, ...]:
        return tuple(w for w in self.words.values() if w.letter)


_CHECK_KEYS = {
    "name", "label", "letter", "kind", "quantity", "choice", "two_figures", "reworkable",
    "rework_act", "repeat_after", "believable", "unlikely_factor", "catches", "misses",
    "blind_to", "caution", "source", "required", "method", "asks", "hint", "by_eye", "use",
}  # fmt: skip
_WORD_KEYS = {
    "name", "label", "letter", "severity", "drained_severity", "deposit", "cause", "next",
    "opens", "opens_severity", "opens_label", "opens_unless_drains", "source", "opens_closed_by",
    "counted", "at_most", "at_least", "instead", "about",
}  # fmt: skip
_REWORK_KEYS = {"name", "done", "voids", "clears_deposits", "caution"}


def sheet_from(raw: Mapping[str, Any], where: Where = lambda *keys: "") -> CheckSheet:
    """A check sheet from its file."""
    _only(raw, {"sheet", "check", "rework", "word"}, "A check sheet", where())
    head = raw.get("sheet")
    if not isinstance(head, dict) or "item" not in head:
        raise BadInput('The sheet needs [sheet] with "item".', where())
    checks = []
    for number, one in enumerate(raw.get("check", [])):
        place = where("check", number)
        _only(one, _CHECK_KEYS, "A check", place)
        quantity = one.get("quantity", "")
        if quantity and quantity not in QUANTITIES:
            raise BadInput(
                f'"{quantity}" is not a quantity. Known: {", ".join(QUANTITIES)}.', place
            )
        if one["kind"] not in ("measure", "grade", "look"):
            raise BadInput(f'A check is a measure, a grade or a look, not "{one["kind"]}".', place)
        for choice in one.get("choice", []):
            _only(choice, {each.name for each in fields(Choice)}, "A choice", place)
        low_high = one.get("believable")
        checks.append(
            Check(
                name=one["name"],
                label=one["label"],
                letter=one["letter"],
                kind=one["kind"],
                order=number,
                quantity=QUANTITIES[quantity] if quantity else None,
                choices=tuple(Choice(**c) for c in one.get("choice", [])),
                two_figures=one.get("two_figures", ""),
                reworkable=one.get("reworkable", False),
                rework_act=one.get("rework_act", ""),
                repeat_after=one.get("repeat_after", ""),
                believable=tuple(low_high) if low_high else None,
                unlikely_factor=float(one.get("unlikely_factor", 5)),
                catches=one.get("catches", ""),
                misses=one.get("misses", ""),
                blind_to=MappingProxyType(one.get("blind_to", {})),
                caution=one.get("caution", ""),
                source=one.get("source", ""),
                required=one.get("required", True),
                method=one.get("method", ""),
                asks=MappingProxyType(
                    {name: tuple(words) for name, words in one.get("asks", {}).items()}
                ),
                hint=one.get("hint", ""),
                by_eye=one.get("by_eye", False),
                use=one.get("use", one["name"]),
            )
        )
    words = {}
    for number, one in enumerate(raw.get("word", [])):
        place = where("word", number)
        _only(one, _WORD_KEYS, "A finding word", place)
        given = one["severity"]
        words[one["name"]] = Word(
            name=one["name"],
            label=one["label"],
            letter=one.get("letter", ""),
            severities=tuple(given) if isinstance(given, list) else (given,),
            drained_severity=one.get("drained_severity"),
            deposit=one.get("deposit", False),
            cause=one.get("cause", ""),
            next_act=one.get("next", ""),
            opens=one.get("opens", ""),
            opens_severity=one.get("opens_severity"),
            opens_label=one.get("opens_label", ""),
            opens_unless_drains=one.get("opens_unless_drains", False),
            source=one.get("source", ""),
            opens_closed_by=tuple(one.get("opens_closed_by", ())),
            counted=one.get("counted", False),
            at_most=MappingProxyType(dict(one.get("at_most", {}))),
            at_least=MappingProxyType(dict(one.get("at_least", {}))),
            instead=MappingProxyType({k: tuple(v) for k, v in one.get("instead", {}).items()}),
            about=one.get("about", ""),
        )
    reworks = {}
    names = {c.name for c in checks}
    for number, one in enumerate(raw.get("word", [])):
        if one.get("about") and one["about"] not in names:
            raise BadInput(
                f'"{one["name"]}" is about "{one["about"]}", which is not a check.',
                where("word", number),
            )
    for number, one in enumerate(raw.get("rework", [])):
        place = where("rework", number)
        _only(one, _REWORK_KEYS, "A rework", place)
        for voided in one["voids"]:
            if voided not in names:
                raise BadInput(f'"{one["name"]}" voids "{voided}", which is not a check.', place)
        reworks[one["name"]] = Rework(
            name=one["name"],
            done=one["done"],
            voids=tuple(one["voids"]),
            clears_deposits=one.get("clears_deposits", False),
            caution=one.get("caution", ""),
        )
    if not any(c.kind == "look" for c in checks):
        raise BadInput("A check sheet has a check that is a look.", where())
    letters = [c.letter for c in checks]
    look_letters = [w.letter for w in words.values() if w.letter]
    for kind, given_letters in (("checks", letters), ("finding words", look_letters)):
        clash = sorted({x for x in given_letters if given_letters.count(x) > 1})
        if clash:
            raise BadInput(f"Two {kind} share the letter {', '.join(clash)}.", where())
    return CheckSheet(
        item=head["item"],
        title=str(head.get("title", head["item"])),
        checks=tuple(checks),
        reworks=MappingProxyType(reworks),
        words=MappingProxyType(words),
        cautions=tuple(head.get("cautions", ())),
        source=head.get("source", ""),
        group=head.get("group", ""),
        one_for=head.get("one_for", "removed"),
        names=tuple(head.get("names", ())),
    )


def _only(given: Mapping[str, Any], known: set[str], thing: str, where: str) -> None:
    for key in given:
        if key not in known:
            raise BadInput(f'{thing} has no "{key}". It has {", ".join(sorted(known))}.', where)
