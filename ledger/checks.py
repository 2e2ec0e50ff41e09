"""Looked at before the site is served: does the database still refuse to change what was posted?"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections

from distillery.guards import missing
from ledger.guards import ledger_guards


@register(Tags.database)
def triggers_stand(*, databases: Sequence[str] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """One error for each trigger that should be there and is not."""
    errors: list[CheckMessage] = []
    for alias in databases or ():
        connection = connections[alias]
        for name in missing(connection, ledger_guards(connection)):
            errors.append(
                Error(
                    f"The trigger {name} is missing from the ledger's tables.",
                    hint="Run `manage.py restore_triggers`, which puts it back and proves the books.",
                    id="ledger.E001",
                )
            )
    return errors
