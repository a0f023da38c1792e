"""Limits: the bound, and whose it is. A limit with no source is shown and judges nothing."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Annotated, Any, ClassVar

from pydantic import Field

from rehang.trade.declared.amounts import Amount
from rehang.trade.declared.taken import Where, inside, only, read, tables
from rehang.trade.declared.values import (
    STRICT,
    Day,
    ListOf,
    NotInFile,
    OneOf,
    TableOf,
    Text,
    Whole,
    nothing,
)
from rehang.trade.facts.for_models import Models, is_for
from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import QUANTITIES, Quantity, parse_amount, show, show_record
from rehang.trade.terms.wording import is_blank, listed, on_day

__all__ = [
    "DROPS",
    "FROM_MEAN",
    "Limit",
    "LimitsFile",
    "age_limit",
    "bound_faults",
    "limit_faults",
    "limit_for",
    "limit_from",
    "limit_to_file",
    "limit_words",
    "limits_from",
]

# Methods of the checks whose limit may name the speed that they are taken from.
DROPS = ("drop", "mag_difference")
# How far a part's figure lies from the mean of all, either way: worked out, and nothing is set to it.
FROM_MEAN = "from_mean"
# In tenths of a per cent.
WHOLE_SHARE = 1000
_AS_SHOWN: Mapping[str, Any] = nothing()


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """Bounds for one check, in base steps of ``quantity``, with whose they are.

    ``use`` is ``service`` (may it go back as found), ``setting`` (set it to this when reworked) or
    empty for both. ``floor`` is ``master`` when the lower bound is the master reading of the same
    day and meter. ``wants`` are conditions as in ``state = "hot"``.
    """

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "A limit"
    __key__: ClassVar[tuple[str, ...]] = ("item", "check", "use", "wants", "models", "entered_on")
    __words__: ClassVar[str] = (
        "One bound at least. Without document, revision, entered_by and entered_on it judges nothing."
    )
    __more__: ClassVar[Mapping[str, object]] = {
        "anyOf": [{"required": [key]} for key in ("lower", "upper", "grade", "worst", "floor")]
    }

    item: Annotated[
        str, Text("Kind of item, as in plug.", needed=True), Field(title="Kind of item")
    ]
    check: Annotated[str, Text("Name of a check on that item's sheet.", needed=True)]
    use: Annotated[
        str,
        OneOf(
            ("service", "setting"),
            blank=True,
            wrong='"use" is service or setting, not "{given}".',
        ),
        Field(title="Used for"),
    ] = ""
    lower: Annotated[int | None, Amount(), Field(title="Not below")] = None
    upper: Annotated[int | None, Amount(), Field(title="Not above")] = None
    short_is_out: Annotated[
        bool,
        OneOf(
            ("out",),
            "A short is out.",
            blank=True,
            parse=bool,
            wrong='"short" may only be "out", not "{given}".',
        ),
        Field(alias="short", title="A short is"),
    ] = False
    aim: Annotated[
        int | None, Amount("What to set it to when it is reworked."), Field(title="Set it to")
    ] = None
    grade: Annotated[
        str, Text("The grade asked for, as in steady."), Field(title="Grade asked for")
    ] = ""
    at_psi: Annotated[
        int | None,
        Whole(0, 1_000, "The pressure the grade is asked at."),
        Field(title="At this pressure or above, psi"),
    ] = None
    at_rpm: Annotated[
        int | None,
        Whole(
            1,
            10_000,
            "The speed a magneto drop is asked from; that of the run's step when left out.",
        ),
        Field(title="Taken from this speed, rpm"),
    ] = None
    worst: Annotated[
        int | None,
        Whole(0, 3, "The worst open finding a look may have."),
        Field(title="Worst open finding"),
    ] = None
    floor: Annotated[
        str,
        OneOf(
            ("master",),
            "The master reading of the day.",
            blank=True,
            wrong='"floor" may only be "master", not "{given}".',
        ),
        Field(title="Or not below"),
    ] = ""
    document: Annotated[str, Text()] = ""
    revision: Annotated[str, Text(also=(int, float))] = ""
    page: Annotated[str, Text(also=(int, float))] = ""
    entered_by: Annotated[str, Text("Short name of the person."), Field(title="Put in by")] = ""
    entered_on: Annotated[date | None, Day(), Field(title="Put in on")] = None
    note: Annotated[str, Text()] = ""
    wants: Annotated[
        Mapping[str, str],
        TableOf(Text(), "Conditions a reading must have been taken under."),
        Field(title="Only when"),
    ] = field(default_factory=nothing)
    models: Models = ()
    quantity: Annotated[Quantity | None, NotInFile()] = None
    is_to_come: Annotated[bool, NotInFile()] = False

    @property
    def has_source(self) -> bool:
        # DESIGN 4: no limit with a source, NOT JUDGED; 4b, 15: blanks name nothing.
        named = (self.document, self.revision, self.entered_by)
        return self.entered_on is not None and not any(is_blank(one) for one in named)

    def counts_on(self, on: date) -> bool:
        """Whether it was put in by that day; one with no day judges nothing anyway."""
        return self.entered_on is None or self.entered_on <= on

    @property
    def source_text(self) -> str:
        """``TV4 manual, rev 6, page 7-4, put in by Marta Oduya, 2026-10-05``."""
        if is_blank(self.document):
            return "no source on file"
        parts = [self.document]
        if self.revision:
            parts.append(f"rev {self.revision}")
        if self.page:
            parts.append(f"page {self.page}")
        return ", ".join(parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitsFile:
    """``limits.toml``."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "limits.toml"
    __words__: ClassVar[str] = "Limits, each with its source."

    limit: Annotated[tuple[Limit, ...], ListOf(Limit)] = ()


