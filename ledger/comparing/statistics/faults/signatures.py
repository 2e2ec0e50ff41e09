"""Signatures: the column each kind of fault writes into the residuals.

A closing reading that is too low makes its operation look short, and makes the vessel's next gauge look long by as
much. A real loss is missing once and is found nowhere. In that the two differ.

An operation's row is in − out − known losses − usual loss, so a loss is positive. A continuity row is opening gauge −
last closing gauge, less what the book moved in between, so what was found is positive. Slopes are those at the gauge:
LPA, or % vol in a row of strengths, for one unit of the reading. A row that does not exist yet, because the next gauge
has not been made, is None.

Source: law of propagation, JCGM 100:2008 5.1.3, applied to the two balances above.
"""

from collections.abc import Mapping, Sequence

from ledger.comparing.statistics.algebra.problem import Column, FaultKind, Hypothesis, Row, RowKind
from ledger.comparing.statistics.faults.slips import Slip


def combined(*columns: Column) -> Column:
    """One reading entering several rows by several routes (a gauge that closes one operation and opens the next)."""
    total: dict[str, float] = {}
    for column in columns:
        for row, sensitivity in column.items():
            total[row] = total.get(row, 0.0) + sensitivity
    return total


def loss_at(row: Row) -> Hypothesis:
    """Alcohol lost (positive) or gained (negative) at one operation and nowhere else; the size is in LPA."""
    return Hypothesis(f"loss:{row.key}", row.label or row.key, FaultKind.LOSS, ({row.key: 1.0},))


def losses(rows: Sequence[Row]) -> list[Hypothesis]:
    """A loss for every operation's row."""
    return [loss_at(row) for row in rows if row.kind is RowKind.OPERATION]


def lasting_losses(family: str, label: str, charges: Mapping[str, float]) -> list[Hypothesis]:
    """A share of every charge lost from some run on, once for every run it may have begun with.

    `charges` are row key -> LPA charged of one type of operation, in time order. The size is a share of charge.
    """
    keys = list(charges)
    return [
        Hypothesis(
            f"lasting:{family}:{first}",
            label,
            FaultKind.LASTING_LOSS,
            ({key: charges[key] for key in keys[start:]},),
            family=family,
        )
        for start, first in enumerate(keys)
    ]


def unwritten_movement(
    key: str,
    label: str,
    *,
    gave: Sequence[str] = (),
    got: Sequence[str] = (),
    free_rows: Sequence[str] = (),
    slips: Sequence[Slip] = (),
    size_range: float = 0.0,
) -> Hypothesis:
    """Alcohol moved without being written down; the size is in LPA.

    `gave` and `got` name the continuity rows that find less and more. `free_rows` are strength rows of vessels that
    got something of another strength: their size is unknown and left free. A movement written twice has the
    same column with a negative size, and one put to the wrong vessel has the continuity row of the vessel written
    down in `gave` and that of the vessel that truly received it in `got`. `slips` carry the amounts that were
    written, `size_range` the range in LPA any other amount could come from.
    """
    moved = _column(*((row, -1.0) for row in gave), *((row, 1.0) for row in got))
    free: list[Column] = [{row: 1.0} for row in free_rows]
    return Hypothesis(key, label, FaultKind.MOVEMENT, (moved, *free), slips=tuple(slips), size_range=size_range)


def _column(*entries: tuple[str | None, float]) -> Column:
    total: dict[str, float] = {}
    for row, sensitivity in entries:
        if row is not None and sensitivity:
            total[row] = total.get(row, 0.0) + sensitivity
    return total
