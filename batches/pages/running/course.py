"""The course of a batch that is read in gravities: each quantity against its hours, over the last batches of its kind.

The same drawing stands on the page of the record, on the page it is worked from, and on paper.
"""

from __future__ import annotations

from datetime import datetime

from batches.models import Record
from batches.running.figures import figure_of
from batches.running.like_batches import HOUR, LikeBatches, curve_of, like_batches
from batches.running.runs import Run, runs_of
from batches.sheets.declared import Field
from distillery import charts
from distillery.charts.drawing import Drawing

GRAVITY = "relative density"
DEGREES_A_RELATIVE_DENSITY = 1000


def course_of(record: Record, *, name: str) -> Drawing | None:
    """The drawing; None before anything was read, and for a record that does not run. Six queries."""
    run = next(iter(runs_of([record])), None)
    return course_of_run(run, name=name) if run is not None else None


def course_of_run(run: Run, *, name: str) -> Drawing | None:
    """The same of a record that is read already."""
    chart = run.sheet.chart
    if chart is None or not chart.degrees:
        return None
    like = like_batches(run.record.kind, run.begun, but=run.record.number)
    fields = [run.sheet.reading(one) for one in (chart.quantity, chart.beside, *chart.also) if one]
    series = [_series(run, field, like) for field in fields if field is not None]
    marks = [(0.0, chart.begun)]
    if run.record.happened_to is not None:
        marks.append((_hours(run, run.record.happened_to), "ended"))
    return charts.hours_chart(
        series,
        name=name,
        title=f"{run.sheet.title} {run.record.number}",
        like=said_of(like),
        since=f"Hours since {chart.begun}",
        marks=marks,
    )


def said_of(like: LikeBatches) -> str:
    """Whose band it is, as the drawing says it; nothing where there are too few."""
    return f"last {len(like.runs)}: middle 80 %, median broken" if like.runs else ""


def _series(run: Run, field: Field, like: LikeBatches) -> charts.HourSeries:
    in_degrees = field.unit == GRAVITY

    def drawn(value: float) -> float:
        return (value - 1.0) * DEGREES_A_RELATIVE_DENSITY if in_degrees else value

    struck = {one.strikes_id for one in run.readings if one.strikes_id is not None}
    gone = [
        charts.HourReading(_hours(run, one.at), drawn(value), struck=True)
        for one in run.readings
        if one.pk in struck and one.quantity == field.name and (value := figure_of(field, one.value)) is not None
    ]
    unit = "degrees at 20 °C" if in_degrees else field.unit
    return charts.HourSeries(
        f"{field.label}, {unit}" if unit else field.label,
        [*(charts.HourReading(hour, drawn(value)) for hour, value in curve_of(run, field)), *gone],
        [
            charts.HourSpread(one.along, drawn(one.low), drawn(one.median), drawn(one.high))
            for one in like.band(field.name)
        ],
    )


def _hours(run: Run, at: datetime) -> float:
    return (at - run.begun).total_seconds() / HOUR
