"""The lists of a return that are about duty: by tax type, what is put right, what came back. Each figure leads to its
movements."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse

from batches.pages.places.stock_tables import DutyColumn
from batches.returns.came_back import BackLine
from batches.returns.duty_lines import ReturnLine
from batches.returns.figures import DUTY, line_key
from batches.returns.months import Span
from distillery import figures
from distillery.lists.columns import ListColumn, LitresColumn, LpaColumn, WholeColumn
from distillery.lists.tables import HouseTable
from ledger.views.lists.movements import MovementTable
from ledger.views.ways import record_href

NOT_KNOWN = "not known"
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


def due_in_words(day: Any, today: Any) -> str:
    """'12 days left', 'today', '3 days ago'."""
    left = (day - today).days
    if left == 0:
        return "today"
    said = f"{figures.count(abs(left))} day{'' if abs(left) == 1 else 's'}"
    return f"{said} left" if left > 0 else f"{said} ago"
