"""Readings along the way of a record: their table, struck ones included, and the chart of them.

The sheet says what is drawn (`Chart`): a gravity in degrees beside its temperature, or a strength against time with
the cuts that are written on the sheet as times. Whatever else is read stands in the table.
"""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.urls import reverse
from django.utils.safestring import SafeString

from batches.hands import in_words, names_in
from batches.models import Reading
from batches.pages.records.shown import RecordAsWritten, letters, unit_of
from batches.pages.running.course import course_of
from batches.records.readings import unlikely_among
from batches.running.figures import gravity_at_20
from batches.sheets.sheet import Field, Kind
from batches.sheets.typed.moments import Unreadable, read_moment
from batches.sheets.typed.parsing import read_number
from distillery import charts, figures, pages

DEGREES_A_RELATIVE_DENSITY = 1000
STRENGTH = "% vol"


def readings_of(written: RecordAsWritten) -> list[Reading]:
    """All readings of a record in order of time, with who wrote and who struck them."""
    return list(
        Reading.objects.filter(record=written.record)
        .select_related("person", "struck_by", "struck_by__person")
        .order_by("at", "id")
    )


def readings_table(written: RecordAsWritten, readings: list[Reading], *, to_strike: bool = False) -> pages.Table | None:
    """One line a time, the newest first; a struck value stays with a line through it and the letter of its reason.

    `to_strike`: each value leads to its striking.
    """
    if not readings:
        return None
    quantities = [one for one in written.sheet.readings if any(each.quantity == one.name for each in readings)]
    brought = brought_to_20(written, readings)
    columns = [
        pages.Column("Happened"),
        *(pages.Column(one.label, numeric=True, unit=unit_of(one)) for one in quantities),
        *(pages.Column(f"{one.label} at 20 °C", numeric=True) for one in quantities if one.name in brought),
        pages.Column("Written"),
        pages.Column("By"),
    ]
    times: dict[datetime, list[Reading]] = {}
    for reading in readings:
        times.setdefault(reading.at, []).append(reading)
    names = names_in(readings)
    rows = []
    odd = unlikely_among(written.sheet, readings)
    marks = {one.pk: mark for mark, one, _by in struck_readings(written, readings)}
    for at, together in sorted(times.items(), reverse=True):
        cells = [pages.Cell(figures.moment(at))]
        for quantity in quantities:
            mine = [one for one in together if one.quantity == quantity.name]
            cells.append(_cell(written, mine, marks, odd, to_strike))
        cells += [pages.Cell(written_at_20(values.get(at))) for values in brought.values()]
        last = max(together, key=lambda one: one.written_at)
        cells += [pages.Cell(figures.moment(last.written_at)), pages.Cell(writer_of(last, names))]
        rows.append(pages.Row(cells))
    return pages.Table("Readings", columns, rows, empty="No reading yet.", note="the newest first")


def brought_to_20(written: RecordAsWritten, readings: list[Reading]) -> dict[str, dict[datetime, float]]:
    """Gravities by quantity and time, as at 20 °C, where the temperature of the sample was read with them."""
    standing = [one for one in readings if not is_struck(one) and one.value]
    found: dict[str, dict[datetime, float]] = {}
    for field in written.sheet.readings:
        beside = written.sheet.reading(field.read_at) if field.read_at else None
        if beside is None:
            continue
        celsius = {one.at: value_of(beside, one.value) for one in standing if one.quantity == beside.name}
        for one in standing:
            read, at = value_of(field, one.value), celsius.get(one.at)
            if one.quantity == field.name and read is not None and at is not None:
                gravity = gravity_at_20(read, at)
                if gravity is not None:
                    found.setdefault(field.name, {})[one.at] = gravity
    return found


def written_at_20(gravity: float | None) -> str:
    """A gravity brought to 20 °C, as it is written; why there is none."""
    return "Not taken" if gravity is None else figures.number(gravity, 4)


def writer_of(reading: Reading, names: dict[str, str]) -> str:
    """Who wrote a reading, and whose hands it went through besides."""
    return ", ".join(filter(None, (reading.person.shown_name, in_words(reading, names))))


