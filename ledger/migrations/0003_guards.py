"""Puts the triggers on the ledger's tables and starts the chain of seals."""

from __future__ import annotations

from typing import Any

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

from distillery.guards import install, remove
from ledger.guards import ledger_guards

FIRST_SEAL = "0" * 64


def stand(apps: Any, schema_editor: BaseDatabaseSchemaEditor) -> None:
    apps.get_model("ledger", "Head").objects.get_or_create(id=1, defaults={"last_seal": FIRST_SEAL})
    install(schema_editor.connection, ledger_guards(schema_editor.connection))


def fall(apps: Any, schema_editor: BaseDatabaseSchemaEditor) -> None:
    remove(schema_editor.connection, ledger_guards(schema_editor.connection))


class Migration(migrations.Migration):
    dependencies = [("ledger", "0002_initial")]
    operations = [migrations.RunPython(stand, fall)]
