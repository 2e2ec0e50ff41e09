"""The charts behind a watch: what each run left beyond its usual loss, summed, against the limits they were set.

Values are whitened: each run less what the runs and gauges before it say of it, over its own standard deviation, so
that about nothing with a spread of one is usual. The limits are those of `comparing.statistics.charts`.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.text import capfirst

from distillery import charts
from distillery.figures import SIGNED, number
from distillery.pages import Cell, Column, Row, Table
from ledger.comparing.findings.finding import WATCH, Finding
from ledger.comparing.statistics.charts.charts import ABRUPT, PROTRACTED, CusumSetting
from ledger.kept.compared_month import ChartedRun, ComparedMonth, KeptChart
from ledger.views.enquiries.evidence import LAST, Before
from ledger.views.ways import record_href

OVER = "Over"
UNIT = "standard deviations"


def leaning(month: ComparedMonth, finding: Finding) -> list[Before]:
    """Two sums (a slow drift, an abrupt one) and the moving average of a watch; nothing for other findings."""
    chart = month.chart_of(finding.operation)
    if finding.kind != WATCH or chart is None:
        return []
    loss = finding.difference_ul >= 0
    what = capfirst(finding.operation)
    outside = f"outside {number(chart.lower_limit, 2, SIGNED)} to {number(chart.upper_limit, 2, SIGNED)}"
    slow = [one.slow_upper if loss else -one.slow_lower for one in chart.runs]
    quick = [one.quick_upper if loss else -one.quick_lower for one in chart.runs]
    return [
        _sum(chart, slow, PROTRACTED, f"{what}: sum for a slow drift", "slow"),
        _sum(chart, quick, ABRUPT, f"{what}: sum for an abrupt change", "quick"),
        _before(
            chart.runs,
            [one.average for one in chart.runs],
            charts.Limits(0.0, chart.lower_limit, chart.upper_limit, f"A second view; {outside} is unusual"),
            f"{what}: moving average",
            "average",
        ),
    ]


def _sum(chart: KeptChart, values: Sequence[float], setting: CusumSetting, caption: str, name: str) -> Before:
    said = f"Each run less {number(setting.k, 2)}, never past nothing; a signal beyond {number(setting.h, 2)}"
    return _before(chart.runs, values, charts.Limits(0.0, -setting.h, setting.h, said), caption, name)


def _before(
    runs: Sequence[ChartedRun], values: Sequence[float], limits: charts.Limits, caption: str, name: str
) -> Before:
    shown = list(zip(runs, values, strict=True))[-LAST:]
    # Once over, a sum stays over: the run that gave the signal is the one to be marked.
    signal = next((place for place, (_, value) in enumerate(shown) if not limits.lower <= value <= limits.upper), None)
    drawing = charts.control_chart(
        [
            charts.Difference(run.record, value, OVER if place == signal else "")
            for place, (run, value) in enumerate(shown)
        ],
        name=f"leaning-{name}",
        title=caption,
        limits=limits,
        quantity="Standard deviations: missing upwards, over downwards",
        unit=UNIT,
    )
    rows = [
        Row(
            (
                Cell(run.record, href=record_href(run.record_kind, run.record)),
                Cell(number(run.value, 2, SIGNED)),
                Cell(number(value, 2, SIGNED)),
            )
        )
        for run, value in shown
    ]
    columns = (Column("Record"), Column("By itself", numeric=True), Column("On the chart", numeric=True))
    return Before(drawing, Table(caption, columns, rows, "No run yet.", note=UNIT), caption)
