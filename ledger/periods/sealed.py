"""What the digest of a closing covers, and that of a stock period.

What is hashed, exactly, as for a movement: the digest of the closing before (64 noughts before the first), a line
feed, and the content below as one line of JSON with sorted keys, no spaces and all characters beyond ASCII escaped.
SHA-256, written in hexadecimal.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from json.encoder import encode_basestring_ascii as quoted
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


class Codes:
    """The codes of all accounts in their order, to write what many closings froze of them. Microlitres, grams."""

    def __init__(self, codes: Mapping[int, str]) -> None:
        self._texts = [(pk, quoted(code)) for code, pk in sorted((code, pk) for pk, code in codes.items())]

    def digest(self, closing: Closing, frozen: Mapping[int, tuple[int, int]], *, people: Mapping[int, str]) -> str:
        """As `digest`, of what was frozen by the key of its account. Raises KeyError for one that is not there,
        ValueError for a sum that is no whole number."""
        texts = [f"[{code},{frozen[pk][0]:d},{frozen[pk][1]:d}]" for pk, code in self._texts if pk in frozen]
        if len(texts) != len(frozen):
            raise KeyError(min(frozen.keys() - {pk for pk, _ in self._texts}))
        # The balances are the second of the members by name.
        begun, none, ended = canonical(content(closing, (), people=people)).partition('"balances":[]')
        assert none, "A closing's content has no balances."
        return seal(closing.previous_digest, f'{begun}"balances":[{",".join(texts)}]{ended}')


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
