"""Proves the ledger: adds every account up again, compares every kept sum, recomputes every seal.

The chain is read once, a batch at a time, and nothing is held but sums, so memory does not grow with the ledger.
Running balances are compared where they lie, by the database. What the floors above write they prove themselves:
they add their provers to PROVERS when the site starts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Any

from django.core.exceptions import ObjectDoesNotExist
from django.db import connection

from distillery.seals.proving import prove_seals
from distillery.trail.proving import apart
from ledger.models import (
    Account,
    AccountKind,
    AccountMonth,
    Balance,
    Head,
    Leg,
    Measurement,
    RunningBalance,
    StageMonth,
)
from ledger.models.measurements import EITHER
from ledger.periods.proof import prove_periods
from ledger.proof import sealing
from ledger.proof.chain import Sealed, sealed_movements
from ledger.proof.clock_back import in_the_chain
from ledger.proof.unguarded import unguarded

THROUGH = frozenset({AccountKind.VESSEL, AccountKind.STOCK, AccountKind.LOSS, AccountKind.DIFFERENCE})


@dataclass(slots=True)
class Proof:
    """What was read, the places that do not hold, first broken place first, and what has to be remarked on."""

    movements: int = 0
    legs: int = 0
    gauges: int = 0
    accounts: int = 0
    last_seal: str = sealing.FIRST_SEAL
    broken: list[str] = field(default_factory=list)
    # What somebody should know although nothing is broken by it.
    remarks: list[str] = field(default_factory=list)
    # Ways past the triggers that are open in the database now, whether or not anybody has used them.
    unguarded: list[str] = field(default_factory=list)

    @property
    def holds(self) -> bool:
        return not self.places

    @property
    def places(self) -> list[str]:
        """All that is wrong, the books first."""
        return [*self.broken, *self.unguarded]


# Added to by the floors above: each gives a sentence for every place that does not hold.
PROVERS: list[Callable[[], Iterator[str]]] = []
# The same for what is remarked on and breaks nothing.
REMARKS: list[Callable[[], Iterator[str]]] = [in_the_chain]


def prove() -> Proof:
    """Reads the whole ledger once. Takes no lock: run it as of a moment when nobody writes, or on a copy."""
    proof = Proof()
    sums = Sums()
    _chain(proof, sums)
    for check in (
        _running,
        _below_nothing,
        lambda: _balances(sums),
        lambda: _months(sums),
        lambda: _stages(sums),
        _trail,
        prove_seals,
        _movements_sealed,
        prove_periods,
        *PROVERS,
    ):
        proof.broken += _said(check)
    for remark in REMARKS:
        proof.remarks += _said(remark)
    proof.unguarded += _said(lambda: unguarded(connection))
    return proof


def _said(check: Callable[[], Iterator[str]]) -> Iterator[str]:
    """What a check finds. A value that cannot be read is named as a broken place, and the proof goes on."""
    try:
        yield from check()
    except (ValueError, TypeError, LookupError, AttributeError, ArithmeticError, ObjectDoesNotExist) as unreadable:
        yield f"something cannot be read: {type(unreadable).__name__}: {unreadable}"


def _trail() -> Iterator[str]:
    return (one.sentence for one in apart(connection))


def _movements_sealed() -> Iterator[str]:
    """Each seal of the books must name a movement that is there, by its seal, and the last one the end of the chain."""
    for number, movement in _rows(
        "SELECT s.number, s.movement FROM seals_booksseal s LEFT JOIN ledger_movement m ON m.id = s.movement"
        " WHERE s.movement > 0 AND (m.seal IS NULL OR m.seal <> s.movement_seal) ORDER BY s.number"
    ):
        yield f"seal {number} of the books: movement {movement} is not the one that was sealed"


class Sums:
    """What the legs add up to, microlitres and grams: for each account and month, and for each line of a month."""

    def __init__(self) -> None:
        accounts = list(Account.objects.all())
        self.codes = {account.pk: account.code for account in accounts}
        self._kinds = {account.pk: account.kind for account in accounts}
        self.months: dict[tuple[int, str, str], list[int]] = {}
        self.stages: dict[tuple[str, str], list[int]] = {}

    def add(self, one: Sealed) -> tuple[int, int]:
        """Adds a movement. Returns the sums of its legs in µL and in grams; both should be 0."""
        months, kinds = self.months, self._kinds
        total_pure = total_mass = 0
        by_stage: dict[str, list[int]] = {}
        for _, _, _, account, _, stage, _, _, period, pure, mass in one.parts[0]:
            total_pure += pure
            total_mass += mass
            key = (account, period, stage)
            if key in months:
                month = months[key]
                month[0] += pure
                month[1] += mass
            else:
                months[key] = [pure, mass]
            kind = kinds.get(account)
            if stage and kind in THROUGH:
                part = by_stage.get(stage)
                if part is None:
                    part = by_stage[stage] = [0, 0, 0]
                part[0] += pure
                if kind == AccountKind.LOSS:
                    part[1] += pure
                elif kind == AccountKind.DIFFERENCE:
                    part[2] += pure
        # An opposite takes back what came in or went out, on the side on which it stood.
        period, taken_back = one.movement[5], one.movement[13] is not None
        for stage, (through, lost, differs) in by_stage.items():
            line = self.stages.get((period, stage))
            if line is None:
                line = self.stages[period, stage] = [0, 0, 0, 0]
            if (through < 0) if taken_back else (through > 0):
                line[0] += through
            else:
                line[1] -= through
            line[2] += lost
            line[3] += differs
        return total_pure, total_mass


def _chain(proof: Proof, sums: Sums) -> None:
    broken = proof.broken
    previous, expected = sealing.FIRST_SEAL, 1
    counts = [0] * len(sealing.PARTS)
    for one in sealed_movements():
        for at, rows in enumerate(one.parts):
            if rows:
                counts[at] += len(rows)
        if one.number != expected:
            broken.append(f"{one.place}: number {expected} is missing from the chain")
            expected = one.number
        try:
            balanced = sums.add(one) == (0, 0)
        except TypeError:
            balanced = False
        if not balanced:
            broken.append(f"{one.place}: its legs do not sum to nothing")
        if one.previous_seal != previous:
            broken.append(f"{one.place}: it does not follow the seal of the movement before it")
        if not one.line:
            broken.append(f"{one.place}: it names what is not there ({one.wrong})")
        elif sha256(f"{previous}\n{one.line}".encode("ascii")).hexdigest() != one.seal:
            broken.append(f"{one.place}: its content does not give its seal")
        previous = one.seal
        expected += 1
    proof.movements, proof.accounts = expected - 1, len(sums.codes)
    proof.legs, proof.gauges = counts[:2]
    proof.last_seal = previous
    head = Head.objects.filter(pk=1).first()
    if head is None:
        broken.append("the end of the chain is noted nowhere")
    elif head.last_seal != previous or head.last_number != expected - 1:
        broken.append(f"the end of the chain is noted as movement {head.last_number}, but is {expected - 1}")
    for part, sealed in zip(sealing.PARTS, counts, strict=True):
        there = part.model._default_manager.count()
        if there != sealed:
            broken.append(f"{there - sealed} {part.name} belong to no movement, so that no seal covers them")
    # A column that belongs to the other kind would stand under no seal.
    for movement, name in Measurement.everything.exclude(EITHER).order_by("pk").values_list("movement_id", "name"):
        broken.append(f"movement {movement}: the measurement '{name}' says more than a vessel or a flow has to say")


def _running() -> Iterator[str]:
    """Each running balance must be the one before it in the order of time, and its leg."""
    for leg, account, movement, kept, kept_mass in _rows(
        "SELECT r.leg_id, a.code, l.movement_id, r.balance_ul, r.mass_g FROM ("
        " SELECT leg_id, account_id, happened_at, position, balance_ul, mass_g,"
        " LAG(balance_ul, 1, CAST(0 AS bigint)) OVER w AS before_ul,"
        " LAG(mass_g, 1, CAST(0 AS bigint)) OVER w AS before_g"
        " FROM ledger_runningbalance WINDOW w AS (PARTITION BY account_id ORDER BY happened_at, position, leg_id)) r"
        " LEFT JOIN ledger_leg l ON l.id = r.leg_id LEFT JOIN ledger_account a ON a.id = r.account_id"
        " WHERE l.id IS NULL OR l.account_id <> r.account_id OR l.happened_at <> r.happened_at"
        " OR l.position <> r.position OR r.balance_ul <> r.before_ul + l.pure_ul OR r.mass_g <> r.before_g + l.mass_g"
    ):
        yield (
            f"account {account} after leg {leg} of movement {movement}: its running balance is kept as {kept} µL, "
            f"{kept_mass} g, which is not what was there before and this leg"
        )
    if RunningBalance.objects.count() != Leg.objects.count():
        for leg, movement in Leg.objects.filter(running=None).order_by("pk").values_list("pk", "movement_id"):
            yield f"leg {leg} of movement {movement} has no running balance"


def _below_nothing() -> Iterator[str]:
    """Casks and bottles may at no time hold less than nothing.

    Only the last entry in a place counts: an opposite and a restatement stand where what they answer stands, and all
    that is carried from a closed period (below place nought) stands together.
    """
    for account, movement in _rows(
        "SELECT r.code, l.movement_id FROM ("
        " SELECT b.leg_id, b.account_id, b.happened_at, b.position, b.balance_ul, a.code,"
        " LEAD(b.happened_at) OVER w AS next_at, LEAD(b.position) OVER w AS next_position"
        " FROM ledger_runningbalance b JOIN ledger_account a ON a.id = b.account_id AND a.floor_zero"
        " WINDOW w AS (PARTITION BY b.account_id ORDER BY b.happened_at, b.position, b.leg_id)) r"
        " JOIN ledger_leg l ON l.id = r.leg_id"
        " WHERE r.balance_ul < 0 AND"
        " (r.next_at IS NULL OR r.next_at <> r.happened_at OR (r.next_position <> r.position AND r.next_position >= 0))"
        " ORDER BY r.code, r.happened_at, r.position, r.leg_id"
    ):
        yield f"account {account} falls below 0 after movement {movement}"


def _balances(sums: Sums) -> Iterator[str]:
    added: dict[int, list[int]] = {}
    for (account, _period, _stage), (pure, mass) in sums.months.items():
        balance = added.setdefault(account, [0, 0])
        balance[0] += pure
        balance[1] += mass
    kept = {pk: [pure, mass] for pk, pure, mass in Balance.objects.values_list("account_id", "balance_ul", "mass_g")}
    for pk in sorted(added.keys() | kept.keys()):
        if added.get(pk, [0, 0]) != kept.get(pk, [0, 0]):
            yield f"the balance of {sums.codes.get(pk, pk)} is kept wrong: {kept.get(pk)} µL and g"


def _months(sums: Sums) -> Iterator[str]:
    rows = AccountMonth.objects.values_list("account_id", "period", "stage", "pure_ul", "mass_g")
    kept = {(account, period, stage): [pure, mass] for account, period, stage, pure, mass in rows.iterator(2000)}
    for key in sorted(sums.months.keys() | kept.keys(), key=str):
        if sums.months.get(key, [0, 0]) != kept.get(key, [0, 0]):
            account, period, stage = key
            yield f"the month's net of {sums.codes.get(account, account)} in {period}, stage '{stage}', is kept wrong"


def _stages(sums: Sums) -> Iterator[str]:
    rows = StageMonth.objects.values_list("period", "stage", "in_ul", "out_ul", "loss_ul", "difference_ul")
    kept = {(period, stage): list(line) for period, stage, *line in rows}
    nothing = [0, 0, 0, 0]
    for period, stage in sorted(sums.stages.keys() | kept.keys()):
        if sums.stages.get((period, stage), nothing) != kept.get((period, stage), nothing):
            yield f"the line '{stage}' of the account of {period} is kept wrong"


def _rows(statement: str) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(statement)
        found: list[tuple[Any, ...]] = cursor.fetchall()
    return found
