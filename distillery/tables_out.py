"""Cells of comma-separated text that people open in a spreadsheet: none of them is taken for a formula.

A spreadsheet reads a cell that begins with one of a few characters as something to work out, whoever wrote it. Such a
text gets an apostrophe before it, as is usual for it (CWE-1236, Improper Neutralization of Formula Elements in a CSV
File). Figures are not touched: -4.50 stays the number it is. The form that is hashed is never written through here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any, Final

# The last four are the wide forms of the first four, which some spreadsheets take as the same.
BEGINS_A_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
A_NUMBER: Final = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?")
PLAIN_TEXT: Final = "'"


def cell(value: Any) -> Any:
    """One cell: a text that could be a formula behind an apostrophe, everything else as it is."""
    if isinstance(value, str) and value.startswith(BEGINS_A_FORMULA) and not A_NUMBER.fullmatch(value):
        return f"{PLAIN_TEXT}{value}"
    return value


def row(values: Iterable[Any]) -> list[Any]:
    """The cells of one row."""
    return [cell(value) for value in values]
