"""Which pictures and lists the board has, in their order, for page and paper alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from batches.board.reading import Board
from batches.pages.board.pictures import (
    MOST_MASHES,
    BoardPicture,
    age_picture,
    difference_picture,
    loss_picture,
    period_picture,
    stock_picture,
    yield_picture,
)
from batches.pages.board.tables import (
    AgeTable,
    LossOfMonthTable,
    MashTable,
    PeriodOnBoardTable,
    StockTable,
    YieldOfMonthTable,
    cause_columns,
    stage_columns,
)
from distillery.lists.tables import HouseTable


@dataclass(frozen=True, slots=True)
class Part:
    """Pictures with the list of their figures: its class, rows, and the columns that come with the span.

    `is_folded` of a long list whose sums stand before it: the page folds it away, and paper leaves it out.
    """

    name: str
    pictures: tuple[BoardPicture, ...]
    kind: type[HouseTable]
    rows: Sequence[Any]
    more: dict[str, Any] = field(default_factory=dict)
    is_folded: bool = False

    def whole(self) -> HouseTable:
        """The whole list, with its sums where it has any."""
        table = self.kind(list(self.rows), **self.more)
        if table.adds_up:
            table.total = table.total_row()
        return table


def parts_of(board: Board) -> list[Part]:
    """The parts of the board."""
    newest = list(reversed(board.months))
    are_many = len(board.mashes) > MOST_MASHES
    parts = [
        Part("stock", (stock_picture(board),), StockTable, newest, {"extra_columns": stage_columns(board)}),
    ]
    if are_many:
        with_mashes = [month for month in newest if month.mashes is not None]
        parts.append(Part("yields", (yield_picture(board),), YieldOfMonthTable, with_mashes))
    own = () if are_many else (yield_picture(board),)
    parts += [
        Part("mashes", own, MashTable, list(reversed(board.mashes)), is_folded=are_many),
        Part("periods", (period_picture(board),), PeriodOnBoardTable, list(reversed(board.periods))),
        Part(
            "losses",
            (loss_picture(board), difference_picture(board)),
            LossOfMonthTable,
            newest,
            {"extra_columns": cause_columns(board)},
        ),
        Part("ages", (age_picture(board),), AgeTable, board.ages),
    ]
    return parts
