"""The sheets' own words for the columns and gauges of their records, for floors that know only the column."""

from __future__ import annotations

from batches.sheets.register import NoSuchStep, sheet_of
from ledger.words_of_columns import Words


def words_on_sheet(record_kind: str, column: str) -> Words | None:
    """Label and unit of a field, or the label of a gauge, of the sheet of a kind of record; None where it has none."""
    try:
        sheet = sheet_of(record_kind)
    except NoSuchStep:
        return None
    for one in (*sheet.fields, *sheet.row_fields):
        if one.name == column:
            return Words(one.label, one.unit)
    gauges = (*sheet.gauges, *(sheet.rows.gauges if sheet.rows else ()))
    return next((Words(one.label, "") for one in gauges if one.prefix == column), None)
