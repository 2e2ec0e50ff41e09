"""Triggers that keep the register of prints, and that of blank sheets, as they were written."""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.database.guards import Guard, append_only

TABLES = ("prints_print", "prints_printedfigures", "prints_issuedsheet", "prints_sheetreturned")


def print_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """Every trigger that this room needs on this engine."""
    return [guard for table in TABLES for guard in append_only(table, vendor=connection.vendor)]
