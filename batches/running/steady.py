"""Whether a gravity that was read along the way has come to rest, by the site's own figures of the day."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from distillery.alcoholometry.wort import degrees_of_gravity
from distillery.process.fermenting import steady_since
from distillery.rules.in_force import usual_figure

WITHIN, APART = "steady gravity", "time between steady gravities"


def steady_hour(gravities: Sequence[tuple[float, float]], on: date) -> float | None:
    """The hour from which on (hours, relative density) are steady; None while not, or where no rule of it is set."""
    rows = [usual_figure(name, on) for name in (WITHIN, APART)]
    set_ones = [row.expected for row in rows if row and row.expected]
    if len(set_ones) < len(rows):
        return None
    within, apart = set_ones
    return steady_since(
        [(hour, degrees_of_gravity(gravity)) for hour, gravity in gravities],
        within_degrees=1000.0 * within,
        hours_apart=apart,
    )
