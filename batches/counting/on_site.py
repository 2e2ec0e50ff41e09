"""What is on the site at the end of a day: vessels, full casks, bottled stock by lot, each with how that is known.

Read a few hundred casks at a time, so that a list of any length is streamed. Where a cask lies is where its records
leave it at that moment. Pure alcohol in microlitres, litres and % vol at 20 °C.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import islice
from typing import Final

from django.db.models import Exists, OuterRef, QuerySet, Subquery
from django.utils import timezone

from batches.casks.standing import places_at
from batches.tracing.bottled_lots import bottled_lots
from distillery.clock.reading import books_today
from distillery.lists.filters import begin_of
from distillery.plant.models import Cask
from distillery.years import is_of_a_site
from ledger.models import Account, Balance, RunningBalance
from ledger.periods.calendar import Calendar
from ledger.statements.at_work import at_work, held_in
from ledger.statements.balances import Holding, holdings, vessel_holdings
from ledger.statements.basis import Basis, Known, known_in, span_of

AT_ONCE: Final = 500
BOND: Final = "Bottled stock"


class NotADay(ValueError):
    """That day cannot be asked about; the sentence says which can."""


@dataclass(frozen=True, slots=True)
class InStock:
    """One vessel, cask or lot: its number, its place, litres and % vol at 20 °C (None where its book is no mixture, or
    what is in it is not declared), microlitres of pure alcohol, how that is known and since when. `said` is what is at
    work in a vessel, or the product of a lot; `bottles` is of a lot.
    """

    code: str
    place: str
    litres: float | None
    percent: float | None
    pure_ul: int
    basis: Basis
    at: datetime | None
    said: str = ""
    bottles: int | None = None


class StockOn:
    """The stock at the end of a day, or now where the day is today. Raises NotADay."""

    def __init__(self, day: date | None = None) -> None:
        today = books_today()
        self.day = day or today
        if self.day > today:
            raise NotADay("That day is still to come; ask for today or an earlier one.")
        if not is_of_a_site(self.day.year):
            raise NotADay("That day is before any site kept books; write it as 2027-03-31.")
        # Just before the next day began; of today, everything written so far.
        self.until = begin_of(self.day + timedelta(days=1))
        self._before = self.until if self.day < today else None
        calendar = Calendar.read()
        self.period = calendar.period_of(self.until - timedelta(microseconds=1))
        self.span = span_of(self.period, until=self.until, calendar=calendar)

    def vessels(self) -> list[InStock]:
        """The vessels in the plant's order, empty ones too; what ferments is named by its litres."""
        held = vessel_holdings(before=self._before)
        working = at_work(self._before)
        known = known_in(self.period, self.span, {one.account.pk: one.account.vessel_id for one in held})
        found = []
        for one in held:
            vessel, work = one.account.vessel, held_in(one, working)
            assert vessel is not None
            by, at = _known(known.get(one.account.pk), one)
            if work is not None:
                # What it was gauged for is not what is at work in it now.
                by, at = Basis.BOOK, work.since
            litres, said = (work.litres, work.sentence) if work is not None else (one.litres20, "")
            percent = None if work is not None else one.percent20
            found.append(InStock(vessel.code, vessel.name, litres, percent, one.pure_ul, by, at, said))
        return found

    def casks(self) -> QuerySet[Cask]:
        """The casks that were full, in walking order."""
        casks = Cask.objects.select_related("vessel").order_by("warehouse", "row", "tier", "pk")
        if self._before is None:
            return casks.filter(Exists(Balance.objects.filter(account__vessel=OuterRef("pk"), balance_ul__gt=0)))
        last = RunningBalance.objects.filter(
            account=Subquery(Account.objects.filter(vessel=OuterRef(OuterRef("pk"))).values("pk")[:1]),
            happened_at__lt=self._before,
        ).order_by("-happened_at", "-position", "-leg_id")
        return casks.annotate(held_ul=Subquery(last.values("balance_ul")[:1])).filter(held_ul__gt=0)

    def of_casks(self, casks: Sequence[Cask]) -> list[InStock]:
        """What some of these casks held, in their order. The same few queries for any number of them."""
        accounts = Account.objects.filter(vessel__in=[one.pk for one in casks])
        held = {one.account.vessel_id: one for one in holdings(accounts, before=self._before)}
        of_vessel = {one.account.pk: key for key, one in held.items()}
        known = known_in(self.period, self.span, of_vessel)
        lay = {} if self._before is None else places_at(casks, self.until)
        found = []
        for cask in casks:
            one = held[cask.pk]
            by, at = _known(known.get(one.account.pk), one)
            place = lay.get(cask.pk, cask.place)
            code, filled = cask.vessel.code, cask.filled_at
            when = at or (filled if filled is not None and filled < self.until else None)
            found.append(InStock(code, place, one.litres20, one.percent20, one.pure_ul, by, when))
        return found

    def every_cask(self) -> Iterator[InStock]:
        """All full casks, some hundreds in memory at a time."""
        rows = self.casks().iterator(chunk_size=AT_ONCE)
        while chunk := list(islice(rows, AT_ONCE)):
            yield from self.of_casks(chunk)

    def bottled(self) -> list[InStock]:
        """Bottled stock by product and lot."""
        lots = [one for one in bottled_lots(until=self._before and self.until - timedelta(microseconds=1)) if one.held]
        known = known_in(self.period, self.span, {one.stock.pk: None for one in lots})
        found = []
        for one in lots:
            _, size, strength = one.stock.code.rsplit("/", 2)
            litres = one.held * float(size) / 100
            by = known.get(one.stock.pk)
            basis, at = (by.basis, by.at) if by is not None else (Basis.BOOK, one.since)
            found.append(
                InStock(one.lot, BOND, litres, float(strength), one.pure_ul, basis, at, one.stock.name, one.held)
            )
        return found


def _known(known: Known | None, holding: Holding) -> tuple[Basis, datetime | None]:
    """By what it is known; of what stands by its book, when it was gauged last."""
    if known is not None:
        return known.basis, known.at
    return Basis.BOOK, holding.last_gauge.happened_at if holding.last_gauge is not None else None


# The list of stock knows three: what was seen and not measured stands by its book.
SAID_IN_LIST: Final = {Basis.SEEN: Basis.BOOK}


def as_plain(items: Iterable[InStock], called: str) -> Iterator[dict[str, object]]:
    """Items as plain data: `called` is the name of the number of each. Litres, % vol and LPA are rounded to what the
    books hold them to."""
    for one in items:
        plain: dict[str, object] = {
            called: one.code,
            "place": one.place,
            "litres": None if one.litres is None else round(one.litres, 3),
            "percent": None if one.percent is None else round(one.percent, 4),
            "lpa": one.pure_ul / 1_000_000,
            "basis": str(SAID_IN_LIST.get(one.basis, one.basis)),
            "at": None if one.at is None else timezone.localtime(one.at).isoformat(timespec="seconds"),
        }
        if one.basis == Basis.SEEN:
            plain["seen"] = True
        if one.bottles is not None:
            plain |= {"product": one.said, "bottles": one.bottles}
        elif one.said:
            plain["said"] = one.said
        yield plain
