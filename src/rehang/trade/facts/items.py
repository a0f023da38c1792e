"""Check sheets: what is looked at on an item, in what order, and what each rework voids."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from types import MappingProxyType
from typing import Annotated, Any, ClassVar

from pydantic import Field

from rehang.trade.declared.taken import Where, read
from rehang.trade.declared.values import (
    LENIENT,
    STRICT,
    Flag,
    ListOf,
    NotInFile,
    Number,
    OneOf,
    TableOf,
    Text,
    Whole,
    nothing,
)
from rehang.trade.facts.fuel_systems import FUEL_CHECKS, FUEL_SYSTEMS
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import QUANTITIES, Quantity

__all__ = ["Check", "CheckSheet", "ChecksFile", "Choice", "Rework", "Word", "sheet_from"]

_NEEDS = 'This {table} needs "{key}". Write it below.'


def _quantity(name: str) -> Quantity | None:
    return QUANTITIES[name] if name else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One word button of a check; ``low`` and ``high`` are base steps for a word that is a share."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "A choice"
    __needs__: ClassVar[str] = _NEEDS.replace("{table}", "choice")

    letter: Annotated[str, Text()]
    word: Annotated[str, Text()]
    low: Annotated[int | None, Whole(), Field(title="From, in the smallest step of its unit")] = (
        None
    )
    high: Annotated[int | None, Whole(), Field(title="To, in the smallest step of its unit")] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One thing measured, graded or looked at.

    ``believable`` bounds are wider than any limit: outside them a number is more likely a slip than
    a reading. ``asks`` are the conditions that are written down with a reading, with their words.
    A check that is not ``required`` is offered and does not keep the item from a KEEP.
    """

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "A check"
    __key__: ClassVar[tuple[str, ...]] = ("name",)
    __needs__: ClassVar[str] = _NEEDS.replace("{table}", "check")

    name: Annotated[str, Text(), Field(title="Short name")]
    label: Annotated[str, Text(), Field(title="Check")]
    letter: Annotated[str, Text("What a line for this check begins with.")]
    kind: Annotated[
        str,
        OneOf(
            ("measure", "grade", "look"),
            wrong='A check is a measure, a grade or a look, not "{given}".',
        ),
        Field(title="Kind of check"),
    ]
    order: Annotated[int, NotInFile()] = 0
    quantity: Annotated[
        Quantity | None,
        OneOf(
            tuple(QUANTITIES),
            blank=True,
            parse=_quantity,
            wrong='"{given}" is not a quantity. Known: {options}.',
        ),
        Field(title="Measures"),
    ] = None
    choices: Annotated[
        tuple[Choice, ...], ListOf(Choice), Field(alias="choice", title="Words to choose from")
    ] = ()
    two_figures: Annotated[str, Text(), Field(title="What the two figures are")] = ""
    points: Annotated[
        int,
        Whole(0, 72, "So many figures evenly round one turn are read; the reading is their range."),
        Field(title="Figures round a turn"),
    ] = 0
    first_on: Annotated[
        bool,
        Flag("It is read on the stroke of the first cylinder to fire, and void while that is off."),
        Field(title="Takes the first cylinder on"),
    ] = False
    reworkable: Annotated[bool, Flag(), Field(title="Rework may mend it")] = False
    rework_act: Annotated[str, Text(), Field(title="Rework that mends it")] = ""
    repeat_after: Annotated[
        str,
        Text("An OUT counts once it is repeated after this act."),
        Field(title="Read again after"),
    ] = ""
    believable: Annotated[
        tuple[int, int] | None,
        ListOf(Whole(), least=2, most=2),
        Field(title="Believable from and to, in its smallest step"),
    ] = None
    # A slipped point is ten times out, and wear is not five (our choice, no source).
    unlikely_factor: Annotated[float, Number(), Field(title="Unlikely beyond so many times")] = 5.0
    apart_below: Annotated[
        float | None,
        Number(
            1,
            1_000,
            "So many times below the median of its fellows, a measured value asks for a decision.",
        ),
        Field(title="Asks for a decision so many times below its fellows"),
    ] = None
    catches: Annotated[str, Text(), Field(title="What it catches")] = ""
    misses: Annotated[str, Text(), Field(title="What it misses")] = ""
    blind_to: Annotated[Mapping[str, str], TableOf(Text()), Field(title="What it cannot see")] = (
        field(default_factory=nothing)
    )
    caution: Annotated[str, Text()] = ""
    source: Annotated[str, Text(), Field(title="Where it is from")] = ""
    required: Annotated[bool, Flag(), Field(title="Needed for a KEEP")] = True
    method: Annotated[
        str, Text("A rule of its own: compression or age."), Field(title="Rule of its own")
    ] = ""
    asks: Annotated[
        Mapping[str, tuple[str, ...]], TableOf(ListOf(Text())), Field(title="Asked with a reading")
    ] = field(default_factory=nothing)
    hint: Annotated[
        str,
        Text("A general figure, shown as not approved data and never judged by."),
        Field(title="General figure"),
    ] = ""
    by_eye: Annotated[bool, Flag("A grade that takes no meter.")] = False
    magnetos: Annotated[
        int,
        Whole(0, 2, "Asked of an engine with so many magnetos at least."),
        Field(title="From so many magnetos on"),
    ] = 0
    fuel_system: Annotated[
        str,
        OneOf(
            FUEL_CHECKS,
            "Asked of an engine whose fuel is metered so; known: of each whose fuel system is on file.",
            blank=True,
        ),
        Field(title="Of engines with this fuel system"),
    ] = ""
    asked_after: Annotated[
        str,
        Text("A rework. Only offered before it, and needed for a KEEP once it was done."),
        Field(title="Asked for after"),
    ] = ""
    odd_one: Annotated[
        bool,
        Flag("One that stands apart from its fellows by Grubbs' test asks for a decision."),
        Field(title="The odd one asks for a decision"),
    ] = False
    judged_by: Annotated[
        str,
        Text("Another check that judges its figure, so that it needs no limit of its own."),
        Field(title="Judged by"),
    ] = ""
    use: Annotated[
        str,
        Text("What a meter that takes this check is for. None: the check's name."),
        Field(title="Meters that take it"),
    ] = ""

    @property
    def is_read_in_rows(self) -> bool:
        """Whether a person may read it of several parts on one page, a figure or a word of each."""
        alone = self.points or self.method or self.asks
        return (self.kind == "measure" or self.by_eye) and not alone


