"""Limits: the bound, and whose it is. A limit with no source is shown and judges nothing."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType
from typing import Any

from rehang.trade.facts.items import CheckSheet
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import QUANTITIES, Quantity, parse_amount, show, show_record
from rehang.trade.terms.wording import is_blank, on_day

__all__ = ["Limit", "limit_faults", "limit_for", "limit_from", "limit_words"]

Where = Callable[..., str]


@dataclass(frozen=True, slots=True)
class Limit:
    """Bounds for one check, in base steps, with document, revision, page, who and when.

    ``use`` is ``service`` (may it go back as found), ``setting`` (set it to this when
    reworked) or empty for both. ``grade`` is the grade asked for, ``at_psi`` the pressure it
    is asked at, ``worst`` the worst open finding a look may have. ``floor`` is ``master`` when
    the lower bound is the master reading of the same day and meter. ``wants`` are conditions a
    reading must have been taken under to answer it, as in ``state = "hot"``.
    """

    item: str
    check: str
    quantity: Quantity | None
    lower: int | None
    upper: int | None
    short_is_out: bool
    grade: str
    at_psi: int | None
    worst: int | None
    aim: int | None
    floor: str
    wants: Mapping[str, str]
    use: str
    document: str
    revision: str
    page: str
    entered_by: str
    entered_on: date | None
    note: str
    is_to_come: bool = False

    @property
    def has_source(self) -> bool:
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


_KEYS = {
    "item", "check", "lower", "upper", "short", "grade", "at_psi", "worst", "aim", "use",
    "document", "revision", "page", "entered_by", "entered_on", "note", "floor", "wants",
}  # fmt: skip


def limit_from(
    raw: Mapping[str, Any],
    sheets: Mapping[str, CheckSheet],
    where: Where = lambda *keys: "",
) -> Limit:
    """A limit from ``limits.toml``."""
    for key in raw:
        if key not in _KEYS:
            raise BadInput(
                f'A limit has no "{key}". It has {", ".join(sorted(_KEYS))}.', where(key)
            )
    for key in ("item", "check"):
        if not isinstance(raw.get(key), str) or not raw[key]:
            raise BadInput(f'A limit needs "{key}".', where())
    quantity: Quantity | None = None
    sheet = sheets.get(raw["item"])
    if sheet is not None:
        quantity = sheet.check(raw["check"], where("check")).quantity
    elif raw["item"] == "engine" and raw["check"].endswith("_torque"):
        # Not taken from the unit that is written, or a pressure would pass for a torque.
        quantity = QUANTITIES["torque"]

    def bound(key: str) -> int | None:
        nonlocal quantity
        if key not in raw:
            return None
        text = str(raw[key])
        if not any(c.isalpha() or c in '%°Ω"' for c in text):
            raise BadInput(
                f'"{key}" is {text} with no unit. Write the unit too, as in "0.019 in".',
                where(key),
            )
        if quantity is None:
            quantity = _quantity_of(text, where(key))
        return parse_amount(text, quantity, where=where(key))

    lower, upper, aim = bound("lower"), bound("upper"), bound("aim")
    if raw.get("floor", "") not in ("", "master"):
        raise BadInput(f'"floor" may only be "master", not "{raw["floor"]}".', where("floor"))
    if (
        lower is None
        and upper is None
        and not raw.get("grade")
        and raw.get("worst") is None
        and not raw.get("floor")
    ):
        raise BadInput(
            f"The limit for {raw['item']} {raw['check']} has no bound. "
            'Give "lower", "upper", "grade", "worst" or "floor".',
            where(),
        )
    if lower is not None and upper is not None and lower > upper:
        raise BadInput(
            f"The lower bound {raw['lower']} is above the upper bound {raw['upper']}.",
            where("lower"),
        )
    if raw.get("use", "") not in ("", "service", "setting"):
        raise BadInput(f'"use" is service or setting, not "{raw["use"]}".', where("use"))
    if raw.get("short", "") not in ("", "out"):
        raise BadInput(f'"short" may only be "out", not "{raw["short"]}".', where("short"))
    entered_on = raw.get("entered_on")
    if entered_on is not None and not isinstance(entered_on, date):
        raise BadInput(
            f'"entered_on" is {entered_on!r}. Write a date without quotes, as in 2026-10-05.',
            where("entered_on"),
        )
    return Limit(
        item=raw["item"],
        check=raw["check"],
        quantity=quantity,
        lower=lower,
        upper=upper,
        short_is_out=raw.get("short") == "out",
        grade=raw.get("grade", ""),
        at_psi=raw.get("at_psi"),
        worst=raw.get("worst"),
        aim=aim,
        floor=raw.get("floor", ""),
        wants=MappingProxyType({str(k): str(v) for k, v in raw.get("wants", {}).items()}),
        use=raw.get("use", ""),
        document=raw.get("document", ""),
        revision=str(raw.get("revision", "")),
        page=str(raw.get("page", "")),
        entered_by=raw.get("entered_by", ""),
        entered_on=entered_on,
        note=raw.get("note", ""),
    )


def _quantity_of(text: str, where: str) -> Quantity:
    unit = text.strip().lstrip("+-0123456789.,").strip()
    for quantity in QUANTITIES.values():
        if unit in quantity.units:
            return quantity
    raise BadInput(f'"{text}" has the unit "{unit}", which is not known.', where)


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
    exact = [one for one in fitting if one.use == use] or fitting
    return max(exact, key=lambda one: one.entered_on or date.min, default=None)


def limit_faults(
    limits: Sequence[Limit], sheets: Mapping[str, CheckSheet], engine_checks: Collection[str]
) -> list[tuple[int, str, str]]:
    """Limits that could not be told apart, or would judge nothing: number, key, sentence.

    ``engine_checks`` are the checks of item "engine": the torques of groups of fasteners.
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
        # A rule of age is for one type; any other limit is told by its use and its day alone.
        sheet = sheets.get(one.item)
        check = next((c for c in sheet.checks if c.name == one.check), None) if sheet else None
        for_type = tuple(sorted(one.wants.items())) if check and check.method == "age" else ()
        key = (one.item, one.check, one.use, for_type, one.entered_on)
        if key in seen:
            on = f"on {on_day(one.entered_on)}" if one.entered_on else "on no day"
            found.append(
                (
                    number,
                    "check",
                    f"Two limits for {one.item} {one.check} were put in {on}, so nobody can say which "
                    'counts. Keep one, or write the later day in "entered_on".',
                )
            )
        seen.setdefault(key, number)
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
    if limit.lower is not None and limit.upper is not None:
        low, high = fmt(limit.lower, q), fmt(limit.upper, q)
        return f"{low.rsplit(' ', 1)[0]} to {high}"
    if limit.upper is not None:
        return f"{fmt(limit.upper, q)} or less"
    assert limit.lower is not None
    return f"{fmt(limit.lower, q)} or more"
