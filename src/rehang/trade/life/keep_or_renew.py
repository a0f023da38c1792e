"""Keep a part or renew it now: what each is expected to cost, and what would change the answer.

A verdict comes first and is never overridden: this speaks only of parts that may go back, or may
once they are settled. Hints on labour, electrodes and whole sets: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from rehang.trade.facts.parts import Part
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import item_kind
from rehang.trade.life.forecast import Forecasts, Outlook, chance_words
from rehang.trade.telling.sentences import item_as_said
from rehang.trade.terms.wording import listed, upper_first
from rehang.trade.verdicts.item_verdict import ItemVerdict

__all__ = ["KeepOrRenew", "keep_or_renew"]

# Fitting a new one takes what serving the old one takes, a quarter of an hour a plug: common
# practice, no source. Of other parts the hours are not known here and are left out.
_HOURS_TO_FIT = {"plug": 0.25}
# Under about 60 % of its electrode the labour of serving a plug buys little; a set is bought when
# half of it fails: common practice, no source.
_LITTLE_LEFT = 600
_HALF_OF_THE_SET = 4
# A chance of being out that is worth saying why it does not count: the shop's own OUT, 5 in 100.
_WORTH_A_WORD = 0.05


@dataclass(frozen=True, slots=True)
class KeepOrRenew:
    """Keep or renew, for one item.

    ``cheaper`` is ``keep``, ``renew`` or empty where it cannot be said or the verdict says it all.
    ``chance`` is that of a limit being passed before the next opening that only a new part puts
    right. Costs are in the shop's currency: ``keeping`` is what keeping is expected to cost,
    ``renewing`` what a new part costs now, ``visit`` what an unplanned visit costs with the part.
    Above ``flips_at`` renewing is cheaper. ``reckoned`` says how the costs are come by. ``missing`` names what is not on file.
    """

    item: str
    verdict: str
    cheaper: str
    sentence: str
    chance: float | None
    keeping: float | None
    renewing: float | None
    visit: float | None
    flips_at: float | None
    missing: tuple[str, ...]
    hints: tuple[str, ...]
    reckoned: str = ""


def keep_or_renew(judged: JudgedJob, found: Forecasts, item: str) -> KeepOrRenew:
    """What keeping one item is expected to cost against renewing it now.

    Raises
    ------
    BadInput
        There is no such item in this job.
    """
    verdict = judged.item(item)
    deciding = [one for one in found.of(item) if one.ends_it and one.chance_out is not None]
    known = [one for one in deciding if one.standing == "forecast"]
    part = _part(judged, verdict)
    blank = _nothing_known(judged, verdict)
    name = upper_first(item_as_said(item))
    if verdict.verdict == "REJECT":
        return replace(
            blank, sentence=f"{name} is a REJECT, so it is renewed; odds do not come in."
        )
    lead = _lead(verdict, name)
    if wrong := next((one.no_odds for one in found.of(item) if one.no_odds), ""):
        return replace(blank, sentence=f"{lead} {wrong}")
    if not known:
        why = next((one.sentence for one in found.of(item) if one.ends_it and one.sentence), "")
        said = why or "none of its checks has a limit and a history to go by."
        return replace(blank, sentence=f"{lead} No odds can be given: {said}")
    chance = _chance(known)
    missing = _missing(judged, part)
    odds = _odds(known, chance, _set_anew(found, item))
    if missing or part is None or part.price is None:
        return replace(
            blank,
            chance=chance,
            missing=missing,
            sentence=f"{lead} {odds} What that is worth cannot be said: "
            f"{listed(missing)} {'is' if len(missing) == 1 else 'are'} not on file.",
        )
    shop = judged.facts.shop
    assert shop.labour_per_hour is not None and shop.unplanned_visit_hours is not None
    renewing = part.price + _HOURS_TO_FIT.get(item_kind(item), 0.0) * shop.labour_per_hour
    visit = shop.unplanned_visit_hours * shop.labour_per_hour + renewing
    keeping = chance * visit
    flips_at = renewing / visit if visit > 0 else None
    money = shop.currency
    cheaper = "keep" if keeping <= renewing else "renew"
    return replace(
        blank,
        cheaper=cheaper,
        chance=chance,
        keeping=keeping,
        renewing=renewing,
        visit=visit,
        flips_at=flips_at,
        sentence=f"{lead} {odds} Keep: about {money}{keeping:,.0f}. Renew: {money}{renewing:,.0f}.",
        reckoned=f"Keep is the {money}{visit:,.0f} of an unplanned visit and the part, that often."
        + _flip(cheaper, flips_at),
    )


def _nothing_known(judged: JudgedJob, verdict: ItemVerdict) -> KeepOrRenew:
    """The answer for an item before any odds or costs are known."""
    return KeepOrRenew(
        item=verdict.item,
        verdict=verdict.verdict,
        cheaper="",
        sentence="",
        chance=None,
        keeping=None,
        renewing=None,
        visit=None,
        flips_at=None,
        missing=(),
        hints=tuple(_hints(judged, verdict)),
    )


def _lead(verdict: ItemVerdict, name: str) -> str:
    match verdict.verdict:
        case "NOT YET":
            return f"{name}: decide first. {verdict.next or 'Settle what is open.'}"
        case "REWORK":
            return f"{name}: rework it and take it again first."
    return f"{name} is a KEEP."


def _chance(known: Sequence[Outlook]) -> float:
    """Of any of its limits being passed. The checks are taken to wear each by itself."""
    inside = 1.0
    for one in known:
        assert one.chance_inside is not None
        inside *= one.chance_inside
    return 1.0 - inside


def _set_anew(found: Forecasts, item: str) -> list[str]:
    """Checks that may well be out by the next opening and are set anew then, so end nothing."""
    return [
        one.label.lower()
        for one in found.of(item)
        if not one.ends_it and one.chance_out is not None and one.chance_out >= _WORTH_A_WORD
    ]


def _odds(known: Sequence[Outlook], chance: float, set_anew: Sequence[str]) -> str:
    worst = max(known, key=lambda one: one.chance_out or 0.0)
    hours = worst.opening.hours
    said = (
        f"It goes past a limit before the next opening ({hours:.0f} h) {chance_words(chance)}, "
        f"mostly by {worst.label.lower()}."
    )
    if set_anew:
        are = "is" if len(set_anew) == 1 else "are"
        said += f" Its {listed(set_anew)} {are} set anew at each service and left out of this."
    return said


def _flip(cheaper: str, flips_at: float | None) -> str:
    if flips_at is None:
        return ""
    way, other = ("Above", "renew") if cheaper == "keep" else ("Below", "keep")
    return f" {way} {flips_at * 100:.0f} times in 100 it would be cheaper to {other}."


def _part(judged: JudgedJob, verdict: ItemVerdict) -> Part | None:
    """What stands in for it: named for the very item, else for its kind."""
    parts = list(judged.facts.parts.values())
    own = [one for one in parts if verdict.item in one.replaces]
    alike = [one for one in parts if verdict.kind in one.replaces]
    return next(iter([*own, *alike]), None)


def _missing(judged: JudgedJob, part: Part | None) -> tuple[str, ...]:
    missing = []
    if part is None:
        missing.append("the part that replaces it")
    elif part.price is None:
        missing.append(f"the price of {part.name}")
    if judged.facts.shop.labour_per_hour is None:
        missing.append("the price of an hour's labour")
    if judged.facts.shop.unplanned_visit_hours is None:
        missing.append("how many hours an unplanned visit takes")
    return tuple(missing)


def _hints(judged: JudgedJob, verdict: ItemVerdict) -> list[str]:
    if verdict.kind != "plug":
        return []
    hints = []
    call = verdict.call("electrode")
    if call is not None and call.value is not None and call.value < _LITTLE_LEFT:
        hints.append(
            f"{call.value / 10:.0f} % of its electrode is left: under about {_LITTLE_LEFT / 10:.0f} % "
            "the labour of serving it buys little (common practice, no source)."
        )
    plugs = [one for one in judged.items if one.kind == "plug" and one.state.removed]
    rejects = [one for one in plugs if one.verdict == "REJECT"]
    open_ones = [one for one in plugs if one.verdict in ("NOT YET", "REWORK")]
    if len(rejects) >= _HALF_OF_THE_SET:
        hints.append(
            f"{len(rejects)} of {len(plugs)} plugs are rejects: with {_HALF_OF_THE_SET} or more a "
            "whole set is bought (common practice, no source)."
        )
    elif len(rejects) == _HALF_OF_THE_SET - 1 and open_ones:
        names = listed([one.name for one in open_ones], "or")
        hints.append(
            f"{len(rejects)} of {len(plugs)} plugs are rejects: if {names} fails too, a whole set "
            "is bought (common practice, no source)."
        )
    return hints
