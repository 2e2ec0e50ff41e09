"""The pen: shapes and words in an SVG drawing whose text is always escaped and whose looks come from classes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Final, Literal
from xml.etree import ElementTree as ET

from django.utils.safestring import SafeString, mark_safe

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]

LETTER_WIDTH: Final = 6.8
LINE_HEIGHT: Final = 16.0


def width_of(text: str) -> float:
    """Roughly how wide a text stands, in units of the drawing; the true width is the browser's to know."""
    return len(text) * LETTER_WIDTH


def ending(here: bool) -> Anchor:
    """Where words are held: by their end when they must stay to the left of a place, else by their start."""
    return "end" if here else "start"


class Drawing:
    """One SVG drawing. `name` distinguishes it from the others of its page: letters, figures and hyphens.

    One that `leads` somewhere has links in it, which a picture read out as one would hide, and keeps its own size.
    """

    def __init__(
        self,
        *,
        name: str,
        title: str,
        description: str,
        width: float,
        height: float,
        kind: str = "chart",
        leads: bool = False,
    ) -> None:
        self.width = width
        self.height = height
        self._root = ET.Element(
            "svg",
            {
                "xmlns": "http://www.w3.org/2000/svg",
                "class": kind,
                "viewBox": f"0 0 {_written(width)} {_written(height)}",
                "role": "group" if leads else "img",
                "aria-labelledby": f"{name}-title {name}-description",
                **({"width": _written(width), "height": _written(height)} if leads else {}),
            },
        )
        self._child("title", {"id": f"{name}-title"}, title)
        self._child("desc", {"id": f"{name}-description"}, description)

    def line(self, start: Point, end: Point, kind: str) -> None:
        """A straight stroke."""
        (x1, y1), (x2, y2) = start, end
        self._child(
            "line",
            {"class": kind, "x1": _written(x1), "y1": _written(y1), "x2": _written(x2), "y2": _written(y2)},
        )

    def path(self, points: Sequence[Point], kind: str) -> None:
        """A line through the points; a single point is left to its mark."""
        if len(points) > 1:
            self._child("polyline", {"class": kind, "points": _listed(points)})

    def area(self, points: Iterable[Point], kind: str) -> None:
        """A filled shape."""
        self._child("polygon", {"class": kind, "points": _listed(points)})

    def dot(self, centre: Point, kind: str, radius: float = 4.0) -> None:
        """A round mark, filled or open by its class."""
        x, y = centre
        self._child("circle", {"class": kind, "cx": _written(x), "cy": _written(y), "r": _written(radius)})

    def cross(self, centre: Point, kind: str, arm: float = 4.0) -> None:
        """A diagonal cross."""
        x, y = centre
        left, right, above, below = (_written(value) for value in (x - arm, x + arm, y - arm, y + arm))
        self._child("path", {"class": kind, "d": f"M{left} {above}L{right} {below}M{left} {below}L{right} {above}"})

    def text(self, at: Point, words: str, kind: str = "halo", anchor: Anchor = "start") -> None:
        """Words with their base line at the point."""
        x, y = at
        attributes = {"class": kind, "x": _written(x), "y": _written(y), "text-anchor": anchor}
        self._child("text", attributes, words)

    def link(self, href: str, words: str) -> Drawing:
        """A part of the drawing that leads to another page, reached by the keyboard; `words` name it when read out."""
        part = object.__new__(Drawing)
        part.width, part.height = self.width, self.height
        part._root = ET.SubElement(self._root, "a", {"href": href, "aria-label": _printable(words)})
        return part

    def svg(self) -> SafeString:
        """The drawing as markup, every text and attribute escaped by the XML writer."""
        # ElementTree has escaped what people typed, so nothing unescaped is left to mark as safe.
        return mark_safe(ET.tostring(self._root, encoding="unicode"))

    def _child(self, tag: str, attributes: dict[str, str], words: str | None = None) -> None:
        ET.SubElement(self._root, tag, attributes).text = _printable(words) if words is not None else None


def _printable(words: str) -> str:
    """The text without control characters, which no XML document may hold (XML 1.0, production 2, Char)."""
    return "".join(letter for letter in words if letter in "\t\n\r" or ord(letter) >= 32)


def _written(value: float) -> str:
    if not math.isfinite(value):
        raise ValueError("A point of the chart has no place: its reading is not a finite number.")
    return f"{value:.1f}".removesuffix(".0")


def _listed(points: Iterable[Point]) -> str:
    return " ".join(f"{_written(x)},{_written(y)}" for x, y in points)
