"""The short way from a month's tables to its findings: read, gauged and compared as on the long way, but not posted.

The long way saves every record with its versions, seals and sums; for hundreds of months that takes hours. Here each
row is read by the same sheet and turned into gauges, flows and figures by the same step, and these go to the comparing
as they would come out of the ledger. Nothing is written but the plant, and that is rolled back. What a step asks of
the ledger itself (what a cask holds, and how it was filled) is told from the rows before.
"""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from datetime import datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from unittest import mock

from django.db import transaction

from batches.loading import load_folder as loading
from batches.loading.entries import Event
from batches.loading.problems import Problems
from batches.loading.tables import Folder
from batches.models import Record
from batches.sheets.register import telling
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import read_sheet
from batches.steps import regauge
from batches.steps.shared import books
from distillery.plant.models import Vessel
from ledger.comparing.compare import Comparison, compare
from ledger.comparing.observations.from_ledger import make_log
from ledger.comparing.observations.observed import Log
from ledger.models import Account, AccountKind, Figure, Gauge, MeasuredFlow, Movement, MovementKind
from ledger.periods.calendar import bounds
from ledger.posting.accounts import AccountRef
from ledger.posting.drafts import Book, Emptied, Line, Moved, Taken
from ledger.posting.legs import PLACES
from ledger.posting.rows import figure_row, flow_row, gauge_row, judge_against

from .judging import rows_of

NOTHING = Book(0, 0)


class ShortSite(Site):
    """The plant from the database, the records from what has been read so far."""

    def __init__(self) -> None:
        super().__init__()
        self.typed: dict[tuple[str, str], dict[str, str]] = {}
        self.readings: dict[tuple[str, str], list[tuple[datetime, str]]] = {}

    def record(self, kind: str, number: str) -> Record | None:
        key = (kind, number.strip())
        return Record(kind=kind, number=key[1]) if key in self.typed else None

    def typed_of(self, record: Record) -> dict[str, str]:
        return self.typed[record.kind, record.number]

    def told_record(self, record: Record, name: str) -> Record | None:
        return self.record(telling(record.kind, name).record_kind, self.told(record, name))

    def logged(self, number: str, quantity: str) -> list[tuple[datetime, str]]:
        return self.readings.get((number, quantity), [])


class ShortLoad(loading.Load):
    """A load that keeps gauges, flows and figures instead of saving records."""

    def __init__(self, folder: Path) -> None:
        super().__init__(Folder(folder), Problems(), person=None, progress=lambda line: None)
        self.gauges: list[Gauge] = []
        self.measures: list[MeasuredFlow] = []
        self.taken: list[Figure] = []
        self.accounts: dict[str, Account] = {}
        self.fillings: dict[str, SimpleNamespace] = {}
        self.books: dict[str, Book] = {}
        # Of each account when it was last measured, and what it held then less what was drawn from it since.
        self.measured: dict[str, tuple[datetime, int]] = {}
        self.series: dict[str, str] = {}
        self.sources: set[str] = set()
        self.number = 0

    def _readings_table(self) -> None:
        """Readings along the way are told by the site."""

    def _save(self, event: Event) -> None:
        entry, sheet = event.entry, event.entry.sheet
        site: Any = self.site
        assert isinstance(site, ShortSite)
        place = str(id(entry))
        number = entry.number or self.series.setdefault(place, f"{sheet.prefix}{len(self.series) + 1:04d}")
        filled = read_sheet(
            sheet, entry.up_to(event.moment, is_last=event.is_last), entry.rows, site=site, number=number
        )
        site.typed[sheet.kind, number] = filled.typed
        if event.moment.post is None:
            return
        posting = event.moment.post(filled.completed)
        self.number += 1
        movement = Movement(
            id=self.number,
            kind=MovementKind.OPERATION,
            operation=sheet.operation,
            happened_at=event.happened_at,
            record_kind=sheet.kind,
            record_number=number,
            moment=event.moment.name,
            slot=self.number,
        )
        judge_against(movement, posting.judged, 0)
        for line, one in enumerate(posting.lines):
            if isinstance(one, Taken):
                if one.against.kind == AccountKind.SOURCE:
                    self.sources.add(number)
                account = self._account(one.gauge.vessel_account)
                self.gauges.append(
                    _with(gauge_row(movement, one.gauge, account, self.number * PLACES + line, 0), account, movement)
                )
            elif isinstance(one, Moved) and one.measured is not None:
                accounts = {ref.code: self._account(ref) for ref in (one.giver, one.taker)}
                measure = flow_row(movement, line, one, accounts)
                measure.pk, measure.movement = len(self.measures) + 1, movement
                self.measures.append(measure)
                self._note_filling(one, event.happened_at)
            if one is not None:
                self._note_book(one, event.happened_at)
        for line, figure in enumerate(posting.figures):
            kept = figure_row(movement, line, figure)
            kept.movement = movement
            self.taken.append(kept)

    def _account(self, ref: AccountRef) -> Account:
        if ref.code not in self.accounts:
            self.accounts[ref.code] = Account(pk=len(self.accounts) + 1, code=ref.code, kind=ref.kind, name=ref.name)
        return self.accounts[ref.code]

    def _note_filling(self, moved: Moved, at: datetime) -> None:
        quantity = moved.quantity
        self.fillings[moved.taker.code] = SimpleNamespace(
            movement=SimpleNamespace(happened_at=at, took_place_at=at),
            happened_at=at,
            pure_ul=quantity.pure_ul,
            mass_g=quantity.mass_g,
        )

    def _note_book(self, line: Line, at: datetime) -> None:
        """What the accounts of one line hold after it."""
        if isinstance(line, Taken):
            quantity, code = line.gauge.quantity, line.gauge.vessel_account.code
            self.books[code] = Book(quantity.pure_ul, quantity.mass_g)
            self.measured[code] = (at, quantity.pure_ul)
        elif isinstance(line, Emptied):
            self.books[line.account.code] = NOTHING
        else:
            for code, sign in ((line.giver.code, -1), (line.taker.code, 1)):
                held, moved = self.books.get(code, NOTHING), line.quantity
                self.books[code] = Book(held.pure_ul + sign * moved.pure_ul, held.mass_g + sign * moved.mass_g)
            if line.taker.code not in self.measured or self.books[line.taker.code].pure_ul == line.quantity.pure_ul:
                self.measured[line.taker.code] = (at, line.quantity.pure_ul)
            # What evaporates is a loss of the cask's own and counts towards what was expected of it.
            if line.taker.kind != AccountKind.LOSS and line.giver.code in self.measured:
                since, held_ul = self.measured[line.giver.code]
                self.measured[line.giver.code] = (since, held_ul - line.quantity.pure_ul)

    def book_before(self, account: AccountRef, at: datetime) -> Book:
        """What an account holds by the rows before."""
        return self.books.get(account.code, NOTHING)

    def last_measured(
        self, account: AccountRef, cask: Vessel, at: datetime, without: str
    ) -> tuple[datetime, int] | None:
        """When a cask was last gauged or filled, and what of it was not drawn since."""
        return self.measured.get(account.code)


