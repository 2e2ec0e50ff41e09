"""Suggestions of an address find their boxes: a single one by its column, one of a line by its vessel too."""

from __future__ import annotations

from batches.pages.writing.suggested import at_boxes
from batches.steps import sheet_of

ROWS = [{"cask": "2027/0001", "gross_kg": "230"}, {"cask": "2027/0002", "gross_kg": "219.1"}]


def test_a_box_of_its_own_is_named_by_its_column() -> None:
    sheet = sheet_of("spirit_run")
    assert at_boxes({"spirit_after_dip_mm@SR": "927"}, sheet, []) == {"spirit_after_dip_mm": "927"}
    assert at_boxes({"spirit_after_dip_mm": "927"}, sheet, []) == {"spirit_after_dip_mm": "927"}


def test_a_box_of_a_line_is_found_by_the_vessel() -> None:
    sheet = sheet_of("cask_fill")
    assert at_boxes({"gross_kg@2027/0002": "239.1"}, sheet, ROWS) == {"line-1-gross_kg": "239.1"}
    assert at_boxes({"vat_after_dip_mm@SV": "880"}, sheet, ROWS) == {"vat_after_dip_mm": "880"}


def test_a_line_that_is_not_there_gets_nothing() -> None:
    assert at_boxes({"gross_kg@2027/0009": "239.1", "gross_kg": "1"}, sheet_of("cask_fill"), ROWS) == {}


def test_a_box_named_in_full_is_left_as_it_is() -> None:
    assert at_boxes({"line-0-gross_kg": "219.1"}, sheet_of("cask_fill"), ROWS) == {"line-0-gross_kg": "219.1"}
