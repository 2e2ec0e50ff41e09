"""The line that everything something recalled has touched bears: what, how much of it, who said so and why."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import QuerySet

from batches.pages.tracing.names import trace_address
from batches.recalls.models import Recall
from batches.recalls.recalling import standing
from batches.recalls.touching import recalls_of_account, recalls_of_accounts, recalls_of_record
from distillery import figures, pages
from ledger.models import Account

SHARE_PLACES = 4
HELD = "of what it holds"


def recalls_on_record(record: int) -> list[pages.Link]:
    """What a record's page says of recalls that stand."""
    return _said(recalls_of_record(record), "of what it took")


def recalls_in(account: Account | None) -> list[pages.Link]:
    """What the page of a cask, a vessel or a stock says of them."""
    return _said(recalls_of_account(account), HELD)


def recalls_in_stock(stocks: QuerySet[Account]) -> list[pages.Link]:
    """What the page of bottling says of all stocks together; they are read only where something is recalled."""
    if not standing().exists():
        return []
    found = []
    every = list(stocks)
    for one, recalls in zip(every, recalls_of_accounts(every), strict=True):
        found += [pages.Link(f"{one.name}: {line.text}", line.href, line.note) for line in _said(recalls, HELD)]
    return found


def recall_itself(one: Recall) -> pages.Link:
    """What the page of the very thing says that was recalled."""
    return _line(one, "")


def ways_of_account(account: Account) -> list[pages.Link]:
    """The way from an account of a vessel or stock to its trace."""
    ref = account.vessel.code if account.vessel is not None else account.code.removeprefix("stock:")
    return [pages.Link("Trace", trace_address(ref))]


def _said(found: Iterable[tuple[Recall, float]], of: str) -> list[pages.Link]:
    return [_line(one, f"{figures.percent(100 * part, SHARE_PLACES)} % {of}") for one, part in found]


def _line(one: Recall, share: str) -> pages.Link:
    said = f"recalled {figures.moment(one.said_at)} by {one.person.shown_name}: {one.reason}"
    return pages.Link(
        f"{one.what.capitalize()} {one.ref}", trace_address(one.ref, "recall"), f"{said}{f'; {share}' if share else ''}"
    )
