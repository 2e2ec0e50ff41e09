"""What crossed a close, on the printed account of either period."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from distillery import figures
from distillery.printing.blocks import Block, Heading, Paragraph
from distillery.printing.tabled.cells import Cell
from distillery.printing.tabled.columns import Column
from distillery.printing.tabled.tables import FigureTable, summed

CARRIED = (
    "Written about a period that was closed by then. This account bears it, each with its true time; the account of "
    "the period it is about names it too."
)
SINCE_CLOSED = (
    "None of this is in the figures above, nor in the digest: they stay as they were closed. The account of the period "
    "named bears it."
)


@dataclass(frozen=True, slots=True)
class CrossingLine:
    """What was written about a closed period: `other` is the period that carries it, or the one it is about.

    Amounts are what it changes of the account that bears it; `removals` are kind, pure alcohol and pence of duty.
    """

    record: str
    operation: str
    truly_at: datetime
    other: str
    in_ul: int
    out_ul: int
    known_losses_ul: int
    difference_ul: int
    removals: tuple[tuple[str, int, int | None], ...] = ()


def crossed_block(heading: str, lines: Sequence[CrossingLine], other: str, said: str) -> list[Block]:
    """Its lines; nothing where nothing crossed."""
    if not lines:
        return []
    columns = (
        Column("Record"),
        Column("Operation"),
        Column("Truly happened"),
        Column(other),
        *(Column(head, "LPA", "right", None, figures.lpa, carried=True) for head in ("In", "Out", "Known losses")),
        Column("Difference", "LPA", "right", None, figures.difference, carried=True),
    )
    rows: list[tuple[Cell, ...]] = [
        (
            one.record,
            one.operation,
            figures.moment(one.truly_at, year=True),
            one.other,
            one.in_ul,
            one.out_ul,
            one.known_losses_ul,
            one.difference_ul,
        )
        for one in lines
    ]
    table = FigureTable(columns, rows, total=summed("Total", columns, rows), none="Nothing crossed a close.")
    return [Heading(heading), table, Paragraph(said, small=True)]
