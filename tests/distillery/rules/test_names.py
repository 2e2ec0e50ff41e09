"""Names and reports as dated rules: the figures of law that a new site starts with, and how a site sets its own.

Limits: assimilated Regulation (EC) 110/2008, Annexes I and II, as each row names it.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.core.management import call_command

from distillery.process.product_names import Way
from distillery.rules import names
from distillery.rules.models import NameRequirement, ReportingDuty
from distillery.rules.setting.figures import Unsettable

pytestmark = pytest.mark.django_db
DAY = date(2027, 3, 1)


@pytest.mark.parametrize(
    ("name", "measure", "way", "limit"),
    [
        ("gin", "bottled strength", Way.AT_LEAST, 37.5),
        ("distilled gin", "base strength", Way.AT_LEAST, 96.0),
        ("London gin", "methanol", Way.AT_MOST, 5.0),
        ("London gin", "distillate strength", Way.AT_LEAST, 70.0),
        ("London gin", "sweetening", Way.AT_MOST, 0.1),
        ("vodka", "base strength", Way.AT_LEAST, 96.0),
        ("vodka", "methanol", Way.AT_MOST, 10.0),
        ("vodka", "bottled strength", Way.AT_LEAST, 37.5),
        (names.AGRICULTURAL_ALCOHOL, "methanol", Way.AT_MOST, 30.0),
        (names.AGRICULTURAL_ALCOHOL, "aldehydes", Way.AT_MOST, 0.5),
        (names.AGRICULTURAL_ALCOHOL, "nitrogen bases", Way.AT_MOST, 0.1),
    ],
)
def test_limits_of_law(name: str, measure: str, way: Way, limit: float) -> None:
    found = {one.measure: one for one in names.requirements(name, DAY)}
    assert (found[measure].way, found[measure].limit) == (way, limit)
    assert found[measure].source


def test_every_row_has_its_source_and_a_limit_or_words() -> None:
    for row in NameRequirement.objects.all():
        assert row.source
        assert row.way in set(Way)
        assert bool(row.words) == (row.way in (Way.IS, Way.INCLUDES))
        assert (row.limit_millionths is None) == bool(row.words)
    assert not ReportingDuty.objects.filter(source="").exists()


def test_reports_of_a_receipt() -> None:
    always = names.duties("receipt under bond", DAY, "always")
    short = names.duties("receipt under bond", DAY, "always", "shortage or excess")
    assert len(short) > len(always)
    assert any("5 business days" in one.until for one in always)
    assert any("SI 1988/809" in one.source for one in always)


@pytest.mark.parametrize(
    ("days", "business", "happened", "by_day"),
    [
        (5, True, "2027-03-04", "2027-03-11"),
        (5, False, "2027-03-04", "2027-03-09"),
        (1, True, "2027-03-05", "2027-03-08"),
    ],
)
def test_until_when_a_report_is_due(days: int, business: bool, happened: str, by_day: str) -> None:
    # Worked by hand: 4 March 2027 is a Thursday.
    duty = names.Duty("always", "a report", "whoever receives", "in time", "invented", days, business)
    assert duty.by_day(date.fromisoformat(happened)) == date.fromisoformat(by_day)


def test_a_later_row_takes_the_place_of_an_earlier_one_from_its_day_on() -> None:
    call_command(
        "set_figure",
        "name-requirement",
        "--name=vodka",
        "--code=E30",
        "--said=methanol",
        "--measure=methanol",
        "--way=at most",
        "--limit=8",
        "--unit=g/hL",
        "--from-day=2027-06-01",
        "--source=invented for this test",
    )
    before = {one.code: one.limit for one in names.requirements("vodka", date(2027, 5, 31))}
    after = {one.code: one.limit for one in names.requirements("Vodka", date(2027, 6, 1))}
    assert (before["E30"], after["E30"]) == (10.0, 8.0)
    assert before.keys() == after.keys()


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"way": "about"}, "way"),
        ({"limit": None}, "limit"),
        ({"way": "is"}, "words"),
        ({"source": " "}, "source"),
        ({"limit": Decimal("1.23456789")}, "limit"),
    ],
)
def test_what_cannot_be_set(changed: dict[str, object], field: str) -> None:
    given: dict[str, object] = {
        "name": "vodka",
        "code": "X",
        "said": "x",
        "measure": "methanol",
        "way": "at most",
        "limit": Decimal(1),
        "from_day": DAY,
        "source": "invented",
    }
    with pytest.raises(Unsettable) as refused:
        names.set_requirement(**(given | changed))  # type: ignore[arg-type]
    assert refused.value.field == field


def test_a_name_without_rules_asks_for_nothing() -> None:
    assert names.requirements("rum", DAY) == []
    assert names.requirements("vodka", date(2020, 12, 31)) == []
