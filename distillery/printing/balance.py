"""The balance line as printed: Opening, In, Out, Known losses, Should be, Measured, Difference, in one row.

Whole microlitres of pure alcohol at 20 °C in, litres to two decimals on paper. The difference is what should be
there less what was measured: positive is missing, negative is over. A line foots when what should be there less the
difference is what is there, to the microlitre.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from distillery import figures
from distillery.printing.tabled.columns import Column, figure_column
from distillery.printing.tabled.tables import FigureTable


@dataclass(frozen=True, slots=True)
class BalanceRow:
    """One balance line, in whole microlitres of pure alcohol; known losses and outs are positive amounts."""

    name: str
    opening_ul: int
    in_ul: int
    out_ul: int
    known_losses_ul: int
    difference_ul: int
    closing_ul: int

    @property
    def should_be_ul(self) -> int:
        return self.opening_ul + self.in_ul - self.out_ul - self.known_losses_ul

    @property
    def unaccounted_ul(self) -> int:
        """What keeps the line from footing: nothing where it foots."""
        return self.should_be_ul - self.difference_ul - self.closing_ul

    @property
    def foots(self) -> bool:
        return self.unaccounted_ul == 0


def balance_table(
    rows: Sequence[BalanceRow], total: BalanceRow | None = None, *, first: str = "", closing: str = "Measured"
) -> FigureTable:
    """The lines under their seven heads, the total in bold; `closing` names the figure that stands at the end."""
    heads = ("Opening", "In", "Out", "Known losses", "Should be", closing, "Difference")
    *amounts, last = heads
    columns = (
        Column(first),
        *(figure_column(head, figures.lpa, unit="LPA") for head in amounts),
        figure_column(last, figures.difference, unit="LPA"),
    )
    return FigureTable(columns, tuple(_cells(row) for row in rows), total=None if total is None else _cells(total))


def _cells(row: BalanceRow) -> tuple[str | int, ...]:
    return (
        row.name,
        row.opening_ul,
        row.in_ul,
        row.out_ul,
        row.known_losses_ul,
        row.should_be_ul,
        row.closing_ul,
        row.difference_ul,
    )
