"""Pictures of one figure against another: what is drawn, said and set out in the table."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest

from distillery.charts.plots import Line, Place, Plot, described, plot_chart

SVG = "{http://www.w3.org/2000/svg}"


def plot(**more: object) -> Plot:
    given: dict[str, object] = {
        "name": "strength",
        "title": "Strength <of> a run",
        "along": "litres",
        "up": "% vol",
        "lines": (
            Line("SR0001", ((0.0, 76.0), (100.0, 72.5), (200.0, 60.0))),
            Line("Median", ((0.0, 75.0), (200.0, 61.0)), dashed=True),
        ),
        "band": ((0.0, 74.0, 77.0), (200.0, 59.0, 63.0)),
        "band_label": "10 to 90 %",
        "marks": (Place(50.0, "Spirit on at 74 %"),),
    }
    return Plot(**(given | more))  # type: ignore[arg-type]


def test_lines_are_told_apart_without_colour() -> None:
    root = ET.fromstring(plot_chart(plot()))
    kinds = [one.get("class") for one in root.iter(f"{SVG}polyline")]
    assert kinds == ["line", "line dashed"]
    assert len(list(root.iter(f"{SVG}polygon"))) == 2
    assert "Strength <of> a run" in [one.text for one in root.iter(f"{SVG}title")]


def test_the_table_has_every_figure_that_is_drawn() -> None:
    table = plot().table()
    assert [one.label for one in table.columns] == ["litres", "SR0001", "Median", "10 to 90 %", "Said"]
    assert [[cell.text for cell in row.cells] for row in table.rows] == [
        ["0", "76.0", "75.0", "74.0 to 77.0", ""],
        ["50", "", "", "", "Spirit on at 74 %"],
        ["100", "72.5", "", "", ""],
        ["200", "60.0", "61.0", "59.0 to 63.0", ""],
    ]


def test_it_says_in_words_what_it_shows() -> None:
    said = described(plot())
    assert "SR0001: 3 points, 76.0 at 0, 60.0 at 200." in said
    assert said.endswith("Spirit on at 74 %: 50.")


def test_nothing_is_drawn_of_nothing_measured() -> None:
    assert plot(lines=(Line("SR0001", ()),)).is_empty
    assert plot_chart(plot(lines=(Line("SR0001", ()),))) == ""


def test_names_stand_along_the_foot_where_it_is_counted() -> None:
    lines = (Line("Yield", ((1.0, 400.0), (2.0, 405.0))), Line("Promised", ((1.0, 410.0),), dashed=True))
    drawn = plot(lines=lines, names=("DP0001", "DP0002"), band=(), marks=())
    root = ET.fromstring(plot_chart(drawn))
    words = [one.text for one in root.iter(f"{SVG}text")]
    assert [one.get("class") for one in root.iter(f"{SVG}circle")] == ["dot", "dot", "dot open"]
    assert {"DP0001", "DP0002"} <= set(words)
    assert [row.cells[0].text for row in drawn.table().rows] == ["DP0001", "DP0002"]


def test_a_figure_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match=r"finite|from"):
        plot_chart(plot(lines=(Line("SR0001", ((0.0, float("nan")), (1.0, 2.0))),)))
