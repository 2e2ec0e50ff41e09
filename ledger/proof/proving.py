"""Proves the ledger: adds every account up again, compares every kept sum, recomputes every seal.

The chain is read once, a batch at a time, and nothing is held but sums, so memory does not grow with the ledger. What the floors above write they prove themselves:
they add their provers to PROVERS when the site starts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import ObjectDoesNotExist
from django.db import connection

from distillery.seals.proving import prove_seals
from distillery.trail.proving import apart
from ledger.models import Head, Measurement
from ledger.models.measurements import EITHER
from ledger.periods.proof import prove_periods
from ledger.proof import sealing
from ledger.proof.clock_back import in_the_chain
from ledger.proof.gauges_met import prove_gauges_met
from ledger.proof.parts.running import as_many_as_legs, below_nothing, running_apart, without_running_balance
from ledger.proof.parts.stretch import Stretch, prove_stretch
from ledger.proof.parts.sums import Sums, balances_apart, months_apart, stages_apart
from ledger.proof.unguarded import unguarded

__all__ = ["PROVERS", "REMARKS", "Proof", "Sums", "prove"]


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
    chain = prove_stretch()
    proof.broken += chain.broken
    proof.broken += _end_of_chain(proof, chain)
    running = [*_running(chain)]
    sums = chain.sums
    proof.broken += running
    for check in (
        below_nothing,
        lambda: balances_apart(sums, {}),
        lambda: months_apart(sums, ""),
        lambda: stages_apart(sums, ""),
        _trail,
        prove_seals,
        _movements_sealed,
        prove_periods,
        lambda: prove_gauges_met(by_running=not running),
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


def _end_of_chain(proof: Proof, chain: Stretch) -> Iterator[str]:
    proof.movements, proof.accounts = chain.number, len(chain.sums.codes)
    proof.legs, proof.gauges = chain.counts[:2]
    proof.last_seal = chain.seal
    head = Head.objects.filter(pk=1).first()
    if head is None:
        yield "the end of the chain is noted nowhere"
    elif head.last_seal != chain.seal or head.last_number != chain.number:
        yield f"the end of the chain is noted as movement {head.last_number}, but is {chain.number}"
    for part, sealed in zip(sealing.PARTS, chain.counts, strict=True):
        there = part.model._default_manager.count()
        if there != sealed:
            yield f"{there - sealed} {part.name} belong to no movement, so that no seal covers them"
    # A column that belongs to the other kind would stand under no seal.
    for movement, name in Measurement.everything.exclude(EITHER).order_by("pk").values_list("movement_id", "name"):
        yield f"movement {movement}: the measurement '{name}' says more than a vessel or a flow has to say"


def _running(chain: Stretch) -> Iterator[str]:
    """Running balances of the accounts that the reading of the chain left open; of all where some hang on nothing."""
    if as_many_as_legs(chain.counts[0]):
        yield from running_apart(chain.runs.not_begun_from({}))
    else:
        yield from running_apart(None)
        yield from without_running_balance()


def _rows(statement: str) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(statement)
        found: list[tuple[Any, ...]] = cursor.fetchall()
    return found
