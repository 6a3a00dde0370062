"""What was recorded is never rewritten: the database itself refuses, whoever asks.

Only the person may be taken out of a row (a deleted account). Rows of SQLite can be deleted, since emptying a test
database is deleting; PostgreSQL refuses that too.
"""

from django.db import migrations

TABLES = {
    "common_event": ("actor_id", ("id", "at", "verb", "thing", "thing_id", "scope_id", "detail")),
    "common_sight": ("person_id", ("id", "at", "hour", "thing", "thing_id", "scope_id")),
}
NEVER = "what was recorded is never rewritten"


def _changed(vendor, person, columns):
    other = "IS NOT" if vendor == "sqlite" else "IS DISTINCT FROM"
    told = [f"NEW.{name}::text {other} OLD.{name}::text" if vendor != "sqlite" else f"NEW.{name} {other} OLD.{name}" for name in columns]
    return " OR ".join([*told, f"NEW.{person} IS NOT NULL"])


def guard(apps, schema_editor):
    vendor = schema_editor.connection.vendor
    for table, (person, columns) in TABLES.items():
        changed = _changed(vendor, person, columns)
        if vendor == "sqlite":
            schema_editor.execute(
                f"CREATE TRIGGER {table}_kept BEFORE UPDATE ON {table} WHEN {changed} "
                f"BEGIN SELECT RAISE(ABORT, '{NEVER}'); END"
            )
        else:
            schema_editor.execute(
                f"CREATE FUNCTION {table}_kept() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
                f"IF TG_OP = 'DELETE' OR {changed} THEN RAISE EXCEPTION '{NEVER}' USING ERRCODE = '23514'; END IF; "
                "RETURN NEW; END $$"
            )
            schema_editor.execute(
                f"CREATE TRIGGER {table}_kept BEFORE UPDATE OR DELETE ON {table} "
                f"FOR EACH ROW EXECUTE FUNCTION {table}_kept()"
            )


def unguard(apps, schema_editor):
    for table in TABLES:
        if schema_editor.connection.vendor == "sqlite":
            schema_editor.execute(f"DROP TRIGGER {table}_kept")
        else:
            schema_editor.execute(f"DROP TRIGGER {table}_kept ON {table}")
            schema_editor.execute(f"DROP FUNCTION {table}_kept()")


class Migration(migrations.Migration):
    dependencies = [("common", "0002_sights")]
    operations = [migrations.RunPython(guard, unguard)]
