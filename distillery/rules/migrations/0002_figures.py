"""Puts in the figures a new site starts with; a site's own rows come after them."""

from django.db import migrations

from distillery.rules import seeding


def put_in(apps, schema_editor):
    for name, rows in (
        ("DutyRate", seeding.duty_rates()),
        ("ReviewThreshold", seeding.review_thresholds()),
        ("CaskBand", seeding.cask_bands()),
        ("LossCause", seeding.loss_causes()),
        ("GravityFactor", seeding.gravity_factors()),
    ):
        model = apps.get_model("rules", name)
        model.objects.using(schema_editor.connection.alias).bulk_create(model(**row) for row in rows)


class Migration(migrations.Migration):
    dependencies = [("rules", "0001_initial")]

    operations = [migrations.RunPython(put_in, migrations.RunPython.noop)]
