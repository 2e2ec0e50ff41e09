"""A run of a still over time: the strength as it was read, the cuts that were made and those planned."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Final

from django.utils.safestring import SafeString

from distillery import figures
from distillery.charts.drawing import LINE_HEIGHT, Drawing, ending, width_of
from distillery.charts.panel import FOOT, LEFT, RIGHT, WIDTH, Panel, along, beyond, unbroken
from distillery.charts.readings import BandPoint, Cut, Level, Reading
from distillery.charts.scales import Scale, domain

PLOT_HEIGHT: Final = 240.0
TITLE_AT: Final = 18.0
FIRST_ROW: Final = 40.0


def line_chart(
    readings: Sequence[Reading],
    *,
    name: str,
    title: str,
    quantity: str = "Strength, % by volume",
    places: int = 1,
    cuts: Sequence[Cut] = (),
    plan: Level | None = None,
    band: Sequence[BandPoint] = (),
    band_text: str = "usual",
) -> SafeString:
    """Readings over time; made cuts as full lines with time and strength, planned ones as short ticks.

    Nothing when no reading has a value. Raises ValueError for a value that is not finite.
    """
    pieces = unbroken(readings)
    if not pieces:
        return SafeString("")
    first, last = _from_to(readings, cuts)
    made = sorted((cut for cut in cuts if not cut.planned), key=lambda cut: cut.at)
    across = Scale(first.timestamp(), last.timestamp(), LEFT, RIGHT)
    rows = _rows([(across.at(cut.at.timestamp()), _cut_words(cut)) for cut in made])
    top = FIRST_ROW + LINE_HEIGHT * (max(rows, default=-1) + 1) - 10
    values = [value for piece in pieces for _, value in piece]
    values += [edge for point in band for edge in (point.low, point.high)]
    values += [reading.value for reading in readings if reading.value is not None]
    values += [plan.value] if plan else []
    low, high = domain(values, least=10.0 ** (1 - places))

    drawing = Drawing(
        name=name,
        title=title,
        description=_described(pieces, made, quantity, places),
        width=WIDTH,
        height=top + PLOT_HEIGHT + FOOT,
    )
    panel = Panel(drawing, across, Scale(low, high, top + PLOT_HEIGHT, top))
    panel.band(band, band_text, named_at=TITLE_AT)
    panel.value_axis(quantity, title_at=TITLE_AT)
    panel.time_axis(first, last)
    if plan:
        _draw_level(panel, plan, places)
    for cut, row in zip(made, rows, strict=True):
        _draw_cut(panel, cut, FIRST_ROW + LINE_HEIGHT * row)
    for cut in cuts:
        if cut.planned:
            _draw_planned(panel, cut)
    draw_readings(panel, readings, "line")
    _name_the_last(panel, pieces[-1], places)
    return drawing.svg()


def draw_readings(panel: Panel, readings: Sequence[Reading], kind: str, *, crosses: bool = False) -> None:
    """The line through the readings that stand, parted at gaps, with a mark at each; struck ones stay open."""
    for piece in unbroken(readings):
        points = [panel.point(when.timestamp(), value) for when, value in piece]
        panel.drawing.path(points, kind)
        for point in points:
            if crosses:
                panel.drawing.cross(point, "cross")
            else:
                panel.drawing.dot(point, "dot", 3.5)
    for reading in readings:
        if reading.struck and reading.value is not None:
            panel.drawing.dot(panel.point(reading.at.timestamp(), reading.value), "struck")


def _name_the_last(panel: Panel, piece: Sequence[tuple[datetime, float]], places: int) -> None:
    when, value = piece[-1]
    x, y = panel.point(when.timestamp(), value)
    falling = len(piece) > 1 and piece[-2][1] > value
    at_the_edge = x > RIGHT - 60
    # Under a falling line and over a rising one the place beside the last mark is free.
    place = (x - 8 if at_the_edge else x + 8, y + 18 if falling and at_the_edge else y - 8)
    panel.drawing.text(place, figures.number(value, places), "halo", ending(at_the_edge))


def _from_to(readings: Sequence[Reading], cuts: Sequence[Cut]) -> tuple[datetime, datetime]:
    whens = [reading.at for reading in readings] + [cut.at for cut in cuts]
    return min(whens), beyond(min(whens), max(whens))


def _cut_words(cut: Cut) -> str:
    at = f"{cut.label} {figures.clock(cut.at)}"
    return at if cut.strength is None else f"{at} at {figures.percent(cut.strength)} %"


def _rows(labels: Sequence[tuple[float, str]]) -> list[int]:
    """For each label, the first row from the top in which it does not run into the one before it."""
    taken_to: dict[int, float] = {}
    chosen = []
    for x, words in labels:
        start, end = _extent(x, words)
        row = next(row for row in range(len(labels)) if taken_to.get(row, -LINE_HEIGHT) + LINE_HEIGHT <= start)
        taken_to[row] = end
        chosen.append(row)
    return chosen


def _extent(x: float, words: str) -> tuple[float, float]:
    width = width_of(words)
    start = x if x + width <= WIDTH else max(0.0, x - width)
    return start, start + width


def _draw_cut(panel: Panel, cut: Cut, top: float) -> None:
    x = panel.across.at(along(cut.at))
    words = _cut_words(cut)
    panel.drawing.line((x, top - 12), (x, panel.up.start), "cut")
    to_the_left = _extent(x, words)[0] < x
    panel.drawing.text((x - 5 if to_the_left else x + 5, top), words, anchor=ending(to_the_left))


def _draw_planned(panel: Panel, cut: Cut) -> None:
    x = panel.across.at(along(cut.at))
    panel.drawing.line((x, panel.up.start), (x, panel.up.start - 16), "planned")
    words = f"plan {_cut_words(cut)}"
    to_the_left = x + 8 + width_of(words) > WIDTH
    panel.drawing.text((x - 8 if to_the_left else x + 8, panel.up.start - 6), words, anchor=ending(to_the_left))


def _draw_level(panel: Panel, level: Level, places: int) -> None:
    y = panel.up.at(level.value)
    panel.drawing.line((panel.across.start, y), (panel.across.end, y), "plan")
    words = f"{level.label} {figures.number(level.value, places)}"
    # Clear of the first minutes, where the strength climbs and the first cuts stand.
    panel.drawing.text((panel.across.start + (RIGHT - LEFT) / 5, y - 5), words)


def _described(
    pieces: Sequence[Sequence[tuple[datetime, float]]], cuts: Sequence[Cut], quantity: str, places: int
) -> str:
    read = [one for piece in pieces for one in piece]
    values = [value for _, value in read]
    figure = [figures.number(value, places) for value in (min(values), max(values), values[-1])]
    plural = "" if len(read) == 1 else "s"
    said = (
        f"{quantity}: {len(read)} reading{plural} from {figures.moment(read[0][0])} to {figures.moment(read[-1][0])}; "
        f"lowest {figure[0]}, highest {figure[1]}, last {figure[2]}."
    )
    return " ".join([said, *(f"Cut: {_cut_words(cut)}." for cut in cuts)])
