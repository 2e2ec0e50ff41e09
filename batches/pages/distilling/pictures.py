"""Pictures of distillation periods: wash and yield beside what the malt promised, and the stock of feints over time."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from batches.distilling.yields import Yield
from distillery.charts.pictures import Picture, pictured
from distillery.charts.plots import Line, Plot
from distillery.plant.models import MICRO
from ledger.models import Gauge

A_DAY = timedelta(days=1)


def pictures_of(worked: Yield) -> list[Picture]:
    """The pictures of one period, those with nothing to draw left out."""
    return [pictured(plot) for plot in plots_of(worked)]


def plots_of(worked: Yield) -> list[Plot]:
    """What is drawn of one period."""
    return [plot for plot in (_mashes(worked), _feints(worked)) if not plot.is_empty]


def plot_of_periods(rows: Sequence[Yield]) -> Plot:
    """Yield of each period that has ended beside what its malt promised, the oldest first."""
    ended = [row for row in reversed(rows) if row.period.ended_at is not None and row.lpa_per_tonne is not None]
    found = [(float(place), row.lpa_per_tonne or 0.0) for place, row in enumerate(ended, start=1)]
    promised = [(float(place), row.predicted) for place, row in enumerate(ended, start=1)]
    return Plot(
        "yields",
        "Yield beside what the malt promised, by period",
        "period",
        "LPA a tonne of malt",
        (
            Line("Yield", tuple(found)),
            Line("Malt promised", tuple((x, y) for x, y in promised if y is not None), dashed=True),
        ),
        names=tuple(row.period.number for row in ended),
    )


def _mashes(worked: Yield) -> Plot:
    mashes = list(enumerate(worked.mashes, start=1))
    reached = tuple((float(place), line.wash_per_tonne) for place, line in mashes if line.wash_per_tonne is not None)
    promised = tuple((float(place), line.predicted) for place, line in mashes if line.predicted is not None)
    return Plot(
        "mashes",
        "Wash beside what the malt promised, by mash",
        "mash",
        "LPA a tonne of malt",
        (Line("Wash as declared", reached), Line("Malt promised", promised, dashed=True)),
        names=tuple(line.mash.number for _, line in mashes),
    )


def _feints(worked: Yield) -> Plot:
    """The feints receiver as it was gauged, day by day of the period."""
    code, since = worked.period.typed.get("feints_receiver", ""), worked.period.opened_at
    gauges = (
        Gauge.objects.standing()
        .filter(account__vessel__code=code, happened_at__gte=since, happened_at__lte=worked.period.until)
        .order_by("happened_at", "position")
        .values_list("happened_at", "pure_ul")
    )
    points = tuple((_days(at, since), pure_ul / MICRO) for at, pure_ul in gauges)
    return Plot(
        "feints",
        f"Alcohol in {code}, as it was gauged",
        "days since the period was opened",
        "LPA",
        (Line(f"{code}", points),),
        note="high before a charge, low after it, high again when the run has ended",
    )


def _days(at: datetime, since: datetime) -> float:
    return (at - since) / A_DAY
