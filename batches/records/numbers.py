"""Numbers of records: each series runs without gaps, whoever writes at the same time.

The number is taken inside the transaction that writes the record, so a number that comes to nothing is given again.
"""

from __future__ import annotations

import re

from batches.models import Record, Series
from batches.sheets.sheet import Sheet


def next_number(sheet: Sheet) -> str:
    """The next number of a sheet's series; call it inside the transaction that writes the record."""
    series, _made = Series.objects.select_for_update().get_or_create(prefix=sheet.prefix)
    series.last += 1
    while Record.objects.filter(number=sheet.number(series.last)).exists():
        series.last += 1
    series.save(update_fields=["last"])
    return sheet.number(series.last)


def coming_number(sheet: Sheet) -> str:
    """The number that would be next as things stand; nothing is taken."""
    last = Series.objects.filter(prefix=sheet.prefix).values_list("last", flat=True).first() or 0
    last += 1
    while Record.objects.filter(number=sheet.number(last)).exists():
        last += 1
    return sheet.number(last)


def note_number(sheet: Sheet, number: str) -> None:
    """Moves the series on past a number that was given from outside, such as one already written on paper."""
    match = re.fullmatch(rf"{re.escape(sheet.prefix)}([0-9]{{1,15}})", number)
    if match is None:
        return
    series, _made = Series.objects.select_for_update().get_or_create(prefix=sheet.prefix)
    if int(match[1]) > series.last:
        series.last = int(match[1])
        series.save(update_fields=["last"])
