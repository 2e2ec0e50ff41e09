"""Puts in how far from its plan a cut may be made: the row of `distillery/rules/data/0012`, which is never edited."""

from django.db import migrations

from distillery.rules import seeding


def put_in(apps, schema_editor):
    seeding.put_in("0012", apps, schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("rules", "0008_distilling")]

    operations = [migrations.RunPython(put_in, migrations.RunPython.noop)]
