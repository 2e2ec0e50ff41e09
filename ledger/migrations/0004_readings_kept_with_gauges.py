"""Keeps each reading with its gauge, how flows were measured, and figures to be compared with their kind."""

from __future__ import annotations

from typing import Any

import django.db.models.deletion
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

from distillery.guards import install
from ledger.guards import ledger_guards


def stand(apps: Any, schema_editor: BaseDatabaseSchemaEditor) -> None:
    install(schema_editor.connection, ledger_guards(schema_editor.connection))


class Migration(migrations.Migration):

    dependencies = [
        ('ledger', '0003_guards'),
    ]

    operations = [
        migrations.AddField(
            model_name='gauge',
            name='chain',
            field=models.TextField(blank=True),
        ),
        migrations.AlterField(
            model_name='movement',
            name='kind',
            field=models.CharField(choices=[('operation', 'Operation'), ('correction', 'Correction'), ('restatement', 'Restated gauging'), ('explanation', 'Explanation')], max_length=20),
        ),
        migrations.CreateModel(
            name='Figure',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('line', models.PositiveIntegerField()),
                ('name', models.CharField(max_length=60)),
                ('like', models.CharField(max_length=120)),
                ('beside', models.CharField(blank=True, max_length=40)),
                ('field', models.CharField(max_length=60)),
                ('unit', models.CharField(blank=True, max_length=20)),
                ('value_millionths', models.BigIntegerField()),
                ('expected_millionths', models.BigIntegerField(null=True)),
                ('spread_millionths', models.BigIntegerField(null=True)),
                ('parts', models.TextField(default='{}')),
                ('movement', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='figures', to='ledger.movement')),
            ],
            options={
                'indexes': [models.Index(fields=['name', 'like'], name='figure_by_kind')],
                'constraints': [models.UniqueConstraint(fields=('movement', 'line'), name='figure_line_once')],
            },
        ),
        migrations.CreateModel(
            name='Measure',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('line', models.PositiveIntegerField()),
                ('name', models.CharField(max_length=60)),
                ('method', models.CharField(max_length=20)),
                ('pure_ul', models.BigIntegerField()),
                ('mass_g', models.BigIntegerField()),
                ('litres20_ul', models.BigIntegerField()),
                ('percent20_millionths', models.BigIntegerField()),
                ('uncertainty_ul', models.BigIntegerField()),
                ('rule', models.CharField(max_length=60)),
                ('raw', models.TextField()),
                ('chain', models.TextField(blank=True)),
                ('giver', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ledger.account')),
                ('movement', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='measures', to='ledger.movement')),
                ('taker', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ledger.account')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('movement', 'line'), name='measure_line_once')],
            },
        ),
        migrations.RunPython(stand, migrations.RunPython.noop),
    ]
