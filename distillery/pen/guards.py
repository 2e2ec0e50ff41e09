"""Triggers that keep what was tried at the sign-on, and who let whom choose a PIN, as it was written."""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.database.guards import Guard, append_only

FACTS = ("pen_try", "pen_pinchosen")


def pen_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """Every trigger that this room needs on this engine."""
    return [guard for table in FACTS for guard in append_only(table, vendor=connection.vendor)]
