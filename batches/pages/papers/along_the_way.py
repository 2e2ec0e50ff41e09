"""What was read along the way of a record, on paper: the table of its readings and their curve."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from batches.hands import in_words, names_in
from batches.models import Reading
from batches.pages.papers.run_sheet import initials_of
from batches.pages.records.readings import (
    brought_to_20,
    cuts_of,
    degrees,
    is_struck,
    struck_readings,
    value_of,
    written_at_20,
)
from batches.pages.records.shown import RecordAsWritten, unit_of
from distillery import figures
from distillery.printing.drawn.curve import Cut, RunCurve
from distillery.printing.drawn.curve import Reading as CurveReading
from distillery.printing.tabled.cells import Cell, Struck
from distillery.printing.tabled.columns import Column, figure_column
from distillery.printing.tabled.tables import FigureTable

A_DAY, LONG_AFTER = timedelta(days=1), timedelta(hours=12)


def readings_table(written: RecordAsWritten, readings: Sequence[Reading], *, brief: bool) -> FigureTable | None:
    """The readings along the way; `brief` writes the time of day alone, where that is plain, and initials."""
    if not readings:
        return None
    quantities = [one for one in written.sheet.readings if any(each.quantity == one.name for each in readings)]
    brought = brought_to_20(written, list(readings))
    columns = (
        Column("Happened"),
        *(figure_column(one.label, unit=unit_of(one), missing="Not taken") for one in quantities),
        *(figure_column(f"{one.label} at 20 °C") for one in quantities if one.name in brought),
        Column("Written"),
        Column("By"),
    )
    times: dict[datetime, list[Reading]] = {}
    for reading in readings:
        times.setdefault(reading.at, []).append(reading)
    names, marks = names_in(readings), {one.pk: mark for mark, one, _ in struck_readings(written, list(readings))}
    starts = written.record.happened_from
    initials = initials_of([one.person for one in readings])
    rows: list[tuple[Cell, ...]] = []
    for at, together in times.items():
        last = max(together, key=lambda one: one.written_at)
        cells: list[Cell] = [
            _reading_cell([one for one in together if one.quantity == quantity.name], marks) for quantity in quantities
        ]
        cells += [written_at_20(brought[one.name].get(at)) for one in quantities if one.name in brought]
        happened, wrote = figures.moment(at, year=True), figures.moment(last.written_at, year=True)
        if brief:
            happened = figures.clock(at) if timedelta(0) <= at - starts < A_DAY else figures.moment(at)
            wrote = (
                figures.clock(last.written_at)
                if abs(last.written_at - at) < LONG_AFTER
                else figures.moment(last.written_at)
            )
        by = initials[last.person_id] if brief else last.person.shown_name
        rows.append((happened, *cells, wrote, ", ".join(filter(None, (by, in_words(last, names))))))
    return FigureTable(columns, rows)


def _reading_cell(readings: Sequence[Reading], marks: Mapping[int, str]) -> Cell:
    standing = ", ".join(one.value for one in readings if not is_struck(one) and one.value)
    struck = [one for one in readings if is_struck(one) and one.value]
    if struck:
        mark = ",".join(marks[one.pk] for one in struck)
        return Struck(", ".join(one.value for one in struck), standing or None, mark)
    return standing or None


def readings_curve(written: RecordAsWritten, readings: Sequence[Reading]) -> RunCurve | None:
    """The curve of what a step draws against time, with its cuts; None without readings of it."""
    chart = written.sheet.chart
    drawn = written.sheet.reading(chart.quantity) if chart is not None else None
    if chart is None or drawn is None:
        return None
    points = tuple(
        CurveReading(one.at, degrees(value) if chart.degrees else value)
        for one in readings
        if one.quantity == drawn.name and not is_struck(one) and (value := value_of(drawn, one.value)) is not None
    )
    if not points:
        return None
    return RunCurve(
        points,
        tuple(Cut(one.label, one.at, one.strength) for one in cuts_of(written) if one.strength is not None),
        quantity=drawn.label,
        unit="degrees at 20 °C" if chart.degrees else unit_of(drawn),
    )
