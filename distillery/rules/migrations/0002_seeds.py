"""Puts in the figures a new site starts with: the rows of `distillery/rules/data/0002`, which are never edited."""

from django.db import migrations

from distillery.rules import seeding


def put_in(apps, schema_editor):
    seeding.put_in("0002", apps, schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("rules", "0001_initial")]

    operations = [migrations.RunPython(put_in, migrations.RunPython.noop)]
