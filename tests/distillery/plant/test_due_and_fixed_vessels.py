"""Days on which certificates and tables are due, worked by hand, and vessels entered by form with their tables."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from distillery.people.models import Person
from distillery.plant import keeping
from distillery.plant.due import asking, due_list, months_after, words
from distillery.plant.keeping import Unkeepable
from distillery.plant.models import CalibrationPoint, Kind, Purpose, Stage, Vessel

pytestmark = pytest.mark.django_db

TODAY = date(2027, 5, 15)
LINES = [(Decimal(0), Decimal(0)), (Decimal(1000), Decimal(4000))]
NEW: dict[str, Any] = {
    "code": "WB9",
    "name": "Washback 9",
    "kind": Kind.WASHBACK,
    "stage": Stage.WASH,
    "capacity_litres": Decimal(12000),
    "lines": LINES,
}


@pytest.mark.parametrize(
    ("day", "months", "due"),
    [
        (date(2024, 5, 20), 60, date(2029, 5, 20)),
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2027, 11, 30), 3, date(2028, 2, 29)),
        (date(2026, 12, 31), 12, date(2027, 12, 31)),
        (date(2027, 3, 1), 72, date(2033, 3, 1)),
    ],
)
def test_so_many_months_later(day: date, months: int, due: date) -> None:
    assert months_after(day, months) == due


def instrument(code: str, measures: str, unit: str, issued: date | None, person: Person) -> None:
    made = keeping.add_instrument(
        code=code, measures=measures, unit=unit, resolution=Decimal("0.1"), standard_uncertainty=Decimal("0.1")
    )
    if issued is not None:
        keeping.add_certificate(
            instrument=made,
            number=f"C-{code}",
            issuer="a laboratory of Harrowmere",
            issued_on=issued,
            from_day=issued,
            points=[],
            standard_uncertainty=Decimal("0.05"),
            person=person,
        )


def test_what_is_due_first_comes_first_and_what_is_missing_asks_for_no_day(manager: Person) -> None:
    """Thermometers every 24 months, the scale every 12, a vessel's table every 120 (rows of the site's start)."""
    instrument("TH1", "temperature", "celsius", date(2025, 5, 20), manager)
    instrument("SC1", "cask weight", "kg", date(2026, 5, 1), manager)
    instrument("ROD", "dip", "mm", None, manager)
    vessel = keeping.add_vessel(**NEW, person=manager)
    keeping.add_calibration(
        vessel=vessel, from_day=date(2020, 6, 1), standard_percent=Decimal("0.2"), source="invented", person=manager
    )
    found = [(one.code, one.due, one.days_left) for one in due_list(TODAY)]
    assert found == [
        ("SC1", date(2027, 5, 1), -14),
        ("TH1", date(2027, 5, 20), 5),
        ("WB9", date(2030, 6, 1), 1113),
        ("ROD", None, None),
    ]
    assert words(asking(TODAY)) == "1 certificate or table is overdue, 1 is due within 60 days"


def test_a_vessel_comes_with_its_table(manager: Person) -> None:
    vessel = keeping.add_vessel(**NEW, person=manager)
    points = CalibrationPoint.objects.filter(vessel=vessel).values_list("dip_um", "volume_ul")
    assert list(points) == [(0, 0), (1_000_000, 4_000_000_000)]
    assert vessel.capacity_ul == 12_000_000_000


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"code": " "}, "code"),
        ({"stage": Stage.NEW_SPIRIT}, "stage"),
        ({"purpose": Purpose.FEINTS}, "purpose"),
        ({"capacity_litres": Decimal(0)}, "capacity_litres"),
        ({"lines": LINES[:1]}, "lines"),
        ({"lines": [LINES[1], LINES[0]]}, "lines"),
        ({"lines": [LINES[0], (Decimal(10), Decimal(5)), (Decimal(20), Decimal(4))]}, "lines"),
        ({"lines": [LINES[0], (Decimal(4000), Decimal(12001))]}, "lines"),
    ],
)
def test_a_vessel_that_cannot_be_is_refused_by_the_box(manager: Person, changed: dict[str, Any], field: str) -> None:
    with pytest.raises(Unkeepable) as refused:
        keeping.add_vessel(**NEW | changed, person=manager)
    assert refused.value.field == field
    assert not Vessel.objects.filter(code="WB9").exists()


def test_a_code_stands_once_and_a_table_is_entered_once(manager: Person) -> None:
    vessel = keeping.add_vessel(**NEW | {"lines": []}, person=manager)
    with pytest.raises(Unkeepable, match="There is a vessel wb9 already"):
        keeping.add_vessel(**NEW | {"code": "wb9"}, person=manager)
    assert keeping.add_table(vessel, LINES, person=manager) == 2
    with pytest.raises(Unkeepable, match="has a table already"):
        keeping.add_table(vessel, LINES, person=manager)
