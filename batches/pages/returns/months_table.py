"""The list of months of which a return is or was due."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.urls import reverse

from batches.pages.returns.tables import due_in_words
from batches.returns.months import Span, last_days, quarter_name, return_months
from distillery.lists.columns import DayColumn, ListColumn
from distillery.lists.tables import HouseTable
from distillery.pages import CLOSED, State
from ledger.periods.calendar import open_from


@dataclass(frozen=True, slots=True)
class ReturnRow:
    """One month, the last day of its return (None where no rule counts days), and the quarter that ends with it."""

    span: Span
    due: date | None
    left: str
    is_closed: bool

    @property
    def state(self) -> State | None:
        """Closed, where the books take nothing more of it."""
        return CLOSED if self.is_closed else None


def return_rows(today: date) -> list[ReturnRow]:
    """The months with their returns, the newest first. Five queries."""
    spans = return_months(today)
    days, opens = last_days(spans), open_from()
    found = []
    for span in spans:
        day = days[span.code]
        left = "" if day is None else due_in_words(day, today)
        found.append(ReturnRow(span, day, left, opens is not None and opens >= span.ends))
    return found


class ReturnTable(HouseTable):
    """Months with their returns."""

    month = ListColumn(
        "Month",
        lambda row: row.span.name,
        href=lambda row: reverse("return_page", kwargs={"period": row.span.code}),
        state=lambda row: row.state,
    )
    due = DayColumn("Return due", "due", none="no day is set")
    left = ListColumn("Which is", "left")
    quarter = ListColumn(
        "Quarter that ends with it",
        lambda row: quarter_name(row.span),
        href=lambda row: reverse("return_page", kwargs={"period": row.span.quarter}) if row.span.quarter else "",
    )
    account = ListColumn(
        "Duty account",
        lambda row: "Open",
        href=lambda row: f"{reverse('duty_account')}?month={row.span.code}",
    )

    name = "returns"
    caption = "Months"
    nothing = "Nothing has been posted yet. The first return is that of the first month in which something happens."
