"""Periods: stock periods, closings with what they froze, and the true moment of what a closed period makes be carried."""

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
        ("ledger", "0004_readings_kept_with_gauges"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name="movement",
            name="true_at",
            field=models.DateTimeField(null=True),
        ),
        migrations.AddIndex(
            model_name="movement",
            index=models.Index(
                condition=models.Q(("true_at__isnull", False)), fields=["true_at"], name="movement_carried"
            ),
        ),
        migrations.CreateModel(
            name="StockPeriod",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("code", models.CharField(max_length=7, unique=True)),
                ("first_day", models.DateField(unique=True)),
                ("last_day", models.DateField(unique=True)),
                ("source", models.TextField()),
                ("entered_at", models.DateTimeField()),
                ("previous_digest", models.CharField(max_length=64)),
                ("digest", models.CharField(max_length=64, unique=True)),
                ("person", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL)),
            ],
        ),
        migrations.CreateModel(
            name="CloseRequest",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("period", models.CharField(max_length=7)),
                ("asked_at", models.DateTimeField()),
                ("last_number", models.BigIntegerField()),
                ("remark", models.TextField(blank=True)),
                ("person", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL)),
            ],
            options={
                "indexes": [models.Index(fields=["period", "id"], name="close_request_by_period")],
            },
        ),
        migrations.CreateModel(
            name="Closing",
            fields=[
                ("number", models.PositiveIntegerField(primary_key=True, serialize=False)),
                ("period", models.CharField(max_length=7, unique=True)),
                ("begins", models.DateTimeField()),
                ("ends", models.DateTimeField(unique=True)),
                ("agreed_at", models.DateTimeField()),
                ("last_number", models.BigIntegerField()),
                ("last_seal", models.CharField(max_length=64)),
                ("previous_digest", models.CharField(max_length=64)),
                ("digest", models.CharField(max_length=64, unique=True)),
                ("person", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL)),
                ("request", models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name="closing", to="ledger.closerequest")),
            ],
        ),
        migrations.CreateModel(
            name="ClosingBalance",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("pure_ul", models.BigIntegerField()),
                ("mass_g", models.BigIntegerField()),
                ("account", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="ledger.account")),
                ("closing", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="balances", to="ledger.closing")),
            ],
            options={
                "constraints": [models.UniqueConstraint(fields=("closing", "account"), name="closing_balance_once")],
            },
        ),
        migrations.RunPython(stand, migrations.RunPython.noop),
    ]
