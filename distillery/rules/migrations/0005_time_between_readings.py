"""Puts in what a site may set of how often it reads: the rows of `distillery/rules/data/0005`, which are never edited."""

from django.db import migrations

from distillery.rules import seeding


def put_in(apps, schema_editor):
    seeding.put_in("0005", apps, schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("rules", "0004_stop_limit")]

    operations = [migrations.RunPython(put_in, migrations.RunPython.noop)]
