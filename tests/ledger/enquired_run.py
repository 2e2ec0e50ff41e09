"""A run that misses 50 LPA and the enquiry about it, for the tests of enquiries. All figures are invented."""

from __future__ import annotations

import pytest

from distillery.people.models import Person
from distillery.plant.models import Kind, Stage
from ledger.enquiries.answering import (
    Proposal,
    agreeing,
)
from ledger.enquiries.models import Ending, Enquiry
from ledger.enquiries.opening import About, open_about
from ledger.posting import post as posting
from tests.ledger.plant import Emptied, Moved, at, difference, draft, found, left, loss, opening, quantity, vessel

PERIOD = "2027-03"


MISSING_UL = 50_000_000


@pytest.fixture(autouse=True)
def _nothing_to_compare(monkeypatch: pytest.MonkeyPatch) -> None:
    """Gauges here are amounts without readings, so there is nothing to rank anew; the month's tests see to that."""
    monkeypatch.setattr(agreeing, "note_uncompared", lambda records: None)


def run(person: Person, number: str = "SR0001", gives: float = 950, hours: float = 0) -> None:
    """A run that is charged with 1,000 litres of pure alcohol and loses 2 in its spent lees."""
    vat, still = vessel(f"V-{number}"), vessel("SS", kind=Kind.STILL, stage=Stage.LOW_WINES)
    receiver = vessel(f"R-{number}")
    for of, lpa in ((vat, 1000), (receiver, 0)):
        posting.post(opening(of, lpa), person=person)
    from ledger.posting.accounts import vessel_account

    account = vessel_account(still)
    posting.post(
        draft(
            "spirit run",
            number,
            hours,
            found(vat, 1000),
            left(vat, 0, account),
            found(receiver, 0),
            left(receiver, gives, account),
            Moved(account, loss("spent lees"), quantity(2)),
            Emptied(account, difference("spirit run")),
        ),
        person=person,
    )


def about(number: str = "SR0001", difference_ul: int = MISSING_UL - 2_000_000) -> About:
    return About(
        key=f"operation:{number}",
        kind="enquiry",
        record_kind="spirit run",
        record_number=number,
        operation="spirit run",
        happened_at=at(0),
        period=PERIOD,
        said="48.00 LPA missing in this operation.",
        difference_ul=difference_ul,
        uncertainty_ul=4_000_000,
        threshold_ul=26_000_000,
        in_ul=1_000_000_000,
    )


@pytest.fixture
def enquiry(staff: Person) -> Enquiry:
    run(staff)
    return open_about(about())


def spillage(pure_ul: int = 48_000_000, **other: object) -> Proposal:
    values: dict[str, object] = {
        "ending": Ending.LOSS,
        "checked": "The tank room floor was wet under the pump; the seal was cracked.",
        "reason": "The seal of the transfer pump failed.",
        "cause": "spillage",
        "happened_at": at(0),
        "product": "new spirit",
        "pure_ul": pure_ul,
        "percent": 70.0,
    }
    return Proposal(**(values | other))  # type: ignore[arg-type]
