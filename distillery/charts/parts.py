"""What was brought together in one: each part as wide as its litres and as high as its strength.

Its area is its alcohol. Plain values: litres at 20 °C, % vol, litres of pure alcohol; nothing of it is stored. Told
apart without colour: each part has its name under it, every other one is filled, what came of them is a dashed line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum
from typing import Final

from django.utils.safestring import SafeString

from distillery import figures, pages
from distillery.charts.drawing import LINE_HEIGHT, Drawing, width_of
from distillery.charts.panel import LEFT, RIGHT, WIDTH, Panel
from distillery.charts.scales import Scale, apart

TOP: Final = 40.0
PLOT_HEIGHT: Final = 220.0
# Room under the foot for figures along it and what they are, then two lines of each name.
LED_FROM: Final = 42.0
NAMES_AT: Final = 72.0
FOOT: Final = NAMES_AT + 2 * LINE_HEIGHT
BESIDE: Final = 14.0


@dataclass(frozen=True, slots=True)
class Share:
    """One part: what it is called, its litres above nothing, its strength, its pure alcohol, and what else is said of
    it."""

    label: str
    litres: float
    percent: float
    lpa: float
    said: str = ""


@dataclass(frozen=True, slots=True)
class Parts:
    """One picture. `made_percent` is the strength of what came of the parts, None before it is known; `said` heads what
    else is said of each, blank where nothing is."""

    name: str
    title: str
    parts: tuple[Share, ...]
    made_label: str = ""
    made_percent: float | None = None
    said: str = ""

    @property
    def is_empty(self) -> bool:
        """True where nothing was brought together: one part alone is no picture."""
        return len(self.parts) < 2

    def share(self, part: Share) -> float:
        """Its share of the alcohol, %; 0 of no alcohol at all."""
        whole = fsum(one.lpa for one in self.parts)
        return 100.0 * part.lpa / whole if whole else 0.0

    def table(self) -> pages.Table:
        """The same figures in a table, a row for each part."""
        heads = [pages.Column("Part")]
        heads += [pages.Column(label, numeric=True, unit=unit) for label, unit in _FIGURES]
        heads += [pages.Column(self.said)] if self.said else []
        rows = [
            pages.Row(
                [
                    pages.Cell(text)
                    for text in (
                        one.label,
                        figures.litres(one.litres),
                        figures.percent(one.percent),
                        figures.number(one.lpa, 2),
                        figures.percent(self.share(one)),
                        *((one.said,) if self.said else ()),
                    )
                ]
            )
            for one in self.parts
        ]
        return pages.Table(self.title, heads, rows, empty="Nothing to draw yet.")

    def chart(self) -> SafeString:
        """The drawing; nothing where it is empty. Raises ValueError for a value that is not finite."""
        if self.is_empty:
            return SafeString("")
        whole = fsum(one.litres for one in self.parts)
        drawing = Drawing(
            name=self.name,
            title=self.title,
            description=self._described(),
            width=WIDTH,
            height=TOP + PLOT_HEIGHT + FOOT,
        )
        highest = max([one.percent for one in self.parts] + [self.made_percent or 0.0])
        panel = Panel(
            drawing, Scale(0.0, whole, LEFT, RIGHT), Scale(0.0, highest * 1.06 or 1.0, TOP + PLOT_HEIGHT, TOP)
        )
        panel.value_axis("Strength, % vol", title_at=18.0)
        middles, begins = [], 0.0
        for number, one in enumerate(self.parts):
            ends = begins + one.litres
            corners = [(begins, 0.0), (begins, one.percent), (ends, one.percent), (ends, 0.0)]
            points = [panel.point(*corner) for corner in corners]
            if number % 2 == 0:
                drawing.area(points, "band")
            drawing.path(points, "line")
            middles.append(panel.across.at((begins + ends) / 2))
            begins = ends
        self._draw_made(panel, whole)
        panel.number_axis("litres at 20 °C")
        self._name_parts(panel, middles)
        return drawing.svg()

    def _draw_made(self, panel: Panel, whole: float) -> None:
        if self.made_percent is None:
            return
        panel.drawing.path([panel.point(0.0, self.made_percent), panel.point(whole, self.made_percent)], "line dashed")
        words = f"{self.made_label} {figures.percent(self.made_percent)}"
        left = RIGHT - width_of(words) - 30
        panel.drawing.line((left, 14.0), (left + 24, 14.0), "line dashed")
        panel.drawing.text((RIGHT, 18.0), words, "tick-label", "end")

    def _name_parts(self, panel: Panel, middles: Sequence[float]) -> None:
        """Names under the foot, each led to from its part, pushed apart where they would stand on one another."""
        names = [(one.label, f"{figures.percent(self.share(one))} %") for one in self.parts]
        wide = [max(map(width_of, pair)) for pair in names]
        places = apart(list(middles), max(wide) + BESIDE)
        # What was pushed over the edge goes back, the last first.
        edge = WIDTH
        for number in reversed(range(len(places))):
            places[number] = min(places[number], edge - wide[number] / 2)
            edge = places[number] - max(wide) - BESIDE + wide[number - 1] / 2
        places[0] = max(places[0], wide[0] / 2)
        y = panel.up.start + NAMES_AT
        for middle, place, pair in zip(middles, places, names, strict=True):
            panel.drawing.line((middle, panel.up.start + LED_FROM), (place, y - LINE_HEIGHT), "axis")
            for number, words in enumerate(pair):
                panel.drawing.text((place, y + number * LINE_HEIGHT), words, "tick-label", "middle")

    def _described(self) -> str:
        said = ["Strength, % vol, of each part over its litres; the share is of the alcohol."]
        said += [
            f"{one.label}: {figures.litres(one.litres)} L at {figures.percent(one.percent)}, "
            f"{figures.percent(self.share(one))} %{f', {one.said}' if one.said else ''}."
            for one in self.parts
        ]
        if self.made_percent is not None:
            said.append(f"{self.made_label}: {figures.percent(self.made_percent)}.")
        return " ".join(said)


_FIGURES: Final = (("Volume", "L"), ("Strength", "% vol"), ("Alcohol", "LPA"), ("Share of the alcohol", "%"))
