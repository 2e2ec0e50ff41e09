"""Puts in what has to be reported of what leaves, and from which size on its differences are looked into: the rows of
`distillery/rules/data/0015`, which are never edited."""

from django.db import migrations

from distillery.rules import seeding


def put_in(apps, schema_editor):
    seeding.put_in("0015", apps, schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("rules", "0014_vats_and_bottling")]

    operations = [migrations.RunPython(put_in, migrations.RunPython.noop)]
