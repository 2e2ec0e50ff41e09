"""A flow of places and bands: where they stand, how wide they are, what is read out and where it leads."""

from __future__ import annotations

from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from distillery.charts.flow import BOX, FlowBand, FlowColumn, FlowPlace, flow_chart
from distillery.printing.drawn.picture import Picture

SVG = "{http://www.w3.org/2000/svg}"
Corners = list[tuple[float, float]]


def place(key: str, share: float, **more: str) -> FlowPlace:
    return FlowPlace(key, key.upper(), "1.00 LPA", share, **more)  # type: ignore[arg-type]


def drawn(columns: list[FlowColumn], bands: list[FlowBand]) -> ET.Element:
    return ET.fromstring(str(flow_chart(columns, bands, name="flow", title="A <trace>", description="of it")))


def corners(element: ET.Element) -> Corners:
    pairs = [pair.split(",") for pair in element.attrib["points"].split()]
    return [(float(x), float(y)) for x, y in pairs]


def shapes(root: ET.Element, kind: str) -> list[Corners]:
    return [corners(one) for one in root.iter(f"{SVG}polygon") if one.attrib["class"].startswith(kind)]


TWO = [
    FlowColumn("Malt lot", (place("a", 0.25, href="/a/"), place("b", 0.75, href="/b/"))),
    FlowColumn("Mash", (place("c", 1.0, href="/c/", kind="asked"),)),
]
JOINED = [FlowBand("a", "c", 0.25), FlowBand("b", "c", 0.75)]


def test_bands_are_as_wide_as_their_shares() -> None:
    first, second = (band[-1][1] - band[0][1] for band in shapes(drawn(TWO, JOINED), "flow-band"))
    assert second / first == pytest.approx(3.0, rel=0.02)


def test_what_was_asked_about_is_told_apart_without_colour() -> None:
    root = drawn(TWO, JOINED)
    assert len([one for one in root.iter(f"{SVG}polyline") if one.attrib["class"] == "flow-edge asked"]) == 1


def test_every_place_with_an_address_is_a_link_in_the_order_of_the_columns() -> None:
    root = drawn(TWO, JOINED)
    assert [one.attrib["href"] for one in root.iter(f"{SVG}a")] == ["/a/", "/b/", "/c/"]
    assert next(root.iter(f"{SVG}a")).attrib["aria-label"] == "A, 1.00 LPA"
    # A picture would hide the links in it from who has the page read out (WAI-ARIA 1.2, img: children presentational).
    assert root.attrib["role"] == "group"


def test_what_goes_to_the_left_or_nowhere_is_left_out() -> None:
    root = drawn(TWO, [FlowBand("c", "a", 0.5), FlowBand("a", "a", 0.5), FlowBand("a", "z", 0.5)])
    assert shapes(root, "flow-band") == []


def test_nothing_is_drawn_of_nothing() -> None:
    assert str(flow_chart([FlowColumn("Mash", ())], [], name="flow", title="", description="")) == ""


def test_paper_draws_what_the_page_does_and_leads_nowhere() -> None:
    picture = Picture(str(flow_chart(TWO, JOINED, name="flow", title="t", description="d")), "What lies behind it")
    [flow] = picture.flows(500.0)
    assert flow.strips  # type: ignore[attr-defined]


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.lists(st.floats(0.0, 1.0), min_size=1, max_size=14).filter(lambda shares: sum(shares) > 0),
        min_size=2,
        max_size=6,
    )
)
def test_places_never_lie_over_one_another_and_bands_begin_and_end_at_them(shares: list[list[float]]) -> None:
    columns = [
        FlowColumn(f"Step {at}", tuple(place(f"p{at}-{row}", share) for row, share in enumerate(own)))
        for at, own in enumerate(shares)
    ]
    bands = [
        FlowBand(one.key, other.key, one.share * other.share / sum(shares[at + 1]))
        for at, column in enumerate(columns[:-1])
        for one in column.places
        for other in columns[at + 1].places
    ]
    root = drawn(columns, bands)
    boxes = shapes(root, "flow-place")
    _, _, width, height = (float(part) for part in root.attrib["viewBox"].split())
    by_left: dict[float, list[Corners]] = {}
    for box in boxes:
        assert 0 <= box[0][0] < box[1][0] <= width
        assert 0 <= box[0][1] < box[2][1] <= height
        by_left.setdefault(box[0][0], []).append(box)
    for column_boxes in by_left.values():
        for above, below in pairwise(column_boxes):
            assert above[2][1] <= below[0][1]
    lefts = set(by_left)
    for band in shapes(root, "flow-band"):
        assert round(band[0][0] - BOX, 1) in lefts
        assert band[len(band) // 2 - 1][0] in lefts
