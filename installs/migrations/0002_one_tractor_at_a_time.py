"""A unit stands in one tractor at a time, whoever writes the rows."""

from django.db import migrations

POSTGRESQL = [
    "CREATE EXTENSION IF NOT EXISTS btree_gist",
    """
    ALTER TABLE installs_install ADD CONSTRAINT install_one_tractor_at_a_time
    EXCLUDE USING gist (unit_id WITH =, daterange(installed_on, removed_on, '[)') WITH &&)
    """,
]
# The same rule as the range above; one that ends on the day it starts is empty and overlaps nothing.
OVERLAP = """
    CREATE TRIGGER install_one_tractor_at_a_time_{event}
    BEFORE {event} ON installs_install
    WHEN EXISTS (
        SELECT 1 FROM installs_install AS other
        WHERE other.unit_id = NEW.unit_id AND other.id IS NOT NEW.id
          AND other.installed_on < COALESCE(NEW.removed_on, '9999-12-31')
          AND NEW.installed_on < COALESCE(other.removed_on, '9999-12-31')
          AND NEW.installed_on IS NOT NEW.removed_on
          AND other.installed_on IS NOT other.removed_on
    )
    BEGIN
        SELECT RAISE(ABORT, 'install_one_tractor_at_a_time');
    END
"""
SQLITE = [OVERLAP.format(event="INSERT"), OVERLAP.format(event="UPDATE")]


def add(apps, schema_editor):
    statements = POSTGRESQL if schema_editor.connection.vendor == "postgresql" else SQLITE
    for statement in statements:
        schema_editor.execute(statement)


def remove(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(
            "ALTER TABLE installs_install DROP CONSTRAINT install_one_tractor_at_a_time"
        )
    else:
        for event in ("INSERT", "UPDATE"):
            schema_editor.execute(f"DROP TRIGGER install_one_tractor_at_a_time_{event}")


class Migration(migrations.Migration):
    dependencies = [("installs", "0001_first_records")]
    operations = [migrations.RunPython(add, remove)]