def _with(gauge: Gauge, account: Account, movement: Movement) -> Gauge:
    gauge.pk, gauge.account, gauge.movement = gauge.position, account, movement
    return gauge


@contextmanager
def short_load(folder: Path) -> Iterator[ShortLoad]:
    """A folder's log, read and gauged, and the plant it is measured with; both hold until the block is left."""
    with transaction.atomic(), ExitStack() as patched:
        load = ShortLoad(folder)
        patched.enter_context(mock.patch.object(loading, "Site", side_effect=lambda: _site(folder)))
        for module in (regauge, books):
            patched.enter_context(
                mock.patch.object(module, "filling_of", lambda vessel, at: load.fillings.get(f"vessel:{vessel.code}"))
            )
        patched.enter_context(mock.patch.object(books, "book_before", load.book_before))
        patched.enter_context(mock.patch.object(books, "_last_measured", load.last_measured))
        load.run()
        if load.bad:
            raise ValueError(f"{folder}: {load.bad[:3]}")
        yield load
        transaction.set_rollback(True)


@contextmanager
def short_log(folder: Path, month: str) -> Iterator[tuple[Log, Site]]:
    """The log of a folder's month, and the plant it is measured with; both hold until the block is left."""
    with short_load(folder) as load:
        start, end = bounds(month)
        rows = (*load.gauges, *load.measures)
        judged = frozenset(one.movement.record_number for one in rows if start <= one.movement.happened_at < end)
        log = make_log(
            list(load.gauges), list(load.measures), list(load.taken), in_period=judged, sources=frozenset(load.sources)
        )
        yield log, load.site


def month_of(load: ShortLoad, month: str) -> Comparison:
    """One month of a longer log, compared as the books compare it: with each vessel's last gauge before it, what was
    filled into its casks, and no figure of another month.
    """
    start, end = bounds(month)

    def falls_in(movement: Movement) -> bool:
        return bool(start <= movement.happened_at < end)

    gauges = [one for one in load.gauges if falls_in(one.movement)]
    accounts = {one.account.pk for one in gauges}
    before = {one.account.pk: one for one in load.gauges if one.movement.happened_at < start}
    flows = [one for one in load.measures if falls_in(one.movement)]
    fills = [one for one in load.measures if one.movement.happened_at < start and one.taker.pk in accounts]
    log = make_log(
        [*(before[key] for key in before if key in accounts), *gauges],
        [*fills, *flows],
        [one for one in load.taken if falls_in(one.movement)],
        in_period=frozenset(one.movement.record_number for one in (*gauges, *flows)),
        sources=frozenset(load.sources),
    )
    return compare(log, load.site)


def short_month(folder: Path, month: str) -> Comparison:
    """Findings' month of a folder by the short way."""
    with short_log(folder, month) as (log, site):
        return compare(log, site)


def _site(folder: Path) -> ShortSite:
    site = ShortSite()
    for row in rows_of(folder / "log", "readings"):
        at = datetime.fromisoformat(row["at"])
        site.readings.setdefault((row["record"], row["quantity"]), []).append((_aware(at), row["value"]))
    return site


def _aware(at: datetime) -> datetime:
    from django.utils import timezone

    return timezone.make_aware(at) if timezone.is_naive(at) else at
