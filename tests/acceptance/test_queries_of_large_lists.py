"""Lists that are long on a large site, and the month's account, ask the database at most fifteen times a look.

None of them asks more often where there are more casks or movements (`test_queries_do_not_grow.py`, and
`tests/benchmarks/many_casks.py` at 50,000 casks); so a small plant shows how often. The month is looked at once before:
that look may compare it anew.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from urllib.parse import urlencode

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from batches.counting import counting
from batches.counting.models import StockTake
from batches.counting.planning import Planned, plan, warehouses_to_count
from batches.counting.walking import casks_lying
from distillery.clock.reading import books_today
from distillery.people.models import Person
from distillery.plant.models import Cask
from ledger.models import Account, AccountKind

MOST_QUERIES = 15


def queries_of(client: Client, pages: Sequence[str]) -> dict[str, int]:
    """How often each page asks on its second look."""
    counted = {}
    for page in pages:
        for _ in range(2):
            with CaptureQueriesContext(connection) as asked:
                assert client.get(page).status_code == 200, page
                counted[page] = len(asked)
    return counted


def stock_take_of_everything(person: Person) -> tuple[StockTake, str]:
    """Vessels, every warehouse and the bottles, begun: the first casks of the last warehouse seen, a sample weighed."""
    warehouses = warehouses_to_count()
    stocks = list(Account.objects.filter(kind=AccountKind.STOCK).values_list("code", flat=True))
    everywhere: dict[str, list[str]] = {one: [] for one in warehouses}
    planned = Planned(books_today(), vessels=["SV", "GV"], warehouses=everywhere, stocks=stocks, weigh_one_in=10)
    take = plan(planned, person=person)
    place = warehouses[-1]
    codes = [cask.vessel.code for cask in casks_lying(place)[:3]]
    counting.see_casks(take, place, codes, at="now", person=person)
    return take, place


@pytest.mark.long
def test_a_look_asks_at_most_fifteen_times(
    loaded_month: Path, manager: Person, browser_of: Callable[[Person], Client]
) -> None:
    take, place = stock_take_of_everything(manager)
    first = Cask.objects.filter(filled_at__isnull=False).order_by("pk")[0]
    Cask.objects.filter(pk=first.pk).update(seen_leaking_at=first.filled_at)
    found = queries_of(
        browser_of(manager),
        (
            "/warehouse/",
            f"/warehouse/?{urlencode({'warehouse': place, 'state': 'full'})}",
            "/warehouse/expected/",
            "/stock/casks/",
            "/books/months/2027-03/",
            f"/stock-takes/{take.serial}/",
            f"/stock-takes/{take.serial}/casks/?{urlencode({'in': place})}",
            f"/stock-takes/{take.serial}/vessels/",
            f"/stock-takes/{take.serial}/bottles/",
        ),
    )
    assert {page: number for page, number in found.items() if number > MOST_QUERIES} == {}
