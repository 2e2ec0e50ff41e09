"""Puts in what emptying casks usually loses and what whisky asks for: the rows of `distillery/rules/data/0013`."""

from django.db import migrations

from distillery.rules import seeding


def put_in(apps, schema_editor):
    seeding.put_in("0013", apps, schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("rules", "0012_cut_away_from_plan")]

    operations = [migrations.RunPython(put_in, migrations.RunPython.noop)]
