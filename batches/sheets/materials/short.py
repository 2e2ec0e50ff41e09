"""What is noted beside an amount of which the book of its lot holds less."""

from __future__ import annotations

from batches.sheets.materials.said import said_by
from batches.sheets.sheet import Note
from batches.sheets.typed.completed import Completed
from batches.stores.short import running_short


def short_notes(completed: Completed) -> list[Note]:
    """A note for each amount that is written down all the same although the book of its lot holds less.

    It is asked about before it is kept (`batches.records.asking`): the book may be what is wrong.
    """
    sheet = completed.sheet
    if not sheet.keeps_stock:
        return []
    return [
        Note(one.line.field, one.line.row, f"{sheet.field(one.line.field).label} {one.sentence}")
        for one in running_short(said_by(completed), number=completed.number)
    ]
