"""Puts in what a run and a distillation period are held to: the rows of `distillery/rules/data/0008`, never edited."""

from django.db import migrations

from distillery.rules import seeding


def put_in(apps, schema_editor):
    seeding.put_in("0008", apps, schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("rules", "0007_mash_and_fermentation")]

    operations = [migrations.RunPython(put_in, migrations.RunPython.noop)]
