"""Which balances a log of gauges and flows must fulfil: one line for each figure that should be about nothing.

Each book is followed by the names of measured amounts, not by figures: after a gauge a vessel's book is that gauge, and
a flow adds or takes its own amount. So every line is a sum of measured quantities, each with +1 or -1, and what a
reading does to the line follows from the sensitivity of its quantity. Signs as everywhere in the statistics: an
operation's line counts what is missing as positive, a continuity line what was found as positive. LPA; strength lines
in % vol.

Source: the residuals of material balances by sequence; law of propagation with shared inputs, JCGM 100:2008, 5.1 and
5.2.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from msgspec import Struct

from distillery.rules.cask_loss import years_between
from ledger.comparing.observations.observed import (
    AFTER,
    BEFORE,
    DIFFERENCE,
    Doing,
    Log,
    Measured,
    ObservedFlow,
    ObservedGauge,
)
from ledger.comparing.statistics.algebra.problem import RowKind

# A gauge of an empty vessel is right to about this, LPA: what clings to walls and pipes (common practice, no source).
HEEL_LPA = 0.1
# What the accounts begin with that hold what left the site; a sample may be put back from there.
REMOVED = "removal:"
# How alike two strengths of one liquid are, before and after most of it was drawn off: a vessel is never quite
# evenly mixed (common practice, no source). % vol.
DRAWN_SPREAD_PERCENT = 0.05
# How far the temperature of a vessel strays between two gauges: the same liquid, and after something was added.
# Wide on purpose (common practice, no source). Degrees Celsius.
SAME_LIQUID_CELSIUS = 3.0
OTHER_LIQUID_CELSIUS = 4.0


class Aspect(StrEnum):
    """What of a measured quantity a line adds up."""

    ALCOHOL = "alcohol"
    STRENGTH = "strength"
    LITRES = "litres"


class Term(Struct, frozen=True):
    """One measured quantity in a line, with its factor."""

    quantity: str
    factor: float
    aspect: Aspect = Aspect.ALCOHOL


class Equation(Struct, frozen=True):
    """One figure that should be about nothing. `direct` are readings that stand in it as such (a temperature).

    `charge` are the quantities whose sum is the alcohol it worked with, `family` the usual loss it is judged by, and
    `judged_share` what the difference is judged against, as a share of the charge as it was written. `ages`: it is the
    balance of a cask that stood for so many `years`, and is judged by how a cask ages.
    """

    key: str
    kind: RowKind
    doing: Doing
    at: datetime
    order: int
    terms: tuple[Term, ...]
    vessel: str = ""
    family: str = ""
    charge: tuple[Term, ...] = ()
    constant: float = 0.0
    spread: float = 0.0
    direct: tuple[tuple[str, float], ...] = ()
    label: str = ""
    since: int = -1
    vessels: tuple[str, ...] = ()
    years: float = 0.0
    ages: bool = False
    judged_share: float = 1.0


# Record and name of a gauge.
_Name = tuple[str, str]


@dataclass(slots=True)
class _Held:
    """A vessel's book as named amounts, its last gauge, and what came and went since."""

    terms: dict[str, float] = field(default_factory=dict)
    last: ObservedGauge | None = None
    order: int = -1
    at: datetime | None = None
    added: bool = False
    filled_by: str = ""


@dataclass(slots=True)
class _Operation:
    doing: Doing
    at: datetime
    order: int
    terms: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    vessels: list[str] = field(default_factory=list)
    since: datetime | None = None
    closed: bool = False


def quantities(log: Log) -> dict[str, Measured]:
    """Every measured quantity of a log by its key."""
    return {event.measured.key: event.measured for event in log.events}


def equations_of(log: Log) -> list[Equation]:
    """All lines of a log, in order of time: what each gauge must agree with, and a balance for each operation."""
    held: dict[str, _Held] = defaultdict(_Held)
    operations: dict[str, _Operation] = {}
    gives = _directions(log.events)
    lines: list[Equation] = []
    for order, event in enumerate(log.events):
        operation = operations.setdefault(event.doing.record, _Operation(event.doing, event.at, order))
        operation.at, operation.order = event.at, order
        if isinstance(event, ObservedFlow):
            _flow(event, held, operation, log.stills)
        else:
            lines += _gauge(event, order, held[event.vessel], operation, gives, log)
    measured = quantities(log)
    named = {
        (event.doing.record, event.name): event.measured.key for event in log.events if isinstance(event, ObservedGauge)
    }
    lines += [_balance(one, log, measured, named) for one in operations.values() if one.closed]
    return sorted(lines, key=lambda line: (line.order, line.kind is RowKind.OPERATION))


