"""Charts as the server draws them: SVG with words on the drawing, fit for a strict content policy and for paper.

A chart takes readings in the unit shown and gives back markup, or nothing when there is nothing to draw. A reading
that was not taken is a gap in the line. Every drawing has a title and a description in words; the page sets a
table of the same figures beside it. Colours, widths and letters come from the style sheet by class.
"""

from distillery.charts.by_hours import HourReading, HourSeries, HourSpread, hours_chart
from distillery.charts.cask import cask_chart
from distillery.charts.control import Difference, Limits, control_chart
from distillery.charts.readings import BandPoint, Cut, Level, Reading, Regauge, Spot
from distillery.charts.run import line_chart
from distillery.charts.running import LARGE, SMALL, running_chart

__all__ = [
    "LARGE",
    "SMALL",
    "BandPoint",
    "Cut",
    "Difference",
    "HourReading",
    "HourSeries",
    "HourSpread",
    "Level",
    "Limits",
    "Reading",
    "Regauge",
    "Spot",
    "cask_chart",
    "control_chart",
    "hours_chart",
    "line_chart",
    "running_chart",
]
