"""A list of the house: a table class whose columns feed the page, comma-separated text, a workbook and paper."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any, ClassVar

import django_tables2
from django.db.models import QuerySet

from distillery import pages
from distillery.lists.columns import ListColumn, Plain

CHUNK = 500
# Columns that fit a page; a list of more goes sideways in a frame of its own, with a shadow where it goes on.
MOST_AT_ONCE = 8


@dataclass(frozen=True, slots=True)
class Head:
    """A head as the page shows it: with the way to sort by it, and how it is sorted now."""

    column: pages.Column
    sort: str
    sorted: str


class HouseTable(django_tables2.Table):  # type: ignore[misc]
    """One list. Declare its columns, `name` (unlike any other on its page), `caption` and `nothing`.

    `prepare` reads what the rows of one page need besides, in as few queries as it can; `totals` gives the sum of
    columns over the whole list, and is asked where a filter bounds the list in time, always if `adds_up`, and where
    anything is filtered if `adds_up_filtered`. `on_paper` is a sentence that the page says beside the list and paper
    bears above it; it is of the day, so that the list's digest is not taken over it.
    """

    name: ClassVar[str] = "list"
    caption: str = ""
    note: str = ""
    nothing: str = "Nothing yet."
    nothing_fits: str = "Nothing fits. Clear the filter."
    adds_up: ClassVar[bool] = False
    adds_up_filtered: ClassVar[bool] = False

    class Meta:
        template_name = "lists/table.html"
        orderable = False

    # What `distillery.lists.showing` finds out from the address of the page.
    heads: Sequence[Head] = ()
    ways: Sequence[pages.Link] = ()
    files: Sequence[pages.Link] = ()
    words: Sequence[str] = ()
    goes_on: str = ""
    filters: Any = None
    is_filtered: bool = False
    clear: str = "?"
    total: pages.Row | None = None

    def __init__(
        self, data: Any, *, caption: str = "", note: str | None = None, on_paper: str = "", **more: Any
    ) -> None:
        self.caption = caption or self.caption
        self.note = self.note if note is None else note
        self.on_paper = on_paper
        super().__init__(data, **more)

    def prepare(self, rows: Sequence[Any]) -> None:
        """Reads what these rows need besides; nothing by itself."""

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        """The sums of columns by name over all rows, which are a query where the list is one; none by itself."""
        return {}

    @property
    def list_columns(self) -> list[tuple[str, ListColumn]]:
        """The columns by name, in order."""
        return [(bound.name, bound.column) for bound in self.columns]

    @property
    def page_columns(self) -> list[pages.Column]:
        """The heads of the columns, in order."""
        return [column.head for _, column in self.list_columns]

    @property
    def is_wide(self) -> bool:
        """True where it has more columns than fit a page."""
        return len(self.list_columns) > MOST_AT_ONCE

    @property
    def empty(self) -> str:
        """What is said in place of rows."""
        return self.nothing_fits if self.is_filtered else self.nothing

    def all_rows(self) -> Any:
        """The whole list in its order: a query, or a list."""
        return self.data.data

    def shown(self) -> list[pages.Row]:
        """The rows of the page."""
        rows = list(self.page.object_list) if hasattr(self, "page") else list(self.all_rows())
        self.prepare(rows)
        return self.rows_of(rows)

    def whole(self) -> pages.Table:
        """All of it as plain values, for a printed sheet with a form of its own."""
        rows = list(self.all_rows())
        self.prepare(rows)
        return pages.Table(self.caption, self.page_columns, self.rows_of(rows), empty=self.empty, note=self.note)

    def rows_of(self, rows: Sequence[Any]) -> list[pages.Row]:
        """Rows as page and paper show them."""
        columns = [column for _, column in self.list_columns]
        return [pages.Row([column.cell(row) for column in columns]) for row in rows]

    def plain_rows(self) -> Iterator[list[Plain]]:
        """Every row of the whole list for a file, some hundreds of them in memory at a time."""
        columns = [column for _, column in self.list_columns]
        for chunk in self._chunks():
            self.prepare(chunk)
            for row in chunk:
                yield [column.plain(row) for column in columns]

    def first_rows(self, most: int) -> tuple[list[pages.Row], bool]:
        """The first rows of the whole list as paper shows them, and whether there are more."""
        rows, goes_on = self.first_of(most)
        return self.rows_of(rows), goes_on

    def first_of(self, most: int) -> tuple[list[Any], bool]:
        """The first rows of the whole list with what they need besides, and whether there are more."""
        rows = list(islice(self._rows(), most + 1))
        self.prepare(rows[:most])
        return rows[:most], len(rows) > most

    def total_row(self) -> pages.Row | None:
        """The sums over the whole list under their columns, or None where it has none."""
        sums = self.totals(self.all_rows())
        if not sums:
            return None
        cells = [
            pages.Cell(column.written(sums[name]) if sums.get(name) is not None else "")
            for name, column in self.list_columns
        ]
        return pages.Row([pages.Cell("Total"), *cells[1:]], total=True)

    def _rows(self) -> Iterator[Any]:
        rows = self.all_rows()
        return iter(rows.iterator(chunk_size=CHUNK) if isinstance(rows, QuerySet) else rows)

    def _chunks(self) -> Iterator[list[Any]]:
        rows = self._rows()
        while chunk := list(islice(rows, CHUNK)):
            yield chunk
