"""Stock takes and all that was written for them are facts; the triggers that keep them so on both engines."""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.database.guards import Guard, append_only

FACTS = ("counting_stocktake", "counting_count", "counting_reason", "counting_ready", "counting_ending")


def counting_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """Every trigger of this room on this engine."""
    return [guard for table in FACTS for guard in append_only(table, vendor=connection.vendor)]
