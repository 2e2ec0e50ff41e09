"""Which period a moment belongs to: calendar months by the site's clock, and stock periods it was allowed.

All figures are invented and worked by hand.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from distillery.people.models import Person
from ledger.models import Movement
from ledger.periods import period_of
from ledger.periods.calendar import Calendar, NoSuchPeriod, Span, bounds, name_of
from ledger.periods.readiness import next_to_close
from ledger.periods.service import CannotClose, enter_stock_period
from ledger.posting.post import Refused, correct, post
from ledger.proof.proving import prove
from ledger.statements.month import month_account

from . import plant
from .closed_books import APRIL, close, month

__all__ = ["month"]


pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("nothing_compared")]


# -- which period


def test_a_month_runs_by_the_sites_own_clock() -> None:
    assert bounds("2027-03") == (datetime(2027, 3, 1, tzinfo=UTC), APRIL)
    assert period_of(APRIL - timedelta(microseconds=1)) == "2027-03"
    assert period_of(APRIL) == "2027-04"
    assert name_of("2027-03") == "March 2027"
    with pytest.raises(NoSuchPeriod, match="write it like 2027-03"):
        bounds("2027-13")


def test_stock_periods_follow_the_last_month_and_one_another() -> None:
    calendar = Calendar(
        [Span("2027-05", date(2027, 5, 3), date(2027, 5, 30)), Span("2027-04", date(2027, 3, 29), date(2027, 5, 2))]
    )
    assert calendar.period_of(datetime(2027, 3, 28, 12, tzinfo=UTC)) == "2027-03"
    assert calendar.bounds("2027-03") == (datetime(2027, 3, 1, tzinfo=UTC), datetime(2027, 3, 28, 23, tzinfo=UTC))
    assert calendar.period_of(datetime(2027, 3, 28, 23, tzinfo=UTC)) == "2027-04"
    assert (calendar.after("2027-03"), calendar.after("2027-04"), calendar.before("2027-04")) == (
        "2027-04",
        "2027-05",
        "2027-03",
    )
    assert calendar.name_of("2027-04") == "Stock period 2027-04, Mon 29 Mar 2027 to Sun 2 May 2027"
    with pytest.raises(NoSuchPeriod, match="enter the next one first"):
        calendar.period_of(datetime(2027, 5, 31, 12, tzinfo=UTC))
    with pytest.raises(NoSuchPeriod, match="no stock period"):
        calendar.bounds("2027-06")


def test_a_stock_period_leaves_no_gap_is_no_longer_than_five_weeks_and_comes_before_its_entries(
    manager: Person, month: list[Movement]
) -> None:
    def enter(code: str, first: date, last: date, source: str = "letter of 1 March 2027") -> None:
        enter_stock_period(code, first, last, source=source, person=manager)

    with pytest.raises(CannotClose, match="at most 35 days"):
        enter("2027-04", date(2027, 3, 29), date(2027, 5, 3))
    with pytest.raises(CannotClose, match="happened on Sun 14 Mar 2027"):
        enter("2027-04", date(2027, 3, 14), date(2027, 4, 10))
    with pytest.raises(CannotClose, match="come after 2027-03"):
        enter("2027-03", date(2027, 3, 29), date(2027, 5, 2))
    with pytest.raises(CannotClose, match="who allowed it"):
        enter("2027-04", date(2027, 3, 29), date(2027, 5, 2), source=" ")
    enter("2027-04", date(2027, 3, 29), date(2027, 5, 2))
    with pytest.raises(CannotClose, match="begins on Mon 3 May 2027"):
        enter("2027-05", date(2027, 5, 4), date(2027, 5, 30))
    enter("2027-05", date(2027, 5, 3), date(2027, 5, 30))
    vat = plant.vessel("VAT")
    on_29_march = (datetime(2027, 3, 29, 12, tzinfo=UTC) - plant.START).total_seconds() / 3600
    movement = post(plant.draft("stock take", "ST2", on_29_march, plant.found(vat, 60)), person=manager)
    assert movement.period == "2027-04"
    with pytest.raises(Refused, match="enter the next one first"):
        post(plant.draft("stock take", "ST3", 24 * 100, plant.found(vat, 60)), person=manager)
    assert month_account("2027-04").name == "Stock period 2027-04, Mon 29 Mar 2027 to Sun 2 May 2027"
    assert prove().broken == []


def test_a_stock_period_closes_after_the_month_it_cut_short(
    manager: Person, staff: Person, month: list[Movement]
) -> None:
    for code, first, last in (
        ("2027-04", date(2027, 3, 29), date(2027, 5, 2)),
        ("2027-05", date(2027, 5, 3), date(2027, 5, 30)),
    ):
        enter_stock_period(code, first, last, source="letter of 1 March 2027", person=manager)
    assert close("2027-03", manager, staff).ends == datetime(2027, 3, 28, 23, tzinfo=UTC)
    assert close("2027-04", manager, staff).ends == datetime(2027, 5, 2, 23, tzinfo=UTC)
    [late] = correct(
        [month[-1]],
        [plant.draft("draw", "D1", 48, plant.found(plant.vessel("VAT"), 99))],
        person=manager,
        reason="nothing was drawn",
    )
    assert (late.period, late.happened_at) == ("2027-05", datetime(2027, 5, 2, 23, tzinfo=UTC))
    assert month_account("2027-05").stages[2].closing_ul == 99_000_000
    close("2027-05", manager, staff)
    with pytest.raises(NoSuchPeriod, match="enter the next one first"):
        next_to_close()
    assert prove().broken == []
