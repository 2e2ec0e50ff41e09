"""A drawing of `distillery.charts` on paper: the same lines, marks and words as on its page, in black and grey.

The markup is our own, so only what `distillery.charts.drawing.Drawing` writes is known here: lines, polylines,
polygons, circles and words, each with a class that says how it is drawn; what leads to another page leads nowhere here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final
from xml.etree import ElementTree as ET

from distillery.printing.layout import Flow, PlainFlow
from distillery.printing.paper import BOLD, REGULAR, SMALL_SIZE, printable

# Loaded where it draws: a page or command that prints nothing does without it.
if TYPE_CHECKING:
    from reportlab.graphics.shapes import Drawing, Shape
    from reportlab.pdfgen.canvas import Canvas

LETTERS: Final = 13.0
FAINT, GREY, BLACK, BAND = 0.75, 0.4, 0.0, 0.86
# By class: shade (0 is black), width in units of the drawing, dashes.
STROKES: Final[dict[str, tuple[float, float, tuple[float, ...] | None]]] = {
    "grid": (FAINT, 0.6, None),
    "zero": (GREY, 0.8, None),
    "axis": (GREY, 1.0, None),
    "line": (BLACK, 2.0, None),
    "line dashed": (BLACK, 2.0, (6, 4)),
    "plan": (GREY, 1.5, (6, 4)),
    "cut": (BLACK, 1.5, None),
    "struck": (GREY, 1.5, None),
    "flow-edge": (BLACK, 1.0, None),
    "flow-edge asked": (BLACK, 3.0, None),
    "flow-edge not-known": (BLACK, 1.0, (3, 3)),
    "flow-edge more": (BLACK, 1.0, (8, 2)),
}
# What a filled shape is filled with; anything else as a band.
FILLS: Final[dict[str, float]] = {"flow-place": 0.55, "flow-place asked": 0.3, "flow-place more": 0.7}
FILLS_NOTHING: Final = ("flow-place not-known",)
PLAIN: Final = (BLACK, 1.0, None)
# Marks that are filled with the paper: struck, or usual rather than measured.
OPEN: Final = ("struck", "dot open")
# What stands around a mark and shows it.
HOLLOW: Final = ("ring",)
TALLEST: Final = 400.0
# Points of paper for a unit of the drawing, so that its letters are at most those of the text.
LARGEST: Final = 0.8
CAPTION_HEIGHT: Final = 2 * SMALL_SIZE


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing as its markup, as wide as the page, under its caption; nothing where there is no drawing.

    `beside` are drawings that it goes on from or that go on from it: all of them are drawn at one scale.
    """

    svg: str
    caption: str = ""
    beside: tuple[str, ...] = ()

    def flows(self, width: float) -> list[Flow]:
        if not self.svg:
            return []
        root = ET.fromstring(self.svg)
        wide, high = _size(root)
        scale = min(_scale(size, width) for size in ((wide, high), *(_size(ET.fromstring(one)) for one in self.beside)))
        width, height = wide * scale, high * scale + (CAPTION_HEIGHT if self.caption else 0.0)
        return [PlainFlow([_PictureStrip(root, width, height, self.caption)], space_above=6.0)]


def _size(root: ET.Element) -> tuple[float, float]:
    _, _, wide, high = (float(part) for part in root.attrib["viewBox"].split())
    return wide, high


def _scale(size: tuple[float, float], width: float) -> float:
    """Points for a unit of a drawing: what is taller than wide stays on one page, and what is small is not blown up."""
    wide, high = size
    return min(width / wide, TALLEST / high, LARGEST)


@dataclass(frozen=True, slots=True)
class _PictureStrip:
    root: ET.Element
    width: float
    height: float
    caption: str
    keep_with_next: bool = False

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        from reportlab.graphics import renderPDF

        if self.caption:
            canvas.setFont(BOLD, SMALL_SIZE)
            canvas.drawString(left, top - SMALL_SIZE, printable(self.caption))
        drawn = self.height - (CAPTION_HEIGHT if self.caption else 0.0)
        renderPDF.draw(_on_paper(self.root, self.width, drawn), canvas, left, top - self.height)


def _on_paper(root: ET.Element, width: float, height: float) -> Drawing:
    from reportlab.graphics.shapes import Drawing

    scale = width / float(root.attrib["viewBox"].split()[2])
    drawing = Drawing(width, height, initialFontName=REGULAR)
    for element in _elements(root):
        shape = SHAPES.get(element.tag.rpartition("}")[2])
        if shape is not None:
            drawing.add(shape(element, scale, height))
    return drawing


def _elements(root: ET.Element) -> Iterator[ET.Element]:
    for element in root:
        if element.tag.rpartition("}")[2] == "a":
            yield from element
        else:
            yield element


def _stroked(element: ET.Element, scale: float) -> dict[str, Any]:
    from reportlab.lib.colors import Color

    shade, width, dashes = STROKES.get(element.attrib.get("class", ""), PLAIN)
    dash = [part * scale for part in dashes] if dashes else None
    return {"strokeColor": Color(shade, shade, shade), "strokeWidth": width * scale, "strokeDashArray": dash}


def _placed(pairs: str, scale: float, height: float) -> list[float]:
    points = [pair.split(",") for pair in pairs.split()]
    return [part for x, y in points for part in (float(x) * scale, height - float(y) * scale)]


def _line(element: ET.Element, scale: float, height: float) -> Shape:
    from reportlab.graphics.shapes import Line

    at = {name: float(element.attrib[name]) * scale for name in ("x1", "y1", "x2", "y2")}
    return Line(at["x1"], height - at["y1"], at["x2"], height - at["y2"], **_stroked(element, scale))


def _polyline(element: ET.Element, scale: float, height: float) -> Shape:
    from reportlab.graphics.shapes import PolyLine

    return PolyLine(_placed(element.attrib["points"], scale, height), **_stroked(element, scale))


def _polygon(element: ET.Element, scale: float, height: float) -> Shape:
    from reportlab.graphics.shapes import Polygon
    from reportlab.lib.colors import Color

    kind = element.attrib.get("class", "")
    shade = FILLS.get(kind, BAND)
    inside = None if kind in FILLS_NOTHING else Color(shade, shade, shade)
    return Polygon(_placed(element.attrib["points"], scale, height), fillColor=inside, strokeColor=None)


def _circle(element: ET.Element, scale: float, height: float) -> Shape:
    from reportlab.graphics.shapes import Circle
    from reportlab.lib.colors import black, white

    x, y, radius = (float(element.attrib[name]) * scale for name in ("cx", "cy", "r"))
    kind = element.attrib.get("class")
    inside = None if kind in HOLLOW else white if kind in OPEN else black
    return Circle(x, height - y, radius, fillColor=inside, **_stroked(element, scale))


def _text(element: ET.Element, scale: float, height: float) -> Shape:
    from reportlab.graphics.shapes import String

    x, y = (float(element.attrib[name]) * scale for name in ("x", "y"))
    anchor = element.attrib.get("text-anchor", "start")
    return String(
        x, height - y, printable(element.text or ""), fontName=REGULAR, fontSize=LETTERS * scale, textAnchor=anchor
    )


SHAPES: Final[dict[str, Callable[[ET.Element, float, float], Shape]]] = {
    "line": _line,
    "polyline": _polyline,
    "polygon": _polygon,
    "circle": _circle,
    "text": _text,
}
