"""Who made an entry of the trail, where that is known. Asked here alone, so a better answer is given everywhere."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from distillery.people.models import Person
from distillery.trail.kept import told_models
from distillery.trail.models import Entry

# Columns in which a row names whoever wrote it.
_WRITER = ("person_id", "opened_by_id")


def who_wrote(entries: Sequence[tuple[Entry, dict[str, Any], bool]]) -> dict[int, str]:
    """Names shown, by the key of the entry; of each entry what the row says, and whether it was its first writing.

    A row names who wrote it first. Who changed a row later, the row cannot say: such entries are left out.
    """
    models = told_models()
    writers: dict[int, int] = {}
    for entry, said, first in entries:
        column = next((one for one in _WRITER if said.get(one) is not None), None)
        if first and column is not None and entry.table in models:
            writers[entry.pk] = said[column]
    people = Person.objects.in_bulk(set(writers.values()))
    return {key: people[person].shown_name for key, person in writers.items() if person in people}
