"""The triggers that keep what a site has said of itself, and who entered which figure, as it was written."""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.database.guards import Guard, append_only

FACTS = (
    "rules_sitedetails",
    "rules_interval",
    "rules_entered",
    "rules_statement",
    "rules_figureasked",
    "rules_figureanswered",
)


def rules_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """Every trigger these tables need on this engine."""
    vendor = "sqlite" if connection.vendor == "sqlite" else "postgresql"
    return [guard for table in FACTS for guard in append_only(table, vendor=vendor)]
