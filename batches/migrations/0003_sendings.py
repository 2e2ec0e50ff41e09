"""A table of forms that have written, so that one sent twice writes once."""

from __future__ import annotations

from typing import Any

import django.db.models.deletion
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

from batches.guards import batches_guards
from distillery.guards import install, remove

TABLE = "batches_sending"


def stand(apps: Any, schema_editor: BaseDatabaseSchemaEditor) -> None:
    install(schema_editor.connection, batches_guards(schema_editor.connection))


def fall(apps: Any, schema_editor: BaseDatabaseSchemaEditor) -> None:
    own = [guard for guard in batches_guards(schema_editor.connection) if guard.table == TABLE]
    remove(schema_editor.connection, own)


class Migration(migrations.Migration):
    dependencies = [("batches", "0002_guards")]
    operations = [
        migrations.CreateModel(
            name="Sending",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("token", models.CharField(max_length=64, unique=True)),
                ("content", models.CharField(max_length=64)),
                (
                    "record",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="sendings", to="batches.record"
                    ),
                ),
            ],
        ),
        migrations.RunPython(stand, fall),
    ]
