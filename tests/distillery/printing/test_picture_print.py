"""A drawing of the charts on paper: its words are there, and nothing of it is coloured."""

from __future__ import annotations

import re
from io import BytesIO
from xml.etree import ElementTree as ET

import pytest
from pypdf import PdfReader
from reportlab.pdfgen.canvas import Canvas

from distillery.charts import HourReading, HourSeries, HourSpread, hours_chart
from distillery.charts.flow import FlowColumn, FlowPlace, flow_chart
from distillery.printing.drawn.picture import Picture


def _printed() -> tuple[str, str]:
    gravities = [HourReading(6.0 * n, 60.0 - 8 * n) for n in range(7)]
    spread = [HourSpread(6.0 * n, 56.0 - 8 * n, 59.5 - 8 * n, 64.0 - 8 * n) for n in range(7)]
    series = [HourSeries("Gravity, degrees at 20 °C", [*gravities, HourReading(3.0, 90.0, struck=True)], spread)]
    drawing = hours_chart(series, name="a", title="Fermentation", like="last 20", marks=[(0.0, "pitched")])
    assert drawing is not None
    paper = BytesIO()
    canvas = Canvas(paper, pageCompression=0)
    (flow,) = Picture(drawing.svg()).flows(480.0)
    for strip in flow.strips:  # type: ignore[attr-defined]
        strip.draw(canvas, 50.0, 700.0)
    canvas.save()
    page = PdfReader(BytesIO(paper.getvalue())).pages[0]
    return page.extract_text(), page.get_contents().get_data().decode("latin-1")  # type: ignore[union-attr]


def test_every_word_of_the_drawing_is_on_paper() -> None:
    words, _ = _printed()
    for said in ("Gravity, degrees at 20 °C", "last 20", "pitched", "Hours"):
        assert said in words


def test_black_and_grey_alone() -> None:
    _, drawn = _printed()
    colours = re.findall(r"([\d.]+) ([\d.]+) ([\d.]+) (?:rg|RG)\b", drawn)
    assert colours
    assert all(red == green == blue for red, green, blue in colours)


def test_what_goes_on_from_one_drawing_in_another_is_drawn_at_its_scale() -> None:
    wide, narrow = (
        str(
            flow_chart(
                [
                    FlowColumn(f"Column {at}", (FlowPlace(f"k{at}", "A place", "1.00 LPA", 1.0),))
                    for at in range(columns)
                ],
                (),
                name="flow",
                title="t",
                description="d",
            )
        )
        for columns in (7, 2)
    )

    def scale(picture: Picture) -> float:
        (flow,) = picture.flows(480.0)
        drawn: float = flow.strips[0].width  # type: ignore[attr-defined]
        return drawn / float(ET.fromstring(picture.svg).attrib["width"])

    assert scale(Picture(narrow)) > scale(Picture(wide))
    assert scale(Picture(narrow, beside=(wide, narrow))) == pytest.approx(scale(Picture(wide)))
