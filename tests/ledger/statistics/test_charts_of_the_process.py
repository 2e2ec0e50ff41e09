"""The published rows of charts and run lengths, P103 to P116 of `tests/data/process_checks.csv`, with their sources.

The lists of readings are those of NIST/SEMATECH e-Handbook 6.3.2.3 and 6.3.2.4 and of the worked loss, kept in
`tests/data/balance`. Sums and average stand on a watch (`ledger/comparing/drift/watching.py`); how long a chart runs is
no part of the program and is worked out in `run_lengths.py`, to hold the settings of the charts to it.
"""

from __future__ import annotations

import pytest
from balance_examples import charts_checks
from run_lengths import average_run_length

from ledger.comparing.statistics.charts.charts import CusumSetting, cusum, ewma
from tests.distillery.process.process_checks import check

CHARTS = charts_checks()


def _series(number: str) -> list[float]:
    return [float(value) for value in check(number).expected.split()]


# As printed each value is rounded from the one before, so that both add up to one in the second decimal.
PRINTED = 0.0101


def test_the_sums_of_the_handbook() -> None:
    upper, lower, alarm = check("P103"), check("P104"), check("P105")
    target, setting = upper.given("target"), CusumSetting(upper.given("k"), alarm.given("h"))
    chart = cusum([value - target for value in CHARTS["cusum"]["x"]], setting, limit=None)
    assert (lower.given("target"), lower.given("k")) == (target, setting.k)
    assert chart.upper == pytest.approx(_series("P103"), abs=PRINTED)
    assert chart.lower == pytest.approx(_series("P104"), abs=PRINTED)
    assert alarm.met_by(chart.signals[0].run + 1)


def test_the_moving_average_of_the_handbook() -> None:
    series, high, low = check("P106"), check("P107"), check("P108")
    chart = ewma(CHARTS["ewma"]["x"], series.given("lambda"), series.given("start"), high.given("s"))
    assert chart.values == pytest.approx(_series("P106"), abs=PRINTED)
    assert high.met_by(chart.upper_limit)
    assert low.met_by(chart.lower_limit)
    assert chart.outside == ()


def test_the_worked_loss_is_found_and_dated() -> None:
    sums, found = check("P109"), check("P110")
    z = [(loss - sums.given("mu")) / sums.given("sigma") for loss in CHARTS["loss-cusum"]["losses"]]
    chart = cusum(z, CusumSetting(sums.given("k"), found.given("h")))
    assert chart.upper == pytest.approx(_series("P109"), abs=0.0005)
    signal = chart.signals[0]
    assert found.expected == f"alarm at {signal.run + 1}; onset {signal.onset + 1}"


@pytest.mark.parametrize("number", ["P111", "P112", "P113", "P114", "P115", "P116"])
def test_run_lengths(number: str) -> None:
    row = check(number)
    setting = CusumSetting(row.given("k"), row.given("h"))
    assert row.met_by(average_run_length(setting, row.given("shift_sigma")))
