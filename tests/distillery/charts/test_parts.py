"""What was brought together: boxes of litres by strength, their names, their table."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest

from distillery.charts.drawing import width_of
from distillery.charts.parts import Parts, Share
from distillery.charts.pictures import pictured

SVG = "{http://www.w3.org/2000/svg}"
TWO = (Share("V<1>", 300.0, 60.0, 180.0, "8.00 years"), Share("V2", 100.0, 20.0, 20.0))


def test_areas_are_as_the_alcohol() -> None:
    root = ET.fromstring(Parts("parts", "Parts", TWO, "Mixed", 50.0, "Youngest").chart())
    boxes = [one for one in root.iter(f"{SVG}polyline") if one.get("class") == "line"]
    areas = []
    for box in boxes:
        points = [tuple(map(float, pair.split(","))) for pair in box.attrib["points"].split()]
        areas.append((points[2][0] - points[1][0]) * (points[0][1] - points[1][1]))
    # 180 beside 20 litres of pure alcohol.
    assert areas[0] / areas[1] == pytest.approx(9.0, rel=0.01)
    assert [one.get("class") for one in root.iter(f"{SVG}polyline")].count("line dashed") == 1
    assert len(list(root.iter(f"{SVG}polygon"))) == 1


def test_the_table_has_every_figure() -> None:
    table = pictured(Parts("parts", "Parts", TWO, said="Youngest")).table
    assert [one.label for one in table.columns] == [
        "Part",
        "Volume",
        "Strength",
        "Alcohol",
        "Share of the alcohol",
        "Youngest",
    ]
    assert [[cell.text for cell in row.cells] for row in table.rows] == [
        ["V<1>", "300.0", "60.0", "180.00", "90.0", "8.00 years"],
        ["V2", "100.0", "20.0", "20.00", "10.0", ""],
    ]


@pytest.mark.parametrize("large", range(5))
def test_names_stand_apart_however_small_the_parts(large: int) -> None:
    parts = tuple(Share(f"VESSEL-{at}", 5_000.0 if at == large else 1.0, 60.0, 60.0) for at in range(5))
    drawing = Parts("parts", "Parts", parts)
    root = ET.fromstring(drawing.chart())
    names = [one for one in root.iter(f"{SVG}text") if (one.text or "").startswith("VESSEL")]
    places = [(float(one.attrib["x"]), width_of(one.text or "")) for one in names]
    edges = [0.0]
    for x, wide in places:
        assert x - wide / 2 >= edges[-1]
        edges.append(x + wide / 2)
    assert edges[-1] <= 760


def test_one_part_alone_is_no_picture() -> None:
    assert Parts("parts", "Parts", TWO[:1]).is_empty
    assert Parts("parts", "Parts", TWO[:1]).chart() == ""
