"""One row of a table of limits as its file has it: a manual's words for part, check and unit.

What a spreadsheet has done to the row (a page made a date, cells one column off) is refused.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from rehang.trade.facts.items import CheckSheet
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import plain_minus

__all__ = ["limit_cells"]

_BOUNDS = ("lower", "upper", "aim")
_BARE = re.compile(r"[-+]?[\d.,]+$")
_MONTH = r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*"
# What becomes of a page 7-4: 4 Jul, 07/04/2026, 4.7.2026, 2026-07-04.
_DATE = re.compile(
    rf"\d{{4}}-\d\d-\d\d|\d{{1,2}}[./]\d{{1,2}}[./]\d{{2,4}}"
    rf"|\d{{1,2}}[- .]{{1,2}}{_MONTH}(?:[- ]\d{{2,4}})?|{_MONTH}[- ]\d{{1,4}}",
    re.IGNORECASE,
)
ENGINE = "engine"
_TORQUE = ("torque", "torques", ENGINE)


def limit_cells(
    cells: Mapping[str, str], sheets: Mapping[str, CheckSheet], torques: Mapping[str, str]
) -> dict[str, str]:
    """The cells of a row with part and check by their names, and the unit with each bound.

    Raises
    ------
    BadInput
        There is no such part, the cells stand one column off, or the page has become a date.
    """
    found = {key: text for key, text in cells.items() if key != "unit"}
    if "item" in found:
        found["item"] = _part(found["item"], sheets)
        if "check" in found:
            found["check"] = _check(found["item"], found["check"], sheets, torques)
    if _DATE.fullmatch(found.get("page", "").strip()):
        raise BadInput(
            f'"page" is "{found["page"]}", which is a date. A spreadsheet turns 7-4 into one; set the '
            "column to text and write it again."
        )
    unit = cells.get("unit", "").strip()
    for key in _BOUNDS:
        text = plain_minus(found.get(key, "").strip())
        if text and not any(c.isdigit() for c in text):
            raise _off(text, f"the {'figure to set' if key == 'aim' else key + ' bound'}")
        if unit and _BARE.match(text):
            found[key] = f"{text} {unit}"
    return found


def _part(text: str, sheets: Mapping[str, CheckSheet]) -> str:
    plain = _plain(text)
    if plain in _TORQUE:
        return ENGINE
    for kind, sheet in sheets.items():
        titles = {_plain(kind), _plain(sheet.title), _plain(sheet.group)} - {""}
        if plain in titles | {f"{one}s" for one in titles}:
            return kind
    if text[:1].isdigit() or text[:1] in ".-":
        raise _off(text, "the part")
    known = ", ".join(sheet.title for sheet in sheets.values())
    raise BadInput(f'There is no part "{text[:60]}". Parts are {known}, and Torque.')


def _check(
    kind: str, text: str, sheets: Mapping[str, CheckSheet], torques: Mapping[str, str]
) -> str:
    plain = _plain(text)
    if kind == ENGINE:
        by_title = {_plain(title): name for title, name in torques.items()}
        return by_title.get(plain, text)
    for check in sheets[kind].checks:
        if plain in (_plain(check.name), _plain(check.label)):
            return check.name
    if re.match(r"[-.\d]", text):
        raise _off(text, "the check")
    return text


def _off(text: str, place: str) -> BadInput:
    return BadInput(
        f'"{text[:60]}" stands where {place} should be, so the cells of this row are one column off. '
        "Put them right, or say above what each column is."
    )


def _plain(text: str) -> str:
    return " ".join(re.sub(r"[^\w%×]+", " ", text.casefold()).replace("_", " ").split())
