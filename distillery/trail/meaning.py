"""What an entry of the trail says of a row, whichever engine wrote it down.

Entries are chained and sealed as they were written, so they stay so when a site moves to the other engine; from then on
what the one wrote is compared with what the other says. The same row reads `1` and `true`, or `2027-03-04 06:00:00` and
`2027-03-04T06:00:00+00:00`. Only moments and answers of yes or no differ: all other columns are whole numbers or text.
"""

from __future__ import annotations

import json
from functools import cache
from typing import Any

from django.apps import apps
from django.db import models

from distillery.database.rows_as_kept import moment_of

Content = dict[str, Any]


def same_meaning(table: str, one: str, other: str) -> bool:
    """Whether two contents of a row of a table say the same."""
    return one == other or (bool(one) and bool(other) and meaning(table, one) == meaning(table, other))


def meaning(table: str, content: str) -> Content:
    """The columns of a row with their values: moments and answers alike for both engines. {} where nothing is said.

    A value that is neither (nobody but a hand past the program writes one) is left as it is.
    """
    if not content:
        return {}
    said: Content = json.loads(content)
    moments, answers = _columns(table)
    for name, value in said.items():
        if name in moments and isinstance(value, str):
            try:
                said[name] = moment_of(value).isoformat()
            except ValueError:
                continue
        elif name in answers and value in (0, 1):
            said[name] = bool(value)
    return said


@cache
def _columns(table: str) -> tuple[frozenset[str], frozenset[str]]:
    """The columns of a table that hold moments, and those that hold answers of yes or no."""
    model = next((one for one in apps.get_models(include_auto_created=True) if one._meta.db_table == table), None)
    fields = model._meta.concrete_fields if model is not None else ()
    return (
        frozenset(str(field.column) for field in fields if isinstance(field, models.DateTimeField)),
        frozenset(str(field.column) for field in fields if isinstance(field, models.BooleanField)),
    )
