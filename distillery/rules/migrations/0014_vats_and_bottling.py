"""What packages and bottle sizes are held to, what vats lose as they are worked: the rows of `distillery/rules/data/0014`,
never edited.
"""

from django.db import migrations, models

from distillery.rules import seeding


def put_in(apps, schema_editor):
    seeding.put_in("0014", apps, schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("rules", "0013_casks_emptied")]

    operations = [
        migrations.CreateModel(
            name='NominalQuantity',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('from_day', models.DateField()),
                ('from_ul', models.BigIntegerField()),
                ('to_ul', models.BigIntegerField(blank=True, null=True)),
                ('rule', models.CharField(max_length=20)),
                ('source', models.TextField()),
            ],
            options={
                'ordering': ['from_day', 'id'],
            },
        ),
        migrations.CreateModel(
            name='PackageError',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('from_day', models.DateField()),
                ('nominal_from_ul', models.BigIntegerField()),
                ('nominal_to_ul', models.BigIntegerField(blank=True, null=True)),
                ('share_millionths', models.BigIntegerField(blank=True, null=True)),
                ('error_ul', models.BigIntegerField(blank=True, null=True)),
                ('source', models.TextField()),
            ],
            options={
                'ordering': ['from_day', 'nominal_from_ul'],
            },
        ),
        migrations.RunPython(put_in, migrations.RunPython.noop),
    ]
