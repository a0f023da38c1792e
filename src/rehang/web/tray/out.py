"""Plugs out: which plug came out of which hole, typed, tapped, photographed or out of a table."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from rehang.book import plugs_out as books
from rehang.book import queries
from rehang.decode.apart import read_table
from rehang.decode.tables import MOST_BYTES
from rehang.sheets.plugs_table import plugs_in
from rehang.trade.doors.rules import check_can_append
from rehang.trade.job.last_time import LastTime
from rehang.trade.known.state import item_kind, item_name
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.errors import BadInput, Refused
from rehang.trade.terms.labels import read_label
from rehang.web.shared.codes import code_in
from rehang.web.shared.desk import Desk, SeeOther, asked_for, job_page, page, say, writes
from rehang.web.shared.forms import BenchForm, TextField
from rehang.web.tray import out_rows
from rehang.web.work import fit_rows

__all__ = ["plugs_out"]

# A beginning shorter than this is offered in no field.
LEAST_BEGINNING = 2


class OutForm(BenchForm):
    """A serial for each hole; ``filled`` are those that came some other way than by keys."""

    groups = ("table", "photo")

    def __init__(
        self, request: HttpRequest, holes: Sequence[str], filled: Mapping[str, str]
    ) -> None:
        super().__init__(request, filled)
        for hole in holes:
            self.fields[hole] = TextField(
                hole,
                autocapitalize="characters",
                autocorrect="off",
                spellcheck="false",
                enterkeyhint="next",
            )
        if filled and self.is_bound:
            self.data = {**request.POST.dict(), **filled}

    @property
    def typed(self) -> dict[str, str]:
        """The serials that are written, by their holes."""
        told = self.checked()
        return {hole: serial for hole in self.fields if (serial := _serial(told[hole], hole))}


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def plugs_out(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Which plug came out of each hole, all at once or one by one."""
    last = books.last_time(desk.job, desk.key)
    empty = desk.judged.empty_holes
    if request.method != "POST":
        # What was typed beside a serial that was scribed, and is still to be written.
        carried = {hole: given for hole in empty if (given := request.GET.get(hole, "").strip())}
        return _page(request, desk, OutForm(request, empty, carried), last, filled=carried)
    # A hole that another phone filled meanwhile keeps its field, so that nothing typed is lost.
    sent = [
        hole
        for hole in desk.judged.facts.layout.walk
        if hole in empty or request.POST.get(hole, "").strip()
    ]
    form = OutForm(request, sent, {})
    filled: dict[str, str] = {}
    act = request.POST.get("act", "")
    with form.refusing():
        if act == "scribe":
            return _scribe(request, desk, sent, last)
        if act in ("photo", "table"):
            filled = _filled(request, desk, act)
            form = OutForm(request, [*dict.fromkeys([*sent, *filled])], filled)
        else:
            offered = (
                {hole: last.plugs[hole] for hole in empty if hole in last.plugs} if last else {}
            )
            typed = (offered if act == "last" else {}) | form.typed
            return _keep(request, desk, typed, last)
    return _page(request, desk, form, last, filled=filled)


def _scribe(
    request: HttpRequest, desk: Desk, sent: Sequence[str], last: LastTime | None
) -> HttpResponse:
    """Write the serial that was scribed at once; what else is typed stays typed."""
    hole = desk.judged.facts.layout.check_hole(request.POST.get("hole", ""))
    given = {one: request.POST.get(one, "").strip() for one in sent}
    serial = books.scribe_next(desk.job, list(given.values()))
    _keep(request, desk, {hole: serial}, last, made=f"No serial on it: {serial} scribed.")
    rest = {one: text for one, text in given.items() if text and one != hole}
    way = reverse("web:plugs_out", args=[desk.job.slug])
    return SeeOther(f"{way}?{urlencode(rest)}" if rest else way)


def _keep(
    request: HttpRequest,
    desk: Desk,
    typed: Mapping[str, str],
    last: LastTime | None,
    *,
    made: str = "",
) -> HttpResponse:
    """Write that the plugs came out, all of them or none, noting how their serials were ``made``."""
    if not typed:
        raise BadInput("Write the serial of one plug at least, or go back to the tray.")
    known = {one.casefold(): one for one in last.plugs.values()} if last else {}
    known |= {one.casefold(): one for one in fit_rows.known_serials(desk.judged)}
    typed = _begun_once(typed, known.values())
    serials = {hole: known.get(serial.casefold(), serial) for hole, serial in typed.items()}
    _check_each_once(serials)
    holes = desk.judged.state.holes
    # Another phone may have written the same: then there is nothing to write.
    new = {hole: one for hole, one in serials.items() if holes.get(hole) != f"plug:{one}"}
    became = books.what_became(desk.job, new.values(), desk.key)
    at, entries = desk.now(), list[Entry]()
    for hole, serial in new.items():
        note = " ".join(part for part in (made, became.get(serial, "")) if part)
        entries += fit_rows.entries_of(
            desk.judged, "removed", f"plug:{serial}", hole, {"note": note},
            once=request.POST.get("once", ""), by=desk.key, at=at,
        )  # fmt: skip
    entries = [one for one in entries if not desk.has(one.id)]
    if entries:
        try:
            desk.write(entries)
        except Refused as reason:
            raise BadInput(reason.sentence, _at_fault(desk, entries)) from None
    _said(request, desk, entries, serials, became)
    return SeeOther(asked_for(request) or reverse("web:plugs_out", args=[desk.job.slug]))