def _flow(event: ObservedFlow, held: dict[str, _Held], operation: _Operation, stills: frozenset[str]) -> None:
    key = event.measured.key
    if event.giver in stills or event.giver.startswith(DIFFERENCE):
        operation.terms[key] -= 1.0
    else:
        giver = held[event.giver]
        giver.terms[key] = giver.terms.get(key, 0.0) - 1.0
    if event.empties_a_cask:
        # A cask is weighed out into the operation itself, and holds nothing then: what is gauged in the end took it.
        operation.terms[key] += 1.0
        held[event.giver] = _Held()
        return
    taker = held[event.taker]
    comes_back = event.giver.startswith(REMOVED)
    if event.taker == event.measured.vessel and taker.filled_by != event.doing.record and not comes_back:
        # A cask is filled when it is empty: what it held before, and what left it since, is over.
        held[event.taker] = taker = _Held(order=taker.order, filled_by=event.doing.record)
    taker.terms[key] = taker.terms.get(key, 0.0) + 1.0
    taker.added, taker.at = True, event.at


def _gauge(
    event: ObservedGauge,
    order: int,
    book: _Held,
    operation: _Operation,
    gives: Mapping[tuple[str, str], bool],
    log: Log,
) -> list[Equation]:
    lines: list[Equation] = []
    measured, last = event.measured, book.last
    judged = log.judged(event.doing.record)
    balances = event.doing.record not in log.sources
    drawn = event.role == AFTER and gives.get((event.doing.operation, event.name), False)
    if event.role == BEFORE and balances:
        # A vessel with no gauge before was taken on empty: its book holds nothing.
        if judged and log.joins(event):
            lines += _continuity(event, order, book, log)
    elif balances:
        operation.closed = judged and event.doing.record not in log.unfinished
        for key, factor in _sum(((measured.key, 1.0),), book.terms.items(), -1.0).items():
            operation.terms[key] -= factor
        operation.vessels.append(event.vessel)
        operation.since = book.at
    if judged and last is not None and log.joins(event):
        same = (event.role == BEFORE and not book.added) or drawn
        lines += _likeness(event, order, last, same=same, drawn=drawn)
    book.terms, book.last, book.order, book.at = {measured.key: 1.0}, event, order, event.at
    book.added = False
    return lines


def _continuity(event: ObservedGauge, order: int, book: _Held, log: Log) -> list[Equation]:
    last, measured = book.last, event.measured
    was_empty = last.measured.empty if last is not None else not book.terms
    if measured.empty and was_empty and len(book.terms) <= 1:
        return []
    empty = measured.empty or was_empty
    terms = _sum(((measured.key, 1.0),), book.terms.items(), -1.0)
    return [
        Equation(
            key=f"continuity:{measured.key}",
            kind=RowKind.CONTINUITY,
            doing=event.doing,
            at=event.at,
            order=order,
            terms=tuple(Term(key, factor) for key, factor in terms.items()),
            vessel=event.vessel,
            constant=log.explained.get(measured.key, 0.0),
            spread=HEEL_LPA if empty else 0.0,
            label=f"gauge of {event.vessel}",
            since=book.order,
            vessels=(event.vessel,),
        )
    ]


