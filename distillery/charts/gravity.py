"""Gravity over time, with the temperature below it on an axis of its own."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Final

from django.utils.safestring import SafeString

from distillery import figures
from distillery.charts.drawing import Drawing, ending
from distillery.charts.panel import FOOT, LEFT, RIGHT, WIDTH, Panel, beyond, unbroken
from distillery.charts.readings import BandPoint, Reading
from distillery.charts.run import draw_readings
from distillery.charts.scales import Scale, domain

# Gravities are read and spoken as 1060, without the comma of other thousands.
GRAVITY_STYLE: Final = figures.Style(thousands="")
GRAVITY_TOP: Final = 32.0
GRAVITY_HEIGHT: Final = 190.0
BETWEEN: Final = 44.0
TEMPERATURE_HEIGHT: Final = 90.0


def gravity_chart(
    gravities: Sequence[Reading],
    temperatures: Sequence[Reading],
    *,
    name: str,
    title: str,
    gravity_quantity: str = "Gravity, degrees at 20 °C",
    gravity_places: int = 1,
    band: Sequence[BandPoint] = (),
    band_text: str = "usual",
    marks: Sequence[tuple[datetime, str]] = (),
) -> SafeString:
    """Gravity as dots over the usual band; temperature in degrees Celsius as crosses underneath. `marks` are moments
    with the word that stands at each.

    A panel without a reading is left out; nothing when neither has one. Raises ValueError for a value that is
    not finite.
    """
    shows_gravity, shows_temperature = bool(unbroken(gravities)), bool(unbroken(temperatures))
    if not (shows_gravity or shows_temperature):
        return SafeString("")
    whens = [reading.at for reading in (*gravities, *temperatures)] + [when for when, _ in marks]
    first, last = min(whens), beyond(min(whens), max(whens))
    across = Scale(first.timestamp(), last.timestamp(), LEFT, RIGHT)

    gravity_foot = GRAVITY_TOP + GRAVITY_HEIGHT if shows_gravity else 0.0
    temperature_top = gravity_foot + BETWEEN
    foot = temperature_top + TEMPERATURE_HEIGHT if shows_temperature else gravity_foot
    drawing = Drawing(
        name=name,
        title=title,
        description=_described(gravities, temperatures, marks, gravity_places),
        width=WIDTH,
        height=foot + FOOT,
    )
    if shows_gravity:
        values = _values(gravities) + [edge for point in band for edge in (point.low, point.high)]
        low, high = domain(values, least=2.0)
        panel = Panel(drawing, across, Scale(low, high, gravity_foot, GRAVITY_TOP))
        panel.band(band, band_text)
        panel.value_axis(gravity_quantity, style=GRAVITY_STYLE)
        panel.time_axis(first, last, labelled=not shows_temperature)
        draw_readings(panel, gravities, "line")
        _mark(panel, marks)
    if shows_temperature:
        low, high = domain(_values(temperatures), least=2.0)
        panel = Panel(drawing, across, Scale(low, high, foot, temperature_top))
        panel.value_axis("Temperature, °C", at_most=4)
        panel.time_axis(first, last)
        draw_readings(panel, temperatures, "line second", crosses=True)
        if not shows_gravity:
            _mark(panel, marks)
    return drawing.svg()


def _values(readings: Sequence[Reading]) -> list[float]:
    return [reading.value for reading in readings if reading.value is not None]


def _mark(panel: Panel, marks: Sequence[tuple[datetime, str]]) -> None:
    for when, words in marks:
        x = panel.across.at(when.timestamp())
        panel.drawing.line((x, panel.up.start), (x, panel.up.end), "cut")
        to_the_left = x > (panel.across.start + panel.across.end) / 2
        said = f"{words} {figures.clock(when)}"
        at = (x - 6 if to_the_left else x + 6, panel.up.end + 12)
        panel.drawing.text(at, said, anchor=ending(to_the_left))


def _described(
    gravities: Sequence[Reading],
    temperatures: Sequence[Reading],
    marks: Sequence[tuple[datetime, str]],
    gravity_places: int,
) -> str:
    said = []
    for what, unit, readings, places in (
        ("Gravity", "degrees", gravities, gravity_places),
        ("Temperature", "°C", temperatures, 1),
    ):
        standing = [one for piece in unbroken(readings) for one in piece]
        if standing:
            first, last = (figures.number(value, places, GRAVITY_STYLE) for value in (standing[0][1], standing[-1][1]))
            peak = figures.number(max(value for _, value in standing), places, GRAVITY_STYLE)
            said.append(f"{what}: {len(standing)} read, first {first}, highest {peak}, last {last} {unit}.")
    said += [f"{words.capitalize()} {figures.moment(when)}." for when, words in marks]
    return " ".join(said)
