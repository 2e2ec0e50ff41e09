"""The lists of the board: each has the figures of one picture."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.urls import reverse

from batches.board.reading import Board, MonthOnBoard
from distillery.lists.columns import DifferenceColumn, FigureColumn, KilogramColumn, ListColumn, LpaColumn, MomentColumn
from distillery.lists.tables import HouseTable
from distillery.plant.models import MICRO, Stage


def _month(row: MonthOnBoard) -> str:
    return reverse("month", kwargs={"period": row.period})


class StockTable(HouseTable):
    """What each stage held at the end of each month; a column for each stage comes with the span."""

    month = ListColumn("Month", "name", href=_month)

    name, caption = "stock", "Stock by stage"
    note = "at the end of each month"
    nothing = "There is no month yet."


def stage_columns(board: Board) -> list[tuple[str, Any]]:
    """A column for each stage, and the site."""

    def held(stage: str) -> Any:
        return LpaColumn(Stage(stage).label, lambda row: row.stages.get(stage, 0))

    columns = [(f"stage_{number}", held(stage)) for number, stage in enumerate(board.stages)]
    return [*columns, ("site", LpaColumn("Site", "held_ul"))]


class LossOfMonthTable(HouseTable):
    """Known losses of each month; a column for each cause comes with the span."""

    month = ListColumn("Month", "name", href=_month)

    name, caption = "losses", "Known losses by cause"
    note = "net of what was booked back in the month; differences are what nobody has explained"
    nothing = "There is no month yet."
    adds_up = True

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        months = list(rows)
        if not months:
            return {}
        found: dict[str, Any] = {}
        for name, column in self.list_columns[1:]:
            found[name] = sum(column.value_of(month) or 0 for month in months)
        return found


def cause_columns(board: Board) -> list[tuple[str, Any]]:
    """A column for each cause, all of them together, and the difference."""

    def lost(cause: str) -> Any:
        return LpaColumn(cause.capitalize(), lambda row: row.losses.get(cause, 0))

    columns = [(f"cause_{number}", lost(cause)) for number, cause in enumerate(board.causes)]
    return [
        *columns,
        ("lost", LpaColumn("Together", "lost_ul")),
        ("apart", DifferenceColumn("Difference", "difference_ul")),
    ]


class MashTable(HouseTable):
    """The mashes of the span, the newest first."""

    mash = ListColumn("Mash", "number", href=lambda row: reverse("record", args=[row.kind, row.number]))
    started = MomentColumn("Begun", "started_at")
    malt = KilogramColumn("Malt", "malt_g", places=0)
    wash = LpaColumn("Wash declared", "declared_ul", none="not yet")
    reached = FigureColumn("Wash a tonne", "reached", places=1, unit="LPA/t", none="none yet")
    promised = FigureColumn("Malt promised", "promised", places=1, unit="LPA/t", none="not known")
    efficiency = FigureColumn("Of that", "efficiency", places=1, unit="%", none="not known")

    name, caption = "mashes", "Mashes"
    note = "newest first; wash as its fermentation declared it, before the stills"
    nothing = "No mash was begun in these months."


class YieldOfMonthTable(HouseTable):
    """The mashes begun in each month, as one."""

    month = ListColumn("Month", "name", href=_month)
    count = FigureColumn("Mashes declared", "mashes__count")
    malt = KilogramColumn("Malt", "mashes__malt_g", places=0)
    reached = FigureColumn("Wash a tonne", "mashes__reached", places=1, unit="LPA/t", none="none yet")
    promised = FigureColumn("Malt promised", "mashes__promised", places=1, unit="LPA/t", none="not known")

    name, caption = "yields", "Yields by month"
    note = "all mashes begun in the month by mass; wash as its fermentation declared it, before the stills"
    nothing = "No mash was begun in these months."


class PeriodOnBoardTable(HouseTable):
    """The last distillation periods that ended in the span, the newest first."""

    number = ListColumn(
        "Distillation period", "number", href=lambda row: reverse("distillation_period", args=[row.number])
    )
    spirits = ListColumn("Class of spirits", "spirits")
    ended = MomentColumn("Ended", "ended_at")
    malt = FigureColumn("Malt", "malt_kilograms", unit="kg")
    reached = FigureColumn("Yield", "reached", places=1, unit="LPA/t", none="none")
    promised = FigureColumn("Malt promised", "promised", places=1, unit="LPA/t", none="not known")

    name, caption = "periods", "Distillation periods"
    note = "newest first; spirit made and the change of low wines and feints"
    nothing = "No distillation period ended in these months."


class AgeTable(HouseTable):
    """Full casks by whole years of age."""

    years = FigureColumn("Age", "years", unit="whole years")
    casks = FigureColumn("Casks", "casks")
    filled = LpaColumn("Filled with", "filled_ul")
    least = LpaColumn("Expected at least", lambda row: _whole(row.least_ul), none="no band is set")
    most = LpaColumn("and at most", lambda row: _whole(row.most_ul), none="no band is set")
    held = LpaColumn("By book", "held_ul")

    name, caption = "ages", "Casks by age"
    note = "now, whatever months are shown"
    nothing = "No cask is full. A cask fill brings the first."
    adds_up = True

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        lines = list(rows)
        if not lines:
            return {}
        found: dict[str, Any] = {name: sum(getattr(one, f"{name}_ul") for one in lines) for name in ("filled", "held")}
        found["casks"] = sum(one.casks for one in lines)
        for name in ("least", "most"):
            told = [_whole(getattr(one, f"{name}_ul")) for one in lines]
            found[name] = None if None in told else sum(one or 0 for one in told)
        return found


def _whole(pure_ul: float | None) -> int | None:
    return None if pure_ul is None else round(pure_ul)


def plain(board: Board) -> dict[str, Any]:
    """The board as plain data, of which the digest of its print is made: litres of pure alcohol."""
    return {
        "first": board.span.first,
        "last": board.span.last,
        "months": [
            {
                "period": month.period,
                "stock_lpa": {stage: ul / MICRO for stage, ul in month.stages.items()},
                "losses_lpa": {cause: ul / MICRO for cause, ul in sorted(month.losses.items())},
                "difference_lpa": month.difference_ul / MICRO,
            }
            for month in board.months
        ],
        "mashes": [
            {"mash": one.number, "malt_g": one.malt_g, "reached": one.reached, "promised": one.promised}
            for one in board.mashes
        ],
        "periods": [{"period": one.number, "reached": one.reached, "promised": one.promised} for one in board.periods],
        "ages": [
            {
                "years": one.years,
                "casks": one.casks,
                "filled_lpa": one.filled_ul / MICRO,
                "book_lpa": one.held_ul / MICRO,
            }
            for one in board.ages
        ],
    }
