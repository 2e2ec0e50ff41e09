"""Looked at before the site is served: does the database still refuse to change the clock of the books?"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections

from distillery.clock.guards import clock_guards
from distillery.database.guards import missing
from distillery.starting.where import as_typed


@register(Tags.database)
def triggers_stand(*, databases: Sequence[str] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """One error for each trigger that should be there and is not."""
    return [
        Error(
            f"The trigger {name} is missing from the clock of the books.",
            hint=f"Run `{as_typed()} restore_triggers`, which puts it back and proves the books.",
            id="clock.E001",
        )
        for alias in databases or ()
        for name in missing(connections[alias], clock_guards(connections[alias]))
    ]
