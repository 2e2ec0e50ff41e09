"""A flow from left to right: places in columns, joined by bands as wide as the share that passes along them.

Plain values; what a place is called, where it leads and how large it is comes from whoever asks. Told apart without
colour: a place is a box with its words beside it, what was asked about has a heavy edge, what cannot be known a dashed
one. Every place that leads somewhere is a link, reached by the keyboard in the order of the columns. Paper draws the
same markup (`distillery.printing.drawn.picture`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from django.utils.safestring import SafeString

from distillery.charts.drawing import LINE_HEIGHT, Drawing, width_of

Kind = Literal["", "asked", "not known", "more"]

MARGIN: Final = 8.0
HEAD: Final = 30.0
BOX: Final = 12.0
# Between two boxes of a column: two lines of words beside each.
APART: Final = 8.0
LEAST_HEIGHT: Final = 2 * LINE_HEIGHT + 4
# How much of the height stands for the whole of what was asked about.
WHOLE: Final = 150.0
LEAST_BAND: Final = 1.0
BEND: Final = 8


@dataclass(frozen=True, slots=True)
class FlowPlace:
    """One box: its key, what it is called, how much it is in words, its share of the whole (0 to 1), where it leads."""

    key: str
    label: str
    amount: str
    share: float
    href: str = ""
    kind: Kind = ""


@dataclass(frozen=True, slots=True)
class FlowColumn:
    """Places of one kind, under its name."""

    title: str
    places: tuple[FlowPlace, ...]


@dataclass(frozen=True, slots=True)
class FlowBand:
    """What passes from one place to another further right, as a share of the whole."""

    giver: str
    taker: str
    share: float


@dataclass(frozen=True, slots=True)
class _Box:
    left: float
    top: float
    height: float


def flow_chart(
    columns: Sequence[FlowColumn], bands: Sequence[FlowBand], *, name: str, title: str, description: str
) -> SafeString:
    """The drawing; nothing where there is no place. Bands between places that are not there, or not to the right of
    their giver, are left out.
    """
    columns = [one for one in columns if one.places]
    if not columns:
        return SafeString("")
    boxes, width, height = _laid_out(columns)
    drawing = Drawing(
        name=name, title=title, description=description, width=width, height=height, kind="chart flow", leads=True
    )
    _draw_bands(drawing, columns, bands, boxes)
    for column in columns:
        left = boxes[column.places[0].key].left
        drawing.text((left, 18.0), column.title, "flow-head")
        for place in column.places:
            _draw_place(drawing, place, boxes[place.key])
    return drawing.svg()


def _laid_out(columns: Sequence[FlowColumn]) -> tuple[dict[str, _Box], float, float]:
    """Where each box stands, and how large the drawing is. Columns stand in the middle of the tallest."""
    heights = [[max(LEAST_HEIGHT, one.share * WHOLE) for one in column.places] for column in columns]
    tall = [sum(own) + APART * (len(own) - 1) for own in heights]
    tallest = max(tall)
    boxes: dict[str, _Box] = {}
    left = MARGIN
    for column, own, high in zip(columns, heights, tall, strict=True):
        top = HEAD + (tallest - high) / 2
        for place, height in zip(column.places, own, strict=True):
            boxes[place.key] = _Box(left, top, height)
            top += height + APART
        words = [column.title, *(text for one in column.places for text in (one.label, one.amount))]
        left += BOX + 6 + max(width_of(text) for text in words) + 44
    return boxes, left - 44 + MARGIN, HEAD + tallest + MARGIN


def _draw_bands(
    drawing: Drawing, columns: Sequence[FlowColumn], bands: Sequence[FlowBand], boxes: Mapping[str, _Box]
) -> None:
    """Each band leaves and arrives below the one before it, as the places stand, so that bands cross little."""
    at = {place.key: number for number, column in enumerate(columns) for place in column.places}
    drawn = [one for one in bands if one.giver in at and one.taker in at and at[one.giver] < at[one.taker]]
    scale = {key: _scale(boxes[key], key, drawn) for key in at}
    leaving = {key: box.top for key, box in boxes.items()}
    arriving = dict(leaving)
    starts: dict[tuple[str, str], float] = {}
    for one in sorted(drawn, key=lambda band: (boxes[band.giver].top, at[band.taker], boxes[band.taker].top)):
        starts[one.giver, one.taker] = leaving[one.giver]
        leaving[one.giver] += one.share * scale[one.giver][0]
    for one in sorted(drawn, key=lambda band: (boxes[band.taker].top, at[band.giver], boxes[band.giver].top)):
        giver, taker = boxes[one.giver], boxes[one.taker]
        begins, ends = starts[one.giver, one.taker], arriving[one.taker]
        wide = one.share * scale[one.giver][0], one.share * scale[one.taker][1]
        arriving[one.taker] += wide[1]
        _band(drawing, (giver.left + BOX, begins), (taker.left, ends), wide)


def _scale(box: _Box, key: str, bands: Sequence[FlowBand]) -> tuple[float, float]:
    """Height for a share of one, of what leaves a box and of what arrives at it: neither grows beyond the box."""
    leaves = sum(one.share for one in bands if one.giver == key)
    arrives = sum(one.share for one in bands if one.taker == key)
    return (
        min(WHOLE, box.height / leaves) if leaves else WHOLE,
        min(WHOLE, box.height / arrives) if arrives else WHOLE,
    )


def _band(drawing: Drawing, start: tuple[float, float], end: tuple[float, float], wide: tuple[float, float]) -> None:
    """A band that leaves and arrives level, bent between."""
    (x1, y1), (x2, y2) = start, end
    first, last = max(wide[0], LEAST_BAND), max(wide[1], LEAST_BAND)
    upper, lower = [], []
    for step in range(BEND + 1):
        part = step / BEND
        eased = part * part * (3 - 2 * part)
        x, y = x1 + (x2 - x1) * part, y1 + (y2 - y1) * eased
        upper.append((x, y))
        lower.append((x, y + first + (last - first) * part))
    drawing.area([*upper, *reversed(lower)], "flow-band")


def _draw_place(drawing: Drawing, place: FlowPlace, box: _Box) -> None:
    right, foot = box.left + BOX, box.top + box.height
    corners = [(box.left, box.top), (right, box.top), (right, foot), (box.left, foot)]
    within = drawing.link(place.href, f"{place.label}, {place.amount}") if place.href else drawing
    within.area(corners, "flow-place" + (f" {place.kind.replace(' ', '-')}" if place.kind else ""))
    within.path([*corners, corners[0]], "flow-edge" + (f" {place.kind.replace(' ', '-')}" if place.kind else ""))
    middle = box.top + box.height / 2
    within.text((right + 6, middle - 3), place.label, "halo flow-name")
    within.text((right + 6, middle - 3 + LINE_HEIGHT), place.amount, "halo flow-amount")
