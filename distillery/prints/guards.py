"""Triggers that keep the register of prints as it was written."""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.guards import Guard, append_only

TABLE = "prints_print"


def print_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """Every trigger that this room needs on this engine."""
    return append_only(TABLE, vendor=connection.vendor)
