"""Enquiries and what was done about each; both keep what was written."""

from __future__ import annotations

from typing import Any

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

from distillery.guards import install
from ledger.guards import ledger_guards


def stand(apps: Any, schema_editor: BaseDatabaseSchemaEditor) -> None:
    install(schema_editor.connection, ledger_guards(schema_editor.connection))


class Migration(migrations.Migration):
    dependencies = [
        ("ledger", "0005_periods"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Enquiry',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.CharField(max_length=20, unique=True)),
                ('key', models.CharField(max_length=200, unique=True)),
                ('kind', models.CharField(max_length=20)),
                ('opened_at', models.DateTimeField()),
                ('record_kind', models.CharField(max_length=40)),
                ('record_number', models.CharField(max_length=40)),
                ('operation', models.CharField(max_length=120)),
                ('happened_at', models.DateTimeField()),
                ('period', models.CharField(max_length=7)),
                ('difference_ul', models.BigIntegerField(default=0)),
                ('uncertainty_ul', models.BigIntegerField(default=0)),
                ('threshold_ul', models.BigIntegerField(default=0)),
                ('in_ul', models.BigIntegerField(default=0)),
                ('basis', models.TextField(blank=True)),
                ('said', models.TextField()),
                ('opened_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['pk'],
                'indexes': [models.Index(fields=['period'], name='enquiry_by_period'), models.Index(fields=['record_kind', 'record_number'], name='enquiry_by_record')],
            },
        ),
        migrations.CreateModel(
            name='EnquiryEvent',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('serial', models.PositiveIntegerField()),
                ('what', models.CharField(choices=[('note', 'Note'), ('checked', 'Checked'), ('asked', 'Reading asked for'), ('cause', 'Thought to be the cause'), ('tied', 'Tied with another enquiry'), ('proposed', 'Ending proposed'), ('agreed', 'Agreed to by a second person'), ('sent back', 'Sent back'), ('reopened', 'Opened again'), ('taken back', 'Explanation taken back'), ('found again', 'Found again'), ('put right', 'Put right by a correction'), ('gone', 'No longer there')], max_length=20)),
                ('at', models.DateTimeField()),
                ('text', models.TextField(blank=True)),
                ('checked', models.TextField(blank=True)),
                ('ending', models.CharField(blank=True, choices=[('loss', 'A known loss'), ('measuring', 'Measuring: a reading was wrong and cannot be taken again'), ('right', 'The figures are right, and nothing is missing'), ('set off', 'Set off against the enquiry it is tied with'), ('not found', 'Cause not found')], max_length=20)),
                ('cause', models.CharField(blank=True, max_length=60)),
                ('happened_at', models.DateTimeField(null=True)),
                ('product', models.CharField(blank=True, max_length=120)),
                ('pure_ul', models.BigIntegerField(default=0)),
                ('percent_millionths', models.BigIntegerField(null=True)),
                ('record', models.CharField(blank=True, max_length=40)),
                ('enquiry', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='events', to='ledger.enquiry')),
                ('movement', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ledger.movement')),
                ('other', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ledger.enquiry')),
                ('person', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['enquiry', 'serial'],
                'constraints': [
                    models.UniqueConstraint(fields=('enquiry', 'serial'), name='enquiry_event_once'),
                    models.CheckConstraint(condition=models.Q(('serial__gte', 1)), name='enquiry_events_from_one'),
                ],
            },
        ),
        migrations.RunPython(stand, migrations.RunPython.noop),
    ]
