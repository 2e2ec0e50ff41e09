"""A page asks the database as often with two hundred casks beside the sample month as with ten."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from batches.steps import STEPS
from distillery.people.models import Person
from distillery.plant.models import MICRO, Cask, Kind, Stage, Vessel
from ledger.posting.accounts import difference, source, vessel_account
from ledger.posting.drafts import Draft, Line, Moved, Taken
from ledger.posting.post import post
from tests.ledger.plant import gauge, quantity

FILLED = datetime(2027, 3, 31, 6, tzinfo=UTC)
PAGES = (
    "/",
    "/warehouse/",
    "/warehouse/?warehouse=1A&state=full",
    "/warehouse/expected/",
    "/warehouse/expected/?warehouse=1A",
    "/warehouse/numbers/?q=20",
    "/casks/2022/0007/",
    "/bottling/",
    "/plant/",
    "/plant/instruments/",
    "/site/",
    "/find/?q=2022",
    "/books/accounts/",
    "/bench/gauge/",
    "/bench/cask/",
    *(f"/records/{sheet.kind}/new/" for sheet in STEPS),
)


def queries_of(client: Client) -> dict[str, int]:
    counted = {}
    for page in PAGES:
        with CaptureQueriesContext(connection) as asked:
            assert client.get(page).status_code == 200, page
        counted[page] = len(asked)
    return counted


def fill(person: Person, numbers: range) -> None:
    """Casks of the warehouse there is, each filled and every second gauged, as records would post it."""
    for number in numbers:
        code = f"2027/{1000 + number}"
        vessel = Vessel.objects.create(code=code, name=code, kind=Kind.CASK, stage=Stage.MATURING)
        Cask.objects.create(
            vessel=vessel, kind="barrel", nominal_ul=200 * MICRO, warehouse="1A", tare_g=50_000, filled_at=FILLED
        )
        account, at = vessel_account(vessel), FILLED + timedelta(seconds=number)
        _post(person, "cask fill", code, at, Moved(source("opening stock"), account, quantity(120.0)))
        if number % 2:
            taken = Taken(gauge(vessel, 119.0, name="regauge", role="after"), difference("regauge"))
            _post(person, "regauge", code, at + timedelta(hours=1), taken)


def _post(person: Person, operation: str, code: str, at: datetime, line: Line) -> None:
    post(
        Draft(
            kind=operation,
            operation=operation,
            happened_at=at,
            record_kind=operation,
            record_number=f"X-{operation}-{code}",
            moment="done",
            lines=(line,),
        ),
        person=person,
    )


@pytest.mark.long
def test_the_pages_of_casks_and_every_sheet(
    loaded_month: Path, administrator: Person, browser_of: Callable[[Person], Client]
) -> None:
    client = browser_of(administrator)
    fill(administrator, range(10))
    queries_of(client)
    # Counted just after something was written: until then the process remembers what is on.
    fill(administrator, range(10, 12))
    few = queries_of(client)
    fill(administrator, range(12, 200))
    assert queries_of(client) == few
    assert max(few.values()) <= 60
