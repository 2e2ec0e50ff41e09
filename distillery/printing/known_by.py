"""How the closing stock of an account is known: gauged, counted, seen, or by the book; and which stock takes counted.

Alcohol is whole microlitres at 20 °C. Figures come as the books worked them out; only what is shown is added up.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from distillery import figures
from distillery.printing.blocks import Block, Heading, Paragraph
from distillery.printing.cells import Cell
from distillery.printing.columns import Column, figure_column
from distillery.printing.tables import FigureTable, summed

BY_BOOK = "What stands by the book was neither gauged nor counted in the period; its figure rests on earlier readings."


@dataclass(frozen=True, slots=True)
class BasisRow:
    """What of one stage is known in one way; `number` is None where nobody went to count."""

    stage: str
    basis: str
    number: int | None
    pure_ul: int


@dataclass(frozen=True, slots=True)
class TakeRow:
    """One stock take that was posted: when it was counted, by whom, both names, and the records that it became."""

    number: str
    began: datetime
    ended: datetime
    counted_by: str
    names: str
    records: str


@dataclass(frozen=True, slots=True)
class KnownBy:
    """The closing stock by how it is known, and the stock takes of the period."""

    lines: tuple[BasisRow, ...] = ()
    takes: tuple[TakeRow, ...] = ()


def known_by_blocks(known: KnownBy | None) -> list[Block]:
    """The blocks; none where nothing is said of it."""
    if known is None:
        return []
    columns = (
        Column("Stage", width_mm=62),
        Column("Known", width_mm=48),
        figure_column("Vessels, casks, stocks", figures.count, missing=""),
        Column("Pure alcohol", "LPA", "right", 34, figures.lpa, carried=True),
    )
    rows: list[tuple[Cell, ...]] = [(one.stage, one.basis, one.number, one.pure_ul) for one in known.lines]
    total = summed("Total", columns, rows) if rows else None
    taken = (Column("Stock take"), Column("Counted"), Column("By"), Column("Two names"), Column("Posted as"))
    lines: list[tuple[Cell, ...]] = [
        (
            one.number,
            f"{figures.moment(one.began, year=True)} to {figures.moment(one.ended, year=True)}",
            one.counted_by,
            one.names,
            one.records or "nothing",
        )
        for one in known.takes
    ]
    return [
        Heading("How the closing stock is known"),
        FigureTable(columns, rows, total=total, none="Nothing was held at the end of the period."),
        Paragraph(BY_BOOK, small=True),
        Heading("Stock takes"),
        FigureTable(taken, lines, none="No planned stock take counted in the period."),
    ]
