"""Casks and bottles, which are not gauged at each step: their books may at no time fall below nothing."""

from __future__ import annotations

from typing import Final

from distillery.database.fixed_sql import as_kept, ask_one
from distillery.plant.models import MICRO
from ledger.models import Account
from ledger.periods.places import lowest_from
from ledger.posting.chain_end import ChainEnd
from ledger.posting.drafts import Refused

# An opposite and a restatement stand in the place of what they answer; only the last in a place counts.
# What is carried here from a closed period, below place nought, was looked at in its true place.
_LOWEST: Final = """
SELECT MIN(balance_ul) FROM ledger_runningbalance one
WHERE account_id = %s AND happened_at >= %s AND position >= 0
AND NOT EXISTS (
SELECT 1 FROM ledger_runningbalance behind WHERE behind.account_id = one.account_id
AND behind.happened_at = one.happened_at AND behind.position = one.position AND behind.leg_id > one.leg_id)
"""


def keep_floors(end: ChainEnd) -> None:
    """Raises Refused where more was drawn than was there, at that moment or at any later one."""
    for pk, keys in end.touched.items():
        account = end.accounts[pk]
        if not account.floor_zero:
            continue
        first = min(keys)
        if end.carrying.is_closed(first[0]):
            short_ul = -lowest_from(pk, first)
            if short_ul > 0:
                raise Refused(_too_little(account, short_ul), field="quantity")
            continue
        answer = ask_one(_LOWEST, [pk, as_kept(first[0])])
        lowest = answer[0] if answer is not None else None
        if lowest is not None and lowest < 0:
            raise Refused(_too_little(account, -lowest), field="quantity")


def _too_little(account: Account, missing_ul: int) -> str:
    if account.bottle_pure_ul:
        bottles = -(-missing_ul // account.bottle_pure_ul)
        return f"There are {bottles} bottles too few of {account.name} for this; count the stock or change the number."
    return (
        f"This draws {missing_ul / MICRO:.2f} litres of pure alcohol more from {account.name} than its book holds; "
        f"check the cask and the figures."
    )
