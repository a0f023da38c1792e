"""Every address, entry and command, tried as a stranger, an outsider, a reader, a helper and a keeper."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from html import unescape
from pathlib import Path

import pytest
from django.test import Client
from django.urls import URLPattern, get_resolver, reverse
from django.utils import timezone

from rehang.sheets import demo_path
from rehang.sheets.folder import parse_files, read_folder
from rehang.trade.terms.kinds.register import KINDS
from tests import who_may
from tests.pins import PIN, give_pins

DEMO = "tv4-2207-2026"
LOADED = datetime(2026, 10, 20, 12, 0, tzinfo=UTC)
READER = '\n[[person]]\nkey = "rea"\nname = "Rea Teller"\nrole = "reads"\n'
WHO = dict(zip(who_may.PEOPLE, ("", "cy", "rea", "tom", "marta"), strict=True))
# What a refusal for want of a right says.
NO_RIGHT = re.compile(
    r"has no paper|for whoever keeps the shop|does not keep the shop|does not write in it"
)
SOURCE = {"document": "TV4 manual (invented)", "revision": "7", "page": "7-5", "pin": PIN}
ARGS: dict[str, dict[str, object]] = {
    "call_it": {"entry_id": "CLOSE"}, "close_call": {"entry_id": "CLOSE"},
    "read_again": {"entry_id": "CLOSE"}, "leave_open": {"entry_id": "CLOSE"},
    "why": {"hole": "1T", "check": "gap"}, "limit": {"number": 2}, "meter": {"name": "DM-2"},
    "new_limit": {"kind": "plug", "check": "gap"}, "plug": {"name": "K0411"},
    "help_page": {"name": "board"},
    "photo": {"name": "0" * 32 + ".jpg"}, "fleet_file": {"form": "csv"}, "run_of": {"name": "1"},
    "record": {"what": "maintenance"}, "record_write": {"what": "maintenance"},
    "record_sign": {"what": "maintenance"}, "draft_pdf": {"what": "maintenance"},
    "signed": {"entry_id": "none"}, "signed_pdf": {"entry_id": "none"},
    "table_file": {"what": "limits", "file_format": "csv"}, "task": {"name": "F4"},
    "task_at_once": {"name": "H4"},
    "torque_group": {"group": "rocker-cover"}, "torque_call": {"group": "rocker-cover"},
    "extra": {"extra": "none"}, "monitor": {"entry_id": "none"},
    "monitor_file": {"entry_id": "none"}, "monitor_columns": {"mark": "none"}, "facts_kind": {"name": "layout"}, "facts_new": {"name": "part"},
    "facts_thing": {"name": "hose", "key": "HS1"},
    "item": {"kind": "plug", "name": "K0411"}, "item_write": {"kind": "plug", "name": "K0411"},
    "story": {"kind": "plug", "name": "K0411"},
    "story_pdf": {"kind": "plug", "name": "K0411"},
    "story_chart": {"kind": "plug", "name": "K0411", "form": "svg"},
    "read": {"kind": "plug", "name": "K0411", "check": "gap"},
    "read_all": {"kind": "plug", "check": "gap"},
}  # fmt: skip
POSTED: dict[str, dict[str, str]] = {
    "act": {"kind": "note", "text": "Swept the bay."},
    "backup": {"act": "now", "pin": PIN},
    "bring_back": {"pin": PIN},
    "call_it": {"call": "WITHIN", "words": "read twice on the better meter", "pin": PIN},
    "facts_kind": {"from": "opposed-4", "pin": PIN},
    "facts_new": {"id": "rag", "name": "Rag", "pin": PIN},
    "facts_thing": {"id": "HS1", "line": "Tank to pump", "type": "PTFE", "pin": PIN},
    "line_keep": {"line": "in 1T K0415"},
    "limit": {"upper": "4000 ohm", **SOURCE},
    "meter": {"name": "Ohmmeter", "due": "2027-02", "pin": PIN},
    "new_limit": {"upper": "0.020 in", **SOURCE},
    "new_meter": {"make": "spark", "id": "BT-9", "name": "Tester", "pin": PIN},
    "people": {"person": "ilse", "act": "code", "pin": PIN},
    "put_away": {"reason": "hung again", "pin": PIN},
    "record_sign": {"pin": PIN, "agreed": "yes"},
    "strike": {"entry": "none", "reason": "undone"},
    "which_tasks": {"task": "F4", "pin": PIN},
    "torque_call": {
        "entry": "TORQUE", "call": "WITHIN", "reason": "its certificate has 1 %", "pin": PIN,
    },
}  # fmt: skip


@pytest.fixture
def shop(db):
    """The demo with a reader in its list, a close call on a torque, and a job of somebody else."""
    from rehang.book import beginning, queries, services
    from tests.book.shop import folder

    queries.forget()
    demo = read_folder(demo_path())
    files = {**demo.files, "people.toml": demo.files["people.toml"] + READER}
    changed = replace(demo, files=files, facts=parse_files(files, DEMO))
    job = services.load_folder(folder=changed, by="marta", at=LOADED)
    services.load_folder(folder=folder(), by="ada", at=LOADED)
    beginning.offer_shop(job=job, by="marta", at=LOADED)
    give_pins("marta", "tom", "rea", "cy")
    torque = {"place": "2", "wrench": "TW-3", "fastener": "3", "set": "46 in-lb"}
    assert as_person("keeper").post(f"/jobs/{DEMO}/torque/rocker-cover/", torque).status_code == 303
    return job


def as_person(who: str) -> Client:
    from rehang.book import members

    client = Client(raise_request_exception=False)
    if WHO[who]:
        client.force_login(
            members.member(WHO[who]).user, "django.contrib.auth.backends.ModelBackend"
        )
    return client


def routes(patterns: list[object]) -> Iterator[URLPattern]:
    for one in patterns:
        if isinstance(one, URLPattern):
            yield one
        else:
            yield from routes(one.url_patterns)


def address(pattern: URLPattern, ids: dict[str, str]) -> str:
    name = str(pattern.name)
    given = {k: ids.get(str(v), v) for k, v in ARGS.get(name, {}).items()}
    if "slug" in pattern.pattern.regex.groupindex or "<slug>" in str(pattern.pattern):
        given["slug"] = DEMO
    for space in ("web:", "api:", ""):
        try:
            return reverse(space + name, kwargs=given)
        except Exception as problem:  # noqa: BLE001 - the next space may have it
            last = problem
    raise last


def lets(answer, client: Client, *, outside: bool, rights: bool) -> bool:
    """Whether an answer let its person through.

    ``outside``: not there is no. ``rights``: what the next page says of rights counts too.
    """
    assert answer.status_code != 500, answer.content[:500]
    if answer.status_code in (301, 302, 303) and answer.url.startswith("/sign-in/?"):
        return False
    if answer.status_code in (401, 403):
        return False
    text = b"" if answer.streaming else answer.content
    words = unescape(text.decode(errors="replace"))
    if answer.status_code == 404 and outside:
        return False
    if answer.status_code in (409, 422):
        return not NO_RIGHT.search(words)
    if rights:
        if answer.status_code == 303:
            words = unescape(client.get(answer.url, follow=True).content.decode())
        alerts = re.findall(r'role="alert".*?</div>', words, flags=re.S)
        return not NO_RIGHT.search(" ".join(alerts))
    return True


def wanted(which: str) -> dict[str, bool]:
    lets_through = who_may.CLASSES[which][1].split()
    return {who: one == "yes" for who, one in zip(who_may.PEOPLE, lets_through, strict=True)}


def test_every_address_lets_through_whom_the_table_says(shop):
    from rehang.book import queries, services

    judged = queries.judged(shop)
    close = next(
        call.entry.id for item in judged.items for call in item.calls if call.call == "CLOSE CALL"
    )
    ids = {"CLOSE": close, "TORQUE": judged.state.live()[-1].id}
    found, wrong = set(), []
    for pattern in routes(get_resolver().url_patterns):
        name = str(pattern.name)
        found.add(name)
        for method, which in zip(
            ("get", "post"), who_may.ADDRESSES.get(name, ("", "")), strict=True
        ):
            # Paper takes its time, and asks no more of a helper than of a reader.
            tried = who_may.PEOPLE[:3] if name.endswith(("_pdf", "_zip")) else who_may.PEOPLE
            for who in tried:
                if name == "bring_back" and not queries.job(DEMO).put_away:
                    services.write(job=queries.job(DEMO), kind="put_away", data={"reason": "done"},
                                   by="marta", at=timezone.now(), confirmed="marta")  # fmt: skip
                client = as_person(who)
                data = {k: ids.get(v, v) for k, v in POSTED.get(name, {}).items()}
                sent: dict[str, object] = (
                    {"data": data | {"who": WHO[who]}} if method == "post" else {}
                )
                if name in ("append_entries", "read_entries") and method == "post":
                    note = {
                        "id": f"{name}-{who}",
                        "kind": "note",
                        "text": "Swept.",
                        "at": "2026-10-21T15:00:00-05:00",
                    }
                    sent = {
                        "data": json.dumps({"entries": [note]}),
                        "content_type": "application/json",
                    }
                answer = getattr(client, method)(address(pattern, ids), **sent)
                if not which or answer.status_code == 405:
                    if bool(which) or (who == "keeper" and answer.status_code != 405):
                        wrong.append(
                            f"{name} {method} {who}: {answer.status_code}, class {which!r}"
                        )
                    continue
                through = lets(
                    answer, client, outside=who == "outsider", rights=which in ("decides", "keeps")
                )
                if through != wanted(which)[who]:
                    wrong.append(f"{name} {method} {who}: {answer.status_code}, class {which!r}")
    assert wrong == [], "\n".join(wrong)
    assert found == set(who_may.ADDRESSES)


def test_every_command_has_a_class():
    from rehang.cli.main import app

    found = {name for name in app if not name.startswith("-")}
    assert found == set(who_may.COMMANDS)


def test_every_kind_that_takes_a_power_is_in_the_table():
    from rehang.trade.gate.powers import KEEP, need_for

    special = {"closed", "signed", "struck"}
    for kind in KINDS:
        try:
            need = need_for(kind, "maintenance")
        except KeyError:
            assert kind not in who_may.ENTRIES
            continue
        assert who_may.ENTRIES[kind] == ("keeps" if need.power == KEEP else "decides")
    assert special <= set(who_may.ENTRIES) <= set(KINDS)


def test_the_page_of_the_manual_is_this_table():
    page = Path(__file__).parents[2] / "docs" / "reference" / "who-may-what.md"
    assert page.read_text("utf-8") == who_may.page()


@pytest.mark.parametrize("person", ["reader", "helper", "outsider"])
def test_commands_that_write_in_a_persons_name_do_what_that_person_may(shop, tmp_path, person):
    from rehang.book import queries, services
    from rehang.trade.terms.errors import Refused

    files, entries = queries.as_folder(shop)
    newer = {**files, "limits.toml": files["limits.toml"] + "\n# changed\n"}
    folder = replace(read_folder(demo_path()), files=newer, entries=entries,
                     facts=parse_files(newer, DEMO))  # fmt: skip
    refused = {
        "reader": r"^Rea Teller reads this book and does not write in it\.$",
        "helper": r"is for whoever keeps the shop: Marta Oduya\.$",
        "outsider": r"is not in the list of people|^You are not in this job's list of people\.",
    }
    with pytest.raises(Refused, match=refused[person]):
        services.load_folder(folder=folder, by=WHO[person], at=timezone.now())
    with pytest.raises(Refused, match=refused[person]):
        services.file_text(job=shop, name="limits.toml", text=newer["limits.toml"],
                           by=WHO[person], at=timezone.now())  # fmt: skip
    assert queries.files(queries.job(DEMO))["limits.toml"] == files["limits.toml"]
    services.load_folder(folder=folder, by="marta", at=timezone.now())
    assert queries.files(queries.job(DEMO))["limits.toml"] == newer["limits.toml"]
