"""What the floor that keeps records tells of an account on its page: what of it was recalled, other ways to it, and why
its entries were written late.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import Final

from distillery.pages import Link
from ledger.models import Account, AccountKind

RECALLED: Final[list[Callable[[Account], list[Link]]]] = []
WAYS: Final[list[Callable[[Account], list[Link]]]] = []
WHY_LATE: Final[list[Callable[[Collection[str]], dict[str, str]]]] = []


def told_of(account: Account) -> tuple[list[Link], list[Link]]:
    """What was recalled of what an account holds, and the ways from it to other pages; nothing of ways in and out."""
    if account.kind not in (AccountKind.VESSEL, AccountKind.STOCK):
        return [], []
    return [one for tell in RECALLED for one in tell(account)], [one for tell in WAYS for one in tell(account)]


def why_late(records: Collection[str]) -> dict[str, str]:
    """The reasons that were given for writing some records late, by number; a query where there are any records."""
    return {number: why for tell in WHY_LATE for number, why in tell(records).items()} if records else {}
