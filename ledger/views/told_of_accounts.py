"""What the floor that keeps records tells of an account on its page: what of it was recalled, and other ways to it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from distillery.pages import Link
from ledger.models import Account, AccountKind

RECALLED: Final[list[Callable[[Account], list[Link]]]] = []
WAYS: Final[list[Callable[[Account], list[Link]]]] = []


def told_of(account: Account) -> tuple[list[Link], list[Link]]:
    """What was recalled of what an account holds, and the ways from it to other pages; nothing of ways in and out."""
    if account.kind not in (AccountKind.VESSEL, AccountKind.STOCK):
        return [], []
    return [one for tell in RECALLED for one in tell(account)], [one for tell in WAYS for one in tell(account)]
