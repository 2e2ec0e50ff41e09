"""Rows put in by fixed SQL stand as the model itself would have put them, and answers come with their types."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from distillery.database.fixed_sql import LAST, add, add_one, as_kept, as_read, ask, ask_one, marks, tell, together
from distillery.plant.models import Kind, Stage
from distillery.seals.models import BooksSeal
from distillery.trail.models import Claim
from ledger.models import Account, AccountKind
from ledger.posting.accounts import open_accounts, vessel_account
from tests.ledger import plant

pytestmark = pytest.mark.django_db

# A time with microseconds in another zone, and one on the whole second: SQLite writes the two down in other lengths.
MOMENTS = (datetime(2027, 3, 12, 13, 0, 0, 250, tzinfo=timezone(timedelta(hours=1))), datetime(2027, 3, 12, tzinfo=UTC))


def account(code: str, **more: object) -> Account:
    return Account(code=code, kind=AccountKind.STOCK, name="40 % vol, 'as typed'", **more)


def seal(number: int, made_at: datetime) -> BooksSeal:
    digest = f"{number:064x}"
    return BooksSeal(
        number=number,
        made_at=made_at,
        movement=0,
        movement_seal=digest,
        entry=number,
        entry_digest=digest,
        previous_seal=digest,
        seal=digest,
    )


def test_rows_put_in_are_those_the_model_puts_in():
    added = [account("stock:a", floor_zero=True, bottle_pure_ul=LAST), account("stock:b", stage=Stage.BOTTLED)]
    add(added)
    made = [account("stock:c", floor_zero=True, bottle_pure_ul=LAST), account("stock:d", stage=Stage.BOTTLED)]
    Account.objects.bulk_create(made)
    columns = ("kind", "name", "stage", "vessel_id", "floor_zero", "bottle_pure_ul")
    rows = {row[0]: row[1:] for row in Account.objects.filter(kind="stock").values_list("code", *columns)}
    assert rows["stock:a"] == rows["stock:c"] == ("stock", "40 % vol, 'as typed'", "", None, True, LAST)
    assert rows["stock:b"] == rows["stock:d"]
    assert not added[0]._state.adding


def test_rows_go_in_in_their_order_however_many():
    add([account(f"stock:{number:03}") for number in range(300)])
    codes = Account.objects.filter(kind="stock").order_by("pk").values_list("code", flat=True)
    assert list(codes) == [f"stock:{number:03}" for number in range(300)]


def test_nothing_asks_nothing():
    with CaptureQueriesContext(connection) as asked:
        add([])
    assert len(asked) == 0


def test_a_row_put_in_by_itself_has_its_key():
    first = Claim.objects.order_by("-last").values_list("last", flat=True).first() or 0
    one = Claim(first=first + 1, last=first + 2, way="tests")
    add_one(one)
    assert Claim.objects.get(pk=one.pk).last == first + 2


@pytest.mark.parametrize("moment", MOMENTS)
def test_a_moment_is_kept_and_found_as_the_model_has_it(moment: datetime):
    add([seal(900, moment)])
    assert BooksSeal.objects.get(number=900).made_at == moment
    row = ask_one("SELECT made_at FROM seals_booksseal WHERE number = %s AND made_at = %s", [900, as_kept(moment)])
    assert row is not None
    assert as_read(row[0]) == moment
    assert as_read(row[0]).tzinfo is not None


def test_a_refusal_of_the_database_is_one_of_django():
    add([account("stock:twice")])
    with pytest.raises(IntegrityError), transaction.atomic():
        add([account("stock:once"), account("stock:twice")])
    assert ask("SELECT id FROM ledger_account WHERE code = %s", ["stock:once"]) == []


def test_answers_of_many_come_for_any_number():
    codes = ["stock:a", "stock:b", "stock:c"]
    add([account(code) for code in codes])
    for some in (codes, codes[:1]):
        rows = ask(f"SELECT code FROM ledger_account WHERE code IN {marks(some)} ORDER BY code", some)
        assert [row[0] for row in rows] == some


def test_the_same_question_again_and_again_is_answered_from_the_table_as_it_is():
    """Once prepared a statement must not keep an answer."""
    add([account("stock:a")])
    for number in range(1, 12):
        tell("UPDATE seals_booksseal SET movement = movement WHERE number = %s", [LAST])
        add([account(f"stock:again {number}")])
        row = ask_one("SELECT COUNT(*) FROM ledger_account WHERE kind = %s", ["stock"])
        assert row == (number + 1,)


def test_accounts_found_again_are_what_was_made():
    cask = plant.vessel("C1", kind=Kind.CASK, stage=Stage.MATURING)
    made = open_accounts([vessel_account(cask)])["vessel:C1"]
    found = open_accounts([vessel_account(cask)])["vessel:C1"]
    assert found == made
    assert (found.floor_zero, found.vessel_id, found.stage) == (True, cask.pk, Stage.MATURING)
    assert isinstance(found.floor_zero, bool), "a number would be sealed as another text"


def test_what_goes_together_stands_in_its_order():
    with together():
        add([account("stock:a"), account("stock:b")])
        add([account("stock:c")])
    codes = Account.objects.filter(kind="stock").order_by("pk").values_list("code", flat=True)
    assert list(codes) == ["stock:a", "stock:b", "stock:c"]


def test_a_refusal_of_what_goes_together_is_one_of_django_and_nothing_of_it_stands():
    def refused() -> None:
        with transaction.atomic(), together():
            add([account("stock:first"), account("stock:twice")])
            add([account("stock:after")])

    add([account("stock:twice")])
    with pytest.raises(IntegrityError):
        refused()
    assert ask("SELECT code FROM ledger_account WHERE kind = %s", ["stock"]) == [("stock:twice",)]