def _likeness(event: ObservedGauge, order: int, last: ObservedGauge, *, same: bool, drawn: bool) -> list[Equation]:
    lines: list[Equation] = []
    now, then = event.measured, last.measured
    shared = {one.key for one in then.readings if one.percent}
    measured_anew = any(one.percent and one.key not in shared for one in now.readings)
    if same and measured_anew and not (now.empty or then.empty):
        lines.append(
            Equation(
                key=f"strength:{now.key}",
                kind=RowKind.STRENGTH,
                terms=(Term(now.key, 1.0, Aspect.STRENGTH), Term(then.key, -1.0, Aspect.STRENGTH)),
                spread=DRAWN_SPREAD_PERCENT if drawn else 0.0,
                label=f"strength in {event.vessel}",
                doing=event.doing,
                at=event.at,
                order=order,
                vessel=event.vessel,
                vessels=(event.vessel,),
            )
        )
    warm, warm_then = now.reading("celsius"), then.reading("celsius")
    if warm and warm_then and warm.key != warm_then.key and warm.uncertainty and warm_then.uncertainty:
        lines.append(
            Equation(
                key=f"temperature:{now.key}",
                kind=RowKind.LIKENESS,
                terms=(),
                constant=warm.value - warm_then.value,
                direct=((warm.key, 1.0), (warm_then.key, -1.0)),
                spread=SAME_LIQUID_CELSIUS if same else OTHER_LIQUID_CELSIUS,
                label=f"temperature of {event.vessel} against its last",
                doing=event.doing,
                at=event.at,
                order=order,
                vessel=event.vessel,
                vessels=(event.vessel,),
            )
        )
    return lines


def _balance(operation: _Operation, log: Log, measured: Mapping[str, Measured], named: Mapping[_Name, str]) -> Equation:
    record = operation.doing.record
    judged = log.judged_against.get(record)
    charge: list[Term] = []
    share = 1.0
    parts = {_named(record, name): sign for name, sign in judged.parts} if judged is not None else {}
    if parts and all(name in named for name in parts):
        charge = [Term(named[name], float(sign)) for name, sign in parts.items()]
    elif judged is not None:
        # The charge is what the gauges and fills before it say the cask held; it is judged by what should be left of
        # that now.
        charge = [Term(key, factor) for key, factor in operation.terms.items() if factor > 0]
        held = sum(term.factor * measured[term.quantity].lpa for term in charge)
        share = judged.lpa / held if held else 1.0
    # A cask is gauged where it stands; one that is filled is measured by what flows into it, or by its first gauge.
    ages = bool(operation.since and operation.vessels) and all(vessel in log.casks for vessel in operation.vessels)
    years = years_between(operation.since, operation.at) if operation.since else 0.0
    return Equation(
        key=f"operation:{record}",
        kind=RowKind.OPERATION,
        doing=operation.doing,
        at=operation.at,
        order=operation.order,
        terms=tuple(Term(key, factor) for key, factor in operation.terms.items() if factor),
        family=operation.doing.operation,
        charge=tuple(charge),
        constant=log.explained_of_casks.get(record, 0.0) - log.explained.get(record, 0.0),
        label=f"{operation.doing.operation} {record}",
        vessels=tuple(dict.fromkeys(operation.vessels)),
        years=years if ages else 0.0,
        ages=ages,
        judged_share=share,
    )


def _named(record: str, name: str) -> _Name:
    """Record and name of a gauge that a charge is made of; another record's stands as `name@record`."""
    own, _, other = name.partition("@")
    return other or record, own


def _sum(first: Iterable[tuple[str, float]], second: Iterable[tuple[str, float]], factor: float) -> dict[str, float]:
    total: dict[str, float] = dict(first)
    for key, value in second:
        total[key] = total.get(key, 0.0) + factor * value
    return {key: value for key, value in total.items() if value}


def _directions(events: Sequence[ObservedGauge | ObservedFlow]) -> dict[tuple[str, str], bool]:
    """Whether a vessel only gives at an operation, as most of its runs show; by operation and name of the closing
    gauge.

    Asked of all runs together, so that one wrong dip does not make a receiver look like a giver.
    """
    opening: dict[tuple[str, str], Measured] = {}
    rises: dict[tuple[str, str], list[bool]] = defaultdict(list)
    for event in events:
        if not isinstance(event, ObservedGauge):
            continue
        place = (event.doing.record, event.vessel)
        if event.role == BEFORE:
            opening[place] = event.measured
        elif place in opening:
            before, after = opening[place], event.measured
            fell = after.lpa < before.lpa and after.litres20 < 0.97 * before.litres20
            rises[event.doing.operation, event.name].append(fell)
    return {name: sum(fell) > 0.8 * len(fell) for name, fell in rises.items()}
