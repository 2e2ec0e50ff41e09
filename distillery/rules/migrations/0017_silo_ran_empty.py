"""Puts in how far the books of an emptied silo and a grist may be out: `distillery/rules/data/0017`, never edited."""

from django.db import migrations

from distillery.rules import seeding


def put_in(apps, schema_editor):
    seeding.put_in("0017", apps, schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("rules", "0015_dispatch")]

    operations = [migrations.RunPython(put_in, migrations.RunPython.noop)]
