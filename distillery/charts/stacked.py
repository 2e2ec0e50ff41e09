"""Amounts over months, one standing on another: the top line is all of them together.

Told apart without colour: every other layer is filled, each has a line along its top, and its name stands at the right
beside what it was at the end. Plain values in the unit that `up` names. Nothing here is stored.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from django.utils.safestring import SafeString

from distillery import figures
from distillery.charts.drawing import LINE_HEIGHT, Drawing
from distillery.charts.panel import LEFT, WIDTH, Panel
from distillery.charts.scales import Scale, apart

TOP: Final = 40.0
PLOT_HEIGHT: Final = 260.0
FOOT: Final = 34.0
RIGHT: Final = 500.0
LABELS_ALONG: Final = 7
NAME_AT: Final = 20.0
# Letters that fit between the drawing and its edge, the figure beside them left out.
LONGEST_NAME: Final = 26


@dataclass(frozen=True, slots=True)
class Layer:
    """One amount at each name along the foot, none below nothing."""

    label: str
    values: tuple[float, ...]


def stacked_chart(names: Sequence[str], layers: Sequence[Layer], *, name: str, title: str, up: str) -> SafeString:
    """The layers, the first one lowest; those that are nothing everywhere are left out. Nothing without any.

    Raises ValueError for a value that is not finite, below nothing, or missing.
    """
    drawn = [layer for layer in layers if any(layer.values)]
    if not drawn or not names:
        return SafeString("")
    for layer in drawn:
        if len(layer.values) != len(names) or any(value < 0 for value in layer.values):
            raise ValueError(f"{layer.label} cannot be stacked: a value is missing or below nothing.")
    tops = _tops(drawn, len(names))
    drawing = Drawing(
        name=name,
        title=title,
        description=_described(names, drawn, up),
        width=WIDTH,
        height=TOP + PLOT_HEIGHT + FOOT,
    )
    highest = max(tops[-1])
    across = Scale(1.0, float(max(len(names), 2)), LEFT, RIGHT)
    panel = Panel(drawing, across, Scale(0.0, highest * 1.04 or 1.0, TOP + PLOT_HEIGHT, TOP))
    panel.value_axis(up, title_at=18.0)
    # The largest at the end is one of those that are filled.
    filled = max(range(len(drawn)), key=lambda number: drawn[number].values[-1]) % 2
    for number, line in enumerate(tops):
        below = tops[number - 1] if number else [0.0] * len(names)
        if number % 2 == filled:
            upper = [panel.point(float(place), value) for place, value in enumerate(_wide(line), start=1)]
            lower = [panel.point(float(place), value) for place, value in enumerate(_wide(below), start=1)]
            drawing.area([*upper, *reversed(lower)], "band")
        drawing.path([panel.point(float(place), value) for place, value in enumerate(_wide(line), start=1)], "line")
    panel.foot()
    _name_months(panel, names)
    _name_layers(panel, drawn, tops)
    return drawing.svg()


def _tops(layers: Sequence[Layer], many: int) -> list[list[float]]:
    """The running sums: how high each layer reaches at each place."""
    found, so_far = [], [0.0] * many
    for layer in layers:
        so_far = [one + value for one, value in zip(so_far, layer.values, strict=True)]
        found.append(so_far)
    return found


def _wide(values: Sequence[float]) -> list[float]:
    """One month alone is drawn as a level stretch."""
    return [*values, *values] if len(values) == 1 else list(values)


def _name_months(panel: Panel, names: Sequence[str]) -> None:
    every = -(-len(names) // LABELS_ALONG)
    # Counted from the last, which is the one that is looked for.
    for place in range(len(names), 0, -every):
        x = panel.across.at(float(place))
        panel.drawing.line((x, panel.up.start), (x, panel.up.start + 5), "axis")
        panel.drawing.text((x, panel.up.start + 20), names[place - 1], "tick-label", "middle")


def _name_layers(panel: Panel, layers: Sequence[Layer], tops: Sequence[Sequence[float]]) -> None:
    """Names at the right, the highest layer first; pushed apart where they would stand on one another."""
    middles = [
        panel.up.at((tops[number][-1] + (tops[number - 1][-1] if number else 0.0)) / 2) for number in range(len(layers))
    ]
    # From the top of the drawing down.
    order = list(reversed(range(len(layers))))
    places = apart([middles[number] for number in order], LINE_HEIGHT)
    beyond = max(0.0, places[-1] - panel.up.start)
    for number, place in zip(order, places, strict=True):
        layer, y = layers[number], place - beyond
        panel.drawing.line((RIGHT, middles[number]), (RIGHT + NAME_AT - 4, y), "axis")
        label = layer.label if len(layer.label) <= LONGEST_NAME else f"{layer.label[: LONGEST_NAME - 3]}..."
        panel.drawing.text((RIGHT + NAME_AT, y + 4.5), f"{label} {figures.number(layer.values[-1], 0)}", "tick-label")


def _described(names: Sequence[str], layers: Sequence[Layer], up: str) -> str:
    said = [f"{up}, {names[0]} to {names[-1]}, one on another."]
    for layer in layers:
        first, last = (figures.number(value, 0) for value in (layer.values[0], layer.values[-1]))
        said.append(f"{layer.label}: {first} at first, {last} at last.")
    total = sum(layer.values[-1] for layer in layers)
    return " ".join([*said, f"Together {figures.number(total, 0)} at last."])
