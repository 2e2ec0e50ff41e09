"""Duty rates that are known to a day only, and a site's own rounding rules.

The seeded rates from 1 February 2026 were open although nothing was known of a rate after 31 January 2027. Only they
are given their last day; a rate that a site entered itself stays as it was entered.
"""

from datetime import date

from django.db import migrations, models

SEEDED = "HMRC published rates data, period 2026-2"


def end(apps, schema_editor):
    rates = apps.get_model("rules", "DutyRate").objects.using(schema_editor.connection.alias)
    rates.filter(from_day=date(2026, 2, 1), to_day__isnull=True, source__startswith=SEEDED).update(
        to_day=date(2027, 1, 31)
    )


class Migration(migrations.Migration):
    dependencies = [("rules", "0003_usual_figures")]

    operations = [
        migrations.CreateModel(
            name="RoundingRule",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=60)),
                ("from_day", models.DateField()),
                ("step_millionths", models.BigIntegerField()),
                ("way", models.CharField(max_length=10)),
                ("source", models.TextField()),
            ],
            options={"ordering": ["name", "from_day"]},
        ),
        migrations.RunPython(end, migrations.RunPython.noop),
    ]
