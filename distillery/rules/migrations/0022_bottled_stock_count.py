"""When counted bottles are looked into, and breakage as a loss: the rows of `distillery/rules/data/0022`, never edited."""

from django.db import migrations

from distillery.rules import seeding


def put_in(apps, schema_editor):
    seeding.put_in("0022", apps, schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("rules", "0021_names_by_market")]

    operations = [
        migrations.RunPython(put_in, migrations.RunPython.noop),
    ]
