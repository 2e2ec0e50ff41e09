"""What is drawn of vattings, filtrations and standings, on the plain plant: a litre a millimetre at 20 °C.

All figures are invented, and worked by hand.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest

from batches.models import Record
from batches.pages.records.shown import RecordAsWritten
from batches.pages.results import as_it_stands, pictures_of
from batches.sheets.register import sheet_of
from batches.sheets.site import Site
from distillery.charts.pictures import Drawn, Picture
from distillery.charts.plots import Plot
from tests.batches.results import LATER
from tests.batches.tiny_plant import gauge

pytestmark = pytest.mark.django_db
Write = Callable[..., Record]


def drawn_of(record: Record, now: datetime = LATER) -> list[Drawn]:
    sheet = sheet_of(record.kind)
    assert sheet.pictures is not None
    return list(sheet.pictures(as_it_stands(RecordAsWritten(record, sheet), Site()), now))


def shown_of(record: Record) -> list[Picture]:
    return pictures_of(as_it_stands(RecordAsWritten(record, sheet_of(record.kind)), Site()), LATER)


def figures_of(drawn: Drawn) -> list[tuple[float, float]]:
    assert isinstance(drawn, Plot)
    (line,) = drawn.lines
    return [(round(x, 3), round(y, 3)) for x, y in line.points]


def test_the_parts_of_a_vat(write: Write, opened: Callable[..., Record]) -> None:
    opened("VA", "1000", "60.0")
    opened("SP", "500", "50.0")
    opened("BV", "300", "50.0")
    record = write(
        "vatting",
        "VT0001",
        (),
        at="2027-03-02T09:00",
        vat="BV",
        first_vessel="VA",
        **gauge("first_before", "1000", "60.0"),
        **gauge("first_after", "0"),
        second_vessel="SP",
        **gauge("second_before", "500", "50.0"),
        **gauge("second_after", "0"),
        **gauge("vat_before", "300", "50.0"),
        **gauge("vat_after", "1796", "55.6"),
    )
    (shown,) = shown_of(record)
    # 600, 250 and 150 of 1,000 litres of pure alcohol; none of it was ever in wood, so no age is said.
    assert [column.label for column in shown.table.columns][-1] == "Share of the alcohol"
    assert [[cell.text for cell in row.cells] for row in shown.table.rows] == [
        ["there in BV", "300.0", "50.0", "150.00", "15.0"],
        ["VA", "1,000.0", "60.0", "600.00", "60.0"],
        ["SP", "500.0", "50.0", "250.00", "25.0"],
    ]
    assert "Gauged after it 55.6" in shown.chart


def test_one_vessel_into_an_empty_vat_has_no_picture(write: Write, opened: Callable[..., Record]) -> None:
    opened("VA", "1000", "60.0")
    record = write(
        "vatting",
        "VT0001",
        (),
        at="2027-03-02T09:00",
        vat="BV",
        first_vessel="VA",
        **gauge("first_before", "1000", "60.0"),
        **gauge("first_after", "0"),
        **gauge("vat_before", "0"),
        **gauge("vat_after", "998", "60.0"),
    )
    assert shown_of(record) == []


def test_filtrations_of_one_way_stand_beside_one_another(write: Write, opened: Callable[..., Record]) -> None:
    opened("BV", "1000", "43.0")

    def filtered(number: str, day: int, before: str, after: str, way: str = "chill", **into: str) -> Record:
        vat = gauge("vat_before", before, "43.0") | gauge("vat_after", after, "43.0")
        return write("filtration", number, (), at=f"2027-03-{day:02}T09:00", vat="BV", way=way, **vat, **into)

    assert drawn_of(filtered("FI0001", 2, "1000", "995")) == []
    filtered("FI0002", 3, "995", "990", way="plain")
    # 200 litres went, 198 came: 1 % of them; into a vat that held nothing, so that strengths can be told.
    into = {"into": "GI", **gauge("into_before", "0"), **gauge("into_after", "198", "42.9")}
    record = filtered("FI0003", 4, "990", "790", **into)
    lost, change = drawn_of(record)
    assert isinstance(lost, Plot)
    assert lost.names == ("FI0001", "FI0003")
    # 5 of 1,000 litres, and 200 at 43.0 less 198 at 42.9: 86 less 84.942 of 86.
    assert figures_of(lost) == [(1.0, 0.5), (2.0, 1.23)]
    assert figures_of(change) == [(1.0, 0.0), (2.0, -0.1)]
    assert [one.caption for one in shown_of(record)] == ["Less after each filtration", "Strength over each filtration"]


def test_a_rest_by_its_gauges(write: Write, opened: Callable[..., Record]) -> None:
    opened("BV", "1000", "50.0")
    begun = {"vessel": "BV", "begun_at": "2027-03-02T09:00", **gauge("before", "1000", "50.0")}
    assert drawn_of(write("standing", "SD0001", (), **begun), datetime(2027, 3, 3, tzinfo=UTC)) == []
    record = write("standing", "SD0001", (), ended_at="2027-03-12T09:00", **gauge("after", "998", "49.9"))
    strength, litres = drawn_of(record)
    assert figures_of(strength) == [(0.0, 50.0), (10.0, 49.9)]
    assert figures_of(litres) == [(0.0, 1000.0), (10.0, 998.0)]
    assert isinstance(strength, Plot)
    assert strength.along == "days from its beginning"


def test_a_short_rest_is_drawn_by_its_hours(write: Write, opened: Callable[..., Record]) -> None:
    opened("BV", "1000", "50.0")
    record = write(
        "standing",
        "SD0001",
        (),
        vessel="BV",
        begun_at="2027-03-02T09:00",
        **gauge("before", "1000", "50.0"),
        ended_at="2027-03-03T15:00",
        **gauge("after", "999", "50.0"),
    )
    assert figures_of(drawn_of(record)[1]) == [(0.0, 1000.0), (30.0, 999.0)]
