"""A visit note is a fact: the triggers that keep it as it was written, on both engines."""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.database.guards import Guard, append_only

FACTS = ("visits_visitnote",)


def visit_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """Every trigger of this room on this engine."""
    return [guard for table in FACTS for guard in append_only(table, vendor=connection.vendor)]
