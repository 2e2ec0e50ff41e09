"""What the system checks say of a floor's triggers, in the same words on every floor."""

from __future__ import annotations

from collections.abc import Sequence

from django.core.checks import CheckMessage, Error
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.executor import MigrationExecutor

from distillery.database.guard_faults import faults
from distillery.database.guards import Guard
from distillery.starting.where import as_typed

HINT = f"Run `{as_typed()} restore_triggers`, which says what it finds, puts it right and proves the books."


def errors(connection: BaseDatabaseWrapper, guards: Sequence[Guard], *, label: str) -> list[CheckMessage]:
    """One error for each trigger that is missing (E001) or does not stand as the program makes it (E002).

    While migrations wait nothing is said: they put up the triggers that a new version brings, and come before serving.
    """
    if migrations_wait(connection):
        return []
    return [
        Error(f"{fault.sentence}.", hint=HINT, id=f"{label}.{'E001' if fault.missing else 'E002'}")
        for fault in faults(connection, guards)
    ]


def migrations_wait(connection: BaseDatabaseWrapper) -> bool:
    """True where the database is not yet brought to this version."""
    executor = MigrationExecutor(connection)
    return bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))
