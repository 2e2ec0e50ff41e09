"""The triggers that keep what was done about people as it was written."""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.database.guards import Guard, append_only


def people_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """Every trigger that table needs on this engine."""
    vendor = "sqlite" if connection.vendor == "sqlite" else "postgresql"
    return append_only("people_personchange", vendor=vendor)
