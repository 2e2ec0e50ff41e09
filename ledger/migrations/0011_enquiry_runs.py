"""The runs that an enquiry about what lasts covers; they keep what was written."""

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
        ("ledger", "0010_what_was_agreed_to"),
    ]

    operations = [
        migrations.AlterField(
            model_name='enquiryevent',
            name='what',
            field=models.CharField(choices=[('note', 'Note'), ('checked', 'Checked'), ('asked', 'Reading asked for'), ('cause', 'Thought to be the cause'), ('tied', 'Tied with another enquiry'), ('proposed', 'Ending proposed'), ('agreed', 'Agreed to by a second person'), ('sent back', 'Sent back'), ('reopened', 'Opened again'), ('taken back', 'Explanation taken back'), ('found again', 'Found again'), ('put right', 'Put right by a correction'), ('gone', 'No longer there'), ('covers', 'Runs it covers')], max_length=20),
        ),
        migrations.CreateModel(
            name='EnquiryRun',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('serial', models.PositiveIntegerField()),
                ('record_kind', models.CharField(max_length=40)),
                ('record_number', models.CharField(max_length=40)),
                ('happened_at', models.DateTimeField()),
                ('period', models.CharField(max_length=7)),
                ('charge_ul', models.BigIntegerField()),
                ('enquiry', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='runs', to='ledger.enquiry')),
            ],
            options={
                'ordering': ['enquiry', 'serial', 'happened_at'],
                'constraints': [
                    models.UniqueConstraint(fields=('enquiry', 'serial', 'record_kind', 'record_number'), name='enquiry_run_once'),
                    models.CheckConstraint(condition=models.Q(('charge_ul__gte', 0)), name='enquiry_run_share'),
                ],
            },
        ),
        migrations.RunPython(stand, migrations.RunPython.noop),
    ]
