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
from ledger.comparing.compare import Comparison
from ledger.comparing.drift.watching import Chart
from ledger.comparing.findings.finding import WATCH, Finding
from ledger.comparing.statistics.charts.charts import ABRUPT, PROTRACTED, Cusum, CusumSetting
from ledger.views.enquiries.evidence import LAST, Before
from ledger.views.ways import record_href

OVER = "Over"
UNIT = "standard deviations"


def leaning(month: Comparison, finding: Finding) -> list[Before]:
    """Two sums (a slow drift, an abrupt one) and the moving average of a watch; nothing for other findings."""
    chart = next((one for one in month.watched.charts if one.family == finding.operation), None)
    if finding.kind != WATCH or chart is None:
        return []
    loss = finding.difference_ul >= 0
    average, what = chart.average, capfirst(finding.operation)
    outside = f"outside {number(average.lower_limit, 2, SIGNED)} to {number(average.upper_limit, 2, SIGNED)}"
    return [
        _sum(chart, chart.slow, PROTRACTED, loss, f"{what}: sum for a slow drift", "slow"),
        _sum(chart, chart.quick, ABRUPT, loss, f"{what}: sum for an abrupt change", "quick"),
        _before(
            chart,
            average.values,
            charts.Limits(0.0, average.lower_limit, average.upper_limit, f"A second view: {outside} is unusual"),
            f"{what}: moving average",
            "average",
        ),
    ]


def _sum(chart: Chart, sums: Cusum, setting: CusumSetting, loss: bool, caption: str, name: str) -> Before:
    values = sums.upper if loss else [-value for value in sums.lower]
    said = (
        f"{number(setting.k, 2)} is taken off each run; a sum that would turn the other way begins again at 0; "
        f"a signal beyond {number(setting.h, 2)}"
    )
    return _before(chart, values, charts.Limits(0.0, -setting.h, setting.h, said), caption, name)


def _before(chart: Chart, values: Sequence[float], limits: charts.Limits, caption: str, name: str) -> Before:
    shown = list(zip(chart.lines, chart.values, values, strict=True))[-LAST:]
    # A sum stays beyond its limit once it is there, so only the run that first took it there is marked.
    signal = next((run for run, (*_, value) in enumerate(shown) if not limits.lower <= value <= limits.upper), None)
    drawing = charts.control_chart(
        [
            charts.Difference(line.doing.record, value, OVER if run == signal else "")
            for run, (line, _z, value) in enumerate(shown)
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
                Cell(line.doing.record, href=record_href(line.doing.record_kind, line.doing.record)),
                Cell(f"{number(abs(z), 2)} {way(z)}".strip()),
                Cell(f"{number(abs(value), 2)} {way(value)}".strip()),
            )
        )
        for line, z, value in shown
    ]
    columns = (Column("Record"), Column("By itself", numeric=True), Column("On the chart", numeric=True))
    return Before(drawing, Table(caption, columns, rows, "No run yet.", note=UNIT), caption)
