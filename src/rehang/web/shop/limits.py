"""Limits: the bound, and whose it is. A limit with no source is shown and judges nothing."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.forms import BoundField
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from rehang.book import queries, services
from rehang.sheets import edit
from rehang.trade.facts.items import Check
from rehang.trade.facts.limits import DROPS, limit_from
from rehang.trade.facts.torquegroups import TorqueGroup
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.wording import listed, on_day, whole
from rehang.web.shared.desk import Desk, SeeOther, job_page, keeper, onward, page, writes
from rehang.web.shared.forms import BenchForm, Pick, TextField
from rehang.web.shop import rows as shop_rows

FILE = "limits.toml"
KEYS = (
    "lower", "upper", "short", "aim", "grade", "at_psi", "at_rpm", "worst", "use",
    "document", "revision", "page", "note",
)  # fmt: skip
WHOLE = ("at_psi", "at_rpm", "worst")


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


class LimitForm(BenchForm):
    """A limit for one check: its bounds, or what else the check asks for, and whose it is.

    ``fields_first`` are what the check asks for, before the source.
    """

    def __init__(
        self,
        request: HttpRequest,
        on_file: Mapping[str, Any],
        check: Check | None,
        asked: Mapping[str, TextField],
    ) -> None:
        super().__init__(request, {key: str(on_file.get(key, "")) for key in (*KEYS, "type")})
        is_grade, is_look = (check is not None and check.kind == k for k in ("grade", "look"))
        self.fallback = "grade" if is_grade else "worst" if is_look else "lower"
        self.fields_first = tuple(asked)
        self.fields |= {
            **asked,
            "short": TextField(),
            "document": TextField("Document", "The maker's manual or other approved data"),
            "revision": TextField("Revision", "As in 6", short=True),
            "page": TextField("Page", "As in 7-4", short=True),
            "note": TextField("Note"),
        }

    def first(self) -> list[BoundField]:
        return [self[name] for name in self.fields_first]

    def source(self) -> list[BoundField]:
        return [self[name] for name in ("document", "revision", "page", "note")]

    def changes(self) -> dict[str, edit.Value | None]:
        """Each key of a limit, None where it is to have none.

        Raises
        ------
        BadInput
            What was typed cannot be read.
        """
        typed = self.checked()
        found: dict[str, edit.Value | None] = {}
        for key in KEYS:
            text = typed.get(key, "")
            found[key] = (whole(text) if key in WHOLE else text) if text else None
        if "type" in typed:
            # How old a hose of one type may get, or that its looks decide.
            if bool(typed["upper"]) == bool(typed["grade"]):
                raise BadInput(
                    "Write how old it may get, as in 5 years, or choose that it is on condition.",
                    "upper",
                )
            found["wants"] = {"type": typed["type"]}
        return found


def _whole(text: str) -> None:
    if whole(text) is None:
        raise BadInput(f'"{text[:60]}" is not a whole number. Write digits.')


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
    group = _group(desk, check_name) if kind == "engine" else None
    ages = (kind, check_name) == ("hose", "age")
    for_type = on_file.get("wants", {}).get("type") or request.GET.get("type", "")
    asked = _age_fields(desk) if ages else _fields(check, is_torque=group is not None)
    form = LimitForm(request, {**on_file, "type": for_type}, check, asked)
    if request.method == "POST":
        with form.refusing():
            answer = _file(request, desk, form, {"item": kind, "check": check_name}, number)
            if answer is not None:
                return answer
            if request.GET.get("next"):
                return SeeOther(onward(request, desk))
            return SeeOther(reverse("web:limits", args=[desk.job.slug]))
    label = check.label if check is not None else check_name.replace("_", " ")
    return page(
        request,
        desk,
        "shop/limit",
        status=form.status,
        current="limits",
        label=group.title if group is not None else label,
        kind=kind,
        short_offered=check is not None
        and check.quantity is not None
        and check.quantity.name == "resistance",
        is_new=number is None,
        entered=_entered(desk, on_file),
        **form.shown,
    )


def _file(
    request: HttpRequest,
    desk: Desk,
    form: LimitForm,
    of: Mapping[str, edit.Value],
    number: int | None,
) -> HttpResponse | None:
    """File what was typed by whoever keeps the shop; the page that asks for their PIN, or None."""
    changes = form.changes()
    # Whoever confirms it; their PIN is asked for before it is filed.
    entered: dict[str, edit.Value] = {
        "entered_by": request.POST.get("who", "") or desk.key,
        "entered_on": desk.today(),
    }
    raw: dict[str, edit.Value] = {
        **of,
        **{k: v for k, v in changes.items() if v is not None},
        **entered,
    }
    made = limit_from(raw, desk.judged.facts.sheets, lambda *keys: str(keys[-1]) if keys else "")
    text = queries.files(desk.job)[FILE]
    if number is None:
        text = edit.add_limit(text, raw)
    else:
        text = edit.change_limit(text, number, {**changes, **entered})
    who, asked = keeper(request, desk, "change a limit")
    if asked is not None:
        return asked
    services.file_text(job=desk.job, name=FILE, text=text, by=who, at=timezone.now())
    sentence = "The limit is on file."
    if not made.has_source:
        sentence += " It names no document and revision, so it judges nothing."
    request.session["said"] = {"sentence": sentence, "undo": ""}
    return None


def _age_fields(desk: Desk) -> dict[str, TextField]:
    types = listed(sorted({hose.type for hose in desk.judged.facts.hoses.values()}), "or")
    on_condition = (("", "by its age"), ("on condition", "on condition: its looks decide"))
    return {
        "type": TextField(
            "Type of hose",
            f"As on its tag: {types}" if types else "As on its tag",
            asks="Write the type of hose that the rule is for, as on its tag.",
            short=True,
        ),
        "upper": TextField(
            "Not older than, from fitting", "As in 5 years or 60 months", short=True
        ),
        "grade": Pick("Or", on_condition),
    }


def _fields(check: Check | None, *, is_torque: bool) -> dict[str, TextField]:
    if check is not None and check.kind == "grade":
        grades = [(c.word, c.word) for c in check.choices]
        return {
            "grade": Pick("Grade asked for", [("", "none"), *grades]),
            "at_psi": TextField(
                "At this pressure or above, psi", "As in 100", check=_whole, short=True
            ),
        }
    if check is not None and check.kind == "look":
        worst = [(str(s), f"severity {s}") for s in (0, 1, 2)]
        picked = Pick("Worst open finding it may have", [("", "none"), *worst], check=_whole)
        return {"worst": picked}
    low, high = ("370 in-lb", "410 in-lb") if is_torque else ("0.016 in", "0.019 in")
    speed = TextField(
        "Taken from this speed, rpm",
        "As in 1700. Empty: as the run card says.",
        check=_whole,
        short=True,
    )
    return {
        "lower": TextField(
            "Not below, with its unit", f"As in {low}. Empty: no lower bound.", short=True
        ),
        "upper": TextField(
            "Not above, with its unit", f"As in {high}. Empty: no upper bound.", short=True
        ),
        **({"at_rpm": speed} if check is not None and check.method in DROPS else {}),
        "aim": TextField("Set it to, with its unit", "May be left empty", short=True),
        "use": Pick(
            "Used for",
            (
                ("", "both: going back as found, and setting"),
                ("service", "whether it may go back as found"),
                ("setting", "what to set it to when reworked"),
            ),
        ),
    }


def _entered(desk: Desk, on_file: dict[str, Any]) -> str:
    by, on = on_file.get("entered_by"), on_file.get("entered_on")
    if not by:
        return ""
    when = f", {on_day(on)}" if isinstance(on, date) else ""
    return f"{desk.judged.facts.person(str(by))}{when}"
