"""The curve of a run over the band of the last runs of the same vessel, large for its page or small for a line."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.utils.safestring import SafeString

from batches.pages.records.readings import degrees
from batches.running.before import Usual
from batches.running.figures import STRENGTH, figure_of
from batches.running.runs import Run
from distillery import charts
from distillery.charts.running import Size

# How much of a run that nothing is known of yet is drawn, in readings that are still to come.
READINGS_AHEAD = 8


def curve_of(run: Run, usual: Usual, now: datetime, *, size: Size, name: str) -> SafeString:
    """The drawing; nothing before there is anything to draw."""
    field, chart = run.quantity, run.sheet.chart
    if field is None:
        return SafeString("")
    in_degrees = chart is not None and chart.degrees

    def drawn(value: float) -> float:
        return degrees(value) if in_degrees else value

    standing = [charts.Reading(point.at, drawn(point.value)) for point in run.points]
    struck = {one.strikes_id for one in run.readings if one.strikes_id is not None}
    standing += [
        charts.Reading(one.at, drawn(value), struck=True)
        for one in run.readings
        if one.pk in struck and one.quantity == field.name and (value := figure_of(field, one.value)) is not None
    ]
    # While it stood still nothing ran, and no line is drawn across.
    standing += [charts.Reading(one.at, None) for one in run.happened if one.event.again and one.event.state]
    band = [
        charts.BandPoint(run.begun + timedelta(hours=hour), drawn(low), drawn(high)) for hour, low, high in usual.band()
    ]
    last = next((one.value for one in reversed(run.standing(field.name))), "") if in_degrees else ""
    return charts.running_chart(
        standing,
        name=name,
        title=f"{run.sheet.title} {run.record.number}",
        quantity=f"{field.label}, degrees" if in_degrees else f"{field.label}, {field.unit}",
        begun=run.begun,
        until=max([now, run.begun + READINGS_AHEAD * run.every, *(_time(point) for point in band[-1:])]),
        size=size,
        band=band,
        cuts=_cuts(run, usual),
        last=last,
    )


def _time(point: charts.BandPoint) -> datetime:
    if not isinstance(point.at, datetime):
        raise TypeError("The band of a run goes by time.")
    return point.at


def _cuts(run: Run, usual: Usual) -> list[charts.Cut]:
    """Events that were written down, and those whose time and strength the last runs foretell."""
    found = []
    for one in run.happened:
        strength = next(
            (figure_of(field, typed) for field, typed in one.figures if field.unit == STRENGTH and typed), None
        )
        found.append(
            charts.Cut(one.at, one.event.said if one.event.again or one.event.moment else one.event.label, strength)
        )
    there = {one.event.name for one in run.happened}
    for event in run.running.events:
        after = usual.after(event)
        if event.plan and event.name not in there and after is not None:
            planned = usual.planned(run, event)
            found.append(charts.Cut(run.begun + after, event.label, planned, planned=True))
    return found
