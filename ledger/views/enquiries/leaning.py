"""The charts behind a watch: what each run left beyond its usual loss, added up, beside the limits of the charts.

Values are whitened. From what a run left, what the runs and gauges before it foretold is taken off, and the rest is
divided by its own standard deviation. So values around 0 with a spread of 1 are usual. The limits are those of
`comparing.statistics.charts`.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.text import capfirst

from distillery import charts
from distillery.figures import SIGNED, number, way
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
            charts.Limits(0.0, chart.lower_limit, chart.upper_limit, f"A second view: {outside} is unusual"),
            f"{what}: moving average",
            "average",
        ),
    ]


def _sum(chart: KeptChart, values: Sequence[float], setting: CusumSetting, caption: str, name: str) -> Before:
    said = (
        f"{number(setting.k, 2)} is taken off each run; a sum that would turn the other way begins again at 0; "
        f"a signal beyond {number(setting.h, 2)}"
    )
    return _before(chart.runs, values, charts.Limits(0.0, -setting.h, setting.h, said), caption, name)


def _before(
    runs: Sequence[ChartedRun], values: Sequence[float], limits: charts.Limits, caption: str, name: str
) -> Before:
    shown = list(zip(runs, values, strict=True))[-LAST:]
    # A sum stays beyond its limit once it is there, so only the run that first took it there is marked.
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
                Cell(f"{number(abs(run.value), 2)} {way(run.value)}".strip()),
                Cell(f"{number(abs(value), 2)} {way(value)}".strip()),
            )
        )
        for run, value in shown
    ]
    columns = (Column("Record"), Column("By itself", numeric=True), Column("On the chart", numeric=True))
    return Before(drawing, Table(caption, columns, rows, "No run yet.", note=UNIT), caption)
