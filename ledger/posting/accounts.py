"""Names for accounts, made at first use: a vessel, a bottled product, a source, a loss, a difference.

A reference is a frozen description; the row in the ledger is made when the first movement needs it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from django.db import DEFAULT_DB_ALIAS

from distillery.database.fixed_sql import ask, marks
from distillery.plant.models import Kind, Stage, Vessel
from ledger.models import Account, AccountKind

# What stood on the site before its books began.
OPENING_STOCK = "opening stock"
# What the codes of the accounts of vessels begin with, and of those that hold what gauges found.
VESSEL_ACCOUNT: Final = "vessel:"
GAUGING = "difference:gauging:"

_COLUMNS: Final = [field.attname for field in Account._meta.concrete_fields]
_ACCOUNTS: Final = f"SELECT {', '.join(_COLUMNS)} FROM ledger_account"


@dataclass(frozen=True, slots=True)
class AccountRef:
    """What identifies an account and what it is made with."""

    code: str
    kind: str
    name: str
    stage: str = ""
    vessel_id: int | None = None
    floor_zero: bool = False
    bottle_pure_ul: int | None = None

    @property
    def is_difference(self) -> bool:
        """True of what an operation left unaccounted for; what a gauging found is not meant."""
        return self.kind == AccountKind.DIFFERENCE and not self.code.startswith(GAUGING)

    @property
    def holds(self) -> bool:
        """True where alcohol can be: a vessel or bottled stock."""
        return self.kind in (AccountKind.VESSEL, AccountKind.STOCK)


def vessel_account(vessel: Vessel) -> AccountRef:
    """The account of a vessel; a cask's book may not fall below nothing."""
    return AccountRef(
        code=f"{VESSEL_ACCOUNT}{vessel.code}",
        kind=AccountKind.VESSEL,
        name=vessel.name,
        stage=vessel.stage,
        vessel_id=vessel.pk,
        floor_zero=vessel.kind == Kind.CASK,
    )


def bottled_account(product: str, centilitres: Decimal, label_percent: Decimal, bottle_pure_ul: int) -> AccountRef:
    """Bottled stock of one product, size (centilitres) and label strength (% vol)."""
    size, strength = f"{centilitres.normalize():f}", f"{label_percent.normalize():f}"
    return AccountRef(
        code=f"stock:{product}/{size}/{strength}",
        kind=AccountKind.STOCK,
        name=f"{product}, {size} cl at {strength} %",
        stage=Stage.BOTTLED,
        floor_zero=True,
        bottle_pure_ul=bottle_pure_ul,
    )


def source(name: str) -> AccountRef:
    """Where alcohol enters the books: fermentation, received under bond, returned inward, opening stock."""
    return AccountRef(code=f"source:{name}", kind=AccountKind.SOURCE, name=name)


def removal(kind: str) -> AccountRef:
    """Where alcohol leaves the books: home use, constructive removal, under bond, export, samples, destroyed under
    witness."""
    return AccountRef(code=f"removal:{kind}", kind=AccountKind.REMOVAL, name=kind)


def loss(cause: str) -> AccountRef:
    """A loss that has been measured or explained, by its cause."""
    return AccountRef(code=f"loss:{cause}", kind=AccountKind.LOSS, name=cause)


def difference(operation: str) -> AccountRef:
    """What an operation left unaccounted for and nobody has explained yet."""
    return AccountRef(code=f"difference:{operation}", kind=AccountKind.DIFFERENCE, name=f"difference, {operation}")


def gauging(vessel: Vessel) -> AccountRef:
    """What the gauges of a vessel found more or less than its book."""
    return AccountRef(
        code=f"difference:gauging:{vessel.code}",
        kind=AccountKind.DIFFERENCE,
        name=f"difference, gauging of {vessel.name}",
        stage=vessel.stage,
    )


def gauging_of(account: Account) -> AccountRef:
    """The gauging difference of a vessel's account that is already in the ledger."""
    code = account.code.removeprefix(VESSEL_ACCOUNT)
    return AccountRef(
        code=f"difference:gauging:{code}",
        kind=AccountKind.DIFFERENCE,
        name=f"difference, gauging of {account.name}",
        stage=account.stage,
    )


def water() -> AccountRef:
    """Water added: mass and no alcohol."""
    return AccountRef(code="water", kind=AccountKind.WATER, name="water")


def _known(codes: Collection[str]) -> dict[str, Account]:
    if not codes:
        return {}
    rows = ask(f"{_ACCOUNTS} WHERE code IN {marks(codes)}", list(codes))
    accounts = [Account.from_db(DEFAULT_DB_ALIAS, _COLUMNS, row) for row in rows]
    return {account.code: account for account in accounts}


def open_accounts(refs: Iterable[AccountRef]) -> dict[str, Account]:
    """Rows for all references, by code; those not yet there are made. Two queries at the most."""
    wanted = {ref.code: ref for ref in refs}
    found = _known(wanted)
    fresh = [ref for code, ref in wanted.items() if code not in found]
    if fresh:
        for account in Account.objects.bulk_create(
            Account(
                code=ref.code,
                kind=ref.kind,
                name=ref.name,
                stage=ref.stage,
                vessel_id=ref.vessel_id,
                floor_zero=ref.floor_zero,
                bottle_pure_ul=ref.bottle_pure_ul,
            )
            for ref in fresh
        ):
            found[account.code] = account
    return found