def changes_table(written: RecordAsWritten, readings: list[Reading]) -> pages.Table | None:
    """What was put right on the sheet, and which readings along the way were struck: by whom, when and why."""
    rows = list(written.changes_rows())
    for mark, reading, by in struck_readings(written, readings):
        declared = written.sheet.reading(reading.quantity)
        label = declared.label if declared else reading.quantity
        rows.append(
            pages.Row(
                [
                    pages.Cell(mark),
                    pages.Cell(f"{label}, {figures.moment(reading.at)}"),
                    pages.Cell(by.value or "left out", struck=reading.value),
                    pages.Cell(by.person.shown_name),
                    pages.Cell(figures.moment(by.written_at)),
                    pages.Cell(by.reason),
                ]
            )
        )
    if not rows:
        return None
    columns = [pages.Column(label) for label in ("Note", "What", "Value", "By", "When", "Why")]
    return pages.Table("Corrections", columns, rows, empty="None.")


def struck_readings(written: RecordAsWritten, readings: list[Reading]) -> list[tuple[str, Reading, Reading]]:
    """Struck readings in order of their striking, each with the letter of its footnote and what struck it."""
    struck = sorted((one for one in readings if is_struck(one) and one.value), key=lambda one: one.struck_by.pk)
    first = len(written.changes)
    return [(letters(first + place), one, one.struck_by) for place, one in enumerate(struck)]


def _cell(
    written: RecordAsWritten, readings: list[Reading], marks: dict[int, str], odd: frozenset[int], to_strike: bool
) -> pages.Cell:
    standing = [one for one in readings if not is_struck(one) and one.value]
    struck = [one for one in readings if is_struck(one) and one.value]
    text = ", ".join(one.value for one in standing)
    record = written.record
    href = (
        reverse("reading_strike", args=[record.kind, record.number, standing[0].pk]) if to_strike and standing else ""
    )
    return pages.Cell(
        text or ("left out" if struck else "Not taken"),
        href=href,
        state=pages.LOOK if any(one.pk in odd for one in standing) else None,
        struck=", ".join(one.value for one in struck),
        note=", ".join(marks[one.pk] for one in struck),
    )


def is_struck(reading: Reading) -> bool:
    """True where a later row put something else in its place."""
    return hasattr(reading, "struck_by")


def readings_chart(written: RecordAsWritten, readings: list[Reading]) -> SafeString:
    """The drawing, or nothing where there is nothing to draw."""
    chart = written.sheet.chart
    if chart is None:
        return SafeString("")
    if chart.degrees:
        course = course_of(written.record, name="readings")
        return course.svg() if course is not None else SafeString("")
    drawn = written.sheet.reading(chart.quantity)
    standing = [
        charts.Reading(each.at, value_of(drawn, each.value), struck=is_struck(each))
        for each in readings
        if drawn is not None and each.quantity == drawn.name and each.value
    ]
    title = f"{written.sheet.title} {written.record.number}"
    return charts.line_chart(standing, name="readings", title=title, cuts=cuts_of(written))


def degrees(relative_density: float) -> float:
    """Degrees of gravity of a relative density."""
    return (relative_density - 1) * DEGREES_A_RELATIVE_DENSITY


def cuts_of(written: RecordAsWritten) -> list[charts.Cut]:
    """Times written on the sheet between its moments, each with the strength that stands after it."""
    fields = written.sheet.fields
    whens = {moment.when for moment in written.sheet.moments}
    found = []
    for place, field in enumerate(fields):
        typed = written.typed.get(field.name, "")
        if field.kind != Kind.MOMENT or field.name in whens or not typed:
            continue
        try:
            at = read_moment(field, typed)[0]
        except Unreadable:
            continue
        beside = fields[place + 1] if place + 1 < len(fields) else None
        strength = (
            value_of(beside, written.typed.get(beside.name, ""))
            if beside is not None and beside.unit == STRENGTH
            else None
        )
        found.append(charts.Cut(at, field.label.removesuffix(" at"), strength))
    return found


def value_of(field: Field, typed: str) -> float | None:
    """The figure of a reading as typed; None where it is none."""
    try:
        value: Decimal = read_number(field, typed)
    except Unreadable:
        return None
    return float(value)
