"""The page of backups: how the shop's books are kept safe, by whoever keeps the shop."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from rehang.book import backup_log, backup_rules, models, queries
from rehang.book.backup import is_beside
from rehang.book.restoring import drill
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.gate.powers import shopkeepers
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.web.shared.access import check_own_secret
from rehang.web.shared.desk import refused
from rehang.web.shared.forms import BenchForm, Secret, TextField
from rehang.web.shared.times import when_text
from rehang.web.shop.sign_in import of_member

ACTS = ("now", "try", "lock", "unlock")
# Drawn out of the newest backup when a restore is tried on the page.
SAMPLE = 200


def _is_act(text: str) -> None:
    if text not in ACTS:
        raise BadInput("Pick what is to be done.")


class BackupForm(BenchForm):
    """What is done about the backups, with the PIN of who does it."""

    fallback = "pin"
    act = TextField(asks="Pick what is to be done.", check=_is_act)
    passphrase = Secret("Passphrase", autocomplete="new-password")
    again = Secret("The same again", autocomplete="new-password")
    pin = Secret("Your own PIN", short=True)


@sensitive_post_parameters("pin", "passphrase", "again")
@never_cache
@of_member
@require_http_methods(["GET", "HEAD", "POST"])
def backup(request: HttpRequest, keeper: models.Member) -> HttpResponse:
    """How it stands; a post makes a backup, tries a restore, or sets what locks them."""
    shop = queries.shop_for(keeper.key)
    facts = queries.facts(shop) if shop else None
    if shop is None or facts is None or keeper.key not in [p.key for p in shopkeepers(facts)]:
        return refused(request, NotAllowed("This page is for whoever keeps the shop."), 403)
    form = BackupForm(request)
    said: tuple[str, ...] = ()
    if request.method == "POST":
        with form.refusing():
            typed = form.checked()
            check_own_secret(request, keeper, typed["pin"], "pin")
            said = _done(typed)
    rule, found = backup_rules.rules(shop), backup_rules.standing(timezone.now())
    return render(
        request,
        "shop/backup.html",
        {
            "said": {"sentence": said[0]} if said else None,
            "more": said[1:],
            "standing": found,
            "words": backup_rules.standing_words(found),
            "mark": _mark(found),
            "rule": rule,
            "beside": bool(rule.to) and _is_beside(rule.to),
            "locked": bool(backup_rules.passphrase()),
            "shop": shop,
            "own_pin": keeper.pin_shown,
            **_kept(facts),
            **form.shown,
        },
        status=form.status,
    )


def _done(typed: dict[str, Any]) -> tuple[str, ...]:
    """Do what was asked for, and what to say of it."""
    if typed["act"] == "now":
        made = backup_rules.by_the_rules(at=timezone.now())
        return (f"Proved: {made.books} books, {made.entries:,} lines, each one checked.",)
    if typed["act"] == "try":
        newest = next(iter(backup_log.log().kept), None)
        if newest is None:
            raise NotAllowed("There is no backup yet to try.")
        found = drill(
            Path(newest.file),
            passphrase=backup_rules.passphrase(),
            at=timezone.now(),
            sample=SAMPLE,
        )
        if found.differing:
            return ("The restore differs. Do not rely on this backup.", *found.differing)
        return ("A restore was tried, and all of it was alike.", *found.lines)
    if typed["act"] == "unlock":
        backup_rules.set_passphrase("")
        return ("The next backups are not locked. Those that are stay so.",)
    if typed["passphrase"] != typed["again"]:
        raise BadInput("The two are not the same. Type the passphrase twice.", "again")
    if not typed["passphrase"]:
        raise BadInput("Type the passphrase.", "passphrase")
    backup_rules.set_passphrase(typed["passphrase"])
    return ("The next backups are locked. Write the passphrase down where the machine is not.",)


def _mark(found: backup_rules.Standing | None) -> str:
    """The shape beside the words."""
    if found is None or found.last is None:
        return "not-yet"
    return "out" if found.is_late else "keep"


def _is_beside(to: str) -> bool:
    try:
        return is_beside(Path(to))
    except OSError:
        return False


def _kept(facts: JobFacts) -> dict[str, Any]:
    found, zone = backup_log.log(), ZoneInfo(facts.timezone_name)

    def when(at: datetime | None) -> str:
        return when_text(at, zone) if at else ""

    return {
        "tried": when(found.tried),
        "why": found.why,
        "kept": [
            {
                "at": when(one.at),
                "name": Path(one.file).name,
                "folder": str(Path(one.file).parent),
                "size": f"{one.bytes / 1e6:,.1f} MB",
                "entries": f"{one.entries:,}",
                "locked": one.locked,
                "drilled": when(one.drilled),
                "gone": not Path(one.file).exists(),
            }
            for one in found.kept[:14]
        ],
    }
