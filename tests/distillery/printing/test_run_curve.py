"""The printed curve: cuts named, gaps kept open, a scale in round steps, and time that goes on when clocks go back."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import combinations, pairwise, permutations
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from printed_samples import at, lines_of, printed, run_sheet
from reportlab.graphics.shapes import Circle, Drawing, Line, PolyLine, String

from distillery.printing.drawn.curve import Cut, Reading, RunCurve, _drawing
from distillery.printing.drawn.cut_labels import placed_labels

WIDTH, HEIGHT = 500.0, 180.0


def shapes(curve: RunCurve, kind: type) -> list[Any]:
    drawing: Drawing = _drawing(curve, WIDTH, HEIGHT)
    return [shape for shape in drawing.contents if isinstance(shape, kind)]


def run_curve() -> RunCurve:
    curve = run_sheet().curve
    assert curve is not None
    return curve


def test_cuts_are_lines_through_the_plot_with_time_and_strength() -> None:
    texts = [shape.text for shape in shapes(run_curve(), String)]
    assert "Foreshots to spirit 23:20 at 74.1 (plan 74.0)" in texts
    assert "Spirit to feints 03:40 at 68.1 (plan 67.5)" in texts
    tall = [line for line in shapes(run_curve(), Line) if abs(line.y2 - line.y1) > HEIGHT / 2]
    assert len(tall) == 3


def test_a_missing_reading_is_a_gap() -> None:
    assert len(shapes(run_curve(), PolyLine)) == 2
    assert len(shapes(run_curve(), Circle)) == 23


def test_labels_of_near_cuts_do_not_meet() -> None:
    cuts = tuple(Cut(f"Cut number {n}", at(23, 20 + n), 70.0 - n) for n in range(4))
    texts = shapes(replace(run_curve(), cuts=cuts), String)
    labels = [shape for shape in texts if shape.text.startswith("Cut number")]
    assert len({shape.y for shape in labels}) == 4


@given(
    st.lists(st.floats(-5, 97), min_size=1, max_size=40),
    st.integers(1, 20_000),
    st.booleans(),
)
def test_every_point_lies_in_the_drawing(values: list[float], minutes: int, from_zero: bool) -> None:
    readings = tuple(Reading(at(0) + timedelta(minutes=minutes * number), value) for number, value in enumerate(values))
    curve = RunCurve(readings, from_zero=from_zero)
    points = shapes(curve, Circle)
    assert len(points) == len(values)
    for point in points:
        assert 0 <= point.cx <= WIDTH
        assert 0 <= point.cy <= HEIGHT
    texts = [shape for shape in shapes(curve, String) if shape.textAnchor == "middle"]
    assert len(texts) <= 14


@given(st.lists(st.tuples(st.floats(30, 480), st.floats(60, 200)), max_size=7))
def test_no_name_of_a_cut_is_written_over_another(cuts: list[tuple[float, float]]) -> None:
    labels = placed_labels(cuts, 0.0, WIDTH)
    assert [label.line_x for label in labels] == [x for x, _ in cuts]
    for first, second in combinations(labels, 2):
        assert not first.meets(second)
    assert all(label.start >= 0 and label.start + label.length <= WIDTH + 0.01 for label in labels)


@pytest.mark.parametrize("places", [(60.0, 70.0, 80.0), (440.0, 450.0, 460.0), (60.0, 300.0, 470.0)])
def test_no_line_of_a_cut_crosses_a_name(places: tuple[float, ...]) -> None:
    labels = placed_labels([(x, 150.0) for x in places], 0.0, WIDTH)
    assert not any(first.is_crossed_by(second) for first, second in permutations(labels, 2))


def test_the_scale_goes_in_round_steps_from_nought() -> None:
    scale = [shape.text for shape in shapes(run_curve(), String) if shape.textAnchor == "end"]
    assert scale == ["0", "20", "40", "60"]
    gravity = RunCurve(
        tuple(Reading(at(n), 1.0603 - n * 0.006) for n in range(9)), quantity="Gravity", unit="", from_zero=False
    )
    scale = [shape.text for shape in shapes(gravity, String) if shape.textAnchor == "end"]
    assert scale[0] == "1.01"
    assert scale[-1] == "1.06"


def test_the_hour_that_comes_twice_is_as_wide_as_any(settings: Any) -> None:
    # British clocks go back on the last Sunday of October (Summer Time Act 1972 as amended).
    settings.TIME_ZONE = "Europe/London"
    start = datetime(2026, 10, 24, 23, 0, tzinfo=UTC)
    local = ZoneInfo("Europe/London")
    readings = tuple(Reading((start + timedelta(hours=n)).astimezone(local), 70.0 - n) for n in range(6))
    across = [point.cx for point in shapes(RunCurve(readings), Circle)]
    steps = [second - first for first, second in pairwise(across)]
    assert steps == pytest.approx([steps[0]] * 5)


def test_a_fermentation_of_days_has_dates_below() -> None:
    readings = tuple(Reading(at(6, day=1) + timedelta(hours=6 * n), 1.06 - n * 0.001) for n in range(16))
    texts = [shape.text for shape in shapes(RunCurve(readings), String)]
    assert "Mon 2 Nov" in texts


def test_no_reading_draws_nothing() -> None:
    assert RunCurve((Reading(at(1), None),)).flows(WIDTH) == []
    assert "Strength, % vol at 20 °C" in lines_of(printed(run_curve()))