def _begun_once(typed: Mapping[str, str], known: Iterable[str]) -> dict[str, str]:
    """The serials, one typed behind its own beginning taken once: ``KV41KV4102`` is KV4102.

    Only where another serial begins so and is as long as what is left; a serial of the books
    stands as it is.
    """
    books_have = [one.casefold() for one in known]
    others = [*books_have, *(one.casefold() for one in typed.values())]

    def once(serial: str) -> str:
        low = serial.casefold()
        if low in books_have:
            return serial
        for size in range(len(low) // 2, LEAST_BEGINNING - 1, -1):
            left = low[size:]
            if left.startswith(low[:size]) and any(
                len(one) == len(left) and one.startswith(low[:size]) for one in others
            ):
                return serial[size:]
        return serial

    return {hole: once(serial) for hole, serial in typed.items()}


def _check_each_once(serials: Mapping[str, str]) -> None:
    first: dict[str, str] = {}
    for hole, serial in serials.items():
        other = first.setdefault(serial.casefold(), hole)
        if other != hole:
            raise BadInput(
                f"{serial} is written at {other} and at {hole}. Look at both plugs again.", hole
            )


def _at_fault(desk: Desk, entries: Sequence[Entry]) -> str:
    """The hole whose entry is refused first; empty where it is none by itself."""
    book = queries.entries(desk.job)
    for number, entry in enumerate(entries, start=1):
        try:
            books.check_comes_out(desk.job, [entry], desk.key)
            check_can_append(entries[:number], book, desk.judged.facts)
        except Refused:
            return entry.place
    return ""


def _said(
    request: HttpRequest,
    desk: Desk,
    entries: Sequence[Entry],
    serials: Mapping[str, str],
    became: Mapping[str, str],
) -> None:
    """Have the next page say what was written, with one UNDO for all of it."""
    if len(entries) == 1:
        say(request, desk, entries[0])
        return
    sentence = f"{len(entries)} plugs came out of their holes."
    if not entries:
        told = ", ".join(f"{hole} {serial}" for hole, serial in serials.items())
        sentence = f"{told}: in the book already."
    request.session["said"] = {
        "sentence": " ".join([sentence, *became.values()]),
        "undo": entries[0].id if entries else "",
        "together": True,
    }


# What comes into the fields some other way than by keys


def _filled(request: HttpRequest, desk: Desk, act: str) -> dict[str, str]:
    if act == "table":
        return _of_table(request, desk)
    hole = desk.judged.facts.layout.check_hole(request.POST.get("hole", ""))
    given = request.FILES.get("photo")
    if given is None:
        raise BadInput("Take a photo of the label first.", "photo")
    try:
        return {hole: _serial(code_in(given), "photo")}
    except BadInput as reason:
        raise BadInput(reason.sentence, "photo") from None


def _of_table(request: HttpRequest, desk: Desk) -> dict[str, str]:
    given = request.FILES.get("table")
    try:
        if given is None:
            raise BadInput("Choose a CSV or XLSX file first.")
        if (given.size or 0) > MOST_BYTES:
            raise BadInput(f"The file has {given.size:,} bytes; {MOST_BYTES:,} are read.")
        found = plugs_in(read_table(given.name or "the table", given.read()), desk.judged.facts)
    except BadInput as reason:
        # With its line: the file is not on the page.
        raise BadInput(str(reason), "table") from None
    out = desk.judged.state.holes
    new = {hole: one for hole, one in found.items() if out.get(hole) != f"plug:{one}"}
    if not new:
        raise BadInput("Every plug of the table is in the book already.", "table")
    return new


def _serial(text: str, where: str) -> str:
    """The serial in what was typed or scanned: bare, as an item, or the code of one of our labels."""
    text = text.strip()
    if text.startswith("rehang:"):
        try:
            _, text = read_label(text)
        except BadInput as reason:
            raise BadInput(reason.sentence, where) from None
    if ":" in text and item_kind(text) != "plug":
        raise BadInput(f"{text[:40]} is no plug. Write the serial that stands on the plug.", where)
    return item_name(text) if ":" in text else text


# The page


def _page(
    request: HttpRequest,
    desk: Desk,
    form: OutForm,
    last: LastTime | None,
    *,
    filled: Mapping[str, str] | None = None,
) -> HttpResponse:
    empty = desk.judged.empty_holes
    out = out_rows.out_rows(desk.judged, desk.key)
    asked = request.POST.get("hole", "") or request.GET.get("hole", "")
    context: dict[str, Any] = {
        **form.shown,
        "current": "tray",
        "fields": [(form[hole], last.plugs.get(hole, "") if last else "") for hole in form.fields],
        "asked": asked,
        "last": out_rows.last_card(last, empty),
        "out": out,
        "of": len(desk.judged.facts.layout.walk),
        "filled": filled,
        "scribe": books.scribe_next(desk.job, [form[hole].value() or "" for hole in form.fields])
        if empty
        else "",
    }
    return page(request, desk, "tray/out", status=form.status, **context)
