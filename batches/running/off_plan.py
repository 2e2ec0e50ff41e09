"""A cut that was made away from its plan: who made it shows who they are once more, and nobody is kept from writing it.

The plan is that on the sheet, else that of the last run that had one, else the middle of the last runs
(`Usual.planned`). How far from it is 'away' is a dated usual figure of the site.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

from batches.running.before import Usual
from batches.running.figures import STRENGTH, figure_of
from batches.running.runs import Run
from batches.sheets.declared import Event
from distillery import figures
from distillery.rules.in_force import usual_figure

AWAY_FROM_PLAN: Final = "cut away from its plan"


@dataclass(frozen=True, slots=True)
class OffPlan:
    """A cut at `made`, planned at `planned`, both in % vol with as many decimals as its field has."""

    made: float
    planned: float
    decimals: int

    @property
    def sentence(self) -> str:
        """'The cut was made at 58.1 % and is planned at 62.0 %.'"""
        made, planned = figures.number(self.made, self.decimals), figures.number(self.planned, self.decimals)
        return f"The cut was made at {made} % and is planned at {planned} %."


def off_plan(run: Run, event: Event, typed: Mapping[str, str], usual: Usual, on: date) -> OffPlan | None:
    """The cut as typed where it is further from its plan than the site's figure in force on that day; None where it is
    not, where there is no plan, no such figure, or nothing that can be read.
    """
    field = run.sheet.field(event.plan) if event.plan else None
    if field is None or field.unit != STRENGTH:
        return None
    limit = usual_figure(AWAY_FROM_PLAN, on)
    made, planned = figure_of(field, typed.get(field.name, "")), usual.planned(run, event)
    if limit is None or limit.expected is None or made is None or planned is None:
        return None
    # Both are typed to so many decimals: the same distance is never further by what a float leaves over.
    apart = round(abs(made - planned), field.decimals)
    if apart <= limit.expected:
        return None
    return OffPlan(made, planned, field.decimals)
