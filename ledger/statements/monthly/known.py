"""How the closing figures of a month are known: gauged in the month, counted, or by their book alone.

A vessel was gauged in the month where the books of the month have a gauge of it; a cask also where its filling was
weighed. What is put right after the month was closed changes nothing of that.
The floor above adds what it counted by `COUNTED`. Whole microlitres of pure alcohol at 20 °C.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from django.db.models import Exists, OuterRef

from distillery.plant.models import Kind
from ledger.models import Account, Gauge, MeasuredFlow, Movement
from ledger.statements.balances import Holding, books_before
from ledger.statements.month import StageLine
from ledger.statements.monthly.places import PLACE_OF, Place

# Told by the floor above: accounts whose contents were counted from one moment up to another, by their keys, and what
# their books held at the later one.
COUNTED: Final[list[Callable[[datetime, datetime], Mapping[int, int]]]] = []


@dataclass(frozen=True, slots=True)
class KnownLine:
    """What one place holds at the end, by how that is known. `gauged_at` is the oldest gauge of a vessel that holds
    anything, where it is not in the month; `gauged` counts the vessels or casks that were gauged in it.
    """

    place: str
    gauged: int
    gauged_ul: int
    counted_ul: int
    book_ul: int
    gauged_at: datetime | None = None

    @property
    def closing_ul(self) -> int:
        return self.gauged_ul + self.counted_ul + self.book_ul


def known_lines(
    period: str, starts: datetime, ends: datetime, places: Iterable[StageLine], vessels: Iterable[Holding]
) -> list[KnownLine]:
    """A line for each place. Three queries, which grow with what was gauged or filled in the month alone."""
    in_month = _gauged(period)
    gauged: dict[str, dict[int, int]] = {place: {} for place in Place}
    older: dict[str, list[datetime]] = {place: [] for place in Place}
    for holding in vessels:
        vessel, gauge = holding.account.vessel, holding.last_gauge
        assert vessel is not None
        place = PLACE_OF[vessel.kind]
        if holding.account.pk in in_month:
            gauged[place][holding.account.pk] = holding.pure_ul
        elif gauge is not None and holding.pure_ul:
            older[place].append(gauge.happened_at)
    casks = Account.objects.filter(pk__in=in_month | _filled_by_weight(period), vessel__kind=Kind.CASK)
    gauged[Place.WAREHOUSE] = books_before(casks, ends)
    counted = {account: pure_ul for tell in COUNTED for account, pure_ul in tell(starts, ends).items()}
    found = []
    for line in places:
        own = gauged[line.stage]
        gauged_ul = sum(own.values())
        counted_ul = sum(counted.values()) if line.stage == Place.BOTTLED else 0
        rest = line.closing_ul - gauged_ul - counted_ul
        oldest = min(older[line.stage], default=None)
        found.append(KnownLine(line.stage, len(own), gauged_ul, counted_ul, rest, oldest))
    return found


def known_in_all(lines: Iterable[KnownLine]) -> KnownLine:
    """All places together."""
    all_lines = list(lines)
    return KnownLine(
        "Site",
        sum(line.gauged for line in all_lines),
        sum(line.gauged_ul for line in all_lines),
        sum(line.counted_ul for line in all_lines),
        sum(line.book_ul for line in all_lines),
        min((line.gauged_at for line in all_lines if line.gauged_at), default=None),
    )


def _gauged(period: str) -> set[int]:
    """Accounts with a gauge in the books of a period; one that a later period took back was there at the close."""
    taken_back = Movement.objects.filter(corrects=OuterRef("movement"), period__lte=period)
    # By the period alone: with the kind of the vessel beside it, an engine may begin at the casks, however many.
    return set(Gauge.objects.filter(~Exists(taken_back), movement__period=period).values_list("account_id", flat=True))


def _filled_by_weight(period: str) -> set[int]:
    """Accounts into which something was weighed in the books of a period."""
    taken_back = Movement.objects.filter(corrects=OuterRef("movement"), period__lte=period)
    flows = MeasuredFlow.objects.filter(~Exists(taken_back), movement__period=period)
    return {pk for pk in flows.values_list("taker_id", flat=True) if pk is not None}
