"""Proves the ledger: adds every account up again, compares every kept sum, recomputes every seal.

Everything is read in the order of the chain and nothing is held but sums and one batch of movements, so
memory does not grow with the ledger.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Sum

from distillery.people.models import Person
from ledger import sealing
from ledger.chain import links
from ledger.models import (
    Account,
    AccountKind,
    AccountMonth,
    Balance,
    Head,
    Leg,
    RunningBalance,
    StageMonth,
)


@dataclass(slots=True)
class Proof:
    """What was read, and the places that do not hold, first broken place first."""

    movements: int = 0
    legs: int = 0
    gauges: int = 0
    accounts: int = 0
    last_seal: str = sealing.FIRST_SEAL
    broken: list[str] = field(default_factory=list)

    @property
    def holds(self) -> bool:
        return not self.broken


def prove() -> Proof:
    """Reads the whole ledger once. Takes no lock: run it as of a moment when nobody writes, or on a copy."""
    proof = Proof()
    for check in (_chain, _running, _balances, _months, _orphans):
        check(proof)
    return proof


def _chain(proof: Proof) -> None:
    accounts = Account.objects.in_bulk()
    people = dict(Person.objects.values_list("pk", "username"))
    previous, expected = sealing.FIRST_SEAL, 1
    for link in links():
        movement, own, measured = link.movement, link.legs, link.details.gauges
        proof.movements += 1
        proof.legs += len(own)
        proof.gauges += len(measured)
        place = f"movement {movement.pk} ({movement.record_kind} {movement.record_number})"
        if movement.pk != expected:
            proof.broken.append(f"{place}: number {expected} is missing from the chain")
            expected = movement.pk
        if sum(leg.pure_ul for leg in own) or sum(leg.mass_g for leg in own):
            proof.broken.append(f"{place}: its legs do not sum to nothing")
        if movement.previous_seal != previous:
            proof.broken.append(f"{place}: it does not follow the seal of the movement before it")
        try:
            data = sealing.content(movement, own, link.details, accounts=accounts, people=people)
            computed = sealing.seal(previous, data)
        except (KeyError, ValueError) as missing:
            proof.broken.append(f"{place}: it names what is not there ({missing})")
            computed = ""
        if computed and computed != movement.seal:
            proof.broken.append(f"{place}: its content does not give its seal")
        previous = movement.seal
        expected += 1
    head = Head.objects.get(pk=1)
    if head.last_seal != previous or head.last_number != expected - 1:
        proof.broken.append(f"the end of the chain is noted as movement {head.last_number}, but is {expected - 1}")
    proof.last_seal = previous


def _running(proof: Proof) -> None:
    """Adds every account up again in the order in which things happened."""
    floors = set(Account.objects.filter(floor_zero=True).values_list("pk", flat=True))
    names = dict(Account.objects.values_list("pk", "code"))
    proof.accounts = len(names)
    account, pure, mass = 0, 0, 0
    place: tuple[int, datetime, int] | None = None
    below = ""
    rows = (
        Leg.objects.order_by("account_id", "happened_at", "position", "pk")
        .values_list(
            "pk", "account_id", "pure_ul", "mass_g", "movement_id", "happened_at", "position",
            "running__balance_ul", "running__mass_g", "running__account_id", "running__happened_at",
            "running__position",
        )
        .iterator(chunk_size=5000)
    )
    for (leg, owner, leg_pure, leg_mass, movement, happened, position,
         kept, kept_mass, kept_account, kept_happened, kept_position) in rows:  # fmt: skip
        if owner != account:
            account, pure, mass = owner, 0, 0
        pure += leg_pure
        mass += leg_mass
        kept_row = (kept, kept_mass, kept_account, kept_happened, kept_position)
        if kept_row != (pure, mass, owner, happened, position):
            proof.broken.append(
                f"account {names.get(owner, owner)} after leg {leg} of movement {movement}: "
                f"its running balance is kept as {kept} µL, {kept_mass} g and adds up to {pure} µL, {mass} g"
            )
        # Only the last entry in a place counts: an opposite and a restatement stand where what they answer stands.
        if below and place != (owner, happened, position):
            proof.broken.append(below)
        place = (owner, happened, position)
        below = ""
        if owner in floors and pure < 0:
            below = f"account {names.get(owner, owner)} is below nothing after movement {movement}"
    if below:
        proof.broken.append(below)


def _balances(proof: Proof) -> None:
    added = {
        row["account_id"]: (row["pure"], row["mass"])
        for row in Leg.objects.values("account_id").annotate(pure=Sum("pure_ul"), mass=Sum("mass_g"))
    }
    kept = {row.account_id: (row.balance_ul, row.mass_g) for row in Balance.objects.all()}
    for account in Account.objects.order_by("pk"):
        if added.get(account.pk, (0, 0)) != kept.get(account.pk, (0, 0)):
            proof.broken.append(f"the balance of {account.code} is kept wrong: {kept.get(account.pk)} µL and g")


def _months(proof: Proof) -> None:
    added = {
        (row["account_id"], row["period"], row["stage"]): (row["pure"], row["mass"])
        for row in Leg.objects.values("account_id", "period", "stage").annotate(pure=Sum("pure_ul"), mass=Sum("mass_g"))
    }
    kept = {
        (row.account_id, row.period, row.stage): (row.pure_ul, row.mass_g) for row in AccountMonth.objects.iterator()
    }
    for key in sorted(added.keys() | kept.keys(), key=str):
        if added.get(key, (0, 0)) != kept.get(key, (0, 0)):
            proof.broken.append(f"the month's net of account {key[0]} in {key[1]}, stage '{key[2]}', is kept wrong")
    stages = _stages_again()
    kept_stages = {
        (row.period, row.stage): [row.in_ul, row.out_ul, row.loss_ul, row.difference_ul]
        for row in StageMonth.objects.all()
    }
    for stage_key in sorted(stages.keys() | kept_stages.keys()):
        if stages.get(stage_key, [0, 0, 0, 0]) != kept_stages.get(stage_key, [0, 0, 0, 0]):
            proof.broken.append(f"the line '{stage_key[1]}' of the account of {stage_key[0]} is kept wrong")


def _stages_again() -> dict[tuple[str, str], list[int]]:
    """The lines of all months' accounts, added up from the legs."""
    through_kinds = {AccountKind.VESSEL, AccountKind.STOCK, AccountKind.LOSS, AccountKind.DIFFERENCE}
    sums: dict[tuple[str, str], list[int]] = defaultdict(lambda: [0, 0, 0, 0])
    current: tuple[int, str, bool] | None = None
    part: dict[str, list[int]] = {}

    def close() -> None:
        if current is None:
            return
        _, period, reversing = current
        for stage, (through, lost, apart) in part.items():
            if through or lost or apart:
                line = sums[period, stage]
                came = through < 0 if reversing else through > 0
                line[0 if came else 1] += through if came else -through
                line[2] += lost
                line[3] += apart

    rows = (
        Leg.objects.exclude(stage="")
        .order_by("movement_id")
        .values_list("movement_id", "movement__period", "movement__corrects_id", "stage", "account__kind", "pure_ul")
        .iterator(chunk_size=5000)
    )
    for number, period, corrects, stage, kind, pure in rows:
        key = (number, period, corrects is not None)
        if key != current:
            close()
            current, part = key, {}
        entry = part.setdefault(stage, [0, 0, 0])
        if kind in through_kinds:
            entry[0] += pure
        if kind == AccountKind.LOSS:
            entry[1] += pure
        if kind == AccountKind.DIFFERENCE:
            entry[2] += pure
    close()
    return dict(sums)


def _orphans(proof: Proof) -> None:
    extra = RunningBalance.objects.exclude(pk__in=Leg.objects.values("pk")).count()
    if extra:
        proof.broken.append(f"{extra} running balances belong to no leg")
