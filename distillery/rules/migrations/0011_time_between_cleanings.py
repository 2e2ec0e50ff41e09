"""Puts in how often vessels are cleaned: the rows of `distillery/rules/data/0011`, which are never edited."""

from django.db import migrations

from distillery.rules import seeding


def put_in(apps, schema_editor):
    seeding.put_in("0011", apps, schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("rules", "0009_product_names")]

    operations = [migrations.RunPython(put_in, migrations.RunPython.noop)]
