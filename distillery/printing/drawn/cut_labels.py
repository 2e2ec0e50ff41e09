"""Where the names of the cuts stand above a printed curve, so that no name is written over another or over a line.

A name stands beside the line of its cut, towards the middle of the plot, in a row above it; the line rises to its
name. Rows are numbered upward from the plot. Lengths are points.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

FROM_LINE = 2.0
BETWEEN_NAMES = 8.0


@dataclass(frozen=True, slots=True)
class Label:
    """A name placed: the line of its cut, where the name starts and how long it is, and its row."""

    line_x: float
    start: float
    length: float
    row: int

    def covers(self, x: float) -> bool:
        return self.start - FROM_LINE / 2 <= x <= self.start + self.length + FROM_LINE / 2

    def meets(self, other: Label) -> bool:
        apart = max(self.start, other.start) - min(self.start + self.length, other.start + other.length)
        return self.row == other.row and apart < BETWEEN_NAMES

    def is_crossed_by(self, other: Label) -> bool:
        return self.covers(other.line_x) and other.row > self.row


def placed_labels(cuts: Sequence[tuple[float, float]], left: float, right: float) -> list[Label]:
    """A label for each cut, given as the place of its line and the length of its name, in the order given."""
    middle = (left + right) / 2
    numbers = range(len(cuts))
    # A name reaches over the lines nearer the middle, which must end below it: so those are placed first.
    outward = sorted(numbers, key=lambda number: abs(cuts[number][0] - middle))
    found: dict[int, Label] = {}
    for number in outward:
        x, length = cuts[number]
        start = x + FROM_LINE if x <= middle else x - FROM_LINE - length
        start = max(left, min(start, right - length))
        tried = [Label(x, start, length, row) for row in range(len(cuts) + 1)]
        others = list(found.values())
        apart = [label for label in tried if not any(label.meets(other) for other in others)]
        clear = [label for label in apart if not any(_crossing(label, other) for other in others)]
        found[number] = (clear or apart)[0]
    return [found[number] for number in numbers]


def _crossing(label: Label, other: Label) -> bool:
    return label.is_crossed_by(other) or other.is_crossed_by(label)
