"""Puts in the stop limit of a vessel: the row of `distillery/rules/data/0004`, which is never edited."""

from django.db import migrations

from distillery.rules import seeding


def put_in(apps, schema_editor):
    seeding.put_in("0004", apps, schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("rules", "0003_maceration")]

    operations = [migrations.RunPython(put_in, migrations.RunPython.noop)]
