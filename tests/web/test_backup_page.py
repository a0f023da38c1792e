"""The page of backups, and what the board says of them."""

from __future__ import annotations

import re
from datetime import timedelta
from pathlib import Path

import pytest
from django.utils import timezone

from tests.pins import PIN, give_pins
from tests.web.test_people_page import shop, tapped, text_of

__all__ = ["shop"]
WORKING = "six feeler gauges"


@pytest.fixture
def keeper(shop, settings, tmp_path):
    """Marta, who keeps the shop that was begun today; its data folder is a folder of the test."""
    from rehang.book import beginning

    settings.REHANG_DATA = tmp_path / "data"
    settings.REHANG_DATA.mkdir()
    beginning.offer_shop(job=shop, by="marta", at=timezone.now())
    return tapped("marta")


def ruled(**rules: object) -> None:
    """Rules of the shop, filed as its page files them."""
    from rehang.book import queries, services
    from rehang.sheets.things import ONE, THINGS, put, things_in

    own, kind = queries.shop(), THINGS["shop"]
    text = queries.files(own)["shop.toml"]
    thing = {**things_in(text, kind)[ONE], "backup": rules}
    services.file_text(
        job=own, name="shop.toml", text=put(text, kind, ONE, thing), by="marta", at=timezone.now()
    )


def made(days_ago: int = 0, **more: object):
    from rehang.book import backup_log

    one = backup_log.Kept(
        at=timezone.now() - timedelta(days=days_ago), file="/media/stick/rehang-x.zip", bytes=2_400_000,
        sum="0", books=2, entries=1_234, **more,
    )  # fmt: skip
    backup_log.write(backup_log.Log(kept=(one,), tried=one.at))
    return one


def test_a_shop_without_a_folder_for_backups_is_led_to_its_rules(keeper):
    page = text_of(keeper.get("/backup/"))
    assert "No backup yet" in page and "Name the stick or folder first." in page
    assert "BACK UP NOW" not in page
    answer = keeper.post("/backup/", {"act": "now", "pin": PIN})
    assert answer.status_code == 422
    assert "No folder or stick is named for backups yet." in text_of(answer)


def test_back_up_now_asks_for_the_pin_and_says_what_was_proved(keeper, monkeypatch, tmp_path):
    from rehang.book import backup_rules

    ruled(to=str(tmp_path), keep=3)
    asked = []
    monkeypatch.setattr(
        backup_rules, "back_up", lambda to, **given: asked.append((to, given)) or made()
    )
    wrong = keeper.post("/backup/", {"act": "now", "pin": "000000"})
    assert (wrong.status_code, asked) == (422, [])
    page = text_of(keeper.post("/backup/", {"act": "now", "pin": PIN}))
    assert "Proved: 2 books, 1,234 lines, each one checked." in page
    assert "Proved backup today" in page
    ((to, given),) = asked
    assert (to, given["keep"], given["accounts"], given["passphrase"]) == (tmp_path, 3, False, "")


def test_a_backup_that_came_to_nothing_is_said_until_one_is_made(keeper, tmp_path):
    ruled(to=str(tmp_path / "gone"))
    answer = keeper.post("/backup/", {"act": "now", "pin": PIN})
    why = f"There is no folder {tmp_path / 'gone'}. Plug the stick in, or name a folder that is there."
    assert answer.status_code == 422 and why in text_of(answer)
    page = text_of(keeper.get("/backup/"))
    assert "Last try, " in page and why in page


def test_a_passphrase_is_typed_twice_and_kept_for_its_owner_alone(keeper, settings, tmp_path):
    from rehang.book import backup_rules

    ruled(to=str(tmp_path))

    def post(**typed: str) -> str:
        return text_of(keeper.post("/backup/", {"pin": PIN, **typed}))

    assert "The two are not the same." in post(act="lock", passphrase=WORKING, again="another one")
    assert "A passphrase has 12 characters or more" in post(act="lock", passphrase="x", again="x")
    assert "Type the passphrase." in post(act="lock")
    assert backup_rules.passphrase() == ""
    assert "The next backups are locked." in post(act="lock", passphrase=WORKING, again=WORKING)
    assert backup_rules.passphrase() == WORKING
    file = Path(settings.REHANG_DATA) / "backup-passphrase"
    assert file.stat().st_mode & 0o777 == 0o600
    assert WORKING not in keeper.get("/backup/").content.decode()
    assert "not locked" in post(act="unlock")
    assert not file.exists()


def test_who_does_not_keep_the_shop_is_turned_away_and_told_when_it_is_late(keeper, monkeypatch):
    give_pins("tom")
    helper = tapped("tom")
    assert helper.get("/backup/").status_code == 403
    assert helper.post("/backup/", {"act": "now", "pin": PIN}).status_code == 403
    made(days_ago=2)
    ruled(to="/media/stick", ask_after_days=3)
    for person in (helper, keeper):
        assert "Proved backup 2 days ago." in text_of(person.get("/?list=jobs"))
        assert "Proved backup" not in text_of(person.get("/jobs/tv4-2207-2026/"))
    made(days_ago=4)
    for person, more in ((helper, "Tell whoever keeps the shop."), (keeper, "BACKUP")):
        for page in ("/?list=jobs", "/jobs/tv4-2207-2026/"):
            assert f"Proved backup 4 days ago. {more}" in text_of(person.get(page))


def test_a_backup_dated_ahead_of_the_clock_does_not_pass_for_a_fresh_one(keeper):
    made(days_ago=-3)
    assert "The clock of the machine is behind the last backup." in text_of(
        keeper.get("/jobs/tv4-2207-2026/")
    )


def test_the_demo_alone_asks_for_no_backup(shop):
    assert "backup" not in text_of(tapped("marta").get("/jobs/tv4-2207-2026/")).casefold()


def test_the_rules_are_changed_on_the_page_of_the_shop(keeper, tmp_path):
    from rehang.book import backup_rules

    assert "Folder or stick" in text_of(keeper.get("/jobs/the_shop/facts/shop/"))
    ruled(to=str(tmp_path), every_days=2, at="07:15", keep=5, ask_after_days=4)
    rule = backup_rules.rules()
    assert (rule.every_days, f"{rule.at:%H:%M}", rule.keep, rule.ask_after_days) == (
        2,
        "07:15",
        5,
        4,
    )
    assert "2 days, at 07:15" in text_of(keeper.get("/backup/"))


def test_the_page_speaks_of_no_files_keys_and_hashes(keeper, tmp_path):
    from rehang.book import backup_rules
    from tests.web.test_words import INNER

    ruled(to=str(tmp_path))
    backup_rules.set_passphrase(WORKING)
    made(days_ago=30, locked=True, drilled=timezone.now())
    for address in ("/backup/", "/jobs/the_shop/facts/shop/"):
        said = text_of(keeper.get(address)).replace(str(tmp_path), "")
        assert [what for what, words in INNER.items() if re.search(words, said)] == []
