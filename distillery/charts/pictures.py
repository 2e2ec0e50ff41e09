"""A picture for a page: the drawing of a plot, with the table of its figures one key away."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.safestring import SafeString

from distillery import pages
from distillery.charts.plots import Plot, plot_chart


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing with its caption and the table of its figures; `name` parts it from others of its page."""

    name: str
    caption: str
    chart: SafeString
    table: pages.Table


def pictured(plot: Plot) -> Picture:
    """A plot as it stands on a page; its drawing is empty where nothing was measured."""
    return Picture(plot.name, plot.title, plot_chart(plot), plot.table())
