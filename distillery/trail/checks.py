"""Looked at before the site is served: are the triggers of the trail there, and what else must stand?"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.executor import MigrationExecutor

from distillery.guards import Guard, missing
from distillery.trail.guards import name_guards, trail_guards

Makers = Callable[[BaseDatabaseWrapper], list[Guard]]

_watched: list[Makers] = []


def watch(makers: Makers) -> None:
    """Adds a floor's guards to those that `migrate` takes down and puts up."""
    if makers not in _watched:
        _watched.append(makers)


def all_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """Every trigger that must stand on the tables the database has now, of all floors."""
    return [guard for makers in _watched for guard in makers(connection)]


def site_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """The trail's triggers and the one that keeps a signed name."""
    return [*trail_guards(connection), *name_guards(connection)]


@register(Tags.database)
def triggers_stand(*, databases: Sequence[str] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """One error for each trigger of the trail that should be there and is not.

    While migrations wait nothing is said: they put up the triggers that a new version brings, and come before serving.
    """
    return [
        Error(
            f"The trigger {name} is missing from the site's tables.",
            hint="Run `manage.py restore_triggers`, which puts it back and proves the books.",
            id="trail.E001",
        )
        for alias in databases or ()
        if not _migrations_wait(alias)
        for name in missing(connections[alias], site_guards(connections[alias]))
    ]


def _migrations_wait(alias: str) -> bool:
    executor = MigrationExecutor(connections[alias])
    return bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))
