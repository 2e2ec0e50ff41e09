"""Puts in the figures of the maceration: the rows of `distillery/rules/data/0003`, which are never edited."""

from django.db import migrations

from distillery.rules import seeding


def put_in(apps, schema_editor):
    seeding.put_in("0003", apps, schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("rules", "0002_seeds")]

    operations = [migrations.RunPython(put_in, migrations.RunPython.noop)]
