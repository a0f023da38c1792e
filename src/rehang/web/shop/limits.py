"""Limits: the bound, and whose it is. A limit with no source is shown and judges nothing."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from rehang.book import queries, services
from rehang.sheets import edit
from rehang.trade.facts.items import Check
from rehang.trade.facts.limits import limit_from
from rehang.trade.facts.torquegroups import TorqueGroup
from rehang.trade.terms.errors import BadInput, Refused
from rehang.trade.terms.wording import listed, on_day, whole
from rehang.web.shared.desk import Desk, SeeOther, job_page, keeper, onward, page, writes
from rehang.web.shop import rows as shop_rows
from rehang.web.shop.meters import Field

FILE = "limits.toml"
KEYS = (
    "lower", "upper", "short", "aim", "grade", "at_psi", "worst", "use",
    "document", "revision", "page", "note",
)  # fmt: skip


@require_safe
@job_page
def limits(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Every limit with its source; a check without one says NOT JUDGED."""
    rows = shop_rows.limit_rows(desk.judged.facts)
    return page(
        request,
        desk,
        "shop/limits",
        current="limits",
        rows=[r for r in rows if r.item in desk.judged.facts.sheets],
        others=[r for r in rows if r.item not in desk.judged.facts.sheets],
        thresholds=desk.judged.facts.thresholds.words,
    )


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def limit(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Change one limit. Who and when are written by the page."""
    text = queries.files(desk.job)[FILE]
    tables = edit.tables(text, "limit")
    if not 0 <= number < len(tables):
        raise BadInput("There is no such limit on file.")
    raw = tables[number]
    return _form(request, desk, str(raw["item"]), str(raw["check"]), raw, number)


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def new_limit(request: HttpRequest, desk: Desk, kind: str, check: str) -> HttpResponse:
    """Enter a limit for a check of a check sheet."""
    sheet = desk.judged.facts.sheets.get(kind)
    if sheet is not None:
        sheet.check(check)
    elif kind != "engine" or _group(desk, check) is None:
        raise BadInput(f'There is no check sheet for "{kind}", and no torque card of "{check}".')
    return _form(request, desk, kind, check, {}, None)


def _group(desk: Desk, check: str) -> TorqueGroup | None:
    """The group of fasteners whose torque is filed under a check of the engine."""
    groups = desk.judged.facts.torque_groups.values()
    return next((one for one in groups if one.limit == check), None)


def _form(
    request: HttpRequest,
    desk: Desk,
    kind: str,
    check_name: str,
    on_file: dict[str, Any],
    number: int | None,
) -> HttpResponse:
    sheet = desk.judged.facts.sheets.get(kind)
    check = sheet.check(check_name) if sheet is not None else None
    ages = (kind, check_name) == ("hose", "age")
    values = {key: str(on_file.get(key, "")) for key in KEYS}
    wants = on_file.get("wants", {})
    values["type"] = str(wants.get("type") or request.GET.get("type", "")) if ages else ""
    field = sentence = ""
    if request.method == "POST":
        values = {key: request.POST.get(key, "").strip() for key in (*KEYS, "type")}
        try:
            changes = _changes({key: values[key] for key in KEYS})
            if ages:
                changes |= _age_rule(values)
            raw = {"item": kind, "check": check_name} | {
                k: v for k, v in changes.items() if v is not None
            }
            # Whoever confirms it; their PIN is asked for before it is filed.
            by = request.POST.get("who", "") or desk.key
            raw |= {"entered_by": by, "entered_on": desk.today()}
            made = limit_from(
                raw, desk.judged.facts.sheets, lambda *keys: str(keys[-1]) if keys else ""
            )
            text = queries.files(desk.job)[FILE]
            if number is None:
                text = edit.add_limit(text, raw)
            else:
                changes |= {"entered_by": by, "entered_on": desk.today()}
                text = edit.change_limit(text, number, changes)
            who, asked = keeper(request, desk, "change a limit")
            if asked is not None:
                return asked
            services.file_text(job=desk.job, name=FILE, text=text, by=who, at=timezone.now())
            request.session["said"] = {
                "sentence": "The limit is on file."
                if made.has_source
                else "The limit is on file. It names no document and revision, so it judges nothing.",
                "undo": "",
            }
            if request.GET.get("next"):
                return SeeOther(onward(request, desk))
            return SeeOther(reverse("web:limits", args=[desk.job.slug]))
        except Refused as reason:
            sentence = reason.sentence
            where = reason.where
            field = where if where in (*KEYS, "type") else _first(check)
    group = _group(desk, check_name) if kind == "engine" else None
    label = check.label if check is not None else check_name.replace("_", " ")
    label = group.title if group is not None else label
    return page(
        request,
        desk,
        "shop/limit",
        status=422 if sentence else 200,
        current="limits",
        label=label,
        kind=kind,
        fields=_age_fields(desk, values, field, sentence)
        if ages
        else _fields(check, values, field, sentence, example="in-lb" if group is not None else ""),
        source=_source(values, field, sentence),
        short_offered=check is not None
        and check.quantity is not None
        and check.quantity.name == "resistance",
        short=values["short"] == "out",
        field=field,
        sentence=sentence,
        is_new=number is None,
        entered=_entered(desk, on_file),
    )


def _first(check: Check | None) -> str:
    if check is not None and check.kind == "grade":
        return "grade"
    return "worst" if check is not None and check.kind == "look" else "lower"


def _changes(values: dict[str, str]) -> dict[str, edit.Value | None]:
    changes: dict[str, edit.Value | None] = {}
    for key, text in values.items():
        if not text:
            changes[key] = None
        elif key in ("at_psi", "worst"):
            changes[key] = whole(text)
            if changes[key] is None:
                raise BadInput(f'"{text[:60]}" is not a whole number. Write digits.', key)
        else:
            changes[key] = text
    return changes


def _age_rule(values: dict[str, str]) -> dict[str, edit.Value | None]:
    """How old a hose of one type may get, or that its looks decide."""
    if not values["type"]:
        raise BadInput("Write the type of hose that the rule is for, as on its tag.", "type")
    if bool(values["upper"]) == bool(values["grade"]):
        raise BadInput(
            "Write how old it may get, as in 5 years, or choose that it is on condition.", "upper"
        )
    return {"wants": {"type": values["type"]}}


def _age_fields(desk: Desk, values: dict[str, str], field: str, sentence: str) -> tuple[Field, ...]:
    def one(
        name: str, label: str, hint: str = "", choices: tuple[tuple[str, str], ...] = ()
    ) -> Field:
        wrong = sentence if field == name else ""
        return Field(name, label, hint, values[name], wrong, choices, short=not choices)

    types = listed(sorted({hose.type for hose in desk.judged.facts.hoses.values()}), "or")
    return (
        one("type", "Type of hose", f"As on its tag: {types}" if types else "As on its tag"),
        one("upper", "Not older than, from fitting", "As in 5 years or 60 months"),
        one(
            "grade",
            "Or",
            "",
            (("", "by its age"), ("on condition", "on condition: its looks decide")),
        ),
    )


def _fields(
    check: Check | None, values: dict[str, str], field: str, sentence: str, *, example: str = ""
) -> tuple[Field, ...]:
    def one(
        name: str, label: str, hint: str = "", choices: tuple[tuple[str, str], ...] = ()
    ) -> Field:
        wrong = sentence if field == name else ""
        return Field(name, label, hint, values[name], wrong, choices, short=not choices)

    use = one(
        "use",
        "Used for",
        "",
        (
            ("", "both: going back as found, and setting"),
            ("service", "whether it may go back as found"),
            ("setting", "what to set it to when reworked"),
        ),
    )
    if check is not None and check.kind == "grade":
        grades = tuple((c.word, c.word) for c in check.choices)
        return (
            one("grade", "Grade asked for", "", (("", "none"), *grades)),
            one("at_psi", "At this pressure or above, psi", "As in 100"),
        )
    if check is not None and check.kind == "look":
        worst = tuple((str(s), f"severity {s}") for s in (0, 1, 2))
        return (one("worst", "Worst open finding it may have", "", (("", "none"), *worst)),)
    return (
        one(
            "lower",
            "Not below, with its unit",
            f"As in {'370 in-lb' if example else '0.016 in'}. Empty: no lower bound.",
        ),
        one(
            "upper",
            "Not above, with its unit",
            f"As in {'410 in-lb' if example else '0.019 in'}. Empty: no upper bound.",
        ),
        one("aim", "Set it to, with its unit", "May be left empty"),
        use,
    )


def _source(values: dict[str, str], field: str, sentence: str) -> tuple[Field, ...]:
    def one(name: str, label: str, hint: str = "", *, short: bool = False) -> Field:
        wrong = sentence if field == name else ""
        return Field(name, label, hint, values[name], wrong, short=short)

    return (
        one("document", "Document", "The maker's manual or other approved data"),
        one("revision", "Revision", "As in 6", short=True),
        one("page", "Page", "As in 7-4", short=True),
        one("note", "Note"),
    )


def _entered(desk: Desk, on_file: dict[str, Any]) -> str:
    by, on = on_file.get("entered_by"), on_file.get("entered_on")
    if not by:
        return ""
    when = f", {on_day(on)}" if isinstance(on, date) else ""
    return f"{desk.judged.facts.person(str(by))}{when}"
