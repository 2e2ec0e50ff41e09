"""Looked at before the site is served: does the database still refuse to change what was posted?"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections

from distillery.database.guard_checks import HINT, errors
from ledger.guards import ledger_guards
from ledger.proof.unguarded import hand_left


@register(Tags.database)
def triggers_stand(*, databases: Sequence[str] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """One error for each trigger that is missing or does not stand as the program makes it, and for a hand left."""
    found: list[CheckMessage] = []
    for alias in databases or ():
        connection = connections[alias]
        found += errors(connection, ledger_guards(connection), label="ledger")
        found += [Error(f"{one}.", hint=HINT, id="ledger.E003") for one in hand_left(connection)]
    return found
