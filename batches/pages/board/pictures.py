"""The pictures of the board, as page and paper draw them."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.safestring import SafeString

from batches.board.reading import Board
from distillery.charts.control import Difference, control_chart
from distillery.charts.plots import Line, Plot, plot_chart
from distillery.charts.stacked import Layer, stacked_chart
from distillery.plant.models import MICRO, Stage

# Mashes that are drawn one by one; more of them are drawn month by month.
MOST_MASHES = 40
# Causes that have a layer of their own; the rest stands in one.
MOST_CAUSES = 5
OTHERS = "Other causes"


@dataclass(frozen=True, slots=True)
class BoardPicture:
    """One drawing under its heading; empty where there is nothing to draw, and then `nothing` says why."""

    name: str
    caption: str
    chart: SafeString
    nothing: str
    note: str = ""


def stock_picture(board: Board) -> BoardPicture:
    """What each stage held at the end of each month."""
    layers = [
        Layer(Stage(stage).label, tuple(max(0, month.stages[stage]) / MICRO for month in board.months))
        for stage in board.stages
    ]
    title = "Stock by stage, at the end of each month"
    drawn = stacked_chart(_codes(board), layers, name="stock", title=title, up="LPA")
    return BoardPicture("stock", title, drawn, "Nothing was in stock in these months.")


def yield_picture(board: Board) -> BoardPicture:
    """Wash of each mash, or of each month's mashes together, beside what the malt promised."""
    if len(board.mashes) <= MOST_MASHES:
        title, along = "LPA a tonne of malt by mash, beside what the malt promised", "mash"
        rows = [(one.number, one.reached, one.promised) for one in board.mashes]
    else:
        title, along = "LPA a tonne of malt by month, beside what the malt promised", "month"
        told = [(one.period, one.mashes) for one in board.months if one.mashes is not None]
        rows = [(period, mashes.reached, mashes.promised) for period, mashes in told]
    plot = _yields("yields", title, along, rows, "Wash as declared")
    return BoardPicture(
        plot.name, title, plot_chart(plot), "No wash of a mash of these months was declared.", "wash, before the stills"
    )


def period_picture(board: Board) -> BoardPicture:
    """Yield of each distillation period beside what its malt promised."""
    title = "LPA a tonne of malt by distillation period, beside what the malt promised"
    rows = [(one.number, one.reached, one.promised) for one in board.periods]
    plot = _yields("period-yields", title, "distillation period", rows, "Yield")
    return BoardPicture(plot.name, title, plot_chart(plot), "No distillation period ended in these months.")


def _yields(
    name: str, title: str, along: str, rows: list[tuple[str, float | None, float | None]], reached: str
) -> Plot:
    found = tuple((float(place), value) for place, (_, value, _) in enumerate(rows, start=1) if value is not None)
    promised = tuple((float(place), value) for place, (_, _, value) in enumerate(rows, start=1) if value is not None)
    lines = (Line(reached, found), Line("Malt promised", promised, dashed=True))
    return Plot(name, title, along, "LPA a tonne of malt", lines, names=tuple(row[0] for row in rows))


def loss_picture(board: Board) -> BoardPicture:
    """Known losses of each month by cause, one on another."""
    causes = board.causes[:MOST_CAUSES]
    layers = [_lost(board, cause.capitalize(), [cause]) for cause in causes]
    if board.causes[MOST_CAUSES:]:
        layers.append(_lost(board, OTHERS, board.causes[MOST_CAUSES:]))
    title = "Known losses by month and cause"
    drawn = stacked_chart(_codes(board), layers, name="losses", title=title, up="LPA in the month")
    note = "a cause whose losses were booked back is drawn as nothing in that month; the table has it"
    return BoardPicture("losses", title, drawn, "No known loss was booked in these months.", note)


def _lost(board: Board, label: str, causes: list[str]) -> Layer:
    sums = (sum(month.losses.get(cause, 0) for cause in causes) for month in board.months)
    return Layer(label, tuple(max(0, net) / MICRO for net in sums))


def difference_picture(board: Board) -> BoardPicture:
    """What nobody has explained, month by month: missing above the line, over below it."""
    title = "Differences by month: missing above nothing, over below it"
    drawn = control_chart(
        [Difference(month.period, month.difference_ul / MICRO) for month in board.months],
        name="differences",
        title=title,
    )
    return BoardPicture("differences", title, drawn, "No difference in these months.")


def age_picture(board: Board) -> BoardPicture:
    """What casks hold by their books, by age, over what their band expects."""
    title = "Casks by age: what their books hold, and what is expected"
    lines = board.ages
    band = tuple(
        (float(place), one.least_ul / MICRO, one.most_ul / MICRO)
        for place, one in enumerate(lines, start=1)
        if one.least_ul is not None and one.most_ul is not None
    )
    held = tuple((float(place), one.held_ul / MICRO) for place, one in enumerate(lines, start=1))
    filled = tuple((float(place), one.filled_ul / MICRO) for place, one in enumerate(lines, start=1))
    plot = Plot(
        "ages",
        title,
        "whole years of age",
        "LPA in casks of that age",
        (Line("By book", held), Line("Filled with", filled, dashed=True)),
        places=0,
        band=band,
        band_label="expected now",
        names=tuple(str(one.years) for one in lines),
    )
    note = "a book says what the last gauge found, and of a cask never gauged since what went in"
    return BoardPicture("ages", title, plot_chart(plot), "No cask is full.", note)


def _codes(board: Board) -> list[str]:
    return [month.period for month in board.months]
