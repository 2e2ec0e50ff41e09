"""The book of a lot, read: its entries in order with what it held after each, and where it runs short."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Sum

from batches.stores.kinds import Act, MaterialKind
from batches.stores.models import Lot, StockEntry


@dataclass(frozen=True, slots=True)
class BookLine:
    """One entry that stands, and what the lot held just after it."""

    entry: StockEntry
    held: int


def in_order(entry: StockEntry) -> tuple[datetime, int, int, str, int]:
    """Where an entry stands in its book: by when it happened; within a minute received, issued, counted, then by its
    record and its line. An entry that is restated keeps its place, whatever its key.
    """
    row = -1 if entry.row is None else entry.row
    return entry.happened_at, Act(entry.act).place, entry.version.record_id, entry.field, row


def book_of(lot: Lot, *, since: datetime | None = None, without: str = "") -> Iterator[BookLine]:
    """The entries of a lot that stand, in order, each with what the lot held after it; from a moment on, or all. What
    the record numbered `without` says of it is left out.
    """
    entries = StockEntry.objects.standing().filter(lot=lot).select_related("version__record", "version__person")
    if without:
        entries = entries.exclude(version__record__number=without)
    held = 0
    if since is not None:
        held = entries.filter(happened_at__lt=since).aggregate(held=Sum("amount"))["held"] or 0
        entries = entries.filter(happened_at__gte=since)
    for entry in sorted(entries, key=in_order):
        held += entry.amount
        yield BookLine(entry, held)


def books_of(lots: Sequence[Lot]) -> dict[int, list[BookLine]]:
    """The whole book of each of these lots, by its key; one question for all of them."""
    entries = StockEntry.objects.standing().filter(lot__in=lots).select_related("version")
    books: dict[int, list[BookLine]] = {lot.pk: [] for lot in lots}
    for entry in sorted(entries, key=in_order):
        book = books[entry.lot_id]
        book.append(BookLine(entry, (book[-1].held if book else 0) + entry.amount))
    return books


def held_at(lot: Lot, at: datetime, *, without: str = "") -> int:
    """What a lot held at the end of a minute, what one record says of it left out; grams or pieces."""
    entries = StockEntry.objects.standing().filter(lot=lot, happened_at__lte=at)
    if without:
        entries = entries.exclude(version__record__number=without)
    return entries.aggregate(held=Sum("amount"))["held"] or 0


def lot_meant(kind: MaterialKind, code: str) -> Lot | None:
    """The lot of that material with that code, however its letters were typed; None where none was ever named."""
    return Lot.objects.filter(kind=kind, key=key_of(code)).first()


def key_of(code: str) -> str:
    """A lot's code as it is compared."""
    return code.strip().casefold()


def others_in_stock(lot: Lot, *, at_most: int = 4) -> list[Lot]:
    """Other lots of the same material that hold something, those of the same name first, the oldest first."""
    others = Lot.objects.filter(kind=lot.kind, held__gt=0, receipts__gt=0).exclude(pk=lot.pk)
    if lot.name:
        named = [*others.filter(name__iexact=lot.name).order_by("first_at", "pk")[:at_most]]
        if named:
            return named
    return [*others.order_by("first_at", "pk")[:at_most]]
