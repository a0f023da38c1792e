"""The database itself refuses to change an entry or a filed text, or to take one away."""

from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

ENTRY = "An entry is never changed. Strike it and write another."
FILE = "A filed text is never changed. File another revision."

# table, event, name of the trigger, sentence
TRIGGERS = [
    ("book_entry", "UPDATE", "book_entry_is_never_changed", ENTRY),
    ("book_entry", "DELETE", "book_entry_is_never_taken_away", ENTRY),
    ("book_jobfile", "UPDATE", "book_jobfile_is_never_changed", FILE),
    ("book_jobfile", "DELETE", "book_jobfile_is_never_taken_away", FILE),
]


def add(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    if schema_editor.connection.vendor == "sqlite":
        for table, event, name, sentence in TRIGGERS:
            schema_editor.execute(
                f"CREATE TRIGGER {name} BEFORE {event} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{sentence}'); END"
            )
        return
    schema_editor.execute(
        "CREATE FUNCTION book_only_grows() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION USING MESSAGE = TG_ARGV[0], "
        "ERRCODE = 'integrity_constraint_violation'; END $$"
    )
    for table, event, name, sentence in TRIGGERS:
        schema_editor.execute(
            f"CREATE TRIGGER {name} BEFORE {event} ON {table} "
            f"FOR EACH ROW EXECUTE FUNCTION book_only_grows('{sentence}')"
        )
        if event == "DELETE":
            schema_editor.execute(
                f"CREATE TRIGGER {name}_at_once BEFORE TRUNCATE ON {table} "
                f"FOR EACH STATEMENT EXECUTE FUNCTION book_only_grows('{sentence}')"
            )


def take_away(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    sqlite = schema_editor.connection.vendor == "sqlite"
    for table, event, name, _ in TRIGGERS:
        on = "" if sqlite else f" ON {table}"
        schema_editor.execute(f"DROP TRIGGER IF EXISTS {name}{on}")
        if event == "DELETE" and not sqlite:
            schema_editor.execute(f"DROP TRIGGER IF EXISTS {name}_at_once{on}")
    if not sqlite:
        schema_editor.execute("DROP FUNCTION IF EXISTS book_only_grows()")


class Migration(migrations.Migration):
    dependencies = [("book", "0001_book")]

    operations = [migrations.RunPython(add, take_away)]
