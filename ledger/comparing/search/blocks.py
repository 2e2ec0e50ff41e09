"""A block: a window's own part of the month's model, with nothing of the rest in it.

What could explain a window is searched in its block alone. So the search costs what the window holds and not what the
month holds, and a digest of the block says all that its answer hangs on, but for the plant that readings are measured
again with.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable, Mapping
from typing import Any, Final

from msgspec import msgpack, structs

from ledger.comparing.model.balance_model import BalanceModel, Known, WrittenOf
from ledger.comparing.model.equations import Equation
from ledger.comparing.observations.observed import Log, Measured
from ledger.comparing.statistics.algebra.problem import Column, RowKind

# In the place of all rows of a reading that lie outside the block: it reaches beyond, and how far does not matter.
OUTSIDE: Final = ""


def block_of(model: BalanceModel, keys: Collection[str]) -> BalanceModel:
    """The part of a model that these rows need, to test what is wrong in them and to correct it."""
    rows = dict.fromkeys(sorted(keys))
    equations = {key: model.equations[key] for key in rows}
    known = _known_in(model, equations)
    columns = {reading: _inside(model.columns[reading], rows) for reading in known if reading in model.columns}
    known = {
        reading: structs.replace(one, quantities=()) if OUTSIDE in columns.get(reading, ()) else one
        for reading, one in known.items()
    }
    shifted = _shifted_in(model, equations, known)
    known |= {reading: model.known[reading] for reading in shifted if reading not in known}
    return BalanceModel(
        log=Log(events=(), in_period=_judged(model.log, known)),
        equations=equations,
        values=_values_in(model, equations, known),
        known=known,
        usual={key: model.usual[key] for key in rows if key in model.usual},
        entries={key: model.entries[key] for key in rows},
        columns=columns,
        residuals={key: model.residuals[key] for key in rows},
        charges={key: model.charges[key] for key in rows},
        gaps={},
        standing=_standing_before(model, equations.values()),
        free=[
            structs.replace(one, column={key: value for key, value in one.column.items() if key in rows})
            for one in model.free
            if not one.column.keys().isdisjoint(rows)
        ],
        void=frozenset(key for key in rows if key in model.void),
        shifted=shifted,
        as_measured={key: model.as_measured[key] for key in rows if key in model.as_measured},
    )


def digest_of(*material: Any) -> bytes:
    """A digest of data to the last digit, in the order in which it stands."""
    return hashlib.blake2b(msgpack.encode(material), digest_size=32).digest()


def digest_of_block(block: BalanceModel, written: WrittenOf) -> bytes:
    """A digest of all that an answer about a block hangs on, but for the plant."""
    return digest_of(
        list(block.equations.values()),
        [_as_material(one) for one in block.values.values()],
        list(block.known.values()),
        block.usual,
        block.entries,
        block.columns,
        block.residuals,
        block.charges,
        block.as_measured,
        block.standing,
        block.free,
        sorted(block.void),
        block.shifted,
        None if block.log.in_period is None else sorted(block.log.in_period),
        [written(reading) for reading, column in block.columns.items() if OUTSIDE not in column],
    )


def _as_material(one: Measured) -> tuple[Any, ...]:
    # The text of its readings is long, and Python knows the hash of a text once it has been asked for.
    return one.key, one.method, one.vessel, one.lpa, one.percent, one.litres20, one.readings, hash(one.chain)


def _known_in(model: BalanceModel, equations: Mapping[str, Equation]) -> dict[str, Known]:
    """Readings that stand in these rows, or would if a quantity were measured anew."""
    readings: dict[str, None] = {}
    for key, line in equations.items():
        readings |= dict.fromkeys(model.entries[key])
        readings |= dict.fromkeys(reading for reading, _ in line.direct)
        for term in line.terms:
            readings |= dict.fromkeys(reading.key for reading in model.values[term.quantity].readings)
    return {reading: model.known[reading] for reading in readings}


def _inside(column: Column, rows: Mapping[str, None]) -> dict[str, float]:
    inside = {key: value for key, value in column.items() if key in rows}
    return inside if len(inside) == len(column) else {**inside, OUTSIDE: 0.0}


def _quantities_in(equations: Mapping[str, Equation], known: Mapping[str, Known]) -> dict[str, None]:
    quantities: dict[str, None] = {}
    for line in equations.values():
        quantities |= dict.fromkeys(term.quantity for term in (*line.terms, *line.charge))
    for one in known.values():
        quantities |= dict.fromkeys(one.quantities)
    return quantities


def _values_in(
    model: BalanceModel, equations: Mapping[str, Equation], known: Mapping[str, Known]
) -> dict[str, Measured]:
    return {quantity: model.values[quantity] for quantity in _quantities_in(equations, known)}


def _shifted_in(model: BalanceModel, equations: Mapping[str, Equation], known: Mapping[str, Known]) -> dict[str, float]:
    """Corrections made before that a quantity measured anew is to be measured with."""
    if not model.shifted:
        return {}
    quantities = _quantities_in(equations, known)
    return {
        reading: shift
        for reading, shift in model.shifted.items()
        if reading in known or any(one in quantities for one in model.known[reading].quantities)
    }


def _judged(log: Log, known: Mapping[str, Known]) -> frozenset[str] | None:
    return None if log.in_period is None else log.in_period & {one.seen.record for one in known.values()}


def _standing_before(model: BalanceModel, equations: Iterable[Equation]) -> dict[str, tuple[int, float]]:
    """What vessels held that nobody gauged after the last gap of the block."""
    last = max((line.order for line in equations if line.kind is RowKind.CONTINUITY), default=-1)
    return {vessel: held for vessel, held in model.standing.items() if held[0] < last}
