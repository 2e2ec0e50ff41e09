"""The one writer of the stores: the entries of a record are brought to what the books hold of it.

What a new version no longer says is taken back by its exact opposite, what it says anew is added, and what it says
still stands under the version that said it first. A count brings the book to what was found, so a later entry into its
past restates it. A silo that ran empty is a count of all its lots. Where a silo is named in place of a lot, its lots
are drawn on as they stand when the version is written (`silos.py`), and stay drawn until that record says something
else. A lot may not hold less than nothing at any time; of malt, whose book may be what is wrong, that was asked before.
Runs in a turn (ledger/posting/turns.py).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import datetime
from typing import Final

from django.db.models import Count, Max, Min, Q, Sum

from batches.models import Record, Version
from batches.stores.amounts import shown
from batches.stores.book import book_of, key_of, others_in_stock
from batches.stores.kinds import Act, StockLine
from batches.stores.models import Lot, StockEntry
from batches.stores.silos import NothingInSilo, Said, as_said, drawn_on, left_in, said_of
from distillery import figures
from distillery.database.fixed_sql import add


class Short(Exception):
    """A lot would hold less than nothing; nothing may be written. `field` and `row` say where the amount stands, blank
    where it stands on another record."""

    def __init__(self, sentence: str, field: str = "", row: int | None = None) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field
        self.row = row


def keep_stock(record: Record, version: Version, lines: Sequence[StockLine], *, fresh: bool = False) -> None:
    """Brings the entries of a record to `lines`, which `version` says. Raises Short."""
    standing = [] if fresh else list(_standing_of(record))
    if not lines and not standing:
        return
    wanted: dict[Said, list[StockLine]] = defaultdict(list)
    for line in lines:
        wanted[said_of(line)].append(line)
    gone = []
    for said, entries in as_said(standing):
        same = wanted[said]
        if same:
            same.pop()
        else:
            gone += entries
    new = [line for same in wanted.values() for line in same]
    touched = _take_back(gone, version)
    _add_new([line for line in new if not line.is_of_silo], version, touched)
    for line in (line for line in new if line.is_of_silo):
        # What was taken back is free again, and what was just added is taken.
        for lot, since in touched.values():
            _restate_counts(lot, since, version)
            work_out(lot)
        try:
            of_lots = drawn_on(line) if line.is_draw else left_in(line, number=record.number)
        except NothingInSilo as nothing:
            raise Short(nothing.sentence, line.field, line.row) from nothing
        _add_new(of_lots, version, touched)
    for lot, since in touched.values():
        _restate_counts(lot, since, version)
        _never_below_nothing(lot, since, record)
        work_out(lot)


def _standing_of(record: Record) -> Iterable[StockEntry]:
    return StockEntry.objects.standing().filter(version__record=record).select_related("lot")


Touched = dict[int, tuple[Lot, datetime]]


def _touch(touched: Touched, lot: Lot, at: datetime) -> None:
    there = touched.get(lot.pk)
    touched[lot.pk] = (lot, min(at, there[1]) if there else at)


def _take_back(gone: Sequence[StockEntry], version: Version) -> Touched:
    touched: Touched = {}
    add([opposite(entry, version) for entry in gone])
    for entry in gone:
        _touch(touched, entry.lot, entry.happened_at)
    return touched


def opposite(entry: StockEntry, version: Version) -> StockEntry:
    """The entry that takes another back, because of what a version says."""
    return StockEntry(
        lot=entry.lot,
        version=version,
        act=entry.act,
        happened_at=entry.happened_at,
        amount=-entry.amount,
        said=entry.said,
        field=entry.field,
        row=entry.row,
        name=entry.name,
        silo=entry.silo,
        takes_back=entry,
    )


def _add_new(lines: Collection[StockLine], version: Version, touched: Touched) -> None:
    entries = []
    for line in lines:
        lot, _made = Lot.objects.get_or_create(
            kind=line.kind, key=key_of(line.lot), defaults={"code": line.lot.strip(), "name": line.name}
        )
        _touch(touched, lot, line.at)
        # What a count adds is worked out from the book, once everything before it stands.
        amount = {Act.RECEIVED: line.amount, Act.ISSUED: -line.amount, Act.COUNTED: 0}[line.act]
        entries.append(
            StockEntry(
                lot=lot,
                version=version,
                act=line.act,
                happened_at=line.at,
                amount=amount,
                said=line.amount,
                field=line.field,
                row=line.row,
                name=line.name,
                silo=line.silo,
            )
        )
    add(entries)


def _restate_counts(lot: Lot, since: datetime, version: Version) -> None:
    """Has each count from a moment on bring the book to what it found."""
    held = None
    for line in book_of(lot, since=since):
        before = line.held - line.entry.amount if held is None else held
        held = before + line.entry.amount
        if line.entry.act != Act.COUNTED or held == line.entry.said:
            continue
        add([opposite(line.entry, version)])
        again = opposite(line.entry, line.entry.version)
        again.amount, again.takes_back = line.entry.said - before, None
        add([again])
        held = line.entry.said


def _never_below_nothing(lot: Lot, since: datetime, record: Record) -> None:
    if lot.material.may_run_short or not StockEntry.objects.standing().filter(lot=lot, act=Act.RECEIVED).exists():
        return
    # What was used of a lot that had not been received yet counts from its first receipt on.
    for line in book_of(lot, since=since if lot.is_here else None):
        if line.held >= 0:
            continue
        entry = line.entry
        own = entry.version.record_id == record.pk
        raise Short(short_of(lot, line.held - entry.amount, entry, own=own), *((entry.field, entry.row) if own else ()))


def short_of(lot: Lot, held: int, entry: StockEntry, *, own: bool) -> str:
    """What is said where a lot holds less than an entry takes: what it holds, what is asked, and what to do."""
    kind, at = lot.material, figures.moment(entry.happened_at)
    asked = shown(kind, entry.said)
    if not own:
        return (
            f"Lot {lot.code} ({kind}) would hold {shown(kind, held)} when {entry.version.record.number} took {asked} "
            f"of it ({at}); correct that first, or count the lot before it."
        )
    others = ", ".join(f"{one.code} ({shown(kind, one.held)})" for one in others_in_stock(lot))
    instead = f"write another lot: {others}" if others else "receive more of it"
    return (
        f"Lot {lot.code} ({kind}) holds {shown(kind, held)} at {at}, and {asked} is asked of it; {instead}, "
        "or count the lot if its book is wrong."
    )


_NOTHING: Final[dict[str, object]] = {
    "held": 0,
    "received": 0,
    "receipts": 0,
    "first_at": None,
    "last_at": None,
    "name": "",
    "silo": "",
}


def work_out(lot: Lot) -> None:
    """Writes down what the entries of a lot come to."""
    for name, value in worked_out(lot).items():
        setattr(lot, name, value)
    lot.save(update_fields=["code", "name", "silo", "held", "received", "receipts", "first_at", "last_at"])


def worked_out(lot: Lot) -> dict[str, object]:
    """What a lot's row has to say by its entries that stand."""
    return worked_out_of([lot])[lot.pk]


