"""What names need in markets with rules of their own: the rows of `distillery/rules/data/0021`, never edited."""

from django.db import migrations

from distillery.rules import seeding


def put_in(apps, schema_editor):
    seeding.put_in("0021", apps, schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("rules", "0020_two_hands")]

    operations = [
        migrations.RunPython(put_in, migrations.RunPython.noop),
    ]
