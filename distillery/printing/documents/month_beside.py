"""What stands beside the lines of a printed month's account: how its figures are known, yields, the months before.

Alcohol is whole microlitres at 20 °C, malt kilograms, yields LPA a tonne of malt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from distillery import figures
from distillery.printing.balance import BalanceRow, balance_table
from distillery.printing.blocks import Block, Heading, Paragraph
from distillery.printing.tabled.columns import Column, figure_column
from distillery.printing.tabled.tables import FigureTable

NO_FIGURE = "none"


@dataclass(frozen=True, slots=True)
class KnownRow:
    """What one place held at the end: gauged in the period, counted, seen in it, or by its book; `gauged` and `seen`
    count vessels and casks.
    """

    place: str
    gauged: int
    gauged_ul: int
    counted_ul: int
    seen: int
    seen_ul: int
    book_ul: int
    gauged_at: datetime | None = None


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
class YieldRow:
    """What some malt came to beside what it promised; `said` how that stands."""

    name: str
    malt_kilograms: float
    reached: float | None
    promised: float | None
    said: str = ""


def places_block(rows: Sequence[BalanceRow], total: BalanceRow) -> list[Block]:
    """The account by place; nothing where no place is given."""
    if not rows:
        return []
    said = (
        "What passes within a place is neither in nor out of it; what passes between places cancels in the last line."
    )
    return [
        Heading("By place"),
        balance_table(rows, total, first="Place", closing="Closing"),
        Paragraph(said, small=True),
    ]


def known_block(rows: Sequence[KnownRow]) -> list[Block]:
    """How the closing figures are known."""
    if not rows:
        return []
    amounts = ("Gauged", "Counted", "Seen", "By book", "Closing")
    columns = (
        Column("Place"),
        figure_column("Vessels gauged", figures.count),
        figure_column("Casks seen", figures.count),
        *(figure_column(head, figures.lpa, unit="LPA") for head in amounts),
        Column("Oldest gauge of what is older", missing=NO_FIGURE),
    )
    cells = [
        (
            one.place,
            one.gauged,
            one.seen,
            one.gauged_ul,
            one.counted_ul,
            one.seen_ul,
            one.book_ul,
            one.gauged_ul + one.counted_ul + one.seen_ul + one.book_ul,
            figures.day(one.gauged_at, year=True) if one.gauged_at else None,
        )
        for one in rows
    ]
    numbers = [sum(getattr(one, name) for one in rows) for name in ("gauged", "seen")]
    sums = [sum(getattr(one, name) for one in rows) for name in ("gauged_ul", "counted_ul", "seen_ul", "book_ul")]
    said = (
        "Gauged: a gauge of the vessel or cask lies in the period, or a cask was weighed as it was filled. Seen: a "
        "stock take saw the cask and did not weigh it. What stands by the book was none of these; its figure rests on "
        "earlier readings."
    )
    return [
        Heading("How the closing figures are known"),
        FigureTable(columns, cells, total=("Site", *numbers, *sums, sum(sums), "")),
        Paragraph(said, small=True),
    ]


def takes_block(rows: Sequence[TakeRow]) -> list[Block]:
    """The stock takes that counted in the period."""
    columns = (Column("Stock take"), Column("Counted"), Column("By"), Column("Two names"), Column("Posted as"))
    cells = [
        (
            one.number,
            f"{figures.moment(one.began, year=True)} to {figures.moment(one.ended, year=True)}",
            one.counted_by,
            one.names,
            one.records or "nothing",
        )
        for one in rows
    ]
    none = "No planned stock take counted in the period."
    return [Heading("Stock takes"), FigureTable(columns, cells, none=none)]


def yields_block(rows: Sequence[YieldRow]) -> list[Block]:
    """Yields beside what the malt promised."""
    if not rows:
        return []
    columns = (
        Column("What"),
        figure_column("Malt", unit="kg"),
        figure_column("Reached", unit="LPA/t", missing="none yet"),
        figure_column("Malt promised", unit="LPA/t", missing="not known"),
        figure_column("Of that", unit="%", missing="not known"),
        Column("State"),
    )
    said = "By the records as they stood when this was printed; no part of the digest."
    return [Heading("Yields"), FigureTable(columns, [_yield(one) for one in rows]), Paragraph(said, small=True)]


def _yield(one: YieldRow) -> tuple[str | None, ...]:
    share = 100.0 * one.reached / one.promised if one.reached is not None and one.promised else None
    told = tuple(None if each is None else figures.number(each, 1) for each in (one.reached, one.promised, share))
    return one.name, figures.number(one.malt_kilograms, 0), *told, one.said


def earlier_block(rows: Sequence[BalanceRow]) -> list[Block]:
    """The line of the site, this period first and then those before it; nothing where there was none before."""
    if len(rows) < 2:
        return []
    return [Heading("This period and those before it"), balance_table(rows, first="Period", closing="Closing")]
