"""Stacked lines: where each layer lies, which are filled, and what is said of them in words."""

from __future__ import annotations

from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest

from distillery.charts.stacked import PLOT_HEIGHT, TOP, Layer, stacked_chart

MONTHS = ("2027-01", "2027-02", "2027-03")


def drawn(*layers: Layer, names: tuple[str, ...] = MONTHS) -> ET.Element:
    return ET.fromstring(stacked_chart(names, layers, name="stock", title="Stock", up="LPA"))


def of(root: ET.Element, tag: str, kind: str) -> list[ET.Element]:
    return [one for one in root.iter() if one.tag.endswith(f"}}{tag}") and one.get("class") == kind]


def heights(line: ET.Element) -> list[float]:
    return [float(pair.split(",")[1]) for pair in line.attrib["points"].split()]


def test_a_layer_stands_on_the_one_below() -> None:
    root = drawn(Layer("Wash", (10.0, 20.0, 10.0)), Layer("Casks", (30.0, 30.0, 40.0)))
    lower, upper = (heights(line) for line in of(root, "polyline", "line"))
    # The scale goes from nothing to 1.04 times the highest sum, 50: 20 of 52 is 100 units of 260.
    foot = TOP + PLOT_HEIGHT
    assert lower == pytest.approx([foot - 50, foot - 100, foot - 50], abs=0.1)
    assert upper == pytest.approx([foot - 200, foot - 250, foot - 250], abs=0.1)


def test_every_other_layer_is_filled_so_that_grey_is_enough() -> None:
    root = drawn(*(Layer(str(number), (1.0, 1.0, 1.0)) for number in range(5)))
    assert len(of(root, "polyline", "line")) == 5
    assert len(of(root, "polygon", "band")) == 3


def test_a_layer_that_is_nothing_is_left_out_and_one_of_nothing_is_no_drawing() -> None:
    root = drawn(Layer("Wash", (0.0, 0.0, 0.0)), Layer("Casks", (1.0, 2.0, 3.0)))
    assert len(of(root, "polyline", "line")) == 1
    assert stacked_chart(MONTHS, [Layer("Wash", (0.0, 0.0, 0.0))], name="a", title="A", up="LPA") == ""
    assert stacked_chart((), [], name="a", title="A", up="LPA") == ""


def test_names_do_not_stand_on_one_another() -> None:
    root = drawn(*(Layer(f"Layer {number}", (0.1, 0.1, 0.1)) for number in range(6)), Layer("Most", (99.0, 99.0, 99.0)))
    labels = [one for one in of(root, "text", "tick-label") if (one.text or "").startswith(("Layer", "Most"))]
    places = sorted(float(one.attrib["y"]) for one in labels)
    assert len(places) == 7
    assert all(after - before >= 15.9 for before, after in pairwise(places))


def test_one_month_alone_is_a_level_line() -> None:
    root = drawn(Layer("Casks", (5.0,)), names=("2027-03",))
    (line,) = of(root, "polyline", "line")
    assert len(set(heights(line))) == 1


def test_what_cannot_be_stacked() -> None:
    for values in ((1.0, -1.0, 2.0), (1.0, 2.0)):
        with pytest.raises(ValueError, match="cannot be stacked"):
            drawn(Layer("Wash", values))
    with pytest.raises(ValueError, match="No ticks"):
        drawn(Layer("Wash", (1.0, float("inf"), 1.0)))


def test_it_is_said_in_words() -> None:
    root = drawn(Layer("Wash", (10.0, 20.0, 10.0)), Layer("Casks", (30.0, 30.0, 40.0)))
    described = next(one.text for one in root.iter() if one.tag.endswith("desc"))
    assert described == (
        "LPA, 2027-01 to 2027-03, one on another. Wash: 10 at first, 10 at last. Casks: 30 at first, 40 at last. "
        "Together 50 at last."
    )
