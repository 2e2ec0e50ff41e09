"""Puts the triggers on the tables of the batch records."""

from __future__ import annotations

from typing import Any

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

from batches.guards import batches_guards
from distillery.guards import install, remove


def stand(apps: Any, schema_editor: BaseDatabaseSchemaEditor) -> None:
    install(schema_editor.connection, batches_guards(schema_editor.connection))


def fall(apps: Any, schema_editor: BaseDatabaseSchemaEditor) -> None:
    remove(schema_editor.connection, batches_guards(schema_editor.connection))


class Migration(migrations.Migration):
    dependencies = [("batches", "0001_initial")]
    operations = [migrations.RunPython(stand, fall)]
