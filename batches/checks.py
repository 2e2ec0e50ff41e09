"""Looked at before the site is served: does the database still refuse to change what was written on a record?"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections

from batches.guards import batches_guards
from distillery.guards import missing


@register(Tags.database)
def triggers_stand(*, databases: Sequence[str] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """One error for each trigger that should be there and is not."""
    errors: list[CheckMessage] = []
    for alias in databases or ():
        connection = connections[alias]
        for name in missing(connection, batches_guards(connection)):
            errors.append(
                Error(
                    f"The trigger {name} is missing from the tables of the batch records.",
                    hint="Run `manage.py restore_triggers`, which puts it back and proves the books.",
                    id="batches.E001",
                )
            )
    return errors
