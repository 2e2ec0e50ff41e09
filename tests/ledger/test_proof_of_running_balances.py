"""A running balance that is kept under another account than its leg's is named, the last of an account too."""

from __future__ import annotations

import pytest
from django.db import connection, transaction

from distillery.database.guards import remove
from distillery.trail.checks import all_guards
from ledger.models import Account, RunningBalance
from ledger.proof.proving import prove

pytestmark = pytest.mark.django_db


def test_the_last_running_balance_of_an_account_moved_to_another_is_seen(small_books: None) -> None:
    remove(connection, all_guards(connection))
    looked_at = 0
    for account in Account.objects.filter(pk__in=RunningBalance.objects.values("account")):
        last = RunningBalance.objects.filter(account=account).order_by("happened_at", "position", "leg_id").last()
        other = Account.objects.exclude(pk=account.pk).first()
        assert last is not None
        with transaction.atomic():
            RunningBalance.objects.filter(pk=last.pk).update(account=other)
            broken = prove().broken
            transaction.set_rollback(True)
        assert broken, f"the last running balance of {account.code} under {other} was not seen"
        looked_at += 1
    assert looked_at > 5
    assert prove().broken == []
