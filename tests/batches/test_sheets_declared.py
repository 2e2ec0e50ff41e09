"""Every sheet says enough of itself for its form, list, blank sheet and table to follow from it."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from batches.sheets.sheet import STANDING_CAUTION, By, Kind, Sheet
from batches.steps import STEPS, NoSuchStep, sheet_of
from distillery.rules.models import LossCause

SAMPLE = Path(__file__).parents[2] / "fixtures" / "sample-month"


@pytest.fixture(params=STEPS, ids=lambda sheet: sheet.kind)
def sheet(request: pytest.FixtureRequest) -> Sheet:
    found: Sheet = request.param
    return found


def test_names_are_told_apart() -> None:
    for name in ("kind", "table", "prefix", "title"):
        assert len({getattr(sheet, name) for sheet in STEPS}) == len(STEPS)
    with pytest.raises(NoSuchStep, match="There is no step 'racking'; there are: opening_stock"):
        sheet_of("racking")


def test_what_a_sheet_refers_to_is_there(sheet: Sheet) -> None:
    for moment in sheet.moments:
        assert sheet.field(moment.when).kind == Kind.MOMENT
    for name in (*sheet.list_columns, *sheet.identity, *((sheet.book_of,) if sheet.book_of else ())):
        assert sheet.has_field(name)
    for gauge in (*sheet.gauges, *(sheet.rows.gauges if sheet.rows else ())):
        assert sheet.field(gauge.vessel).kind == Kind.VESSEL
        assert sheet.has_field(gauge.celsius) or gauge.by == By.WEIGHT_AT_STRENGTH
    for one in (*sheet.fields, *sheet.row_fields):
        assert one.label
        assert not one.not_before or sheet.field(one.not_before).kind == Kind.MOMENT
        assert one.kind != Kind.RECORD or sheet_of(one.record_kind)
        assert one.kind != Kind.CHOICE or one.choices
    assert sheet.number_column or sheet.identity


def test_usual_lies_within_what_can_be(sheet: Sheet) -> None:
    for one in (*sheet.fields, *sheet.row_fields, *sheet.readings):
        if one.usual_low is not None and one.usual_high is not None:
            assert one.usual_low < one.usual_high
            assert one.impossible_below is None or one.impossible_below <= one.usual_low
            assert one.impossible_above is None or one.usual_high <= one.impossible_above


def test_the_columns_are_those_of_the_sample_month(sheet: Sheet) -> None:
    # A month need not have every step in it: what it has a table of, that table is read by the sheet.
    for path in SAMPLE.glob(f"*/{sheet.table}.csv"):
        with path.open(encoding="utf-8") as file:
            columns = next(csv.reader(file))
        assert set(columns) <= set(sheet.columns)


def test_every_table_of_the_sample_month_is_some_step_s_or_the_plant_s() -> None:
    known = {sheet.table for sheet in STEPS} | {"readings"}
    assert {path.stem for path in SAMPLE.glob("log/*.csv")} <= known


def test_cautions_end_in_the_site_own_rules() -> None:
    assert "risk assessment" in STANDING_CAUTION
    for kind in (
        "mash",
        "fermentation",
        "wash_run",
        "spirit_run",
        "third_still_run",
        "transfer",
        "cask_fill",
        "bottling",
    ):
        assert sheet_of(kind).cautions


@pytest.mark.django_db
def test_losses_are_booked_to_causes_the_site_knows() -> None:
    known = set(LossCause.objects.values_list("name", flat=True))
    assert {"pot ale", "spent lees", "spent third-still charge", "evaporation in cask"} <= known
