"""No bay, technician or truck has two bookings at one time, whoever writes the rows."""

from django.db import migrations

ONE_OF = ("bay", "technician", "tractor")
POSTGRESQL = """
    ALTER TABLE installs_booking ADD CONSTRAINT booking_{one}_once_at_a_time
    EXCLUDE USING gist ({one}_id WITH =, tstzrange(begins_at, ends_at, '[)') WITH &&)
    WHERE (state <> 'called_off')
"""
# The same rule; moments are kept as text in UTC there, which sorts as time does.
SQLITE = """
    CREATE TRIGGER booking_{one}_once_at_a_time_{event}
    BEFORE {event} ON installs_booking
    WHEN NEW.state <> 'called_off' AND EXISTS (
        SELECT 1 FROM installs_booking AS other
        WHERE other.{one}_id = NEW.{one}_id AND other.id IS NOT NEW.id
          AND other.state <> 'called_off'
          AND other.begins_at < NEW.ends_at AND NEW.begins_at < other.ends_at
    )
    BEGIN
        SELECT RAISE(ABORT, 'booking_{one}_once_at_a_time');
    END
"""


def add(apps, schema_editor):
    for one in ONE_OF:
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(POSTGRESQL.format(one=one))
            continue
        for event in ("INSERT", "UPDATE"):
            schema_editor.execute(SQLITE.format(one=one, event=event))


def remove(apps, schema_editor):
    for one in ONE_OF:
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(
                f"ALTER TABLE installs_booking DROP CONSTRAINT booking_{one}_once_at_a_time"
            )
            continue
        for event in ("INSERT", "UPDATE"):
            schema_editor.execute(f"DROP TRIGGER booking_{one}_once_at_a_time_{event}")


class Migration(migrations.Migration):
    dependencies = [("installs", "0003_install_day")]
    operations = [migrations.RunPython(add, remove)]
