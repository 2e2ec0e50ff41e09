"""A picture for a page: the drawing of a plot, with the table of its figures one key away."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.safestring import SafeString

from distillery import pages
from distillery.charts.parts import Parts
from distillery.charts.plots import Plot, plot_chart

Drawn = Plot | Parts


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing with its caption and the table of its figures; `name` parts it from others of its page."""

    name: str
    caption: str
    chart: SafeString
    table: pages.Table


def pictured(drawn: Drawn) -> Picture:
    """What is drawn, as it stands on a page; its drawing is empty where nothing was measured."""
    chart = drawn.chart() if isinstance(drawn, Parts) else plot_chart(drawn)
    return Picture(drawn.name, drawn.title, chart, drawn.table())
