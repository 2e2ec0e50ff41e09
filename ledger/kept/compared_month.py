"""What is kept of a comparison: its findings, the charts behind what lasts, and what could not have been seen.

Written in MessagePack, which carries every float and moment to the last digit.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import msgspec

from ledger.comparing.findings.finding import WATCH, Finding
from ledger.comparing.findings.unseen import Detectability

if TYPE_CHECKING:
    from ledger.comparing.compare import Comparison
    from ledger.comparing.drift.watching import Chart


@dataclass(frozen=True, slots=True)
class ChartedRun:
    """One run on the charts of its type: whitened value by itself, both sums of the slow and the quick chart, and the
    moving average, all in standard deviations; missing is positive."""

    record: str
    record_kind: str
    value: float
    slow_upper: float
    slow_lower: float
    quick_upper: float
    quick_lower: float
    average: float


@dataclass(frozen=True, slots=True)
class KeptChart:
    """The runs of one type of operation on its charts, in order of time, and the limits of the moving average."""

    family: str
    runs: tuple[ChartedRun, ...]
    lower_limit: float
    upper_limit: float


@dataclass(frozen=True, slots=True)
class ComparedMonth:
    """A period's comparison as pages, commands and paper are handed it; findings most serious first.

    `unseen` has, by record, what could not have been seen there, as far as it was asked for.
    """

    findings: tuple[Finding, ...]
    charts: tuple[KeptChart, ...]
    unseen: dict[str, Detectability | None]

    def with_unseen(self, record: str, unseen: Detectability | None) -> ComparedMonth:
        """The same with one more answer about what could not have been seen."""
        return replace(self, unseen={**self.unseen, record: unseen})

    def chart_of(self, family: str) -> KeptChart | None:
        """The chart behind what lasts in a type of operation."""
        return next((one for one in self.charts if one.family == family), None)


def compared_month(comparison: Comparison) -> ComparedMonth:
    """What is kept of a comparison; charts only of what something lasts in."""
    lasting = {one.operation for one in comparison.findings if one.kind == WATCH}
    charts = tuple(_kept(chart) for chart in comparison.watched.charts if chart.family in lasting)
    return ComparedMonth(comparison.findings, charts, {})


def _kept(chart: Chart) -> KeptChart:
    columns = zip(
        chart.lines,
        chart.values,
        chart.slow.upper,
        chart.slow.lower,
        chart.quick.upper,
        chart.quick.lower,
        chart.average.values,
        strict=True,
    )
    runs = tuple(ChartedRun(line.doing.record, line.doing.record_kind, *values) for line, *values in columns)
    return KeptChart(chart.family, runs, chart.average.lower_limit, chart.average.upper_limit)


def written(month: ComparedMonth) -> bytes:
    """The bytes that are kept."""
    return msgspec.msgpack.encode(month)


def read(content: bytes) -> ComparedMonth:
    """What was kept. Raises msgspec.DecodeError."""
    return msgspec.msgpack.decode(content, type=ComparedMonth)