@dataclass(frozen=True, slots=True, kw_only=True)
class Rework:
    """Something done to an item: which checks it voids, and whether it clears deposits."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "A rework"
    __key__: ClassVar[tuple[str, ...]] = ("name",)
    __needs__: ClassVar[str] = _NEEDS.replace("{table}", "rework")

    name: Annotated[str, Text(), Field(title="Short name")]
    done: Annotated[str, Text(), Field(title="What was done")]
    voids: Annotated[tuple[str, ...], ListOf(Text()), Field(title="Checks it voids")]
    clears_deposits: Annotated[bool, Flag()] = False
    caution: Annotated[str, Text()] = ""


# What a count may hold and still be what a word says.
_FIGURES = TableOf(Number(), known=("pieces", "magnetic", "largest"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """A finding from the trade's vocabulary.

    ``severities`` are the numbers that may be picked, the higher one offered first. ``opens`` says
    what else the finding opens one on: ``cylinder`` for the one that the part came out of, or an
    item of its own (``engine:inside``), as bad as ``opens_severity`` or as what was seen.
    ``opens_closed_by`` are the ways of which one must be on file before that may be closed:
    ``look`` (at it, after the finding), ``found`` (where the missing piece was found). ``counted``
    says that what is seen is pieces to be counted. ``instead`` names the word to use for what a note
    says by the words given, as a crack with a piece missing.
    """

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "A finding word"
    __key__: ClassVar[tuple[str, ...]] = ("name",)
    __needs__: ClassVar[str] = _NEEDS.replace("{table}", "word")

    name: Annotated[str, Text(), Field(title="Short name")]
    label: Annotated[str, Text(), Field(title="Word")]
    letter: Annotated[str, Text()] = ""
    severities: Annotated[
        tuple[int, ...],
        ListOf(Whole(), one=True, least=1),
        Field(alias="severity", title="Severity"),
    ]
    drained_severity: Annotated[
        int | None, Whole(), Field(title="Severity where oil drains to")
    ] = None
    deposit: Annotated[bool, Flag(), Field(title="It is a deposit")] = False
    cause: Annotated[str, Text(), Field(title="Likely cause")] = ""
    next_act: Annotated[str, Text(), Field(alias="next", title="What to do next")] = ""
    opens: Annotated[str, Text(), Field(title="Opens a finding on")] = ""
    opens_severity: Annotated[int | None, Whole(), Field(title="How bad that one is")] = None
    opens_label: Annotated[str, Text(), Field(title="What that one is called")] = ""
    opens_unless_drains: Annotated[bool, Flag(), Field(title="Not where oil drains to")] = False
    opens_closed_by: Annotated[
        tuple[str, ...], ListOf(OneOf(("look", "found"))), Field(title="What closes that one")
    ] = ()
    counted: Annotated[bool, Flag(), Field(title="Pieces are counted")] = False
    at_most: Annotated[Mapping[str, float], _FIGURES] = field(default_factory=nothing)
    at_least: Annotated[Mapping[str, float], _FIGURES] = field(default_factory=nothing)
    instead: Annotated[
        Mapping[str, tuple[str, ...]], TableOf(ListOf(Text())), Field(title="Use another word for")
    ] = field(default_factory=nothing)
    about: Annotated[
        str,
        Text("The look it is the answer of, on a sheet with more than one."),
        Field(title="Answers the look"),
    ] = ""
    source: Annotated[str, Text(), Field(title="Where it is from")] = ""

    @property
    def severity(self) -> int:
        # The higher one is offered; whoever sees less picks the other (DESIGN 4a, 11).
        return max(self.severities)


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetHead:
    """``[sheet]`` of a check sheet.

    ``one_for`` says which items of this kind a job has: ``removed`` (those written as out),
    ``cylinder``, ``hole`` or ``magneto`` (one each, by the layout), ``hose`` (those in
    ``engine.toml``) or ``name`` (the ``names`` given).
    """

    __pydantic_config__ = LENIENT
    __needs__: ClassVar[str] = 'The sheet needs [sheet] with "item".'

    item: Annotated[str, Text(), Field(title="Kind of item")]
    title: Annotated[str, Text()] = ""
    source: Annotated[str, Text(), Field(title="Where it is from")] = ""
    cautions: Annotated[tuple[str, ...], ListOf(Text())] = ()
    group: Annotated[str, Text()] = ""
    one_for: Annotated[
        str,
        Text(known=("removed", "cylinder", "hole", "magneto", "hose", "name", "accessory", "run")),
        Field(title="One for each"),
    ] = "removed"
    names: Annotated[tuple[str, ...], ListOf(Text())] = ()
    magnetos: Annotated[
        int,
        Whole(0, 2, "Only an engine with so many magnetos has such items."),
        Field(title="From so many magnetos on"),
    ] = 0
    when_off: Annotated[
        bool,
        Flag("Only a cylinder that came off in this job has such an item."),
        Field(title="Only for a cylinder that came off"),
    ] = False
    by_name: Annotated[
        bool,
        Flag("A job looks at it where it names it, and not by looking at every kind."),
        Field(title="Only where it is asked for"),
    ] = False
    off_voids: Annotated[
        tuple[str, ...],
        ListOf(Text(), "Checks that a cylinder's coming off ends."),
        Field(title="Checks that end when the cylinder comes off"),
    ] = ()
    read_on: Annotated[
        bool,
        Flag("What is read while the cylinder is off does not count."),
        Field(title="Read with the cylinder on"),
    ] = False
    fuel_system: Annotated[
        str,
        OneOf(
            FUEL_CHECKS,
            "Only an engine whose fuel is metered so has such items; known: each whose fuel system is "
            "on file.",
            blank=True,
        ),
        Field(title="Of engines with this fuel system"),
    ] = ""
    goes_with: Annotated[
        str,
        Text(
            "A job that looks at this kind looks at it too, where the engine is known to have it."
        ),
        Field(title="Looked at with"),
    ] = ""
    names_for: Annotated[
        Mapping[str, tuple[str, ...]],
        TableOf(
            ListOf(Text()), "Its names on an engine with that fuel system.", known=FUEL_SYSTEMS
        ),
        Field(title="Names by fuel system"),
    ] = field(default_factory=nothing)
    put_in_voids: Annotated[
        tuple[str, ...],
        ListOf(Text(), "Checks that end when it comes off or goes in."),
        Field(title="Checks that end when it goes in"),
    ] = ()
    inspection: Annotated[
        str, Text("What of an annual or 100-hour inspection looks at it, as a regulation says.")
    ] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChecksFile:
    """``checks.toml``."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "A check sheet"
    __needs__: ClassVar[str] = 'The sheet needs [sheet] with "item".'
    __words__: ClassVar[str] = "A check sheet that takes the place of the shipped one."

    sheet: Annotated[SheetHead, Field(title="The sheet")]
    check: Annotated[tuple[Check, ...], ListOf(Check)] = ()
    word: Annotated[tuple[Word, ...], ListOf(Word)] = ()
    rework: Annotated[tuple[Rework, ...], ListOf(Rework)] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckSheet(SheetHead):
    """All of it for one kind of item."""

    checks: tuple[Check, ...]
    reworks: Mapping[str, Rework]
    words: Mapping[str, Word]

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
    def is_of_engine(self) -> bool:
        """Whether a job looks at it because the engine's file says that the engine has it."""
        return bool(self.goes_with) or self.one_for == "accessory"

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
            # Of the plain words those for nothing wrong: the others are of the whole item.
            (*plain, *own) if look is self.look else (*(w for w in plain if w.severity == 0), *own)
        )

    @property
    def look_words(self) -> tuple[Word, ...]:
        return tuple(w for w in self.words.values() if w.letter)


