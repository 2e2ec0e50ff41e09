"""A page of the books asks the database as often at ten times the movements as at one time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import timedelta
from pathlib import Path

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from distillery.alcoholometry.quantity import Quantity
from distillery.people.models import Person
from distillery.plant.models import Vessel
from ledger.kept.keeping import let_go
from ledger.models import Movement
from ledger.posting.accounts import vessel_account
from ledger.posting.drafts import Draft, Moved
from ledger.posting.post import post
from ledger.statements.month import bounds

PERIOD = "2027-03"
PAGES = (
    f"/books/accounts/SV/?month={PERIOD}",
    f"/books/months/{PERIOD}/",
    "/plant/",
    f"/books/findings/?month={PERIOD}",
)


def queries_of(client: Client, asked_for: Sequence[str] = PAGES) -> dict[str, int]:
    counted = {}
    for page in asked_for:
        with CaptureQueriesContext(connection) as asked:
            assert client.get(page).status_code == 200
        counted[page] = len(asked)
    return counted


def compared_and_kept(client: Client) -> tuple[dict[str, int], dict[str, int]]:
    """The queries of a look that compares the month anew, and those of one that finds the comparison kept."""
    queries_of(client)
    counted = {}
    for page in PAGES:
        let_go()
        counted |= queries_of(client, (page,))
    return counted, queries_of(client)


def fill(person: Person, times: int) -> None:
    """So many times the movements there are, a thimble to and fro between two vats."""
    one, two = (vessel_account(Vessel.objects.get(code=code)) for code in ("SV", "GV"))
    # After the last gauge of the month: what is asked here is reading, not writing into the past.
    start = bounds(PERIOD)[1] - timedelta(hours=10)
    thimble = Quantity(pure_ul=1000, mass_g=1, litres20=0.001, percent20=60.0, uncertainty_ul=1.0)
    for number in range(Movement.objects.count() * (times - 1)):
        pair = (one, two) if number % 2 else (two, one)
        post(
            Draft(
                kind="transfer",
                operation="transfer",
                happened_at=start + timedelta(seconds=number),
                record_kind="transfer",
                record_number=f"TR{5000 + number}",
                moment="moved",
                lines=(Moved(*pair, thimble),),
            ),
            person=person,
        )


@pytest.mark.slow
def test_the_pages_of_the_books(loaded_month: Path, manager: Person, browser_of: Callable[[Person], Client]) -> None:
    client = browser_of(manager)
    once = compared_and_kept(client)
    fill(manager, 10)
    assert compared_and_kept(client) == once


@pytest.mark.long
def test_the_pages_of_the_books_at_a_little_more(
    loaded_month: Path, manager: Person, browser_of: Callable[[Person], Client]
) -> None:
    client = browser_of(manager)
    once = compared_and_kept(client)
    fill(manager, 2)
    assert compared_and_kept(client) == once
    first, kept = once
    # One of them asks which casks were weighed and emptied.
    assert max(first.values()) <= 77
    assert max(kept.values()) <= 46
