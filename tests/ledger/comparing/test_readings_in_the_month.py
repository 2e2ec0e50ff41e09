"""The sample month read out of the ledger: each reading's weight in each row, against the gauge measured anew.

Law of propagation, JCGM 100:2008, 5.1.3: a sensitivity is what a small change of the reading does to the result; here
the result is asked of the very function that computes the gauges.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from distillery.plant.lookup import Plant
from ledger.comparing.compare import Comparison
from ledger.comparing.findings.judging import difference_of
from ledger.comparing.month import compare_month
from ledger.comparing.observations.from_ledger import log_of
from ledger.comparing.search.remeasuring import corrected
from ledger.comparing.statistics.algebra.problem import RowKind
from ledger.comparing.unaccounted import found_at, left_of
from ledger.models import Movement
from ledger.statements.unaccounted_legs import of_legs

PERIOD = "2027-03"
SMALL = {
    "dip_mm": 1.0,
    "celsius": 0.1,
    "hydrometer_percent": 0.1,
    "original_gravity": 0.0001,
    "final_gravity": 0.0001,
    "gross_kg": 0.1,
    "tare_kg": 0.1,
}
EXAMPLES = [
    "SR0003:spirit_after_dip_mm",
    "SR0003:spirit_after_celsius",
    "SR0003:feints_before_hydrometer_percent",
    "SR0003:low_wines_after_dip_mm",
    "WR0004:receiver_before_hydrometer_percent",
    "WR0004:washback_before_celsius",
    "FE0004:original_gravity",
    "FE0004:final_gravity",
    "TR0003:to_after_dip_mm",
    "CF0002:vat_before_hydrometer_percent",
    "CF0002:gross_kg:2027/0050",
    "RG0003:gross_kg",
]


@pytest.fixture(scope="module")
def _compared() -> list[Comparison]:
    return []


@pytest.fixture
def month(loaded_month: Path, _compared: list[Comparison]) -> Comparison:
    """The month compared, once for all of these, which only read it."""
    if not _compared:
        _compared.append(compare_month(PERIOD, Plant()))
    return _compared[0]


@pytest.mark.parametrize("key", EXAMPLES)
def test_a_reading_moves_every_row_as_its_gauges_do_when_measured_anew(month: Comparison, key: str) -> None:
    model = month.as_written.model
    seen = model.known[key].seen
    step = SMALL[seen.part]
    moved = corrected(model, {key: seen.value + step}, month.search.remeasure)
    column = model.columns[key]
    balances = [row for row in column if not row.startswith("figure:")]
    assert balances
    for row in balances:
        change = (moved.residuals[row] - model.residuals[row]) / step
        # A charge moves the usual loss by 1 % of itself at the most.
        assert change == pytest.approx(column[row], rel=0.03, abs=1e-3), row


def test_rows_that_a_reading_does_not_enter_stay_as_they_are(month: Comparison) -> None:
    model = month.as_written.model
    key = "SR0003:spirit_after_dip_mm"
    moved = corrected(model, {key: model.known[key].seen.value + 10.0}, month.search.remeasure)
    changed = {row for row in model.equations if abs(moved.residuals[row] - model.residuals[row]) > 1e-6}
    assert changed == set(model.columns[key])


def test_the_gravities_of_a_fermentation_are_one_reading_in_every_run_from_it(month: Comparison) -> None:
    model = month.as_written.model
    rows = model.columns["FE0004:original_gravity"]
    assert "operation:WR0004" in rows
    assert not any(key.startswith("WR0004:original") for key in model.columns)


def test_balances_are_those_of_the_books(loaded_month: Path, month: Comparison) -> None:
    """What the readings make of each operation and gauge is what the legs say, and so is what pages are told."""
    model = month.as_written.model
    booked = of_legs(Movement.objects.operations().filter(period=PERIOD)).left
    compared = 0
    for key, line in model.equations.items():
        if line.kind is RowKind.OPERATION:
            legs_ul = booked.get(line.doing.record, 0)
            assert difference_of(model, line) == pytest.approx(legs_ul / 1e6, abs=2e-5), key
            assert left_of(line, model.log, model.values, model.usual[key]).difference_ul == legs_ul
            compared += 1
    assert compared > 50
    for line in model.equations.values():
        if line.kind is RowKind.CONTINUITY:
            found = found_at(line, model.log, model.values)
            assert model.residuals[line.key] == pytest.approx(found.found_ul / 1e6, abs=2e-5), line.key


def test_what_brings_alcohol_in_is_told_by_its_account(loaded_month: Path) -> None:
    """Fermentations against what ferments, vessels and casks taken on: their legs stand on an account of a source."""
    log = log_of(None)
    operations = {event.doing.record: event.doing.operation for event in log.events}
    assert {operations[record] for record in log.sources} == {"fermentation", "opening stock"}
    assert log.sources == {record for record, name in operations.items() if name in ("fermentation", "opening stock")}


def test_reading_a_month_asks_no_more_for_more_records(loaded_month: Path) -> None:
    with CaptureQueriesContext(
        connection,
    ) as month:
        log_of(PERIOD)
    with CaptureQueriesContext(connection) as everything:
        log_of(None)
    assert len(everything) <= len(month) <= 12


def test_whitened_residuals_of_the_month_have_about_unit_spread(month: Comparison) -> None:
    from ledger.comparing.health import month_health

    # Fits where the standard deviation is 0.85 to 1.15 (common practice, no source).
    health = month_health(month)
    assert health["rows"] > 300
    assert 0.85 < health["standard_deviation"] < 1.15
