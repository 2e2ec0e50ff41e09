"""Suggestions carried in an address, each put to the box it is meant for.

A suggestion names a column, and where the record has a line for each vessel, the vessel too: `gross_kg@2022/0007`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from batches.pages.writing.forms import LINE_PREFIX
from batches.sheets.sheet import Sheet


def at_boxes(suggested: Mapping[str, str], sheet: Sheet, rows: Sequence[Mapping[str, str]]) -> dict[str, str]:
    """The suggestions by the name of their box; those of a line that is not there are left out."""
    of_lines = {field.name for field in sheet.row_fields}
    placed = {}
    for name, value in suggested.items():
        column, _, vessel = name.partition("@")
        if column not in of_lines:
            placed[column] = value
            continue
        number = next((n for n, row in enumerate(rows) if _is_line_of(row, sheet, vessel)), None)
        if number is not None:
            placed[f"{LINE_PREFIX}-{number}-{column}"] = value
    return placed


def _is_line_of(row: Mapping[str, str], sheet: Sheet, vessel: str) -> bool:
    return sheet.rows is not None and row.get(sheet.rows.each, "").casefold() == vessel.casefold()


def carried(asked: Mapping[str, str], sheet: Sheet) -> dict[str, str]:
    """Figures of an address that belong into boxes of this sheet or of its lines; the rest is let be."""
    return {
        name: value.strip()
        for name, value in asked.items()
        if value.strip() and sheet.has_field(name.split("-", 2)[-1] if name.startswith("line-") else name)
    }


def suggestions(asked: Sequence[str]) -> dict[str, str]:
    """`field:value` pairs of an address, by the name of the box (`line-2-gross_kg` for a repeating line)."""
    found = {}
    for one in asked:
        name, colon, value = one.partition(":")
        if colon and name and value.strip():
            found[name] = value.strip()
    return found
