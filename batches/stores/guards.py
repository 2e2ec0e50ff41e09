"""Entries of the stores are facts; the triggers that keep them so on both engines."""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.database.guards import Guard, append_only, no_replacing


def stores_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """Every trigger of this room on this engine."""
    return [
        *append_only("stores_stockentry", vendor=connection.vendor),
        *no_replacing("stores_lot", vendor=connection.vendor, on_update=True),
    ]
