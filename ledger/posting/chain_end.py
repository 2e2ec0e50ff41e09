"""The end of the chain, held by whoever writes: puts movements there one after another, sealed.

It remembers which places of which books were written to, for those who look at what comes after them.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Final

from distillery.database import fixed_sql
from distillery.people.models import Person
from ledger.models import Account, Gauge, Leg, Movement
from ledger.periods.carrying import Carrying, Place
from ledger.periods.places import Key, true_key
from ledger.posting.accounts import AccountRef, open_accounts
from ledger.proof import sealing
from ledger.proof.sealing import Details

_MOVED: Final = "UPDATE ledger_head SET last_number = %s, last_seal = %s WHERE id = 1"


class ChainEnd:
    """The end of the chain, which the caller's turn holds; `release` notes where the chain has come to.

    `end` is the number and seal of the last movement as the turn began.
    `touched` has the places written to by account, in true order; `before` is the number of the last movement that was
    there: those put here have higher ones.
    """

    def __init__(self, end: tuple[int, str], *, person: Person, second: Person | None, written_at: datetime) -> None:
        self._last_number, self._last_seal = end
        self.before = self._last_number
        self._person = person
        self._second = second
        self._written_at = written_at
        self.carrying = Carrying()
        self.accounts: dict[int, Account] = {}
        self.touched: dict[int, set[Key]] = {}

    @property
    def next_number(self) -> int:
        return self._last_number + 1

    def open(self, refs: Iterable[AccountRef]) -> dict[str, Account]:
        """The accounts of these references by code, made where they are not there yet."""
        accounts = open_accounts(refs)
        self.accounts.update({account.pk: account for account in accounts.values()})
        return accounts

    def movement(
        self,
        *,
        kind: str,
        operation: str,
        place: Place,
        record: tuple[str, str, str],
        reason: str,
        slot: int,
        record_digest: str = "",
        corrects: Movement | None = None,
        restates: Gauge | None = None,
    ) -> Movement:
        """The next movement, neither sealed nor saved. `record` is its kind, number and moment."""
        return Movement(
            id=self.next_number,
            kind=kind,
            operation=operation,
            happened_at=place.happened_at,
            true_at=place.true_at,
            written_at=self._written_at,
            period=place.period,
            person=self._person,
            second=self._second,
            record_kind=record[0],
            record_number=record[1],
            moment=record[2],
            reason=reason,
            corrects=corrects,
            restates=restates,
            slot=slot,
            record_digest=record_digest,
            previous_seal=self._last_seal,
        )

    def put(self, movement: Movement, legs: list[Leg], details: Details) -> Movement:
        """Legs and what hangs on them first; the movement last, when the database weighs the legs and closes them."""
        self._know(sealing.accounts_of(legs, details))
        people = {person.pk: person.username for person in (self._person, self._second) if person is not None}
        line = sealing.Script(self.accounts, people).line_of(movement, legs, details)
        movement.seal = sealing.seal(self._last_seal, line)
        with fixed_sql.together():
            # Gauges and measured flows are rows of one table.
            for rows in (legs, [*details.gauges, *details.flows], details.figures, details.duties, [movement]):
                fixed_sql.add(rows)
        self._last_number, self._last_seal = movement.pk, movement.seal
        for leg in legs:
            self.touched.setdefault(leg.account_id, set()).add(true_key(movement, leg))
        for gauge in details.gauges:
            # One that met its book to the microlitre has no leg, and still hands a new book on.
            self.touched.setdefault(gauge.account.pk, set()).add((gauge.happened_at, gauge.position))
        return movement

    def release(self) -> None:
        """Notes the last number and its seal."""
        fixed_sql.tell(_MOVED, [self._last_number, self._last_seal])

    def _know(self, account_ids: set[int]) -> None:
        unknown = account_ids - self.accounts.keys()
        if unknown:
            self.accounts.update(Account.objects.in_bulk(unknown))
