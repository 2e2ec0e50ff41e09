"""What the digest of a closing covers, and that of a stock period.

What is hashed, exactly, as for a movement: the digest of the closing before (64 noughts before the first), a line
feed, and the content below as one line of JSON with sorted keys, no spaces and all characters beyond ASCII escaped.
SHA-256, written in hexadecimal.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ledger.periods.models import Closing, StockPeriod
from ledger.proof.sealing import canonical, seal, utc

# Code of an account, pure alcohol in microlitres, mass in grams.
Balance = tuple[str, int, int]


def content(closing: Closing, balances: Iterable[Balance], *, people: Mapping[int, str]) -> dict[str, Any]:
    """The closing as plain data, in the form that is sealed."""
    request = closing.request
    return {
        "number": closing.number,
        "period": closing.period,
        "begins": utc(closing.begins),
        "ends": utc(closing.ends),
        "asked_by": people[request.person_id],
        "asked_at": utc(request.asked_at),
        "asked_after": request.last_number,
        "remark": request.remark,
        "agreed_by": people[closing.person_id],
        "agreed_at": utc(closing.agreed_at),
        "last_number": closing.last_number,
        "last_seal": closing.last_seal,
        "books_seal": closing.books_seal,
        "balances": [list(balance) for balance in sorted(balances)],
    }


def digest(closing: Closing, balances: Iterable[Balance], *, people: Mapping[int, str]) -> str:
    """The digest that what a closing says and froze gives, after the digest of the one before."""
    return seal(closing.previous_digest, canonical(content(closing, balances, people=people)))


def stock_period_content(period: StockPeriod, *, people: Mapping[int, str]) -> dict[str, Any]:
    """The stock period as plain data, in the form that is sealed."""
    return {
        "code": period.code,
        "first_day": period.first_day.isoformat(),
        "last_day": period.last_day.isoformat(),
        "source": period.source,
        "person": people[period.person_id],
        "entered_at": utc(period.entered_at),
    }
