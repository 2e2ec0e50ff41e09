"""Triggers that keep tokens, their ends and their uses as they were written."""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.database.guards import Guard, append_only

FACTS = ("tokens_consumertoken", "tokens_tokenended", "tokens_tokenused")


def token_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """Every trigger that this room needs on this engine."""
    return [guard for table in FACTS for guard in append_only(table, vendor=connection.vendor)]
