"""Differences at one account point in the order they were found, against the mean and limits they were set."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from django.utils.safestring import SafeString

from distillery import figures
from distillery.charts.drawing import LINE_HEIGHT, Drawing, ending
from distillery.charts.panel import LEFT, WIDTH, Panel
from distillery.charts.scales import Scale, apart, domain

TOP: Final = 32.0
PLOT_HEIGHT: Final = 200.0
FOOT: Final = 58.0
# What the words of the limits need beside the frame.
WORDS: Final = 140.0
LABELS_ALONG: Final = 6


@dataclass(frozen=True, slots=True)
class Difference:
    """One difference in litres of pure alcohol, named by its run or day; `outside` is a word where it stands out."""

    label: str
    value: float
    outside: str = ""


@dataclass(frozen=True, slots=True)
class Limits:
    """Mean and limits in litres of pure alcohol as they were set, and the words that say when and from what."""

    mean: float
    lower: float
    upper: float
    set_on: str


def control_chart(
    differences: Sequence[Difference],
    *,
    name: str,
    title: str,
    limits: Limits | None = None,
    quantity: str = "Difference, litres of pure alcohol",
    unit: str = "litres of pure alcohol",
    width: float = WIDTH,
) -> SafeString:
    """The differences joined in order, zero always in sight, those outside ringed and worded.

    Limits are drawn as given and never worked out here; `unit` is what the description in words counts in, `width` how
    wide it is drawn (for a column beside figures). Nothing
    when there is no difference. Raises ValueError for a value that is not finite.
    """
    if not differences:
        return SafeString("")
    values = [0.0, *(difference.value for difference in differences)]
    values += [limits.mean, limits.lower, limits.upper] if limits else []
    low, high = domain(values, least=0.2, margin=0.1)
    drawing = Drawing(
        name=name,
        title=title,
        description=_described(differences, limits, unit),
        width=width,
        height=TOP + PLOT_HEIGHT + FOOT,
    )
    across = Scale(0.5, max(len(differences), 2) + 0.5, LEFT, width - WORDS)
    panel = Panel(drawing, across, Scale(low, high, TOP + PLOT_HEIGHT, TOP))
    panel.value_axis(quantity)
    panel.foot()
    if limits:
        _draw_limits(panel, limits)
    points = [panel.point(number, one.value) for number, one in enumerate(differences, start=1)]
    drawing.path(points, "line")
    every = -(-len(differences) // LABELS_ALONG)
    # Counted from the last, which is the one that is looked for.
    named = range(len(differences) - 1, -1, -every)
    for number, (difference, (x, y)) in enumerate(zip(differences, points, strict=True)):
        drawing.dot((x, y), "dot")
        if difference.outside:
            drawing.dot((x, y), "ring", 8)
            words = f"{difference.outside} {figures.number(difference.value, 2, figures.SIGNED)}"
            to_the_left = x > (panel.across.start + panel.across.end) / 2
            place = (x + 8 if to_the_left else x - 8, y + 24 if y + 24 < panel.up.start else y - 14)
            drawing.text(place, words, "halo outside", ending(to_the_left))
        if number in named:
            drawing.line((x, panel.up.start), (x, panel.up.start + 5), "axis")
            drawing.text((x, panel.up.start + 19), difference.label, "tick-label", "middle")
    return drawing.svg()


def _draw_limits(panel: Panel, limits: Limits) -> None:
    lines = [("upper", limits.upper, "limit"), ("mean", limits.mean, "mean"), ("lower", limits.lower, "limit")]
    places = apart([panel.up.at(value) for _, value, _ in lines], LINE_HEIGHT)
    for (word, value, kind), place in zip(lines, places, strict=True):
        y = panel.up.at(value)
        panel.drawing.line((LEFT, y), (panel.across.end, y), kind)
        words = f"{word} {figures.number(value, 2, figures.SIGNED)}"
        panel.drawing.text((panel.across.end + 8, place + 4.5), words, "tick-label")
    panel.drawing.text((LEFT, panel.up.start + 19 + LINE_HEIGHT * 1.5), limits.set_on, "tick-label")


def _described(differences: Sequence[Difference], limits: Limits | None, unit: str) -> str:
    outside = [one for one in differences if one.outside]
    last = differences[-1]
    said = [
        f"{len(differences)} difference{'' if len(differences) == 1 else 's'}, "
        f"last {last.label}: {figures.number(last.value, 2, figures.SIGNED)} {unit}."
    ]
    if limits:
        signed = [figures.number(value, 2, figures.SIGNED) for value in (limits.mean, limits.lower, limits.upper)]
        said.append(f"Mean {signed[0]}, limits {signed[1]} to {signed[2]}. {limits.set_on}.")
    said += [f"{one.label}: {figures.number(one.value, 2, figures.SIGNED)}, {one.outside}." for one in outside]
    return " ".join(said)
