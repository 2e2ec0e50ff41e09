"""One cell of a workbook as the text a person would have typed into a box, or a sentence that says why it is none."""

from __future__ import annotations

from datetime import date, datetime, time
from decimal import Decimal
from typing import Any, Final

from batches.loading.workbook.sheets import Column

LONGEST: Final = 500
# What a spreadsheet keeps of a number and shows (IEEE 754 binary64 carries 15 decimal digits for certain).
DIGITS: Final = 15
A_FORMULA: Final = "This cell holds a formula. Put its value here instead: copy it and paste values only."
AN_ERROR: Final = "This cell holds {shown}, the error of a formula. Write the value instead."


class UnfitCell(ValueError):
    """What stands in a cell cannot be meant; `str()` is the sentence."""


def text_of(cell: Any, column: Column | None) -> str:
    """What a cell says, as text; blank for nothing. `column` None is for marks and heads. Raises UnfitCell."""
    value, kind = cell.value, getattr(cell, "data_type", "")
    if value is None:
        return ""
    if kind == "f" or not isinstance(value, str | bool | int | float | Decimal | date | time):
        raise UnfitCell(A_FORMULA)
    if kind == "e":
        raise UnfitCell(AN_ERROR.format(shown=value))
    label = column.field.label if column is not None else "A head"
    if isinstance(value, bool):
        raise UnfitCell(f"{label}: this cell holds {'TRUE' if value else 'FALSE'}; write what is meant.")
    if isinstance(value, str):
        return _words(value, label)
    if isinstance(value, datetime):
        return _moment(value, column, label)
    if isinstance(value, date):
        return _moment(datetime(value.year, value.month, value.day), column, label)
    if isinstance(value, time):
        raise UnfitCell(f"{label}: this cell holds a time without its day; write both, such as 2027-03-04 06:00.")
    return _figure(value, cell, column, label)


def _words(value: str, label: str) -> str:
    text = " ".join(value.split())
    if text.startswith("="):
        raise UnfitCell(A_FORMULA)
    if len(text) > LONGEST:
        raise UnfitCell(f"{label} is {len(text)} characters long; at most {LONGEST} are read.")
    if not text.isprintable():
        raise UnfitCell(f"{label} holds a character that cannot be seen; type it anew.")
    return text


def _moment(value: datetime, column: Column | None, label: str) -> str:
    if column is not None and column.is_moment:
        return f"{value:%Y-%m-%d %H:%M}"
    if column is not None and column.is_day:
        return f"{value:%Y-%m-%d}"
    if column is not None and column.is_figure:
        raise UnfitCell(f"{label}: this cell holds a day, {value:%Y-%m-%d}, where a figure belongs; write the figure.")
    raise UnfitCell(
        f"{label}: this cell holds a day, {value:%Y-%m-%d}, where words belong. Make the cell a text and type it anew."
    )


def _figure(value: int | float | Decimal, cell: Any, column: Column | None, label: str) -> str:
    figure = Decimal(f"{value:.{DIGITS}g}") if isinstance(value, float) else Decimal(value)
    if not figure.is_finite():
        raise UnfitCell(f"{label}: this cell holds no figure; write one.")
    if column is not None and (column.is_moment or column.is_day):
        raise UnfitCell(f"{label}: this cell holds the figure {_plain(figure)} where a day belongs; write 2027-03-04.")
    if column is not None and column.is_figure and "%" in (getattr(cell, "number_format", "") or ""):
        # A cell in the form of percent keeps 63.5 % as 0.635.
        if not column.field.unit.startswith("%"):
            raise UnfitCell(f"{label}: this cell is in percent, which is no unit of it; write the figure.")
        figure = Decimal(f"{figure * 100:.{DIGITS}g}")
    return _plain(figure)


def _plain(figure: Decimal) -> str:
    text = f"{figure:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
