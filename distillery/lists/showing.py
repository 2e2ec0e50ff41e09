"""A list as an address asks for it: filtered, sorted, one page of it, or the whole of it as a file.

What an address asks for and cannot be had (a filter, a sort, a page) is left out, and a word on the page says so.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar
from urllib.parse import urlencode

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponseBase
from django_tables2 import LazyPaginator

from distillery import figures, pages
from distillery.lists.exports import FILES, PAPER, file_of
from distillery.lists.filters import PAGING, HouseFilters, Rows
from distillery.lists.paging import MOST_PER_PAGE, PER_PAGE, NoSuchKey, Page, key_page
from distillery.lists.tables import Head, HouseTable

T = TypeVar("T", bound=HouseTable)

LEAST_PER_PAGE = 5
# More pages of a list in memory than any list has.
LARGEST_PAGE = 100_000


@dataclass(frozen=True, slots=True)
class Listed(Generic[T]):
    """A list for a page; `file` is the whole answer where a file was asked for."""

    table: T
    file: HttpResponseBase | None = None


def listed(
    request: HttpRequest,
    kind: type[T],
    rows: QuerySet[Any] | Iterable[Any],
    filters: type[HouseFilters] | None = None,
    *,
    prefix: str = "",
    **more: Any,
) -> Listed[T]:
    """The list `kind` over rows, as the request asks. `prefix` and a hyphen go before its parameters, `more` to its
    class."""
    asked = _Asked(request, prefix)
    words: list[str] = []
    rows = rows if isinstance(rows, QuerySet) else Rows(rows)
    chosen = filters(request.GET or None, queryset=rows, prefix=prefix or None) if filters is not None else None
    if chosen is not None:
        rows = chosen.qs
        words += chosen.words
    table = kind(rows, order_by=_order(kind, asked, words, more), prefix=prefix, **more)
    table.filters = chosen
    table.is_filtered = chosen is not None and chosen.asked
    if chosen is not None:
        table.clear = asked.address(drop=(*PAGING, *chosen.filters))
    file = asked.text("as")
    in_time = chosen is not None and chosen.bounds_time
    if table.adds_up or in_time or (table.is_filtered and table.adds_up_filtered):
        table.total = table.total_row()
    if file in FILES:
        return Listed(table, file_of(table, file, request))
    if file:
        words.append(f"This list is not made as '{file}'; it can be saved as CSV or XLSX, or printed.")
    table.page = _page(table, asked, words)
    table.heads = _heads(table, asked)
    table.ways = _ways(table.page, asked)
    # Of what is paper a copy can be printed, too.
    table.files = [
        pages.Link(text, asked.address(drop=PAGING, **{"as": name}), note=PAPER if name == PAPER else "")
        for name, text in FILES.items()
    ]
    table.words = words
    table.goes_on = _goes_on(table.page)
    return Listed(table)


def first_file(*lists: Listed[Any]) -> HttpResponseBase | None:
    """The file that was asked for of one of the lists of a page; None where a page was asked for."""
    return next((one.file for one in lists if one.file is not None), None)


@dataclass(frozen=True, slots=True)
class _Asked:
    """The parameters of one list among those of a page."""

    request: HttpRequest
    prefix: str

    def text(self, name: str) -> str:
        return str(self.request.GET.get(self.name(name), "")).strip()

    def name(self, name: str) -> str:
        return f"{self.prefix}-{name}" if self.prefix else name

    def address(self, *, drop: Iterable[str] = (), **more: str) -> str:
        dropped = {self.name(name) for name in drop}
        kept = {name: str(value) for name, value in self.request.GET.items() if name not in dropped and value}
        kept |= {self.name(name): value for name, value in more.items()}
        return f"?{urlencode(kept)}"


def _order(kind: type[HouseTable], asked: _Asked, words: list[str], more: dict[str, Any]) -> str | None:
    wanted = asked.text("sort")
    if not wanted:
        return None
    columns = dict(kind.base_columns) | dict(more.get("extra_columns", ()))
    column = columns.get(wanted.removeprefix("-"))
    if column is None or not column.orderable:
        words.append(f"This list cannot be sorted by '{wanted[:40]}', so it stands in its usual order.")
        return None
    return wanted


def _page(table: HouseTable, asked: _Asked, words: list[str]) -> Page:
    size = _size(asked, words)
    rows = table.all_rows()
    if not isinstance(rows, QuerySet):
        return _page_in_memory(rows, asked, size, words)
    try:
        return key_page(
            rows, after=asked.text("after"), before=asked.text("before"), last=asked.text("page") == "last", size=size
        )
    except NoSuchKey:
        words.append("The address names no place in this list, so it begins at its beginning.")
        return key_page(rows, size=size)


def _page_in_memory(rows: list[Any], asked: _Asked, size: int, words: list[str]) -> Page:
    wanted = asked.text("page")
    last = max(1, -(-len(rows) // size))
    number = 1
    if wanted == "last":
        number = last
    elif wanted.isascii() and wanted.isdigit() and 1 <= int(wanted[:9]) <= last:
        number = int(wanted[:9])
    elif wanted:
        words.append(f"This list has no page '{wanted[:20]}', so it begins at its beginning.")
    found = LazyPaginator(rows, size).page(number)
    return Page(
        list(found.object_list),
        before=str(number - 1) if number > 1 else "",
        after=str(number + 1) if found.has_next() else "",
        numbered=True,
    )


def _size(asked: _Asked, words: list[str]) -> int:
    wanted = asked.text("per_page")
    if not wanted:
        return PER_PAGE
    if not (wanted.isascii() and wanted.isdigit() and len(wanted) <= 6):
        words.append(f"'{wanted[:20]}' is no number of lines, so a page has {PER_PAGE}.")
        return PER_PAGE
    size = min(max(int(wanted), LEAST_PER_PAGE), MOST_PER_PAGE)
    if size != int(wanted):
        words.append(f"A page has {LEAST_PER_PAGE} to {MOST_PER_PAGE} lines; here it has {size}.")
    return size


def _heads(table: HouseTable, asked: _Asked) -> list[Head]:
    heads = []
    now = {str(one).lstrip("-"): str(one).startswith("-") for one in table.order_by or ()}
    for name, column in table.list_columns:
        if not column.orderable:
            heads.append(Head(column.head, "", ""))
            continue
        falling = now.get(name)
        turned = name if falling or falling is None else f"-{name}"
        sort = asked.address(drop=PAGING, sort=turned)
        heads.append(Head(column.head, sort, "" if falling is None else "descending" if falling else "ascending"))
    return heads


def _ways(page: Page, asked: _Asked) -> list[pages.Link]:
    back, on = ("page", "page") if page.numbered else ("before", "after")
    ways = []
    if page.before:
        ways.append(pages.Link("First lines", asked.address(drop=PAGING), note="first"))
        ways.append(pages.Link("Lines before", asked.address(drop=PAGING, **{back: page.before}), note="prev"))
    if page.after:
        ways.append(pages.Link("Lines after", asked.address(drop=PAGING, **{on: page.after}), note="next"))
        ways.append(pages.Link("Last lines", asked.address(drop=PAGING, page="last"), note="last"))
    return ways


def _goes_on(page: Page) -> str:
    lines = figures.count(len(page.object_list))
    if page.before and page.after:
        return f"{lines} lines from the middle of this list: it begins before them and goes on after them."
    if page.after:
        return f"The first {lines} lines: the list goes on after them."
    if page.before:
        return f"The last {lines} lines of this list: it begins before them."
    return ""
