"""What counts of bottled stock found missing or over, by the legs that stand, and what was explained of it since.

A count brings the book of a stock to what was found, so what it found apart stands on the stock's own account of
differences, one leg for each count. Whole microlitres of pure alcohol at 20 °C, missing positive.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Final

from django.db.models import F, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from ledger.models import Account, AccountKind, Leg, Movement, MovementKind
from ledger.posting.accounts import GAUGING

# What it is called where its review threshold is set, and in its finding and enquiry.
STOCK_COUNT: Final = "bottled stock count"
_STOCKS: Final = f"{GAUGING}stock:"
_KEY: Final = "count:"


@dataclass(frozen=True, slots=True)
class CountedStock:
    """One count that found bottles missing or over. `book_ul` is what the whole stock had by its book before it."""

    record: str
    record_kind: str
    at: datetime
    stock: str
    name: str
    difference_ul: int
    explained_ul: int
    book_ul: int
    bottle_ul: int

    @property
    def key(self) -> str:
        """Names the count and its stock, whatever is found there: 'count:CB0001/stock:gin/70/41.4'."""
        return f"{_KEY}{self.record}/{self.stock}"

    @property
    def open_ul(self) -> int:
        """What of the difference nobody has explained yet."""
        return self.difference_ul - self.explained_ul

    @property
    def bottles(self) -> int:
        """How many bottles the open difference comes to, missing positive."""
        return round(self.open_ul / self.bottle_ul) if self.bottle_ul else 0


def difference_account_of(key: str) -> str:
    """Code of the account of differences that a count's key is about; blank for the key of anything else."""
    return f"{GAUGING}{key.partition('/')[2]}" if key.startswith(_KEY) else ""


def label_percent_of(key: str) -> Decimal | None:
    """Strength on the label (% vol) of the bottles that a count's key is about; None for the key of anything else."""
    return Decimal(key.rpartition("/")[2]) if key.startswith(_KEY) else None


def counted_stock(movements: QuerySet[Movement]) -> list[CountedStock]:
    """What counts among these operations found apart, in order of time; a few questions, one where none ever did."""
    apart = {
        one.pk: one.code.removeprefix(GAUGING)
        for one in Account.objects.filter(kind=AccountKind.DIFFERENCE, code__startswith=_STOCKS)
    }
    if not apart:
        return []
    stocks = {one.code: one for one in Account.objects.filter(code__in=apart.values())}
    before = (
        Leg.objects.filter(account=OuterRef("other"))
        .filter(
            Q(happened_at__lt=OuterRef("happened_at"))
            | Q(happened_at=OuterRef("happened_at"), position__lt=OuterRef("position"))
        )
        .order_by()
        .values("account")
        .annotate(total=Sum("pure_ul"))
        .values("total")
    )
    legs = (
        Leg.objects.filter(account__in=apart, movement__in=movements)
        .annotate(book_ul=Coalesce(Subquery(before), 0), took_place_at=Coalesce("movement__true_at", F("happened_at")))
        .order_by("took_place_at", "movement_id", "line")
        .values_list(
            "movement__record_number", "movement__record_kind", "took_place_at", "account_id", "pure_ul", "book_ul"
        )
    )
    found = list(legs)
    explained = _explained(apart, {record for record, *_ in found})
    return [
        CountedStock(
            record=record,
            record_kind=record_kind,
            at=at,
            stock=apart[account],
            name=stocks[apart[account]].name,
            difference_ul=pure_ul,
            explained_ul=explained.get((record, account), 0),
            book_ul=book_ul,
            bottle_ul=stocks[apart[account]].bottle_pure_ul or 0,
        )
        for record, record_kind, at, account, pure_ul, book_ul in found
    ]


def _explained(accounts: Collection[int], records: Collection[str]) -> dict[tuple[str, int], int]:
    if not records:
        return {}
    legs = Leg.objects.standing().filter(
        account__in=accounts, movement__kind=MovementKind.EXPLANATION, movement__record_number__in=records
    )
    explained: dict[tuple[str, int], int] = defaultdict(int)
    for record, account, pure_ul in legs.values_list("movement__record_number", "account_id", "pure_ul"):
        explained[record, account] -= pure_ul
    return dict(explained)
