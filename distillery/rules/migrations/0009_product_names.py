"""What a name needs of a spirit, what has to be reported, and the rows of `distillery/rules/data/0009`, never edited."""

from django.db import migrations, models

from distillery.rules import seeding


def put_in(apps, schema_editor):
    seeding.put_in("0009", apps, schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("rules", "0008_distilling")]

    operations = [
        migrations.CreateModel(
            name='NameRequirement',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=60)),
                ('code', models.CharField(max_length=10)),
                ('said', models.CharField(max_length=120)),
                ('measure', models.CharField(max_length=40)),
                ('way', models.CharField(max_length=10)),
                ('limit_millionths', models.BigIntegerField(blank=True, null=True)),
                ('words', models.CharField(blank=True, max_length=200)),
                ('unit', models.CharField(blank=True, max_length=20)),
                ('from_day', models.DateField()),
                ('source', models.TextField()),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='ReportingDuty',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('operation', models.CharField(max_length=40)),
                ('occasion', models.CharField(max_length=60)),
                ('said', models.TextField()),
                ('by_whom', models.CharField(max_length=80)),
                ('until', models.CharField(max_length=120)),
                ('within_days', models.PositiveIntegerField(blank=True, null=True)),
                ('business_days', models.BooleanField(default=False)),
                ('from_day', models.DateField()),
                ('source', models.TextField()),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.RunPython(put_in, migrations.RunPython.noop),
    ]
