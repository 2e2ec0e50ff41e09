"""Looked at before the site is served: does the database still refuse to change what was written on a record?"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.checks import CheckMessage, Tags, register
from django.db import connections

from batches.guards import batches_guards
from distillery.database.guard_checks import errors


@register(Tags.database)
def triggers_stand(*, databases: Sequence[str] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """One error for each trigger that is missing or does not stand as the program makes it."""
    return [
        error
        for alias in databases or ()
        for error in errors(connections[alias], batches_guards(connections[alias]), label="batches")
    ]