class _Steps:
    """Reads the bounds of one limit: in steps of its check, or of the unit that comes first."""

    def __init__(self, quantity: Quantity | None) -> None:
        self.quantity = quantity

    def steps(self, text: str, key: str, *, above_zero: bool) -> int:
        # A bare number means what the pad takes it for, which is not on the page it came from.
        if not any(c.isalpha() or c in '%°Ω"' for c in text):
            raise BadInput(f'"{key}" is {text} with no unit. Write the unit too, as in "0.019 in".')
        if self.quantity is None:
            self.quantity = _quantity_of(text)
        return parse_amount(text, self.quantity)


def limit_from(
    raw: Mapping[str, Any],
    sheets: Mapping[str, CheckSheet],
    where: Where = lambda *keys: "",
) -> Limit:
    """A limit from ``limits.toml``.

    Raises
    ------
    BadInput
        With the place, for the first thing that cannot be.
    """
    item, name = raw.get("item"), raw.get("check")
    sheet = sheets.get(item) if isinstance(item, str) else None
    quantity = None
    if sheet is not None:
        quantity = next((c.quantity for c in sheet.checks if c.name == name), None)
    elif item == "engine" and str(name).endswith("_torque"):
        # Not taken from the unit that is written, or a pressure would pass for a torque.
        quantity = QUANTITIES["torque"]
    reader = _Steps(quantity)
    limit = read(Limit, raw, where, reader)
    if sheet is not None:
        sheet.check(limit.check, where("check"))
    if (
        # DESIGN 4a, 16: without a source it loads, without any bound it is refused.
        limit.lower is None
        and limit.upper is None
        and limit.worst is None
        and not (limit.grade or limit.floor)
    ):
        raise BadInput(
            f"The limit for {limit.item} {limit.check} has no bound. "
            'Give "lower", "upper", "grade", "worst" or "floor".',
            where(),
        )
    if limit.lower is not None and limit.upper is not None and limit.lower > limit.upper:
        raise BadInput(
            f"The lower bound {raw['lower']} is above the upper bound {raw['upper']}.",
            where("lower"),
        )
    if limit.at_rpm is not None and (sheet is None or sheet.check(limit.check).method not in DROPS):
        raise BadInput(
            f'"at_rpm" is the speed that a drop is taken from, and {limit.item} {limit.check} is no drop. '
            "Leave it out.",
            where("at_rpm"),
        )
    return replace(limit, quantity=reader.quantity)


def limit_to_file(raw: Mapping[str, Any], sheets: Mapping[str, CheckSheet], where: Where) -> Limit:
    """A limit that is put on file now: what an older file may hold is refused too.

    Raises
    ------
    BadInput
        With the place, for the first thing that cannot be.
    """
    made = limit_from(raw, sheets, where)
    sheet = sheets.get(made.item)
    check = sheet.check(made.check) if sheet is not None else None
    for key, said in bound_faults(made, check, raw):
        raise BadInput(said, where(key))
    return made


def bound_faults(
    limit: Limit, check: Check | None, written: Mapping[str, Any] = _AS_SHOWN
) -> list[tuple[str, str]]:
    """Bounds that no reading can lie at: key, sentence. ``check`` is None for the torque of a card.

    As a reading is (``readings.py``): none is below zero, and no share is above that of a new one.
    """
    if limit.quantity is None:
        return []
    found = []
    label = check.label if check is not None else limit.check.replace("_", " ")
    is_worked_out = check is not None and check.method == FROM_MEAN
    for key in ("lower", "upper", "aim"):
        bound = getattr(limit, key)
        if bound is None:
            continue
        given = str(written.get(key) or show_record(bound, limit.quantity))
        said = ""
        if bound < 0:
            said = f'"{given}" is below zero, and "{label}" has no sign. '
            said += (
                "Write how far it may lie either way as what it is not above, and nothing else."
                if is_worked_out
                else "Write the figure without a minus."
            )
        elif key == "aim" and is_worked_out:
            said = f'Nothing is set to "{given}": "{label}" is worked out. Leave it empty.'
        elif limit.quantity.name == "share" and bound > WHOLE_SHARE:
            said = f'"{given}" is more than 100 % of a new one. Write 100 % or less.'
        if said:
            found.append((key, said))
    return found


