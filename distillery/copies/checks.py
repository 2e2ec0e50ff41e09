"""Looked at before the site is served: can a copy be tried beside the books, so that a drill and an upgrade can be?"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.checks import CheckMessage, Tags, Warning, register
from django.db import connections

from distillery.copies.beside import hindered


@register(Tags.database)
def copies_can_be_tried(*, databases: Sequence[str] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """A warning where none can: the site is served all the same."""
    said = (hindered(connections[alias]) for alias in databases or ())
    return [Warning(sentence, id="copies.W001") for sentence in said if sentence]
