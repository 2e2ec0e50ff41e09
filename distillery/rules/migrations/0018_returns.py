"""Until when returns are due: `distillery/rules/data/0018`, never edited."""

from django.db import migrations

from distillery.rules import seeding


def put_in(apps, schema_editor):
    seeding.put_in("0018", apps, schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("rules", "0017_silo_ran_empty")]

    operations = [
        migrations.RunPython(put_in, migrations.RunPython.noop),
    ]
