"""The charts as markup: well formed, named, readable without colour, and faithful to the readings.

The readings are invented. What is checked is our own drawing, read back by an XML parser.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from xml.etree import ElementTree as ET

import pytest
from django.template import Context, Template

from distillery.charts import (
    BandPoint,
    Cut,
    Difference,
    HourReading,
    HourSeries,
    HourSpread,
    Level,
    Limits,
    Reading,
    Regauge,
    Spot,
    cask_chart,
    control_chart,
    hours_chart,
    line_chart,
)
from distillery.charts.drawing import width_of

SVG = "{http://www.w3.org/2000/svg}"
START = datetime(2026, 11, 24, 22, 45, tzinfo=UTC)


def _at(minutes: int) -> datetime:
    return START + timedelta(minutes=minutes)


def _run(**more: object) -> str:
    readings = [Reading(_at(15 * n), 74.0 - n) for n in range(12)]
    return line_chart(readings, name="run", title="Run 0412", **more)  # type: ignore[arg-type]


def _fermentation() -> str:
    gravities = [HourReading(6.0 * n, 60.0 - 8 * n) for n in range(7)]
    temperatures = [HourReading(6.0 * n, 20.0 + n) for n in range(7)]
    spread = [HourSpread(6.0 * n, 56.0 - 8 * n, 59.5 - 8 * n, 64.0 - 8 * n) for n in range(7)]
    return _by_hours(
        HourSeries("Gravity, degrees at 20 °C", gravities, spread),
        HourSeries("Temperature, °C", temperatures),
        marks=[(0.0, "pitched"), (36.0, "ended")],
    )


def _by_hours(*series: HourSeries, marks: Sequence[tuple[float, str]] = ()) -> str:
    drawing = hours_chart(series, name="ferm", title="Washback 3", like="last 20", marks=marks)
    return drawing.svg() if drawing else ""


def _cask() -> str:
    return cask_chart(
        [Regauge(0, 126.5), Regauge(9, 98.4, "outside")],
        name="cask",
        title="Cask 1187",
        band=[BandPoint(0.0, 125, 128), BandPoint(10.0, 100, 112)],
        book=[Spot(0, 126.5), Spot(1.5, 121.6), Spot(1.5, 121.4), Spot(9, 98.4)],
        samples=[Spot(1.5, 121.4)],
        floor=[Spot(0, 80), Spot(10, 76)],
        floor_text="40 % by volume",
    )


def _control() -> str:
    differences = [*(Difference(f"run {n}", 0.1 * (n % 3)) for n in range(23)), Difference("run 411", -1.62, "Look")]
    return control_chart(differences, name="vat", title="Vat 1", limits=Limits(0.1, -1.0, 1.2, "Limits set 1 Nov 2026"))


def _words(svg: str) -> list[str]:
    return [element.text or "" for element in ET.fromstring(svg).iter(f"{SVG}text")]


def _of_class(svg: str, tag: str, kind: str) -> list[ET.Element]:
    return [one for one in ET.fromstring(svg).iter(f"{SVG}{tag}") if kind in one.attrib["class"].split()]


@pytest.mark.parametrize("draw", [_run, _fermentation, _cask, _control])
def test_every_chart_is_named_for_those_who_do_not_see_it(draw: Callable[[], str]) -> None:
    root = ET.fromstring(draw())
    assert root.tag == f"{SVG}svg"
    assert root.attrib["role"] == "img"
    title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert description is not None
    assert root.attrib["aria-labelledby"].split() == [title.attrib["id"], description.attrib["id"]]
    assert title.text
    assert description.text
    assert description.text.endswith(".")


@pytest.mark.parametrize("draw", [_run, _fermentation, _cask, _control])
def test_no_chart_carries_style_or_script(draw: Callable[[], str]) -> None:
    for element in ET.fromstring(draw()).iter():
        assert element.tag not in (f"{SVG}style", f"{SVG}script")
        assert not [name for name in element.attrib if name == "style" or name.startswith("on") or "href" in name]


@pytest.mark.parametrize("draw", [_run, _fermentation, _cask, _control])
def test_everything_lies_inside_the_drawing(draw: Callable[[], str]) -> None:
    root = ET.fromstring(draw())
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    for element in root.iter():
        for name, value in element.attrib.items():
            if name in ("x", "x1", "x2", "cx"):
                assert 0 <= float(value) <= width
            if name in ("y", "y1", "y2", "cy"):
                assert 0 <= float(value) <= height
            if name == "points":
                for pair in value.split():
                    x, y = map(float, pair.split(","))
                    assert 0 <= x <= width
                    assert 0 <= y <= height


def test_what_people_typed_cannot_become_markup() -> None:
    nasty = '</text><script>alert(1)</script> & "x" \x0b'
    svg = _run(cuts=[Cut(_at(20), nasty)], plan=Level(70.0, nasty))
    assert "<script" not in svg
    assert [element.tag for element in ET.fromstring(svg).iter() if "script" in element.tag] == []
    assert any("</text><script>" in words for words in _words(svg))


def test_a_chart_goes_into_a_page_as_it_is() -> None:
    shown = Template("{{ chart }}").render(Context({"chart": _run()}))
    assert shown.startswith("<svg ")


def test_a_stronger_reading_stands_higher_and_a_later_one_further_right() -> None:
    svg = line_chart([Reading(_at(30), 60.0), Reading(_at(0), 70.0), Reading(_at(60), 65.0)], name="run", title="Run")
    dots = _of_class(svg, "circle", "dot")
    across = [float(dot.attrib["cx"]) for dot in dots]
    down = [float(dot.attrib["cy"]) for dot in dots]
    assert across == sorted(across)
    assert down[0] < down[2] < down[1]
    assert across[1] - across[0] == pytest.approx(across[2] - across[1], abs=0.2)


def test_a_reading_not_taken_is_a_gap() -> None:
    values = [74.0, 73.0, None, 71.0, 70.0]
    svg = line_chart([Reading(_at(15 * n), value) for n, value in enumerate(values)], name="run", title="Run")
    assert [len(line.attrib["points"].split()) for line in _of_class(svg, "polyline", "line")] == [2, 2]
    assert len(_of_class(svg, "circle", "dot")) == 4


def test_a_struck_reading_stays_in_sight_off_the_line() -> None:
    readings = [Reading(_at(0), 74.0), Reading(_at(15), 7.1, struck=True), Reading(_at(15), 71.0)]
    svg = line_chart(readings, name="run", title="Run")
    assert len(_of_class(svg, "circle", "struck")) == 1
    assert len(_of_class(svg, "polyline", "line")[0].attrib["points"].split()) == 2


def test_cuts_say_when_and_at_which_strength_and_run_the_full_height() -> None:
    svg = _run(cuts=[Cut(_at(35), "Spirit", 73.0), Cut(_at(100), "Feints", 62.0, planned=True)])
    assert "Spirit 23:20 at 73.0 %" in _words(svg)
    assert "plan Feints 00:25 at 62.0 %" in _words(svg)
    (full,) = _of_class(svg, "line", "cut")
    (short,) = _of_class(svg, "line", "planned")
    assert full.attrib["x1"] == full.attrib["x2"]
    assert float(full.attrib["y2"]) - float(full.attrib["y1"]) > 200
    assert abs(float(short.attrib["y2"]) - float(short.attrib["y1"])) < 20
    description = ET.fromstring(svg).find(f"{SVG}desc")
    assert description is not None
    assert description.text is not None
    assert "Cut: Spirit 23:20 at 73.0 %." in description.text


def test_cuts_close_together_are_written_one_under_the_other() -> None:
    svg = _run(cuts=[Cut(_at(minutes), "Foreshots", 70.0) for minutes in (30, 32, 34)])
    rows = [
        float(element.attrib["y"])
        for element in ET.fromstring(svg).iter(f"{SVG}text")
        if (element.text or "").startswith("Foreshots")
    ]
    assert len(set(rows)) == 3


def test_one_reading_alone_is_a_mark_without_a_line() -> None:
    svg = line_chart([Reading(START, 70.0)], name="run", title="Run")
    assert len(_of_class(svg, "circle", "dot")) == 1
    assert _of_class(svg, "polyline", "line") == []


def test_gravities_are_written_without_a_comma_and_temperature_has_its_own_axis() -> None:
    svg = _fermentation()
    words = _words(svg)
    assert "60" in words
    assert "1,060" not in words
    assert {"Gravity, degrees at 20 °C", "Temperature, °C"} <= set(words)
    dots = [float(dot.attrib["cy"]) for dot in _of_class(svg, "circle", "dot")]
    assert len(dots) == 14
    assert max(dots[:7]) < min(dots[7:]), "temperatures stand in a panel of their own below"
    assert len(_of_class(svg, "polyline", "plan")) == 1
    assert {"last 20", "pitched", "ended", "Hours"} <= set(words)


def test_a_fermentation_without_temperatures_is_one_panel() -> None:
    svg = _by_hours(HourSeries("Gravity", [HourReading(1.0, 60.0)]), HourSeries("Temperature, °C", []))
    assert "Temperature, °C" not in _words(svg)
    only = _by_hours(HourSeries("Gravity", []), HourSeries("Temperature, °C", [HourReading(1.0, 20.0)]))
    assert "Temperature, °C" in _words(only)


def test_a_cask_outside_its_band_is_ringed_and_worded() -> None:
    svg = _cask()
    assert len(_of_class(svg, "circle", "ring")) == 1
    assert "98.40 outside" in _words(svg)
    assert "40 % by volume" in _words(svg)


@pytest.mark.parametrize("outside", ["", "low"])
def test_gauges_days_apart_have_figures_that_can_be_read(outside: str) -> None:
    taken = [Regauge(7.0 + day / 365, 100.0 - day / 50, outside) for day in range(9)]
    root = ET.fromstring(cask_chart([Regauge(0.0, 126.5), *taken], name="c", title="Cask"))
    words = [one for one in root.iter(f"{SVG}text") if one.attrib["class"].startswith("halo")]
    rooms = []
    for one in words:
        x, y, wide = float(one.attrib["x"]), float(one.attrib["y"]), width_of(one.text or "")
        left = x - wide if one.attrib["text-anchor"] == "end" else x
        rooms.append((left, left + wide, y))
    for number, (left, right, y) in enumerate(rooms):
        assert not any(left < end and begin < right and abs(y - at) < 16 for begin, end, at in rooms[:number])
    # The newest always has its own, and the dots are all there.
    assert f"{taken[-1].value:.2f} {outside}".strip() in [one.text for one in words]
    assert len([one for one in root.iter(f"{SVG}circle") if one.attrib["class"] == "dot"]) == 10


def test_the_book_of_a_cask_falls_all_the_time_and_steps_down_at_a_sample() -> None:
    (book,) = [line for line in _of_class(_cask(), "polyline", "line") if len(line.attrib["points"].split()) == 4]
    corners = [tuple(map(float, pair.split(","))) for pair in book.attrib["points"].split()]
    assert corners[0][1] < corners[1][1]
    assert corners[1][0] == corners[2][0]
    assert corners[2][1] >= corners[1][1]
    assert corners[3][1] > corners[2][1]


def test_a_floor_far_below_does_not_flatten_the_chart() -> None:
    svg = cask_chart([Regauge(0, 126.5), Regauge(1, 124.0)], name="c", title="Cask", floor=[Spot(0, 20), Spot(1, 20)])
    assert _of_class(svg, "polyline", "floor") == []


def test_differences_show_zero_mean_and_limits_as_given() -> None:
    svg = _control()
    words = _words(svg)
    assert {"upper +1.20", "mean +0.10", "lower −1.00", "Limits set 1 Nov 2026", "Look −1.62"} <= set(words)
    assert len(_of_class(svg, "line", "limit")) == 2
    assert len(_of_class(svg, "line", "zero")) == 1
    assert "run 411" in words


def test_no_readings_no_drawing() -> None:
    assert line_chart([], name="a", title="Run") == ""
    assert line_chart([Reading(START, None)], name="a", title="Run") == ""
    assert hours_chart([HourSeries("Gravity", [])], name="a", title="Washback") is None
    assert cask_chart([], name="a", title="Cask") == ""
    assert control_chart([], name="a", title="Vat") == ""


def test_a_reading_that_is_not_finite_is_refused() -> None:
    with pytest.raises(ValueError, match="finite"):
        line_chart([Reading(START, float("nan"))], name="a", title="Run")
    with pytest.raises(ValueError, match="finite"):
        control_chart([Difference("run", float("inf"))], name="a", title="Vat")
