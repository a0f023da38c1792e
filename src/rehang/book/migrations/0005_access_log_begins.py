"""The accounts and the lists of people that there are become the first lines of the access log.

Written out here and not taken from the program: what this wrote must not change with it.
"""

import hashlib
import json
from datetime import UTC, datetime

from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor


def _sum(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def _spelt(value: object) -> str:
    return json.dumps(value, sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def begin(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    line_of = apps.get_model("book", "AccessLine")
    if line_of.objects.exists():
        return
    at, prev, seq = datetime.now(UTC).isoformat(), "0" * 64, 0

    def add(what: str, about: str, said: dict[str, object]) -> None:
        nonlocal prev, seq
        seq += 1
        told = {"about": about, "at": at, "by": "rehang", "said": _spelt(said), "seq": seq, "what": what}  # fmt: skip
        own = _sum(f"{prev}\n{_spelt(told)}")
        line_of.objects.create(**told, prev=prev, hash=own)
        prev = own

    for one in apps.get_model("book", "Member").objects.select_related("user").order_by("pk"):
        user = one.user
        add(
            "found",
            one.key,
            {
                "name": one.name,
                "account": user.pk,
                "login": user.username,
                "active": user.is_active,
                "staff": user.is_staff,
                "superuser": user.is_superuser,
                "password": _sum(user.password),
                "pin": _sum(f"{one.pin}\n{one.pin_shown}"),
            },
        )
    files = apps.get_model("book", "JobFile").objects.filter(name="people.toml")
    for job in apps.get_model("book", "Job").objects.order_by("pk"):
        last = files.filter(job=job).order_by("-revision").first()
        if last is not None:
            created = job.created_at.astimezone(UTC).isoformat()
            add("people_filed", job.slug, {"sha256": last.sha256, "created_at": created})
    apps.get_model("book", "ChainEnd").objects.create(name="access_log", seq=seq, hash=prev)


class Migration(migrations.Migration):
    dependencies = [("book", "0004_access_log"), ("auth", "0012_alter_user_first_name_max_length")]

    # Going back leaves the lines: they are never taken away.
    operations = [migrations.RunPython(begin, migrations.RunPython.noop)]
