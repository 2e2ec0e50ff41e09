"""Which lots of a silo are drawn on where a record names the silo and no lot: first in first out, by mass.

A draw takes what nobody else has drawn. Of each lot that is the least it holds from then until it is counted next, or
until now, so that a record written late leaves no lot below nothing and moves no other record's draw. What the lots
cannot give stands on the one put in last. Lots are judged as they stood when the record was written: a draw stays as it
is until the record that made it says another weight, silo or time.

A silo that ran empty is a count of every lot that went into it since it was last found so: what is left is of the lots
put in last, and the others come to nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime

from django.db.models import Max, Min, Q, QuerySet, Sum

from batches.stores.book import book_of, held_at, key_of
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
    draws: dict[tuple[Act, str, datetime, str, int | None, str], list[StockEntry]] = {}
    for entry in entries:
        if entry.act in (Act.ISSUED, Act.COUNTED) and entry.silo:
            of_one = Act(entry.act), entry.lot.kind, entry.happened_at, entry.field, entry.row, entry.silo
            draws.setdefault(of_one, []).append(entry)
            continue
        place = entry.field, entry.row, entry.name, entry.silo
        yield (entry.act, entry.lot.kind, entry.lot.key, entry.happened_at, entry.said, *place), [entry]
    for (act, kind, at, field, row, silo), together in draws.items():
        amount = sum(entry.said for entry in together)
        yield (act, kind, "", at, amount, field, row, together[0].name, silo), together


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


@dataclass(frozen=True, slots=True)
class Through:
    """What went through a silo since it was last found empty, grams: what was left then, what was put in since, and
    what its lots hold by their books. `since` is when it was last found empty, None where it never was.
    """

    since: datetime | None
    left_then: int
    put_in: int
    held: int
    lots: tuple[Lot, ...]

    @property
    def through(self) -> int:
        """What may have gone through: what was left and what was put in."""
        return self.left_then + self.put_in


def through(kind: MaterialKind, silo: str, at: datetime, *, without: str = "") -> Through:
    """What went through a silo until a moment, by the books; what one record says of it left out."""
    standing = StockEntry.objects.standing().filter(lot__kind=kind, happened_at__lte=at)
    if without:
        standing = standing.exclude(version__record__number=without)
    of_silo = standing.filter(silo__iexact=silo.strip())
    since = of_silo.filter(act=Act.COUNTED).aggregate(at=Max("happened_at"))["at"]
    left = of_silo.filter(act=Act.COUNTED, happened_at=since) if since is not None else of_silo.none()
    # A lot that was found empty and into which nothing came since is done with, any other is still there; so is one
    # whose delivery was written late, and which was there and not counted.
    came, counted = _times(of_silo, Act.RECEIVED), _times(of_silo, Act.COUNTED)
    put_in = {lot for lot, last in came.items() if lot not in counted or counted[lot] < last}
    named = put_in | set(left.filter(said__gt=0).values_list("lot_id", flat=True))
    receipts = [
        (entry.lot_id, entry.happened_at, entry.said) for entry in of_silo.filter(act=Act.RECEIVED, lot__in=put_in)
    ]
    return Through(
        since,
        left.aggregate(said=Sum("said", default=0))["said"],
        sum(said for lot, at, said in receipts if lot not in counted or counted[lot] < at),
        standing.filter(lot__in=named).aggregate(held=Sum("amount", default=0))["held"],
        tuple(sorted(Lot.objects.filter(pk__in=named), key=lambda lot: (came[lot.pk], lot.pk))),
    )


def _times(entries: QuerySet[StockEntry], act: Act) -> dict[int, datetime]:
    """When each lot had its last entry of a kind."""
    of_act = entries.filter(act=act).order_by()
    return dict(of_act.values_list("lot_id").annotate(last=Max("happened_at")))


def left_in(found: StockLine, *, number: str) -> list[StockLine]:
    """What is left in a silo as one line for each lot that went into it, whose amounts add up to it. Raises
    NothingInSilo.

    300 kg left of lots whose books hold 40 and 900 kg are 0 and 300 kg.
    """
    lots = through(found.kind, found.silo, found.at, without=number).lots
    if not lots:
        raise NothingInSilo(found)
    left, lines = found.amount, []
    for lot in reversed(lots):
        amount = min(left, max(0, held_at(lot, found.at, without=number)))
        lines.append(replace(found, lot=lot.code, amount=amount))
        left -= amount
    # More is left than the books say: it is of the lot put in last.
    lines[0] = replace(lines[0], amount=lines[0].amount + left)
    return lines[::-1]
