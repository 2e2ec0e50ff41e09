"""Figures that a site sets for what a step looks into, as they are in force on a day."""

from __future__ import annotations

from datetime import date

from distillery import figures
from distillery.rules.in_force import NoRuleInForce, usual_figure
from distillery.rules.models import UsualFigure


def set_figure(name: str, on: date) -> float:
    """The site's figure of a name on a day, in its own unit. Raises NoRuleInForce where it has none."""
    return row_of(name, on)[1]


def row_of(name: str, on: date) -> tuple[UsualFigure, float]:
    """The same with the row it stands in, for its source. Raises NoRuleInForce."""
    row = usual_figure(name, on)
    if row is None or row.expected is None:
        raise NoRuleInForce(
            f"No figure is set for {name} on {figures.day(on, year=True)}. "
            "The manager sets one that starts on or before that day."
        )
    return row, row.expected
