"""A frame with its axes: values up the left side, time or age along the foot, a band of what is usual behind."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from distillery import figures
from distillery.charts.drawing import LINE_HEIGHT, Drawing, Point, width_of
from distillery.charts.readings import BandPoint, Reading
from distillery.charts.scales import Scale, ticks, time_ticks
from distillery.clock.reading import site_day

WIDTH: Final = 760.0
LEFT: Final = 64.0
RIGHT: Final = 744.0
FOOT: Final = 40.0
PATCH_WIDTH: Final = 24.0

ONE_DAY: Final = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Panel:
    """A drawing area: `across` places what runs along the foot, `up` places values (its start is at the foot)."""

    drawing: Drawing
    across: Scale
    up: Scale

    def point(self, along: float, value: float) -> Point:
        """Where a value lies."""
        return self.across.at(along), self.up.at(value)

    def value_axis(
        self, title: str, *, title_at: float | None = None, at_most: int = 6, style: figures.Style = figures.PAGE
    ) -> None:
        """Grid lines at round values with their figures, and the name of the quantity over them."""
        marks = ticks(self.up.low, self.up.high, at_most)
        for value in marks.values:
            y = self.up.at(value)
            kind = "zero" if value == 0 else "grid"
            self.drawing.line((self.across.start, y), (self.across.end, y), kind)
            label = figures.number(value, marks.places, style)
            self.drawing.text((self.across.start - 8, y + 4.5), label, "tick-label", "end")
        self.drawing.text((8, self.up.end - 12 if title_at is None else title_at), title, "axis-title")

    def foot(self) -> None:
        """The line along the foot."""
        self.drawing.line((self.across.start, self.up.start), (self.across.end, self.up.start), "axis")

    def time_axis(self, start: datetime, end: datetime, *, labelled: bool = True) -> None:
        """Round times along the foot; the day stands under the first of them and wherever it changes."""
        self.foot()
        whens, step = time_ticks(start, end)
        shown_day = None
        for when in whens:
            x = self.across.at(when.timestamp())
            self.drawing.line((x, self.up.start), (x, self.up.start + 5), "axis")
            if not labelled:
                continue
            new_day = site_day(when) != shown_day
            shown_day = site_day(when)
            lines = [figures.day(when)] if step >= ONE_DAY else [figures.clock(when)]
            if new_day and step < ONE_DAY:
                lines.append(figures.day(when))
            for number, words in enumerate(lines):
                y = self.up.start + 19 + number * LINE_HEIGHT
                middle = min(max(x, width_of(words) / 2), WIDTH - width_of(words) / 2)
                self.drawing.text((middle, y), words, "tick-label", "middle")

    def number_axis(self, title: str, at_most: int = 10) -> None:
        """Round numbers along the foot, with what they count."""
        self.foot()
        marks = ticks(self.across.low, self.across.high, at_most)
        for value in marks.values:
            x = self.across.at(value)
            self.drawing.line((x, self.up.start), (x, self.up.start + 5), "axis")
            label = figures.number(value, marks.places)
            self.drawing.text((x, self.up.start + 19), label, "tick-label", "middle")
        self.drawing.text((self.across.end, self.up.start + 19 + LINE_HEIGHT), title, "axis-title", "end")

    def band(self, points: Sequence[BandPoint], words: str, *, named_at: float | None = None) -> None:
        """The grey band of what is usual; a patch of it and its name stand at the right over the frame."""
        inside = [point for point in points if self.across.low <= along(point.at) <= self.across.high]
        if len(inside) < 2:
            return
        top = [self.point(along(point.at), point.high) for point in inside]
        bottom = [self.point(along(point.at), point.low) for point in reversed(inside)]
        self.drawing.area([*top, *bottom], "band")
        y = self.up.end - 12 if named_at is None else named_at
        left = RIGHT - PATCH_WIDTH
        self.drawing.area([(left, y - 10), (RIGHT, y - 10), (RIGHT, y), (left, y)], "band")
        self.drawing.text((left - 6, y), words, "tick-label", "end")


def along(at: datetime | float) -> float:
    """A time as seconds, an age as it is."""
    return at.timestamp() if isinstance(at, datetime) else at


def unbroken(readings: Iterable[Reading]) -> list[list[tuple[datetime, float]]]:
    """The readings that stand, in order of time, parted where one was not taken."""
    pieces: list[list[tuple[datetime, float]]] = [[]]
    for reading in sorted(readings, key=lambda one: one.at):
        if reading.struck:
            continue
        if reading.value is None:
            pieces.append([])
        else:
            pieces[-1].append((reading.at, reading.value))
    return [piece for piece in pieces if piece]


def beyond(start: datetime, end: datetime) -> datetime:
    """An end that lies after the start, also when there is one reading only."""
    return end if end > start else start + timedelta(minutes=15)
