"""Vessels as the plant page draws them: well formed, level by share, no word in the drawing."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from distillery.charts.vessel import FLOOR, OUTLINES, SHAPED, TOP, vessel_drawing
from distillery.plant.models import Kind

SVG = "{http://www.w3.org/2000/svg}"


def test_every_kind_of_vessel_has_an_outline() -> None:
    assert set(Kind.values) <= set(OUTLINES)


@given(kind=st.sampled_from(sorted(OUTLINES)), share=st.none() | st.floats(min_value=-1, max_value=3))
def test_a_drawing_is_hidden_from_readers_and_stays_in_its_walls(kind: str, share: float | None) -> None:
    root = ET.fromstring(vessel_drawing(kind, share))
    assert root.get("aria-hidden") == "true"
    assert not list(root.iter(f"{SVG}text"))
    level = [one for one in root if one.get("class") == "level"]
    assert len(level) == (share is not None and share > 0)
    for one in level:
        if kind not in SHAPED:
            top = float(one.attrib["y"])
            assert TOP <= top < FLOOR
            assert top + float(one.attrib["height"]) == pytest.approx(FLOOR, abs=0.11)


@pytest.mark.parametrize(("share", "height"), [(0.5, 37.0), (1.0, 74.0), (0.001, 1.5)])
def test_the_level_stands_as_high_as_its_share(share: float, height: float) -> None:
    """By hand: the inside is 88 - 14 = 74 high, and what is there at all is drawn 1.5 high."""
    root = ET.fromstring(vessel_drawing("receiver", share))
    assert float(root[0].attrib["height"]) == pytest.approx(height, abs=0.05)
