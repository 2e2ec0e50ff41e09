"""The list of accounts with what each holds or has passed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.db.models import Q, QuerySet, Sum

from distillery.lists.columns import ListColumn, LpaColumn
from distillery.lists.filters import HouseFilters, OneOfFilter, TextFilter
from distillery.lists.tables import HouseTable
from distillery.plant.lookup import FIXED
from distillery.plant.models import Stage, Vessel
from ledger.models import Account, AccountKind, Balance
from ledger.views.ways import account_href, short


class AccountTable(HouseTable):
    """Every account but the casks."""

    account = ListColumn("Account", "name", href=account_href)
    code = ListColumn("Code", short)
    kind = ListColumn("Kind", lambda row: row.get_kind_display(), order=("-kind", "code"))
    stage = ListColumn("Stage", lambda row: row.get_stage_display(), none="Several")
    balance = LpaColumn("Balance", lambda row: row.balance.balance_ul if hasattr(row, "balance") else 0)

    name = "accounts"
    caption = "All accounts"
    note = "casks are in the warehouse"
    nothing = "No account has been opened: nothing has been posted yet."
    nothing_fits = "No accounts match. Clear the filter."
    adds_up_filtered = True

    class Meta(HouseTable.Meta):
        order_by = ("kind",)

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        assert isinstance(rows, QuerySet)
        held = Balance.objects.filter(account__in=rows.order_by().values("pk"))
        return {"balance": held.aggregate(all=Sum("balance_ul"))["all"] or 0}


class AccountFilters(HouseFilters):
    """By kind, stage and name."""

    kind = OneOfFilter("kind", label="Kind", choices=lambda: AccountKind.choices)
    stage = OneOfFilter("stage", label="Stage", choices=lambda: Stage.choices)
    named = TextFilter("name", label="Name has")


def accounts_but_casks() -> QuerySet[Account]:
    """All accounts but those of casks, with their balances."""
    # The few dozen vessels are asked for first; a site may have any number of casks, and their accounts come first.
    fixed = Vessel.objects.filter(kind__in=FIXED).order_by().values("pk")
    return Account.objects.filter(Q(vessel=None) | Q(vessel__in=fixed)).select_related("balance")
