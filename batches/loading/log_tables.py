"""The tables of a month's log: which there are and must be, and when its openings were counted."""

from __future__ import annotations

from datetime import datetime

from batches.loading.entries import Entry
from batches.loading.plant_tables import PlantLoad
from batches.loading.tables import BadRow, Source, Table
from batches.sheets.sheet import Field, Sheet, StockTaken
from batches.steps import STEPS


def log_tables(source: Source, plant: PlantLoad, bad: list[BadRow]) -> dict[str, Table]:
    """The tables of the log by name, those that the plant's part of the folder holds among them. What is missing or
    unknown is bad.
    """
    tables: dict[str, Table] = {}
    for sheet in STEPS:
        if sheet.in_plant:
            if sheet.table in plant.tables:
                tables[sheet.table] = plant.tables[sheet.table]
            continue
        # A log of a step without lines is complete where there need be none.
        of_lines = {one.name for one in sheet.row_fields} if sheet.rows is not None and not sheet.rows.least else set()
        needed = [
            name
            for name in sheet.columns
            if name == sheet.number_column
            or (name not in of_lines and _always(sheet, name) and sheet.field(name).told_by is None)
        ]
        gauged = [one.name for gauge in _gauges(sheet) for one in gauge]
        table = log_table(
            source, sheet.table, sheet.columns, [*needed, *(name for name in gauged if name not in needed)], bad
        )
        if table is not None:
            tables[sheet.table] = table
    for name in (sheet.table for sheet in STEPS if sheet.needed_in_log and source.is_a_month):
        if name not in tables and not source.has(f"log/{name}.csv"):
            bad.append(BadRow(f"log/{name}.csv", 0, "", "The file is missing."))
    return tables


def log_table(
    source: Source, name: str, known: tuple[str, ...], needed: list[str] | tuple[str, ...], bad: list[BadRow]
) -> Table | None:
    """One table of the log; None where it is not there or cannot be read."""
    return source.table(f"log/{name}.csv", known=known, needed=needed, bad=bad)


def unknown_tables(source: Source, bad: list[BadRow]) -> None:
    """Files of the log that are no table of any step are bad."""
    known = {sheet.table for sheet in STEPS if not sheet.in_plant} | {"readings"}
    sentence = f"There is no such table; the log has: {', '.join(sorted(known))}."
    for name in source.logs():
        if name not in known:
            bad.append(BadRow(f"log/{name}.csv", 0, "", sentence))


def date_openings(entries: list[Entry]) -> None:
    """What was there at the start is counted when the vessels are first gauged, or before all else."""
    undated = [
        (entry, one.name)
        for entry in entries
        for one in entry.sheet.fields
        if one.told_by is not None and one.told_by.at_opening and one.name not in entry.values
    ]
    if not undated:
        return
    first = {
        entry.values[moment.when]: at
        for entry in entries
        for moment in entry.sheet.moments[:1]
        if (at := entry.happened(moment)) is not None and not entry.sheet.in_plant
    }
    opened = {
        entry.values[entry.sheet.moments[0].when]: at
        for entry in entries
        if entry.sheet.takes_stock == StockTaken.OPENING and (at := entry.happened(entry.sheet.moments[0])) is not None
    }
    dates: dict[str, datetime] = opened or first
    for entry, name in undated:
        if dates:
            entry.values[name] = min(dates, key=lambda typed: dates[typed])


def _always(sheet: Sheet, name: str) -> bool:
    """True for what is needed of every record: not for what belongs to a moment that may never come."""
    return sheet.field(name).required and not sheet.moment_of(name).may_never_come


def _gauges(sheet: Sheet) -> list[tuple[Field, ...]]:
    gauges = [*sheet.gauges, *(sheet.rows.gauges if sheet.rows and sheet.rows.least else ())]
    # A cask that may be measured by its litres has columns of either way; its lines say where both are blank.
    optional = [
        gauge.optional or gauge.or_litres or sheet.moment_of(gauge.fields[0].name).may_never_come for gauge in gauges
    ]
    return [gauge.fields for gauge, may_be_left_out in zip(gauges, optional, strict=True) if not may_be_left_out]