def worked_out_of(lots: Sequence[Lot]) -> dict[int, dict[str, object]]:
    """The same of several lots, by their keys; at most four questions for all of them."""
    standing = StockEntry.objects.standing().filter(lot__in=lots)
    received = Q(act=Act.RECEIVED)
    sums = (
        standing.order_by()
        .values("lot")
        .annotate(
            held=Sum("amount", default=0),
            received=Sum("amount", filter=received, default=0),
            receipts=Count("pk", filter=received),
            first_at=Min("happened_at"),
            last_at=Max("happened_at"),
        )
    )
    found: dict[int, dict[str, object]] = {lot.pk: {**_NOTHING, "code": lot.code} for lot in lots}
    for one in sums:
        found[one["lot"]] |= {name: value for name, value in one.items() if name != "lot"}
    for rows, column in (
        (standing.filter(received), "name"),
        (standing.exclude(act=Act.RECEIVED), "name"),
        (standing.filter(received), "silo"),
    ):
        unsaid = [pk for pk, one in found.items() if not one[column]]
        if not unsaid:
            continue
        first = rows.filter(lot__in=unsaid).exclude(**{column: ""}).order_by("-happened_at", "-pk")
        for pk, said in dict(first.values_list("lot", column)).items():
            found[pk][column] = said
    return found
