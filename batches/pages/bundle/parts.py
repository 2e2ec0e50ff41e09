"""The documents of a bundle in their order, each as a part of the one document that is printed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sized
from dataclasses import replace
from functools import cache
from typing import Final

from batches.counting.on_site import StockOn
from batches.models import Record
from batches.pages.bundle.changes import EntryTable, entries_in
from batches.pages.bundle.chosen import NAMES, Group
from batches.pages.bundle.lists import (
    HoldersTable,
    OpeningTable,
    RecordDigestTable,
    SummedCaskTable,
    openings_in,
    records_in,
)
from batches.pages.bundle.months import Months, periods_in
from batches.pages.counting.stock import BottledTable, VesselStockTable
from batches.pages.places.removals import LeftTable, leaving_sheets
from batches.pages.records.record_table import with_latest
from batches.pages.returns.duty_tables import RemovalDutyTable
from batches.pages.returns.printed import return_part
from batches.pages.visits.lists import VisitNoteTable
from batches.returns.declared import declared
from batches.returns.figures import month_figures
from batches.returns.months import Span
from batches.visits.noting import notes_since
from distillery import figures
from distillery.clock.reading import books_today
from distillery.lists.exports import list_part
from distillery.lists.tables import HouseTable
from distillery.plant.pages.printed import register_part
from distillery.plant.places import keyholders
from distillery.printing.document import Part
from distillery.printing.furniture import Impression
from distillery.printing.signing import RoomToWrite, Signatory, Signatures
from ledger.enquiries.printed import enquiry_part, loss_register_part
from ledger.enquiries.register import loss_register
from ledger.enquiries.standing import of_period
from ledger.statements.month import month_account
from ledger.statements.printed import month_account_part
from ledger.views.account_paper import vessel_account_part, vessels_moved

# A list that is longer belongs into files: it is said where it stops, and the files have all of it.
MOST_LINES: Final = 20_000
# Documents of all months together that are always in: keyholders, opening times.
ALWAYS: Final = 2
# Documents of a part in each month; those of each period, besides its enquiries and vessels; those of all months.
OF_A_MONTH: Final[Mapping[Group, int]] = {Group.STOCK: 3, Group.RECORDS: 3, Group.RETURNS: 1, Group.CHANGES: 1}
OF_A_PERIOD: Final[Mapping[Group, int]] = {Group.ACCOUNTS: 1, Group.LOSSES: 1}
OF_ALL: Final[Mapping[Group, int]] = {Group.VISITS: 1, Group.INSTRUMENTS: 1}
KEYS: Final = "Keyholders and opening times"
VISIT_IN_INK: Final = "Noted in ink at this visit"


class Parts:
    """Makes the documents one after another; each knows the month it is of."""

    def __init__(self, months: Months, printing: Impression) -> None:
        self._months = months
        self._printing = printing

    @property
    def number(self) -> int:
        """How many documents they are."""
        periods = [period for span in self._months.spans for period in periods_in(span)]
        each: dict[Group, Callable[[str], Sized]] = {Group.ACCOUNTS: vessels_moved, Group.LOSSES: of_period}
        return ALWAYS + sum(
            OF_ALL.get(group, 0)
            + OF_A_MONTH.get(group, 0) * len(self._months.spans)
            + OF_A_PERIOD.get(group, 0) * len(periods)
            + sum(len(each[group](period)) for period in periods if group in each)
            for group in self._months.parts
        )

    def made(self) -> Iterator[tuple[str, Part]]:
        """Every document between the first pages and the last, with the name of its month ('' of all months)."""
        last = self._months.last
        keys = self._list(HoldersTable(keyholders()), self._months.number)
        yield "", replace(keys, bookmarks=((KEYS, 0), (keys.furniture.title, 1)))
        yield "", self._list(OpeningTable(openings_in(self._months.first, last)), self._months.number)
        for span in self._months.spans:
            for place, part in enumerate(self._of_month(span)):
                head = ((span.name, 0),) if place == 0 else ()
                yield span.name, replace(part, bookmarks=(*head, (_named(part), 1)))
        for place, span in enumerate(self._months.spans if self._has(Group.CHANGES) else ()):
            part = self._list(EntryTable(entries_in(span)), span.code)
            head = ((NAMES[Group.CHANGES], 0),) if place == 0 else ()
            yield span.name, replace(part, bookmarks=(*head, (span.name, 1)))
        if self._has(Group.VISITS):
            yield "", self._visit_notes()
        if self._has(Group.INSTRUMENTS):
            yield "", replace(register_part(self._printing), bookmarks=((NAMES[Group.INSTRUMENTS], 0),))

    def _has(self, group: Group) -> bool:
        return group in self._months.parts

    def _visit_notes(self) -> Part:
        """What officers noted of visits since the first day, with room for the officer of this one."""
        since = figures.day(self._months.first.first_day, year=True)
        table = VisitNoteTable(notes_since(self._months.first.first_day), note=f"of visits since {since}")
        part = self._list(table, self._months.number)
        room = (RoomToWrite(VISIT_IN_INK, lines=6), Signatures((Signatory("Officer"),)))
        return replace(part, blocks=(*part.blocks, *room), bookmarks=((NAMES[Group.VISITS], 0),))

    def _of_month(self, span: Span) -> Iterator[Part]:
        periods = periods_in(span)
        for period in periods if self._has(Group.ACCOUNTS) else ():
            yield month_account_part(month_account(period), self._printing)
            for account in vessels_moved(period):
                yield vessel_account_part(account, period, self._printing)
        if self._has(Group.STOCK):
            yield from self._stock(span)
        # Worked out once, where a part asks for them.
        found = cache(lambda: month_figures(span))
        if self._has(Group.RECORDS):
            yield self._list(RecordDigestTable(records_in(span)), span.code)
            yield self._removals(span)
            yield self._list(RemovalDutyTable(declared(found().lines)), span.code)
        for period in periods if self._has(Group.LOSSES) else ():
            yield loss_register_part(loss_register(period), self._printing)
            for standing in of_period(period):
                yield enquiry_part(standing, self._printing)
        if self._has(Group.RETURNS):
            yield return_part(found(), self._printing)

    def _stock(self, span: Span) -> Iterator[Part]:
        stock = StockOn(min(span.last_day, books_today()))
        note = f"at the end of {figures.day(stock.day, year=True)}"
        yield self._list(VesselStockTable(stock.vessels(), caption="Stock in vessels", note=note), span.code)
        casks = SummedCaskTable(stock.casks(), stock=stock, caption="Stock of the warehouses, cask by cask", note=note)
        yield self._list(casks, span.code)
        yield self._list(BottledTable(stock.bottled(), caption="Stock in bottles", note=note), span.code)

    def _removals(self, span: Span) -> Part:
        kinds = [sheet.kind for sheet in leaving_sheets()]
        rows = Record.objects.filter(kind__in=kinds, happened_from__gte=span.starts, happened_from__lt=span.ends)
        return self._list(LeftTable(with_latest(rows), caption="Removals"), span.code)

    def _list(self, table: HouseTable, number: str) -> Part:
        part = list_part(table, self._printing, number=number, most=MOST_LINES, summed=True)
        return replace(part, bookmarks=((part.furniture.title, 1),))


def _named(part: Part) -> str:
    """'Loss enquiry LE-0003': a document by its number, where it has one of its own."""
    own = part.furniture.number
    return f"{part.furniture.title} {own}" if own and not own[:1].isdigit() else part.furniture.title
