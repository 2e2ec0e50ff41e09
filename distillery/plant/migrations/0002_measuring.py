"""Certificates, periods of use, calibrations of vessels and obscurations, and the triggers that keep them."""

from __future__ import annotations

from typing import Any

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

from distillery.guards import install, remove
from distillery.plant.guards import plant_guards


def stand(apps: Any, schema_editor: BaseDatabaseSchemaEditor) -> None:
    install(schema_editor.connection, plant_guards(schema_editor.connection))


def fall(apps: Any, schema_editor: BaseDatabaseSchemaEditor) -> None:
    remove(schema_editor.connection, plant_guards(schema_editor.connection))


class Migration(migrations.Migration):

    dependencies = [
        ('plant', '0001_initial'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RemoveField(
            model_name='instrument',
            name='certificate',
        ),
        migrations.AddField(
            model_name='instrument',
            name='density_basis',
            field=models.CharField(blank=True, choices=[('vacuum', 'Density in vacuum'), ('air', 'Density in air')], max_length=10),
        ),
        migrations.AddField(
            model_name='instrument',
            name='works_by',
            field=models.CharField(choices=[('floating', 'Floats in the liquid'), ('oscillation', 'Oscillating tube')], default='floating', max_length=20),
        ),
        migrations.CreateModel(
            name='Certificate',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('entered_at', models.DateTimeField()),
                ('number', models.CharField(max_length=60)),
                ('issuer', models.TextField()),
                ('issued_on', models.DateField()),
                ('from_day', models.DateField()),
                ('standard_uncertainty_millionths', models.BigIntegerField(null=True)),
                ('instrument', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='certificates', to='plant.instrument')),
                ('person', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['from_day', 'id'],
            },
        ),
        migrations.CreateModel(
            name='CertificatePoint',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('reading_millionths', models.BigIntegerField()),
                ('correction_millionths', models.BigIntegerField()),
                ('certificate', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='points', to='plant.certificate')),
            ],
            options={
                'ordering': ['certificate', 'reading_millionths'],
            },
        ),
        migrations.CreateModel(
            name='InstrumentUse',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('entered_at', models.DateTimeField()),
                ('from_day', models.DateField()),
                ('instrument', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='uses', to='plant.instrument')),
                ('person', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('vessel', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='instrument_uses', to='plant.vessel')),
            ],
            options={
                'ordering': ['from_day', 'id'],
            },
        ),
        migrations.CreateModel(
            name='ObscurationFound',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('entered_at', models.DateTimeField()),
                ('from_at', models.DateTimeField()),
                ('percent_millionths', models.BigIntegerField()),
                ('standard_uncertainty_millionths', models.BigIntegerField()),
                ('determined_on', models.DateField()),
                ('source', models.TextField()),
                ('person', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('vessel', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='obscurations', to='plant.vessel')),
            ],
            options={
                'ordering': ['from_at', 'id'],
            },
        ),
        migrations.CreateModel(
            name='VesselCalibration',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('entered_at', models.DateTimeField()),
                ('from_day', models.DateField()),
                ('share_millionths', models.BigIntegerField()),
                ('calibration_millicelsius', models.IntegerField(null=True)),
                ('shell_expansion_per_celsius_billionths', models.IntegerField(null=True)),
                ('source', models.TextField()),
                ('person', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('vessel', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='calibrations', to='plant.vessel')),
            ],
            options={
                'ordering': ['from_day', 'id'],
            },
        ),
        migrations.AddConstraint(
            model_name='certificate',
            constraint=models.CheckConstraint(condition=models.Q(('standard_uncertainty_millionths__isnull', True), ('standard_uncertainty_millionths__gte', 0), _connector='OR'), name='certificate_uncertainty_not_negative'),
        ),
        migrations.AddConstraint(
            model_name='certificate',
            constraint=models.CheckConstraint(condition=models.Q(('from_day__gte', models.F('issued_on'))), name='certificate_after_its_issue'),
        ),
        migrations.AddConstraint(
            model_name='certificatepoint',
            constraint=models.UniqueConstraint(fields=('certificate', 'reading_millionths'), name='one_correction_a_reading'),
        ),
        migrations.AddConstraint(
            model_name='obscurationfound',
            constraint=models.CheckConstraint(condition=models.Q(('standard_uncertainty_millionths__gte', 0)), name='obscuration_uncertainty_not_negative'),
        ),
        migrations.AddConstraint(
            model_name='vesselcalibration',
            constraint=models.CheckConstraint(condition=models.Q(('share_millionths__gte', 0), ('share_millionths__lt', 1000000)), name='calibration_share_is_a_share'),
        ),
        migrations.RunPython(stand, fall),
    ]
