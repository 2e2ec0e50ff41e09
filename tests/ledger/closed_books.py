"""Books of one vat that are closed in two names, for the tests of periods. All figures are invented."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from django.db import DatabaseError, connection, transaction

from distillery.people.models import Person
from ledger.models import Balance, Movement
from ledger.periods.models import Closing
from ledger.periods.service import agree, ask
from ledger.posting.post import post

from . import plant

# By the site's clock, on summer time from the last Sunday of March: April begins an hour earlier in UTC.
APRIL = datetime(2027, 3, 31, 23, tzinfo=UTC)


MAY = datetime(2027, 4, 30, 23, tzinfo=UTC)


LATER = datetime(2027, 6, 1, tzinfo=UTC)


# These books have no records, so none of a stock take.
REMARK = "vats were gauged, nothing more is to be written"


@pytest.fixture
def month(manager: Person) -> list[Movement]:
    """A vat opened with 100 LPA, gauged at 99, drawn to 60 on 14 March."""
    vat = plant.vessel("VAT")
    return [
        post(plant.opening(vat, 100.0), person=manager),
        post(plant.draft("stock take", "ST1", 0, plant.found(vat, 99)), person=manager),
        post(
            plant.draft("draw", "D1", 48, plant.found(vat, 99), plant.left(vat, 60, plant.difference("draw"))),
            person=manager,
        ),
    ]


def close(period: str, manager: Person, staff: Person, now: datetime = LATER) -> Closing:
    return agree(ask(period, person=manager, remark=REMARK, now=now), person=staff, now=now)


def refused(sql: str) -> str:
    with pytest.raises(DatabaseError) as refusal, transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql)
    return str(refusal.value)


def balances() -> dict[str, tuple[int, int]]:
    return {
        code: (pure, mass)
        for code, pure, mass in Balance.objects.values_list("account__code", "balance_ul", "mass_g")
        if pure or mass
    }
