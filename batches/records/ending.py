"""Ending a record that stands in the way of another, so that nobody is kept from writing down what happened.

What was not read is marked missing. What the vessel held then goes to the difference of its operation, where it is
looked into like any other.
"""

from __future__ import annotations

from datetime import datetime

from batches.models import Record, State
from batches.records import versions
from batches.sheets.declared import Kind
from batches.sheets.register import sheet_of
from batches.sheets.sheet import Problem
from batches.sheets.typed.moments import dated
from batches.sheets.typed.parsing import MISSING
from batches.sheets.typed.read_sheet import Unfit

Typed = dict[str, str]


def in_the_way(number: str) -> Record:
    """The record with that number, which has begun and not ended. Raises Unfit."""
    record = Record.objects.filter(number=number, state=State.OPEN).first()
    if record is None:
        raise Unfit([Problem("", None, f"{number} has ended meanwhile; save again.")])
    return record


def values_to_end(record: Record, at: datetime) -> Typed:
    """What is written on a record to end it at a moment: the times that are blank, and every blank figure missing."""
    sheet = sheet_of(record.kind)
    stands, _lines = versions.typed_of(versions.newest(record))
    blank = [one for one in sheet.fields if one.required and not stands.get(one.name)]
    times = {one.when: dated(at) for one in sheet.moments if not (one.optional or stands.get(one.when))}
    last = sheet.moments[-1]
    figures = {
        one.name: MISSING
        for one in blank
        if one.kind in (Kind.NUMBER, Kind.WHOLE) and sheet.moment_of(one.name) is last
    }
    # A gauge of which one reading is missing is missing as a whole; what may be left blank is marked too, so that the
    # record says of each box that nobody read it.
    for gauge in sheet.gauges:
        names = [one.name for one in gauge.fields]
        if figures.keys() & set(names):
            figures |= {name: MISSING for name in names if not stands.get(name)}
    return times | figures
