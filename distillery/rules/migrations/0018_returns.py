"""Why a rate or a rounding was entered, and until when returns are due: `distillery/rules/data/0018`, never edited."""

from django.db import migrations, models

from distillery.rules import seeding


def put_in(apps, schema_editor):
    seeding.put_in("0018", apps, schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("rules", "0017_silo_ran_empty")]

    operations = [
        migrations.AddField(
            model_name="dutyrate", name="reason", field=models.CharField(blank=True, default="", max_length=400)
        ),
        migrations.AddField(
            model_name="roundingrule", name="reason", field=models.CharField(blank=True, default="", max_length=400)
        ),
        migrations.RunPython(put_in, migrations.RunPython.noop),
    ]
