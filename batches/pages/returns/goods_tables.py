"""The lists of a return that are about goods and not about duty: suspension, stock by class, spirits and cereals."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.text import capfirst

from batches.pages.returns.tables import ReturnLitresColumn, ReturnLpaColumn, line_href
from batches.returns.figures import SPIRITS, SUSPENSION, WAREHOUSE, which_key
from batches.returns.months import Span
from batches.returns.of_which import WORDS
from batches.returns.quarter import Amount, Quarter
from batches.returns.suspension import Suspended
from batches.returns.warehouse import LINES, ClassOfGoods
from distillery import figures
from distillery.lists.columns import KilogramColumn, ListColumn, LpaColumn, MomentColumn
from distillery.lists.tables import HouseTable
from ledger.views.ways import record_href

CEREALS = "cereals used"


@dataclass(frozen=True, slots=True)
class Way:
    """Any other line with the way to what lies behind it; '' where nothing does."""

    line: Any
    href: str


class SuspensionTable(HouseTable):
    """What moved in duty suspension."""

    line = ListColumn("Spirits", lambda row: capfirst(row.line.line))
    volume = ReturnLitresColumn("Volume", "line__litres20_ul")
    alcohol = ReturnLpaColumn("Alcohol", "line__pure_ul", href=lambda row: row.href)

    name = "suspension"
    caption = "Duty suspension"
    nothing = "Nothing moved in duty suspension."


def suspension_rows(span: Span, lines: Iterable[Suspended]) -> list[Way]:
    """The lines of suspended movements."""
    return [Way(one, line_href(span, f"{SUSPENSION} {one.line}") if one.movements else "") for one in lines]


class WarehouseTable(HouseTable):
    """Stock by class of goods; what is lost and what is gained are not set off."""

    goods = ListColumn("Class of goods", lambda row: capfirst(row.stage))
    opening = LpaColumn("Opening", "opening_ul")
    came_in = LpaColumn("In", "in_ul")
    out = LpaColumn("Out", "out_ul")
    losses = LpaColumn("Losses", "losses_ul")
    closing = LpaColumn("Closing", "closing_ul")
    begun_in = ListColumn("Opening in", lambda row: _lie_in(row, ended=False), none="-")
    ended_in = ListColumn("Closing in", lambda row: _lie_in(row, ended=True), none="-")

    name = "warehouse"
    caption = "Stock by class of goods"
    note = "opening and in, less out and losses, is the closing; gains are in what came in"
    nothing = "No spirits are in stock."
    adds_up = True

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        found: list[ClassOfGoods] = list(rows)
        return {"opening": sum(one.opening_ul for one in found), "closing": sum(one.closing_ul for one in found)}


def _lie_in(row: ClassOfGoods, *, ended: bool) -> str:
    """'24 casks', as the month began or as it ended; blank of goods in neither casks nor bottles."""
    if row.lie_in is None:
        return ""
    number = row.lie_in.closing if ended else row.lie_in.opening
    return f"{figures.count(number)} {row.lie_in.what.removesuffix('s') if number == 1 else row.lie_in.what}"


@dataclass(frozen=True, slots=True)
class LineOfGoods:
    """One line of one class of goods."""

    stage: str
    line: str
    pure_ul: int
    href: str
    reason: str


class WarehouseLineTable(HouseTable):
    """Each line of the stock return by class of goods."""

    goods = ListColumn("Class of goods", lambda row: capfirst(row.stage))
    line = ListColumn("Line", lambda row: capfirst(row.line))
    alcohol = LpaColumn("Alcohol", "pure_ul", href=lambda row: row.href)
    reason = ListColumn("Reason", "reason", none="-")

    name = "warehouse-lines"
    caption = "What came in, went out and was lost"
    nothing = "Nothing moved."


def warehouse_lines(span: Span, classes: Iterable[ClassOfGoods]) -> list[LineOfGoods]:
    """The lines that came to something, in the order of the stock return."""
    return [
        LineOfGoods(
            one.stage,
            line,
            one.lines[line],
            line_href(span, f"{WAREHOUSE} {one.stage}: {line}"),
            "; ".join(one.reasons.get(line, ())),
        )
        for one in classes
        for line in LINES
        if one.lines.get(line)
    ]


class SpiritsTable(HouseTable):
    """Spirits made in a quarter by kind."""

    kind = ListColumn("Kind", lambda row: capfirst(row.line.name))
    alcohol = ReturnLpaColumn("Spirits made", "line__amount", href=lambda row: row.href)

    name = "spirits"
    caption = "Spirits made"
    note = "the spirits accounts of the runs: each receiver after collection, less its remnant"
    nothing = "No spirits were made in the quarter: a nil figure."
    adds_up = True

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        found = [one.line.amount for one in rows]
        return {"alcohol": sum(found)} if found else {}


class OfWhichTable(HouseTable):
    """Of the spirits made, those made as a name asks and those that are not proven to be."""

    whisky = ListColumn("Whisky", "line__name")
    which = ListColumn("How it was made", lambda row: capfirst(WORDS[row.line.outcome]))
    alcohol = ReturnLpaColumn("Spirits made", "line__amount", href=lambda row: row.href)
    why = ListColumn("Because", lambda row: "; ".join(row.line.why), none="-")

    name = "of-which"
    caption = "Of which Scotch whisky, of which Irish whiskey"
    note = "as it was made; it is whisky only once it has matured, and the law and the officer decide"
    nothing = "No spirits were made in the quarter, or the site has no requirements of the name."


class CerealTable(HouseTable):
    """Cereals used in a quarter by name."""

    cereal = ListColumn("Cereal", lambda row: capfirst(row.line.name))
    used = KilogramColumn("Used", "line__amount", href=lambda row: row.href)

    name = "cereals"
    caption = "Cereals used"
    note = "malted; barley where a receipt names no cereal"
    nothing = "No cereals were used in the quarter: a nil figure."
    adds_up = True

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        found = [one.line.amount for one in rows]
        return {"used": sum(found)} if found else {}


def amount_rows(span: Span, amounts: Iterable[Amount], name: str) -> list[Way]:
    """Lines of a quarter with the ways to what lies behind them."""
    return [Way(one, line_href(span, f"{name}: {one.name}")) for one in amounts]


def of_which_rows(span: Span, made: Quarter) -> list[Way]:
    """The same of what was made as a name asks."""
    return [Way(one, line_href(span, f"{SPIRITS}: {which_key(one)}")) for one in made.of_which]


class UsedTable(HouseTable):
    """What each record used of a cereal."""

    used_at = MomentColumn("Used at", "at", order=("at",))
    record = ListColumn("Record", "record", href=lambda row: record_href(row.record_kind, row.record))
    lot = ListColumn("Lot", "lot")
    amount = KilogramColumn("Used", "amount_g", order=("amount_g",))

    name = "used"
    nothing = "None was used."
    adds_up = True

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        found = [one.amount_g for one in rows]
        return {"amount": sum(found)} if found else {}
