"""The lists of a return: duty by tax type, what is put right, what came back, suspension, stock by class, spirits and
cereals. Each figure leads to its movements."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.text import capfirst

from batches.pages.places.stock_tables import DutyColumn
from batches.returns.came_back import BackLine
from batches.returns.duty_lines import ReturnLine
from batches.returns.figures import DUTY, SUSPENSION, WAREHOUSE, line_key
from batches.returns.months import Span
from batches.returns.quarter import Amount
from batches.returns.suspension import Suspended
from batches.returns.warehouse import LINES, ClassOfGoods
from distillery import figures
from distillery.lists.columns import KilogramColumn, ListColumn, LitresColumn, LpaColumn, MomentColumn, WholeColumn
from distillery.lists.tables import HouseTable
from ledger.views.lists.movements import MovementTable
from ledger.views.ways import record_href

NOT_KNOWN = "not known"
CEREALS = "cereals used"
PENCE_HUNDREDTHS_A_POUND = 10_000


def line_href(span: Span, key: str) -> str:
    """The list of what lies behind a figure."""
    return f"{reverse('return_line', kwargs={'period': span.code})}?{urlencode({'line': key})}"


class RateColumn(WholeColumn):
    """Pounds for each litre of pure alcohol from hundredths of a penny."""

    of, places, unit = PENCE_HUNDREDTHS_A_POUND, 2, "£ per LPA"


class ReturnLpaColumn(LpaColumn):
    """Litres of pure alcohol with the four decimals of a return."""

    places = 4


class ReturnLitresColumn(LitresColumn):
    """Litres with the two decimals of a return."""

    places = 2


@dataclass(frozen=True, slots=True)
class Shown:
    """One line of a return with the way to its movements; amounts are above nothing, whichever way they go."""

    line: ReturnLine | BackLine
    href: str

    @property
    def pence(self) -> int | str:
        """Duty, or that it is not known."""
        return NOT_KNOWN if self.line.pence is None else abs(self.line.pence)

    @property
    def pure_ul(self) -> int:
        """Pure alcohol."""
        return abs(self.line.pure_ul)

    @property
    def litres20_ul(self) -> int:
        """Litres."""
        return abs(self.line.litres20_ul)


def duty_rows(span: Span, lines: Iterable[ReturnLine], name: str = DUTY) -> list[Shown]:
    """Lines of a return as their lists show them."""
    return [Shown(one, line_href(span, line_key(name, one))) for one in lines]


def back_rows(span: Span, lines: Iterable[BackLine], name: str) -> list[Shown]:
    """What came back as its lists show it."""
    return [Shown(one, line_href(span, f"{name} {one.record}")) for one in lines]


def _tax_type(row: Shown) -> str:
    return row.line.tax_type or NOT_KNOWN


class DutyTable(HouseTable):
    """Duty of the month by tax type and rate."""

    tax_type = ListColumn("Tax type", _tax_type)
    volume = ReturnLitresColumn("Volume", "litres20_ul")
    alcohol = ReturnLpaColumn("Alcohol", "pure_ul", href=lambda row: row.href)
    rate = RateColumn("Rate", "line__rate", none=NOT_KNOWN)
    duty = DutyColumn("Duty", "pence")
    one_by_one = DutyColumn("Its removals one by one", lambda row: _one_by_one(row))

    name = "duty"
    caption = "Duty by tax type"
    note = "a line is its alcohol together times the rate, part-pence dropped"
    nothing = "No duty fell due in the month."
    adds_up = True

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        return _totals(rows)


def _one_by_one(row: Shown) -> int | str:
    line = row.line
    assert isinstance(line, ReturnLine)
    return NOT_KNOWN if line.of_removals_pence is None else line.of_removals_pence


def _totals(rows: Iterable[Any]) -> dict[str, Any]:
    found = list(rows)
    if not found:
        return {}
    known = [one.pence for one in found if not isinstance(one.pence, str)]
    return {
        "volume": sum(one.litres20_ul for one in found),
        "alcohol": sum(one.pure_ul for one in found),
        "duty": sum(known) if len(known) == len(found) else NOT_KNOWN,
    }


class UnderTable(HouseTable):
    """What was under-declared in earlier months."""

    of = ListColumn("Of", "line__of")
    record = ListColumn("Record", lambda row: ", ".join(number for _, number in row.line.records))
    tax_type = ListColumn("Tax type", _tax_type)
    volume = ReturnLitresColumn("Volume", "litres20_ul")
    alcohol = ReturnLpaColumn("Alcohol", "pure_ul", href=lambda row: row.href)
    rate = RateColumn("Rate", "line__rate", none=NOT_KNOWN)
    duty = DutyColumn("Duty", "pence")
    reason = ListColumn("Reason", "line__reason")

    name = "under"
    caption = "Under-declared in earlier months"
    nothing = "Nothing of an earlier month was under-declared."
    adds_up = True

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        return _totals(rows)


class OverTable(UnderTable):
    """What was over-declared in earlier months."""

    name = "over"
    caption = "Over-declared in earlier months"
    nothing = "Nothing of an earlier month was over-declared."


class SpoiltTable(HouseTable):
    """Spoilt product whose duty was paid."""

    record = ListColumn("Record", "line__record", href=lambda row: record_href(row.line.record_kind, row.line.record))
    claim = ListColumn("Claim", "line__claim")
    tax_type = ListColumn("Tax type", _tax_type)
    volume = ReturnLitresColumn("Volume", "litres20_ul")
    alcohol = ReturnLpaColumn("Alcohol", "pure_ul", href=lambda row: row.href)
    rate = RateColumn("Rate paid", "line__rate", none=NOT_KNOWN)
    duty = DutyColumn("Duty", "pence")
    why = ListColumn("Look", "line__why")

    name = "spoilt"
    caption = "Spoilt product"
    nothing = "No spoilt product came back."
    adds_up = True

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        return _totals(rows)


class DrawbackTable(SpoiltTable):
    """Goods on whose duty drawback is claimed."""

    name = "drawback"
    caption = "Drawback"
    nothing = "No drawback is claimed on what came back."


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

    name = "warehouse"
    caption = "Stock by class of goods"
    note = "opening and in, less out and losses, is the closing; gains are in what came in"
    nothing = "No spirits are in stock."
    adds_up = True

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        found: list[ClassOfGoods] = list(rows)
        return {"opening": sum(one.opening_ul for one in found), "closing": sum(one.closing_ul for one in found)}


@dataclass(frozen=True, slots=True)
class LineOfGoods:
    """One line of one class of goods."""

    stage: str
    line: str
    pure_ul: int
    href: str


class WarehouseLineTable(HouseTable):
    """Each line of the stock return by class of goods."""

    goods = ListColumn("Class of goods", lambda row: capfirst(row.stage))
    line = ListColumn("Line", lambda row: capfirst(row.line))
    alcohol = LpaColumn("Alcohol", "pure_ul", href=lambda row: row.href)

    name = "warehouse-lines"
    caption = "What came in, went out and was lost"
    nothing = "Nothing moved."


def warehouse_lines(span: Span, classes: Iterable[ClassOfGoods]) -> list[LineOfGoods]:
    """The lines that came to something, in the order of the stock return."""
    return [
        LineOfGoods(one.stage, line, one.lines[line], line_href(span, f"{WAREHOUSE} {one.stage}: {line}"))
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


class LineTable(MovementTable):
    """The movements behind one figure, each with what it brings to it; together they are the figure."""

    of_figure = ReturnLpaColumn("Of this figure", lambda row: row.of_figure)

    name = "line"
    note = "what takes an entry back is below nothing"
    adds_up = True

    def __init__(self, data: Any, *, amounts: Mapping[int, int], **more: Any) -> None:
        self.amounts = amounts
        sequence = ("number", "happened", "written", "person", "what", "record", "of_figure")
        super().__init__(data, sequence=sequence, exclude=("alcohol", "difference", "found"), **more)

    def prepare(self, rows: Sequence[Any]) -> None:
        super().prepare(rows)
        for row in rows:
            row.of_figure = self._sign * self.amounts.get(row.pk, 0)

    @property
    def _sign(self) -> int:
        """What is over-declared stands above nothing on a return."""
        return -1 if sum(self.amounts.values()) < 0 else 1

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        return {"of_figure": abs(sum(self.amounts.values()))}


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


def due_in_words(day: Any, today: Any) -> str:
    """'12 days left', 'today', '3 days ago'."""
    left = (day - today).days
    if left == 0:
        return "today"
    said = f"{figures.count(abs(left))} day{'' if abs(left) == 1 else 's'}"
    return f"{said} left" if left > 0 else f"{said} ago"