def sheet_from(raw: Mapping[str, Any], where: Where = lambda *keys: "") -> CheckSheet:
    """A check sheet from its file.

    Raises
    ------
    BadInput
        With the place, for the first thing that cannot be.
    """
    file = read(ChecksFile, raw, where)
    names = {one.name for one in file.check}
    for number, check in enumerate(file.check):
        if check.kind == "measure" and check.quantity is None:
            raise BadInput('This check needs "quantity". Write it below.', where("check", number))
    for number, word in enumerate(file.word):
        if word.about and word.about not in names:
            raise BadInput(
                f'"{word.name}" is about "{word.about}", which is not a check.',
                where("word", number),
            )
    for number, rework in enumerate(file.rework):
        for voided in rework.voids:
            if voided not in names:
                raise BadInput(
                    f'"{rework.name}" voids "{voided}", which is not a check.',
                    where("rework", number),
                )
    if not any(one.kind == "look" for one in file.check):
        raise BadInput("A check sheet has a check that is a look.", where())
    words = {one.name: one for one in file.word}
    _check_letters("checks", [one.letter for one in file.check], where)
    _check_letters("finding words", [w.letter for w in words.values() if w.letter], where)
    head = {each.name: getattr(file.sheet, each.name) for each in fields(SheetHead)}
    return CheckSheet(
        **{**head, "title": file.sheet.title or file.sheet.item},
        checks=tuple(
            replace(one, order=number, use=one.use or one.name)
            for number, one in enumerate(file.check)
        ),
        reworks=MappingProxyType({one.name: one for one in file.rework}),
        words=MappingProxyType(words),
    )


def _check_letters(kind: str, letters: Sequence[str], where: Where) -> None:
    """Two of one letter could not be told apart on a line."""
    # DESIGN 4a, 8.
    clash = sorted({one for one in letters if letters.count(one) > 1})
    if clash:
        raise BadInput(f"Two {kind} share the letter {', '.join(clash)}.", where())
