"""Proves the ledger: adds every account up again, compares every kept sum, recomputes every seal.

The chain is read once, a batch at a time, and nothing is held but sums, so memory does not grow with the ledger. What
the floors above write they prove themselves: they add their provers to PROVERS when the site starts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import Future
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from django.core.exceptions import ObjectDoesNotExist
from django.db import connection
from django.db.models import Max

from distillery.seals.proving import prove_seals
from distillery.trail.proving import apart
from ledger.models import Head, Measurement, Movement
from ledger.models.measurements import EITHER
from ledger.periods.proof import prove_periods
from ledger.proof import sealing
from ledger.proof.clock_back import in_the_chain
from ledger.proof.gauges_met import gauges_met_since, prove_gauges_met
from ledger.proof.parts.processes import reading_together
from ledger.proof.parts.running import as_many_as_legs, below_nothing, running_apart, without_running_balance
from ledger.proof.parts.since import PROVERS_SINCE, Since, closing_apart, last_closing
from ledger.proof.parts.stretch import Stretch, prove_stretch
from ledger.proof.parts.sums import Sums, balances_apart, months_apart, stages_apart
from ledger.proof.sealed_columns import PARTS
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
    # What was taken as it stands, in sentences; nothing where the whole was proved.
    not_looked_at: list[str] = field(default_factory=list)
    # Ways past the triggers that are open in the database now, whether or not anybody has used them.
    unguarded: list[str] = field(default_factory=list)

    @property
    def holds(self) -> bool:
        return not self.places

    @property
    def places(self) -> list[str]:
        """All that is wrong, the books first."""
        return [*self.broken, *self.unguarded]


Part = Callable[[], Iterator[str]]

# Added to by the floors above: each gives a sentence for every place that does not hold.
PROVERS: list[Part] = []
# The same for what is remarked on and breaks nothing.
REMARKS: list[Part] = [in_the_chain]


def _untold(_part: str) -> None:
    """For whoever does not want to hear how far the proof is."""


def prove(*, from_closing: bool = False, processes: int = 1, told: Callable[[str], object] = _untold) -> Proof:
    """Reads the whole ledger once, or what was written from the last closing on.

    It reads the books as they stand at its beginning, whoever writes meanwhile (`reading_together`). Of the whole,
    several `processes` prove stretches of the chain and the parts that need nothing of it; what is said, and in which
    order, is the same. `told` hears what part it is at. Raises NoClosing where there is no closing to begin from.
    """
    with reading_together(1 if from_closing else processes) as pool:
        proof = Proof()
        since = last_closing() if from_closing else None
        if since is not None:
            proof.not_looked_at = since.not_looked_at
        told("movements and their seals")
        elsewhere: dict[Part, Future[list[str]]] = {}
        if pool is not None:
            stretches = [pool.submit(prove_stretch, first, last) for first, last in _stretches(2 * processes)]
            elsewhere = {part: pool.submit(_said_apart, at) for at, part in enumerate(_parts_apart())}
            chain = _joined(stretches)
        else:
            chain = prove_stretch() if since is None else prove_stretch(since.first, since=since.period)
        proof.broken += chain.broken
        for said, part in _parts(proof, chain) if since is None else _parts_since(proof, chain, since):
            told(said)
            proof.broken += elsewhere[part].result() if part in elsewhere else _said(part)
        told("remarks and triggers")
        for remark in REMARKS if since is None else [partial(in_the_chain, since.first)]:
            proof.remarks += elsewhere[remark].result() if remark in elsewhere else _said(remark)
        proof.unguarded += _said(lambda: unguarded(connection))
    return proof


def _stretches(count: int) -> Iterator[tuple[int, int | None]]:
    """The numbers of the chain in so many stretches of about one length, the last to the end whatever it is."""
    last = Movement.objects.aggregate(last=Max("pk"))["last"] or 0
    length = max(last // count, 1)
    for at in range(count):
        yield 1 + at * length, (at + 1) * length if at + 1 < count else None


def _joined(stretches: list[Future[Stretch]]) -> Stretch:
    first, *others = stretches
    chain = first.result()
    for other in others:
        chain.take(other.result())
    return chain


def _parts_apart() -> list[Part]:
    """The parts that need nothing of the reading of the chain; another process knows them by their place here."""
    return [below_nothing, _trail, prove_seals, _movements_sealed, prove_periods, *PROVERS, *REMARKS]


def _said_apart(at: int) -> list[str]:
    return [*_said(_parts_apart()[at])]


def _parts(proof: Proof, chain: Stretch) -> Iterator[tuple[str, Part]]:
    """What follows the reading of the chain, in the order in which it is said."""
    yield "running balances", lambda: _end_of_chain(proof, chain)
    running = [*_said(lambda: _running(chain))]
    yield "running balances", lambda: iter(running)
    yield "balances and months", below_nothing
    yield "balances and months", lambda: balances_apart(chain.sums, {})
    yield "balances and months", lambda: months_apart(chain.sums, "")
    yield "balances and months", lambda: stages_apart(chain.sums, "")
    yield "rows and their trail", _trail
    yield "seals of the books", prove_seals
    yield "seals of the books", _movements_sealed
    yield "closings", prove_periods
    yield "gauges", lambda: prove_gauges_met(by_running=not running)
    for prover in PROVERS:
        yield "batch records", prover


def _parts_since(proof: Proof, chain: Stretch, since: Since) -> Iterator[tuple[str, Part]]:
    """The same of what was written from a closing on."""
    yield "running balances", lambda: _end_of_chain(proof, chain, since.first)
    touched = set(chain.runs.runs) | chain.runs.apart
    running = [*_said(lambda: _running_since(chain, since, touched))]
    yield "running balances", lambda: iter(running)
    yield "balances and months", lambda: below_nothing(touched, since.ends)
    yield "balances and months", lambda: balances_apart(chain.sums, since.frozen)
    yield "balances and months", lambda: months_apart(chain.sums, since.period)
    yield "balances and months", lambda: stages_apart(chain.sums, since.period)
    yield "rows and their trail", lambda: _trail(since.entry)
    yield "seals of the books", lambda: prove_seals(since.books_seal)
    yield "seals of the books", lambda: _movements_sealed(since.seal_number)
    yield "closings", lambda: closing_apart(since)
    yield "gauges", lambda: gauges_met_since(since.first, since.ends)
    for prover in PROVERS_SINCE:
        yield "batch records", partial(prover, since)


def _said(check: Callable[[], Iterator[str]]) -> Iterator[str]:
    """What a check finds. A value that cannot be read is named as a broken place, and the proof goes on."""
    try:
        yield from check()
    except (ValueError, TypeError, LookupError, AttributeError, ArithmeticError, ObjectDoesNotExist) as unreadable:
        yield f"something cannot be read: {type(unreadable).__name__}: {unreadable}"


def _trail(after: int = 0) -> Iterator[str]:
    return (one.sentence for one in apart(connection, after=after))


def _movements_sealed(after: int = 0) -> Iterator[str]:
    """Each seal of the books must name a movement that is there, by its seal, and the last one the end of the chain."""
    for number, movement in _rows(
        "SELECT s.number, s.movement FROM seals_booksseal s LEFT JOIN ledger_movement m ON m.id = s.movement"
        f" WHERE s.number > {after:d} AND s.movement > 0 AND (m.seal IS NULL OR m.seal <> s.movement_seal)"
        " ORDER BY s.number"
    ):
        yield f"seal {number} of the books: movement {movement} is not the one that was sealed"


def _end_of_chain(proof: Proof, chain: Stretch, first: int = 1) -> Iterator[str]:
    proof.movements, proof.accounts = chain.number - first + 1, len(chain.sums.codes)
    proof.legs, proof.gauges = chain.counts[:2]
    proof.last_seal = chain.seal
    head = Head.objects.filter(pk=1).first()
    if head is None:
        yield "the end of the chain is noted nowhere"
    elif head.last_seal != chain.seal or head.last_number != chain.number:
        yield f"the end of the chain is noted as movement {head.last_number}, but is {chain.number}"
    for part, sealed in zip(PARTS, chain.counts, strict=True):
        rows = part.model._default_manager
        there = rows.count() if first == 1 else rows.filter(movement_id__gte=first).count()
        if there != sealed:
            yield f"{there - sealed} {part.name} belong to no movement, so that no seal covers them"
    # A column that belongs to the other kind would stand under no seal.
    measured = Measurement.everything.filter(movement_id__gte=first).exclude(EITHER).order_by("movement_id", "pk")
    for movement, name in measured.values_list("movement_id", "name"):
        yield f"movement {movement}: the measurement '{name}' says more than a vessel or a flow has to say"


def _running(chain: Stretch) -> Iterator[str]:
    """Running balances of the accounts that the reading of the chain left open; of all where some hang on nothing."""
    if as_many_as_legs(chain.counts[0]):
        yield from running_apart(chain.runs.not_begun_from({}))
    else:
        yield from running_apart(None)
        yield from without_running_balance()


def _running_since(chain: Stretch, since: Since, touched: set[int]) -> Iterator[str]:
    """The same of the legs after a closing, each account beginning with what was frozen."""
    accounts = chain.runs.not_begun_from(since.frozen)
    if not as_many_as_legs(chain.counts[0], since.first):
        accounts = touched
        yield from without_running_balance(since.first)
    yield from running_apart(accounts, (since.closing.number, since.ends))


def _rows(statement: str) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(statement)
        found: list[tuple[Any, ...]] = cursor.fetchall()
    return found