def limits_from(
    raw: Mapping[str, Any],
    sheets: Mapping[str, CheckSheet],
    where: Where,
    people: Collection[str],
) -> tuple[Limit, ...]:
    """The limits of ``limits.toml``, each put in by one of the people."""
    only(raw, ("limit",), "limits.toml", where)
    found = tuple(
        limit_from(one, sheets, inside(where, "limit", number))
        for number, one in enumerate(tables("limit", raw, where))
    )
    for number, one in enumerate(found):
        if one.entered_by and one.entered_by not in people:
            raise BadInput(
                f'"{one.entered_by}" is not in the list of people.',
                where("limit", number, "entered_by"),
            )
    return found


def _quantity_of(text: str) -> Quantity:
    unit = text.strip().lstrip("+-0123456789.,").strip()
    for quantity in QUANTITIES.values():
        if unit in quantity.units:
            return quantity
    raise BadInput(f'"{text}" has the unit "{unit}", which is not known.')


def limit_for(limits: tuple[Limit, ...], item_kind: str, check: str, use: str) -> Limit | None:
    """The limit that answers this check for this use; the newest when there are several."""
    fitting = [
        one
        for one in limits
        if one.item == item_kind
        and one.check == check
        and one.use in ("", use)
        and not one.is_to_come
    ]
    # DESIGN 4a, 6: with one figure it is both.
    exact = [one for one in fitting if one.use == use] or fitting
    # An older revision may stay on file beside the one that counts.
    return max(exact, key=lambda one: one.entered_on or date.min, default=None)


def age_limit(limits: Sequence[Limit], kind: str, check: str, of_type: str) -> Limit | None:
    """The rule on file for the age of a part of one type; of another type it says nothing."""
    # Rubber has its years and PTFE goes on condition: common practice, no source.
    fitting = tuple(one for one in limits if one.wants.get("type") == of_type)
    return limit_for(fitting, kind, check, "service")


def limit_faults(
    limits: Sequence[Limit],
    sheets: Mapping[str, CheckSheet],
    engine_checks: Collection[str],
    model: str | None = None,
) -> list[tuple[int, str, str]]:
    """Limits that could not be told apart, or would judge nothing: number, key, sentence.

    ``engine_checks`` are the checks of item "engine": the torques of groups of fasteners. ``model``
    is the engine's; None in the shop's own list, which has those of every model.
    """
    found: list[tuple[int, str, str]] = []
    seen: dict[object, int] = {}
    for number, one in enumerate(limits):
        if one.item == "engine" and one.check not in engine_checks:
            known = ", ".join(sorted(engine_checks))
            said = f'No torque is filed as engine "{one.check}", so it would judge nothing. '
            found.append((number, "check", f"{said}There are {known}."))
        elif one.item != "engine" and one.item not in sheets:
            said = f'There is no check sheet for "{one.item}", so it would judge nothing. '
            found.append((number, "item", f"{said}Items are engine, {', '.join(sorted(sheets))}."))
        if model is not None and not is_for(one.models, model):
            said = f"It is for {listed(one.models, 'or')}, and this engine is {model or 'of no named model'}."
            found.append((number, "models", f"{said} Leave it out, or name the model."))
        # A rule of age is for one type; any other limit is told by its use and its day alone.
        sheet = sheets.get(one.item)
        check = next((c for c in sheet.checks if c.name == one.check), None) if sheet else None
        found += [(number, key, said) for key, said in bound_faults(one, check)]
        for_type = tuple(sorted(one.wants.items())) if check and check.method == "age" else ()
        same = (one.item, one.check, one.use, for_type, one.entered_on, one.models)
        # DESIGN 4b, 15: two limits for one thing on one day.
        if same in seen:
            on = f"on {on_day(one.entered_on)}" if one.entered_on else "on no day"
            found.append(
                (
                    number,
                    "check",
                    f"Two limits for {one.item} {one.check} were put in {on}, so nobody can say which "
                    'counts. Keep one, or write the later day in "entered_on".',
                )
            )
        seen.setdefault(same, number)
    return found


def limit_words(limit: Limit, *, record: bool = False) -> str:
    """The bound in words: ``16 to 19 thou``, ``5.00 kΩ or less``, ``steady at 100 psi``."""
    fmt = show_record if record else show
    q = limit.quantity
    if limit.grade:
        return f"{limit.grade} at {limit.at_psi} psi" if limit.at_psi else limit.grade
    if limit.floor:
        return "the master reading of the day, or more"
    if limit.worst is not None:
        return f"no finding worse than severity {limit.worst}"
    assert q is not None
    at = f" from {limit.at_rpm:,} rpm" if limit.at_rpm else ""
    if limit.lower is not None and limit.upper is not None:
        low, high = fmt(limit.lower, q), fmt(limit.upper, q)
        return f"{low.rsplit(' ', 1)[0]} to {high}{at}"
    if limit.upper is not None:
        return f"{fmt(limit.upper, q)} or less{at}"
    assert limit.lower is not None
    return f"{fmt(limit.lower, q)} or more{at}"
