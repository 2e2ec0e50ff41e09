"""Cells of comma-separated tables: no text is taken for a formula, and figures stay figures (CWE-1236)."""

from __future__ import annotations

import pytest

from distillery.tables_out import cell
from ledger.standalone import verify_export


@pytest.mark.parametrize(
    "text", ["=1+1", "+cmd|' /C calc'!A0", "-2+3", "@SUM(1)", "\t=1", "\r=1", "\n=1", "＝1", "-", "=-4.5"]
)
def test_a_text_that_begins_like_a_formula_stands_behind_an_apostrophe(text: str) -> None:
    assert cell(text) == f"'{text}"


@pytest.mark.parametrize("value", ["-4.50", "+4.50", "-12", "63.5", "", "gin", "1/27", "2027-03-01", -4, 4.5, None])
def test_figures_and_plain_words_stay_as_they_are(value: object) -> None:
    assert cell(value) == value


@pytest.mark.parametrize("value", ["=1+1", "-4.50", "＋1x", "\ta", "gin", -4, "+4.50", "-1e3"])
def test_the_verifier_of_an_export_expects_the_same_cells(value: object) -> None:
    assert verify_export.as_text(value) == str(cell(value))
