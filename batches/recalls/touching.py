"""What a recall touched: records and places that some of it is in, and how much of each is of it.

Worked out anew whenever the books have moved on, and remembered until then by the process that asked. Feints carry a
trace of everything on to whatever is distilled later, so a share must be said from which a thing counts as touched:
one part in a million of what is in it (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Final

from batches.recalls.models import Recall
from batches.recalls.recalling import standing
from batches.tracing.references import NoSuchReference, refer
from batches.tracing.trace import Trace, follow_trace
from ledger.models import Account
from ledger.so_far import so_far

LEAST_TOUCHED: Final = 1e-6
REMEMBERED: Final = 32


@dataclass(frozen=True, slots=True)
class Touched:
    """Shares (0 to 1) of what records took and accounts hold that are of what was recalled, by their keys."""

    records: dict[int, float] = field(default_factory=dict)
    accounts: dict[int, float] = field(default_factory=dict)


def touched_by(ref: str) -> Touched:
    """What something touched; nothing where its number is no longer known."""
    return _touched_by(ref, so_far())


@lru_cache(maxsize=REMEMBERED)
def _touched_by(ref: str, _so_far: tuple[object, ...]) -> Touched:
    try:
        return _of_trace(follow_trace(refer(ref)))
    except NoSuchReference:
        return Touched()


def _of_trace(trace: Trace) -> Touched:
    records = {pk: part for pk, part in trace.ahead.parts.items() if part >= LEAST_TOUCHED}
    accounts = {
        one.account_id: one.of_itself
        for one in trace.forward
        if one.account_id is not None and one.of_itself >= LEAST_TOUCHED
    }
    if trace.start.account is not None:
        accounts[trace.start.account.pk] = 1.0
    return Touched(records, accounts)


def recalls_of_record(record: int) -> list[tuple[Recall, float]]:
    """Recalls that stand and touched a record, each with the share of it. One question where none stands."""
    return [(one, part) for one in standing() if (part := touched_by(one.ref).records.get(record)) is not None]


def recalls_of_account(account: Account | None) -> list[tuple[Recall, float]]:
    """The same of what an account holds."""
    return [] if account is None else recalls_of_accounts([account])[0]


def recalls_of_accounts(accounts: Iterable[Account]) -> list[list[tuple[Recall, float]]]:
    """The same of each of several accounts, in their order."""
    touched = [(one, touched_by(one.ref).accounts) for one in standing()]
    return [[(one, parts[account.pk]) for one, parts in touched if account.pk in parts] for account in accounts]
