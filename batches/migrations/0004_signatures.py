"""A table of second signatures, each about one version; those given so far are read from what was posted with them."""

from __future__ import annotations

from typing import Any

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

from batches.guards import batches_guards
from distillery.guards import install, remove

TABLE = "batches_signature"


def read_from_movements(apps: Any, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """One signature for each version that was posted with a second person."""
    posted, signature = apps.get_model("batches", "Posted"), apps.get_model("batches", "Signature")
    done: set[int] = set()
    rows = posted.objects.filter(movement__second__isnull=False).select_related("movement").order_by("pk")
    for row in rows:
        if row.version_id not in done:
            done.add(row.version_id)
            signature.objects.create(
                record_id=row.record_id,
                version_id=row.version_id,
                what="agreed",
                person_id=row.movement.second_id,
                at=row.movement.written_at,
            )


def stand(apps: Any, schema_editor: BaseDatabaseSchemaEditor) -> None:
    own = [guard for guard in batches_guards(schema_editor.connection) if guard.table == TABLE]
    install(schema_editor.connection, own)


def fall(apps: Any, schema_editor: BaseDatabaseSchemaEditor) -> None:
    own = [guard for guard in batches_guards(schema_editor.connection) if guard.table == TABLE]
    remove(schema_editor.connection, own)


class Migration(migrations.Migration):
    dependencies = [
        ("batches", "0003_sendings"),
        ("ledger", "0010_what_was_agreed_to"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]
    operations = [
        migrations.CreateModel(
            name="Signature",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "what",
                    models.CharField(
                        choices=[
                            ("agreed", "Agreed to"),
                            ("void asked", "Asked to be made void"),
                            ("sent back", "Not agreed to"),
                        ],
                        max_length=20,
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "record",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="signatures", to="batches.record"
                    ),
                ),
                (
                    "version",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="signatures", to="batches.version"
                    ),
                ),
            ],
        ),
        migrations.RunPython(read_from_movements, migrations.RunPython.noop),
        migrations.RunPython(stand, fall),
    ]
