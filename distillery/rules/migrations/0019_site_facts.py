"""What a site says of itself, and how long things last: the rows of `distillery/rules/data/0019`, never edited."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from distillery.rules import seeding


def put_in(apps, schema_editor):
    seeding.put_in("0019", apps, schema_editor.connection.alias)


class Migration(migrations.Migration):

    dependencies = [
        ('rules', '0018_returns'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Interval',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('what', models.CharField(max_length=60)),
                ('months', models.PositiveIntegerField()),
                ('from_day', models.DateField()),
                ('source', models.TextField()),
            ],
            options={
                'ordering': ['what', 'from_day', 'id'],
            },
        ),
        migrations.CreateModel(
            name='SiteDetails',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=120)),
                ('address', models.CharField(max_length=300)),
                ('approval_number', models.CharField(blank=True, max_length=60)),
                ('warehouse_approval', models.CharField(blank=True, max_length=60)),
                ('from_day', models.DateField()),
                ('source', models.TextField()),
            ],
            options={
                'ordering': ['from_day', 'id'],
            },
        ),
        migrations.CreateModel(
            name='Statement',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('what', models.CharField(choices=[('figures', 'The figures of the site were looked through, and stand'), ('months', 'The site accounts by calendar months'), ('nothing held', 'No spirit is held as the books begin')], max_length=20)),
                ('said', models.TextField(blank=True)),
                ('entered_at', models.DateTimeField()),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='Entered',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('table', models.CharField(max_length=60)),
                ('row', models.BigIntegerField()),
                ('entered_at', models.DateTimeField()),
                ('reason', models.TextField(blank=True)),
                ('person', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['id'],
                'constraints': [models.UniqueConstraint(fields=('table', 'row'), name='figure_entered_once')],
            },
        ),
        migrations.RunPython(put_in, migrations.RunPython.noop),
    ]
