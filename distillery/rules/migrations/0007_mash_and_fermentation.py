"""Puts in what mash and fermentation are looked into by: the rows of `distillery/rules/data/0007`, never edited."""

from django.db import migrations

from distillery.rules import seeding


def put_in(apps, schema_editor):
    seeding.put_in("0007", apps, schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("rules", "0005_time_between_readings")]

    operations = [migrations.RunPython(put_in, migrations.RunPython.noop)]
