"""A site enters what packages and sizes of bottle are held to from a day on; figures without a source are invented."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from distillery.process.bottling import limits, size_judged
from distillery.rules.models import NominalQuantity, PackageError
from distillery.rules.packaged import error_bands, size_rules
from distillery.rules.setting.figures import Unsettable
from distillery.rules.setting.packaged import Band, set_nominal_quantities, set_package_errors

pytestmark = pytest.mark.django_db

DAY, BEFORE = date(2028, 1, 1), date(2027, 12, 31)
BANDS = "200 300 9 mL\n300 500 3 %\n500 - 15 ml\n"
PACKAGES = {"from_day": "2028-01-01", "bands": BANDS, "source": "a law for practice"}
SIZES = {
    "from_day": "2028-01-01",
    "sizes": "350; 500 750",
    "listed_from_ml": "100",
    "listed_to_ml": "2000",
    "source": "a law for practice",
}


def test_a_table_of_errors_holds_from_its_day_and_changes_no_older_one(manager: Any, browser_of: Any) -> None:
    client: Client = browser_of(manager)
    assert client.post("/site/packages/", PACKAGES).status_code == 302
    # 3 % of 400 mL; before that day the table of SI 2006/659: 15 mL of 700, 3 % of 400.
    assert limits(400.0, error_bands(DAY)).error_ml == pytest.approx(12.0)
    assert limits(250.0, error_bands(DAY)).error_ml == limits(250.0, error_bands(BEFORE)).error_ml == 9.0
    assert len(error_bands(DAY)) == 3
    assert len(error_bands(BEFORE)) == 9
    assert "a law for practice" in client.get("/site/").text


def test_sizes_hold_from_their_day(manager: Any, browser_of: Any) -> None:
    client: Client = browser_of(manager)
    assert client.post("/site/bottle-sizes/", SIZES).status_code == 302
    assert size_judged(750.0, size_rules(DAY)).may_be_sold
    # SI 2009/663 lists 700 mL and no 750.
    assert not size_judged(750.0, size_rules(BEFORE)).may_be_sold
    refused = size_judged(700.0, size_rules(DAY))
    assert (refused.may_be_sold, refused.listed_ml) == (False, (350.0, 500.0, 750.0))
    assert size_judged(99.0, size_rules(DAY)).may_be_sold
    assert size_judged(2_500.0, size_rules(DAY)).may_be_sold


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"bands": "200 300 9"}, "is no band"),
        ({"bands": "200 300 9 litres"}, "is no band"),
        ({"bands": "200 - 9 mL\n300 500 3 %"}, "the one before ends without end"),
        ({"bands": "200 300 9 mL\n310 500 3 %"}, "the one before ends at 300 mL"),
        ({"bands": "- 300 9 mL"}, "lacks a figure"),
        ({"bands": "300 200 9 mL"}, "ends before it begins"),
        ({"source": ""}, "This is blank"),
    ],
)
def test_what_is_no_table_is_refused_and_kept_in_the_box(
    manager: Any, browser_of: Any, given: dict[str, str], said: str
) -> None:
    there = PackageError.objects.count()
    answer = browser_of(manager).post("/site/packages/", PACKAGES | given)
    assert answer.status_code == 200
    assert said in answer.text
    assert "a law for practice" in answer.text or "source" in given
    assert PackageError.objects.count() == there


def test_one_day_has_one_table() -> None:
    band = Band(Decimal(200), None, millilitres=Decimal(9))
    set_package_errors(from_day=DAY, bands=[band], source="a law for practice")
    with pytest.raises(Unsettable, match="is here already"):
        set_package_errors(from_day=DAY, bands=[band], source="a law for practice")


def test_a_size_outside_the_listed_range_is_refused() -> None:
    there = NominalQuantity.objects.count()
    with pytest.raises(Unsettable, match="outside the quantities"):
        set_nominal_quantities(
            from_day=DAY,
            sizes=[Decimal(3000)],
            listed_from_ml=Decimal(100),
            listed_to_ml=Decimal(2000),
            source="a law for practice",
        )
    assert NominalQuantity.objects.count() == there


def test_only_who_keeps_the_plant_enters_them(staff: Any, browser_of: Any) -> None:
    client: Client = browser_of(staff)
    for address in ("/site/packages/", "/site/bottle-sizes/"):
        assert client.get(address).status_code == 403
