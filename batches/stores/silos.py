"""Which lots of a silo are drawn on where a record names the silo and no lot: first in first out, by mass.

A draw takes what nobody else has drawn. Of each lot that is the least it holds from then until it is counted next, or
until now, so that a record written late leaves no lot below nothing and moves no other record's draw. What the lots
cannot give stands on the one put in last. Lots are judged as they stood when the record was written: a draw stays as it
is until the record that made it says another weight, silo or time.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime

from django.db.models import Min, Q

from batches.stores.book import book_of, key_of
from batches.stores.kinds import Act, MaterialKind, StockLine
from batches.stores.models import Lot, StockEntry
from distillery import figures

Said = tuple[str, str, str, datetime, int, str, int | None, str, str]


class NothingInSilo(Exception):
    """A silo into which nothing was put by then; `sentence` says what to do."""

    def __init__(self, line: StockLine) -> None:
        self.sentence = (
            f"Nothing was put into silo {line.silo} by {figures.moment(line.at)}; write the delivery into it first, or "
            "name the lot."
        )
        super().__init__(self.sentence)


@dataclass(frozen=True, slots=True)
class Free:
    """A lot in a silo, and how much of it is free to be drawn, grams or pieces, never below nothing."""

    lot: Lot
    amount: int


def said_of(line: StockLine) -> Said:
    """What a line says, as two of them are compared."""
    return line.act, line.kind, key_of(line.lot), line.at, line.amount, line.field, line.row, line.name, line.silo


def as_said(entries: Iterable[StockEntry]) -> Iterator[tuple[Said, list[StockEntry]]]:
    """What entries say, as their sheet said it: what was drawn of the lots of a silo is one amount again."""
    draws: dict[tuple[str, datetime, str, int | None, str], list[StockEntry]] = {}
    for entry in entries:
        if entry.act == Act.ISSUED and entry.silo:
            of_one = entry.lot.kind, entry.happened_at, entry.field, entry.row, entry.silo
            draws.setdefault(of_one, []).append(entry)
            continue
        place = entry.field, entry.row, entry.name, entry.silo
        yield (entry.act, entry.lot.kind, entry.lot.key, entry.happened_at, entry.said, *place), [entry]
    for (kind, at, field, row, silo), together in draws.items():
        amount = sum(entry.said for entry in together)
        yield (Act.ISSUED, kind, "", at, amount, field, row, together[0].name, silo), together


def lots_in(kind: MaterialKind, silo: str, at: datetime) -> list[Lot]:
    """Lots of a material that were put into a silo by a moment and may hold something then, first in first."""
    # One that is empty now and had its last entry before holds nothing then either.
    open_then = ~Q(held=0) | Q(last_at__gte=at)
    first_in = Min("entries__happened_at", filter=_received())
    lots = Lot.objects.filter(open_then, kind=kind, silo__iexact=silo.strip())
    return list(lots.annotate(first_in=first_in).filter(first_in__lte=at).order_by("first_in", "pk"))


def _received() -> Q:
    stands = Q(entries__takes_back__isnull=True, entries__taken_back__isnull=True)
    return stands & Q(entries__act=Act.RECEIVED)


def free_in(kind: MaterialKind, silo: str, at: datetime, *, without: str = "") -> list[Free]:
    """What may be drawn of each lot in a silo at a moment, first in first; what one record has drawn is left out."""
    return [Free(lot, _free(lot, at, without)) for lot in lots_in(kind, silo, at)]


def _free(lot: Lot, at: datetime, without: str) -> int:
    held, place, least = 0, (at, Act.ISSUED.place), None
    for line in book_of(lot, without=without):
        act = Act(line.entry.act)
        if (line.entry.happened_at, act.place) <= place:
            held = line.held
        elif act is Act.COUNTED:
            # A count brings the book to what was found, whatever was drawn before it.
            break
        else:
            least = line.held if least is None else min(least, line.held)
    return max(0, held if least is None else min(held, least))


def drawn_on(draw: StockLine) -> list[StockLine]:
    """A draw as one line for each lot it takes, whose amounts add up to it. Raises NothingInSilo.

    5,200 kg of a silo with 3,000 kg of one lot and 10,000 kg of a later one are 3,000 and 2,200 kg.
    """
    left, lines = draw.amount, []
    there = free_in(draw.kind, draw.silo, draw.at)
    for free in there:
        amount = min(left, free.amount)
        if amount:
            lines.append(replace(draw, lot=free.lot.code, amount=amount))
            left -= amount
    if not left:
        return lines
    last = there[-1].lot if there else _last_put_in(draw)
    if lines and lines[-1].lot == last.code:
        return [*lines[:-1], replace(lines[-1], amount=lines[-1].amount + left)]
    return [*lines, replace(draw, lot=last.code, amount=left)]


def _last_put_in(draw: StockLine) -> Lot:
    """The lot that was put into the silo last: its book is what is wrong, or the weight is."""
    put_in = StockEntry.objects.standing().filter(
        act=Act.RECEIVED, lot__kind=draw.kind, lot__silo__iexact=draw.silo.strip(), happened_at__lte=draw.at
    )
    last = put_in.select_related("lot").order_by("happened_at", "pk").last()
    if last is None:
        raise NothingInSilo(draw)
    return last.lot
