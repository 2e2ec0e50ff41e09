"""Starts the chain of seals. The triggers are put on the tables at the end of `migrate`."""

from django.db import migrations

FIRST_SEAL = "0" * 64


def start(apps, schema_editor):
    heads = apps.get_model("ledger", "Head").objects.using(schema_editor.connection.alias)
    heads.get_or_create(id=1, defaults={"last_seal": FIRST_SEAL})


class Migration(migrations.Migration):
    dependencies = [("ledger", "0001_initial")]

    operations = [migrations.RunPython(start, migrations.RunPython.noop)]
