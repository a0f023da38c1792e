"""The forms of work found, and what they make of what was typed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

from django.http import HttpRequest

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.extras import part_price
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.money import money_from, plain_money
from rehang.trade.terms.quantities import parse_number
from rehang.web.shared.forms import BenchForm, Choose, TextField

__all__ = ["FoundForm", "hours_text", "money_text", "part_named"]

# Lines of parts and of outside work that the form has; more is another piece of work.
PART_LINES, OUTSIDE_LINES = 3, 2


class FoundForm(BenchForm):
    """What is to be done, why, and what it takes. What may stand in its address is shown in it."""

    fallback = "what"
    by_address = True

    what = TextField("What is to be done", asks="Write what is to be done.")
    reason = TextField(
        "Why", "What was seen, and where.", asks="Write why: what was seen, and where."
    )
    airworthiness = Choose(
        "Until it is done",
        (("yes", "UNAIRWORTHY"), ("no", "MAY FLY")),
    )
    hours = TextField("Labour, hours", short=True, inputmode="decimal")
    rate = TextField("Rate of an hour", short=True, inputmode="decimal")
    item = TextField()

    def __init__(self, request: HttpRequest, facts: JobFacts) -> None:
        rate = facts.shop.labour_per_hour
        super().__init__(request, {"rate": "" if rate is None else plain_money(Decimal(str(rate)))})
        for n in range(PART_LINES):
            self.fields[f"part{n}"] = TextField(f"Part {n + 1}", list="x-parts")
            self.fields[f"number{n}"] = TextField("How many", short=True, inputmode="numeric")
            self.fields[f"each{n}"] = TextField("Price of one", short=True, inputmode="decimal")
        for n in range(OUTSIDE_LINES):
            self.fields[f"outside{n}"] = TextField(f"Outside work {n + 1}")
            self.fields[f"price{n}"] = TextField("Its price", short=True, inputmode="decimal")

    @property
    def part_rows(self) -> Iterator[tuple[Any, Any, Any]]:
        for n in range(PART_LINES):
            yield self[f"part{n}"], self[f"number{n}"], self[f"each{n}"]

    @property
    def outside_rows(self) -> Iterator[tuple[Any, Any]]:
        for n in range(OUTSIDE_LINES):
            yield self[f"outside{n}"], self[f"price{n}"]

    def data_of(self, judged: JudgedJob) -> dict[str, Any]:
        """The fields of the entry.

        Raises
        ------
        BadInput
            Beside the field that cannot be read.
        """
        told = self.checked()
        if not told["airworthiness"]:
            raise BadInput("Say whether it may fly until it is done.", "airworthiness")
        found: dict[str, Any] = {
            "what": told["what"],
            "reason": told["reason"],
            "airworthiness": told["airworthiness"] == "yes",
            "currency": judged.facts.shop.currency,
            "parts": list(self._parts(told, judged)),
            "outside": list(self._outside(told)),
            "item": told["item"],
        }
        if told["hours"]:
            found["hours"] = hours_text(told["hours"], "hours")
            if told["rate"]:
                found["rate"] = money_text(told["rate"], "The rate of an hour", "rate")
        return {name: value for name, value in found.items() if value not in ("", [])}

    def _parts(self, told: Mapping[str, Any], judged: JudgedJob) -> Iterator[dict[str, Any]]:
        for n in range(PART_LINES):
            typed, number, each = (told[f"{name}{n}"] for name in ("part", "number", "each"))
            if not typed:
                if number or each:
                    raise BadInput("Write which part.", f"part{n}")
                continue
            if number and not (number.isascii() and number.isdigit() and len(number) < 6):
                raise BadInput(f'"{number}" is not a whole number. Write digits.', f"number{n}")
            part = part_named(typed, judged.facts)
            line: dict[str, Any] = {"part": part, "number": int(number or 1)}
            price = part_price(part, judged.facts, judged.state.live())
            if each:
                line["each"] = money_text(each, f"The price of one {typed}", f"each{n}")
            elif price is not None:
                line["each"] = plain_money(price)
            yield line

    def _outside(self, told: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
        for n in range(OUTSIDE_LINES):
            what, price = told[f"outside{n}"], told[f"price{n}"]
            if not what:
                if price:
                    raise BadInput("Write what the outside work is.", f"outside{n}")
                continue
            line = {"what": what}
            if price:
                line["price"] = money_text(price, f"The price of {what}", f"price{n}")
            yield line


def part_named(typed: str, facts: JobFacts) -> str:
    """A part by its number or its name on the list of parts; else as it was typed."""
    plain = typed.casefold()
    return next(
        (
            one.id
            for one in facts.parts.values()
            if plain in (one.id.casefold(), one.name.casefold())
        ),
        typed,
    )


def money_text(typed: str, what: str, where: str) -> str:
    """Money as an entry keeps it."""
    return plain_money(money_from(typed, what, where))


def hours_text(typed: str, where: str) -> str:
    """Hours as an entry keeps them."""
    return f"{parse_number(typed, where):f}"
