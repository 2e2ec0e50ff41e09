"""Rates for days that are returned upon, and what is put right of a closed month: it goes on a later return and names
its month (HMRC, description of the figures that the Alcohol Duty return carries, 2025-26).

60 bottles of 70 cl at 41.4 % vol are 17.388 LPA, 50 are 14.490, 10 are 2.898. The rate of 35.01 is invented.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal
from unittest import mock

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from batches.models import Record
from batches.records import recording
from batches.returns.as_data import as_data
from batches.returns.figures import MonthFigures, return_figures
from distillery.people.models import Person
from distillery.rules.models import DutyRate
from distillery.rules.returned import ReturnedUpon
from distillery.rules.setting.figures import set_duty_rate, set_rounding_rule
from ledger.periods import service
from tests.distillery.rules.invented_rate import enter_rate
from tests.people import agreed_by

Write = Callable[..., Record]
pytestmark = pytest.mark.django_db

MARCH, APRIL = "2027-03", "2027-04"
LATER = datetime(2027, 6, 1, tzinfo=UTC)
GIN = {"product": "gin", "bottle_centilitres": "70", "label_percent": "41.4"}


def close(period: str, manager: Person, staff: Person) -> None:
    with mock.patch.object(service, "_settled", return_value=[]):
        asked = service.ask(period, person=manager, remark="all was gauged", now=LATER)
        service.agree(asked, person=staff, now=LATER)


def rate(from_day: date, **more: object) -> DutyRate:
    return set_duty_rate(
        from_day=from_day,
        strength_from_percent=Decimal("22.1"),
        strength_to_percent=Decimal(100),
        pounds_per_lpa=Decimal("35.01"),
        tax_type="345",
        source="invented for the tests",
        **more,  # type: ignore[arg-type]
    )


@pytest.fixture
def left(write: Write) -> Record:
    """100 bottles of gin in bond, 60 of them gone for home use in March."""
    write("opening_bottled_stock", at="2027-03-01T06:00", bottles="100", **GIN)
    return write("removal", "RM0001", at="2027-03-09T08:00", kind="home use", bottles="60", **GIN)


@pytest.fixture
def not_known(left: Record, manager: Person, staff: Person) -> Record:
    """The same with March closed, though the rate of its removal was not known."""
    close(MARCH, manager, staff)
    return left


def of(period: str) -> MonthFigures:
    found = return_figures(period)
    assert isinstance(found, MonthFigures)
    return found


class TestARate:
    def test_that_is_ahead_is_entered_with_who_and_why(self, not_known: Record, manager: Person, client: Client):
        rate(date(2027, 4, 1), reason="announced in the Budget", person=manager)
        client.force_login(manager)
        page = client.get("/site/?rates-sort=-since").content.decode()
        assert "announced in the Budget" in page
        assert manager.shown_name in page.split("announced in the Budget")[0].rsplit("<tr>", 1)[-1]

    def test_for_a_closed_day_on_which_one_was_known_is_refused_whatever_is_said(self, not_known: Record) -> None:
        for owed_later in (False, True):
            with pytest.raises(
                ReturnedUpon, match=r"Enter this one from Thu 1 Apr 2027 on, and put what it"
            ) as refused:
                rate(date(2027, 1, 31), owed_later=owed_later)
            assert not refused.value.may_be_owed
        assert not DutyRate.objects.filter(source="invented for the tests").exists()

    def test_for_a_closed_day_on_which_none_was_known_says_both_ways(self, not_known: Record) -> None:
        with pytest.raises(ReturnedUpon, match=r"Enter it from Thu 1 Apr 2027 on; or, if it held") as refused:
            rate(date(2027, 3, 9))
        assert refused.value.may_be_owed
        rate(date(2027, 4, 1))

    def test_a_rounding_of_a_closed_day_is_refused_as_a_rate_is(self, not_known: Record) -> None:
        with pytest.raises(ReturnedUpon, match="its rounding stays"):
            set_rounding_rule(
                name="duty on a line", from_day=date(2027, 3, 1), step=Decimal(1), way="down", source="invented"
            )

    def test_the_command_refuses_it_and_says_what_to_do(self, not_known: Record) -> None:
        given = ["--from-day", "2027-03-01", "--strength-from-percent", "22.1", "--strength-to-percent", "100"]
        given += ["--pounds-per-lpa", "35.01", "--source", "invented"]
        with pytest.raises(CommandError, match="Mon 1 Mar 2027 is returned upon"):
            call_command("set_figure", "duty-rate", *given)
        call_command("set_figure", "duty-rate", *given, "--owed-later", verbosity=0)

    def test_the_page_keeps_what_was_typed_and_asks(
        self, not_known: Record, manager: Person, staff: Person, client: Client
    ) -> None:
        client.force_login(manager)
        given = {
            "from_day": "2027-03-01",
            "strength_from_percent": "22.1",
            "strength_to_percent": "100",
            "pounds_per_lpa": "35.01",
            "tax_type": "345",
            "source": "invented",
        }
        assert "owed_later" not in client.get("/site/duty-rate/").content.decode()
        refused = client.post("/site/duty-rate/", given).content.decode()
        assert "Mon 1 Mar 2027 is returned upon" in refused
        assert 'value="35.01"' in refused
        assert 'name="owed_later"' in refused
        assert client.post("/site/duty-rate/", {**given, "owed_later": "on", **agreed_by(staff)}).status_code == 302
        assert [one.pence for one in of(APRIL).under] == [60_875]


class TestAnUnderDeclaration:
    def test_what_was_not_known_at_the_close_is_owed_on_the_next_return(self, not_known: Record) -> None:
        """17.388 LPA at 35.01 are 608.75388 pounds, part-pence dropped."""
        rate(date(2027, 2, 1), owed_later=True)
        march, april = of(MARCH), of(APRIL)
        [line] = march.duty
        assert (line.pure_ul, line.pence) == (17_388_000, None)
        assert line.why == ("Not known when the month was closed; what is owed goes on the return of 2027-04.",)
        [owed] = april.under
        assert (owed.of, owed.tax_type, owed.pure_ul, owed.rate, owed.pence) == (
            MARCH,
            "345",
            17_388_000,
            350_100,
            60_875,
        )
        assert (april.duty, april.over, april.is_nil) == ((), (), False)
        assert as_data(april)["under_declared"][0]["records"] == ["RM0001"]

    def test_it_names_what_is_left_once_its_removal_is_corrected(self, not_known: Record, staff: Person) -> None:
        """14.490 LPA at 35.01 are 507.2949 pounds."""
        rate(date(2027, 2, 1), owed_later=True)
        recording.correct(not_known, {"bottles": "50"}, person=staff, reason="ten were found in the store")
        [owed] = of(APRIL).under
        assert (owed.of, owed.pure_ul, owed.pence) == (MARCH, 14_490_000, 50_729)


class TestAnOverDeclaration:
    def test_a_removal_put_right_after_the_close_names_its_month(
        self, left: Record, manager: Person, staff: Person
    ) -> None:
        """March declared 608.75 on 17.388 LPA; ten bottles fewer are 2.898 LPA, 101.45898 pounds."""
        enter_rate()
        close(MARCH, manager, staff)
        recording.correct(left, {"bottles": "50"}, person=staff, reason="ten were found in the store")
        march, april = of(MARCH), of(APRIL)
        assert [(one.pure_ul, one.pence) for one in march.duty] == [(17_388_000, 60_875)]
        [back] = as_data(april)["over_declared"]
        assert (back["period"], back["records"], back["lpa"], back["duty"]) == (MARCH, ["RM0001"], 2.898, 101.45)
        assert back["reason"] == "ten were found in the store"
        # Excise Warehouse Return W1, 08/2012: an adjustment with its reason, and no removal of April's own.
        [stock] = [one for one in as_data(april)["warehouse"] if one["category"] == "bottled under bond"]
        up = "adjustment upward, of earlier months"
        assert (stock["lines"], stock["reasons"]) == ({up: 2.898}, {up: ["ten were found in the store"]})
        assert all(one.foots for one in april.classes)
        assert sum(april.movements[f"warehouse bottled under bond: {up}"].values()) == 2_898_000
        assert (april.duty, april.under) == ((), ())

    def test_a_removal_written_late_is_under_declared_and_no_duty_of_the_month_that_carries_it(
        self, left: Record, manager: Person, staff: Person, write: Write
    ) -> None:
        enter_rate()
        close(MARCH, manager, staff)
        write("removal", "RM0002", at="2027-03-10T08:00", kind="home use", bottles="10", **GIN)
        write("removal", "RM0003", at="2027-04-10T08:00", kind="home use", bottles="10", **GIN)
        april = of(APRIL)
        [late] = april.under
        assert (late.of, late.records, late.pence) == (MARCH, (("removal", "RM0002"),), 10_145)
        [stock] = [one for one in as_data(april)["warehouse"] if one["category"] == "bottled under bond"]
        assert stock["lines"] == {"adjustment downward, of earlier months": 2.898, "to home use": 2.898}
        assert all(one.foots for one in april.classes)
        [own] = april.duty
        assert (own.of, own.records, own.pence) == (APRIL, (("removal", "RM0003"),), 10_145)


def test_what_is_corrected_within_its_month_is_declared_once(left: Record, staff: Person) -> None:
    enter_rate()
    recording.correct(left, {"bottles": "50"}, person=staff, reason="miscounted")
    march = of(MARCH)
    assert [(one.pure_ul, one.pence) for one in march.duty] == [(14_490_000, 50_729)]
    assert (march.under, march.over) == ((), ())
