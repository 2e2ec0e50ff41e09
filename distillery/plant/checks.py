"""Looked at before the site is served: does the database still refuse to change certificates and obscurations?"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections

from distillery.guards import missing
from distillery.plant.guards import plant_guards


@register(Tags.database)
def triggers_stand(*, databases: Sequence[str] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """One error for each trigger that should be there and is not."""
    return [
        Error(
            f"The trigger {name} is missing from the plant's tables.",
            hint="Run `manage.py restore_triggers`, which puts it back and proves the books.",
            id="plant.E001",
        )
        for alias in databases or ()
        for name in missing(connections[alias], plant_guards(connections[alias]))
    ]
