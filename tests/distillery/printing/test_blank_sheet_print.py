"""Blank log sheets: one serial each, the same columns, a slip to keep, the rule for ink on every page."""

from __future__ import annotations

from dataclasses import replace

import pytest
from printed_samples import IMPRESSION, log_sheet, pages_of

from distillery.printing.documents.blank_sheet import BlankSheet, BlankSheetError, blank_sheets_pdf


def test_each_sheet_has_its_serial_and_its_place_in_the_count() -> None:
    pages = pages_of(blank_sheets_pdf(log_sheet(sheets=4), IMPRESSION))
    assert len(pages) == 4
    for number, page in enumerate(pages):
        serial = f"BL-2026-{41 + number:04d}, {number + 1} of 4"
        assert page.count(serial) == 2
        assert f"Page {number + 1} of 4" in page


def test_every_page_has_columns_slip_and_rule() -> None:
    pages = pages_of(blank_sheets_pdf(log_sheet(rows=40, sheets=2), IMPRESSION))
    assert len(pages) > 2
    for page in pages:
        flat = " ".join(page.split())
        for wanted in ("Happened", "24 h clock", "Strength shown", "Issued to", "Returned", "Tear off here"):
            assert wanted in flat
        assert "one line through it" in flat


def test_nothing_asked_fills_one_page() -> None:
    for landscape in (True, False):
        sheet = replace(log_sheet(sheets=1), landscape=landscape)
        filled = pages_of(blank_sheets_pdf(sheet, IMPRESSION))
        assert len(filled) == 1
    # Portrait has about 188 mm for rows of 8.5 mm on the first page and 206 mm on the next: 22, 24 and the rest.
    assert [len(pages_of(blank_sheets_pdf(replace(sheet, rows=rows), IMPRESSION))) for rows in (5, 60)] == [1, 3]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"columns": ()}, "at least one column"),
        ({"serials": ()}, "one serial number"),
        ({"serials": ("BL-1", "BL-1")}, "given twice"),
        ({"rows": 201}, "1 to 200 rows"),
        ({"rows": -1}, "1 to 200 rows"),
    ],
)
def test_a_sheet_that_cannot_be_is_refused(change: dict[str, object], says: str) -> None:
    sheet: BlankSheet = replace(log_sheet(), **change)
    with pytest.raises(BlankSheetError, match=says):
        blank_sheets_pdf(sheet, IMPRESSION)
