"""What figures of an operation usually are, for a site that has no history of its own yet."""

from django.db import migrations, models

from distillery.rules import seeding


def put_in(apps, schema_editor):
    model = apps.get_model("rules", "UsualFigure")
    model.objects.using(schema_editor.connection.alias).bulk_create(model(**row) for row in seeding.usual_figures())


class Migration(migrations.Migration):
    dependencies = [("rules", "0002_figures")]

    operations = [
        migrations.CreateModel(
            name="UsualFigure",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=60)),
                ("from_day", models.DateField()),
                ("unit", models.CharField(blank=True, max_length=20)),
                ("expected_millionths", models.BigIntegerField(blank=True, null=True)),
                ("spread_millionths", models.BigIntegerField()),
                ("source", models.TextField()),
            ],
            options={"ordering": ["name", "from_day"]},
        ),
        migrations.RunPython(put_in, migrations.RunPython.noop),
    ]
