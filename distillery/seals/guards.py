"""Triggers that keep the seals of the books, and the gaps recorded in them, as they were written."""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.database.guards import Guard, append_only

FACTS = ("seals_booksseal", "seals_putback", "seals_sealgap")


def seal_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """Every trigger that the seals need on this engine."""
    return [guard for table in FACTS for guard in append_only(table, vendor=connection.vendor)]
