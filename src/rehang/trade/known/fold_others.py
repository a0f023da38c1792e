"""What entries about meters, oil, torque, runs, counts, photos and the job come to."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date

from rehang.trade.known.folder import Folder, Handlers, takes
from rehang.trade.known.oil_fill import check_fill
from rehang.trade.known.photos import check_paper, check_pdf, is_pdf_name, of_a_paper
from rehang.trade.known.state import (
    FoundOut,
    item_kind,
    meter_on_file,
)
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.meters import MasterRead, MeterFoundOut, Proved
from rehang.trade.terms.kinds.oil import Analysed, PiecesCounted, Sampled
from rehang.trade.terms.kinds.readings import Pictured
from rehang.trade.terms.kinds.runs import RunBegan
from rehang.trade.terms.kinds.shop import BroughtBack, Noted, PutAway
from rehang.trade.terms.kinds.torque import Torqued
from rehang.trade.terms.kinds.work import (
    CountedIn,
    CountedOut,
    FinishWanted,
    Stopped,
    Tallied,
)
from rehang.trade.terms.quantities import parse_amount
from rehang.trade.terms.wording import on_day, written_day

__all__ = ["HANDLERS"]

HANDLERS: Handlers = {}


@takes(HANDLERS, Proved)
def _on_proved(f: Folder, entry: Entry[Proved]) -> None:
    meter_on_file(entry.fields.meter, f.meters, f.place_of(entry))
    if entry.fields.due:
        last_day(entry.fields.due, f.place_of(entry) or "due")
    f.state.proved[entry.fields.meter] = entry
    f.state.proofs.setdefault(entry.fields.meter, []).append(entry)


@takes(HANDLERS, MeterFoundOut)
def _on_found_out(f: Folder, entry: Entry[MeterFoundOut]) -> None:
    place = f.place_of(entry)
    meter = entry.fields.meter
    meter_on_file(meter, f.meters, place)
    found_on = _whole_day(entry.fields.on, place or "on") or entry.at.date()
    good = _whole_day(entry.fields.good, place or "good")
    if found_on > entry.at.date():
        raise BadInput(f"{on_day(found_on)} is still to come. Write the day it was found.", place)
    if good is not None and good > found_on:
        raise BadInput(
            f"{meter} was last known good on {on_day(good)}, which is after the day it was found "
            f"out, {on_day(found_on)}. Look at both days again.",
            place,
        )
    found = FoundOut(entry, found_on, good, None, None)
    f.state.found_out.setdefault(meter, []).append(found)


@takes(HANDLERS, MasterRead)
def _on_master(f: Folder, entry: Entry[MasterRead]) -> None:
    place = f.place_of(entry)
    meter = meter_on_file(entry.fields.meter, f.meters, place)
    if meter is None or meter.quantity is None:
        raise BadInput("A master reading needs the tester it was taken on.", place)
    value = parse_amount(entry.fields.written, meter.quantity, where=place)
    f.state.masters.append((entry, value))


@takes(HANDLERS, Sampled)
def _on_sampled(f: Folder, entry: Entry[Sampled]) -> None:
    item = f.item(entry.item)
    # What the laboratory still has is of the same series as what has its figures.
    taken = [*item.samples, *item.bottles]
    before = max(taken, key=lambda e: f.state.order.index(f.state.entries[e.id]), default=None)
    place = f.place_of(entry)
    last_day(entry.fields.on, place or "on")
    _check_ppm(entry, place)
    if before is not None:
        if entry.fields.engine_hours < before.fields.engine_hours:
            raise BadInput(
                f"The sample is at {entry.fields.engine_hours:g} h; the one before was at "
                f"{before.fields.engine_hours:g} h. Hours do not run backwards.",
                place,
            )
        if entry.fields.on < before.fields.on:
            raise BadInput(
                f"The sample of {written_day(entry.fields.on)} stands behind the one of "
                f"{written_day(before.fields.on)}. Write them in the order they were drained.",
                place,
            )
    if entry.fields.oil_hours <= 0 or entry.fields.added_qt < 0:
        raise BadInput("Oil hours must be above 0 and oil added 0 or more.", place)
    check_fill(entry.fields, place)
    # Without figures it is a bottle that the laboratory still has.
    (item.samples if entry.fields.ppm else item.bottles).append(entry)


@takes(HANDLERS, Analysed)
def _on_analysed(f: Folder, entry: Entry[Analysed]) -> None:
    """What the laboratory found of a sample that was taken before; the two are one sample."""
    place = f.place_of(entry)
    _check_ppm(entry, place)
    for item in f.state.items.values():
        for taken in item.bottles:
            if taken.id == entry.fields.sample:
                found = {k: v for k, v in entry.data.items() if k != "sample"}
                item.bottles.remove(taken)
                item.samples.append(replace(taken, data={**taken.data, **found}))
                # Laboratories answer in their own order; the trend goes by the drain.
                item.samples.sort(key=lambda e: (e.fields.on, e.fields.engine_hours))
                return
    raise BadInput("There is no sample that waits for these figures.", place)


@takes(HANDLERS, CountedOut)
def _on_counted_out(f: Folder, entry: Entry[CountedOut]) -> None:
    _count(f, entry, 1)


@takes(HANDLERS, CountedIn)
def _on_counted_in(f: Folder, entry: Entry[CountedIn]) -> None:
    _count(f, entry, -1)


def _count(f: Folder, entry: Entry[Tallied], sign: int) -> None:
    """Blanks, rags, covers, loose tools: out of the box and in or on the engine, or back."""
    what, number = entry.fields.what, entry.fields.number
    place = f.place_of(entry)
    if number < 1:
        raise BadInput(f"{number} {what} cannot be counted. Write 1 or more.", place)
    there = f.state.out.get(what, 0)
    left = there + sign * number
    if left < 0:
        raise BadInput(
            f"{number} {what} counted in, and only {there} {'is' if there == 1 else 'are'} out."
            if there
            else f"{number} {what} counted in, and none is out.",
            place,
        )
    f.state.out[what] = left


@takes(HANDLERS, Torqued)
def _on_torqued(f: Folder, entry: Entry[Torqued]) -> None:
    place = f.place_of(entry)
    meter_on_file(entry.fields.meter, f.meters, place)
    of, named = entry.fields.of, entry.fields.fasteners
    done = entry.fields.done
    # A count or numbers: both could differ, and neither says nothing.
    if (named is None) == (done is None):
        raise BadInput(
            'A torque says which fasteners it was put on: write "fasteners", as in [3].', place
        )
    if named is None and done is not None and not 0 <= done <= of:
        raise BadInput(f"{done} of {of} cannot be.", place)
    if named is not None and not (
        named
        # Not isinstance: True is an int in Python, and would be fastener 1.
        and all(type(one) is int and 1 <= one <= of for one in named)
        and len(set(named)) == len(named)
    ):
        raise BadInput(
            f'"fasteners" is {json.dumps(named)}. Write the numbers of those torqued, each once '
            f"and from 1 to {of}, as in [3].",
            place,
        )
    f.item(entry.item).torqued.append(entry)


@takes(HANDLERS, RunBegan)
def _on_run_began(f: Folder, entry: Entry[RunBegan]) -> None:
    run = f"run:{entry.fields.run}"
    if run in f.state.items:
        raise BadInput(
            f"Run {entry.fields.run} has begun already. Give this run a name of its own.",
            f.place_of(entry),
        )
    f.item(run)


@takes(HANDLERS, PiecesCounted)
def _on_counted(f: Folder, entry: Entry[PiecesCounted]) -> None:
    if entry.fields.on:
        last_day(entry.fields.on, f.place_of(entry) or "on")
    f.item(entry.item).counts.append(entry)


@takes(HANDLERS, PutAway)
def _on_put_away(f: Folder, entry: Entry[PutAway]) -> None:
    f.state.put_away = True


@takes(HANDLERS, BroughtBack)
def _on_brought_back(f: Folder, entry: Entry[BroughtBack]) -> None:
    f.state.put_away = False


@takes(HANDLERS, Noted)
def _on_note(f: Folder, entry: Entry[Noted]) -> None:
    if entry.item and entry.item in f.state.items:
        f.state.items[entry.item].notes.append(entry)


@takes(HANDLERS, FinishWanted)
def _on_wanted(f: Folder, entry: Entry[FinishWanted]) -> None:
    last_day(entry.fields.on, f.place_of(entry) or "on")


@takes(HANDLERS, Stopped)
def _on_stopped(f: Folder, entry: Entry[Stopped]) -> None:
    # Where a task stopped is kept with the work; this is where reading stopped.
    if not entry.fields.task:
        f.state.stop = entry


@takes(HANDLERS, Pictured)
def _on_pictured(f: Folder, entry: Entry[Pictured]) -> None:
    place = f.place_of(entry)
    # The file's name is its sum, so that the chain names every byte of the picture.
    sha256 = entry.fields.sha256
    names = (f"{sha256}.jpg", f"{sha256}.pdf")
    if not re.fullmatch(r"[0-9a-f]{64}", sha256) or entry.fields.photo not in names:
        raise BadInput(
            f'The photo "{entry.fields.photo}" is not named by its sum "{sha256}". '
            "Add the photo again.",
            place,
        )
    if entry.fields.entry and entry.fields.entry not in f.state.entries:
        raise BadInput(
            f'The photo belongs to "{entry.fields.entry}", which is not in the book.', place
        )
    if is_pdf_name(entry.fields.photo):
        check_pdf(entry, place)
    if of_a_paper(entry.item):
        check_paper(entry.item, f.meters, f.sheets, place)
    elif entry.item:
        known = item_kind(entry.item) == "plug"
        item = f.known(entry) if known else f.item(entry.item)
        item.pictures.append(entry)


def _whole_day(text: str, place: str) -> date | None:
    """A day written out in full, which a month is not; None where there is none."""
    if not text:
        return None
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
        raise BadInput(f'"{text}" is not a day. Write it out, as in 2026-10-22.', place)
    return last_day(text, place)


def _check_ppm(entry: Entry[Sampled | Analysed], place: str) -> None:
    for element, ppm in entry.fields.ppm.items():
        # "Below 2" is a finding of its own; 0 or 2 in its place would bend the trend.
        below = isinstance(ppm, str) and re.fullmatch(r"<[0-9]+(\.[0-9]+)?", ppm) is not None
        number = isinstance(ppm, (int, float)) and not isinstance(ppm, bool) and ppm >= 0
        if not (below or number):
            raise BadInput(
                f'{element} is "{ppm}". Write parts per million, as in 32, or "<2" where the '
                "laboratory found less than it can see.",
                place,
            )
