"""Looked at before the site is served: are the triggers of the trail there, and what else must stand?"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.database.guard_checks import HINT, errors, migrations_wait
from distillery.database.guard_faults import silenced, strangers
from distillery.database.guards import Guard
from distillery.trail.guards import name_guards, trail_guards

Makers = Callable[[BaseDatabaseWrapper], list[Guard]]

_watched: list[Makers] = []
_looked_at_here: dict[str, Makers] = {}


def watch(makers: Makers, *, label: str = "") -> None:
    """Adds a room's guards to those that `migrate` takes down and puts up. With the `label` of an app that has no check
    of its own, they are looked at here before the site is served.
    """
    if makers not in _watched:
        _watched.append(makers)
    if label:
        _looked_at_here[label] = makers


def all_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """Every trigger that must stand on the tables the database has now, of all floors."""
    return [guard for makers in _watched for guard in makers(connection)]


def site_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """The trail's triggers and the one that keeps a signed name, without those that a floor has among its own."""
    others = {guard.name for makers in _watched if makers is not site_guards for guard in makers(connection)}
    own = [*trail_guards(connection), *name_guards(connection)]
    return [guard for guard in own if guard.name not in others]


@register(Tags.database)
def triggers_stand(*, databases: Sequence[str] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """One error for each trigger of the trail that does not stand, and for whatever stands beside the site's own.

    While migrations wait nothing is said: they put up the triggers that a new version brings, and come before serving.
    """
    found: list[CheckMessage] = []
    for alias in databases or ():
        connection = connections[alias]
        if migrations_wait(connection):
            continue
        found += errors(connection, site_guards(connection), label="trail")
        for label, makers in _looked_at_here.items():
            found += errors(connection, makers(connection), label=label)
        found += [Error(f"{one}.", hint=HINT, id="trail.E003") for one in beside_the_guards(connection)]
    return found


def beside_the_guards(connection: BaseDatabaseWrapper, guards: list[Guard] | None = None) -> list[str]:
    """What could swallow or change a row although every trigger of the site stands, each in a sentence.

    `guards` are all guards of the database, where the caller has them already.
    """
    said = [one.sentence for one in strangers(connection, guards or all_guards(connection))]
    quiet = silenced(connection)
    return [*said, quiet] if quiet else said
