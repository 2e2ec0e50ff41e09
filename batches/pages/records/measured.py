"""All that a record measured in one table: what was read, and at the line's end what it came to.

A line that repeats on the sheet (the casks of a fill, the vessels of a stock take) keeps the columns it was written in
and gets its results beside them. Whatever else was measured stands in the table of gauges, before and after one under
another.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final

from batches.pages.records.chains import ShownMeasured
from batches.pages.records.shown import RecordAsWritten, as_text, is_figure
from batches.sheets.sheet import Field
from batches.sheets.typed.moments import Unreadable
from batches.sheets.typed.parsing import read_number
from distillery import pages

# What a reading's name ends with, in the order of their columns: head and unit.
PARTS: Final = {
    "dip_mm": pages.Column("Dip", numeric=True, unit="mm"),
    "tare_kg": pages.Column("Tare", numeric=True, unit="kg"),
    "gross_kg": pages.Column("Gross", numeric=True, unit="kg"),
    "litres": pages.Column("Litres read", numeric=True, unit="L"),
    "original_gravity": pages.Column("Original gravity", numeric=True),
    "final_gravity": pages.Column("Final gravity", numeric=True),
    "present_gravity": pages.Column("Present gravity", numeric=True),
    "celsius": pages.Column("Temperature", numeric=True, unit="°C"),
    "hydrometer_percent": pages.Column("Hydrometer", numeric=True, unit="% vol"),
}
# Volume and strength at 20 °C that were written themselves are what they come to, and stand there alone.
LITRES, PERCENT = "litres", "percent"
NOT_READ: Final = "\N{EN DASH}"
ALCOHOL: Final = pages.Column("Alcohol", numeric=True, unit="LPA")
CAME_TO: Final = (
    pages.Column("Volume", numeric=True, unit="L"),
    pages.Column("Strength", numeric=True, unit="% vol"),
    ALCOHOL,
    pages.Column("±", numeric=True, unit="LPA"),
)
BOOK: Final = pages.Column("Book before", numeric=True, unit="LPA")
NOTE: Final = (
    "volume and strength at 20 °C; ± is one standard uncertainty; each figure of alcohol leads to how it was worked out"
)


def gauges_table(written: RecordAsWritten, measured: Sequence[ShownMeasured]) -> pages.Table | None:
    """Every gauge and flow that stands on no repeating line; None where there is none."""
    lines = [one for one in measured if not _on_a_line(written, one)]
    if not lines:
        return None
    known = [part for part in PARTS if any(_reading_of(one, part) for one in lines)]
    with_book = any(one.book for one in lines)
    last = (BOOK,) if with_book else ()
    columns = [pages.Column("Gauge"), pages.Column("Vessel"), *(PARTS[part] for part in known), *CAME_TO, *last]
    rows = [
        pages.Row(
            [
                pages.Cell(one.label),
                one.where,
                *(_read(written, _reading_of(one, part), one) for part in known),
                *_results(written, one, with_book=with_book),
            ]
        )
        for one in lines
    ]
    return pages.Table("Gauges", columns, rows, empty="No gauge yet.", note=NOTE)


def lines_table(written: RecordAsWritten, measured: Sequence[ShownMeasured]) -> pages.Table | None:
    """The repeating lines as they were written, each with what it came to where it was measured."""
    table = written.rows_table()
    rows = written.sheet.rows
    if table is None or rows is None:
        return None
    found = measured_on_lines(written, measured)
    if not any(found):
        return table
    last = (BOOK,) if any(one.book for one in found if one is not None) else ()
    cells = [
        [*row.cells, *_results(written, one, with_book=bool(last))] for row, one in zip(table.rows, found, strict=True)
    ]
    heads = [_head(field, column) for field, column in zip(written.row_fields_written, table.columns, strict=True)]
    return replace(table, columns=[*heads, *CAME_TO, *last], rows=[pages.Row(one) for one in cells], note=NOTE)


def measured_on_lines(written: RecordAsWritten, measured: Sequence[ShownMeasured]) -> list[ShownMeasured | None]:
    """Of each repeating line what was measured on it, None where nothing was."""
    rows = written.sheet.rows
    if rows is None:
        return []
    # Where a document's figure of a line stands in the books beside its gauge, the line shows what its gauge came to.
    gauged = {field.name for gauge in rows.gauges for field in gauge.fields}
    of_gauges_last = sorted(measured, key=lambda one: bool(gauged & one.raw.keys()))
    by_vessel = {code: one for one in of_gauges_last for code in one.vessels if _on_a_line(written, one)}
    return [by_vessel.get(line.get(rows.each, "")) for line in written.rows]


def _head(field: Field, column: pages.Column) -> pages.Column:
    """A reading of a gauge is named as in the table of gauges; anything else as on the sheet."""
    return next((head for part, head in PARTS.items() if _is(field.name, part)), column)


def _is(name: str, part: str) -> bool:
    # A residue's litres are no reading of a gauge.
    return name == part or (part != LITRES and name.endswith(f"_{part}"))


def shown_there(written: RecordAsWritten, measured: Iterable[ShownMeasured]) -> frozenset[str]:
    """The single fields of the sheet that stand in the tables and need be nowhere else on the page."""
    return frozenset(
        name
        for one in measured
        for name, raw in one.raw.items()
        if not _on_a_line(written, one) and _stands(written, name, raw)
    )


def _on_a_line(written: RecordAsWritten, one: ShownMeasured) -> bool:
    rows = written.sheet.rows
    return rows is not None and any(line.get(rows.each, "") in one.vessels for line in written.rows)


def _reading_of(one: ShownMeasured, part: str) -> str:
    """The name of a reading of that part, or ''."""
    return next((name for name in one.raw if _is(name, part)), "")


def _results(written: RecordAsWritten, one: ShownMeasured | None, *, with_book: bool) -> list[pages.Cell]:
    """What one came to, and the book it met; a dash in each place of a line that was not measured."""
    if one is None:
        return [pages.Cell(NOT_READ)] * (len(CAME_TO) + with_book)
    return [*_came_to(written, one), *([pages.Cell(one.book or NOT_READ)] if with_book else [])]


def _came_to(written: RecordAsWritten, one: ShownMeasured) -> list[pages.Cell]:
    volume, strength = pages.Cell(one.litres), pages.Cell(one.percent)
    for name in one.raw:
        if name.endswith(f"_{LITRES}"):
            volume = _marked(written, name, volume)
        elif name.endswith(f"_{PERCENT}") and not name.endswith("hydrometer_percent"):
            strength = _marked(written, name, strength)
    return [volume, strength, pages.Cell(one.lpa, href=f"#{one.key}"), pages.Cell(one.uncertainty)]


def _read(written: RecordAsWritten, name: str, one: ShownMeasured) -> pages.Cell:
    if not name:
        return pages.Cell(NOT_READ)
    raw = one.raw[name]
    if not _stands(written, name, raw):
        return pages.Cell(raw)
    return _marked(written, name, pages.Cell(as_text(written.sheet.field(name), written.typed[name])))


def _marked(written: RecordAsWritten, name: str, cell: pages.Cell) -> pages.Cell:
    """The cell with the value that a correction replaced."""
    change = written.change_of(name)
    return replace(cell, struck=change.old, note=change.mark) if change is not None else cell


def _stands(written: RecordAsWritten, name: str, raw: str) -> bool:
    """True where what is typed on the sheet is what was measured with."""
    typed = written.typed.get(name, "")
    if not typed or not written.sheet.has_field(name):
        return False
    return typed == raw or _same(written.sheet.field(name), typed, raw)


def _same(field: Field, typed: str, raw: str) -> bool:
    try:
        return is_figure(field) and read_number(field, typed) == read_number(field, raw)
    except Unreadable:
        return False
