"""The columns of lists. A column says what it reads of a row, and how that is written on a page, in a file, on paper.

Page and paper show the same text, written by `distillery.figures`. Comma-separated text has the same figures without
marks between thousands; a workbook has the number itself, rounded as shown, so that it can be added up.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any

import django_tables2
from django.utils import timezone
from django_tables2.utils import Accessor

from distillery import figures, pages

# What a column reads: a path of names ('vessel__code'), or a function of the row.
Read = str | Callable[[Any], Any]
Plain = str | int | Decimal | date | datetime


class ListColumn(django_tables2.Column):  # type: ignore[misc]
    """A column of text. `order` names the indexed fields its rows are sorted by; without it there is no sorting.

    `href` and `state` are functions of the row, `none` is what stands where there is nothing.
    """

    numeric = False
    unit = ""
    places = 0

    def __init__(
        self,
        label: str,
        read: Read,
        *,
        order: Sequence[str] = (),
        href: Callable[[Any], str] | None = None,
        state: Callable[[Any], pages.State | None] | None = None,
        none: str = "",
        unit: str = "",
    ) -> None:
        super().__init__(
            verbose_name=label,
            accessor=read if isinstance(read, str) else None,
            order_by=tuple(order) or None,
            orderable=bool(order),
            empty_values=(),
        )
        self.label, self.none, self.unit = label, none, unit or self.unit
        self._accessor: Any = Accessor(read) if isinstance(read, str) else None
        self._read = read
        self._href, self._state = href, state

    @property
    def head(self) -> pages.Column:
        """The head of the column."""
        return pages.Column(self.label, self.numeric, self.unit)

    def value_of(self, row: Any) -> Any:
        """What the column reads of a row."""
        if self._accessor is None:
            assert callable(self._read)
            return self._read(row)
        return self._accessor.resolve(row, quiet=True)

    def written(self, value: Any) -> str:
        """A value as page and paper show it."""
        return str(value)

    def plain_value(self, value: Any) -> Plain:
        """A value as a file carries it."""
        return str(value)

    def cell(self, row: Any) -> pages.Cell:
        """The cell of a row, as page and paper show it."""
        value = self.value_of(row)
        text = self.none if value is None or value == "" else self.written(value)
        return pages.Cell(
            text,
            href=self._href(row) if self._href is not None else "",
            state=self._state(row) if self._state is not None else None,
        )

    def plain(self, row: Any) -> Plain:
        """The cell of a row for a file: the value, and the words of its state."""
        value = self.value_of(row)
        if value is None or value == "":
            state = self._state(row) if self._state is not None else None
            return state.word if state is not None else self.none
        return self.plain_value(value)

    # What django-tables2 itself asks of a column.

    def render(self, record: Any) -> str:
        """The text of a cell."""
        return self.cell(record).text

    def value(self, record: Any) -> Plain:
        """The value of a cell for a file."""
        return self.plain(record)


class MomentColumn(ListColumn):
    """A day and time on the site's clock; files have it as 2027-03-04 02:12."""

    def written(self, value: Any) -> str:
        return figures.moment(value, year=True)

    def plain_value(self, value: Any) -> Plain:
        return timezone.localtime(value).replace(tzinfo=None, second=0, microsecond=0)


class DayColumn(ListColumn):
    """A day; files have it as 2027-03-04."""

    def written(self, value: Any) -> str:
        return figures.day(value, year=True)

    def plain_value(self, value: Any) -> Plain:
        if isinstance(value, datetime):
            return timezone.localtime(value).date()
        day: date = value
        return day


class FigureColumn(ListColumn):
    """A number with so many decimals; figures stand to the right."""

    numeric = True

    def __init__(self, label: str, read: Read, *, places: int | None = None, **more: Any) -> None:
        super().__init__(label, read, **more)
        self.places = self.places if places is None else places

    def written(self, value: Any) -> str:
        return figures.number(value, self.places)

    def plain_value(self, value: Any) -> Plain:
        exact = Decimal(repr(value)) if isinstance(value, float) else Decimal(value)
        return exact.quantize(Decimal(1).scaleb(-self.places), rounding=ROUND_HALF_EVEN)


class WholeColumn(FigureColumn):
    """A figure kept as a whole number of a smaller unit: microlitres, grams, pence, millionths."""

    of = 1

    def written(self, value: Any) -> str:
        return figures.number(Decimal(value) / self.of, self.places)

    def plain_value(self, value: Any) -> Plain:
        return super().plain_value(Decimal(value) / self.of)


class LpaColumn(WholeColumn):
    """Litres of pure alcohol at 20 °C from whole microlitres."""

    of, places, unit = figures.MICROLITRES_A_LITRE, 2, "LPA"


class LitresColumn(WholeColumn):
    """Litres of liquid at 20 °C from whole microlitres."""

    of, places, unit = figures.MICROLITRES_A_LITRE, 1, "L at 20 °C"


class StrengthColumn(WholeColumn):
    """Percent by volume from millionths of a percent."""

    of, places, unit = 1_000_000, 1, "% vol"


class KilogramColumn(WholeColumn):
    """Kilograms from whole grams."""

    of, places, unit = figures.GRAMS_A_KILOGRAM, 1, "kg"


class PoundColumn(WholeColumn):
    """Pounds from whole pence."""

    of, places, unit = figures.PENCE_A_POUND, 2, "£"


class DifferenceColumn(LpaColumn):
    """What measurement says is missing (positive) or over (negative): the amount with the word beside it.

    Files keep the sign, missing without one, so that the column can be added up.
    """

    def written(self, value: Any) -> str:
        return figures.difference(value, self.places)
