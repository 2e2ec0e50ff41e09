"""Closings as they are handed out: in the form that is sealed, and as tables."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

from distillery.people.models import Person
from ledger.models import Account
from ledger.periods import sealed
from ledger.periods.models import Closing, ClosingBalance
from ledger.proof import sealing

COLUMNS: Final[dict[str, tuple[tuple[str, str], ...]]] = {
    "closings": (
        ("number", "place in the chain of closings, from 1 without gaps"),
        ("period", "the period that was closed, and everything before it"),
        ("begins", "first moment of the period, UTC to the microsecond"),
        ("ends", "first moment that no longer belongs to it, UTC to the microsecond"),
        ("asked_by", "sign-on name of who asked for it"),
        ("asked_at", "when it was asked for, UTC to the microsecond"),
        ("asked_after", "number of the newest movement when it was asked for"),
        ("remark", "why it was closed all the same, where something was still open"),
        ("agreed_by", "sign-on name of who agreed"),
        ("agreed_at", "when it was agreed to, UTC to the microsecond"),
        ("last_number", "number of the newest movement when it was closed; nothing younger belongs to the period"),
        ("last_seal", "seal of that movement"),
        ("books_seal", "last seal of the books before it was closed, as in seals.jsonl"),
        ("previous_digest", "digest of the closing before; 64 noughts before the first"),
        ("digest", "digest of this closing"),
    ),
    "closing_balances": (
        ("number", "closing"),
        ("code", "account"),
        ("pure_ul", "sum of its legs up to the end of the period, microlitres; accounts at nothing are left out"),
        ("mass_g", "the same in grams"),
    ),
}

HASHED: Final = """\
Every line of closings.jsonl is one JSON object with "previous_digest", "digest" and "content": the digest of a closing
is made like a seal, from the digest of the closing before it (sixty-four noughts for closing 1), one line feed, and its
content on one line. "balances" lists account, pure_ul and mass_g in order of the account's code, as in
closing_balances.csv, and holds what every account came to up to the end of the period.
"""


def lines(upto: int) -> Iterator[str]:
    """Each closing made when the chain ended no later than at a movement, as one line of JSON."""
    for closing, content in _contents(upto):
        line = sealing.canonical(content)
        yield f'{{"content":{line},"digest":"{closing.digest}","previous_digest":"{closing.previous_digest}"}}\n'


def closing_rows(upto: int) -> Iterator[Sequence[Any]]:
    """The closings without their balances."""
    names = [column for column, _ in COLUMNS["closings"]]
    for closing, content in _contents(upto):
        values = {**content, "digest": closing.digest, "previous_digest": closing.previous_digest}
        yield [values[name] for name in names]


def balance_rows(upto: int) -> Iterator[Sequence[Any]]:
    """What each closing froze."""
    for closing, content in _contents(upto):
        for balance in content["balances"]:
            yield [closing.number, *balance]


def _contents(upto: int) -> Iterator[tuple[Closing, dict[str, Any]]]:
    people = dict(Person.objects.values_list("pk", "username"))
    codes = dict(Account.objects.values_list("pk", "code"))
    for closing in Closing.objects.filter(last_number__lte=upto).select_related("request").order_by("number"):
        rows = ClosingBalance.objects.filter(closing=closing).values_list("account_id", "pure_ul", "mass_g")
        balances = [(codes[account], pure, mass) for account, pure, mass in rows]
        yield closing, sealed.content(closing, balances, people=people)
